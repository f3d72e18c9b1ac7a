"""Arithmetic in working time, beside worked dates, and counted again minute by minute."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.calendar import Calendar, NoWorkingTime, Shift, WorkingTime, to_epoch
from tests.figures.schedule_shops import CHICAGO, WEEKDAYS


def at(year: int, month: int, day: int, hour: int = 0, minute: int = 0, *, fold: int = 0) -> datetime:
    return datetime(year, month, day, hour, minute, tzinfo=CHICAGO, fold=fold)


def test_interruptible_work_goes_on_after_the_weekend_and_after_a_holiday() -> None:
    """600 min from Friday 4 September 2026 13:00, counted by hand on the calendar; 7 September is Labor Day."""
    friday = at(2026, 9, 4, 13)

    assert WEEKDAYS.finish(friday, 600) == at(2026, 9, 7, 15)

    holiday = Calendar(WEEKDAYS.zone, WEEKDAYS.shifts, frozenset({date(2026, 9, 7)}))
    assert holiday.finish(friday, 600) == at(2026, 9, 8, 15)


def test_work_that_may_not_be_interrupted_waits_for_a_stretch_that_holds_it() -> None:
    """90 min from Thursday 3 September 2026 14:45, counted by hand."""
    thursday = at(2026, 9, 3, 14, 45)

    assert WEEKDAYS.span(thursday, 90) == (thursday, at(2026, 9, 4, 7, 45))
    assert WEEKDAYS.span(thursday, 90, interruptible=False) == (at(2026, 9, 4, 7), at(2026, 9, 4, 8, 30))


def test_work_longer_than_any_stretch_is_refused_with_the_longest_there_is() -> None:
    with pytest.raises(NoWorkingTime, match="longest stretch is 270 min"):
        WEEKDAYS.span(at(2026, 9, 3), 271, interruptible=False)


def test_no_shift_at_all_is_refused_and_does_not_search_for_ever() -> None:
    with pytest.raises(NoWorkingTime):
        Calendar("UTC", ()).finish(at(2026, 9, 3), 1)


@pytest.mark.parametrize(
    ("day", "hours"),
    [(at(2026, 3, 7), 7), (at(2026, 10, 31), 9), (at(2027, 3, 13), 7), (at(2027, 11, 6), 9), (at(2026, 9, 5), 8)],
)
def test_a_night_shift_is_as_long_as_the_night_really_is(day: datetime, hours: int) -> None:
    """22:00 to 06:00 over the changes of 15 U.S.C. 260a: 8 March, 1 November 2026; 14 March, 7 November 2027."""
    nights = Calendar.weekly("America/Chicago", range(7), time(22), time(6))

    evening, noon = day.replace(hour=12), (day + timedelta(days=1)).replace(hour=12)

    assert nights.worked(evening, noon) == hours * 60


def test_a_shift_over_midnight_belongs_to_the_day_it_starts_on() -> None:
    """Friday's night shift runs into Saturday even though Saturday is off; a break after midnight is taken out."""
    nights = Calendar.weekly(
        "America/Chicago", [4], time(22), time(6), (time(2), time(2, 30)), days_off=[date(2026, 9, 5)]
    )

    assert nights.span(at(2026, 9, 4, 12), 450) == (at(2026, 9, 4, 22), at(2026, 9, 5, 6))
    assert nights.worked(at(2026, 9, 5, 0), at(2026, 9, 5, 12)) == 330


def test_a_night_crew_is_counted_once_however_far_ahead_one_looks() -> None:
    """Two at work each night for 400 nights, counted by hand; each chunk of days ends within a shift."""
    nights = Calendar("UTC", tuple(Shift(day, time(22), time(6), people=2) for day in range(7)))
    start = datetime(2026, 1, 1, 12, tzinfo=UTC)
    hours = WorkingTime(nights, to_epoch(start))

    assert hours.worked(to_epoch(start), to_epoch(start + timedelta(days=400))) == 400 * 8 * 3600 * 2
    assert set(hours.levels) == {0, 2}


