"""Times as loggers write them: year, day or month first, month names, with a zone or without.

A time without a zone is wall-clock time. In an hour that clocks show twice, the order of the lines tells the first
pass from the second.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from contextlib import suppress
from datetime import UTC, datetime, time, timedelta, timezone, tzinfo
from enum import StrEnum
from functools import lru_cache
from itertools import pairwise

from floor.dataclass import dataclass
from floor.wall import convert_to_zone, resolve_local

EARLIEST_YEAR, LATEST_YEAR = 1990, 2099
"""Years a logger may show."""

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_DATE = (
    r"(?:(?P<y>\d{4})[-/.](?P<ym>\d{1,2})[-/.](?P<yd>\d{1,2})"
    r"|(?P<a>\d{1,2})(?P<mark>[-/.])(?P<b>\d{1,2})(?P=mark)(?P<year>\d{4}|\d{2})"
    r"|(?P<named>\d{1,2})[- ](?P<nm>[A-Za-z]{3,9})[-, ]{1,2}(?P<ny>\d{4}|\d{2})"
    r"|(?P<um>[A-Za-z]{3,9})[- ](?P<ud>\d{1,2}),? (?P<uy>\d{4}))"
)
_CLOCK = (
    r"(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2})(?:[.,](?P<part>\d{1,9}))?)?"
    r"(?: ?(?P<half>[AaPp])\.?[Mm]\.?)?(?: ?(?P<zone>Z|UTC|GMT|[+-](?:0\d|1[0-4])(?::?[0-5]\d)?))?"
)
_ANOTHER_PASS = timedelta(minutes=20)
"""Least step back for a repeated hour; less is a line out of order."""
_STAMP = re.compile(rf"{_DATE}[T, ] ?{_CLOCK}", re.ASCII)
_HEADING_ZONE = re.compile(
    r"\b(?:UTC|GMT)(?![a-z])(?: ?([+-](?:0?\d|1[0-4])(?::?[0-5]\d)?)(?!\d))?|(?<![A-Za-z])Z(?:ulu)?(?![A-Za-z])"
    r"|(?<!\d)([+-](?:0\d|1[0-4]):[0-5]\d)(?!\d)",
    re.IGNORECASE | re.ASCII,
)
_DAY = re.compile(_DATE, re.ASCII)
_TIME = re.compile(_CLOCK, re.ASCII)


class DateOrder(StrEnum):
    """Which number in 03/04/2026 is the month."""

    MONTH_FIRST = "month first"
    DAY_FIRST = "day first"


@dataclass(frozen=True, slots=True)
class Stamp:
    """A time as in a line, its month and day possibly ambiguous."""

    year: int
    month: int
    day: int
    clock: time
    offset: timedelta | None
    """Offset from UTC, if the line has one."""
    order_known: bool
    """False if month and day could be swapped."""

    def find_wall(self, order: DateOrder) -> datetime | None:
        """The wall-clock time, without a zone; None if there is no such day."""
        swap = not self.order_known and order is DateOrder.DAY_FIRST
        month, day = (self.day, self.month) if swap else (self.month, self.day)
        try:
            return datetime(self.year, month, day, *_parts(self.clock))  # noqa: DTZ001 - wall-clock time
        except ValueError:
            return None


def _parts(clock: time) -> tuple[int, int, int, int]:
    return clock.hour, clock.minute, clock.second, clock.microsecond


def read_stamp(text: str) -> Stamp | None:
    """A date with its time; None if the text is not one."""
    text = text.strip()
    if len(text) == 19 and text[4] == text[7] == "-" and text[10] in "T ":  # what most loggers write, and much faster
        with suppress(ValueError):
            at = datetime.fromisoformat(text)
            if EARLIEST_YEAR <= at.year <= LATEST_YEAR and at.tzinfo is None:
                return Stamp(at.year, at.month, at.day, at.time(), None, True)
    found = _STAMP.fullmatch(text)
    return None if found is None else _build(found.groupdict())


def read_split_stamp(day: str, clock: str) -> Stamp | None:
    """The same from two cells, one of them the date."""
    date_found, time_found = _DAY.fullmatch(day.strip()), _TIME.fullmatch(clock.strip())
    if date_found is None or time_found is None:
        return None
    return _build({**date_found.groupdict(), **time_found.groupdict()})


def _build(part: dict[str, str | None]) -> Stamp | None:
    clock = _read_clock(part)
    day = _read_day(part)
    if clock is None or day is None or not EARLIEST_YEAR <= day[0] <= LATEST_YEAR:
        return None
    year, month, day_of_month, known = day
    stamp = Stamp(year, month, day_of_month, clock, _read_offset(part["zone"]), known)
    if any(stamp.find_wall(order) for order in DateOrder):
        return stamp
    return None


def _read_day(part: dict[str, str | None]) -> tuple[int, int, int, bool] | None:
    """(year, month, day, whether unambiguous); a month above 12 is a day, and dots mean day first."""
    if part["y"]:
        return int(part["y"]), int(part["ym"] or 0), int(part["yd"] or 0), True
    name = part["nm"] or part["um"]
    if name:
        known = name[:3].lower() in _MONTHS
        month = _MONTHS.index(name[:3].lower()) + 1 if known else 0
        return (_year(part["ny"] or part["uy"]), month, int(part["named"] or part["ud"] or 0), True) if known else None
    one, other, year = int(part["a"] or 0), int(part["b"] or 0), _year(part["year"])
    if one > 12 or part["mark"] == ".":
        return year, other, one, True
    return year, one, other, other > 12


def _year(text: str | None) -> int:
    year = int(text or 0)
    return year + 2000 if year < 100 else year


def _read_clock(part: dict[str, str | None]) -> time | None:
    hour, minute, second = (int(part[name] or 0) for name in ("hour", "minute", "second"))
    if part["half"]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if part["half"] in "Pp" else 0)
    try:
        return time(hour, minute, second, int((part["part"] or "0").ljust(6, "0")[:6]))
    except ValueError:
        return None


def _read_offset(text: str | None) -> timedelta | None:
    if text is None:
        return None
    if text[0] not in "+-":
        return timedelta(0)
    ahead = timedelta(hours=int(text[1:3]), minutes=int(text[3:].lstrip(":") or 0))
    return ahead if text[0] == "+" else -ahead


def find_heading_offset(heading: str) -> timedelta | None:
    """The offset from UTC that a heading states for the times below it: ``Time (UTC)``, ``Time Z``, ``GMT-06:00``."""
    found = _HEADING_ZONE.search(heading)
    if found is None:
        return None
    ahead = next(filter(None, found.groups()), "")
    if not ahead:
        return timedelta(0)
    hours, _, minutes = ahead[1:].partition(":")
    size = timedelta(hours=int(hours[:2]), minutes=int(minutes or hours[2:] or 0))
    return size if ahead[0] == "+" else -size


def find_date_order(stamps: Iterable[Stamp]) -> tuple[DateOrder, bool]:
    """Which number is the month, and whether that is proved: by a number above 12, or by the shorter time span.

    A single day proves nothing; then month first is assumed.
    """
    known = list(stamps)
    if all(stamp.order_known for stamp in known):
        return DateOrder.MONTH_FIRST, True
    spans = {order: _measure_span(known, order) for order in DateOrder}
    best = min(spans, key=spans.__getitem__)
    return best, len(set(spans.values())) == 2


def _measure_span(stamps: Iterable[Stamp], order: DateOrder) -> float:
    """Sum of the seconds between consecutive times, regardless of sign."""
    walls = filter(None, (stamp.find_wall(order) for stamp in stamps))
    return sum(abs((later - earlier).total_seconds()) for earlier, later in pairwise(walls))


class ClockNews(StrEnum):
    """What a clock did at a line."""

    BACK = "back"
    """Earlier than the line before."""
    HOUR_REPEATED = "hour repeated"
    """Back by the hour this zone's clocks show twice; counted in the second pass."""
    HOUR_AMBIGUOUS = "hour ambiguous"
    """In that hour, with nothing to tell which pass; assumed to be the first."""
    HOUR_SKIPPED = "hour skipped"
    """In an hour this zone's clocks skip: the logger's clock was not changed."""


