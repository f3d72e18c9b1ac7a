"""The plan puts no more on a station than fits, by the places each carrier takes."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.planning.load_runs import count_places_taken
from floor.planning.plan import ShopPlan
from tests.batch.factory import TWO_UP, edited, open_bench, two_up
from tests.planning.planned import conserves, planned

OVEN = 'kind = "oven"\nruns_at_once = 2\n'


def most_at_once(plan: ShopPlan, op: int) -> int:
    runs = [run for run in plan.runs if plan.work(run).op == op]
    return max(sum(other.start <= run.start < other.held_until for other in runs) for run in runs)


@settings(max_examples=12, deadline=None)
@given(room=st.integers(1, 6), takes=st.integers(1, 4), start=st.sampled_from([8, 12]))
def test_no_more_carriers_are_in_the_oven_than_have_room(room: int, takes: int, start: int) -> None:
    takes = min(room, takes)
    oven = f'kind = "oven"\nruns_at_once = {room}\ncarrier_places = {{ tray = {takes} }}\n'
    state = open_bench(lambda: edited((OVEN, oven)), start=start).state
    plan = planned(state, effort=40)
    assert not plan.obstacles
    conserves(plan, state)
    assert most_at_once(plan, 40) <= room // takes
    for run in plan.runs:
        if plan.work(run).op == 40:
            assert len(run.places) == takes


def test_who_alone_has_the_spindle_has_the_whole_bed_and_a_shared_cycle_takes_a_place_for_each() -> None:
    """One cycle at a time: the next pallet on the bed waits for the spindle anyway."""
    mill, oven = two_up().station("mill"), two_up().station("oven")
    assert (mill.most_cycles, mill.runs_at_once, oven.most_cycles) == (1, 2, 2)
    assert count_places_taken(mill, "pallet") == 2
    assert count_places_taken(mill, "pallet", shared=True) == 1
    assert count_places_taken(oven, "tray") == 1


def test_what_is_in_the_oven_now_takes_its_places_in_the_plan() -> None:
    oven = 'kind = "oven"\nruns_at_once = 4\ncarrier_places = { tray = 3 }\n'
    bench = open_bench(lambda: edited((OVEN, oven)), start=8)
    for _ in range(2):
        bench.through(bench.form(10), 10, 20, 30)
    trays = [bench.form(40, 4), bench.form(40, 4)]
    bench.clock.forward(48 * 3600)
    bench.until(trays[0], "end")
    plan = planned(bench.state, now=bench.clock())
    first, second = (
        next(run for run in plan.runs if plan.work(run).load == load and plan.work(run).op == 40) for load in trays
    )
    assert len(first.places) == 3
    assert second.start >= first.held_until


@pytest.mark.parametrize(("cycles", "most"), [("", 1), ("cycles_at_once = 2\n", 2)])
def test_a_spindle_cuts_one_pallet_after_the_other_though_both_are_on_the_bed(cycles: str, most: int) -> None:
    edit = ("runs_at_once = 2\ncarrier", f"runs_at_once = 2\n{cycles}carrier")
    state = open_bench(lambda: edited(*TWO_UP, edit), start=8).state
    plan = planned(state)
    assert not plan.obstacles
    conserves(plan, state)
    assert most_at_once(plan, 10) == most


def test_pallets_that_are_both_under_way_at_one_spindle_are_planned_as_they_stand() -> None:
    bench = open_bench(two_up, start=12)
    for load in (bench.form(10), bench.form(10)):
        bench.until(load, "start")
    plan = planned(bench.state, now=bench.clock())
    assert not plan.obstacles
    conserves(plan, bench.state)
