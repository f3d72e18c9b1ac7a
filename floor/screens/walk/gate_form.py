"""The fields of a gate: one for each value it asks for, its limits beside it, and where the value lies in them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from floor.batch.command import Refused
from floor.batch.gates.check_values import find_values_outside, is_same_text, list_texts
from floor.batch.gates.entered_values import read_value
from floor.batch.gauge import Gauge, find_gauge
from floor.checklist.gate_forms import FormField
from floor.screens.forms.fields import FieldSpec
from floor.screens.frame.theme import draw_band


def list_gate_fields(
    asks: tuple[FormField, ...],
    times: int,
    tried: Mapping[str, Any] | None = None,
    serials: Mapping[str, str] | None = None,
    gauges: Mapping[str, Gauge] | None = None,
    places: Sequence[str] = (),
    station: str = "",
) -> list[FieldSpec]:
    """The fields in which the values of a gate are entered.

    Args:
        times: for how many pieces.
        tried: what was entered and does not do; what of it lies within its limits stands there again, unless it
            was entered of another tool or offset. Also what is known beforehand.
        serials: form field → the serial number that it can only be, or the place of a first piece, which stands there
            and Enter passes by.
        gauges: the shop's register, which says beside a serial number what is known of it.
        places: of the pieces to measure, one for each; none where they have no places.
        station: where the tools are that a field asks for.
    """
    if tried and any(find_values_outside((ask,), tried) for ask in asks if ask.identity):
        tried = None
    tried = tried or {}
    columns = [
        [
            _make_field(
                ask,
                _name_field(ask, n, times, places),
                tried,
                kept,
                (serials or {}).get(ask.name, ""),
                gauges,
                station,
            )
            for n, kept in enumerate(_kept(ask, tried, ask.count(times)))
        ]
        for ask in asks
    ]
    return _order_by_piece(columns, times)


def _make_field(
    ask: FormField,
    label: str,
    tried: Mapping[str, Any],
    kept: str,
    only: str,
    gauges: Mapping[str, Gauge] | None,
    station: str,
) -> FieldSpec:
    return FieldSpec(
        ask.name,
        label,
        kept or only or _find_typed(ask, tried) or ask.default,
        number=ask.kind in ("number", "whole"),
        unit=ask.unit,
        kept=bool(kept or only),
        known=bool(only),
        identity=ask.identity,
        tool_at=station if ask.name == "tool" else "",
        beside=partial(_say_registered, gauges or {}) if ask.kind == "gauge" else partial(_band, ask),
        check=partial(find_fault, ask._replace(label=label)),  # names which of several pieces
        longest=ask.longest,
    )


def _order_by_piece(columns: list[list[FieldSpec]], times: int) -> list[FieldSpec]:
    """All values of one piece before the next is taken up; what is asked once stands last."""
    of_pieces = [column for column in columns if len(column) == times]
    once = [column for column in columns if len(column) != times]
    return [field for row in zip(*of_pieces, strict=True) for field in row] + [field for one in once for field in one]


def _name_field(ask: FormField, n: int, times: int, places: Sequence[str]) -> str:
    """What is asked, behind the place of the piece that the value is of, or which of several it is."""
    if ask.kind in ("number", "look") and len(places) == times:
        return f"{places[n]} {ask.label}"
    return f"{ask.label} {n + 1}" if ask.count(times) > 1 else ask.label


def _say_registered(gauges: Mapping[str, Gauge], typed: str) -> str:
    """What the register has for a serial number as it is typed; nothing while the shop keeps none."""
    gauge = find_gauge(gauges, typed)
    if gauge is None:
        return "not in the register" if gauges and typed.strip() else ""
    return f"{gauge.name}, {f'withdrawn: {gauge.withdrawn}' if gauge.withdrawn else f'due {gauge.due}'}"


def _find_typed(ask: FormField, tried: Mapping[str, Any]) -> str:
    """Readings as they were typed: more are added behind them."""
    return str(tried.get("typed", "")) if ask.kind == "readings" else ""


def find_fault(ask: FormField, typed: str) -> str:
    """What is wrong with a text as a value of a field; empty where nothing is."""
    try:
        read_value(ask, typed)
    except Refused as refused:
        return str(refused)
    return ""


def _kept(ask: FormField, tried: Mapping[str, Any], times: int) -> list[str]:
    """For each piece what was entered of it within its limits; empty where it has to be measured."""
    entered = tried.get(ask.name)
    values = entered if isinstance(entered, list) else [entered]
    good = [
        ("" if ask.only and not is_same_text(one, ask.only) else one)
        if isinstance(one, str)
        else text
        if _within(ask, one)
        else ""
        for one, text in zip(values, list_texts(tried, ask.name), strict=True)
    ]
    if len(good) != times:  # a piece was set aside meanwhile: which value was whose is not known by its place
        good = [one for one in good if one]
    return [*good, *[""] * times][:times]


def _within(ask: FormField, value: Any) -> bool:
    inside = isinstance(value, int | float) and (ask.low is None or value >= ask.low)
    return inside and (ask.high is None or value <= ask.high)


def _band(ask: FormField, typed: str) -> str:
    """The limits in words, and where the value lies in them once it is a number."""
    try:
        value = float(typed.replace(",", "."))
    except ValueError:
        return ask.answer
    shown = draw_band(value, ask.low, ask.high)
    return f"{ask.answer}  {shown}" if shown else ask.answer
