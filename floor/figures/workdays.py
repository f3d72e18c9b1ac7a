"""Working days: when a day's work is over, and what of them lies between two moments.

A working day is a day on which a shift starts; it ends with its last shift, be that after midnight.
"""

from datetime import date, datetime, time, timedelta

from floor.figures.calendar import Calendar, Shift, WorkingTime, epoch
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
    """Ends of working days from one moment on and before another; negative where the other comes first.

    So what is done outside the shifts counts for the next working day, when somebody is in to find it.

    Args:
        due: for lateness, the end of the working day by which it is due.
    """
    if done < due:
        return -days_late(calendar, done, due)
    first, last = day_of(due, due) - timedelta(days=2), day_of(done, due) + timedelta(days=1)
    ends = (day_end(calendar, first + timedelta(days=n)) for n in range((last - first).days + 1))
    return sum(end is not None and due <= end < done for end in ends)


def as_usual(usual: Calendar, worked: Calendar, at: datetime) -> datetime:
    """A moment of overtime as the end of its usual working day; any other as it is.

    Args:
        worked: the calendar by which it may be overtime.
    """
    for back in (1, 0):
        day = day_of(at, at) - timedelta(days=back)
        ends, over = day_end(usual, day), day_end(worked, day)
        if ends is not None and over is not None and ends < at <= over:
            return ends
    return at


def working_hours(calendar: Calendar, first: datetime, last: datetime) -> float:
    """Hours between two moments in which anybody works; negative where the other comes first."""
    if last < first:
        return -working_hours(calendar, last, first)
    return WorkingTime.of(calendar, first).manned(epoch(first), epoch(last)) / 3600
