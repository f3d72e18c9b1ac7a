"""Work offsets: which carriers use them, and what was proved by them."""

from __future__ import annotations

from floor.batch.gates.check_values import is_same_text
from floor.batch.proof import OffsetKey, ProofKey
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gates import Probed
from floor.checklist.model import Checklist


def list_offset_owners(checklist: Checklist, station: str, offset: str) -> list[str]:
    """The carriers that use a work offset at a station: ``Pallet 1``."""
    return [
        checklist.carrier(kind).label(number)
        for kind, offsets in checklist.station(station).carrier_offsets.items()
        for number, own in enumerate(offsets, 1)
        if is_same_text(own, offset)
    ]


def list_zeros(batch: Batch, run: Run) -> list[str]:
    """The work offsets by which a run is cut."""
    return [step.offset for step in batch.find_operation(run).steps if isinstance(step, Probed)]


def is_offset_set_anew(batch: Batch, key: ProofKey, station: str, offset: str) -> bool:
    """Whether a proof rests on this work offset of a station: a probe of it, or a first piece cut by it."""
    proof = batch.proofs[key]
    if proof.station != station:
        return False
    if isinstance(key, OffsetKey):
        return is_same_text(str(proof.values.get("offset", key.offset)), offset)
    run = batch.runs.get(proof.run)
    if run is None:
        return True  # entered late: its zero is not known
    return any(is_same_text(zero, offset) for zero in list_zeros(batch, run))
