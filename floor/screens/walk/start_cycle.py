"""Starting a cycle with the program that was read."""

from __future__ import annotations

from floor.batch.command import Refused
from floor.batch.counting.blind_count import format_unless_blind
from floor.batch.events import CycleStarted
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.clocks import compute_planned_end
from floor.batch.walk.commands import StartCycle
from floor.entry import Entry
from floor.screens.forms.dialogs import ConfirmDialog
from floor.screens.frame.screen import RunFrame
from floor.text import format_clock


def start_cycle(screen: RunFrame, command: StartCycle) -> None:
    """Start, continue or restart the cycle, with the program that was read."""

    def give() -> None:
        screen.give(screen.batch_id, command, lambda entries: _say_when_it_ends(screen, entries))

    def ask() -> None:
        question = ConfirmDialog(_say_what_starts(screen.current_batch, screen.current_run), does="running")
        screen.ask(question, lambda yes: give() if yes else None)

    batch, session = screen.current_batch, screen.session
    try:  # before the question
        session.as_entered(command).decide(batch, session.context(batch.id))
    except Refused:
        give()  # which says so, and leaves it on record where it is evidence
        return
    on_paper = session.paper is not None  # it was started then
    if on_paper or screen.current_run.setup not in batch.programs:
        ask()
        return
    from floor.screens.walk.read_program import do_unless_changed

    do_unless_changed(screen, ask)  # before the question: yes says that the machine runs already


def _say_what_starts(batch: Batch, run: Run) -> str:
    """What is recorded: which cycle, of what, where."""
    pieces = format_unless_blind(batch, f"load {run.load}", len(run.pieces))
    at = batch.checklist.station(run.station).name
    return f"Is the cycle of op {run.op} running at {at}? {batch.format_load(run.load)}, {pieces}."


def _say_when_it_ends(screen: RunFrame, entries: list[Entry]) -> None:
    now = screen.session.now()
    ends = compute_planned_end(screen.current_batch, screen.current_run, now)
    if entries and entries[0].kind == CycleStarted.KIND and ends is not None and ends > entries[0].time:
        screen.say(f"Cycle running until about {format_clock(ends, now.at)}. Esc: other work")
