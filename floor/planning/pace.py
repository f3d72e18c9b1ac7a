"""The pace of the shop: actual run times against the checklist's times."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from enum import StrEnum
from functools import cache
from statistics import median
from typing import NamedTuple

from floor.batch.quality.run_times import RunPart, is_plausible, list_part_times
from floor.batch.state import Batch
from floor.checklist.operation import Operation
from floor.dataclass import dataclass
from floor.figures.calendar import Calendar
from floor.figures.quality.missing import Missing
from floor.figures.quality.spread import compute_spread
from floor.figures.yields import TimeEstimate, estimate_time
from floor.planning.durations import CYCLE_SPREAD, HAND_SPREAD, TimeFactors


class Part(StrEnum):
    """Of a run, as the plan takes it."""

    CYCLE = "cycle"
    HANDS = "by hand"


class RunTime(NamedTuple):
    """One time that was planned and taken, in seconds; a cycle with several loads is one time."""

    op: int
    part: Part
    planned: float
    took: float
    pieces: int

    @property
    def is_plausible(self) -> bool:
        return is_plausible(self.took, self.planned)


def list_run_times(batch: Batch, calendar: Calendar, since: datetime | None = None) -> list[RunTime]:
    """Every time that can be set against the checklist's, in the order of the runs; what came before and after a cycle
    together.

    First runs of a set-up are left out until their start, because their set-up time is not separate from the work.

    Args:
        since: only runs begun then or later.
    """
    times = (
        (run.op, run.number, part, pieces, took)
        for run, part, pieces, took in list_part_times(batch, calendar)
        if since is None or run.begun >= since
    )
    return [one for one in set_against_plan(times, batch.checklist.ops) if one.planned]


def set_against_plan(
    times: Iterable[tuple[int, int, RunPart, int, float]], operations: Mapping[int, Operation]
) -> list[RunTime]:
    """Times beside what these operations state, 0 where they state nothing; what a run took by hand is one time.

    Args:
        times: (operation, run, part, pieces, seconds), in the order of the runs.
    """

    @cache
    def plan(op: int, part: RunPart, pieces: int) -> float:
        return part.find_seconds(operations[op].time, pieces) if op in operations else 0.0

    found: list[RunTime] = []
    by_hand: dict[int, int] = {}
    """Run → its time by hand."""
    for op, run, part, pieces, took in times:
        planned = plan(op, part, pieces)
        if part is RunPart.CYCLE:
            found.append(RunTime(op, Part.CYCLE, planned, took, pieces))
        elif run in by_hand:
            before = found[by_hand[run]]
            found[by_hand[run]] = RunTime(op, Part.HANDS, before.planned + planned, before.took + took, pieces)
        else:
            by_hand[run] = len(found)
            found.append(RunTime(op, Part.HANDS, planned, took, pieces))
    return found


def estimate_time_factors(batch: Batch, calendar: Calendar) -> dict[int, TimeFactors]:
    """The pace of each operation that has been run at least once, here or in an earlier batch that it is planned by."""
    ratios: dict[tuple[int, str], list[float]] = defaultdict(list)
    for one in list_run_times(batch, calendar):
        if one.is_plausible:
            ratios[one.op, one.part].append(one.took / one.planned)
    told = {(one.op, one.part): one for one in batch.earlier.paces} if batch.earlier is not None else {}

    def learn(op: int, part: Part) -> TimeEstimate:
        known = told.get((op, part.value))
        if known is None:
            return estimate_time(1.0, ratios[op, part])
        return estimate_time(known.ratio, ratios[op, part], known.weight)

    timed = sorted({op for op, _ in [*ratios, *told]})
    return {op: _pace(learn(op, Part.HANDS), learn(op, Part.CYCLE)) for op in timed}


def _pace(by_hand: TimeEstimate, cycle: TimeEstimate) -> TimeFactors:
    return TimeFactors(by_hand.time, cycle.time, _spread(by_hand, HAND_SPREAD), _spread(cycle, CYCLE_SPREAD))


def _spread(learned: TimeEstimate, usual: float) -> float:
    return usual if learned.spread is None else max(usual / 2, learned.spread / learned.time)


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
    spread = compute_spread([one.took for one in times])
    assert not isinstance(spread, Missing), "there is one time at least"
    return OperationTime(
        times[0].op,
        times[0].part,
        len(times),
        median(one.planned for one in times),
        spread.median,
        spread.lower,
        spread.upper,
        median(one.took / one.planned for one in times),
    )
