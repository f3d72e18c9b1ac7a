"""The plan puts loads in one cycle if the checklist allows it: one time at the station for all of them."""

from __future__ import annotations

from collections import defaultdict

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.batch.state import Batch
from floor.batch.walk.commands import StartCycle
from floor.entry import Moment
from floor.figures.schedule import PlannedRun
from floor.planning.pace import estimate_time_factors
from floor.planning.plan import ShopPlan, find_fill_times, make_plan
from floor.planning.problem import build_planning_request
from floor.planning.snapshot import take_snapshot
from floor.planning.unplannable import drop_loads_with_pieces
from tests.batch.factory import ONE_CYCLE, Bench, edited, one_cycle, open_bench
from tests.figures.schedule_check import check_plan
from tests.planning.planned import ALWAYS, MORNING, ONE_SHIFT, conserves, minutes, planned


def at(plan: ShopPlan, op: int) -> list[PlannedRun]:
    return [run for run in plan.runs if plan.work(run).op == op]


def sound(plan: ShopPlan, batch: Batch) -> None:
    """By the planner's own rules and the shop's: no more in a cycle than it takes, each load at each operation."""
    assert not plan.obstacles
    assert not check_plan(plan.problem, plan.plan)
    conserves(plan, batch)
    for operation in batch.checklist.operations:
        cycles: dict[tuple[object, object], list[PlannedRun]] = defaultdict(list)
        for run in at(plan, operation.op):
            cycles[run.start, run.held_until].append(run)
        assert len({run.load for run in at(plan, operation.op)}) == len(at(plan, operation.op))
        if operation.loads_per_cycle > 1:
            assert all(len(runs) <= operation.loads_per_cycle for runs in cycles.values())
    for station in batch.checklist.stations:
        here = [run for run in plan.runs if run.station == station.name and run.start < run.held_until]
        for run in here:
            assert sum(one.start <= run.start < one.held_until for one in here) <= station.runs_at_once
    loads: dict[str, list[PlannedRun]] = defaultdict(list)
    for run in plan.runs:
        loads[run.load].append(run)
    for runs in loads.values():
        runs.sort(key=lambda run: plan.work(run).op)
        assert all(before.end <= after.start for before, after in zip(runs, runs[1:], strict=False)), "out of order"
    carriers: dict[object, list[PlannedRun]] = defaultdict(list)
    for run in plan.runs:
        carriers[run.carrier, run.carrier_number].append(run)
    for runs in carriers.values():
        spans: dict[str, list[PlannedRun]] = defaultdict(list)
        for run in runs:
            spans[run.load].append(run)
        held = sorted((min(run.start for run in mine), max(run.end for run in mine)) for mine in spans.values())
        assert all(before[1] <= after[0] for before, after in zip(held, held[1:], strict=False)), "one carrier twice"


def test_two_pallets_take_one_cycle_and_both_pallets_for_all_of_it() -> None:
    state = open_bench(one_cycle, start=8).state
    plan = planned(state, crew=ALWAYS)
    first, second = at(plan, 10)
    assert (first.start, first.end, first.station) == (second.start, second.end, second.station)
    assert minutes(first.start, first.end) == 2 * 2 + 20 + 2 * 1, "hand work for each pallet, the cycle once"
    assert {first.carrier_number, second.carrier_number} == {1, 2} or first.carrier_number != second.carrier_number
    assert sum(bool(run.attended) for run in (first, second)) == 1, "the work is in the plan once"
    assert plan.runs is plan.runs, "the runs as people see them are put together once"
    sound(plan, state)


