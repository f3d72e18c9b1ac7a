"""The shop's calendar: weekly shifts with breaks, days off, and arithmetic in working time.

Shifts are in local time, arithmetic in elapsed (UTC) seconds: the day of a clock change has its true length.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from functools import lru_cache
from itertools import pairwise
from zoneinfo import ZoneInfo

from floor.wall import convert_to_zone

HORIZON_DAYS = 3660
"""Days searched ahead before giving up on working time."""

DAY = 24 * 60
"""Minutes by the wall clock."""

_CHUNK_DAYS = 56

Step = tuple[int, int]
"""(epoch second, people at work from then on)."""


class NoWorkingTime(ValueError):
    """The calendar has no stretch of working time long enough."""


@dataclass(frozen=True, slots=True)
class Shift:
    """One weekly shift. An end at or before the start is on the next day; breaks are local times inside the shift.

    Attributes:
        weekday: day the shift starts on, Monday 0 to Sunday 6.
        people: operators on this shift; None means the problem's own number.
    """

    weekday: int
    start: time
    end: time
    breaks: tuple[tuple[time, time], ...] = ()
    people: int | None = None

    def __post_init__(self) -> None:
        if not 0 <= self.weekday <= 6:
            raise ValueError(f"shift weekday is {self.weekday}; give 0 (Monday) to 6 (Sunday)")
        if self.people is not None and self.people < 0:
            raise ValueError(f"shift of weekday {self.weekday} has {self.people} people; give 0 or more")

    @property
    def length(self) -> int:
        """Minutes from start to end by the wall clock, breaks included."""
        return (_minute(self.end) - _minute(self.start) - 1) % DAY + 1


@dataclass(frozen=True)
class Calendar:
    """Weekly shifts in one time zone; none starts on a day off.

    A shift edge skipped when the clocks go forward is read with the old offset; one that comes twice when they go back
    is the first.
    """

    zone: str | tzinfo
    """IANA name of the zone, or its rules if it has no name, like the machine's own."""
    shifts: tuple[Shift, ...]
    days_off: frozenset[date] = field(default_factory=frozenset)
    single: tuple[tuple[date, Shift], ...] = ()
    """Shifts on single dates, day off or not; their weekday is ignored."""

    @classmethod
    def always(cls, zone: str = "UTC") -> "Calendar":
        """Open around the clock."""
        return cls(zone, tuple(Shift(day, time(0), time(0)) for day in range(7)))

    @classmethod
    def weekly(
        cls,
        zone: str | tzinfo,
        days: Iterable[int],
        start: time,
        end: time,
        *breaks: tuple[time, time],
        days_off: Iterable[date] = (),
        people: int | None = None,
    ) -> "Calendar":
        """The same shift on each of `days` (Monday 0)."""
        return cls(zone, tuple(Shift(day, start, end, breaks, people) for day in days), frozenset(days_off))

    @property
    def tz(self) -> tzinfo:
        """The zone's rules."""
        return ZoneInfo(self.zone) if isinstance(self.zone, str) else self.zone

    def list_shifts_on(self, day: date) -> tuple[Shift, ...]:
        """The shifts that start on a day."""
        weekly = () if day in self.days_off else tuple(one for one in self.shifts if one.weekday == day.weekday())
        return weekly + tuple(shift for on, shift in self.single if on == day)

    def list_windows(self) -> "set[Window]":
        """Start and end of each kind of shift."""
        return {(one.start, one.end) for one in (*self.shifts, *(shift for _, shift in self.single))}

    def add_shifts(self, *more: Shift) -> "Calendar":
        """The same calendar with more shifts."""
        return replace(self, shifts=self.shifts + more)

    def longer(self, by: timedelta) -> "Calendar":
        """Every shift ends `by` later, but never past its own start the next day."""

        def stretch(shift: Shift) -> Shift:
            end = (_minute(shift.start) + min(DAY, shift.length + int(by.total_seconds() // 60))) % DAY
            return replace(shift, end=time(end // 60, end % 60))

        return replace(
            self,
            shifts=tuple(map(stretch, self.shifts)),
            single=tuple((day, stretch(shift)) for day, shift in self.single),
        )

    def finish(self, start: datetime, minutes: float, *, interruptible: bool = True) -> datetime:
        """When attended work of so many minutes ends if it may start at `start`; local time.

        Raises:
            NoWorkingTime: work that cannot be interrupted fits no stretch of the calendar.
        """
        return self.span(start, minutes, interruptible=interruptible)[1]

    def span(self, start: datetime, minutes: float, *, interruptible: bool = True) -> tuple[datetime, datetime]:
        """First (start, end) of attended work at or after `start`; local times."""
        hours = WorkingTime.of(self, start)
        first, last = hours.fit(to_epoch(start), to_seconds(minutes), interruptible=interruptible)
        return to_local(first, self.tz), to_local(last, self.tz)

    def worked(self, start: datetime, end: datetime) -> float:
        """Working minutes between two instants."""
        return WorkingTime.of(self, start).worked(to_epoch(start), to_epoch(end)) / 60


def to_epoch(instant: datetime) -> int:
    """Whole seconds since 1970 UTC, rounded up.

    Raises:
        ValueError: the instant has no time zone.
    """
    if instant.tzinfo is None:
        raise ValueError(f"{instant.isoformat()} has no time zone; give an aware date and time")
    return -int(-instant.timestamp() // 1)


def to_local(second: int, tz: tzinfo) -> datetime:
    """The wall-clock time at an epoch second."""
    return convert_to_zone(datetime.fromtimestamp(second, UTC), tz)


def to_seconds(minutes: float) -> int:
    """Whole seconds in so many minutes, to the nearest."""
    return round(minutes * 60)


def _minute(at: time) -> int:
    return at.hour * 60 + at.minute


def _shift_spans(calendar: Calendar, day: date, *, breaks: bool) -> Iterator[tuple[int, int, int | None]]:
    """(start, end, people) of each stretch of the shifts that start on `day`, less breaks if asked."""
    tz = calendar.tz

    def at(clock: time, after: time) -> int:
        """Epoch second of a local time; a time before the shift's start is on the next day."""
        on = day + timedelta(days=1) if clock < after else day
        return int(datetime.combine(on, clock, tz).timestamp())

    for shift in calendar.list_shifts_on(day):
        start = at(shift.start, shift.start)
        over_midnight = shift.end <= shift.start
        end = int(datetime.combine(day + timedelta(days=over_midnight), shift.end, tz).timestamp())
        pauses = sorted((at(a, shift.start), at(b, shift.start)) for a, b in shift.breaks) if breaks else []
        for pause_start, pause_end in [*pauses, (end, end)]:
            stop = min(pause_start, end)
            if stop > start:
                yield start, stop, shift.people
            start = max(start, pause_end)


Window = tuple[time, time]
"""Start and end of a shift by the wall clock."""


def list_shift_spans(calendar: Calendar, start: int, end: int) -> dict[Window, list[tuple[int, int]]]:
    """Window of a shift → its (from, to) between two epoch seconds, breaks included, in order."""
    found: dict[Window, list[tuple[int, int]]] = {}
    day, last = to_local(start, calendar.tz).date() - timedelta(days=1), to_local(end, calendar.tz).date()
    while day <= last:
        for shift in calendar.list_shifts_on(day):
            for begin, stop, _ in _shift_spans(Calendar(calendar.zone, (), single=((day, shift),)), day, breaks=False):
                if begin < end and stop > start:
                    found.setdefault((shift.start, shift.end), []).append((max(begin, start), min(stop, end)))
        day += timedelta(days=1)
    return found


def _steps(calendar: Calendar, first: date, days: int, people: int, *, breaks: bool) -> list[Step]:
    """Changes in the number of people at work over the shifts that start on these days."""
    change: dict[int, int] = {}
    for offset in range(days):
        for start, end, crew in _shift_spans(calendar, first + timedelta(days=offset), breaks=breaks):
            count = people if crew is None else crew
            change[start] = change.get(start, 0) + count
            change[end] = change.get(end, 0) - count
    return sorted(change.items())


class WorkingTime:
    """People at work as a step function of time, extended in chunks as needed.

    Args:
        calendar: the shifts.
        start: epoch second; nothing earlier is asked for.
        people: operators on a shift without its own number.
        breaks: leave breaks out; False gives the hours the shop is open.
    """

    def __init__(self, calendar: Calendar, start: int, people: int = 1, *, breaks: bool = True) -> None:
        self.calendar, self.people, self.breaks = calendar, people, breaks
        self.start = start
        self.times: list[int] = [start]
        self.levels: list[int] = [0]
        # A shift over midnight may have started the day before.
        self._next_day = to_local(start, calendar.tz).date() - timedelta(days=1)
        self._last_day = self._next_day + timedelta(days=HORIZON_DAYS)
        self._open_changes: dict[int, int] = {}
        self._longest: dict[tuple[int, int], int] = {}
        self.known_until = start
        """Epoch second up to which the steps are final."""
        self.extend()

    @staticmethod
    def of(calendar: Calendar, start: datetime) -> "WorkingTime":
        """Shared working time of a calendar around an instant, for one person."""
        noon = datetime.combine(start.date(), time(0), UTC) - timedelta(days=2)
        return _shared(calendar, to_epoch(noon))

    def extend(self) -> bool:
        """Work out the next chunk of days; False when the horizon is reached."""
        if self._next_day >= self._last_day:
            return False
        changes = self._open_changes
        for at, change in _steps(self.calendar, self._next_day, _CHUNK_DAYS, self.people, breaks=self.breaks):
            changes[at] = changes.get(at, 0) + change
        self._next_day += timedelta(days=_CHUNK_DAYS)
        # Steps past the next midnight are not final: that day's own shifts may still change them.
        final = int(datetime.combine(self._next_day, time(0), self.calendar.tz).timestamp())
        self._open_changes = {at: change for at, change in changes.items() if at >= final}
        for at, change in sorted(changes.items()):
            if at >= final or not change:
                continue
            if at <= self.times[-1]:
                self.levels[-1] += change
            else:
                self.times.append(at)
                self.levels.append(self.levels[-1] + change)
        self.known_until = max(final, self.start)
        return True

    def fit(self, start: int, length: int, *, need: int = 1, interruptible: bool = False) -> tuple[int, int]:
        """First (start, end) at or after `start` of `length` seconds of work for `need` people.

        Raises:
            NoWorkingTime: nothing fits within the horizon.
        """
        at, left, first = start, length, -1
        while True:
            end = self._step_end(at)
            if end is None:
                raise NoWorkingTime(self._why(length, need, interruptible))
            if self.levels[bisect_right(self.times, at) - 1] >= need:
                first = at if first < 0 else first
                if end - at >= left:
                    return first, at + left
                left -= end - at
            elif not interruptible:
                left, first = length, -1
            at = end

    def _step_end(self, at: int) -> int | None:
        """Where the step around `at` ends, extending the calendar as needed; None past the horizon."""
        while self.known_until <= at:
            if not self.extend():
                return None
        following = bisect_right(self.times, at)
        return self.times[following] if following < len(self.times) else self.known_until

    def worked(self, start: int, end: int) -> int:
        """Person-seconds at work between two epoch seconds."""
        following = bisect_right(self.times, start)
        if 0 < following < len(self.times) and end <= self.times[following]:  # as most spans of a record
            return self.levels[following - 1] * max(end - start, 0)
        return sum(level * length for level, length in self._between(start, end))

    def count_manned_seconds(self, start: int, end: int) -> int:
        """Seconds between two epoch seconds in which anybody is at work."""
        return sum(length for level, length in self._between(start, end) if level > 0)

    def list_manned_spans(self, start: int, end: int) -> list[tuple[int, int]]:
        """(from, to) of each stretch between two epoch seconds in which anybody is at work, in order."""
        found, at = [], start
        for level, length in self._between(start, end):
            if level > 0 and length:
                found.append((at, at + length))
            at += length
        return found

    def _between(self, start: int, end: int) -> Iterator[tuple[int, int]]:
        """(people at work, seconds) of each stretch between two epoch seconds."""
        while self.known_until < end and self.extend():
            pass
        times, levels = self.times, self.levels
        index = max(bisect_right(times, start) - 1, 0)
        while index < len(times) and (at := times[index]) < end:  # by index: a batch of months has thousands behind it
            until = times[index + 1] if index + 1 < len(times) else end
            yield levels[index], max(0, min(until, end) - max(at, start))
            index += 1

    def find_longest_stretch(self, need: int = 1, days: int = 400) -> int:
        """Longest unbroken stretch, in seconds, with `need` people at work, within the next `days`."""
        if (need, days) in self._longest:
            return self._longest[need, days]
        until = self.start + days * 86400
        while self.known_until < until and self.extend():
            pass
        best = run = 0
        for (at, end), level in zip(pairwise([*self.times, self.known_until]), self.levels, strict=True):
            run = run + end - at if level >= need else 0
            best = max(best, run)
        self._longest[need, days] = best
        return best

    def _why(self, length: int, need: int, interruptible: bool) -> str:
        people = "one person" if need == 1 else f"{need} people"
        if interruptible:
            return f"the calendar has no {length / 60:g} min of work for {people} in the next {HORIZON_DAYS} days"
        return (
            f"{length / 60:g} min for {people} without a pause fit into no shift; "
            f"the longest stretch is {self.find_longest_stretch(need) / 60:g} min"
        )


@lru_cache(maxsize=64)
def _shared(calendar: Calendar, start: int) -> WorkingTime:
    return WorkingTime(calendar, start)
