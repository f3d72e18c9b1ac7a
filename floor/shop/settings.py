"""When the shop works, with how many hands and which keys: ``shop.toml`` in the shop's folder.

The file may be left out; then it is one pair of hands, Monday to Friday 07:00 to 15:30 with a break from 11:30 to
12:00, in the machine's time zone. All its fields may be left out too::

    hands = 2                       # operators on each shift that does not say its own number
    zone = "Europe/Vienna"          # IANA name of the time zone
    days_off = [2026-12-25]         # no shift starts on these days
    fill_level = 0.9                # Floor speaks when P(order filled) falls below this

    [[shifts]]                      # as many as there are; without any, the shift above
    days = ["Mon", "Tue", "Wed", "Thu", "Fri"]
    start = "06:00"
    end = "14:00"                   # at or before the start: on the next day
    breaks = [["09:00", "09:15"], ["12:00", "12:30"]]
    people = 1                      # instead of hands

    [keys]                          # other keys than the usual ones, by their names
    letters = "alt"                 # no key is a single letter: Alt goes with each
    skip = "f9"
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, time
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from floor.figures.calendar import Calendar

FILE = "shop.toml"
FILL_LEVEL = 0.9
"""P(order filled) below which Floor speaks, where the file does not say (shop decision)."""


class SettingsError(ValueError):
    """The shop's settings cannot be read: which file, where in it, what is wrong and what is right."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What the plan needs to know of the shop."""

    calendar: Calendar
    hands: int = 1
    fill_level: float = FILL_LEVEL
    keys: Mapping[str, str] = field(default_factory=dict)
    """Name of a key in the program → key asked for."""


def load_settings(folder: Path, now: datetime) -> Settings:
    """The settings of a shop's folder.

    Args:
        now: the shop's clock; where the file names no zone and the machine's does not fit it, its offset is taken.

    Raises:
        SettingsError: the file is there and is wrong.
    """
    file = folder / FILE
    try:
        text = file.read_text(encoding="utf-8")
        data = tomllib.loads(text)
    except FileNotFoundError:
        return Settings(_one_shift(machine_zone(now)))
    except (OSError, ValueError, RecursionError) as error:  # not only TOML's own: a number of 5,000 digits, say
        raise SettingsError(f"{file}: cannot be read: {error}. Set it right or move it away.") from None
    from floor.shop.settings_file import read  # only now: most shops have no file, and the reader costs time

    return read(file, text, data, _one_shift(machine_zone(now)))


def load_keys(folder: Path, now: datetime) -> Mapping[str, str]:
    """The keys that the shop's file asks for; the file is read strictly only where it asks for some.

    Raises:
        SettingsError: the file asks for keys, and is wrong.
    """
    try:
        if "keys" not in tomllib.loads((folder / FILE).read_text(encoding="utf-8")):
            return {}
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
        return {}  # the plan, which needs it, says what is wrong with it
    return load_settings(folder, now).keys


def _one_shift(zone: str) -> Calendar:
    return Calendar.weekly(zone, range(5), time(7), time(15, 30), (time(11, 30), time(12)))


def machine_zone(now: datetime) -> str:
    """IANA name of the machine's zone; one of fixed offset where that is unknown or does not agree with the clock."""
    for name in (os.environ.get("TZ", ""), _linked()):
        try:
            if name and now.astimezone(ZoneInfo(name)).utcoffset() == now.utcoffset():
                return name
        except (ZoneInfoNotFoundError, ValueError, OSError):
            continue
    offset = now.utcoffset()
    hours = round(offset.total_seconds() / 3600) if offset is not None else 0
    return f"Etc/GMT{-hours:+d}" if hours else "UTC"


def _linked() -> str:
    """What ``/etc/localtime`` points to, as a zone's name."""
    try:
        return os.readlink("/etc/localtime").partition("zoneinfo/")[2]
    except OSError:
        return ""