@settings(max_examples=10, deadline=None)
@given(
    loads=st.integers(2, 3), at_the_cut=st.integers(1, 3), start=st.integers(4, 24), ahead=st.integers(0, 3),
    together=st.booleans(),
)  # fmt: skip
def test_every_plan_with_cycles_for_several_keeps_the_rules(
    loads: int, at_the_cut: int, start: int, ahead: int, together: bool
) -> None:
    checklist = edited(
        *ONE_CYCLE[:-1],
        ("runs_at_once = 2\ncarrier", "runs_at_once = 3\ncarrier"),
        ('program = "KB7-10 A"\n', f'program = "KB7-10 A"\nloads_per_cycle = {loads}\n'),
    )
    bench = open_bench(lambda: checklist, start=start)
    for n in range(min(ahead, -(-start // 4))):
        load = bench.form(10)
        if n == 1:
            bench.until(load, "start")
    plan = make_plan([build_planning_request([bench.state], bench.clock(), ONE_SHIFT, together=together)], effort=20)
    sound(plan, bench.state)


def test_a_cycle_waits_until_every_load_of_it_has_its_carrier() -> None:
    """Two of the three pallets cure; the two loads that are to be cut together need one of them."""
    checklist = edited(*ONE_CYCLE, ("runs_at_once = 2\ncarrier", "runs_at_once = 3\ncarrier"))
    bench = open_bench(lambda: checklist, start=16)
    for load in (bench.form(10), bench.form(10)):
        bench.through(load, 10, 20)
    plan = planned(bench.state, now=bench.clock(), crew=ALWAYS)
    sound(plan, bench.state)
    first, second = at(plan, 10)
    assert first.start == second.start
    assert first.start >= min(run.end for run in at(plan, 30)[:2])


def test_a_cycle_waits_until_each_load_of_it_is_through_the_operation_before() -> None:
    checklist = edited(
        *ONE_CYCLE[:-1],
        ('time = { before = "5 min" }', 'time = { before = "60 min" }'),
        ("time = { cycle_piece", "loads_per_cycle = 2\ntime = { cycle_piece"),
        ('{ gate = "cured", clock = "cure", at = "arrive" },\n  { gate = "probed"', '{ gate = "probed"'),
        (
            '{ gate = "cured", do = "Recoat',
            '{ gate = "cured", clock = "cure", at = "arrive" },\n  { gate = "cured", do = "Recoat',
        ),
    )
    bench = open_bench(lambda: checklist, start=8)
    bench.through(bench.form(10), 10, 20)
    bench.through(bench.form(10), 10)
    plan = planned(bench.state, now=bench.clock(), crew=ALWAYS)
    sound(plan, bench.state)
    first, second = at(plan, 30)
    assert (first.start, first.end) == (second.start, second.end)
    assert minutes(first.start, first.end) == 16, "two minutes for each piece of both"
    assert first.start >= at(plan, 20)[0].end
    work = next(run for load in plan.problem.loads for run in load.runs if run.id == "B0001/1/30/0")
    assert [one.run for one in work.after] == ["B0001/2/20/0"], "whatever the order of work"


@pytest.fixture
def both() -> Bench:
    bench = open_bench(one_cycle, start=8)
    for load in (bench.form(10), bench.form(10)):
        bench.until(load, "start")
    return bench


def test_a_cycle_under_way_is_planned_once_for_both(both: Bench) -> None:
    both.say(StartCycle(1))
    both.clock.forward(300)
    plan = planned(both.state, now=both.clock(), crew=ALWAYS)
    first, second = at(plan, 10)
    assert (first.start, first.end) == (second.start, second.end)
    assert minutes(first.start, first.end) == pytest.approx(15 + 2)
    sound(plan, both.state)


def test_what_stands_before_its_start_is_planned_as_one_cycle_too(both: Bench) -> None:
    plan = planned(both.state, now=both.clock(), crew=ALWAYS)
    first, second = at(plan, 10)
    assert minutes(first.start, first.end) == pytest.approx(20 + 2, abs=1)
    assert first.end == second.end


def test_the_time_of_one_cycle_is_measured_once(both: Bench) -> None:
    both.say(StartCycle(1))
    both.until(1, "end")
    both.clock.forward(24 * 60)
    for load in (1, 2):
        assert both.hand().work(load)
    pace = estimate_time_factors(both.state, ALWAYS.calendar)[10]
    alone = open_bench(one_cycle, start=4)
    alone.until(alone.form(10), "end")
    alone.clock.forward(24 * 60)
    assert alone.hand().work(1)
    assert pace.cycle == pytest.approx(estimate_time_factors(alone.state, ALWAYS.calendar)[10].cycle, rel=0.02)
    assert pace.hands == 1.0, "making the other pallet ready is no slow work at this one"


def test_the_time_of_a_cycle_is_held_against_all_pieces_in_it() -> None:
    checklist = edited(*ONE_CYCLE, ('cycle = "20 min", after', 'cycle_piece = "5 min", after'))
    bench = open_bench(lambda: checklist, start=8)
    for load in (bench.form(10), bench.form(10)):
        bench.until(load, "start")
    bench.until(1, "end")
    bench.clock.forward(8 * 5 * 60)
    for load in (1, 2):
        assert bench.hand().work(load)
    assert estimate_time_factors(bench.state, ALWAYS.calendar)[10].cycle == pytest.approx(1.0, rel=0.05)


def test_the_plan_takes_what_is_sooner(both: Bench) -> None:
    """Both ways are tried: together, and each load in its own cycle; what counts is when the order is filled."""
    ways = take_snapshot([open_bench(one_cycle, start=8).state], both.clock(), ONE_SHIFT).ways
    assert {asked.together for asked in ways} == {True, False}
    state = open_bench(one_cycle, start=8).state
    best = make_plan(ways, effort=200)
    filled = [find_fill_times(make_plan([asked], effort=200))["B0001"] for asked in ways]
    assert filled[0] != filled[1]
    assert find_fill_times(best)["B0001"] == min(filled)
    sound(best, state)


def test_where_the_load_with_the_work_is_left_out_the_other_has_it() -> None:
    state = open_bench(one_cycle, start=8).state
    asked = build_planning_request([state], Moment(MORNING), ONE_SHIFT)
    first, second = asked.problem.loads[:2]
    kept, works = drop_loads_with_pieces(asked.problem, asked.works, {first.id})
    runs = {run.id: run for load in kept.loads for run in load.runs}
    heir = next(run for run in runs.values() if works[run.id].op == 10 and not works[run.id].hidden)
    assert heir.id in {run.id for run in second.runs}
    assert heir.station == "Mill"
    assert sum(phase.minutes for phase in heir.phases) == 26
    assert works[heir.id].cycle == ""
