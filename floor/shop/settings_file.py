"""The fields of ``shop.toml``, strictly read; `floor.shop.settings` says what they mean."""

from __future__ import annotations

from datetime import date, time
from pathlib import Path
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, field_validator

from floor.figures.calendar import Calendar
from floor.figures.calendar import Shift as FiguresShift
from floor.shop.settings import FILL_LEVEL, Settings, SettingsError

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def _clock(given: Any) -> time:
    if isinstance(given, time):
        return given
    try:
        hours, minutes = str(given).split(":")
        return time(int(hours), int(minutes))
    except ValueError:
        raise ValueError(f'"{given}" is not a time of day; write it like "07:00"') from None


Clock = Annotated[time, BeforeValidator(_clock)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class _Shift(_Part):
    days: list[Literal["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]] = Field(min_length=1)
    start: Clock
    end: Clock
    breaks: list[Annotated[list[Clock], Field(min_length=2, max_length=2)]] = []
    people: int | None = Field(default=None, ge=0, le=1000)

    def shifts(self) -> list[FiguresShift]:
        breaks = tuple((first, last) for first, last in self.breaks)
        return [FiguresShift(DAYS.index(day), self.start, self.end, breaks, self.people) for day in self.days]


class _File(_Part):
    hands: int = Field(default=1, ge=1, le=1000)
    zone: str = ""
    days_off: list[date] = []
    fill_level: float = Field(default=FILL_LEVEL, gt=0, lt=1)
    shifts: list[_Shift] = []
    keys: dict[str, str] = {}

    @field_validator("zone")
    @classmethod
    def known(cls, zone: str) -> str:
        try:
            if zone:
                ZoneInfo(zone)
        except (LookupError, ValueError, OSError):
            raise ValueError(f'"{zone}" is not a time zone; write its IANA name, like "Europe/Vienna"') from None
        return zone


def read(file: Path, data: dict[str, Any], usual: Calendar) -> Settings:
    """The settings of a file.

    Args:
        usual: zone and shifts where the file does not give them.

    Raises:
        SettingsError: with every fault, each with its place.
    """
    try:
        given = _File.model_validate(data)
    except ValidationError as error:
        faults = [f"{_place(one['loc'])}: {one['msg'].removeprefix('Value error, ')}" for one in error.errors()]
        raise SettingsError(f"{file}: {'; '.join(faults)}. Set it right or leave the line out.") from None
    shifts = tuple(shift for one in given.shifts for shift in one.shifts()) or usual.shifts
    calendar = Calendar(given.zone or usual.zone, shifts, frozenset(given.days_off))
    return Settings(calendar, given.hands, given.fill_level, given.keys)


def _place(where: tuple[int | str, ...]) -> str:
    """In words, counted from 1: ``shifts 2, breaks 1``."""
    words = [str(part + 1) if isinstance(part, int) else part for part in where]
    return " ".join(words) or "the file"
