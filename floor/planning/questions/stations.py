"""A station that is down for a time."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, datetime, time, timedelta

from floor.figures.calendar import NoWorkingTime, epoch, local
from floor.planning.questions.base import Asking, Wish
from floor.planning.questions.days import NotUnderstood, read_day, take_clock, weekday_of
from floor.planning.questions.words import read_name, take_duration, unknown
from floor.wall import on_wall, readings, shown

_GONE = r"(.+?) (?:is |be )?(?:down|out|off|broken|back|gone)"


def read_down(asking: Asking, text: str) -> Wish | None:
    """``router down until wed``, ``no router until 2026-12-05 10:00``, ``router down 4 h``."""
    found = re.fullmatch(rf"{_GONE} (?:until|till|on|at|from) (.+)", text) or re.fullmatch(
        r"(?:no|without) (.+?) (?:until|till) (.+)", text)  # fmt: skip
    lasts = re.fullmatch(rf"{_GONE}(?: for)? (.+)", text)
    if found:
        station, until = station_of(asking, found[1]), _moment(asking, found[2])
    elif lasts and (minutes := take_duration(lasts[2])[1]) is not None:
        station = station_of(asking, lasts[1])
        until = on_wall(asking.at + timedelta(minutes=minutes), asking.calendar.tz)
    elif re.search(r"\b(down|broken|out of service)\b", text):
        raise NotUnderstood("until when? Write it like router down until wed 10:00")
    else:
        return None
    return Wish(f"{station} down until {shown(until, '%a %d %b %H:%M')}",
                lambda case: replace(case, down={**case.down, station: until}), -1, once=True)  # fmt: skip


def _moment(asking: Asking, text: str) -> datetime:
    rest, clock = take_clock(text)
    day = read_day(rest, asking.at.date()) if rest else asking.at.date()
    if day is None:
        raise NotUnderstood(f'"{text[:30]}" is no day. Write it like wed, wed 10:00, 5 dec or 2026-12-05')
    if weekday_of(rest) is not None and day == asking.at.date() and (clock is None or clock <= asking.at.time()):
        day += timedelta(days=7)
    if clock is not None:
        found = readings(datetime.combine(day, clock), asking.calendar.tz)
        at = found[-1] if found else None
    else:
        at = _work_begins(asking, day)
    if at is None or at <= asking.at:
        raise NotUnderstood(f'"{text[:30]}" is not to come. Write a later day or time')
    return at


def _work_begins(asking: Asking, day: date) -> datetime | None:
    midnight = datetime.combine(day, time(0), asking.calendar.tz)
    try:
        return asking.calendar.span(local(epoch(midnight), asking.calendar.tz), 1)[0]
    except NoWorkingTime:
        return None


def station_of(asking: Asking, text: str) -> str:
    """The planner's name of a station. Raises `NotUnderstood`."""
    text = text.removeprefix("the ")
    found = read_name(text, asking.names.station)
    if found is None:
        raise unknown(text, asking.names.station.values())
    return asking.names.station[found]
