"""What makes a proof lapse: events at its station, and for a safety check also a long break.

A proof lapses when its basis changes: CBP-31 of the guidance followed; a safety check after a break: CBP-44.
"""

from __future__ import annotations

from collections.abc import Mapping

from floor.batch.proof import ProofKey, RunKey, SetupKey, ShiftKey, StationShiftKey
from floor.batch.state import Batch
from floor.checklist.gate_base import Disturbance
from floor.checklist.gates import Confirmed, FirstPiece, Gate, Measured, Signed, WorkHeld

Causes = frozenset[Disturbance]

DISTURBANCES: dict[Disturbance, str] = {
    "lifted": "carrier lifted or re-seated",
    "tool changed": "tool changed",
    "rezeroed": "zero set again",
    "refixtured": "workholding changed",
    "power lost": "power lost or control restarted",
}

_WORKHOLDING: Causes = frozenset({"lifted", "rezeroed", "refixtured", "power lost"})
_SETUP: Causes = frozenset({"tool changed", "rezeroed", "refixtured", "power lost"})
_HOLDING: Causes = frozenset({"lifted", "refixtured"})
_USUAL: Mapping[str, Causes] = {
    "probed": _WORKHOLDING,
    "tool loaded": frozenset({"tool changed"}),
    "program loaded": frozenset({"power lost"}),
    "first piece accepted": _SETUP,
    "signed": _SETUP,
    "confirmed": frozenset({"lifted", "refixtured", "power lost"}),
}
_FIRST_EDITION: Mapping[str, Causes] = {**_USUAL, "signed": frozenset({"refixtured"}), "measured": frozenset()}
"""For batches opened under the first edition of the rules, which they follow to their end."""


def find_lapse_causes(batch: Batch, gate: Gate) -> Causes:
    """The station events that void a gate's proof: those in the checklist, else the usual ones.

    By default a station reading lapses with a power loss; a piece reading before the cycle lapses when its carrier is
    lifted or clamped again; a piece reading after the cycle never lapses.
    """
    if isinstance(gate, Measured | FirstPiece | Signed | Confirmed | WorkHeld) and gate.lapses_on is not None:
        return frozenset(gate.lapses_on)
    if isinstance(gate, WorkHeld):  # what sucks or is magnetized lets go without power
        return _HOLDING | {"power lost"} if gate.by in ("vacuum", "magnet") else _HOLDING
    if batch.rules == 1:
        return _FIRST_EDITION.get(gate.gate, frozenset())
    if isinstance(gate, Measured):
        if not gate.of_piece:
            return frozenset({"power lost"})
        return frozenset({"lifted", "refixtured"}) if gate.at in ("setup", "load") else frozenset()
    return _USUAL.get(gate.gate, frozenset())


def find_lapse_causes_of_key(batch: Batch, key: ProofKey) -> Causes:
    """The same for a proof; proofs of a tool, zero or lot lapse on the usual events of their kind."""
    gate = _find_gate(batch, key)
    return _USUAL.get(key.gate, frozenset()) if gate is None else find_lapse_causes(batch, gate)


def _find_gate(batch: Batch, key: ProofKey) -> Gate | None:
    if isinstance(key, RunKey):
        run = batch.runs.get(key.run)
        return batch.find_operation(run).gate(key.line) if run is not None else None
    if isinstance(key, SetupKey):
        setup = batch.setups.get(key.setup)
        return batch.operation(setup.op).gate(key.line) if setup is not None else None
    if isinstance(key, ShiftKey | StationShiftKey):
        return batch.operation(key.op).gate(key.line)
    return None


def is_safety_check(batch: Batch, gate: Gate) -> bool:
    """Whether a confirmation protects a person: it has a caution, or may never be waived."""
    return batch.rules > 1 and isinstance(gate, Confirmed) and bool(gate.cautions or gate.waive == "never")
