"""What usually voids a gate's proof at its station, or makes a step be done again, where the checklist does not say."""

from __future__ import annotations

from collections.abc import Mapping
from typing import get_args

from floor.checklist.gate_base import Disturbance, Lapse
from floor.checklist.gates import Gate, Measured, WorkHeld
from floor.checklist.operation import Do

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
LAPSES: frozenset[Lapse] = frozenset((*get_args(Disturbance), "cycle stopped"))
"""All that opens a door, or may: hands were at the machine."""


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


def find_usual_lapses(step: Do) -> frozenset[Lapse]:
    """What makes a step be done again by default: anything, where it may not be skipped and comes before the cycle
    starts or, at a program stop, goes on.

    A door that was shut is no proof that it is shut still. A mix has its clock for that.
    """
    return frozenset() if step.skip else find_lapses_if_never_skipped(step)


def find_lapses_if_never_skipped(step: Do) -> frozenset[Lapse]:
    """The same as if a step might not be skipped: for a comparison that tells by itself that it may be."""
    return LAPSES if may_lapse(step) and not step.while_running else frozenset()


def may_lapse(step: Do) -> bool:
    """Whether it comes before hands leave the machine: at the load, or in the cycle, where the program may stop."""
    return step.at == "load" or (step.at == "cycle" and not step.cycle)
