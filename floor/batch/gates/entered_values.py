"""Values as somebody typed them at a gate, checked for kind and sense."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

from floor.batch.command import LARGEST_VALUE, Refused
from floor.batch.gates.check_values import is_same_text
from floor.checklist.gate_forms import SHOWN, FormField
from floor.checklist.gates import Gate
from floor.text import format_count, sanitize

_WITH_UNIT = re.compile(r"([-+]?[\d.,]+) ?((?![eE][-+]?\d+$)[^\d\s.,+-].*)")
"""A number and what stands behind it; ``1e-05`` is a number."""
_DECIMALS = re.compile(r"\s*[-+]?\d*[.,](\d{0,11}0)(?![\d.,]|[eE][-+]?\d)")
"""A number with the digits behind its point, the last of which is a zero that the number itself would not keep."""
SPELLED = {"in": "inches"}
"""Units that would read as a word."""
PLACEHOLDERS = frozenset(("na", "nil", "no", "none", "notknown", "same", "tba", "tbd", "unknown"))
"""What people type who have no number at hand, without blanks and strokes."""
FEWEST_WORDS = 2
"""Words of the shortest finding without a figure: of what, and how it is (shop decision)."""


def read_values(gate: Gate, count: int, given: Mapping[str, Any]) -> dict[str, Any]:
    """Check the entered values for kind and sense, not against the limits."""
    values: dict[str, Any] = {}
    shown: dict[str, Any] = {}
    asks: tuple[FormField, ...] = gate.asks()
    for ask in asks:
        entered = given.get(ask.name)
        if ask.count(count) > 1:
            many = entered if isinstance(entered, list | tuple) else [entered]
            if len(many) != count:
                wrong = f"{ask.label}: {format_count(len(many), 'value')} of {count} entered"
                raise Refused("input", wrong, "enter all of them", field=ask.name)
            values[ask.name] = [read_value(ask, text, place) for place, text in enumerate(many)]
            column = [find_digits_shown(text, value) for text, value in zip(many, values[ask.name], strict=True)]
            shown |= {ask.name: column} if any(column) else {}
        else:
            text = entered[0] if isinstance(entered, list | tuple) and len(entered) == 1 else entered
            value = read_value(ask, text)
            if value is not None:
                values[ask.name] = value
                shown |= {ask.name: digits} if (digits := find_digits_shown(text, value)) else {}
    return values | ({SHOWN: shown} if shown else {})


def find_digits_shown(entered: object, value: object) -> str:
    """A number as it was typed, ``0.4740``; empty where the number says it itself."""
    typed = _DECIMALS.match(entered) if isinstance(entered, str) else None
    return f"{value:.{len(typed.group(1))}f}" if typed is not None and isinstance(value, float) else ""


def read_value(ask: FormField, entered: object, place: int = 0) -> str | float | int | None:
    """The value of one form field; None if it is empty and may be.

    Args:
        place: of several fields for the same value, which one, from 0.

    Raises:
        Refused: it is not of the kind asked for; limits are not checked here.
    """
    text = sanitize(str(entered), ask.longest + 1) if entered is not None else ""

    def refuse(wrong: str, remedy: str) -> Refused:
        return Refused("input", f"{ask.label}: {wrong}", remedy, field=ask.name, place=place)

    if len(text) > ask.longest:
        raise refuse(f"more than {ask.longest} characters", "shorten it")
    if not text:
        if ask.required:
            raise refuse("nothing entered", f"enter {ask.band or 'it'}{ask.or_else}")
        return None
    if ask.kind in ("number", "whole"):
        number = _read_number(ask, text, refuse)
        if not ask.is_possible(number):
            raise refuse(f"{number:g} is not {ask.possible}", "check the reading")
        return number
    if ask.kind == "date":
        return read_date(text, ask.label, ask.name).isoformat()
    if ask.kind == "finding" and not _says_something(text):
        raise refuse(f'"{text[:20]}" says nothing', "enter the values, or what was checked and what was found")
    if ask.kind == "look":
        return _read_look(text, refuse)
    if ask.kind == "person":
        return text.upper()
    if identifies_nothing(text) if ask.identity else not any(map(str.isalnum, text)):
        raise refuse(f'"{text[:20]}" says nothing', f"enter what its label or the control shows{ask.or_else}")
    return text


def read_lot_number(text: str, what: str, which: str) -> str:
    """The number of a lot or a gauge as typed.

    Args:
        which: ``lot number`` or ``serial number``.

    Raises:
        Refused: there is none.
    """
    lot = sanitize(text)
    if not lot:
        raise Refused("input", f"{what}: no {which} entered", f"enter the {which}", field="lot")
    if identifies_nothing(lot):
        wrong = f'{what}: "{lot[:20]}" is no {which}'
        raise Refused("input", wrong, "enter what its label shows, or mark it yourself and enter that", field="lot")
    return lot


def identifies_nothing(text: str) -> bool:
    """Whether it could stand for any lot or gauge: no letter or digit, or a word for "none"."""
    said = "".join(filter(str.isalnum, text)).casefold()
    return said.strip("x") == "" or said in PLACEHOLDERS


def read_date(text: str, what: str, field: str) -> date:
    """
    Raises:
        Refused: it is no ISO date.
    """
    entered = sanitize(text, 20)
    try:
        return date.fromisoformat(entered)
    except ValueError:
        wrong = f"{what}: {f'{entered} is not a date' if entered else 'nothing entered'}"
        raise Refused("input", wrong, "write it as YYYY-MM-DD, e.g. 2027-01-31", field=field) from None


def _says_something(text: str) -> bool:
    """Whether a finding has a digit, or several words: what was looked at, and how it is; no single "good"."""
    words = [word for word in text.split() if sum(letter.isalpha() for letter in word) > 1]
    return any(letter.isdigit() for letter in text) or len(words) >= FEWEST_WORDS


def _read_look(text: str, refuse: Callable[[str, str], Refused]) -> str:
    answer = {"y": "yes", "n": "no"}.get(text.casefold(), text.casefold())
    if answer not in ("yes", "no"):
        raise refuse(f'"{text[:20]}" is neither yes nor no', "enter yes or no")
    return answer


def _read_number(ask: FormField, text: str, refuse: Callable[[str, str], Refused]) -> float | int:
    with_unit = _WITH_UNIT.fullmatch(text)
    if with_unit is not None and ask.unit:
        text, unit = with_unit.groups()
        if not is_same_text(unit.replace(" ", ""), ask.unit.replace(" ", "")):
            wanted, given = SPELLED.get(ask.unit, ask.unit), SPELLED.get(unit, unit[:12])
            raise refuse(f"asked for in {wanted}, not {given}", f"enter it in {wanted}")
    try:
        number = float(text.replace(",", ".").replace("_", "?"))
    except ValueError:
        raise refuse(f"{text[:20]} is not a number", f"enter {ask.band or 'a number'}") from None
    whole = ask.kind == "whole"
    if not -LARGEST_VALUE < number < LARGEST_VALUE:  # refuses nan too
        raise refuse(f"{text[:20]} makes no sense", f"enter {ask.band or 'a number'}")
    if whole and number != int(number):
        raise refuse(f"{text[:20]} is not a whole number", f"enter {ask.band or 'one'}")
    if whole and number < 0 == ask.low:
        raise refuse(f"{text[:20]} makes no sense", f"enter {ask.band or 'a number'}")
    return int(number) if whole else number
