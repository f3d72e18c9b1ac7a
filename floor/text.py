"""Times, spans and counts as a tired person reads them."""

from __future__ import annotations

from datetime import date, datetime

from floor.wall import day_of, on_wall, zone_of

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def clock_time(at: datetime, now: datetime | None = None) -> str:
    """``14:05``, with the day where it is not the day of ``now`` (or where there is no ``now``): ``Thu 14:05``.

    More than six days away the date is written instead of the weekday.
    """
    return wall_time(on_wall(at, zone_of(now or at)), now and day_of(now))


def wall_time(read: datetime, today: date | None = None) -> str:
    """The same of a time as the wall showed it when it was read, which is how the record holds it."""
    if today is not None and read.date() == today:
        return f"{read:%H:%M}"
    if today is not None and abs((read.date() - today).days) > 6:
        return f"{read:%Y-%m-%d %H:%M}"
    return f"{_DAYS[read.weekday()]} {read:%H:%M}"


def day_said(day: date, today: date) -> str:
    """``Fri 31 Dec``, with the year where it is another one than today's."""
    return f"{day:%a %d %b}" + (f" {day.year}" if day.year != today.year else "")


def span(seconds: float) -> str:
    """``45 s``, ``12 min``, ``3 h 05``, ``2 d 4 h``; never negative."""
    seconds = max(seconds, 0.0)
    if seconds < 60:
        return f"{int(seconds)} s"
    minutes = int(seconds // 60)
    if minutes < 60:
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    if hours < 48:
        return f"{hours} h {minutes:02d}"
    days, hours = divmod(hours, 24)
    return f"{days} d {hours} h"


def plural(count: int, noun: str) -> str:
    """``1 piece``, ``2 pieces``, ``3 entries``."""
    if count != 1 and noun.endswith("y") and noun[-2:-1] not in "aeiou":
        return f"{count} {noun[:-1]}ies"
    ending = "" if count == 1 else "es" if noun.endswith(("s", "x", "ch", "sh")) else "s"
    return f"{count} {noun}{ending}"


def sentences(*parts: str) -> str:
    """Parts as sentences one after the other: each begins with a capital and ends with a full stop."""
    said = [part.strip().rstrip(".") for part in parts if part.strip()]
    return " ".join(f"{part[0].upper()}{part[1:]}." for part in said)


def chance_said(chance: float) -> str:
    """``96.4 %``; never rounded up to certainty, nor down to none."""
    if chance > 0.999:
        return "> 99.9 %"
    return "< 0.1 %" if 0 < chance < 0.001 else f"{100 * chance:.1f} %"
