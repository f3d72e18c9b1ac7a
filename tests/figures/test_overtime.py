"""Hours other than the usual, counted again in working hours."""

from dataclasses import replace
from datetime import date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.figures.calendar import Calendar, Shift
from floor.figures.overtime import (
    InvalidHours,
    add_working_days,
    add_working_weekday,
    build_second_shift,
    change_crew_size,
    find_usual_shifts,
    move_hours,
)
from tests.figures.schedule_shops import CHICAGO

BREAK = (time(11, 30), time(12))
DAYS = Calendar.weekly("America/Chicago", range(5), time(7), time(15, 30), BREAK)
NIGHTS = Calendar.weekly("America/Chicago", range(5), time(22), time(6), (time(1), time(1, 30)), people=2)
SATURDAY = date(2026, 9, 5)
MONDAY = datetime(2026, 8, 31, tzinfo=CHICAGO)


def week(calendar: Calendar, weeks: int = 1) -> float:
    """Hours at work from Monday 31 August 2026, for so many weeks."""
    return calendar.worked(MONDAY, MONDAY + timedelta(weeks=weeks)) / 60


def test_every_shift_can_be_moved() -> None:
    assert week(DAYS) == 40
    assert week(move_hours(DAYS, end=60)) == 45
    assert week(move_hours(DAYS, start=-60)) == 45
    assert week(move_hours(DAYS, start=-60, end=60)) == 50
    assert week(move_hours(DAYS, end=-90)) == 32.5
    assert move_hours(DAYS, start=-60).shifts[0] == Shift(0, time(6), time(15, 30), (BREAK,))


def test_a_break_is_kept_as_far_as_it_lies_in_the_shift() -> None:
    assert move_hours(DAYS, end=-4 * 60 + 15).shifts[0].breaks == ((time(11, 30), time(11, 45)),)
    assert move_hours(DAYS, end=-4 * 60).shifts[0].breaks == ()
    assert move_hours(DAYS, start=4 * 60 + 45).shifts[0].breaks == ((time(11, 45), time(12)),)
    assert move_hours(NIGHTS, start=60).shifts[0].breaks == ((time(1), time(1, 30)),)


def test_a_shift_moved_over_midnight_is_another_days() -> None:
    early = Calendar(
        "America/Chicago", (Shift(0, time(0, 30), time(6)),), frozenset(), ((SATURDAY, Shift(5, time(0, 30), time(6))),)
    )

    moved = move_hours(early, start=-60)

    assert moved.shifts == (Shift(6, time(23, 30), time(6)),)
    assert [day for day, _ in moved.single] == [date(2026, 9, 4)]
    assert move_hours(NIGHTS, start=3 * 60).shifts[0].weekday == 1


def test_a_shift_keeps_some_of_its_hours_and_has_no_more_than_a_day() -> None:
    with pytest.raises(InvalidHours, match="a shift of -0.5 h. The one from 07:00 to 15:30 can be"):
        move_hours(DAYS, end=-9 * 60)
    with pytest.raises(InvalidHours, match="a shift of 24.5 h"):
        move_hours(DAYS, end=16 * 60)


@given(st.integers(-400, 400), st.integers(-400, 400), st.sampled_from([DAYS, NIGHTS]))
def test_a_week_has_the_hours_that_its_shifts_have(start: int, end: int, calendar: Calendar) -> None:
    """Counted from the wall-clock lengths of shift and break, in two weeks without a clock change."""
    shift = calendar.shifts[0]
    try:
        moved = move_hours(calendar, start=start, end=end)
    except InvalidHours:
        assert not 15 <= shift.length - start + end <= 1440
        return
    people = shift.people or 1
    first, last = (
        minute - (shift.start.hour * 60)
        for minute in ((one.hour * 60 + one.minute) + (1440 if one < shift.start else 0) for one in shift.breaks[0])
    )
    pause = max(0, min(last, shift.length + end) - max(first, start))

    minutes = moved.worked(MONDAY + timedelta(days=14), MONDAY + timedelta(days=21))

    assert minutes == 5 * people * (shift.length - start + end - pause)


def test_a_day_is_worked_as_the_weekday_before_it_or_in_hours_of_its_own() -> None:
    assert week(add_working_days(DAYS, [SATURDAY])) == 48
    assert week(add_working_days(DAYS, [SATURDAY, SATURDAY])) == 48
    assert week(add_working_days(DAYS, [SATURDAY]), 2) == 88
    assert week(add_working_days(DAYS, [SATURDAY], (time(7), time(12)))) == 45
    assert add_working_days(NIGHTS, [SATURDAY]).single[0][1].people == 2
    assert add_working_days(DAYS, [date(2026, 9, 4)]) == DAYS, "it is worked already"


