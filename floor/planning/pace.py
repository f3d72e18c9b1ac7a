"""The pace of the shop: actual run times against the checklist's times."""

from __future__ import annotations

from collections import defaultdict

from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.shared_cycles import compute_cycle_seconds, find_runs_in_cycle, list_other_runs_in_cycle
from floor.figures.calendar import Calendar
from floor.figures.yields import TimeEstimate, estimate_time
from floor.planning.durations import CYCLE_SPREAD, HAND_SPREAD, TimeFactors

PLAUSIBLE = (0.25, 4.0)
"""Real over planned time; values outside show when the entries were made, not how long the work took (common practice,
no source).
"""


def estimate_time_factors(batch: Batch, calendar: Calendar) -> dict[int, TimeFactors]:
    """The pace of each operation that has been run at least once.

    Attended work counts in working time. Cycles that ended while nobody was in are left out, because they were entered
    later; so are first runs of a set-up, whose set-up time is not separate from the work.
    """
    hands: dict[int, list[float]] = defaultdict(list)
    cycles: dict[int, list[float]] = defaultdict(list)
    worked = [run for run in batch.runs.values() if not run.put_back]
    first: dict[int, int] = {}
    for run in worked:
        first[run.setup] = min(run.number, first.get(run.setup, run.number))
    for run in worked:
        if run.released is None or run.rework:
            continue
        by_hand = _hand_ratio(batch, run, calendar, made_ready=first[run.setup] == run.number)
        if by_hand is not None and PLAUSIBLE[0] <= by_hand <= PLAUSIBLE[1]:
            hands[run.op].append(by_hand)
        # A cycle with several loads counts as one time.
        cycle = _cycle_ratio(batch, run, calendar) if find_runs_in_cycle(batch, run)[0] is run else None
        if cycle is not None and PLAUSIBLE[0] <= cycle <= PLAUSIBLE[1]:
            cycles[run.op].append(cycle)
    return {op: _pace(hands[op], cycles[op]) for op in {*hands, *cycles}}


def _pace(hands: list[float], cycles: list[float]) -> TimeFactors:
    by_hand, cycle = estimate_time(1.0, hands), estimate_time(1.0, cycles)
    return TimeFactors(by_hand.time, cycle.time, _spread(by_hand, HAND_SPREAD), _spread(cycle, CYCLE_SPREAD))


def _spread(learned: TimeEstimate, usual: float) -> float:
    return usual if learned.spread is None else max(usual / 2, learned.spread / learned.time)


def _hand_ratio(batch: Batch, run: Run, calendar: Calendar, made_ready: bool) -> float | None:
    if list_other_runs_in_cycle(batch, run):
        return None  # the other loads were made ready in that time too
    time = batch.find_operation(run).time
    pieces = len(run.pieces)
    planned = took = 0.0
    if run.started is not None and run.ended is not None and run.released is not None:
        if not made_ready:
            planned += time.seconds("before", pieces)
            took += 60 * calendar.worked(run.begun, run.started)
        planned += time.seconds("after", pieces)
        took += 60 * calendar.worked(run.ended, run.released)
    elif run.started is None and run.released is not None and not made_ready:
        planned = time.seconds("before", pieces) + time.seconds("cycle", pieces) + time.seconds("after", pieces)
        took = 60 * calendar.worked(run.begun, run.released)
    return took / planned if planned else None


def _cycle_ratio(batch: Batch, run: Run, calendar: Calendar) -> float | None:
    operation = batch.find_operation(run)
    planned = compute_cycle_seconds(batch, run)
    if run.started is None or run.ended is None or not planned:
        return None
    if operation.time.cycle_attended:
        return max(60 * calendar.worked(run.started, run.ended) - run.stood, 0.0) / planned
    took = run.ran(run.ended)
    watched = calendar.worked(run.started, run.ended) * 60 >= (run.ended - run.started).total_seconds() - 60
    return took / planned if watched else None
