"""Reading a file: at once where that is quick, else in a thread with how far it is."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any, TypeVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.events import ScreenResume
from textual.screen import ModalScreen
from textual.widgets import Static

from floor.batch.command import Refused
from floor.screens.frame.run_in_thread import run_in_thread
from floor.screens.frame.screen import FloorScreen

SMALL = 250_000
"""Bytes of a file that is tried at once; the first look into a larger one may take longer."""
AT_ONCE = 0.15
"""Seconds that may pass before the next key comes; what takes longer is begun again behind a dialog."""
T = TypeVar("T")
Progress = Callable[[float], None]
"""Called with the share read; may raise `ReadingStopped`."""


class ReadingStopped(Exception):
    """Nobody waits for the file any more, or not here."""


def read_file(
    screen: FloorScreen,
    name: str,
    size: int,
    read: Callable[[Progress], T],
    then: Callable[[T], None],
    refused: Callable[[Refused], None] | None = None,
) -> None:
    """Read a file for a screen.

    Args:
        name: of the file, for its dialog.
        size: its bytes.
        read: refuses what cannot be read.
        then: takes what was read.
        refused: takes the refusal instead of the screen's line.
    """

    def answered(answer: T | Refused | None) -> None:
        if isinstance(answer, Refused):
            (refused or screen.say_refused)(answer)
        elif answer is not None:
            then(answer)

    try:
        found = read_at_once(size, read)
    except Refused as wrong:
        answered(wrong)
        return
    if found is None:
        screen.floor.push_screen(ReadingDialog(name, read), answered)
    else:
        answered(found)


def read_at_once(size: int, read: Callable[[Progress], T]) -> T | None:
    """What is read before the next key has to wait for it; None if it takes longer, as for a file of many bytes.

    Raises:
        Refused: by ``read``.
    """
    if size > SMALL:
        return None
    until = time.monotonic() + AT_ONCE

    def hurry(_: float) -> None:
        if time.monotonic() > until:
            raise ReadingStopped

    try:
        return read(hurry)
    except ReadingStopped:
        return None


class ReadingDialog(ModalScreen[Any]):
    """How far the reading of a large file is; escape stops it. Ends with what was read, a refusal, or None."""

    BINDINGS = [Binding("escape", "stop", "Stop")]

    def __init__(self, name: str, read: Callable[[Progress], object]) -> None:
        super().__init__()
        self.file_name = name
        self.read = read
        self.stopped = False
        self.shown = -1
        self.answer: object = None
        """What came while another dialog stood before this one."""

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(f"Reading {self.file_name}", classes="dialog-title", markup=False)
            yield Static("0 %", id="share", markup=False)
            yield Static("Esc: stop", classes="dialog-hint")

    def on_mount(self) -> None:
        self.run_worker(self._wait(), exit_on_error=False)

    async def _wait(self) -> None:
        try:
            answer = await run_in_thread(self.read, self._hear)
        except Refused as refused:
            answer = refused
        except ReadingStopped:
            return
        except Exception as error:  # a fault of the reader leaves the gate open; it never ends the program
            answer = Refused("gate", f"{self.file_name} cannot be read ({type(error).__name__})", "check the file")
        self.answer = answer
        self._end()

    @on(ScreenResume)
    def _end(self) -> None:
        """End with the answer, once it is here and nothing stands before the dialog."""
        if self.answer is not None and self.is_active and not self.stopped:
            self.dismiss(self.answer)

    def _hear(self, share: float) -> None:
        """In the thread that reads."""
        if self.stopped:
            raise ReadingStopped
        percent = int(share * 100)
        if percent != self.shown:
            self.shown = percent
            self.app.call_from_thread(self._show, percent)

    def _show(self, percent: int) -> None:
        if self.is_attached:
            self.query_one("#share", Static).update(f"{percent} %")

    def action_stop(self) -> None:
        self.stopped = True
        if self.is_active:
            self.dismiss(None)