class WallClock:
    """Turns a logger's wall-clock times, line by line, into moments."""

    def __init__(self, zone: tzinfo) -> None:
        self._offsets = lru_cache(maxsize=4096)(lambda quarter: _find_offsets(quarter, zone))
        self._zone = zone
        self._last: datetime | None = None
        self._second_pass = False

    def read(self, wall: datetime, offset: timedelta | None) -> tuple[datetime, ClockNews | None]:
        """The moment, with its offset in the zone, and what is odd about it."""
        at, news = self._resolve(wall, offset)
        if news is not ClockNews.HOUR_REPEATED and self._last is not None and at < self._last:
            news = ClockNews.BACK
        self._last = at
        return at, news

    def _resolve(self, wall: datetime, offset: timedelta | None) -> tuple[datetime, ClockNews | None]:
        if offset is not None:
            return convert_to_zone(wall.replace(tzinfo=timezone(offset)), self._zone), None
        found = [
            wall.replace(tzinfo=ahead)
            for ahead in self._offsets(wall.replace(minute=wall.minute // 15 * 15, second=0, microsecond=0))
        ]
        if len(found) == 1:
            self._second_pass = False
            return found[0], None
        if not found:
            return convert_to_zone(wall.replace(tzinfo=self._zone).astimezone(UTC), self._zone), ClockNews.HOUR_SKIPPED
        first, second = found
        if self._second_pass:
            return second, None
        if self._last is not None and first <= self._last - _ANOTHER_PASS:
            self._second_pass = True
            return second, ClockNews.HOUR_REPEATED
        return first, ClockNews.HOUR_AMBIGUOUS


def _find_offsets(wall: datetime, zone: tzinfo) -> tuple[tzinfo | None, ...]:
    """The zone's offsets for this wall-clock time, first pass first; none if it never occurs."""
    return tuple(at.tzinfo for at in resolve_local(wall, zone))
