"""Values of a reading out of limits that were read once more, or corrected: what then stands, and how it reads.

The first reading of a piece stays in sight beside the second; a value typed wrong gives way to the corrected one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from floor.batch.gates.check_values import (
    find_values_outside,
    format_value,
    format_values,
    list_texts,
    put_value,
    split_by_piece,
)
from floor.batch.open_items import OutOfLimits, SecondReading
from floor.checklist.gate_forms import SHOWN, FormField
from floor.checklist.gates import Measured


def find_values_corrected(one: OutOfLimits) -> Mapping[str, Any]:
    """The values of a reading as they were read, without those typed wrong."""
    return _replace(one, (each for each in one.again if each.corrects))


def find_values_standing(one: OutOfLimits) -> Mapping[str, Any]:
    """The values of a reading after all that was corrected, or good when it was read again."""
    return _replace(one, (each for each in one.again if each.corrects or each.good))


def find_values_read_last(one: OutOfLimits) -> Mapping[str, Any]:
    """The values of a reading as they were corrected or read last, in limits or not."""
    counts = isinstance(one.gate, Measured) and one.gate.accept
    return _replace(one, (each for each in one.again if each.good or not counts))


def find_first_readings(one: OutOfLimits) -> dict[tuple[int, str], str]:
    """(Of which piece, field of the form) → what was read first, of the values that were read again."""
    first = find_values_corrected(one)
    again = {(each.nth, each.name) for each in one.again if not each.corrects}
    return {(nth, name): list_texts(first, name)[nth] for nth, name in again}


def _replace(one: OutOfLimits, chosen: Iterable[SecondReading]) -> Mapping[str, Any]:
    values = one.values
    for each in chosen:
        values = put_second(one, values, each)
    return values


def put_second(one: OutOfLimits, values: Mapping[str, Any], each: SecondReading) -> Mapping[str, Any]:
    """The values with a second reading in the place of the first; of pieces only looked at, one fewer fails."""
    counts = isinstance(one.gate, Measured) and one.gate.accept
    return put_value(values, each.name, each.nth, values[each.name] - 1 if counts else each.value, each.shown)


def find_outside_by_piece(one: OutOfLimits) -> dict[int, list[str]]:
    """Piece → what of it is out of limits, in words; nothing where the record does not say whose values they are."""
    values = find_values_standing(one)
    if len(split_by_piece(one.gate, values)) != len(one.pieces):
        return {}
    asks = one.gate.asks()
    standing = split_by_piece(one.gate, values)
    return {
        piece: list_faults(one, n) if find_values_outside(asks, standing[n]) else []
        for n, piece in enumerate(one.pieces)
    }


def list_faults(one: OutOfLimits, nth: int) -> list[str]:
    """What was out of limits of a piece, with what was read again: ``width 6.2, again 6.05 (burr), must be …``."""
    first = split_by_piece(one.gate, find_values_corrected(one))[nth]
    found = []
    for ask in one.gate.asks():
        if wrong := find_values_outside((ask,), first):
            again = [each for each in one.again if (each.nth, each.name) == (nth, ask.name) and not each.corrects]
            found.append(_say_with_second(ask, first, again) if again else wrong[0])
    return found


def _say_with_second(ask: FormField, first: Mapping[str, Any], again: Iterable[SecondReading]) -> str:
    (read,) = list_texts(first, ask.name)
    seconds = "".join(f", again {format_value(each.value, each.shown)} ({each.why})" for each in again)
    return f"{ask.short or ask.label} {read}{seconds}, must be {ask.band}"


def say_second(one: OutOfLimits, each: SecondReading, place: str) -> str:
    """``A1 groove depth again 3.05 mm, dirty gauge (AA)``.

    Args:
        place: of the piece; empty where nobody can tell.
    """
    ask = next(ask for ask in one.gate.asks() if ask.name == each.name)
    read = format_values((ask._replace(short=""),), {ask.name: each.value, SHOWN: {ask.name: each.shown}})
    whose = f"{place} {ask.short}".strip() if place else f"the same piece {ask.short}".strip()
    how = "corrected to" if each.corrects else "again"
    return f"{whose} {how} {read}, {each.why} ({each.by})"
