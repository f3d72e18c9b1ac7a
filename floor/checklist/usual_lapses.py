"""What usually voids a gate's proof at its station, where the checklist does not say."""

from __future__ import annotations

from collections.abc import Mapping

from floor.checklist.gate_base import Disturbance
from floor.checklist.gates import Gate, Measured, WorkHeld

Causes = frozenset[Disturbance]

_WORKHOLDING: Causes = frozenset({"lifted", "rezeroed", "refixtured", "power lost"})
_SETUP: Causes = frozenset({"tool changed", "rezeroed", "refixtured", "power lost"})
_HOLDING: Causes = frozenset({"lifted", "refixtured"})
USUAL: Mapping[str, Causes] = {
    "probed": _WORKHOLDING,
    "tool loaded": frozenset({"tool changed"}),
    "program loaded": frozenset({"power lost"}),
    "first piece accepted": _SETUP,
    "signed": _SETUP,
    "confirmed": frozenset({"lifted", "refixtured", "power lost"}),
}
"""By kind of gate."""


def find_usual_causes(gate: Gate) -> Causes:
    """The station events that void a proof of this gate by default.

    A station reading lapses with a power loss; a piece reading before the cycle when its carrier is lifted or clamped
    again; a piece reading after the cycle never.
    """
    if isinstance(gate, WorkHeld):  # what sucks or is magnetized lets go without power
        return _HOLDING | {"power lost"} if gate.by in ("vacuum", "magnet") else _HOLDING
    if isinstance(gate, Measured):
        if not gate.of_piece:
            return frozenset({"power lost"})
        return _HOLDING if gate.at in ("setup", "load") else frozenset()
    return USUAL.get(gate.gate, frozenset())
