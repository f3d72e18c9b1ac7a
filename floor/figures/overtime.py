"""Hours other than the usual: longer and shorter shifts, an extra day, a second shift."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, time, timedelta

from floor.figures.calendar import DAY, Calendar, Shift
from floor.figures.workdays import find_working_shifts

LEAST = 15
"""Shortest shift in minutes."""
_WEEK = 7 * DAY


class InvalidHours(ValueError):
    """Hours that no shift can have; says what is wrong and what would be right."""


def move_hours(calendar: Calendar, *, start: int = 0, end: int = 0) -> Calendar:
    """Every shift starts and ends so many minutes later; negative is earlier.

    Raises:
        NoHours: a shift would have none left, or more than a day.
    """

    def moved(shift: Shift) -> Shift:
        length = shift.length - start + end
        if not LEAST <= length <= DAY:
            raise InvalidHours(
                f"a shift of {length / 60:g} h. The one from {shift.start:%H:%M} to {shift.end:%H:%M} "
                f"can be {LEAST} min to 24 h long"
            )
        first = _minute(shift.start) + start
        at = first % DAY
        return Shift(
            (shift.weekday + first // DAY) % 7,
            _clock(at),
            _clock(at + length),
            _breaks_inside(shift, at, length),
            shift.people,
        )

    def day_moved(day: date, shift: Shift) -> tuple[date, Shift]:
        return day + timedelta(days=(_minute(shift.start) + start) // DAY), moved(shift)

    return replace(
        calendar, shifts=tuple(map(moved, calendar.shifts)), single=tuple(day_moved(*one) for one in calendar.single)
    )


def _inside(start: int, length: int, first: time, last: time) -> tuple[time, time] | None:
    """The part of a break inside a shift; None if there is none."""
    begins = (_minute(first) - start) % DAY
    lasts = (_minute(last) - _minute(first)) % DAY
    for at in (begins, begins - DAY):
        one, other = max(at, 0), min(at + lasts, length)
        if one < other:
            return _clock(start + one), _clock(start + other)
    return None


def find_usual_shifts(calendar: Calendar, weekday: int) -> tuple[Shift, ...]:
    """The shifts of a weekday, or of the nearest earlier one that has any: a Saturday is worked like a Friday."""
    for back in range(7):
        found = tuple(shift for shift in calendar.shifts if shift.weekday == (weekday - back) % 7 and shift.people != 0)
        if found:
            return tuple(replace(shift, weekday=weekday) for shift in found)
    return ()


def add_working_days(calendar: Calendar, days: Iterable[date], hours: tuple[time, time] | None = None) -> Calendar:
    """Work these days too where nobody works yet: in these hours, else like the weekday before.

    Raises:
        NoHours: no weekday has shifts, so there are no hours to copy.
    """
    more: list[tuple[date, Shift]] = []
    for day in sorted(set(days)):
        if not find_working_shifts(calendar, day):
            more += ((day, shift) for shift in _shifts(calendar, day.weekday(), hours))
    return replace(calendar, single=calendar.single + tuple(more))


def add_working_weekday(calendar: Calendar, weekday: int, hours: tuple[time, time] | None = None) -> Calendar:
    """Work every such weekday too, if it is not worked yet; single dates keep their hours, days off stay off."""
    if any(shift.weekday == weekday and shift.people != 0 for shift in calendar.shifts):
        return calendar
    every = _shifts(calendar, weekday, hours)
    there = {day for day, _ in calendar.single if day.weekday() == weekday} - calendar.days_off
    beside = (
        (day, part)
        for day in sorted(there)
        for shift in every
        for part in _outside(shift, [one for on, one in calendar.single if on == day])
    )
    return replace(
        calendar, shifts=calendar.shifts + every, days_off=calendar.days_off | there, single=(*calendar.single, *beside)
    )


def _outside(shift: Shift, others: Sequence[Shift]) -> list[Shift]:
    """The parts of a shift outside that day's other shifts."""
    first = _minute(shift.start)
    parts = [(first, first + shift.length)]
    for other in others:
        begins = _minute(other.start)
        ends = begins + other.length
        parts = [
            left for one, two in parts for left in ((one, min(two, begins)), (max(one, ends), two)) if left[0] < left[1]
        ]
    return [
        replace(shift, start=_clock(one), end=_clock(two), breaks=_breaks_inside(shift, one, two - one))
        for one, two in parts
    ]


def _breaks_inside(shift: Shift, start: int, length: int) -> tuple[tuple[time, time], ...]:
    inside = (_inside(start % DAY, length, *one) for one in shift.breaks)
    return tuple(one for one in inside if one is not None)


def _shifts(calendar: Calendar, weekday: int, hours: tuple[time, time] | None) -> tuple[Shift, ...]:
    shifts = find_usual_shifts(calendar, weekday) if hours is None else (Shift(weekday, *hours),)
    if not shifts:
        raise InvalidHours("no weekday has a shift, so its hours are not known. Say them, like 07:00-12:00")
    return shifts


def change_crew_size(calendar: Calendar, more: int) -> Calendar:
    """So many more (or fewer) people on each shift that has its own number, never below 0."""

    def manned(shift: Shift) -> Shift:
        return shift if shift.people is None else replace(shift, people=max(0, shift.people + more))

    return replace(
        calendar,
        shifts=tuple(map(manned, calendar.shifts)),
        single=tuple((day, manned(shift)) for day, shift in calendar.single),
    )


def build_second_shift(calendar: Calendar) -> tuple[Shift, ...]:
    """A shift after each weekly one with room for it, as long and with as many people.

    None at all if a shift is longer than half a day.
    """
    more = []
    for shift in calendar.shifts:
        if 2 * shift.length > DAY:
            return ()
        over = shift.end <= shift.start
        end = _clock(_minute(shift.end) + shift.length)
        further = Shift((shift.weekday + over) % 7, shift.end, end, (), shift.people)
        if not any(_meet(further, one) for one in calendar.shifts):
            more.append(further)
    return tuple(more)


def _meet(one: Shift, other: Shift) -> bool:
    """Whether two weekly shifts have a minute in common."""
    apart = ((other.weekday - one.weekday) * DAY + _minute(other.start) - _minute(one.start)) % _WEEK
    return apart < one.length or _WEEK - apart < other.length


def _minute(at: time) -> int:
    return at.hour * 60 + at.minute


def _clock(minute: int) -> time:
    return time(minute // 60 % 24, minute % 60)
