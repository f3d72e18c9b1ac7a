"""The plan of loads that were moved, or that do an operation before its turn: each piece passes each operation once."""

from __future__ import annotations

from floor.batch.moving.commands import MovePieces
from floor.batch.walk.commands import BeginRun
from floor.planning.plan import ShopPlan
from tests.batch.factory import Bench, open_bench
from tests.batch.test_out_of_list import line_of_ops
from tests.planning.planned import conserves, planned


def plan_of(bench: Bench) -> ShopPlan:
    plan = planned(bench.state, now=bench.clock(), effort=50)
    conserves(plan, bench.state)
    return plan


def ops_of(plan: ShopPlan, load: int) -> list[tuple[int, int]]:
    """(operation, pieces) of the runs of a load that exists, in the order planned."""
    runs = sorted((run for run in plan.runs if plan.work(run).load == load), key=lambda run: run.start)
    return [(plan.work(run).op, plan.work(run).pieces) for run in runs]


def test_an_operation_done_first_is_planned_first_and_once() -> None:
    bench = open_bench(line_of_ops, start=4)
    bench.through(bench.form(10), 10)
    bench.say(BeginRun(1, ahead=14, ahead_why="the cutter for 12 is away"), "LL")

    assert ops_of(plan_of(bench), 1) == [(op, 4) for op in (14, 12, 16, 20, 30)]
    bench.through(1, 14)
    assert ops_of(plan_of(bench), 1) == [(op, 4) for op in (12, 16, 20, 30)]


def test_those_that_have_it_behind_them_are_not_planned_for_it() -> None:
    bench = open_bench(line_of_ops, start=8)
    for load in (bench.form(10), bench.form(10)):
        bench.through(load, 10)
    bench.say(BeginRun(1, ahead=14, ahead_why="the cutter for 12 is away"), "LL")
    bench.through(1, 14)
    bench.say(MovePieces(2, (5, 6)))
    joined = bench.say(MovePieces(1, (1, 2), 2))[0].body["load"]

    assert ops_of(plan_of(bench), joined)[:3] == [(12, 4), (14, 2), (16, 4)]
    assert ops_of(plan_of(bench), 1)[:2] == [(12, 2), (16, 2)]