def test_a_day_off_can_be_worked_and_every_saturday_leaves_days_off_alone() -> None:
    off = Calendar(DAYS.zone, DAYS.shifts, frozenset({date(2026, 9, 4), SATURDAY}))

    assert week(off) == 32
    assert week(add_working_days(off, [date(2026, 9, 4)])) == 40
    assert week(add_working_weekday(off, 5), 2) == 32 + 48
    assert week(add_working_weekday(DAYS, 5, (time(7), time(12)))) == 45


def test_every_saturday_and_one_of_them_is_not_worked_twice() -> None:
    one = add_working_days(DAYS, [SATURDAY])

    assert week(add_working_weekday(one, 5)) == week(add_working_days(add_working_weekday(DAYS, 5), [SATURDAY])) == 48


def test_hours_that_a_single_saturday_has_already_are_never_taken_away_by_every_saturday() -> None:
    """An evening stays beside the day, a longer or better staffed shift stays, and a shorter one is filled up."""

    def saturday(*shifts: Shift) -> float:
        asked = add_working_weekday(replace(DAYS, single=tuple((SATURDAY, shift) for shift in shifts)), 5)
        assert week(asked, 2) == week(asked) + 48, "the next one is worked as usual"
        return week(asked) - 40

    assert saturday(Shift(5, time(20), time(23, 30))) == 8 + 3.5
    assert saturday(Shift(5, time(6), time(18), people=2)) == 2 * 12
    assert saturday(Shift(5, time(7), time(10))) == 8
    assert saturday(Shift(5, time(6), time(10)), Shift(5, time(15), time(16))) == 4 + 4.5 + 1
    asked = add_working_weekday(replace(DAYS, single=((SATURDAY, Shift(5, time(6), time(10))),)), 5)
    assert asked.list_shifts_on(SATURDAY)[-1] == Shift(5, time(10), time(15, 30), (BREAK,))


def test_hours_that_no_weekday_has_must_be_told() -> None:
    never = Calendar("America/Chicago", ())

    with pytest.raises(InvalidHours, match="Say them"):
        add_working_days(never, [SATURDAY])
    assert week(add_working_days(never, [SATURDAY], (time(7), time(12)))) == 5


def test_a_second_shift_starts_where_the_first_ends() -> None:
    assert build_second_shift(DAYS)[0] == Shift(0, time(15, 30), time(0))
    assert build_second_shift(Calendar.always()) == ()


def test_a_second_shift_is_never_laid_over_one_that_there_is() -> None:
    """Of two shifts a day only the later one leaves room for another; the end of the week is not a gap."""
    two = Calendar(CHICAGO, (Shift(0, time(6), time(14)), Shift(0, time(14), time(22))))
    assert build_second_shift(two) == (Shift(0, time(22), time(6)),)
    assert week(two.add_shifts(*build_second_shift(two))) == 24
    evening, sunday = Shift(4, time(16), time(0)), Shift(6, time(16), time(0))
    early = (Shift(5, time(6), time(10)), Shift(0, time(7), time(11)))
    assert build_second_shift(Calendar(CHICAGO, (evening, sunday, *early))) == (
        Shift(5, time(10), time(14)),
        Shift(0, time(11), time(15)),
    )
    assert build_second_shift(Calendar(CHICAGO, (evening, sunday))) == (
        Shift(5, time(0), time(8)),
        Shift(0, time(0), time(8)),
    )
    crews = Calendar(CHICAGO, (Shift(0, time(6), time(12)), Shift(0, time(10), time(18))))
    assert build_second_shift(crews) == (Shift(0, time(18), time(2)),), (
        "the later crew is still there when the first goes"
    )


def test_a_shop_that_works_more_than_half_a_day_has_no_second_shift() -> None:
    assert build_second_shift(Calendar(CHICAGO, (Shift(0, time(7), time(20)),))) == ()


def test_a_weekday_on_which_nobody_is_in_counts_as_one_that_is_not_worked() -> None:
    nobody = Calendar(CHICAGO, (*DAYS.shifts, Shift(5, time(7), time(12), (), 0)))
    assert find_usual_shifts(nobody, 5) == find_usual_shifts(DAYS, 5)
    assert week(add_working_weekday(nobody, 5)) == week(add_working_weekday(DAYS, 5))


def test_a_day_off_that_has_hours_of_its_own_keeps_them_when_its_weekday_is_worked() -> None:
    own = Calendar(CHICAGO, DAYS.shifts, frozenset({SATURDAY}), ((SATURDAY, Shift(5, time(7), time(9))),))
    assert week(add_working_weekday(own, 5)) == week(DAYS) + 2


def test_fewer_people_than_a_shift_has_are_none() -> None:
    calendar = Calendar(CHICAGO, (Shift(0, time(7), time(12), (), 1), Shift(1, time(7), time(12))))
    assert [shift.people for shift in change_crew_size(calendar, -2).shifts] == [0, None]
