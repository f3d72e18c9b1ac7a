"""Days and hours as people write them in a what-if: ``sat 5 dec 7-12``, ``every saturday``, ``wed 10:00``."""

from __future__ import annotations

import re
from datetime import date, time, timedelta

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_CLOCK = r"(\d{1,2})(?::(\d\d))?"
_HOURS = re.compile(rf"(?:from )?\b{_CLOCK} ?(?:-|–|to|until) ?{_CLOCK}$")
_AT = re.compile(r"(?:at )?\b(\d{1,2}):(\d\d)$")
_ISO = re.compile(r"\d{4}-\d\d-\d\d")
FARTHEST = timedelta(days=3 * 366)
LIKE = "Write it like sat, 5 dec or 2026-12-05"


class NotUnderstood(ValueError):
    """A what-if that cannot be read: what is wrong, and what to write."""


def read_weekday(word: str) -> int | None:
    """Monday is 0; ``sat``, ``saturday`` and ``saturdays`` are the same."""
    found = [n for n, day in enumerate(WEEKDAYS) if len(word) >= 3 and (day.startswith(word) or word == f"{day}s")]
    return found[0] if len(found) == 1 else None


def split_off_hours(text: str) -> tuple[str, tuple[time, time] | None]:
    """Split off hours at the end: ``7-12``, ``06:00 to 14:00``."""
    found = _HOURS.search(text)
    if found is None or _ISO.search(text[: found.end()][-10:]):
        return text, None
    first = _clock(found[1], found[2])
    return text[: found.start()].strip(), (first, _clock(found[3], found[4]))


def split_off_time(text: str) -> tuple[str, time | None]:
    """Split off a time of day at the end."""
    found = _AT.search(text)
    return (text, None) if found is None else (text[: found.start()].strip(), _clock(found[1], found[2]))


def _clock(hour: str, minute: str | None) -> time:
    if int(hour) == 24 and not int(minute or 0):
        return time(0)
    try:
        return time(int(hour), int(minute or 0))
    except (ValueError, OverflowError):
        raise NotUnderstood(f"{hour}:{minute or '00'} is not a time of day. Write it like 07:00") from None


def read_day(text: str, today: date) -> date | None:
    """A day from today on; None if the text is not a day.

    Raises:
        NotUnderstood: no such day, or it is past.
    """
    words = text.replace(",", " ").split()
    weekday = read_weekday(words[0]) if words else None
    rest = words[1:] if weekday is not None else words
    if rest in (["today"], ["tomorrow"]) and weekday is None:
        return today + timedelta(days=rest == ["tomorrow"])
    if weekday is not None and not rest:
        return today + timedelta(days=(weekday - today.weekday()) % 7)
    day = _date(rest, today)
    if day is None:
        return None
    if weekday is not None and day.weekday() != weekday:
        raise NotUnderstood(f"{day:%d %b %Y} is a {day:%A}. Write the day or the date, or both as they are")
    if day < today:
        raise NotUnderstood(f"{day:%d %b %Y} is past. Write a day to come")
    if day - today > FARTHEST:
        raise NotUnderstood(f"{day:%d %b %Y} is too far away. Write a day of the next three years")
    return day


def _date(words: list[str], today: date) -> date | None:
    """``5 dec``, ``dec 5``, ``2026-12-05``; without a year the next such day."""
    if len(words) == 1 and _ISO.fullmatch(words[0]):
        try:
            return date.fromisoformat(words[0])
        except (ValueError, OverflowError):
            raise NotUnderstood(f"{words[0]} is not in the calendar. {LIKE}") from None
    if len(words) != 2:
        return None
    number, month = (words[0], words[1]) if words[0].rstrip(".").isdecimal() else (words[1], words[0])
    number = number.rstrip(".")
    if month[:3] not in MONTHS or not number.isdecimal():
        return None
    for year in range(today.year, today.year + 4):  # the 29th of February may be as far away
        try:
            day = date(year, MONTHS.index(month[:3]) + 1, int(number))
        except (ValueError, OverflowError):
            continue
        if day >= today:
            return day
    raise NotUnderstood(f"there is no {number} {month[:3].title()}. {LIKE}")
