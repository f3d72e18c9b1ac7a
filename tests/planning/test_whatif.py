"""What if: shown beside the present plan, and the batch is not touched."""

from __future__ import annotations

from datetime import datetime, time
from zoneinfo import ZoneInfo

import pytest

from floor.batch.fold import fold
from floor.figures.calendar import Calendar
from floor.figures.schedule import Obstacle
from floor.planning.problem import Crew, ask
from floor.planning.whatif import answer, difference_said, savings, second_shift, tomorrow, what_ifs
from tests.batch.factory import Bench, open_bench
from tests.planning.planned import ALWAYS, ONE_SHIFT, ZONE, engraved, planned


@pytest.fixture(scope="module")
def bench() -> Bench:
    """39 plates for two pallets, the first of them cut."""
    made = open_bench(engraved, start=39)
    made.through(made.form(10), 10)
    return made


def asked(bench: Bench, text: str, crew: Crew = ONE_SHIFT) -> float:
    plan = planned(bench.state, now=bench.clock(), crew=crew)
    again = lambda changes: ask([bench.state], bench.clock(), crew, changes=changes)  # noqa: E731
    question = next(one for one in what_ifs(plan, [bench.state], bench.clock(), again) if text in one.text)
    found = answer(plan, question)
    assert found.hours is not None
    assert difference_said(plan, found)
    return found.hours


def test_each_question_is_answered_as_a_difference_in_hours(bench: Bench) -> None:
    before = fold(bench.state.entries)

    assert asked(bench, "One more Pallet") < -12, "a pallet bound by a day's cure saves most of a day"
    assert asked(bench, "A second shift") <= 0
    assert asked(bench, "Load 1 (Pallet 1) is scrapped") > 0
    assert asked(bench, "Bench down until Tue 07:00") > 12, "the first pallet waits a day to be filled"
    assert asked(bench, "Router down until Tue 07:00") >= 0
    assert asked(bench, "half as long again (+12 h)") > 0
    assert bench.state == before, "the batch is not touched"


def test_one_more_pallet_saves_most_where_pallets_bind(bench: Bench) -> None:
    best = savings(planned(bench.state, now=bench.clock()))[0]
    assert (best.kind, best.name) == ("carrier", "Pallet")


def test_a_longer_cure_lengthens_the_one_that_runs_now() -> None:
    """One pallet, ten of its 24 h of cure gone: 12 h more put the finish off by 12 h. Once faced, nothing cures."""
    bench = open_bench(engraved, start=13)
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.clock.forward(10 * 3600)
    before = fold(bench.state.entries)

    assert asked(bench, "half as long again (+12 h)", ALWAYS) == pytest.approx(12)
    assert bench.state == before, "the batch is not touched"

    bench.clock.forward(14 * 3600)
    bench.through(load, 30)
    with pytest.raises(StopIteration):
        asked(bench, "half as long again")


def test_a_longer_cure_holds_back_loads_still_to_be_filled_too() -> None:
    """Nothing is cut yet: one pallet of 13 takes its cure of 24 h, and 12 h more."""
    assert asked(open_bench(engraved, start=13), "half as long again (+12 h)", ALWAYS) == pytest.approx(12)


def test_what_cannot_be_planned_says_why(bench: Bench) -> None:
    from floor.figures.schedule import Difference

    plan = planned(bench.state, now=bench.clock())
    said = difference_said(plan, Difference(None, None, {}, (Obstacle("operation 10", "no shift", "Add one"),)))
    assert said == "cannot be planned: operation 10: no shift. Add one."


def test_a_second_shift_begins_where_the_first_ends(bench: Bench) -> None:
    more = second_shift(planned(bench.state, now=bench.clock()).problem)
    assert [(shift.weekday, shift.start, shift.end) for shift in more] == [
        (day, time(15, 30), time(0, 0)) for day in range(5)
    ]


def test_there_is_no_second_shift_to_shifts_that_fill_the_day(bench: Bench) -> None:
    assert second_shift(planned(bench.state, now=bench.clock(), crew=Crew(Calendar.always(ZONE))).problem) == ()


def test_tomorrow_is_the_next_day_on_which_somebody_works(bench: Bench) -> None:
    friday = datetime(2026, 3, 6, 9, 0, tzinfo=ZoneInfo(ZONE))
    plan = planned(open_bench(engraved, at=friday).state, now=friday)
    assert tomorrow(plan.problem) == datetime(2026, 3, 9, 7, 0, tzinfo=ZoneInfo(ZONE))
