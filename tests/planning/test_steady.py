"""The promise holds while work follows the plan: each new plan ends no later than the one before."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

import floor.planning.plan as plans
from floor.figures.schedule import PhaseKind
from floor.planning.plan import ShopPlan, make_plan, rename_runs
from floor.planning.problem import build_planning_request
from tests.batch.factory import Bench, open_bench, part, thermal_break
from tests.planning.planned import ONE_SHIFT, planned, potted

A_LITTLE = timedelta(minutes=2)
"""Keys and walking that no checklist has times for."""


def planned_from(bench: Bench, before: ShopPlan | None, effort: int = 400) -> ShopPlan:
    asked = [build_planning_request([bench.state], bench.clock(), ONE_SHIFT, mixed=mixed) for mixed in (True, False)]
    return make_plan(asked, effort=effort, previous=before)


def do_next(bench: Bench, plan: ShopPlan) -> None:
    """Do what the plan wants a person for first, when it wants it: a run up to its cycle, or the rest of one."""
    run = min((run for run in plan.plan.runs if run.attended), key=lambda run: run.attended[0].start)
    work, first = plan.work(run), run.attended[0]
    bench.clock.forward(max(0.0, (first.start - bench.clock().at).total_seconds()))
    for other in plan.plan.runs:  # what is over by itself, without any work left, is released
        done = plan.work(other)
        if done.load and bench.state.loads[done.load].run and other is not run and other.held_until <= first.start:
            bench.through(done.load, done.op)
    load = work.load if work.load is not None else bench.form(work.op)
    alone = any(part.kind is PhaseKind.UNATTENDED for part in run.stretches)
    if alone and bench.state.loads[load].run is None:
        bench.until(load, "end", wait=False)
    else:
        bench.through(load, work.op)
    bench.clock.forward(max(0.0, (first.end - bench.clock().at).total_seconds()))


@pytest.mark.parametrize(
    ("checklist", "start"), [(potted, 39), (part, 12), (thermal_break, 60)], ids=["potted", "coated", "plates"]
)
def test_work_by_the_plan_keeps_the_promise(checklist: object, start: int) -> None:
    bench = open_bench(checklist, start=start, order=start)  # type: ignore[arg-type]
    plan = planned_from(bench, None)
    for _ in range(12):
        promised = plan.plan.end
        do_next(bench, plan)
        plan = planned_from(bench, plan)
        assert plan.whole
        assert plan.plan.end <= promised + A_LITTLE


def test_the_order_of_work_is_found_again_when_loads_have_other_names() -> None:
    """A pallet is formed: what was "Pallet 1 of 3" is load 1 then, and the others are "of 2"."""
    bench = open_bench(potted, start=39, order=39)
    before = planned_from(bench, None)
    bench.form(10)
    after = build_planning_request([bench.state], bench.clock(), ONE_SHIFT)

    again = rename_runs(before, after.works)

    assert {run.run for run in again.runs} == set(after.works)
    on_pallets = [id for id in before.plan.order if before.plan.run(id).carrier == "Pallet"]
    assert [run.operation for run in again.runs if run.carrier == "Pallet"] == [
        before.plan.run(id).operation for id in on_pallets
    ]


@pytest.mark.parametrize(("hold", "kept"), [(True, True), (False, False)])
def test_of_two_ways_to_load_the_one_that_keeps_the_promises_is_taken(
    monkeypatch: pytest.MonkeyPatch, hold: bool, kept: bool
) -> None:
    one, other = (replace(open_bench(potted, start=13).state, id=id) for id in ("B1", "B2"))
    made = planned(one, other, effort=50)
    now = made.problem.now

    def ending(first: int, second: int) -> ShopPlan:
        ends = {"B1": now + timedelta(hours=first), "B2": now + timedelta(hours=second)}
        return replace(made, plan=replace(made.plan, finish=ends, end=max(ends.values())))

    keeps, sooner = ending(5, 9), ending(8, 8)
    ways = iter([sooner, keeps])
    monkeypatch.setattr(plans, "_plan", lambda *given: next(ways))

    found = make_plan([made.asked, made.asked], effort=0, previous=keeps, hold=hold)

    assert found.plan.finish == (keeps if kept else sooner).plan.finish


@pytest.mark.parametrize("hold", [True, False])
def test_the_search_is_told_whether_the_plan_that_stood_is_held(monkeypatch: pytest.MonkeyPatch, hold: bool) -> None:
    told: list[object] = []
    real = plans.solve_feasible_part

    def listened(*given: Any, **named: Any) -> Any:
        told.append(named["hold"])
        return real(*given, **named)

    made = planned(open_bench(potted, start=13).state, effort=0)
    monkeypatch.setattr(plans, "solve_feasible_part", listened)

    make_plan([made.asked], effort=0, previous=made, hold=hold)

    assert told == [hold]
