"""A cycle in which pieces are turned over: two cuts with work by hand between, planned once."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.batch.commands.working import DoStep, StartCycle
from floor.figures.schedule import Kind, PlannedRun
from tests.batch.factory import TURNED, Bench, edited, open_bench, turned
from tests.figures.schedule_check import check_plan
from tests.planning.planned import ALWAYS, ONE_SHIFT, conserves, minutes, planned


def parts(run: PlannedRun) -> list[tuple[Kind, float]]:
    return [(part.kind, minutes(part.start, part.end)) for part in run.stretches]


def first(bench: Bench) -> PlannedRun:
    plan = planned(bench.state, now=bench.clock(), crew=ALWAYS)
    assert not check_plan(plan.problem, plan.plan)
    return next(run for run in plan.runs if plan.work(run).op == 10)


def test_somebody_is_planned_to_turn_them_over_half_way() -> None:
    bench = open_bench(turned, start=4)
    bench.form(10)
    assert parts(first(bench)) == [
        (Kind.ATTENDED, 2), (Kind.UNATTENDED, 10), (Kind.ATTENDED, 4), (Kind.UNATTENDED, 10), (Kind.ATTENDED, 1),
    ]  # fmt: skip


def test_of_a_cycle_under_way_only_the_rest_is_planned() -> None:
    bench = open_bench(turned, start=4)
    bench.until(bench.form(10), "start")
    bench.say(StartCycle(1))
    bench.say(DoStep(1, "cycle step 1"))
    assert [kind for kind, _ in parts(first(bench))][:3] == [Kind.UNATTENDED, Kind.ATTENDED, Kind.UNATTENDED]
    assert sum(length for _, length in parts(first(bench))) == pytest.approx(20 + 4 + 1)
    bench.clock.forward(600)
    bench.say(DoStep(1, "turn"))
    assert parts(first(bench)) == [(Kind.ATTENDED, 4), (Kind.UNATTENDED, 10), (Kind.ATTENDED, 1)]
    bench.prove(1, "confirmed 2")
    bench.say(DoStep(1, "second side"))
    assert parts(first(bench)) == [(Kind.UNATTENDED, 10), (Kind.ATTENDED, 1)]


@settings(max_examples=8, deadline=None)
@given(start=st.integers(4, 16), cycle=st.integers(2, 200), turn=st.integers(1, 30))
def test_every_plan_with_turns_keeps_the_rules(start: int, cycle: int, turn: int) -> None:
    times = (TURNED[0][0], f'cycle = "{cycle} min", turn = "{turn} min", after')
    state = open_bench(lambda: edited(times, TURNED[1]), start=start).state
    plan = planned(state, crew=ONE_SHIFT, effort=20)
    assert not plan.obstacles
    assert not check_plan(plan.problem, plan.plan)
    conserves(plan, state)
