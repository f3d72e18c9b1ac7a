"""Values that look typed in another unit, with the point elsewhere, or with the wrong sign; lots nearly alike."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from floor.batch.command import Refused
from floor.batch.gates.check_values import format_value
from floor.batch.gates.entered_values import find_digits_shown, read_value
from floor.batch.proof import RunKey, SetupKey, read_lot
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gate_forms import FormField
from floor.checklist.gates import Gate, LotRecorded
from floor.figures.quality.describe_values import find_slip_factor
from floor.figures.units import MM_PER_INCH

READ_IN = {("mm", MM_PER_INCH): "in", ("in", 1 / MM_PER_INCH): "mm"}
"""(unit asked for, factor) → the unit that was read instead."""


class ValueSlip(NamedTuple):
    """A value out of limits that would be inside them if it were multiplied."""

    ask: FormField
    value: float
    factor: float
    shown: str = ""
    """The value as the gauge showed it; empty where the number says it itself."""
    place: int = 0
    """Which of the values that its field asks for, from 0."""


def find_value_slip(asks: tuple[FormField, ...], typed: Mapping[str, Any]) -> ValueSlip | None:
    """The first such value as it was typed; None if there is none. What is no number is somebody else's matter.

    Limits about zero are those of a deviation, of which ten times, or the other sign, is nothing odd.
    """
    for ask in asks:
        if ask.kind != "number" or ask.low is None or ask.high is None or ask.low <= 0 <= ask.high:
            continue
        given = typed.get(ask.name)
        for place, one in enumerate(given if isinstance(given, list | tuple) else [given]):
            try:
                value = read_value(ask, one)
            except Refused:
                continue
            factor = find_slip_factor(value, ask.low, ask.high) if isinstance(value, int | float) else None
            if factor is not None and isinstance(value, int | float):
                return ValueSlip(ask, value, factor, find_digits_shown(one, value), place)
    return None


def describe_slip(slip: ValueSlip) -> str:
    """``groove depth 0.118 mm is out of 2.9 to 3.1 mm. 0.118 in would be inside. Did you read 0.118 mm?``"""
    shown = format_value(slip.value, slip.shown)
    read = f"{shown} {slip.ask.unit}".strip()
    other = READ_IN.get((slip.ask.unit, slip.factor), "")
    meant = f"{shown} {other}" if other else f"{slip.value * slip.factor:g} {slip.ask.unit}".strip()
    return f"{slip.ask.label} {read} is out of {slip.ask.band}. {meant} would be inside. Did you read {read}?"


def find_lot_slip(batch: Batch, run: Run, line: str, gate: Gate, typed: Mapping[str, Any]) -> str:
    """The lot recorded last of the same material, if the typed one is a letter away from it; empty if not."""
    if not isinstance(gate, LotRecorded):
        return ""
    known = [batch.lots[gate.what]] if gate.what in batch.lots else []
    known += [
        read_lot(proof)
        for key, proof in batch.proofs.items()
        if isinstance(key, RunKey | SetupKey)
        and (key.gate, key.line) == (gate.gate, line)
        and proof.run in batch.runs
        and batch.runs[proof.run].op == run.op
    ]
    last = max(known, key=lambda one: one.seq, default=None)
    return last.lot if last is not None and _is_a_letter_away(str(typed.get("lot", "")).strip(), last.lot) else ""


def _is_a_letter_away(typed: str, known: str) -> bool:
    """Whether one letter is missing, is too many, or is another; capitals aside."""
    typed, known = typed.casefold(), known.casefold()
    same = next((n for n, (one, other) in enumerate(zip(typed, known, strict=False)) if one != other), None)
    at = min(len(typed), len(known)) if same is None else same
    rest, wanted = typed[at:], known[at:]
    return bool(typed) and typed != known and wanted in (rest[1:], wanted[:1] + rest[1:], wanted[:1] + rest)


def describe_lot_slip(typed: str, known: str) -> str:
    """``Is yE-200 a different lot from E-200, which was recorded last?``"""
    return f"Is {typed.strip()} a different lot from {known}, which was recorded last?"