def test_the_leap_day_is_a_working_day() -> None:
    """29 February 2028 is a Tuesday (Gregorian calendar); 2100 has none and 28 February is followed by 1 March."""
    assert WEEKDAYS.finish(at(2028, 2, 28, 15), 60) == at(2028, 2, 29, 7, 30)
    assert WEEKDAYS.finish(at(2100, 2, 26, 15), 60) == at(2100, 3, 1, 7, 30)


def test_overlapping_shifts_add_their_people() -> None:
    """Half an hour of handover has both crews in."""
    shifts = (Shift(0, time(7), time(15, 30), people=2), Shift(0, time(15), time(23), people=1))
    hours = WorkingTime(Calendar("America/Chicago", shifts), to_epoch(at(2026, 9, 7)))

    assert hours.fit(to_epoch(at(2026, 9, 7)), 1800, need=3) == (
        to_epoch(at(2026, 9, 7, 15)),
        to_epoch(at(2026, 9, 7, 15, 30)),
    )
    assert hours.worked(to_epoch(at(2026, 9, 7)), to_epoch(at(2026, 9, 8))) == 3600 * (2 * 8.5 + 8)


def test_an_hour_more_per_shift_never_grows_past_a_day() -> None:
    longer = WEEKDAYS.longer(timedelta(hours=1))

    assert longer.worked(at(2026, 9, 7), at(2026, 9, 8)) == 540
    assert Calendar.always("UTC").longer(timedelta(hours=1)) == Calendar.always("UTC")


def test_instants_without_a_zone_and_impossible_shifts_are_refused() -> None:
    with pytest.raises(ValueError, match="no time zone"):
        to_epoch(datetime(2026, 9, 7))  # noqa: DTZ001 - the fault under test
    with pytest.raises(ValueError, match="weekday"):
        Shift(7, time(7), time(15))


SHIFTS = st.lists(st.tuples(st.integers(0, 6), st.integers(0, 1439), st.integers(1, 1440)), min_size=1, max_size=4)


@settings(max_examples=40, deadline=None)
@given(first=st.integers(0, 400 * 24 * 60), minutes=st.integers(1, 400), shifts=SHIFTS)
def test_working_time_is_what_counting_minutes_gives(
    first: int, minutes: int, shifts: list[tuple[int, int, int]]
) -> None:
    """Between start and end, exactly the minutes asked for are worked, counted one by one."""

    def clock(minute: int) -> time:
        return time(minute % 1440 // 60, minute % 60)

    calendar = Calendar(
        "America/Chicago", tuple(Shift(day, clock(start), clock(start + length)) for day, start, length in shifts)
    )
    start = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=first)

    begin, end = calendar.span(start, minutes)

    opening = begin.astimezone(UTC)
    closing = min(end.astimezone(UTC), opening + timedelta(minutes=1000))
    people = [
        sum(_on(shift, opening, n) for shift in calendar.shifts)
        for n in range(round((closing - opening).total_seconds() / 60))
    ]
    assert people[0] > 0
    assert calendar.worked(begin, closing) == sum(people)
    if closing == end:
        assert sum(count > 0 for count in people) == minutes
        assert people[-1] > 0


def _on(shift: Shift, begin: datetime, minute: int) -> bool:
    """Whether an instant is in a shift that started that day or the day before, by comparing instants."""
    now = begin + timedelta(minutes=minute)
    today = now.astimezone(CHICAGO).date()
    for day in (today, today - timedelta(days=1)):
        if day.weekday() == shift.weekday:
            opens = datetime.combine(day, shift.start, CHICAGO).astimezone(UTC)
            closing_day = day + timedelta(days=shift.end <= shift.start)
            closes = datetime.combine(closing_day, shift.end, CHICAGO).astimezone(UTC)
            if opens <= now < closes:
                return True
    return False
