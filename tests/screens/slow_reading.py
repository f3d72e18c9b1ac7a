"""A file whose reading takes long: its dialog says how far it is, escape stops it, and it is read the next time."""

from __future__ import annotations

from collections.abc import Callable
from threading import Event
from typing import Any

import pytest
from textual.pilot import Pilot

from floor.app import FloorApp
from floor.screens.frame import file_reading
from floor.screens.frame.file_reading import ReadingDialog
from tests.screens.keys import words
from tests.screens.operator import Operator, Place


def slow_down(monkeypatch: pytest.MonkeyPatch, reading: type[Any]) -> Event:
    """Let a kind of reading stand at 42 % until the event that is returned is set."""
    monkeypatch.setattr(file_reading, "SMALL", -1)
    go_on, whole = Event(), reading.read

    def slow(self: Any, progress: Callable[[float], None] | None = None) -> object:
        assert progress is not None
        progress(0.42)
        go_on.wait(10)
        return whole(self, progress)

    monkeypatch.setattr(reading, "read", slow)
    return go_on


async def stop_and_read_again(
    app: FloorApp, keys: Operator, pilot: Pilot[None], place: Place, go_on: Event, recorded: str
) -> None:
    """The reading under way is stopped and records nothing; Enter reads the file again."""
    await keys.until(lambda: isinstance(app.screen, ReadingDialog) and "42 %" in words(app), "how far it is")
    await pilot.press("escape")
    go_on.set()
    await keys.line()
    assert place.batch.entries[-1].kind != recorded
    await pilot.pause(0.7)
    await pilot.press("enter")
    await keys.until(lambda: place.batch.entries[-1].kind == recorded, "it to be read")
    await keys.line()
