"""A cycle in which pieces are turned over: two cuts with manual work between, planned once."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.batch.walk.commands import DoStep, StartCycle
from floor.batch.worklist.tasks import list_due_tasks
from floor.figures.schedule import PhaseKind, PlannedRun
from tests.batch.factory import TURNED, Bench, edited, open_bench, turned
from tests.figures.schedule_check import check_plan
from tests.planning.planned import ALWAYS, ONE_SHIFT, conserves, minutes, planned


def parts(run: PlannedRun) -> list[tuple[PhaseKind, float]]:
    return [(part.kind, minutes(part.start, part.end)) for part in run.stretches]


def first(bench: Bench) -> PlannedRun:
    plan = planned(bench.state, now=bench.clock(), crew=ALWAYS)
    assert not check_plan(plan.problem, plan.plan)
    return next(run for run in plan.runs if plan.work(run).op == 10)


def test_somebody_is_planned_to_turn_them_over_half_way() -> None:
    bench = open_bench(turned, start=4)
    bench.form(10)
    assert parts(first(bench)) == [
        (PhaseKind.ATTENDED, 2),
        (PhaseKind.UNATTENDED, 10),
        (PhaseKind.ATTENDED, 4),
        (PhaseKind.UNATTENDED, 10),
        (PhaseKind.ATTENDED, 1),
    ]


def test_a_turn_that_takes_no_time_is_none_to_plan() -> None:
    """Stated as 0 min, so the rest of a cycle that stands for it is what is cut after it."""
    no_time = (TURNED[0][0], TURNED[0][1].replace('"1 min"', '"0 min"'))
    bench = open_bench(lambda: edited(no_time, *TURNED[1:]), start=4)
    bench.until(bench.form(10), "start")
    bench.say(StartCycle(1))
    bench.say(DoStep(1, "cycle step 1"))
    bench.clock.forward(600)
    bench.say(DoStep(1, "turn"))
    assert parts(first(bench))[-1] == (PhaseKind.ATTENDED, 1)


def test_of_a_cycle_under_way_only_the_rest_is_planned() -> None:
    bench = open_bench(turned, start=4)
    bench.until(bench.form(10), "start")
    bench.say(StartCycle(1))
    bench.say(DoStep(1, "cycle step 1"))
    assert [kind for kind, _ in parts(first(bench))][:3] == [
        PhaseKind.UNATTENDED,
        PhaseKind.ATTENDED,
        PhaseKind.UNATTENDED,
    ]
    assert sum(length for _, length in parts(first(bench))) == pytest.approx(20 + 4 + 1)
    bench.clock.forward(600)
    bench.say(DoStep(1, "turn"))
    assert parts(first(bench)) == [(PhaseKind.ATTENDED, 4), (PhaseKind.UNATTENDED, 10), (PhaseKind.ATTENDED, 1)]
    bench.prove(1, "confirmed 2")
    bench.say(DoStep(1, "second side"))
    assert parts(first(bench)) == [(PhaseKind.UNATTENDED, 10), (PhaseKind.ATTENDED, 1)]


@pytest.mark.parametrize("ran", [0, 3, 9, 12])
def test_the_plan_and_what_is_next_turn_the_pieces_over_at_one_time(ran: int) -> None:
    """Half way of the cycle by the checklist's times, however much of it has run; at once where that is over."""
    bench = open_bench(turned, start=4)
    bench.until(bench.form(10), "start")
    started = bench.clock().at
    bench.say(StartCycle(1))
    bench.say(DoStep(1, "cycle step 1"))
    bench.clock.forward(60 * ran)
    now = bench.clock().at
    due = next(one for one in list_due_tasks([bench.state], bench.clock()) if one.load == 1)

    half_way = started + timedelta(minutes=10)
    by_hand = next(part for part in first(bench).stretches if part.kind is PhaseKind.ATTENDED)

    assert by_hand.start == max(half_way, now)
    assert (due.when or now) == max(half_way, now)
    assert minutes(by_hand.end, first(bench).end) == pytest.approx(10 + 1), "the second side and the work after it"


@settings(max_examples=8, deadline=None)
@given(start=st.integers(4, 16), cycle=st.integers(2, 200), turn=st.integers(1, 30))
def test_every_plan_with_turns_keeps_the_rules(start: int, cycle: int, turn: int) -> None:
    times = (TURNED[0][0], f'cycle = "{cycle} min", turn = "{turn} min", after')
    state = open_bench(lambda: edited(times, TURNED[1]), start=start).state
    plan = planned(state, crew=ONE_SHIFT, effort=20)
    assert not plan.obstacles
    assert not check_plan(plan.problem, plan.plan)
    conserves(plan, state)
