"""An operation that two stations can do: the plan uses both, and leaves started work where it is."""

from __future__ import annotations

from floor.batch.stations.out_of_service import TakeOutOfService
from floor.batch.walk.commands import BeginRun
from floor.planning.plan import ShopPlan
from tests.batch.factory import open_bench, part, two_mills
from tests.figures.schedule_check import check_plan
from tests.planning.planned import ALWAYS, conserves, planned


def mills(plan: ShopPlan) -> list[str | None]:
    return sorted(run.station or "" for run in plan.runs if plan.work(run).op == 10)


def test_the_plan_uses_both_and_is_sooner_through_the_operation() -> None:
    both, one = open_bench(two_mills, start=12).state, open_bench(part, start=12).state
    plan, alone = planned(both, crew=ALWAYS), planned(one, crew=ALWAYS)
    assert not check_plan(plan.problem, plan.plan)
    conserves(plan, both)
    assert set(mills(plan)) == {"Mill", "Mill 2"}
    assert max(run.end for run in plan.runs if plan.work(run).op == 10) < max(
        run.end for run in alone.runs if alone.work(run).op == 10
    )


def test_started_work_stays_at_its_station() -> None:
    bench = open_bench(two_mills, start=4)
    bench.form(10)
    bench.say(BeginRun(1, station="mill 2"))
    assert mills(planned(bench.state, now=bench.clock(), crew=ALWAYS)) == ["Mill 2"]


def test_a_station_out_of_service_leaves_the_work_to_the_other() -> None:
    bench = open_bench(two_mills, start=8)
    bench.say(TakeOutOfService("mill", "spindle hums"))
    assert mills(planned(bench.state, now=bench.clock(), crew=ALWAYS)) == ["Mill 2", "Mill 2"]
