"""A batch that cannot be fully planned has no finish: what is missing is said once, with what would help."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, datetime, time, timedelta

import pytest

from floor.batch.state import Batch
from floor.entry import Moment
from floor.figures.calendar import Calendar
from floor.figures.schedule import BatchModel as PlannedBatch
from floor.figures.schedule import (
    LoadModel,
    Obstacle,
    Phase,
    PhaseKind,
    Precedence,
    RunModel,
    SchedulingProblem,
    solve_feasible_part,
)
from floor.papers.plan import write_plan_json, write_plan_text
from floor.planning.finish import compute_finish, find_last_finish
from floor.planning.plan import ShopPlan
from floor.planning.plan_text import describe_finish, describe_troubles, format_batch_lines, format_outlook_line
from floor.planning.planned_loads import PlannedWork
from floor.planning.problem import Crew
from floor.planning.start_plan import build_fresh_batch
from floor.planning.unplannable import describe_obstacles, drop_loads_with_pieces
from floor.planning.whatif import find_bottleneck, rank_savings
from tests.batch.factory import open_bench
from tests.planning.planned import ALWAYS, MORNING, ONE_SHIFT, ZONE, planned
from tests.planning.test_impossible import STEP, route

TWO_HOURS = Crew(Calendar.weekly(ZONE, range(5), time(7), time(9)))
NOBODY = {
    "people = 0": Calendar.weekly(ZONE, range(5), time(7), time(15, 30), people=0),
    "breaks cover the shift": Calendar.weekly(ZONE, range(5), time(7), time(15, 30), (time(7), time(15, 30))),
    "days off for years": Calendar.weekly(
        ZONE, range(5), time(7), time(15, 30),
        days_off=[MORNING.date() + timedelta(days=day) for day in range(11 * 366)],
    ),
}  # fmt: skip


def many() -> Batch:
    """40 pieces on pallets of 2: 20 loads, each through three operations, the last 210 min attended."""
    short = f'time = {{ cycle = "5 min" }}\n{STEP}]'
    long = f'time = {{ cycle = "210 min", cycle_attended = true }}\n{STEP}]'
    batch = build_fresh_batch(route(short, long, short, capacity=2, count=20), 40, 40, Moment(MORNING), "B0001")
    batch.due = date(2026, 12, 31)
    return batch


def said_nowhere_as_planned(plan: ShopPlan, batch: str = "B0001") -> None:
    """No finish, lateness, on-time chance or saving, in any words or figures."""
    body = json.loads(write_plan_json(plan, Moment(MORNING), [batch], savings=rank_savings(plan)))
    text = write_plan_text(plan, Moment(MORNING), [batch], savings=rank_savings(plan))
    assert compute_finish(plan, batch).at is None
    assert compute_finish(plan, batch).late_hours is None
    assert find_last_finish(plan) is None
    assert [body["finish"], *(body["batches"][0][name] for name in ("finish", "late_hours", "finish_10_percent"))] == [
        None, None, None, None,
    ]  # fmt: skip
    assert body["one_more_saves_hours"] is None, "there is no finish to bring forward"
    assert body["batches"][0]["finish_unknown_because"]
    short = format_outlook_line(plan, batch, None, None, 10)
    for words in (
        text,
        describe_finish(plan, batch),
        short,
        "\n".join(format_batch_lines(plan, batch, None, None, 10, 78)),
    ):
        assert "finish unknown" in words
        assert not [
            claim
            for claim in ("in time", "early", "LATE by", "on time", "Nothing is left")
            if claim in words.replace("at best", "")
        ]


@pytest.mark.parametrize("calendar", NOBODY.values(), ids=NOBODY.keys())
def test_where_nobody_is_ever_in_nothing_is_promised(calendar: Calendar) -> None:
    plan = planned(many(), crew=Crew(calendar), effort=50)

    said_nowhere_as_planned(plan)
    assert plan.unplanned["B0001"].pieces == 40
    assert "40 pieces are not planned from op 10 on" in describe_finish(plan, "B0001")
    assert len(describe_troubles(plan)) <= 3, "each obstacle once, not for every load"
    assert "more loads" in describe_troubles(plan)[0]
    assert len(write_plan_text(plan, Moment(MORNING), ["B0001"]).splitlines()) < 40


def test_an_operation_that_no_shift_holds_leaves_the_finish_unknown_and_the_rest_planned() -> None:
    plan = planned(many(), crew=TWO_HOURS, effort=50)

    said_nowhere_as_planned(plan)
    assert {plan.work(run).op for run in plan.plan.runs} == set(), "all three operations ride on one pallet"
    said = describe_finish(plan, "B0001")
    assert "20 Step 2" in said
    assert "the longest stretch is 120 min" in said
    assert "add a shift" in said
    assert "Not known" in find_bottleneck(plan, ()).words


def loose() -> tuple[Batch, datetime]:
    """Four pieces baked and waiting loose whose 8 h to the inspection end in the night; four more not started."""
    bench = open_bench(start=8)
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.clock.forward(12 * 3600)
    bench.through(load, 30)
    bench.clock.forward(48 * 3600)
    bench.through(bench.form(40), 40)
    bench.clock.forward(7.9 * 3600)
    return bench.state, bench.clock().at


def test_pieces_that_cannot_go_on_hold_up_no_others() -> None:
    batch, now = loose()
    off = frozenset({now.date(), now.date() + timedelta(days=1)})  # nobody in until the day after tomorrow

    plan = planned(batch, now=now, crew=Crew(Calendar(ZONE, ALWAYS.calendar.shifts, off)))

    missing = plan.unplanned["B0001"]
    assert (missing.pieces, missing.op, missing.others) == (4, 50, True)
    through = [plan.work(run).pieces for run in plan.plan.runs if plan.work(run).op == 50]
    assert sum(through) == 4, "those not started are planned to the end"
    said = describe_finish(plan, "B0001")
    assert "the last moment it could start is" in said
    assert "set the pieces aside" in said
    assert "The others:" in said


def test_a_load_that_takes_stuck_pieces_with_others_goes_on_with_the_others() -> None:
    """Two loads fill one tote; the first misses its window: the tote goes on with the pieces of the second."""
    work = (Phase(PhaseKind.ATTENDED, 10),)
    loads = (
        LoadModel("one", "B", (RunModel("one", "30 Bond", None, work),)),
        LoadModel("other", "B", (RunModel("other", "30 Bond", None, work),)),
        LoadModel("tote", "B", (RunModel("tote", "60 Pack", None, work, (Precedence("one"), Precedence("other"))),)),
        LoadModel("last", "B", (RunModel("last", "70 Send", None, work, (Precedence("one"),)),)),
    )
    problem = SchedulingProblem(MORNING, ALWAYS.calendar, (), {}, 1, (PlannedBatch("B"),), loads)
    works = {
        "one": PlannedWork("B", 30, 1, None, (1,)), "other": PlannedWork("B", 30, 2, None, (2, 3)),
        "tote": PlannedWork("B", 60, 3, None, (1, 2, 3)), "last": PlannedWork("B", 70, 1, None, (1,)),
    }  # fmt: skip

    kept, left = drop_loads_with_pieces(problem, works, {"one"})

    assert [load.id for load in kept.loads] == ["other", "tote"]
    assert left["tote"].pieces_of == (2, 3)
    assert left["tote"].pieces == 2
    assert solve_feasible_part(kept)[1] == ()


def test_a_plan_that_is_whole_has_its_finish() -> None:
    plan = planned(open_bench().state, crew=ONE_SHIFT)
    assert plan.whole
    assert compute_finish(plan, "B0001").at == find_last_finish(plan) == plan.plan.end


def test_what_stands_in_the_way_of_several_is_reported_once_with_how_many() -> None:
    one = Obstacle("operation 10", "every Pallet is on hold", "Decide on them", load="a")
    assert describe_obstacles((one,)) == ["operation 10: every Pallet is on hold. Decide on them."]
    assert describe_obstacles((one, replace(one, load="b"), replace(one, load="b"))) == [
        "operation 10: every Pallet is on hold (and 1 more load). Decide on them."
    ]
    elsewhere = replace(one, where="operation 30", load="c")
    assert describe_obstacles((one, elsewhere)) == [
        "operation 10 and 1 other operation: every Pallet is on hold (and 1 more load). Decide on them."
    ]
    timed = replace(one, wrong="it takes 1.5 h, and a shift 8 h", load="e")
    longer = replace(timed, where="operation 40", wrong="it takes 12 h, and a shift 7.75 h", load="f")
    assert describe_obstacles((timed, longer)) == [
        "operation 10 and 1 other operation: it takes 1.5 h, and a shift 8 h (and 1 more load). Decide on them."
    ]
    other = replace(one, remedy="Wait", load="d")
    assert describe_obstacles((one, other)) == [
        "operation 10: every Pallet is on hold. Decide on them.", "operation 10: every Pallet is on hold. Wait.",
    ]  # fmt: skip
