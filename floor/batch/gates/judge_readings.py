"""Readings against their limits; those of pieces are decided on before another is measured."""

from __future__ import annotations

from dataclasses import replace

from floor.batch.gates.check_values import (
    count_samples,
    count_values_outside,
    find_missing_or_outside,
    find_values_outside,
    format_values_outside,
)
from floor.batch.gates.proof_keys import find_proof_key
from floor.batch.gates.verdict import GateVerdict, find_proof, format_evidence, say_or_waive
from floor.batch.open_items import OutOfLimits
from floor.batch.proof import (
    ProofKey,
)
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist import gates as spec
from floor.entry import Moment
from floor.text import format_count

DECIDE = "name the piece and decide what becomes of it"


DECIDE_BEFORE = "decide on the pieces made since the last good check"


def judge_measured(batch: Batch, run: Run, line: str, gate: spec.Measured, now: Moment) -> GateVerdict:
    """Ask for a decision on a piece out of limits before another is measured, then for enough good readings."""
    if not gate.of_piece:
        return judge_values(batch, run, line, gate, now)
    key = find_proof_key(batch, run, line, gate)
    undecided = ask_to_decide(batch, key)
    if undecided is not None:
        return undecided
    if is_all_decided(run):
        proved = format_proved_or_decided(batch, key, gate, now)
        return GateVerdict("met", "", evidence=proved + say_out_before(batch, key))
    proof = batch.proofs.get(key)
    if proof is None or not find_values_outside(gate.asks(), proof.values):
        verdict = judge_values(batch, run, line, gate, now)
        return replace(verdict, evidence=verdict.evidence + say_out_before(batch, key))
    if any(one.key == key and proof.seq == one.seq for one in batch.out.values()):
        given = proof.values.get("value")
        read = given if isinstance(given, list) else [given]
        more = count_samples(gate, len(run.undecided)) - (len(read) - count_values_outside(gate, proof.values))
        if gate.accept or more <= 0:
            return GateVerdict(
                "met", "", evidence=format_evidence(gate, proof, now) + say_out_before(batch, key), proof=proof
            )
        those = "the one" if more == 1 else "those"
        why = f"{format_count(more, 'more piece')} to measure in place of {those} decided on"
        return GateVerdict("ask", why, "measure and enter it", proof=proof, again=True)
    return judge_values(batch, run, line, gate, now)


def ask_to_decide(batch: Batch, key: ProofKey) -> GateVerdict | None:
    """Ask for the decision on a reading out of limits that nobody has decided on yet."""
    for one in batch.list_open_out_of_limits(key):
        many = f" ({one.left} of {one.many} still to be named)" if 0 < one.left < one.many else ""
        before = format_count(one.before, "piece") + " made since the last good check may be out too"
        wrong = format_values_outside(one)
        why, clear = (f"{wrong}{many}", DECIDE) if one.left else (f"{wrong}; {before}", DECIDE_BEFORE)
        return GateVerdict("ask", why, clear, proof=batch.proofs.get(key), again=True, decide=one.seq)
    return None


ALL_DECIDED = "every piece on it was decided before the count"


def format_proved_or_decided(batch: Batch, key: ProofKey, gate: spec.Gate, now: Moment) -> str:
    """What was proved before all pieces were decided stays in sight; else why nothing has to be."""
    proof = batch.proofs.get(key)
    stands = proof is not None and not find_values_outside(gate.asks(), proof.values)
    return format_evidence(gate, proof, now) if proof is not None and stands else ALL_DECIDED


def is_all_decided(run: Run) -> bool:
    """Whether nothing is left to prove because every piece of the run was, or may be, out of limits."""
    return bool(run.decided) and not run.undecided


def say_out_before(batch: Batch, key: ProofKey) -> str:
    """Decided readings out of limits at this gate: they stay in sight beside the good ones."""
    return "".join(f" · {say_out(one)}" for one in batch.out.values() if one.key == key)


def say_out(one: OutOfLimits) -> str:
    """``out: groove depth 3.2, wanted 2.9 to 3.1 mm: A1 scrap (AA)``, with what was read again and why."""
    said = [f"{decided.where} {decided.to} ({decided.by})" for decided in one.decided] + one.again
    said += [one.settled] if one.settled else []
    said += [f"those before it: {one.before_said}"] if one.before_said else []
    return f"out: {format_values_outside(one)}" + (f": {'; '.join(said)}" if said else "")


def judge_values(batch: Batch, run: Run, line: str, gate: spec.Gate, now: Moment) -> GateVerdict:
    """Every value that the gate asks for is there and within its limits."""
    proof = find_proof(batch, run, line, gate, now, "enter what you read")
    if isinstance(proof, GateVerdict):
        return proof
    wrong = find_missing_or_outside(gate.asks(), proof.values)
    if wrong:
        moved = "; if the work was moved, probe every axis again" if isinstance(gate, spec.Probed) else ""
        clear = f"set it right and enter the new value{say_or_waive(gate)}{moved}"
        return GateVerdict("ask", "; ".join(wrong), clear, proof=proof, again=True)
    return GateVerdict("met", "", evidence=format_evidence(gate, proof, now), proof=proof)
