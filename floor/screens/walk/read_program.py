"""Reading the file of a program at its line, and once more where it changed before the start."""

from __future__ import annotations

from collections.abc import Callable

from floor.batch.command import Refused
from floor.batch.gates.program_check import ReadProgram
from floor.batch.gates.program_findings import count_program_faults
from floor.checklist.gates import ProgramLoaded
from floor.entry import Entry
from floor.screens.frame.file_reading import read_file
from floor.screens.frame.screen import RunFrame
from floor.shop.program_files import has_program_changed, prepare_reading, record_unread
from floor.text import format_count


def read_program(screen: RunFrame, line: str) -> None:
    """Read the file for the line of this key and record what it holds."""
    _read(screen, line, lambda found: _record(screen, found), screen.say_refused)


def do_unless_changed(screen: RunFrame, do: Callable[[], None]) -> None:
    """Prove the program, or ask whether the cycle runs, where its file is still the one that was read.

    Another file is read first, and a file that cannot be read is recorded: the walk then goes back to its line.
    A cycle under way goes on: it runs what was loaded before.
    """
    batch, run = screen.current_batch, screen.current_run
    line = next((key for key, step in batch.find_operation(run).numbered_steps if isinstance(step, ProgramLoaded)), "")
    if not line or run.setup not in batch.programs:
        do()
        return

    def judged(changed: bool) -> None:
        if changed:
            _read(screen, line, lambda found: _record(screen, found, at_start=True), unread)
        else:
            do()

    def unread(refused: Refused) -> None:
        missing = record_unread(screen.current_batch, screen.current_run, line, refused.wrong)

        def said(_: list[Entry]) -> None:
            screen.update_all()  # else the entry just made looks like one from another terminal
            screen.say_refused(refused)

        screen.give(screen.batch_id, missing, said)

    folder, name = screen.session.shop.folder, batch.find_operation(run).program_file
    read_file(screen, name, 0, lambda progress: has_program_changed(folder, batch, run, progress), judged, unread)


def _read(screen: RunFrame, line: str, then: Callable[[ReadProgram], None], refused: Callable[[Refused], None]) -> None:
    try:
        reading = prepare_reading(screen.session.shop.folder, screen.current_batch, screen.current_run, line)
    except Refused as wrong:
        refused(wrong)
        return
    read_file(screen, reading.path.name, reading.size, reading.read, then, refused)


def _record(screen: RunFrame, found: ReadProgram, at_start: bool = False) -> None:
    setup = screen.current_run.setup
    before = screen.current_batch.programs.get(setup)

    def said(_: list[Entry]) -> None:
        batch = screen.current_batch
        check, faults = batch.programs[setup], count_program_faults(batch, screen.current_run)
        changed = before is not None and before.sha256 not in ("", check.sha256)
        read = f"{check.file} has changed since {before.by} read it" if before and changed else f"{check.file} read"
        count = format_count(faults, "fault") if faults else "no faults"
        again = ". Read it back; accept a new first piece" if changed and not faults else ""
        screen.say(f"{read}: {count}{again}", wrong=at_start or bool(faults))

    screen.give(screen.batch_id, found, said)
