"""The plan of a batch entered half done: includes every piece in process, cures from the time that counts."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.batch.factory import Bench, open_bench
from tests.batch.test_entered_late import ago, curing, enter, typical
from tests.planning.planned import ALWAYS, conserves, planned


@pytest.fixture
def bench() -> Bench:
    """22 pieces started two hours ago, nothing else on record."""
    bench = open_bench(start=22, order=10)
    bench.clock.forward(7200)
    return bench


def test_everything_entered_as_in_process_is_planned_to_its_end(bench: Bench) -> None:
    enter(bench, *typical(bench))

    plan = planned(bench.state, now=bench.clock(), crew=ALWAYS, effort=100)

    assert not plan.unplanned
    conserves(plan, bench.state)
    baking = next(run for run in plan.runs if plan.work(run).load == 3)
    assert plan.work(baking).op == 40
    assert plan.carrier(baking) == "Tray 1"
    assert baking.start == bench.clock().at, "it is in the oven now"
    again = [plan.work(run) for run in plan.runs if plan.work(run).forms == (20, "touch up")]
    assert [work.pieces for work in again] == [1]


@pytest.mark.parametrize(("second", "hours"), [("", 12), ("BB", 7)])
def test_an_entered_cure_is_planned_from_the_time_that_counts(bench: Bench, second: str, hours: int) -> None:
    """Twelve hours of cure, entered as five hours old: on one person's word it counts from the entry."""
    enter(bench, curing(bench, 5), second=second)
    since = bench.clock().at

    plan = planned(bench.state, now=bench.clock(), crew=ALWAYS, effort=100)

    cut = next(run for run in plan.runs if plan.work(run).load == 1 and plan.work(run).op == 30)
    assert timedelta(hours=hours) <= cut.start - since < timedelta(hours=hours + 1)


def test_an_entered_oven_run_is_planned_only_for_its_remaining_time(bench: Bench) -> None:
    enter(bench, *typical(bench))

    plan = planned(bench.state, now=bench.clock(), crew=ALWAYS, effort=100)

    baking = next(run for run in plan.runs if plan.work(run).load == 3)
    assert baking.held_until - bench.clock().at <= timedelta(minutes=60), "90 minutes, begun an hour ago"
    assert ago(bench, 1) == bench.state.runs[plan_run(bench)].started


def plan_run(bench: Bench) -> int:
    """The run of the tray in the oven."""
    number = bench.state.loads[3].run
    assert number is not None
    return number
