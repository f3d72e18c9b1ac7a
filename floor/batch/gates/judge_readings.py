"""Readings against their limits; those of pieces are decided on before another is measured."""

from __future__ import annotations

from dataclasses import replace

from floor.batch.gates.check_values import (
    count_values_outside,
    find_missing_or_outside,
    find_values_outside,
    format_values_outside,
    split_by_piece,
)
from floor.batch.gates.out_of_limits import (
    describe_each_outside,
    find_next_outside,
    find_suspect_of,
    list_second_readings,
)
from floor.batch.gates.proof_keys import find_proof_key
from floor.batch.gates.samples import count_pieces_before, find_sample_size, needs_sorting
from floor.batch.gates.second_readings import find_values_corrected
from floor.batch.gates.verdict import GateVerdict, find_proof, format_evidence, say_or_waive
from floor.batch.open_items import OutOfLimits
from floor.batch.proof import Proof, ProofKey
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist import gates as spec
from floor.entry import Moment
from floor.text import format_count

DECIDE = "name the piece and decide what becomes of it"
DECIDE_KNOWN = "decide what becomes of it"
DECIDE_EACH = "decide what becomes of each"
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
    if proof is None and find_sample_size(batch, run, line, gate) == 0:
        return GateVerdict("met", "", evidence=_say_none_due(batch, run, gate))
    if proof is not None and needs_sorting(run, line, proof.seq):
        taken = run.samples[line]
        why = f"{taken.out} of {taken.size} out of limits, {taken.accept} allowed: the load is rejected"
        return GateVerdict("ask", why, "measure every other piece of it", proof=proof, again=True)
    if proof is not None and find_values_outside(gate.asks(), proof.values) and _is_decided_on(batch, key, proof):
        return _judge_decided(batch, run, line, gate, proof, now)
    verdict = judge_values(batch, run, line, gate, now)
    if verdict.status != "met" and proof is not None:
        return verdict
    return replace(verdict, evidence=verdict.evidence + say_sample(run, line) + say_out_before(batch, key))


def _is_decided_on(batch: Batch, key: ProofKey, proof: Proof) -> bool:
    return any(one.key == key and proof.seq == one.seq for one in batch.out.values())


def _judge_decided(batch: Batch, run: Run, line: str, gate: spec.Measured, proof: Proof, now: Moment) -> GateVerdict:
    """All that a reading found out of limits is decided on: others are measured in its place, but not by a plan."""
    read = split_by_piece(gate, proof.values)
    good = len(read) - count_values_outside(gate, proof.values)
    more = find_sample_size(batch, run, line, gate) - good
    if gate.accept or more <= 0 or isinstance(gate.sample, spec.ByPlan):
        told = say_sample(run, line) + say_out_before(batch, find_proof_key(batch, run, line, gate))
        return GateVerdict("met", "", evidence=format_evidence(gate, proof, now) + told, proof=proof)
    those = "the one" if more == 1 else "those"
    why = f"{format_count(more, 'more piece')} to measure in place of {those} decided on"
    return GateVerdict("ask", why, "measure and enter it", proof=proof, again=True)


def _say_none_due(batch: Batch, run: Run, gate: spec.Measured) -> str:
    """``none of these pieces is due: one in every 20 pieces, next piece 40``."""
    assert isinstance(gate.sample, spec.EveryNth)
    following = (count_pieces_before(batch, run) // gate.sample.every + 1) * gate.sample.every
    return f"none of these pieces is due: {gate.sample}, next piece {following}"


def say_sample(run: Run, line: str) -> str:
    """`` · 13 of 16 sampled, 0 out, accepted``: what a sampling plan said of a load; empty where there is none."""
    taken = run.samples.get(line)
    if taken is None:
        return ""
    verdict = "rejected: every piece measured" if taken.is_rejected else "accepted"
    severity = "" if taken.severity == "normal" else f"{taken.severity} inspection, "
    return f" · {severity}{taken.size} of {taken.lot} sampled, {taken.out} out, {verdict}"


def ask_to_decide(batch: Batch, key: ProofKey) -> GateVerdict | None:
    """Ask for the decision on a reading out of limits that nobody has decided on yet."""
    for one in batch.list_open_out_of_limits(key):
        why, clear = _say_what_to_decide(batch, one)
        return GateVerdict("ask", why, clear, proof=batch.proofs.get(key), again=True, decide=one.seq)
    return None


def _say_what_to_decide(batch: Batch, one: OutOfLimits) -> tuple[str, str]:
    """What is wrong, of each piece by itself where they are known, and what to do about it."""
    if not one.left:
        suspect = find_suspect_of(batch, one).all
        doubt = f"{format_count(len(suspect), 'piece')} made since the last good check may be out too"
        aside = "those made since the last good check are set aside already"
        return f"{describe_each_outside(batch, one, all=True)}; {doubt if suspect else aside}", DECIDE_BEFORE
    if find_next_outside(one) is not None:
        return describe_each_outside(batch, one), DECIDE_KNOWN if one.left == 1 else DECIDE_EACH
    many = f" ({one.left} of {one.many} still to be named)" if one.left < one.many else ""
    return f"{format_values_outside(one)}{many}", DECIDE


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
    return "".join(f" · {say_out(batch, one)}" for one in batch.out.values() if one.key == key)


def say_out(batch: Batch, one: OutOfLimits) -> str:
    """``out: groove depth 3.2, wanted 2.9 to 3.1 mm: A1 scrap (AA)``, with what was read again and why.

    A value typed wrong was never out: what it was corrected to is told, without that mark if nothing else was out.
    """
    said = [f"{decided.where} {decided.to} ({decided.by})" for decided in one.decided]
    said += list_second_readings(batch, one)
    said += [one.settled] if one.settled else []
    said += [f"those before it: {one.before_said}"] if one.before_said else []
    outside = find_values_outside(one.gate.asks(), find_values_corrected(one))
    if not outside and not one.decided and not one.open:
        return "; ".join(said)
    told = "; ".join(dict.fromkeys(outside)) or format_values_outside(one)
    return f"out: {told}" + (f": {'; '.join(said)}" if said else "")


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
