"""Counts, lots, and what a person accepts, signs or confirms."""

from __future__ import annotations

from dataclasses import replace

from floor.batch.gates.check_values import (
    find_values_outside,
)
from floor.batch.gates.first_piece_lots import say_new_lot
from floor.batch.gates.judge_readings import ask_to_decide, format_proved_or_decided, is_all_decided, say_out_before
from floor.batch.gates.lapse_causes import is_safety_check
from floor.batch.gates.proof_keys import find_proof_key
from floor.batch.gates.verdict import GateVerdict, find_proof, format_evidence, say_or_waive
from floor.batch.gauge import fold_serial
from floor.batch.proof import (
    is_past_use_by,
    read_lot,
)
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.clock_jumps import find_latest_day
from floor.batch.walk.long_breaks import say_long_break, was_left_since
from floor.checklist import gates as spec
from floor.entry import Moment


def judge_counted(batch: Batch, run: Run, line: str, gate: spec.Counted, now: Moment) -> GateVerdict:
    """As many pieces as the record says."""
    proof = find_proof(batch, run, line, gate, now, "count the pieces")
    if isinstance(proof, GateVerdict):
        return proof
    found = proof.values.get("pieces")
    if found != len(run.pieces):
        sitting = batch.format_sitting_pieces(batch.loads[run.load])
        apart = f", and {sitting}" if sitting else ""
        too_many = isinstance(found, int) and found > len(run.pieces)
        return GateVerdict(
            "ask",
            f"counted {found}, the record says {len(run.pieces)}{apart}",
            "count again, or " + ("find whose they are" if too_many else "set aside what is missing"),
            proof=proof,
            again=True,
        )
    return GateVerdict("met", "", evidence=format_evidence(gate, proof, now), proof=proof)


def judge_first_piece(batch: Batch, run: Run, line: str, gate: spec.FirstPiece, now: Moment) -> GateVerdict:
    """Somebody accepted it by all its values; one out of limits is decided on before the next piece is measured."""
    key = find_proof_key(batch, run, line, gate)
    undecided = ask_to_decide(batch, key)
    if undecided is not None:
        return undecided
    if is_all_decided(run):  # the next load on the set-up asks for it again
        return GateVerdict("met", "", evidence=format_proved_or_decided(batch, key, gate, now))
    ask = "a second person signs" if gate.independent else "enter who accepts it"
    verdict = _judge_signature(batch, run, line, gate, now, ask)
    proof = verdict.proof
    if proof is not None and find_values_outside(gate.asks(), proof.values):
        clear = f"fix the cause, then measure the next piece{say_or_waive(gate)}"
        return GateVerdict("ask", "the first piece was out of limits", clear, proof=proof, again=True)
    new_lot = say_new_lot(batch, run, gate, proof)
    if new_lot:
        clear = f"stop after the first piece of it; {ask}" if gate.at == "cycle" else ask
        return GateVerdict("ask", f"must be repeated, {new_lot}", clear, proof=proof, again=True)
    return replace(verdict, evidence=verdict.evidence + say_out_before(batch, key))


def judge_signed(batch: Batch, run: Run, line: str, gate: spec.Signed, now: Moment) -> GateVerdict:
    """A second person signed."""
    return _judge_signature(batch, run, line, gate, now, "a second person signs")


def _judge_signature(
    batch: Batch, run: Run, line: str, gate: spec.FirstPiece | spec.Signed, now: Moment, ask: str
) -> GateVerdict:
    proof = find_proof(batch, run, line, gate, now, ask)
    if isinstance(proof, GateVerdict):
        return proof
    self_check = " (self-check)" if proof.values.get("self") else ""
    return GateVerdict("met", "", evidence=format_evidence(gate, proof, now) + self_check, proof=proof)


def judge_lot(batch: Batch, run: Run, line: str, gate: spec.LotRecorded, now: Moment) -> GateVerdict:
    """A lot is on record and may still be used."""
    which = "serial number" if gate.serial else "lot"
    ask = f"enter the {which} of {gate.what}"
    lot = batch.lots.get(gate.what)
    if gate.per != "batch":
        proof = find_proof(batch, run, line, gate, now, ask)
        if isinstance(proof, GateVerdict):
            return proof
        lot = read_lot(proof)
    if lot is None:
        return GateVerdict("ask", "not recorded yet", ask)
    if gate.asks_date and lot.use_by is None:
        return GateVerdict(
            "ask", f"{gate.what} {lot.lot} has no {gate.until} date on record", f"enter {which} and date"
        )
    serial = fold_serial(lot.lot) if gate.serial else ""
    if any(fold_serial(one.serial) == serial and one.seq > lot.seq for one in batch.suspect_gauges.values()):
        return GateVerdict("ask", f"{gate.what} {lot.lot} was withdrawn", f"take another and enter its {which}")
    if is_past_use_by(lot.use_by, find_latest_day(batch, now)):
        over = "calibration was due" if gate.serial else "expired"
        return GateVerdict("ask", f"{gate.what} {lot.lot} {over} {lot.use_by}", f"take another and enter its {which}")
    until = f", {gate.until} {lot.use_by}" if lot.use_by else ""
    corrected = batch.corrected_lots.get(lot.seq)
    was = f"; entered as {corrected.was}, corrected by {corrected.by}" if corrected is not None else ""
    return GateVerdict("met", "", evidence=f"{lot.lot}{until}{was}")


def judge_confirmed(batch: Batch, run: Run, line: str, gate: spec.Confirmed, now: Moment) -> GateVerdict:
    """A person looked; at a safety check, with no long break since."""
    proof = find_proof(batch, run, line, gate, now, "look, then confirm")
    if isinstance(proof, GateVerdict):
        return proof
    if is_safety_check(batch, gate) and was_left_since(batch, run, proof.at, now.at):
        why = say_long_break(proof.by, "confirmed it", proof.at, now)
        return GateVerdict("ask", why, "look again, then confirm", proof=proof, again=True)
    return GateVerdict("met", "", evidence=format_evidence(gate, proof, now), proof=proof)
