"""Which lots a first piece was accepted in, and whether a run has another one now.

A new lot of material is a change like that of a tool or a program: what it could change is verified again (REC-25).
"""

from __future__ import annotations

from floor.batch.gates.check_values import is_same_text
from floor.batch.gates.fold_lots import find_lots_in_use
from floor.batch.proof import Proof
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gates import FirstPiece


def list_first_piece_lots(batch: Batch, run: Run, gate: FirstPiece) -> dict[str, str]:
    """The lots that a first piece is made of, by the names under which they stand among its values."""
    return {_name_lot(what): lot for what, lot in _find_lots(batch, run, gate).items()}


def _find_lots(batch: Batch, run: Run, gate: FirstPiece) -> dict[str, str]:
    """Material → the lot that a run has now, of those whose new lot asks for another first piece."""
    lots = {what: find_lots_in_use(batch, run, what) for what in gate.again_for}
    return {what: used[-1] for what, used in lots.items() if used}


def say_new_lot(batch: Batch, run: Run, gate: FirstPiece, proof: Proof | None) -> str:
    """``new lot: carbon tube T-42``: what the first piece accepted last was not made of; empty where it was."""
    if proof is None:
        return ""
    corrected = _find_lots_now(batch, proof)
    new = [
        f"{what} {lot}"
        for what, lot in _find_lots(batch, run, gate).items()
        if not is_same_text(corrected.get(what, str(proof.values.get(_name_lot(what), ""))), lot)
    ]
    return f"new lot: {', '.join(new)}" if new else ""


def _name_lot(what: str) -> str:
    return f"lot of {what}"


def _find_lots_now(batch: Batch, proof: Proof) -> dict[str, str]:
    """The lots of the first piece's load as they are on record now: a number that was mistyped is no other lot."""
    run = batch.runs.get(proof.run)
    corrected = {
        one.what: one.lot
        for seq, one in sorted(batch.corrected_lots.items())
        if seq < proof.seq and is_same_text(one.was, str(proof.values.get(_name_lot(one.what), "")))
    }
    return corrected | {what: lots[0] for what, lots in run.taken.items() if len(lots) == 1} if run else corrected
