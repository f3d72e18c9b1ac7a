"""Questions about a station that is down for a time."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, datetime, time, timedelta

from floor.figures.calendar import NoWorkingTime, to_epoch, to_local
from floor.planning.questions.base import QuestionContext, WhatIfQuestion
from floor.planning.questions.days import NotUnderstood, read_day, read_weekday, split_off_time
from floor.planning.questions.parse_words import build_unknown_name_error, read_name, split_off_duration
from floor.wall import convert_to_zone, format_local, resolve_local

_GONE = r"(.+?) (?:is |be )?(?:down|out|off|broken|back|gone)"


def read_station_down(asking: QuestionContext, text: str) -> WhatIfQuestion | None:
    """``router down until wed``, ``no router until 2026-12-05 10:00``, ``router down 4 h``."""
    found = re.fullmatch(rf"{_GONE} (?:until|till|on|at|from) (.+)", text) or re.fullmatch(
        r"(?:no|without) (.+?) (?:until|till) (.+)", text
    )
    lasts = re.fullmatch(rf"{_GONE}(?: for)? (.+)", text)
    if found:
        station, until = find_station(asking, found[1]), _moment(asking, found[2])
    elif lasts and (minutes := split_off_duration(lasts[2])[1]) is not None:
        station = find_station(asking, lasts[1])
        until = convert_to_zone(asking.at + timedelta(minutes=minutes), asking.calendar.tz)
    elif re.search(r"\b(down|broken|out of service)\b", text):
        raise NotUnderstood("until when? Write it like router down until wed 10:00")
    else:
        return None
    return WhatIfQuestion(
        f"{station} down until {format_local(until, '%a %d %b %H:%M')}",
        lambda case: replace(case, down={**case.down, station: until}),
        -1,
        once=True,
    )


def _moment(asking: QuestionContext, text: str) -> datetime:
    rest, clock = split_off_time(text)
    day = read_day(rest, asking.at.date()) if rest else asking.at.date()
    if day is None:
        raise NotUnderstood(f'"{text[:30]}" is not a day. Write it like wed, wed 10:00, 5 dec or 2026-12-05')
    if read_weekday(rest) is not None and day == asking.at.date() and (clock is None or clock <= asking.at.time()):
        day += timedelta(days=7)
    if clock is not None:
        found = resolve_local(datetime.combine(day, clock), asking.calendar.tz)
        at = found[-1] if found else None
    else:
        at = _work_begins(asking, day)
    if at is None or at <= asking.at:
        raise NotUnderstood(f'"{text[:30]}" is not to come. Write a later day or time')
    return at


def _work_begins(asking: QuestionContext, day: date) -> datetime | None:
    midnight = datetime.combine(day, time(0), asking.calendar.tz)
    try:
        return asking.calendar.span(to_local(to_epoch(midnight), asking.calendar.tz), 1)[0]
    except NoWorkingTime:
        return None


def find_station(asking: QuestionContext, text: str) -> str:
    """The planner's name of a station. Raises `NotUnderstood`."""
    text = text.removeprefix("the ")
    found = read_name(text, asking.names.station)
    if found is None:
        raise build_unknown_name_error(text, asking.names.station.values())
    return asking.names.station[found]
