"""Manual work that must not be interrupted: what the walk says before it starts, and that no plan ever splits it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.batch.walk.station_walk import build_walk
from floor.batch.worklist.tasks import list_due_tasks
from floor.figures.calendar import Calendar, Shift
from floor.figures.schedule import PhaseKind
from floor.planning.unbroken_work import UnbrokenWork, find_unbroken_work
from tests.batch.factory import Bench, edited, open_bench
from tests.figures.schedule_check import check_plan
from tests.planning.planned import ALWAYS, MORNING, ONE_SHIFT, Crew
from tests.planning.test_hand_work import WORK, made
from tests.planning.test_impossible import route

COAT = 'cycle = false\ntime = { before = "5 min" }'


def coating(minutes: int = 45) -> Bench:
    """A pallet at the coat, not started yet; the shift is 07:00 to 15:30 with a break from 11:30 to 12:00."""
    in_one_go = f'cycle = false\nin_one_go = true\ntime = {{ before = "{minutes} min" }}'
    bench = open_bench(lambda: edited((COAT, in_one_go)), start=4, at=MORNING)
    bench.form(10)
    bench.through(1, 10)
    return bench


def said(bench: Bench, at: str, crew: Crew = ONE_SHIFT) -> UnbrokenWork | None:
    now = datetime.combine(MORNING.date(), time.fromisoformat(at), MORNING.tzinfo)
    return find_unbroken_work(bench.state, bench.walk(1), crew.calendar, now)


@pytest.fixture
def bench() -> Bench:
    bench = coating()
    bench.begin(1)
    return bench


@pytest.mark.parametrize(("at", "begin", "latest"), [
    ("10:00", "10:00", "10:45"), ("10:45", "10:45", "10:45"), ("10:46", "12:00", None), ("11:45", "12:00", None),
    ("14:45", "14:45", "14:45"), ("15:00", "31:00", None),
])  # fmt: skip
def test_it_starts_in_time_to_finish_before_anybody_leaves(
    bench: Bench, at: str, begin: str, latest: str | None
) -> None:
    found = said(bench, at)
    assert found is not None
    hours, minutes = begin.split(":")
    midnight = datetime.combine(MORNING.date(), datetime.min.time(), MORNING.tzinfo)
    assert found.begin == midnight + timedelta(hours=int(hours), minutes=int(minutes))
    assert (f"{found.latest:%H:%M}" if found.latest else None) == latest


def test_the_words_say_the_time_or_when_else(bench: Bench) -> None:
    at = MORNING.replace(hour=10)
    found = said(bench, "10:00")
    assert found is not None
    assert found.said(at) == "In one go, 45 min attended. Start it by 10:45."
    late = said(bench, "11:00")
    assert late is not None
    assert late.said(MORNING.replace(hour=11)) == (
        "In one go, 45 min attended. Does not fit before the next break or the end of the shift: start it 12:00."
    )


def test_no_stretch_long_enough_is_reported() -> None:
    bench = coating(300)
    bench.begin(1)
    found = said(bench, "07:00")
    assert found is not None
    assert found.begin is None
    assert "no stretch of work is that long" in found.said(MORNING).lower()


def test_where_somebody_is_always_in_there_is_no_latest(bench: Bench) -> None:
    found = said(bench, "10:00", ALWAYS)
    assert found is not None
    assert found.latest is None
    assert found.said(MORNING.replace(hour=10)) == "In one go, 45 min attended."


def test_the_latest_start_is_by_the_last_who_leaves(bench: Bench) -> None:
    """Two are in until 11:00, and one of them until 13:00: one is enough."""
    shifts = tuple(Shift(day, time(7), time(hour)) for day in range(5) for hour in (11, 13))
    found = said(bench, "10:00", Crew(Calendar(ONE_SHIFT.calendar.zone, shifts)))
    assert found is not None
    assert found.latest == MORNING.replace(hour=12, minute=15)


def test_once_started_it_is_not_mentioned_again(bench: Bench) -> None:
    assert said(bench, "10:00") is not None
    bench.until(1, "coat")
    assert said(bench, "10:00") is None


def test_an_operation_without_it_says_nothing() -> None:
    bench = open_bench(start=4, at=MORNING)
    bench.form(10)
    bench.through(1, 10)
    bench.begin(1)
    assert said(bench, "10:00") is None


def test_what_is_next_says_so_before_the_load_is_taken_there() -> None:
    due = next(due for due in list_due_tasks([coating().state], coating().clock()) if due.load == 1)
    assert due.what == "Start, in one go"


@settings(max_examples=10, deadline=None)
@given(minutes=st.integers(5, 270), before=st.integers(0, 600))
def test_no_plan_splits_it(minutes: int, before: int) -> None:
    """The longest stretch of the shift is 270 min."""
    first = f'cycle = false\ntime = {{ before = "{before} min" }}\n{WORK}]'
    plan = made(route(first, f'cycle = false\nin_one_go = true\ntime = {{ before = "{minutes} min" }}\n{WORK}]'))
    assert not plan.obstacles
    assert not check_plan(plan.problem, plan.plan)
    [run] = [run for run in plan.plan.runs if run.operation == "20 Step 2"]
    assert len([part for part in run.stretches if part.kind is PhaseKind.ATTENDED]) == 1


def test_a_run_that_is_through_has_no_work_ahead() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10)
    run = bench.state.runs[1]
    walked = build_walk(bench.state, run, bench.clock(), "AA")
    assert walked.current is None
    whole = replace(walked, operation=replace(walked.operation, in_one_go=True))
    assert find_unbroken_work(bench.state, whole, ALWAYS.calendar, bench.clock().at) is None
