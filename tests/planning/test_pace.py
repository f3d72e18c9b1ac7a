"""Times learned from the runs: plan and observation blended as (3 · plan + n · median) / (3 + n)."""

from __future__ import annotations

import pytest

from floor.batch.counting.commands import MarkedPieces
from floor.planning.durations import TimeFactors, build_phases, compute_run_duration
from floor.planning.pace import OperationTime, Part, RunTime, estimate_time_factors, summarize_run_times
from tests.batch.factory import Bench, open_bench
from tests.planning.planned import ALWAYS, ONE_SHIFT, potted


def run_with_cycle(bench: Bench, load: int, minutes: float) -> None:
    bench.until(load, "end", wait=False)
    bench.clock.forward(60 * minutes)
    bench.through(load, 10)


def test_a_slower_cycle_moves_the_plan_by_its_weight() -> None:
    """13 lids at 5.8 min make 75.4 min; this one took about half as long again."""
    bench = open_bench(potted, start=13)
    run_with_cycle(bench, bench.form(10), 1.5 * 75.4)
    run = bench.state.runs[1]
    assert run.started is not None
    assert run.ended is not None
    ratio = (run.ended - run.started).total_seconds() / 60 / 75.4

    assert estimate_time_factors(bench.state, ONE_SHIFT.calendar)[10].cycle == pytest.approx((3 + ratio) / 4)


def test_a_cycle_that_ended_while_nobody_was_in_tells_nothing() -> None:
    bench = open_bench(potted, start=13)
    load = bench.form(10)
    bench.clock.forward(8 * 3600)
    run_with_cycle(bench, load, 16 * 60)

    assert estimate_time_factors(bench.state, ONE_SHIFT.calendar).get(10, TimeFactors()).cycle == 1.0


def test_a_run_entered_all_at_once_afterwards_tells_nothing() -> None:
    bench = open_bench(potted, start=13)
    bench.hand().per_line = 0.0
    load = bench.form(10)
    run_with_cycle(bench, load, 0.5)

    assert estimate_time_factors(bench.state, ONE_SHIFT.calendar).get(10, TimeFactors()).cycle == pytest.approx(
        1.0, abs=0.01
    )


def test_a_rework_run_is_not_the_pace_of_its_operation() -> None:
    """Coating a pallet is planned at five minutes; touching up a few places says nothing about that."""
    bench = open_bench(start=8)
    first, second = bench.form(10), bench.form(10)
    for load in (first, second):
        bench.through(load, 10)
    bench.through(first, 20)
    bench.until(second, "count")
    known = {run.number for run in bench.state.runs.values() if run.op == 20}
    bench.through(second, 20, marks=(MarkedPieces("thin", positions=("A1",)),))
    before = estimate_time_factors(bench.state, ALWAYS.calendar)[20]

    bench.until(second, "count")
    bench.clock.forward(15 * 60)
    bench.through(second, 20)
    [rework] = [run for run in bench.state.runs.values() if run.op == 20 and run.number not in known]

    assert rework.rework == "touch up"
    assert rework.released is not None
    assert estimate_time_factors(bench.state, ALWAYS.calendar)[20] == before


def test_the_phases_of_a_run_take_the_pace() -> None:
    operation = potted().ops[10]
    slow = TimeFactors(hands=2.0, cycle=1.5)

    each = compute_run_duration(operation, 13, slow)

    assert (each.before, each.cycle, each.after) == pytest.approx((12, 1.5 * 75.4, 4))
    assert [phase.minutes for phase in build_phases(operation, each, slow)] == pytest.approx([12, 113.1, 4])


def test_times_of_an_operation_with_their_spread() -> None:
    """Median and quartiles of 1 to 9 by halves of the ordered values: Tukey, *Exploratory Data Analysis*, ch. 2 (from
    memory); the hinges of nine values are the third from each end.
    """
    took = [60.0 * minutes for minutes in (3, 1, 9, 5, 7, 2, 8, 4, 6)]

    [cycle, hands] = summarize_run_times(
        [RunTime(10, Part.HANDS, 60, 60, 4), *(RunTime(10, Part.CYCLE, 240, one, 4) for one in took)]
    )

    assert cycle == OperationTime(10, Part.CYCLE, 9, 240, 300, 180, 420, 1.25)
    assert hands == OperationTime(10, Part.HANDS, 1, 60, 60, 60, 60, 1.0), "of one run it is its ends"
