"""Read ``shop.toml`` if there is one, or just the part somebody needs."""

from __future__ import annotations

import errno
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, time, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Any

from floor.ledger.files import REAL_FILES, read_whole
from floor.shop.settings import (
    FILE,
    LONGEST_QUESTION,
    MOST_BYTES,
    MOST_QUESTIONS,
    Settings,
    SettingsError,
    find_zone,
)
from floor.text import cut, format_count, sanitize
from floor.wall import get_zone

if TYPE_CHECKING:
    from floor.figures.calendar import Calendar

GAUGE_RULE = "registered_gauges_only"
PIN_RULE = "pin_for_everyone"
APPROVAL_RULE = "approved_checklists_only"


def load_settings(folder: Path, now: datetime) -> Settings:
    """The settings of a shop folder.

    Args:
        now: the shop's clock; its zone is used if the file names none.

    Raises:
        SettingsError: the file exists and has errors.
    """
    found = _read_toml(folder)
    if found is None:
        return Settings(_one_shift(get_zone(now)))
    from floor.shop.settings_schema import (
        parse_settings,
    )  # imported here: most shops have no file, and the reader costs time

    return parse_settings(folder / FILE, *found, _one_shift(get_zone(now)))


def describe_wrong_settings(folder: Path, now: datetime, until_right: Iterable[str]) -> str:
    """All that is wrong in the shop's file, a line each, and what applies meanwhile; empty if nothing is.

    Args:
        until_right: what those who read only a part of the file do without it.
    """
    try:
        load_settings(folder, now)
    except SettingsError as wrong:
        lines = [f"{wrong.file}: {format_count(len(wrong.faults), 'mistake')}", *wrong.faults]
        until = "; ".join(["there is no plan", *until_right])
        return "\n".join([*lines, f"Until then {until}.", f"{wrong.mend} Then start Floor again."])
    return ""


def load_readable_settings(folder: Path, now: datetime) -> Settings | None:
    """The settings; None if the file has errors, which its other readers report."""
    try:
        return load_settings(folder, now)
    except SettingsError:
        return None


def load_zone(folder: Path) -> tzinfo | None:
    """The zone for the shop's times; None for the clock's own if the file names none.

    Raises:
        SettingsError: there is no such zone. A file that cannot be read names none; its other readers report it.
    """
    try:
        found = _read_toml(folder)
    except SettingsError:
        return None
    name = found[1].get("zone") if found is not None else None
    try:
        return find_zone(name) if name and isinstance(name, str) else None
    except ValueError as error:
        raise SettingsError(folder / FILE, [f"zone: {error}"]) from None


def load_rule(folder: Path, name: str) -> bool:
    """Whether the shop has made a rule of this name; without one it has not.

    Raises:
        SettingsError: nobody can tell, because the file cannot be read, says neither yes nor no, or has that name
            misspelled or in a table.
    """
    found = _read_toml(folder)
    data = found[1] if found is not None else {}
    rule = data.get(name)
    if isinstance(rule, bool):
        return rule
    if rule is not None:
        wrong = f"{name} is neither true nor false; write it without quotes"
    elif like := _find_like(name, _list_names(data)):
        in_table = like == name
        wrong = f'"{like}" ' + (
            "stands in a table; move it to the top" if in_table else f"is not a field; write {name}"
        )
    else:
        return False
    raise SettingsError(folder / FILE, [wrong])


def load_handover_rules(folder: Path) -> tuple[float, tuple[str, ...]]:
    """Hours after which a shift is a long one, and what the shop asks for at each handover.

    0 and nothing where the file says none or cannot be read, which others report.
    """
    try:
        found = _read_toml(folder)
    except SettingsError:
        return 0.0, ()
    data = found[1] if found is not None else {}
    hours, asked = data.get("long_shift_hours", 0), data.get("handover_questions", [])
    is_number = isinstance(hours, int | float) and not isinstance(hours, bool) and hours > 0
    questions = (
        [cut(sanitize(one), LONGEST_QUESTION) for one in asked if isinstance(one, str)]
        if isinstance(asked, list)
        else []
    )
    return float(hours) if is_number else 0.0, tuple(dict.fromkeys(filter(None, questions)))[:MOST_QUESTIONS]


def load_scrap_place(folder: Path) -> str:
    """Where marked scrap lies; empty where the file names no place or cannot be read, which others report."""
    try:
        found = _read_toml(folder)
    except SettingsError:
        return ""
    place = found[1].get("scrap_place", "") if found is not None else ""
    return sanitize(place, 60) if isinstance(place, str) else ""


def _list_names(data: Mapping[str, Any]) -> Iterator[str]:
    """Of fields and tables, at any depth."""
    for name, value in data.items():
        yield name
        for one in value if isinstance(value, list) else [value]:
            if isinstance(one, dict):
                yield from _list_names(one)


def _find_like(wanted: str, names: Iterable[str]) -> str:
    """The name that is or is most like the one wanted; empty if none is much like it."""
    others = Settings.__annotations__.keys() - {wanted}
    folded = {name.casefold(): name for name in names if 2 * len(name) > len(wanted) and name not in others}
    if not folded:
        return ""
    from difflib import get_close_matches  # hardly any file has another name that long

    return folded.get(next(iter(get_close_matches(wanted, folded, 1, 0.7)), ""), "")


def load_keys(folder: Path, now: datetime) -> Mapping[str, str]:
    """The keys the shop's file asks for; its fields are read strictly only if it asks for any.

    Raises:
        SettingsError: the file asks for keys and has errors, or nobody can tell whether it asks for any.
    """
    found = _read_toml(folder)
    return load_settings(folder, now).keys if found is not None and "keys" in found[1] else {}


def _read_toml(folder: Path) -> tuple[str, dict[str, Any]] | None:
    """The text of the shop's file and its data; None if there is no file. Raises `SettingsError`."""
    file = folder / FILE
    try:
        text = read_whole(REAL_FILES, file, MOST_BYTES).decode("utf-8-sig")
    except FileNotFoundError:
        return None
    except UnicodeDecodeError as error:
        raise SettingsError(file, [f"cannot be read: {error}"]) from None
    except ValueError:
        raise SettingsError(file, [f"larger than {MOST_BYTES // 1000} kB: not a settings file"]) from None
    except OSError as error:
        why = "it is not a file" if error.errno in (errno.EINVAL, errno.EISDIR) else error.strerror
        raise SettingsError(file, [f"cannot be read: {why}"]) from None
    import tomllib

    try:
        data = tomllib.loads(text)
        from floor.checklist.line_numbers import is_nested_deeper  # most shops have no file

        if is_nested_deeper(data):
            raise RecursionError
        return text, data
    except RecursionError:
        wrong = "brackets are nested too deep"
    except ValueError as error:  # not only TOML's own
        wrong = str(error) if isinstance(error, tomllib.TOMLDecodeError) else "a number has too many digits"
    raise SettingsError(file, [f"cannot be read: {wrong}"])


def _one_shift(zone: tzinfo) -> Calendar:
    from floor.figures.calendar import Calendar

    return Calendar.weekly(zone, range(5), time(7), time(15, 30), (time(11, 30), time(12)))
