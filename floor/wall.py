"""Wall-clock times: the only place that turns moments into times of day, and back.

A zone's clocks change twice a year, and Python subtracts, adds and compares two times of one zone by the wall clock.
So no time in Floor carries a zone's rules: each carries the offset of its own moment, where differences are elapsed
time, and is converted again to be shown. Every room may import this module; it imports none.
"""

from __future__ import annotations

from contextlib import suppress
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from functools import lru_cache
from typing import Any

WHEN = "%Y-%m-%d %H:%M"
"""Format of a typed time with its date."""
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


class WallOffset(tzinfo):
    """How far a zone is ahead of UTC at one moment, and the zone, whose rules give it for any other."""

    def __init__(self, zone: tzinfo, ahead: timedelta) -> None:
        self.zone = zone
        self.ahead = ahead

    def utcoffset(self, at: datetime | None) -> timedelta:
        return self.ahead

    def dst(self, at: datetime | None) -> None:
        return None

    def tzname(self, at: datetime | None) -> str:
        return str(timezone(self.ahead))

    def fromutc(self, at: datetime) -> datetime:
        return convert_to_zone(at.replace(tzinfo=UTC), self.zone)

    def __reduce__(self) -> tuple[Any, ...]:
        return _offset, (self.zone, self.ahead)


@lru_cache(maxsize=64)
def _offset(zone: tzinfo, ahead: timedelta) -> WallOffset:
    """One object per offset, so two times with the same offset are the same to Python."""
    return WallOffset(zone, ahead)


class MachineZone(tzinfo):
    """This machine's zone, by the system's own rules."""

    def utcoffset(self, at: datetime | None) -> timedelta | None:
        return None if at is None else at.replace(tzinfo=None).astimezone().utcoffset()

    def dst(self, at: datetime | None) -> None:
        return None

    def tzname(self, at: datetime | None) -> str | None:
        return None if at is None else at.replace(tzinfo=None).astimezone().tzname()

    def fromutc(self, at: datetime) -> datetime:
        local = at.replace(tzinfo=UTC).astimezone()
        # If an hour comes twice, the second pass is the one whose own offset the first reading does not have.
        first = local.replace(tzinfo=self, fold=0)
        return first if first.utcoffset() == local.utcoffset() else first.replace(fold=1)

    def __reduce__(self) -> str:
        return "MACHINE"


MACHINE = MachineZone()


def convert_to_zone(at: datetime, zone: tzinfo) -> datetime:
    """The same moment in a zone's wall-clock time, with its offset at that moment."""
    zone = zone.zone if isinstance(zone, WallOffset) else zone
    local = at.astimezone(UTC).astimezone(zone)  # within one zone Python would leave it unchanged
    if isinstance(local.tzinfo, timezone | WallOffset):
        return local
    ahead = local.utcoffset()
    return local if ahead is None else local.replace(tzinfo=_offset(zone, ahead), fold=0)


def get_zone(at: datetime) -> tzinfo:
    """The zone in which a time was read."""
    zone = at.tzinfo or UTC
    return zone.zone if isinstance(zone, WallOffset) else zone


def format_local(at: datetime, form: str, now: datetime | None = None) -> str:
    """A moment in wall-clock time, written like ``%a %H:%M``; in the zone of ``now`` if given."""
    return convert_to_zone(at, get_zone(now or at)).strftime(form)


def get_local_day(at: datetime, now: datetime | None = None) -> date:
    """The calendar day at a moment."""
    return convert_to_zone(at, get_zone(now or at)).date()


def resolve_local(wall: datetime, zone: tzinfo) -> tuple[datetime, ...]:
    """The moments with this wall-clock time in a zone: none if skipped, two if it comes twice, else one.

    Args:
        wall: wall-clock time without a zone.
    """
    found = {convert_to_zone(wall.replace(tzinfo=zone, fold=fold).astimezone(UTC), zone) for fold in (0, 1)}
    return tuple(sorted(at for at in found if at.replace(tzinfo=None) == wall))


def shift_time(at: datetime, seconds: float) -> datetime:
    """The time plus this span, capped at what every zone's calendar can show."""
    first, last = datetime(2, 1, 1, tzinfo=at.tzinfo), datetime(9998, 12, 31, tzinfo=at.tzinfo)
    try:
        return min(max(at + timedelta(seconds=seconds), first), last)
    except OverflowError:
        return last if seconds > 0 else first


def find_start_of_day(day: date, zone: tzinfo) -> datetime:
    """The first moment of this day in a zone."""
    return convert_to_zone(datetime.combine(day, time(), zone), zone)


def parse_typed_time(text: str, now: datetime, past: bool = False) -> datetime | None:
    """A typed time: with its date, or the next (in the past: the last) occurrence of that time, on a weekday if given.

    None if it is not a time, or one that the clock skips; if it comes twice, the later one that fits.
    """
    text = text.strip()
    with suppress(ValueError):
        dated = resolve_local(datetime.strptime(text, WHEN), get_zone(now))  # noqa: DTZ007 - wall-clock time
        return next((at for at in reversed(dated) if not past or at <= now), dated[-1]) if dated else None
    with suppress(ValueError):
        clock, days = _read_clock(text, get_local_day(now))
        found = [at for day in days for at in resolve_local(datetime.combine(day, clock), get_zone(now))]
        return next((at for at in (reversed(found) if past else found) if (at <= now if past else at > now)), None)
    return None


def _read_clock(text: str, today: date) -> tuple[time, list[date]]:
    """A time of day and the days around today that it may be of: those of its weekday, if it names one.

    Raises:
        ValueError: it is not one.
    """
    weekday, _, clock = text.rpartition(" ")
    if not weekday:
        return time.fromisoformat(clock.zfill(5)), [today + timedelta(days=n) for n in range(-2, 3)]
    on = WEEKDAYS.index(weekday.strip().title())
    days = [today + timedelta(days=n) for n in range(-7, 8)]
    return time.fromisoformat(clock.zfill(5)), [day for day in days if day.weekday() == on]


def describe_wrong_time(text: str, now: datetime) -> str:
    """What is wrong with a time that `parse_typed_time` cannot read."""
    typed = text.strip()[:20] or "nothing"
    return f"{typed} is not a time the clock shows: write it like {format_local(now, WHEN)}, Mon 14:30 or 14:30"
