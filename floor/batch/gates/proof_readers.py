"""What is recorded of what was entered at a gate: its values, or for some kinds what follows from them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from floor.batch.gates.entered_values import read_values
from floor.batch.gates.soak_readings import WorkSpan, read_soak
from floor.checklist.gates import Gate

_READERS: Mapping[str, Callable[[Any, Mapping[str, Any], WorkSpan | None], dict[str, Any]]] = {"soaked": read_soak}


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
