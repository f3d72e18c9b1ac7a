"""Impossible orders are reported, naming the operation and what would make them possible; odd ones are planned."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.checklist.loading import read_checklist
from floor.checklist.model import Checklist
from floor.entry import Moment
from floor.figures.calendar import Calendar, Shift
from floor.planning.plan import ShopPlan
from floor.planning.problem import Crew
from floor.planning.start_plan import build_fresh_batch
from tests.planning.planned import ALWAYS, MORNING, ONE_SHIFT, conserves, minutes, planned

HEAD = """
format = 1
[part]
number = "T-1"
name = "Test piece"
revision = "A"
revised = 2026-01-05
notice = "Local codes, the makers' data sheets and licensed practice govern."
[[stations]]
id = "mill"
name = "Mill"
[[carriers]]
id = "pallet"
name = "Pallet"
kind = "pallet"
capacity = {capacity}
count = {count}
"""
BENCH = """
[[stations]]
id = "bench"
name = "Bench"
kind = "bench"
"""


def route(*operations: str, capacity: int = 4, count: int = 2) -> Checklist:
    """A checklist of these operations, in steps of ten, at mill and bench in turn."""
    text = HEAD.format(capacity=capacity, count=count)
    text += BENCH if len(operations) > 1 else ""
    for n, given_ in enumerate(operations):
        station = "mill" if n % 2 == 0 else "bench"
        text += f'[[operations]]\nop = {10 * n + 10}\ntitle = "Step {n + 1}"\n'
        text += f'station = "{station}"\ncarrier = "pallet"\n'
        text += f'reasons = [{{ code = "bad", text = "Bad" }}]\n{given_}\n'
    loaded = read_checklist(text, "route.toml")
    assert loaded.checklist is not None, "\n".join(map(str, loaded.problems))
    return loaded.checklist


STEP = 'steps = [{ do = "Do the work", id = "work", at = "load", skip = false }'


def test_an_attended_cycle_longer_than_any_shift_is_named() -> None:
    checklist = route(f'time = {{ cycle = "9 h", cycle_attended = true }}\n{STEP}]')

    plan = planned(build_fresh_batch(checklist, 4, 4, Moment(MORNING)))

    assert not plan.plan.runs
    assert "10 Step 1" in plan.obstacles[0].where
    assert "longest stretch is 270 min" in plan.obstacles[0].wrong
    assert "add a shift" in plan.obstacles[0].remedy


def test_a_cycle_that_may_not_outlast_the_longest_shift_is_named() -> None:
    checklist = route(f'time = {{ cycle = "12 h" }}\n{STEP}]')

    found = planned(build_fresh_batch(checklist, 4, 4, Moment(MORNING))).obstacles[0]

    assert "10 Step 1" in found.where
    assert "may not outlast the shift, and the longest shift is 510 min" in found.wrong
    assert "Let it outlast the shift" in found.remedy


def test_the_same_cycle_is_planned_where_it_may_outlast_the_shift() -> None:
    checklist = route(f'may_outlast_shift = true\ntime = {{ cycle = "12 h" }}\n{STEP}]')
    plan = planned(build_fresh_batch(checklist, 4, 4, Moment(MORNING)))
    assert minutes(plan.plan.start, plan.plan.end) >= 12 * 60


CLOSES = ", the window of open time closes 30 min before the work at op 10 is over"


def open_half_an_hour(work: str) -> ShopPlan:
    """The plan of four pieces whose clock starts with the cycle and is open for half an hour.

    Args:
        work: how long the cycle takes, as in a checklist.
    """
    first = (
        f"time = {{ {work} }}\n{STEP}]\n"
        'clocks = [{ id = "open time", starts = "start", windows = [{ latest = "30 min" }], source = "Test" }]'
    )
    gate = '{ gate = "cured", clock = "open time", at = "arrive" }'
    second = f'cycle = false\ntime = {{ before = "5 min" }}\n{STEP}, {gate}]'
    return planned(build_fresh_batch(route(first, second), 4, 4, Moment(MORNING)))


def test_a_window_that_closes_before_the_work_is_over_is_named() -> None:
    """The cycle takes an hour."""
    plan = open_half_an_hour('cycle = "1 h"')

    assert not plan.plan.runs
    assert "20 Step 2" in plan.obstacles[0].where
    assert plan.obstacles[0].wrong.endswith(CLOSES)
    assert plan.obstacles[0].remedy == "Shorten op 10, or widen the window of open time", "a smaller load is no help"


def test_a_window_that_only_a_large_load_misses_asks_for_a_smaller_one() -> None:
    """Fifteen minutes a piece against a window of thirty: one piece makes it, four do not."""
    plan = open_half_an_hour('cycle_piece = "15 min"')

    assert plan.obstacles[0].wrong.endswith(CLOSES)
    assert plan.obstacles[0].remedy == "Make the load smaller, shorten op 10, or widen the window of open time"


def test_a_shop_in_which_nobody_works_is_refused() -> None:
    checklist = route(f'cycle = false\ntime = {{ before = "5 min" }}\n{STEP}]')
    plan = planned(build_fresh_batch(checklist, 4, 4, Moment(MORNING)), crew=Crew(Calendar("Etc/GMT-1", ())))
    assert "10 Step 1" in plan.obstacles[0].where
    assert not plan.plan.runs


@pytest.mark.parametrize(
    ("start", "ends"),
    [
        # The night of 29 March 2026 has 23 hours in Vienna, that of 25 October 25 (EU directive 2000/84/EC).
        ("2026-03-28 20:00", "2026-03-29 09:00"),
        ("2026-10-24 20:00", "2026-10-25 07:00"),
        ("2028-02-28 20:00", "2028-02-29 08:00"),
    ],
    ids=["spring", "autumn", "leap day"],
)
def test_a_cycle_through_the_night_takes_its_hours_whatever_the_clocks_do(start: str, ends: str) -> None:
    zone = ZoneInfo("Europe/Vienna")
    checklist = route(f'may_outlast_shift = true\ntime = {{ cycle = "12 h" }}\n{STEP}]')
    now = datetime.fromisoformat(start).replace(tzinfo=zone)

    plan = planned(
        build_fresh_batch(checklist, 4, 4, Moment(now)), now=now, crew=Crew(Calendar.always("Europe/Vienna"))
    )

    assert plan.plan.end == datetime.fromisoformat(ends).replace(tzinfo=zone)


def test_hand_work_on_a_shift_over_midnight_goes_on_past_it() -> None:
    night = Crew(Calendar("Etc/GMT-1", (Shift(0, time(22), time(6)),)))
    checklist = route(f'cycle = false\ntime = {{ before = "4 h" }}\n{STEP}]')
    plan = planned(build_fresh_batch(checklist, 4, 4, Moment(MORNING)), crew=night)
    assert plan.plan.runs[0].start == MORNING.replace(hour=22)
    assert plan.plan.end == MORNING.replace(hour=2) + timedelta(days=1)


TIMES = st.fixed_dictionaries(
    {"cycle": st.integers(0, 300).map(lambda minutes: f'"{minutes} min"')},
    optional={
        part: st.integers(0, 300).map(lambda minutes: f'"{minutes} min"')
        for part in ("setup", "before", "before_piece", "cycle_piece", "after", "after_piece")
    },
)


@st.composite
def routes(draw: st.DrawFn) -> Checklist:
    operations = []
    count = draw(st.integers(1, 4))
    for n in range(count):
        times = draw(TIMES)
        manner = draw(st.sampled_from(["attended", "outlasts", "within the shift"]))
        if manner == "attended":
            times["cycle_attended"] = "true"
        text = "may_outlast_shift = true\n" if manner == "outlasts" else ""
        text += "time = { " + ", ".join(f"{name} = {value}" for name, value in times.items()) + " }\n"
        gate = f', {{ gate = "cured", clock = "c{n - 1}", at = "arrive" }}' if n else ""
        text += f"{STEP}{gate}]\n"
        if n + 1 < count:
            low, more = draw(st.integers(0, 2000)), draw(st.none() | st.integers(0, 600))
            latest = f', latest = "{low + more} min"' if more is not None else ""
            begins = draw(st.sampled_from(["start", "end", "release", "step work"]))
            text += f'clocks = [{{ id = "c{n}", starts = "{begins}", windows = [{{ earliest = "{low} min"{latest} }}], '
            text += 'source = "Test" }]\n'
        operations.append(text)
    return route(*operations, capacity=draw(st.integers(1, 9)), count=draw(st.integers(1, 3)))


@settings(max_examples=40, deadline=None)
@given(routes(), st.integers(1, 20), st.booleans())
def test_any_route_is_planned_or_refused_with_a_remedy(checklist: Checklist, pieces: int, day_and_night: bool) -> None:
    """Never an endless loop, never a negative time, never a piece lost between the loads."""
    batch = build_fresh_batch(checklist, 1, pieces, Moment(MORNING))

    plan = planned(batch, crew=ALWAYS if day_and_night else ONE_SHIFT, effort=50)

    assert all(one.where and one.wrong and one.remedy for one in plan.obstacles)
    for run in plan.plan.runs:
        assert plan.plan.start <= run.start <= run.held_until <= run.end <= plan.plan.end
        assert run.slack >= 0
    if not plan.obstacles:
        conserves(plan, batch)
