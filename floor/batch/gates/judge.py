"""Judging gates: they are questions to the record, never boxes to tick.

Each kind (models in `floor.checklist.gates`) has the proof it looks for (`proof_keys`) and a pure function that judges:
readings, the set-up, what takes its time, and what people check, a module each. What a proof lapses on is in
`lapse_causes`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from floor.batch.gates.judge_checks import judge_confirmed, judge_counted, judge_first_piece, judge_lot, judge_signed
from floor.batch.gates.judge_process import judge_air, judge_cured, judge_soaked
from floor.batch.gates.judge_readings import judge_measured
from floor.batch.gates.judge_setup import judge_held, judge_probed, judge_program, judge_tool
from floor.batch.gates.proof_keys import find_proof_key
from floor.batch.gates.verdict import GateVerdict, format_evidence
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist import gates as spec
from floor.entry import Moment

JUDGES: dict[str, Callable[[Batch, Run, str, Any, Moment], GateVerdict]] = {
    "probed": judge_probed,
    "cured": judge_cured,
    "tool loaded": judge_tool,
    "program loaded": judge_program,
    "work held": judge_held,
    "measured": judge_measured,
    "counted": judge_counted,
    "first piece accepted": judge_first_piece,
    "signed": judge_signed,
    "lot recorded": judge_lot,
    "confirmed": judge_confirmed,
    "soaked": judge_soaked,
    "air measured": judge_air,
}
"""Kind of gate → how it is judged."""


def judge_gate(batch: Batch, run: Run, line: str, gate: spec.Gate, now: Moment) -> GateVerdict:
    """Judge whether a gate is met for a run at this moment."""
    return JUDGES[gate.gate](batch, run, line, gate, now)


def find_evidence_then(batch: Batch, run: Run, line: str, gate: spec.Gate, now: Moment) -> str:
    """The proof that a gate had when its work started, even if voided since: the work relied on it."""
    key = find_proof_key(batch, run, line, gate)
    if gate.is_for_work and key in batch.proofs:  # it has aged since
        return format_evidence(gate, batch.proofs[key], now)
    void = batch.voids.get(key)
    began = run.started_seq if run.started is not None else run.count.seq if run.count is not None else None
    if void is None or void.proof is None or began is None or void.seq < began:
        return ""
    return format_evidence(gate, void.proof, now)
