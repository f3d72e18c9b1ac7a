"""Working days: when a day's work ends, and how much working time is between two moments.

A working day is a day on which a shift starts; it ends with its last shift, even after midnight.
"""

from datetime import date, datetime, time, timedelta

from floor.figures.calendar import Calendar, Shift, WorkingTime, to_epoch
from floor.wall import convert_to_zone, get_local_day

_BACK_DAYS = 400
"""Days searched back for a day on which somebody worked."""


def find_working_shifts(calendar: Calendar, day: date) -> tuple[Shift, ...]:
    """The staffed shifts that start on a day."""
    return tuple(shift for shift in calendar.list_shifts_on(day) if shift.people != 0)


def find_day_end(calendar: Calendar, day: date) -> datetime | None:
    """When the last shift of a day ends; None if nobody works that day."""
    ends = [
        datetime.combine(day + timedelta(days=shift.end <= shift.start), shift.end, calendar.tz)
        for shift in find_working_shifts(calendar, day)
    ]
    return max((convert_to_zone(end, calendar.tz) for end in ends), default=None)


def find_due_moment(calendar: Calendar, day: date) -> datetime:
    """When work due on a day must be done: by the end of its last shift.

    If nobody works that day, by the end of the last working day before; if there is none, by the end of the day.
    """
    for back in range(_BACK_DAYS):
        end = find_day_end(calendar, day - timedelta(days=back))
        if end is not None:
            return end
    return convert_to_zone(datetime.combine(day + timedelta(days=1), time(0), calendar.tz), calendar.tz)


def count_days_late(calendar: Calendar, due: datetime, done: datetime) -> int:
    """Ends of working days from one moment until before another; negative if the other comes first.

    So work done outside the shifts counts for the next working day, when somebody is in to find it.

    Args:
        due: for lateness, the end of the working day it is due.
    """
    if done < due:
        return -count_days_late(calendar, done, due)
    first, last = (convert_to_zone(at, calendar.tz).date() for at in (due, done))
    first -= timedelta(days=1)  # its last shift may end after midnight
    ends = (find_day_end(calendar, first + timedelta(days=n)) for n in range((last - first).days + 1))
    return sum(end is not None and due <= end < done for end in ends)


def map_to_usual_day(usual: Calendar, worked: Calendar, at: datetime) -> datetime:
    """A moment in overtime becomes the end of its usual working day; any other stays as it is.

    Args:
        worked: the calendar that includes the overtime.
    """
    for back in (1, 0):
        day = get_local_day(at, at) - timedelta(days=back)
        ends, over = find_day_end(usual, day), find_day_end(worked, day)
        if ends is not None and over is not None and ends < at <= over:
            return ends
    return at


def count_working_hours(calendar: Calendar, first: datetime, last: datetime) -> float:
    """Hours with anybody at work between two moments; negative if the other comes first."""
    if last < first:
        return -count_working_hours(calendar, last, first)
    return WorkingTime.of(calendar, first).count_manned_seconds(to_epoch(first), to_epoch(last)) / 3600
