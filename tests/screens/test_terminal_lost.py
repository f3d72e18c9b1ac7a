"""A terminal that is lost while something is written to it."""

from __future__ import annotations

import os
import pty

import pytest
from textual.drivers._writer_thread import MAX_QUEUED_WRITES, WriterThread

from floor.app import FloorApp
from floor.screens.terminal import Enduring, Terminal
from tests.screens.operator import Place


def test_what_is_written_to_a_lost_terminal_goes_nowhere_and_holds_nobody_up() -> None:
    here, there = pty.openpty()
    file = os.fdopen(there, "w")
    enduring = Enduring(file)
    os.close(here)
    with pytest.raises(OSError, match="Input/output error"):
        os.write(there, b"lost")

    enduring.write("lost")
    enduring.flush()
    writer = WriterThread(enduring)  # type: ignore[arg-type]
    writer.start()
    for _ in range(4 * MAX_QUEUED_WRITES):
        writer.write("lost")
    writer.stop()

    os.close(there)
    with pytest.raises(OSError, match="Bad file descriptor"):
        file.close()


def test_the_program_is_on_a_terminal_that_may_be_lost(place: Place) -> None:
    assert FloorApp(place.shop).driver_class is Terminal
