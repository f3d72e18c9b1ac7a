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

    [[shifts]]                      # a shift on single days, be they off or not; the weekly ones stay
    dates = [2026-12-05]
    start = "07:00"
    end = "12:00"

    [keys]                          # other keys than the usual ones, by their names
    letters = "alt"                 # no key is a single letter: Alt goes with each
    skip = "f9"
"""

from __future__ import annotations

import errno
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, time, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Any

from floor.ledger.files import REAL_FILES, read_whole
from floor.wall import zone_of

if TYPE_CHECKING:  # the program opens with the keys of the file alone, and most shops have none
    from floor.figures.calendar import Calendar

FILE = "shop.toml"
FILL_LEVEL = 0.9
"""P(order filled) below which Floor speaks, where the file does not say (shop decision)."""

MOST_BYTES = 100_000
"""No settings come near it; a file beyond it is something else."""
MEND = "Fix it or move it away."


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
        now: the shop's clock; where the file names no zone, it is the clock's.

    Raises:
        SettingsError: the file is there and is wrong.
    """
    found = _read_toml(folder)
    if found is None:
        return Settings(_one_shift(zone_of(now)))
    from floor.shop.settings_file import read  # only now: most shops have no file, and the reader costs time

    return read(folder / FILE, *found, _one_shift(zone_of(now)))


def load_zone(folder: Path) -> tzinfo | None:
    """The zone on whose wall the shop's times are shown; None for the clock's own, where the file names none.

    Raises:
        SettingsError: there is no such zone. A file that cannot be read names none, and its other readers say so.
    """
    try:
        found = _read_toml(folder)
    except SettingsError:
        return None
    name = found[1].get("zone") if found is not None else None
    try:
        return named_zone(name) if name and isinstance(name, str) else None
    except ValueError as error:
        raise SettingsError(f"{folder / FILE}: zone: {error}. Until then times are shown by this "
                            f"machine's clock. {MEND}") from None


def named_zone(name: str) -> tzinfo:
    """The rules of a zone by its IANA name. Raises `ValueError` where there is none of that name."""
    from zoneinfo import ZoneInfo

    try:
        return ZoneInfo(name)
    except (LookupError, ValueError, OSError):
        raise ValueError(f'"{name[:40]}" is not a time zone; write its IANA name, like "Europe/Vienna"') from None


def load_keys(folder: Path, now: datetime) -> Mapping[str, str]:
    """The keys that the shop's file asks for; its fields are read strictly only where it asks for some.

    Raises:
        SettingsError: the file asks for keys and is wrong, or nobody can tell whether it asks for some.
    """
    found = _read_toml(folder)
    return load_settings(folder, now).keys if found is not None and "keys" in found[1] else {}


def _read_toml(folder: Path) -> tuple[str, dict[str, Any]] | None:
    """The text of the shop's file and what it says; None where there is none. Raises `SettingsError`."""
    file = folder / FILE
    try:
        text = read_whole(REAL_FILES, file, MOST_BYTES).decode("utf-8-sig")
    except FileNotFoundError:
        return None
    except UnicodeDecodeError as error:
        raise SettingsError(f"{file}: cannot be read: {error}. {MEND}") from None
    except ValueError:
        raise SettingsError(f"{file}: larger than {MOST_BYTES // 1000} kB, so not the settings. {MEND}") from None
    except OSError as error:
        why = "it is not a file" if error.errno in (errno.EINVAL, errno.EISDIR) else error.strerror
        raise SettingsError(f"{file}: cannot be read: {why}. {MEND}") from None
    import tomllib

    try:
        data = tomllib.loads(text)
        from floor.checklist.line_numbers import nested_deeper  # most shops have no file

        if nested_deeper(data):
            raise RecursionError
        return text, data
    except RecursionError:
        wrong = "brackets are nested too deep"
    except ValueError as error:  # not only TOML's own
        wrong = str(error) if isinstance(error, tomllib.TOMLDecodeError) else "a number has too many digits"
    raise SettingsError(f"{file}: cannot be read: {wrong}. {MEND}")


def _one_shift(zone: tzinfo) -> Calendar:
    from floor.figures.calendar import Calendar

    return Calendar.weekly(zone, range(5), time(7), time(15, 30), (time(11, 30), time(12)))

