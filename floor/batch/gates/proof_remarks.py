"""What to know about a proof besides its values, in words: one function for each kind of gate that has its own."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from floor.batch.gates.check_values import find_values_outside, is_same_program
from floor.batch.gates.dew_point import measure_dew
from floor.batch.gates.soak_outcome import describe_over_temperature, describe_soak, read_outcome
from floor.batch.state import Batch
from floor.checklist.gate_forms import NO_STAGE, STAGE
from floor.checklist.gates import AirMeasured, Cured, Gate, ProgramLoaded, Soaked

FAILED = " ✕ not accepted"
"""Marks a reading that failed, so that nobody takes it for an accepted value."""


def describe_proof_remarks(batch: Batch, op: int, gate: Gate, values: dict[str, Any]) -> str:
    """What follows the values of a proof: what they mean, whether they failed, a check of one's own work."""
    self_check = " (self-check)" if values.get("self") else ""
    own = _REMARKS.get(gate.gate)
    said, failed = own(batch, op, gate, values) if own is not None else ("", False)
    failed = failed or bool(find_values_outside(gate.asks(), values))
    return f"{f'; {said}' if said else ''}{self_check}{FAILED if failed else ''}"


def _remark_program(batch: Batch, op: int, gate: ProgramLoaded, values: Mapping[str, Any]) -> tuple[str, bool]:
    return "", not is_same_program(str(values.get("program", "")), batch.operation(op).program)


def _remark_stage(batch: Batch, op: int, gate: Cured, values: Mapping[str, Any]) -> tuple[str, bool]:
    from floor.figures.drying import is_stage_reached

    return "", not is_stage_reached(str(gate.stage), str(values.get(STAGE, NO_STAGE)))


def _remark_soak(batch: Batch, op: int, gate: Soaked, values: Mapping[str, Any]) -> tuple[str, bool]:
    outcome = read_outcome(values)
    if outcome is None:
        return "no readings on record", True
    over = describe_over_temperature(gate, outcome, batch.last)
    said = over or describe_soak(gate, values, outcome, batch.last)
    return said, bool(over) or outcome.total < gate.time.base


def _remark_air(batch: Batch, op: int, gate: AirMeasured, values: Mapping[str, Any]) -> tuple[str, bool]:
    dew = measure_dew(gate, values)
    return ("", False) if dew is None else (dew.said, dew.is_near)


_REMARKS: Mapping[str, Callable[[Batch, int, Any, Mapping[str, Any]], tuple[str, bool]]] = {
    "program loaded": _remark_program,
    "cured": _remark_stage,
    "soaked": _remark_soak,
    "air measured": _remark_air,
}
