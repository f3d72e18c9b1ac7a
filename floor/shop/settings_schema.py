"""The fields of ``shop.toml``, strictly read; `floor.shop.settings` says what they mean."""

from __future__ import annotations

import shlex
from datetime import date, time
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, field_validator, model_validator
from pydantic_core import ErrorDetails

from floor.batch.quality.costs import CostRates
from floor.checklist.findings import suggest_known_name
from floor.checklist.line_numbers import map_lines
from floor.figures.calendar import Calendar
from floor.figures.calendar import Shift as FiguresShift
from floor.figures.earlier_yields import HALF_LIFE_DAYS
from floor.shop.settings import (
    FILL_LEVEL,
    LONGEST_QUESTION,
    MOST_QUESTIONS,
    SIGN_OUT_MINUTES,
    Settings,
    SettingsError,
    find_zone,
)
from floor.text import format_count

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def _clock(given: Any) -> time:
    if isinstance(given, time):
        return given
    try:
        hours, minutes = str(given).split(":")
        return time(int(hours), int(minutes))
    except ValueError:
        raise ValueError(f'"{given}" is not a time of day; write it like "07:00"') from None


DAY = 24 * 60


def _minutes(start: time, end: time) -> int:
    """Minutes from one time of day to the next occurrence of another."""
    return (end.hour * 60 + end.minute - start.hour * 60 - start.minute) % DAY


Clock = Annotated[time, BeforeValidator(_clock)]


def _command(given: Any) -> Any:
    """A program and its arguments; quotes hold words together, and no other character is special."""
    if not isinstance(given, str):
        return given
    try:
        words = tuple(shlex.split(given))
    except ValueError:
        words = ()
    if given.strip() and not (words and words[0] and given.isprintable()):
        raise ValueError('is no command: a program with its arguments, quotes in pairs; write it like "lp -d label"')
    return words


