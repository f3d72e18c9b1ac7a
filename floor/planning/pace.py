"""The pace of the shop: actual run times against the checklist's times."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from enum import StrEnum
from statistics import median, quantiles
from typing import NamedTuple

from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.shared_cycles import group_by_cycle
from floor.dataclass import dataclass
from floor.figures.calendar import Calendar, WorkingTime, to_epoch
from floor.figures.yields import TimeEstimate, estimate_time
from floor.planning.durations import CYCLE_SPREAD, HAND_SPREAD, TimeFactors

PLAUSIBLE = (0.25, 4.0)
"""Real over planned time; values outside show when the entries were made, not how long the work took (common practice,
no source).
"""
FEWEST_FOR_QUARTILES = 4


class Part(StrEnum):
    """Of a run, as the checklist states times for it."""

    CYCLE = "cycle"
    HANDS = "by hand"


class RunTime(NamedTuple):
    """One time that was planned and taken, in seconds; a cycle with several loads is one time."""

    op: int
    part: Part
    planned: float
    took: float

    @property
    def is_plausible(self) -> bool:
        return PLAUSIBLE[0] <= self.took / self.planned <= PLAUSIBLE[1]


def list_run_times(batch: Batch, calendar: Calendar) -> list[RunTime]:
    """Every time that can be set against the checklist's, in the order of the runs.

    Attended work counts in working time. Cycles that ended while nobody was in are left out, because they were entered
    later; so are first runs of a set-up, whose set-up time is not separate from the work, and rework.
    """
    worked = [run for run in batch.runs.values() if not run.put_back]
    first: dict[int, int] = {}
    for run in worked:
        first[run.setup] = min(run.number, first.get(run.setup, run.number))
    hours = WorkingTime.of(calendar, min([batch.opened, *(run.begun for run in worked)]))
    found = []
    for together in group_by_cycle(worked):
        run = together[0]
        for one in together:
            if one.released is not None and not one.rework and len(together) == 1:
                by_hand = _time_hands(batch, one, hours, made_ready=first[one.setup] == one.number)
                found += [by_hand] if by_hand is not None else []
        if run.released is not None and not run.rework:
            cycle = _time_cycle(batch, together, hours)
            found += [cycle] if cycle is not None else []
    return found


def estimate_time_factors(batch: Batch, calendar: Calendar) -> dict[int, TimeFactors]:
    """The pace of each operation that has been run at least once."""
    ratios: dict[tuple[int, Part], list[float]] = defaultdict(list)
    for one in list_run_times(batch, calendar):
        if one.is_plausible:
            ratios[one.op, one.part].append(one.took / one.planned)
    return {op: _pace(ratios[op, Part.HANDS], ratios[op, Part.CYCLE]) for op in {op for op, _ in ratios}}


def _pace(hands: list[float], cycles: list[float]) -> TimeFactors:
    by_hand, cycle = estimate_time(1.0, hands), estimate_time(1.0, cycles)
    return TimeFactors(by_hand.time, cycle.time, _spread(by_hand, HAND_SPREAD), _spread(cycle, CYCLE_SPREAD))


def _spread(learned: TimeEstimate, usual: float) -> float:
    return usual if learned.spread is None else max(usual / 2, learned.spread / learned.time)


def _time_hands(batch: Batch, run: Run, hours: WorkingTime, made_ready: bool) -> RunTime | None:
    time = batch.operation(run.op).time
    pieces = len(run.pieces)
    planned = took = 0.0
    if run.started is not None and run.ended is not None and run.released is not None:
        if not made_ready:
            planned += time.seconds("before", pieces)
            took += _work(hours, run.begun, run.started)
        planned += time.seconds("after", pieces)
        took += _work(hours, run.ended, run.released)
    elif run.started is None and run.released is not None and not made_ready:
        planned = time.seconds("before", pieces) + time.seconds("cycle", pieces) + time.seconds("after", pieces)
        took = _work(hours, run.begun, run.released)
    return RunTime(run.op, Part.HANDS, planned, took) if planned else None


def _time_cycle(batch: Batch, together: Sequence[Run], hours: WorkingTime) -> RunTime | None:
    run, time = together[0], batch.operation(together[0].op).time
    planned = time.seconds("cycle", sum(len(one.pieces) for one in together))
    if run.started is None or run.ended is None or not planned:
        return None
    worked = _work(hours, run.started, run.ended)
    if time.cycle_attended:
        return RunTime(run.op, Part.CYCLE, planned, max(worked - run.stood, 0.0))
    watched = worked >= (run.ended - run.started).total_seconds() - 60
    return RunTime(run.op, Part.CYCLE, planned, run.ran(run.ended)) if watched else None


def _work(hours: WorkingTime, start: datetime, end: datetime) -> float:
    return hours.worked(to_epoch(start), to_epoch(end))


@dataclass(frozen=True, slots=True)
class OperationTime:
    """What a part of an operation took, run by run, against its plan; seconds."""

    op: int
    part: Part
    runs: int
    planned: float
    """Median, as loads differ in size."""
    took: float
    """Median."""
    lower: float
    upper: float
    """Quartiles of what it took, between neighbors by their distance; the ends where there are fewer than 4 runs."""
    ratio: float
    """Median of what each took over what was planned for it."""


def summarize_run_times(times: Sequence[RunTime]) -> list[OperationTime]:
    """A line for each operation and part that was timed, in the order of the operations."""
    grouped: dict[tuple[int, Part], list[RunTime]] = defaultdict(list)
    for one in times:
        grouped[one.op, one.part].append(one)
    return [_summarize(grouped[key]) for key in sorted(grouped, key=lambda key: (key[0], key[1] is Part.HANDS))]


def _summarize(times: Sequence[RunTime]) -> OperationTime:
    took = sorted(one.took for one in times)
    lower, upper = took[0], took[-1]
    if len(took) >= FEWEST_FOR_QUARTILES:
        lower, _, upper = quantiles(took, n=4, method="inclusive")
    return OperationTime(
        times[0].op,
        times[0].part,
        len(times),
        median(one.planned for one in times),
        median(took),
        lower,
        upper,
        median(one.took / one.planned for one in times),
    )
