"""Reading the file of a program: at once where it is small, else in a thread with how far it is."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from floor.batch.command import Refused
from floor.batch.gates.program_check import ReadProgram
from floor.checklist.gates import ProgramLoaded
from floor.entry import Entry
from floor.screens.frame.screen import RunFrame
from floor.shop.program_files import ProgramReading, ReadingStopped, has_program_changed, prepare_reading
from floor.text import format_count

SMALL = 200_000
"""Bytes that are read before the next key comes."""


def read_program(screen: RunFrame, line: str) -> None:
    """Read the file for the line of this key and record what it holds."""
    try:
        reading = prepare_reading(screen.session.shop.folder, screen.current_batch, screen.current_run, line)
        found = reading.read() if reading.size <= SMALL else None
    except Refused as refused:
        screen.say(str(refused), wrong=True)
        return
    if found is not None:
        _record(screen, found)
    else:
        screen.floor.push_screen(ReadingDialog(reading), lambda answer: _answered(screen, answer))


def read_if_changed(screen: RunFrame) -> bool:
    """Whether the program's file has changed since it was read; it is read again then, and the walk goes back to it."""
    batch, run = screen.current_batch, screen.current_run
    try:
        if not has_program_changed(screen.session.shop.folder, batch, run):
            return False
    except Refused as refused:
        screen.say(str(refused), wrong=True)
        return True
    steps = batch.find_operation(run).numbered_steps
    read_program(screen, next(key for key, step in steps if isinstance(step, ProgramLoaded)))
    return True


def _answered(screen: RunFrame, answer: ReadProgram | Refused | None) -> None:
    if isinstance(answer, Refused):
        screen.say(str(answer), wrong=True)
    elif answer is not None:
        _record(screen, answer)


def _record(screen: RunFrame, found: ReadProgram) -> None:
    setup = screen.current_run.setup
    before = screen.current_batch.programs.get(setup)

    def said(_: list[Entry]) -> None:
        check = screen.current_batch.programs[setup]
        changed = before is not None and before.sha256 != check.sha256
        read = f"{check.file} has changed since {before.by} read it" if before and changed else f"{check.file} read"
        faults = format_count(len(check.faults), "fault") if check.faults else "no faults"
        again = "; read it back, first piece again" if changed and not check.faults else ""
        screen.say(f"{read}: {faults}{again}", wrong=changed or bool(check.faults))

    screen.give(screen.batch_id, found, said)


class ReadingDialog(ModalScreen["ReadProgram | Refused | None"]):
    """How far the reading of a large file is; escape stops it."""

    BINDINGS = [Binding("escape", "stop", "Stop")]

    def __init__(self, reading: ProgramReading) -> None:
        super().__init__()
        self.reading = reading
        self.stopped = False
        self.shown = -1

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(f"Reading {self.reading.path.name}", classes="dialog-title", markup=False)
            yield Static("0 %", id="share", markup=False)
            yield Static("Esc: stop", classes="dialog-hint")

    def on_mount(self) -> None:
        self.run_worker(self._read, thread=True, exit_on_error=False)

    def _read(self) -> None:
        """In a thread of its own."""
        answer: ReadProgram | Refused | None = None
        try:
            answer = self.reading.read(self._hear)
        except Refused as refused:
            answer = refused
        except ReadingStopped:
            return
        self.app.call_from_thread(self._finish, answer)

    def _hear(self, share: float) -> None:
        if self.stopped:
            raise ReadingStopped
        percent = int(share * 100)
        if percent != self.shown:
            self.shown = percent
            self.app.call_from_thread(self._show, percent)

    def _show(self, percent: int) -> None:
        if self.is_attached:
            self.query_one("#share", Static).update(f"{percent} %")

    def _finish(self, answer: ReadProgram | Refused | None) -> None:
        if self.is_active and not self.stopped:
            self.dismiss(answer)

    def action_stop(self) -> None:
        self.stopped = True
        if self.is_active:
            self.dismiss(None)
