"""Values entered at a gate: their text, which are out of limits, how many are asked for."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import zip_longest
from typing import Any

from floor.batch.events import ReadAgain
from floor.batch.open_items import OutOfLimits
from floor.checklist.gate_forms import CALIBRATION, SHOWN, FormField
from floor.checklist.gates import FirstPiece, Measured


def format_values(asks: tuple[FormField, ...], values: Mapping[str, Any], places: Sequence[str] = ()) -> str:
    """The values with their units: ``X -12 in, Y -8 in``.

    Args:
        places: of the pieces that they are of, one for each, which then stand before the values: ``A1 3.0, B2 3.1 mm``.
    """
    told = [ask for ask in asks if ask.name in values]
    said = [" ".join(filter(None, (ask.short, _format_column(ask, values, places), ask.unit))) for ask in told]
    kept = [say_calibration(values, str(values[ask.name])) if ask.kind == "gauge" else "" for ask in told]
    return ", ".join(f"{text} ({note})" if note else text for text, note in zip(said, kept, strict=True))


def _format_column(ask: FormField, values: Mapping[str, Any], places: Sequence[str]) -> str:
    texts = list_texts(values, ask.name)
    if ask.kind in OF_A_PIECE and len(texts) == len(places):
        texts = [f"{place} {text}" for place, text in zip(places, texts, strict=True)]
    return ", ".join(texts)


def list_texts(values: Mapping[str, Any], name: str) -> list[str]:
    """Each value of a field as text, with the digits that the gauge showed where they are on record."""
    given, shown = values.get(name), values.get(SHOWN, {}).get(name, "")
    many = given if isinstance(given, list) else [given]
    digits = shown if isinstance(shown, list) else [shown] * len(many)
    return [format_value(one, text) for one, text in zip_longest(many, digits[: len(many)], fillvalue="")]


def say_calibration(values: Mapping[str, Any], serial: str) -> str:
    """``due 2027-01-31`` or ``not in the register``: a gauge as it was when used; empty if not on record."""
    due = values.get(CALIBRATION, {}).get(serial)
    return "" if due is None else f"due {due}" if due else "not in the register"


def format_value(value: object, shown: str = "") -> str:
    """
    Args:
        shown: as the gauge showed it; empty where nobody knows, or the number says it itself.
    """
    return shown or (f"{value:.10g}" if isinstance(value, float) else str(value))


def format_reading(one: ReadAgain) -> str:
    """``groove depth 3.05 mm``."""
    return " ".join(filter(None, (one.what, format_value(one.value, one.shown), one.unit)))


def find_values_outside(asks: tuple[FormField, ...], values: Mapping[str, Any]) -> list[str]:
    """Each value out of limits, in words."""
    found = []
    for ask in asks:
        given = values.get(ask.name)
        texts = list_texts(values, ask.name)
        for one, text in zip(given if isinstance(given, list) else [given], texts, strict=True):
            if ask.only and isinstance(one, str) and not is_same_text(one, ask.only):
                found.append(f"{ask.short or ask.label} {one}, must be {ask.only}")
            if not isinstance(one, int | float):
                continue
            if (ask.low is not None and one < ask.low) or (ask.high is not None and one > ask.high):
                found.append(f"{ask.label} {text}, must be {ask.band}")
    return found


def format_values_outside(one: OutOfLimits) -> str:
    """What of a reading was out of limits, each value once: ``groove depth 3.2 mm, must be 2.9 to 3.1 mm``."""
    return "; ".join(dict.fromkeys(find_values_outside(one.gate.asks(), one.values)))


def find_missing_or_outside(asks: tuple[FormField, ...], values: dict[str, Any]) -> list[str]:
    """Each missing value or value out of limits, in words: a proof may come from another operation."""
    missing = [f"{ask.label} not recorded yet" for ask in asks if ask.required and ask.name not in values]
    return missing + find_values_outside(asks, values)


OF_A_PIECE = ("number", "whole", "look")
"""Kinds of fields that each piece has a value of."""


def put_value(values: Mapping[str, Any], name: str, nth: int, value: object, shown: str) -> dict[str, Any]:
    """The values of a reading with the one of a piece replaced, and with its digits as the gauge showed them."""
    given, digits = values[name], values.get(SHOWN, {})
    if isinstance(given, list):
        before = digits.get(name) or [""] * len(given)
        texts: Any = [*before[:nth], shown, *before[nth + 1 :]]
        value = [*given[:nth], value, *given[nth + 1 :]]
    else:
        texts = shown
    return {**values, name: value} | ({SHOWN: digits | {name: texts}} if shown or SHOWN in values else {})


def split_by_piece(gate: Measured | FirstPiece, values: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The values of a reading, those of each piece by themselves, in the order entered."""
    columns = {
        ask.name: given if isinstance(given, list) else [given]
        for ask in gate.asks()
        if ask.kind in OF_A_PIECE and (given := values.get(ask.name)) is not None
    }
    texts = {name: list_texts(values, name) for name in columns} if SHOWN in values else {}
    count = max((len(column) for column in columns.values()), default=0)
    return [
        {name: column[n] for name, column in columns.items() if n < len(column)}
        | ({SHOWN: {name: column[n] for name, column in texts.items() if n < len(column)}} if texts else {})
        for n in range(count)
    ]


def count_values_outside(gate: Measured | FirstPiece, values: Mapping[str, Any]) -> int:
    """How many pieces (for a station: readings) are out of limits."""
    if isinstance(gate, Measured) and gate.accept:
        return int(values.get("faulty", 0))
    asks = gate.asks()
    return sum(bool(find_values_outside(asks, one)) for one in split_by_piece(gate, values))


_NUMBERED = re.compile(r"o?0*(\d+)")
"""A program number with what it may have before it; it is the whole word."""


def is_same_text(shown: str, wanted: str) -> bool:
    """Whether the control shows the expected text, ignoring case and extra blanks."""
    return shown.casefold().split() == wanted.casefold().split()


def is_same_program(shown: str, wanted: str) -> bool:
    """Whether the control shows the program: of a number neither its letter O nor its leading zeros say anything
    (ISO 6983)."""
    return _normalize_program(shown) == _normalize_program(wanted)


def _normalize_program(text: str) -> list[str]:
    return [match[1] if (match := _NUMBERED.fullmatch(word)) else word for word in text.casefold().split()]
