"""Questions about hours: longer shifts, a second shift, an extra day."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import time, timedelta

from floor.figures.calendar import Calendar
from floor.figures.overtime import (
    add_working_days,
    add_working_weekday,
    build_second_shift,
    find_usual_shifts,
    move_hours,
)
from floor.figures.workdays import find_working_shifts
from floor.planning.questions.base import QuestionContext, WhatIfQuestion, format_minutes
from floor.planning.questions.days import WEEKDAYS, NotUnderstood, read_day, read_weekday, split_off_hours
from floor.planning.questions.parse_words import split_off_duration
from floor.planning.scenario import Scenario

_ABOUT_SHIFTS = {
    "start",
    "starts",
    "begin",
    "begins",
    "end",
    "ends",
    "stop",
    "shift",
    "shifts",
    "overtime",
    "longer",
    "shorter",
    "earlier",
    "later",
    "sooner",
    "more",
    "less",
    "extra",
    "every",
    "each",
    "all",
    "the",
    "of",
    "by",
    "at",
    "for",
    "work",
    "works",
    "stay",
    "stays",
    "everybody",
    "everyone",
    "people",
    "we",
    "day",
    "days",
    "hours",
    "a",
}
"""Words of a phrase about every shift's hours; any other word names something else."""


def read_hours(asking: QuestionContext, text: str) -> WhatIfQuestion | None:
    """``end 1 h later``, ``start 30 min earlier``, ``shift 1 h longer``."""
    rest, minutes = split_off_duration(text)
    words = set(rest.split())
    if words - _ABOUT_SHIFTS and minutes is not None:
        return None  # it is about something else
    if not words & {
        "start",
        "starts",
        "begin",
        "begins",
        "end",
        "ends",
        "stop",
        "shift",
        "shifts",
        "overtime",
        "longer",
        "shorter",
        "earlier",
        "later",
        "sooner",
    }:
        return None
    if minutes is None:
        if words & {"longer", "shorter", "earlier", "later", "sooner", "overtime"}:
            raise NotUnderstood("by how much? Write it like end 1 h later")
        return None
    starts = bool(words & {"start", "starts", "begin", "begins"})
    if words & {"earlier", "sooner"}:
        by = -minutes
    elif words & {"later", "longer", "overtime"}:
        by = minutes
    elif "shorter" in words:
        by = -minutes
    else:
        raise NotUnderstood("earlier or later? Write it like end 1 h later")
    if starts and words & {"longer", "shorter"}:
        by = -by
    end, start = (0, round(by)) if starts else (round(by), 0)
    longer = end - start > 0
    way = "later" if by > 0 else "earlier"
    return WhatIfQuestion(
        f"Shifts {'start' if starts else 'end'} {format_minutes(minutes)} {way}",
        lambda case: _with_calendar(case, move_hours(case.crew.calendar, start=start, end=end)),
        1 if longer else -1,
    )


def read_second_shift(asking: QuestionContext, text: str) -> WhatIfQuestion | None:
    if not re.fullmatch(r"(a |another |one more |1 more )?(second |late |night |further )?shift( more)?", text):
        return None
    if not build_second_shift(asking.calendar):
        raise NotUnderstood('the shifts fill the day as it is. Write it like "end 1 h later"')
    return WhatIfQuestion(
        "A second shift",
        lambda case: _with_calendar(case, case.crew.calendar.add_shifts(*build_second_shift(case.crew.calendar))),
        1,
        rank=1,
        once=True,
    )


def read_every_day(asking: QuestionContext, text: str) -> WhatIfQuestion | None:
    """``every saturday``, ``saturdays 7-12``."""
    rest, hours = split_off_hours(text)
    words = rest.split()
    every = words[:1] in (["every"], ["all"], ["each"])
    weekday = read_weekday(words[-1]) if words and len(words) == 1 + every else None
    if weekday is None or not (every or words[-1].endswith("days")):
        return None
    day = WEEKDAYS[weekday].title()
    if any(shift.weekday == weekday and shift.people != 0 for shift in asking.calendar.shifts):
        raise NotUnderstood(f'every {day} is worked already. Write it like "end 1 h later"')
    return WhatIfQuestion(
        f"Every {day}{_hours_said(asking, weekday, hours)}",
        lambda case: _with_calendar(case, add_working_weekday(case.crew.calendar, weekday, hours)),
        1,
        rank=2,
        once=True,
    )


def read_one_day(asking: QuestionContext, text: str) -> WhatIfQuestion | None:
    """``saturday``, ``sat 5 dec 7-12``, ``2026-12-05``."""
    rest, hours = split_off_hours(text)
    day = read_day(rest, asking.at.date())
    if day is None and read_weekday(rest.partition(" ")[0]) is not None:
        raise NotUnderstood("which day, or which hours? Write it like saturday, sat 5 dec or saturday 7-12")
    if day is None:
        return None
    if len(rest.split()) == 1 and read_weekday(rest) is not None:
        shifts = find_working_shifts(asking.calendar, day) or find_usual_shifts(asking.calendar, day.weekday())
        over = hours[1] if hours else max((one.end for one in shifts if one.start < one.end), default=time(23, 59))
        day += timedelta(days=7 * (day == asking.at.date() and over <= asking.at.time()))
    worked = find_working_shifts(asking.calendar, day)
    if worked:
        raise NotUnderstood(
            f"{day:%a %d %b} is worked already, {worked[0].start:%H:%M} to {worked[-1].end:%H:%M}. "
            'Write it like "end 1 h later"'
        )
    return WhatIfQuestion(
        f"{day:%a %d %b}{_hours_said(asking, day.weekday(), hours)}",
        lambda case: _with_calendar(case, add_working_days(case.crew.calendar, [day], hours)),
        1,
        rank=3,
        once=True,
    )


def _with_calendar(case: Scenario, calendar: Calendar) -> Scenario:
    return replace(case, crew=replace(case.crew, calendar=calendar))


def _hours_said(asking: QuestionContext, weekday: int, hours: tuple[time, time] | None) -> str:
    """The hours of such a day: those asked for, else the usual ones."""
    usual = find_usual_shifts(asking.calendar, weekday)
    first, last = hours or ((usual[0].start, usual[-1].end) if usual else (time(0), time(0)))
    return f" {first:%H:%M}–{last:%H:%M}"
