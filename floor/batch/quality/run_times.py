"""What each part of a run took, from the record, as the checklist states times for it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from enum import StrEnum
from typing import NamedTuple

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
        """What the checklist states for it, of so many pieces."""
        match self:
            case RunPart.BEFORE | RunPart.FIRST:
                return time.seconds("before", pieces)
            case RunPart.CYCLE:
                return time.seconds("cycle", pieces)
            case RunPart.AFTER:
                return time.seconds("after", pieces)
            case RunPart.WORK:
                return time.seconds("before", pieces) + time.seconds("cycle", pieces) + time.seconds("after", pieces)


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


def list_part_times(batch: Batch, calendar: Calendar) -> list[PartTime]:
    """Every time that the record tells, in the order of the runs; those of one run follow each other.

    Attended work counts in working time. Cycles that ended while nobody was in are left out, because they were entered
    later; so is rework, and the hand work of loads that shared a cycle.
    """
    worked = [run for run in batch.runs.values() if not run.put_back]
    first: dict[int, int] = {}
    for run in worked:
        first[run.setup] = min(run.number, first.get(run.setup, run.number))
    hours = WorkingTime.of(calendar, min([batch.opened, *(run.begun for run in worked)]))
    found: list[PartTime] = []
    for together in group_by_cycle(worked):
        run = together[0]
        if len(together) == 1 and run.released is not None and not run.rework:
            found += _time_hands(run, hours, made_ready=first[run.setup] == run.number)
        if run.released is not None and not run.rework:
            found += _time_cycle(batch, together, hours)
    return found


def _time_hands(run: Run, hours: WorkingTime, made_ready: bool) -> Iterator[PartTime]:
    pieces = len(run.pieces)
    assert run.released is not None, "others have not come to their end"
    if run.started is not None and run.ended is not None:
        before = RunPart.FIRST if made_ready else RunPart.BEFORE
        yield PartTime(run, before, pieces, _work(hours, run.begun, run.started))
        yield PartTime(run, RunPart.AFTER, pieces, _work(hours, run.ended, run.released))
    elif run.started is None:
        whole = RunPart.FIRST if made_ready else RunPart.WORK
        yield PartTime(run, whole, pieces, _work(hours, run.begun, run.released))


def _time_cycle(batch: Batch, together: Sequence[Run], hours: WorkingTime) -> Iterator[PartTime]:
    run = together[0]
    if run.started is None or run.ended is None:
        return
    pieces = sum(len(one.pieces) for one in together)
    worked = _work(hours, run.started, run.ended)
    if batch.operation(run.op).time.cycle_attended:
        yield PartTime(run, RunPart.CYCLE, pieces, max(worked - run.stood, 0.0))
    elif worked >= (run.ended - run.started).total_seconds() - 60:
        yield PartTime(run, RunPart.CYCLE, pieces, run.ran(run.ended))


def _work(hours: WorkingTime, start: datetime, end: datetime) -> float:
    return hours.worked(to_epoch(start), to_epoch(end))