Command = Annotated[tuple[str, ...], BeforeValidator(_command)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class _Shift(_Part):
    days: list[Literal["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]] = []
    dates: list[date] = []
    start: Clock
    end: Clock
    breaks: list[Annotated[list[Clock], Field(min_length=2, max_length=2)]] = []
    people: int | None = Field(default=None, ge=0, le=1000)

    @model_validator(mode="after")
    def some_day(self) -> Self:
        if not self.days and not self.dates:
            raise ValueError('is on no day; write days = ["Mon"], or dates = [2026-12-05]')
        return self

    @model_validator(mode="after")
    def breaks_inside(self) -> Self:
        """A break outside its shift, or one that ends before it starts, would silently be ignored."""
        length = _minutes(self.start, self.end) or DAY
        for first, last in self.breaks:
            if not _minutes(self.start, first) < _minutes(self.start, last) <= length:
                when = f"{first:%H:%M} to {last:%H:%M}"
                raise ValueError(f"the break {when} is not inside the shift {self.start:%H:%M} to {self.end:%H:%M}")
        return self

    def weekly(self) -> list[FiguresShift]:
        return [self._on(DAYS.index(day)) for day in self.days]

    def single(self) -> list[tuple[date, FiguresShift]]:
        return [(day, self._on(day.weekday())) for day in dict.fromkeys(self.dates)]

    def _on(self, weekday: int) -> FiguresShift:
        breaks = tuple((first, last) for first, last in self.breaks)
        return FiguresShift(weekday, self.start, self.end, breaks, self.people)


Price = Annotated[
    float, BeforeValidator(lambda given: float(given) if type(given) is int else given), Field(ge=0, le=1e9)
]


Hours = Annotated[
    float, BeforeValidator(lambda given: float(given) if type(given) is int else given), Field(ge=0, le=24)
]


Question = Annotated[str, Field(min_length=1, max_length=LONGEST_QUESTION)]
Days = Annotated[
    float, BeforeValidator(lambda given: float(given) if type(given) is int else given), Field(ge=1, le=36_500)
]
"""From a day on: shorter, the batch of yesterday would tell nothing; up to a century, which is never."""


class _Costs(_Part):
    currency: Annotated[str, Field(min_length=1, max_length=8)]
    labor_hour: Price | None = None
    stations: dict[str, Price] = {}
    tools: dict[str, Price] = {}
    materials: dict[str, Price] = {}

    def read(self) -> CostRates:
        return CostRates(self.currency, self.labor_hour, self.stations, self.tools, self.materials)


class _File(_Part):
    hands: int = Field(default=1, ge=1, le=1000)
    zone: str = ""
    days_off: list[date] = []
    fill_level: float = Field(default=FILL_LEVEL, gt=0, lt=1)
    sign_out_minutes: int = Field(default=SIGN_OUT_MINUTES, ge=0, le=1440)
    pin_for_everyone: bool = False
    registered_gauges_only: bool = False
    long_shift_hours: Hours = 0.0
    handover_questions: list[Question] = []
    half_life_days: Days = HALF_LIFE_DAYS
    approved_checklists_only: bool = False
    scrap_place: Annotated[str, Field(max_length=60)] = ""
    print: Command = ()
    print_tags: Command = ()
    shifts: list[_Shift] = []
    keys: dict[str, str] = {}
    costs: _Costs | None = None

    @field_validator("zone")
    @classmethod
    def known(cls, zone: str) -> str:
        if zone:
            find_zone(zone)
        return zone

    @field_validator("handover_questions")
    @classmethod
    def few(cls, questions: list[str]) -> list[str]:
        if len(questions) > MOST_QUESTIONS:
            raise ValueError(f"has {format_count(len(questions), 'question')}; write {MOST_QUESTIONS} or fewer")
        if any(not one.strip() or not one.isprintable() for one in questions) or len({*questions}) < len(questions):
            raise ValueError(
                "has a question that is empty, longer than one line or there twice; write each once, on one line"
            )
        return questions


def parse_settings(file: Path, text: str, data: dict[str, Any], usual: Calendar) -> Settings:
    """The settings of a file.

    Args:
        text: the file's text, to find the lines of errors.
        data: the data in the text.
        usual: default zone and shifts.

    Raises:
        SettingsError: lists every error with its line and place, from the top down.
    """
    try:
        given = _File.model_validate(data)
    except ValidationError as error:
        lines = map_lines(text)
        placed = sorted(((_line(lines, one["loc"]), one) for one in error.errors()), key=lambda one: one[0])
        faults = [f"line {line}, {_place(one['loc'])}: {_said(one)}" for line, one in placed]
        raise SettingsError(file, faults, "Set it right or leave the line out.") from None
    shifts = tuple(shift for one in given.shifts for shift in one.weekly()) or usual.shifts
    single = tuple(day for one in given.shifts for day in one.single())
    calendar = Calendar(given.zone or usual.zone, shifts, frozenset(given.days_off), single)
    return Settings(
        calendar=calendar,
        hands=given.hands,
        fill_level=given.fill_level,
        sign_out_minutes=given.sign_out_minutes,
        pin_for_everyone=given.pin_for_everyone,
        registered_gauges_only=given.registered_gauges_only,
        long_shift_hours=given.long_shift_hours,
        handover_questions=tuple(given.handover_questions),
        half_life_days=given.half_life_days,
        approved_checklists_only=given.approved_checklists_only,
        scrap_place=given.scrap_place,
        print=given.print,
        print_tags=given.print_tags or given.print,
        keys=given.keys,
        costs=given.costs.read() if given.costs is not None else None,
    )


def _line(lines: dict[tuple[str | int, ...], int], where: tuple[int | str, ...]) -> int:
    """The line of a value, or of the nearest table around it."""
    while where and where not in lines:
        where = where[:-1]
    return lines.get(where, 1)


def _place(where: tuple[int | str, ...]) -> str:
    """A path in words, counted from 1: ``shifts 2 breaks 1``."""
    words = [str(part + 1) if isinstance(part, int) else part for part in where]
    return " ".join(words) or "the file"


_TABLES: dict[str, type[_Part]] = {"shifts": _Shift, "costs": _Costs}
_KINDS = {
    "bool": "true or false, without quotes",
    "int": "a whole number, without quotes",
    "float": "a number, without quotes",
    "string": "text in quotes",
    "list": "a list in square brackets",
    "tuple": "text in quotes",
    "date": "a date without quotes, like 2026-12-25",
    "model": "a table of fields",
    "dict": "a table of fields",
}


def _shown(given: Any) -> Any:
    """The value as in the file, unless a number in it has more digits than can be shown."""
    try:
        str(given)
    except ValueError:
        return "a number of that length"
    return given


def _said(error: ErrorDetails) -> str:
    """What is wrong and what is right, in our words."""
    kind, given, limits = error["type"], _shown(error["input"]), error.get("ctx", {})
    match kind:
        case "value_error":
            return str(limits["error"])
        case "extra_forbidden":
            known = _TABLES.get(str(error["loc"][0]), _File) if len(error["loc"]) > 1 else _File
            return f"is not a field here; {suggest_known_name(str(error['loc'][-1]), known.model_fields)}"
        case "missing":
            return "is missing"
        case "literal_error":
            return f'"{given}" is not a day; write {", ".join(DAYS)}'
        case "greater_than" | "greater_than_equal" | "less_than" | "less_than_equal":
            name = next(name for name in ("gt", "ge", "lt", "le") if name in limits)
            side = {"gt": "more than {}", "ge": "{} or more", "lt": "less than {}", "le": "{} or less"}[name]
            return f"{given} is out of range; {side.format(limits[name])}"
        case "string_too_short":
            return "is empty; write text in quotes"
        case "string_too_long":
            return f"has {len(given)} characters; write {limits['max_length']} or fewer"
        case "too_short" | "too_long":
            wanted = limits["min_length" if kind == "too_short" else "max_length"]  # each list of ours has one length
            return f"has {format_count(len(given), 'entry')}; write {wanted}"
        case _:
            wanted = next((words for name, words in _KINDS.items() if kind.startswith(name)), "another kind of value")
            return f"{given!r} is not right here; write {wanted}"
