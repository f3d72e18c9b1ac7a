"""What makes a proof lapse: events at its station, and for a safety check also a long break. What makes a step lapse.

A proof lapses when its basis changes: CBP-31 of the guidance followed; a safety check after a break: CBP-44.
"""

from __future__ import annotations

from collections.abc import Mapping

from floor.batch.proof import ProofKey, RunKey, SetupKey, ShiftKey, StationShiftKey
from floor.batch.state import Batch
from floor.checklist.gate_base import Disturbance, Lapse
from floor.checklist.gates import Confirmed, FirstPiece, Gate, Measured, Signed, WorkHeld
from floor.checklist.operation import Do, Operation
from floor.checklist.usual_lapses import USUAL, Causes, find_usual_causes, find_usual_lapses

DISTURBANCES: dict[Disturbance, str] = {
    "lifted": "carrier lifted or re-seated",
    "tool changed": "tool changed",
    "rezeroed": "zero set again",
    "refixtured": "workholding changed",
    "power lost": "power lost or control restarted",
}

_FIRST_EDITION: Mapping[str, Causes] = {**USUAL, "signed": frozenset({"refixtured"}), "measured": frozenset()}
"""For batches opened under the first edition of the rules, which they follow to their end."""


def find_lapse_causes(batch: Batch, gate: Gate) -> Causes:
    """The station events that void a gate's proof: those in the checklist, else the usual ones."""
    if isinstance(gate, Measured | FirstPiece | Signed | Confirmed | WorkHeld) and gate.lapses_on is not None:
        return frozenset(gate.lapses_on)
    if batch.rules == 1 and not isinstance(gate, WorkHeld):
        return _FIRST_EDITION.get(gate.gate, frozenset())
    return find_usual_causes(gate)


def find_step_lapses(batch: Batch, operation: Operation, step: Do) -> frozenset[Lapse]:
    """What makes a step be done again; by default only where there is a cycle, and in no batch of an earlier
    edition."""
    if step.lapses_on is not None:
        return frozenset(step.lapses_on)
    since = 3 if step.at == "load" else 4
    return find_usual_lapses(step) if operation.cycle and batch.rules > since else frozenset()


def find_lapse_causes_of_key(batch: Batch, key: ProofKey) -> Causes:
    """The same for a proof; proofs of a tool, zero or lot lapse on the usual events of their kind."""
    gate = _find_gate(batch, key)
    return USUAL.get(key.gate, frozenset()) if gate is None else find_lapse_causes(batch, gate)


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
