"""What judging a gate finds, and the words that all verdicts share."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from floor.batch.gates.check_values import (
    format_values,
)
from floor.batch.gates.proof_keys import find_proof_key
from floor.batch.proof import (
    Proof,
)
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist import gates as spec
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.text import format_clock


@dataclass(frozen=True, slots=True)
class GateVerdict:
    """How a gate stands: met; ask (an entry proves it); wait (until ``when``); blocked."""

    status: Literal["met", "ask", "wait", "blocked"]
    why: str
    clear: str = ""
    """What would clear it."""
    when: datetime | None = None
    """wait: when it opens. met: when its window closes, if it does."""
    evidence: str = ""
    proof: Proof | None = None
    again: bool = False
    """ask: there is an earlier proof or try that does not count."""
    decide: int = 0
    """ask: the reading out of limits that must be decided before anything else is measured."""
    change: int = 0
    """blocked: the worn tool to change, if nothing else is in the way."""
    late: bool = False
    """blocked: its last window has closed, so somebody has to decide now."""
    notes: str = ""
    """met: what whoever proved it should know."""
    reads: bool = False
    """ask, blocked: until the program's file is read, or read again."""
    air: bool = False
    """wait, blocked: sooner in warmer or drier air, once somebody records it."""


def format_evidence(gate: spec.Gate, proof: Proof, now: Moment) -> str:
    """``groove depth 3 mm · AA 07:05``: what proves a gate, by whom and when."""
    values = format_values(gate.asks(), proof.values)
    return (
        f"{values} · {proof.by} {format_clock(proof.at, now.at)}"
        if values
        else f"{proof.by} {format_clock(proof.at, now.at)}"
    )


def find_proof(batch: Batch, run: Run, line: str, gate: spec.Gate, now: Moment, ask: str) -> Proof | GateVerdict:
    """The standing proof, or a verdict that asks for one and says why an earlier one does not count."""
    key = find_proof_key(batch, run, line, gate)
    proof = batch.proofs.get(key)
    if proof is not None:
        return proof
    void = batch.voids.get(key)
    why = f"must be repeated, void since {format_clock(void.at, now.at)}: {void.why}" if void else "not proved yet"
    return GateVerdict("ask", why, ask, again=void is not None)


def say_or_waive(gate: spec.Gate) -> str:
    """That a lead may waive it, behind what would clear it; empty where nobody may."""
    return "" if gate.waive == "never" else ", or have a lead waive it"
