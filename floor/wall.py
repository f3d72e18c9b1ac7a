"""What the clock on the wall shows at a moment: the only place that turns moments into times of day, and back.

A zone's clocks are set twice a year, and Python subtracts, adds and compares two times of one zone by what the wall
shows. So no time in Floor carries a zone's rules: each carries the offset of its own moment, where differences are what
really goes by, and is put on the wall again where it is shown. Every room may import this module; it imports none.
"""

from __future__ import annotations

from contextlib import suppress
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from functools import lru_cache
from typing import Any

WHEN = "%Y-%m-%d %H:%M"
"""How a time is typed with its date."""


class WallOffset(tzinfo):
    """How far a zone's wall is ahead of UTC at one moment, and the zone, whose rules tell it for every other."""

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
    """One for each, so that two times with the same offset are the same to Python."""
    return WallOffset(zone, ahead)


class MachineZone(tzinfo):
    """The zone that this machine is set to, by the system's own rules."""

    def utcoffset(self, at: datetime | None) -> timedelta | None:
        return None if at is None else at.replace(tzinfo=None).astimezone().utcoffset()

    def dst(self, at: datetime | None) -> None:
        return None

    def tzname(self, at: datetime | None) -> str | None:
        return None if at is None else at.replace(tzinfo=None).astimezone().tzname()

    def fromutc(self, at: datetime) -> datetime:
        local = at.replace(tzinfo=UTC).astimezone()
        # Where the wall shows an hour twice, the second time is the one whose own offset the first reading is not.
        first = local.replace(tzinfo=self, fold=0)
        return first if first.utcoffset() == local.utcoffset() else first.replace(fold=1)

    def __reduce__(self) -> str:
        return "MACHINE"


MACHINE = MachineZone()


def convert_to_zone(at: datetime, zone: tzinfo) -> datetime:
    """The same moment as the wall shows it in a zone, with the offset it has there at that moment."""
    zone = zone.zone if isinstance(zone, WallOffset) else zone
    local = at.astimezone(UTC).astimezone(zone)  # within one zone Python would leave it as it stands
    if isinstance(local.tzinfo, timezone | WallOffset):
        return local
    ahead = local.utcoffset()
    return local if ahead is None else local.replace(tzinfo=_offset(zone, ahead), fold=0)


def get_zone(at: datetime) -> tzinfo:
    """The zone on whose wall a time was read."""
    zone = at.tzinfo or UTC
    return zone.zone if isinstance(zone, WallOffset) else zone


def format_local(at: datetime, form: str, now: datetime | None = None) -> str:
    """A moment as the wall shows it then, written like ``%a %H:%M``; in the zone of ``now`` where that is given."""
    return convert_to_zone(at, get_zone(now or at)).strftime(form)


def get_local_day(at: datetime, now: datetime | None = None) -> date:
    """The day that the wall shows at a moment."""
    return convert_to_zone(at, get_zone(now or at)).date()


def resolve_local(wall: datetime, zone: tzinfo) -> tuple[datetime, ...]:
    """The moments at which a zone's wall shows this: none where it is skipped, two where it is shown twice, else one.

    Args:
        wall: without a zone.
    """
    found = {convert_to_zone(wall.replace(tzinfo=zone, fold=fold).astimezone(UTC), zone) for fold in (0, 1)}
    return tuple(sorted(at for at in found if at.replace(tzinfo=None) == wall))


def find_start_of_day(day: date, zone: tzinfo) -> datetime:
    """The first moment at which a zone's wall shows this day."""
    return convert_to_zone(datetime.combine(day, time(), zone), zone)


def parse_typed_time(text: str, now: datetime, past: bool = False) -> datetime | None:
    """A time as it is typed: with its date, or the next time (the last, in the past) that the clock shows it.

    None where it is no time, or one that the clock skips; the later one, as far as it fits, where it shows it twice.
    """
    text = text.strip()
    with suppress(ValueError):
        dated = resolve_local(datetime.strptime(text, WHEN), get_zone(now))  # noqa: DTZ007 - as the wall shows it
        return next((at for at in reversed(dated) if not past or at <= now), dated[-1]) if dated else None
    with suppress(ValueError):
        clock = time.fromisoformat(text.zfill(5))
        days = [get_local_day(now) + timedelta(days=n) for n in range(-2, 3)]
        found = [at for day in days for at in resolve_local(datetime.combine(day, clock), get_zone(now))]
        return next((at for at in (reversed(found) if past else found) if (at <= now if past else at > now)), None)
    return None


def describe_wrong_time(text: str, now: datetime) -> str:
    """What is wrong with a time that `parse_typed_time` gives none for."""
    typed = text.strip()[:20] or "nothing"
    return f"{typed} is not a time the clock shows: write it like {format_local(now, WHEN)}, or 14:30"
