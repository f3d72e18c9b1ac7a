"""Lateness in working days: against dates counted by hand, and counted again day by day."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.calendar import Calendar, Shift
from floor.figures.overtime import move_hours
from floor.figures.workdays import count_days_late, count_working_hours, find_day_end, find_due_moment, map_to_usual_day
from floor.wall import convert_to_zone
from tests.figures.schedule_shops import CHICAGO

DAYS = Calendar.weekly("America/Chicago", range(5), time(7), time(15, 30), (time(11, 30), time(12)))
NIGHTS = Calendar.weekly("America/Chicago", range(5), time(22), time(6))
TWO_SHIFTS = DAYS.add_shifts(*(Shift(day, time(15, 30), time(0)) for day in range(5)))
SATURDAY = Calendar(DAYS.zone, DAYS.shifts, DAYS.days_off, ((date(2026, 9, 5), Shift(5, time(7), time(12))),))
LABOR_DAY = Calendar(DAYS.zone, DAYS.shifts, frozenset({date(2026, 9, 7)}))
NOBODY = Calendar("America/Chicago", (Shift(4, time(7), time(15), people=0),))
FRIDAY = date(2026, 9, 4)


def at(day: int, hour: int, minute: int = 0) -> datetime:
    """In September 2026, whose 4th is a Friday and whose 7th is Labor Day."""
    return convert_to_zone(datetime(2026, 9, day, hour, minute, tzinfo=CHICAGO), CHICAGO)


@pytest.mark.parametrize(
    ("calendar", "due", "by"),
    [
        (DAYS, FRIDAY, at(4, 15, 30)),
        (NIGHTS, FRIDAY, at(5, 6)),
        (TWO_SHIFTS, FRIDAY, at(5, 0)),
        (DAYS, date(2026, 9, 6), at(4, 15, 30)),
        (SATURDAY, date(2026, 9, 6), at(5, 12)),
        (LABOR_DAY, date(2026, 9, 7), at(4, 15, 30)),
        (NOBODY, FRIDAY, at(5, 0)),
    ],
)
def test_a_due_day_ends_with_its_last_shift_or_with_the_last_one_before_it(
    calendar: Calendar, due: date, by: datetime
) -> None:
    assert find_due_moment(calendar, due) == by


@pytest.mark.parametrize(
    ("calendar", "done", "days"),
    [
        (DAYS, at(4, 15, 30), 0),
        (DAYS, at(4, 7), 0),
        (DAYS, at(3, 15, 30), -1),
        (DAYS, at(3, 20), 0),  # a cure over in the night is found in the morning
        (DAYS, at(4, 20), 1),
        (DAYS, at(6, 3), 1),
        (DAYS, at(7, 10), 1),
        (DAYS, at(7, 16), 2),
        (DAYS, at(8, 10), 2),
        (LABOR_DAY, at(8, 10), 1),
        (SATURDAY, at(5, 10), 1),
        (SATURDAY, at(5, 14), 2),
        (SATURDAY, at(7, 10), 2),
        (NIGHTS, at(5, 3), 0),
        (NIGHTS, at(7, 23), 1),
        (NIGHTS, at(1, 23), -3),
        (NOBODY, at(7, 10), 0),
    ],
)
def test_late_against_friday_by_working_days(calendar: Calendar, done: datetime, days: int) -> None:
    """Counted by hand on the calendar."""
    assert count_days_late(calendar, find_due_moment(calendar, FRIDAY), done) == days


@pytest.mark.parametrize("zone", ["UTC", "Asia/Tokyo", "Pacific/Honolulu"])
@pytest.mark.parametrize(("calendar", "day", "hour", "days"), [
    (DAYS, 4, 20, 1), (DAYS, 7, 10, 1), (DAYS, 7, 16, 2), (NIGHTS, 5, 7, 1), (NIGHTS, 8, 7, 2), (TWO_SHIFTS, 5, 1, 1),
])  # fmt: skip
def test_the_days_are_those_of_the_shop_in_whatever_zone_the_moments_are_told(
    calendar: Calendar, day: int, hour: int, days: int, zone: str
) -> None:
    due, done = (one.astimezone(ZoneInfo(zone)) for one in (find_due_moment(calendar, FRIDAY), at(day, hour)))
    assert count_days_late(calendar, due, done) == days


shift = st.builds(
    Shift,
    st.integers(0, 6),
    st.sampled_from([time(6), time(14)]),
    st.sampled_from([time(14), time(22)]),
    people=st.sampled_from([None, 0, 2]),
)


@settings(max_examples=60)
@given(st.lists(shift, max_size=5), st.integers(0, 30), st.integers(0, 60 * 24 * 30))
def test_days_are_counted_as_one_by_one(shifts: list[Shift], due_in: int, minutes: int) -> None:
    """The place of a moment is that of the first end of a working day not before it."""
    calendar = Calendar("America/Chicago", tuple(one for one in shifts if one.start < one.end))
    first = date(2026, 8, 1)
    ends = [end for n in range(-14, 60) if (end := find_day_end(calendar, first + timedelta(days=n))) is not None]
    due, done = (
        find_due_moment(calendar, first + timedelta(days=due_in)),
        convert_to_zone(datetime.combine(first, time(0), CHICAGO), CHICAGO) + timedelta(minutes=minutes),
    )

    def place(moment: datetime) -> int:
        return sum(end < moment for end in ends)

    assert count_days_late(calendar, due, done) == place(done) - place(due)


@pytest.mark.parametrize(("usual", "worked", "done", "counts_as"), [
    (DAYS, move_hours(DAYS, end=60), at(3, 16, 15), at(3, 15, 30)),
    (DAYS, move_hours(DAYS, end=60), at(3, 16, 45), at(3, 16, 45)),
    (DAYS, DAYS, at(3, 16, 15), at(3, 16, 15)),
    (DAYS, TWO_SHIFTS, at(4, 0), at(3, 15, 30)),
    (DAYS, SATURDAY, at(5, 9), at(5, 9)),
    (DAYS, move_hours(DAYS, end=60), at(3, 9), at(3, 9)),
])  # fmt: skip
def test_overtime_belongs_to_its_usual_day(
    usual: Calendar, worked: Calendar, done: datetime, counts_as: datetime
) -> None:
    assert map_to_usual_day(usual, worked, done) == counts_as


def test_hours_are_those_in_which_anybody_works() -> None:
    """Thursday 15:00 to Tuesday 08:00 by hand; two at work make no two hours of one."""
    twice = DAYS.add_shifts(*(Shift(day, time(7), time(9), people=3) for day in range(5)))
    for calendar, hours in ((DAYS, 0.5 + 8 + 8 + 1), (twice, 17.5), (LABOR_DAY, 9.5), (SATURDAY, 22.5), (NOBODY, 0)):
        assert count_working_hours(calendar, at(3, 15), at(8, 8)) == hours
        assert count_working_hours(calendar, at(8, 8), at(3, 15)) == -hours


def test_a_finish_moves_by_the_working_days_between() -> None:
    assert count_days_late(DAYS, at(4, 10), at(4, 12)) == 0
    assert count_days_late(DAYS, at(4, 15), at(7, 7, 15)) == 1
    assert count_days_late(DAYS, at(8, 7), at(4, 15)) == -2
