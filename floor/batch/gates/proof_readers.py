"""What is recorded of what was entered at a gate: its values, or for some kinds what follows from them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, get_args

from floor.batch.command import Refused
from floor.batch.gates.entered_values import read_values
from floor.batch.gates.soak_readings import WorkSpan, read_soak
from floor.checklist.gate_forms import NO_STAGE, STAGE
from floor.checklist.gates import Cured, Gate
from floor.checklist.process_gates import DryingStage


def _read_stage(gate: Cured, given: Mapping[str, Any], span: WorkSpan | None) -> dict[str, Any]:
    """The stage of drying that a test showed."""
    values = read_values(gate, 1, given)
    if gate.stage is None:  # the clock alone proves it
        raise Refused("gate", f"{gate.title()}: time alone proves it", "wait until the clock shows it")
    named = "-".join(str(values[STAGE]).casefold().replace("-", " ").split())
    if named not in (*get_args(DryingStage), NO_STAGE):
        raise Refused("input", f"{values[STAGE][:20]} is not a drying stage", gate.hint(), field=STAGE)
    return {STAGE: named}


_READERS: Mapping[str, Callable[[Any, Mapping[str, Any], WorkSpan | None], dict[str, Any]]] = {
    "soaked": read_soak,
    "cured": _read_stage,
}


def read_proof(gate: Gate, count: int, given: Mapping[str, Any], span: WorkSpan | None) -> dict[str, Any]:
    """Read what was entered at a gate.

    Args:
        count: how many of each value.
        given: by the names of the gate's form fields.
        span: when the work was done that it is about; None if nobody knows.

    Raises:
        Refused: something is missing, of the wrong kind or absurd; limits are not checked here.
    """
    reader = _READERS.get(gate.gate)
    return read_values(gate, count, given) if reader is None else reader(gate, given, span)
