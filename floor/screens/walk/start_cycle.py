"""Starting a cycle with the program that was read."""

from __future__ import annotations

from floor.batch.events import CycleStarted
from floor.batch.walk.clocks import compute_planned_end
from floor.batch.walk.commands import StartCycle
from floor.entry import Entry
from floor.screens.frame.screen import RunFrame
from floor.text import format_clock


def start_cycle(screen: RunFrame, command: StartCycle) -> None:
    """Start, continue or restart the cycle, with the program that was read."""

    def give() -> None:
        screen.give(screen.batch_id, command, lambda entries: _say_when_it_ends(screen, entries))

    on_paper = screen.session.paper is not None  # it was started then
    if on_paper or screen.current_run.setup not in screen.current_batch.programs:
        give()
        return
    from floor.screens.walk.read_program import start_unless_changed

    start_unless_changed(screen, give)


def _say_when_it_ends(screen: RunFrame, entries: list[Entry]) -> None:
    now = screen.session.now()
    ends = compute_planned_end(screen.current_batch, screen.current_run, now)
    if entries and entries[0].kind == CycleStarted.KIND and ends is not None and ends > entries[0].time:
        screen.say(f"Cycle running until about {format_clock(ends, now.at)}. Esc: other work")
