"""Working days: when a day's work is over, and how many working days lie between two moments.

A working day is a day on which a shift starts; it ends with its last shift, be that after midnight.
"""

from datetime import date, datetime, time, timedelta

from floor.figures.calendar import HORIZON_DAYS, Calendar, Shift
from floor.wall import day_of, on_wall

_BACK_DAYS = 400
"""Days back that are searched for a day on which somebody worked."""


def working_shifts(calendar: Calendar, day: date) -> tuple[Shift, ...]:
    """The shifts that start on a day with somebody at work."""
    return tuple(shift for shift in calendar.shifts_on(day) if shift.people != 0)


def day_end(calendar: Calendar, day: date) -> datetime | None:
    """When the last shift of a day ends; None where nobody works on it."""
    ends = [
        datetime.combine(day + timedelta(days=shift.end <= shift.start), shift.end, calendar.tz)
        for shift in working_shifts(calendar, day)
    ]
    return max((on_wall(end, calendar.tz) for end in ends), default=None)


def due_by(calendar: Calendar, day: date) -> datetime:
    """When what is due on a day must be done: by the end of its last shift.

    Where nobody works on it, by that of the day before on which somebody does; without any, by the end of the day.
    """
    for back in range(_BACK_DAYS):
        end = day_end(calendar, day - timedelta(days=back))
        if end is not None:
            return end
    return on_wall(datetime.combine(day + timedelta(days=1), time(0), calendar.tz), calendar.tz)


def days_late(calendar: Calendar, due: datetime, done: datetime) -> int:
    """Working days by which something done then comes after the one that ends with `due`; negative is before it.

    What is done outside the shifts counts for the next working day, when somebody is in to find it.
    """
    if done > due:
        return _ends_from(calendar, due, done)
    return -_ends_from(calendar, done, due, first_is_own=True)


def _ends_from(calendar: Calendar, first: datetime, last: datetime, *, first_is_own: bool = False) -> int:
    """Ends of working days after `first`, up to the one by which `last` is reached.

    Args:
        first_is_own: the day that `first` falls into is not counted: what is done on it is in time for its end.
    """
    count, day = 0, day_of(on_wall(first, calendar.tz)) - timedelta(days=1)
    for _ in range(HORIZON_DAYS):
        end = day_end(calendar, day)
        day += timedelta(days=1)
        if end is None or (end < first if first_is_own else end <= first):
            continue
        if first_is_own and end > last:
            break
        count += 1
        if end >= last:
            break
    return max(0, count - first_is_own)
