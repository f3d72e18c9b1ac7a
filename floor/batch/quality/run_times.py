"""What each part of a run took, from the record, as the checklist states times for it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from enum import StrEnum
from typing import Literal, NamedTuple

from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.shared_cycles import group_by_cycle
from floor.checklist.operation import Times
from floor.figures.calendar import Calendar, WorkingTime, to_epoch

PLAUSIBLE = (0.25, 4.0)
"""Real over stated time; values outside show when the entries were made, not how long the work took (common practice,
no source).
"""


class RunPart(StrEnum):
    """Of a run, as far as the record tells it from the others."""

    FIRST = "until the first start on a set-up"
    """Set-up and what comes before the cycle together; without a cycle, set-up and work."""
    BEFORE = "before the cycle"
    CYCLE = "cycle"
    AFTER = "after the cycle"
    WORK = "hand work"
    """All of it, where there is no cycle."""

    def find_seconds(self, time: Times, pieces: int) -> float:
        """What the checklist states for it, of so many pieces; of a first run, without its set-up."""
        return sum(time.seconds(name, pieces) for name in _STATED[self])


_STATED: dict[RunPart, tuple[Literal["before", "cycle", "after"], ...]] = {
    RunPart.FIRST: ("before",),
    RunPart.BEFORE: ("before",),
    RunPart.CYCLE: ("cycle",),
    RunPart.AFTER: ("after",),
    RunPart.WORK: ("before", "cycle", "after"),
}


class PartTime(NamedTuple):
    """One part that took its time; a cycle with several loads is one."""

    run: Run
    part: RunPart
    pieces: int
    took: float
    """Seconds."""


def is_plausible(took: float, stated: float) -> bool:
    """Whether a time can be that of the work, by the time that was stated for it."""
    return PLAUSIBLE[0] <= took / stated <= PLAUSIBLE[1]


def list_part_times(batch: Batch, calendar: Calendar, *, firsts: bool = False) -> list[PartTime]:
    """Every time that the record tells, in the order of the runs; those of one run follow each other.

    Attended work counts in working time. Cycles that ended while nobody was in are left out, because they were entered
    later; so is rework, and the hand work of loads that shared a cycle.

    Args:
        firsts: with `RunPart.FIRST`, which the plan has no use for.
    """
    worked = [run for run in batch.runs.values() if not run.put_back]
    first: dict[int, int] = {}
    for run in worked:
        first[run.setup] = min(run.number, first.get(run.setup, run.number))
    begun = {run.number: to_epoch(run.begun) for run in worked}  # quicker to compare
    first_run = min(worked, key=lambda run: begun[run.number], default=None)
    hours = WorkingTime.of(calendar, min([batch.opened, *([first_run.begun] if first_run is not None else ())]))
    found: list[PartTime] = []
    for together in group_by_cycle(worked):
        run = together[0]
        if run.released is None or run.rework:
            continue
        cycle = None
        if run.started is not None and run.ended is not None:
            cycle = to_epoch(run.started), to_epoch(run.ended)
        if len(together) == 1 and (cycle is not None or run.started is None):
            found += _time_hands(run, begun[run.number], cycle, hours, first[run.setup] == run.number, firsts)
        if cycle is not None:
            found += _time_cycle(batch, together, cycle, hours)
    return found


def _time_hands(
    run: Run, begun: int, cycle: tuple[int, int] | None, hours: WorkingTime, made_ready: bool, firsts: bool
) -> Iterator[PartTime]:
    """By hand before and after the cycle, or all of it without one."""
    pieces, released = len(run.pieces), to_epoch(run.released or run.begun)
    if firsts or not made_ready:
        whole = RunPart.WORK if cycle is None else RunPart.BEFORE
        took = hours.worked(begun, released if cycle is None else cycle[0])
        yield PartTime(run, RunPart.FIRST if made_ready else whole, pieces, took)
    if cycle is not None:
        yield PartTime(run, RunPart.AFTER, pieces, hours.worked(cycle[1], released))


def _time_cycle(
    batch: Batch, together: Sequence[Run], cycle: tuple[int, int], hours: WorkingTime
) -> Sequence[PartTime]:
    run, (started, ended) = together[0], cycle
    pieces = sum(len(one.pieces) for one in together)
    worked = hours.worked(started, ended)
    if batch.operation(run.op).time.cycle_attended:
        return (PartTime(run, RunPart.CYCLE, pieces, max(worked - run.stood, 0.0)),)
    watched = worked >= ended - started - 60
    return (PartTime(run, RunPart.CYCLE, pieces, run.ran(run.ended)),) if watched and run.ended is not None else ()
