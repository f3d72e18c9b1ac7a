"""The plain data of the record: an entry, and what is known before it is written.

Every room may import this module; it imports only `floor.wall`.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from typing import Any

from floor.dataclass import dataclass
from floor.wall import WallOffset, convert_to_zone, get_zone


@dataclass(frozen=True, slots=True)
class Moment:
    """A reading of the clock, with enough to notice that the clock was moved.

    ``at`` is aware, with the offset of that moment (`floor.wall`). ``boot`` names the machine's present start (empty
    if unknown), after the machine's name and ``-`` if it has one. ``up`` is the seconds since then, counted by a clock
    nobody can set: between two moments of one boot, ``at`` and ``up`` must advance together.
    """

    at: datetime
    boot: str = ""
    up: float = 0.0

    def __post_init__(self) -> None:
        zone = self.at.tzinfo
        if zone is not None and not isinstance(zone, timezone | WallOffset):
            object.__setattr__(self, "at", convert_to_zone(self.at, zone))


@dataclass(frozen=True, slots=True)
class Draft:
    """An entry before it is in the record: what happened, in shop words, and its plain JSON data."""

    kind: str
    body: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the record, as on disk. Never changed; a later entry may strike it out."""

    seq: int
    """1 for the first of its ledger, without gaps."""
    at: str
    """UTC, ``2026-11-25T10:02:01.123Z``."""
    tz: int
    """Minutes east of UTC of the shop's clock at that time."""
    boot: str
    up: float
    by: str
    """Initials of the person; ``-`` if nobody was signed in (only Floor's own repairs)."""
    kind: str
    body: dict[str, Any]
    prev: str
    """Hash of the entry before it; 64 zeros for the first."""
    hash: str
    """SHA-256, in hex, of the canonical JSON of all the other fields."""

    def __getitem__(self, field: str) -> Any:
        """A field by name, so a database query reads the entry as its document on disk."""
        try:
            return getattr(self, field)
        except AttributeError:
            raise KeyError(field) from None

    def __contains__(self, field: str) -> bool:
        return field in self.__dataclass_fields__

    @property
    def time(self) -> datetime:
        """When it was written, aware, in the offset the shop's clock had."""
        return parse_time(self.at).astimezone(timezone(timedelta(minutes=self.tz)))

    @property
    def done(self) -> datetime:
        """When it was done: when written, except for acts entered from paper."""
        acted = self.body.get("acted")
        return parse_wall(acted, self.time) if acted else self.time


def format_time(at: datetime) -> str:
    """Write an aware time as UTC to the millisecond."""
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.") + f"{at.microsecond // 1000:03d}Z"


def format_wall(at: datetime) -> str:
    """Write an aware time to the millisecond as wall-clock time of that moment."""
    return convert_to_zone(at, get_zone(at)).isoformat(timespec="milliseconds")


def parse_wall(text: str, now: datetime) -> datetime:
    """Read back what `format_wall` wrote, or, from older records, `format_time`; that in the present offset."""
    at = parse_time(text)
    return at.astimezone(now.tzinfo) if text.endswith("Z") else at


def parse_time(text: str) -> datetime:
    """Read back what `format_time` wrote, as an aware UTC time."""
    return datetime.fromisoformat(text)
