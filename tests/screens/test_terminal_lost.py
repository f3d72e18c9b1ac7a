"""A terminal lost during a write to it."""

from __future__ import annotations

import asyncio
import os
import pty
import signal
import sys

import pytest
from textual.drivers._writer_thread import MAX_QUEUED_WRITES, WriterThread

from floor.app import FloorApp
from floor.screens.frame.terminal import LossTolerantDriver, LossTolerantOutput, is_terminal_lost
from tests.screens.operator import Place


def test_what_is_written_to_a_lost_terminal_goes_nowhere_and_holds_nobody_up() -> None:
    here, there = pty.openpty()
    file = os.fdopen(there, "w")
    enduring = LossTolerantOutput(file)
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


def test_a_terminal_that_is_gone_is_told_from_one_that_never_was(monkeypatch: pytest.MonkeyPatch) -> None:
    here, there = pty.openpty()
    with os.fdopen(there, "r") as file, open(os.devnull, encoding="utf-8") as none:
        for stream, lost in ((file, False), (none, False), (None, False)):
            monkeypatch.setattr(sys, "__stdin__", stream)
            assert is_terminal_lost() is lost
        os.close(here)
        monkeypatch.setattr(sys, "__stdin__", file)
        assert is_terminal_lost()


async def test_a_program_whose_terminal_was_lost_before_it_listened_ends(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the signal is ignored, as under nohup, none comes a second time."""
    monkeypatch.setattr("floor.app.is_terminal_lost", lambda: True)
    app = FloorApp(place.shop, ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        app.install_signal_handlers()
        await pilot.pause()
    loop = asyncio.get_running_loop()
    assert [loop.remove_signal_handler(number) for number in (signal.SIGTERM, signal.SIGHUP)] == [True, True]
    assert app.ended_by == signal.SIGHUP


def test_the_program_is_on_a_terminal_that_may_be_lost(place: Place) -> None:
    assert FloorApp(place.shop).driver_class is LossTolerantDriver
