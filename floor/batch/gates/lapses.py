"""What a proof lapses on: what happens at its station, and for a safety check a long break as well.

A proof lapses when its basis changes: CBP-31 of the guidance followed; a safety check after a break: CBP-44.
"""

from __future__ import annotations

from collections.abc import Mapping

from floor.batch.proof import ProofKey, RunKey, SetupKey, ShiftKey, StationShiftKey
from floor.batch.state import Batch
from floor.checklist.gates import Confirmed, Disturbance, FirstPiece, Gate, Measured, Signed

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
_USUAL: Mapping[str, Causes] = {
    "probed": _WORKHOLDING,
    "tool loaded": frozenset({"tool changed"}),
    "program loaded": frozenset({"power lost"}),
    "first piece accepted": _SETUP,
    "signed": _SETUP,
    "confirmed": frozenset({"lifted", "refixtured", "power lost"}),
}
_FIRST_EDITION: Mapping[str, Causes] = {**_USUAL, "signed": frozenset({"refixtured"}), "measured": frozenset()}
"""Of batches that were opened by the first edition of the rules, which are worked by it to their end."""


def find_lapse_causes(batch: Batch, gate: Gate) -> Causes:
    """What happens at its station that voids the proof of a gate: what the checklist says, else what is usual.

    A reading of the station is usually void once the power was lost; one taken of a piece before its cycle, once its
    carrier was lifted or held anew; one taken afterwards is a fact of the piece, which nothing changes.
    """
    if isinstance(gate, Measured | FirstPiece | Signed | Confirmed) and gate.lapses_on is not None:
        return frozenset(gate.lapses_on)
    if batch.rules == 1:
        return _FIRST_EDITION.get(gate.gate, frozenset())
    if isinstance(gate, Measured):
        if not gate.of_piece:
            return frozenset({"power lost"})
        return frozenset({"lifted", "refixtured"}) if gate.at in ("setup", "load") else frozenset()
    return _USUAL.get(gate.gate, frozenset())


def find_lapse_causes_of_key(batch: Batch, key: ProofKey) -> Causes:
    """The same of a proof; one of a tool, of a zero or of a lot lapses on what is usual for its kind."""
    gate = _find_gate(batch, key)
    return _USUAL.get(key.gate, frozenset()) if gate is None else find_lapse_causes(batch, gate)


def _find_gate(batch: Batch, key: ProofKey) -> Gate | None:
    if isinstance(key, RunKey):
        run = batch.runs.get(key.run)
        return batch.operation_of(run).gate(key.line) if run is not None else None
    if isinstance(key, SetupKey):
        setup = batch.setups.get(key.setup)
        return batch.operation(setup.op).gate(key.line) if setup is not None else None
    if isinstance(key, ShiftKey | StationShiftKey):
        return batch.operation(key.op).gate(key.line)
    return None


def is_safety_check(batch: Batch, gate: Gate) -> bool:
    """Whether a confirmation stands between a person and harm: it has a caution, or may never be waived."""
    return batch.rules > 1 and isinstance(gate, Confirmed) and bool(gate.cautions or gate.waive == "never")
