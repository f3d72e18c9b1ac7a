"""Settings of a control as typed: ``dwell=seconds``, ``rapid="400 in/min"``, ``M71=air``."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any, get_args

from floor.checklist.units import EXAMPLES, read_measure
from floor.evidence.nc.dialect import Dialect, Medium, list_choices

RAPID, TOOL_CHANGE = "rapid", "tool-change-time"
_M_CODE = re.compile(r"m0*(\d{1,3})", re.ASCII | re.IGNORECASE)
_RATES = re.compile(r"([\d.]+(?: *, *[\d.]+ *, *[\d.]+)?) *(\D*)", re.ASCII)


class SettingRefused(ValueError):
    """A setting that cannot be understood.

    Attributes:
        wrong: what it is; no period.
        right: what it should be; no period.
    """

    def __init__(self, wrong: str, right: str) -> None:
        super().__init__(f"{wrong}; {right}")
        self.wrong, self.right = wrong, right


def read_settings(given: Iterable[str]) -> Dialect:
    """The dialect by settings such as ``dwell=seconds``; the last one of a name counts.

    Raises:
        SettingRefused: a name or value that is none.
    """
    choices = {name.replace("_", "-"): one for name, one in list_choices().items()}
    read: dict[str, Any] = {}
    media: dict[int, Medium] = {}
    for text in given:
        name, _, value = (part.strip() for part in text.partition("="))
        name = name.lower().replace("_", "-")
        m_code = _M_CODE.fullmatch(name)
        if m_code:
            media[int(m_code[1])] = _choose(text, value, get_args(Medium))
        elif name == RAPID:
            read["rapid"] = _read_rapid(text, value)
        elif name == TOOL_CHANGE:
            read["tool_change_seconds"] = _read_size(text, value, "time")
        elif name in choices:
            read[name.replace("-", "_")] = _choose(text, value, choices[name])
        else:
            names = ", ".join([*choices, RAPID, TOOL_CHANGE])
            raise SettingRefused(f'"{text}" is not a setting', f"choose from {names}, or an M-code as M71=air")
    return Dialect(**read, m_codes=tuple(media.items()))


def read_control(control: Mapping[str, str], more: Iterable[str] = ()) -> Dialect:
    """The dialect by a station's ``control``, and by settings that take precedence over it.

    Raises:
        SettingRefused: a name or value that is none.
    """
    return read_settings([*(f"{name}={value}" for name, value in control.items()), *more])


def _choose(text: str, value: str, choices: tuple[Any, ...]) -> Any:
    if value not in choices:
        raise SettingRefused(f'"{text}" is not a setting', f"choose {' or '.join(choices)}")
    return value


def _read_rapid(text: str, value: str) -> tuple[float, float, float]:
    """One rate for X, Y and Z, or three: ``400 in/min`` or ``9000, 9000, 6000 mm/min``."""
    found = _RATES.fullmatch(value)
    if not found:
        raise SettingRefused(f'"{text}" is not a rate', f'write it like {RAPID}="400 in/min"')
    rates = [_read_size(text, f"{number.strip()} {found[2]}", "feed") for number in found[1].split(",")]
    return rates[0], rates[-2] if len(rates) > 1 else rates[0], rates[-1]


def _read_size(text: str, value: str, dimension: str) -> float:
    try:
        size = read_measure(value, dimension).base
    except ValueError as error:
        raise SettingRefused(f'"{value}" is not a {dimension}', f'write it like "{EXAMPLES[dimension]}"') from error
    if size <= 0:
        raise SettingRefused(f'"{text}" is not above 0', "give what the machine does")
    return size
