"""What takes its time: cures, soaks, and the air before a coat."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from floor.batch.gates.check_values import (
    find_missing_or_outside,
)
from floor.batch.gates.dew_point import measure_dew
from floor.batch.gates.judge_readings import judge_values
from floor.batch.gates.soak_outcome import (
    SoakOutcome,
    add_unread_end,
    describe_measured,
    describe_over_temperature,
    format_soak_evidence,
    is_from_file,
    list_lacks,
    read_outcome,
)
from floor.batch.gates.verdict import GateVerdict, find_proof, format_evidence, say_or_waive
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.clocks import Ripeness, find_pieces_to_cure, judge_clock, list_pieces_too_late
from floor.checklist import gates as spec
from floor.checklist.gate_forms import NO_STAGE, STAGE
from floor.checklist.operation import Clock
from floor.entry import Moment
from floor.text import format_clock, format_count, format_span

COLD = "the air is too cold or damp"
WARM = "warm or dry the air, then record it (x)"


def judge_cured(batch: Batch, run: Run, line: str, gate: spec.Cured, now: Moment) -> GateVerdict:
    """The clock is inside a window for every piece, and a test shows the stage of drying where one is wanted."""
    found = batch.checklist.clock(gate.clock)
    if found is None:
        return GateVerdict("blocked", f"the checklist has no clock {gate.clock}", "fix the checklist")
    operation, clock = found
    pieces = find_pieces_to_cure(batch, gate, run.op, run.pieces)
    if run.pieces and not pieces:
        return GateVerdict("met", "", evidence="met the first time")
    ripe = judge_clock(batch, clock, pieces, now)
    if ripe.status == "not started":
        many = f" for {format_count(ripe.missing, 'piece')}" if ripe.missing and clock.per == "piece" else ""
        return GateVerdict(
            "blocked", f"{clock.id} has not started{many}", f"it starts with op {operation.op} {operation.title}"
        )
    if ripe.status == "wait":
        return _wait_for(clock, ripe, now)
    if ripe.status == "misses":
        clear = f"{_say_air_remedy(ripe)}set the pieces aside (m){say_or_waive(gate)}"
        return GateVerdict("blocked", describe_missed_window(clock, ripe, now), clear, air=ripe.rate < 1)
    if ripe.status == "late":
        return GateVerdict(
            "blocked",
            describe_closed_window(batch, clock, run.load, pieces, now),
            f"set the pieces aside (m){say_or_waive(gate)}",
            late=True,
        )
    assert ripe.since is not None
    until = f", until {format_clock(ripe.closes, now.at)}" if ripe.closes else ""
    met = GateVerdict("met", "", when=ripe.closes, evidence=f"since {format_clock(ripe.since, now.at)}{until}")
    return _judge_stage(batch, run, line, gate, met, now) if gate.stage is not None else met


def _judge_stage(batch: Batch, run: Run, line: str, gate: spec.Cured, met: GateVerdict, now: Moment) -> GateVerdict:
    """A stage of drying that a test does not show holds a coat back though its time is over."""
    proof = find_proof(batch, run, line, gate, now, f"test for {gate.stage} where it will not show")
    if isinstance(proof, GateVerdict):
        return proof
    from floor.figures.drying import is_stage_reached

    shown = str(proof.values.get(STAGE, NO_STAGE))
    if not is_stage_reached(str(gate.stage), shown):
        why = f"the test shows {shown}; it must be {gate.stage}"
        return GateVerdict("ask", why, f"let it dry, then test again{say_or_waive(gate)}", proof=proof, again=True)
    return replace(met, evidence=f"{met.evidence} · {format_evidence(gate, proof, now)}", proof=proof)


def _wait_for(clock: Clock, ripe: Ripeness, now: Moment) -> GateVerdict:
    """How long is left; in cold or damp air, as long as that stays; first, that a window closes before."""
    opens = ripe.opens
    assert opens is not None
    if ripe.closes is not None:
        clear = f"{_say_air_remedy(ripe)}wait for the next window, {format_clock(opens, now.at)}"
        missed = describe_missed_window(clock, ripe, now)
        return GateVerdict("wait", missed, clear if ripe.rate else WARM, opens, air=ripe.rate < 1)
    if not ripe.rate:
        return GateVerdict("wait", f"{clock.id} has stalled: {COLD}", WARM, opens, air=True)
    left, ready = format_span((opens - now.at).total_seconds()), f"ready {format_clock(opens, now.at)}"
    clear = f"{WARM}; else {ready}" if ripe.rate < 1 else ready
    return GateVerdict("wait", f"{clock.id} needs {left} more{_say_slowed(ripe)}", clear, opens, air=ripe.rate < 1)


def _say_air_remedy(ripe: Ripeness) -> str:
    return f"{WARM}, or " if ripe.rate < 1 else ""


def _say_slowed(ripe: Ripeness) -> str:
    return " in this cold or damp air" if ripe.rate < 1 else ""


def describe_missed_window(clock: Clock, ripe: Ripeness, now: Moment) -> str:
    """``recoat closes 14:00, before it is ready in this cold or damp air``: a window that closes before it opens."""
    assert ripe.closes is not None
    closes = f"{clock.id} closes {format_clock(ripe.closes, now.at)}"
    return f"{closes}, before it is ready{_say_slowed(ripe)}" if ripe.rate else f"{closes}, but it has stalled: {COLD}"


def describe_closed_window(batch: Batch, clock: Clock, load: int, pieces: Sequence[int], now: Moment) -> str:
    """``recoat: its last window has closed for A1 on Pallet 2 (1 of 4 pieces)``; for the carrier where it is all."""
    late = list_pieces_too_late(batch, clock, pieces, now)
    where = batch.format_carrier(batch.loads[load])
    if late and len(late) < len(pieces):
        names = ", ".join(filter(None, (batch.format_slot(batch.loads[load], piece) for piece in late)))
        where = f"{names} on {where} ({len(late)} of {format_count(len(pieces), 'piece')})".removeprefix(" on ")
    return f"{clock.id} time limit passed for {where}"


def judge_soaked(batch: Batch, run: Run, line: str, gate: spec.Soaked, now: Moment) -> GateVerdict:
    """Long enough inside; what was over stands until a lead decides, whatever is read next."""
    ask = "enter the readings, or name the logger file"
    proof = find_proof(batch, run, line, gate, now, ask)
    if isinstance(proof, GateVerdict):
        return proof
    outcome = read_outcome(proof.values)
    if outcome is None:
        return GateVerdict("ask", "no readings on record", ask, proof=proof, again=True)
    outcome = add_unread_end(gate, outcome, run.ended)
    over = describe_over_temperature(gate, outcome, now)
    if over:
        mistyped = "if a reading was mistyped, strike it out"
        undo = "a file of another load is struck out by a lead" if is_from_file(proof.values) else mistyped
        clear = f"set the pieces aside (m){say_or_waive(gate)}; {undo}"
        return GateVerdict("blocked", over, clear, proof=proof)
    wrong = find_missing_or_outside(tuple(one for one in gate.asks() if one.kind != "readings"), proof.values)
    if wrong:
        return GateVerdict("ask", "; ".join(wrong), "set it right and enter it again", proof=proof, again=True)
    if outcome.total < gate.time.base:
        why, clear = _describe_short_soak(batch, run, gate, proof.values, outcome, now)
        return GateVerdict("ask", why, clear, proof=proof, again=True)
    evidence = f"{format_soak_evidence(gate, proof.values, outcome, now)} · {proof.by} {format_clock(proof.at, now.at)}"
    return GateVerdict("met", "", evidence=evidence, proof=proof, notes="; ".join(list_lacks(outcome, now)))


def _describe_short_soak(
    batch: Batch, run: Run, gate: spec.Soaked, values: Mapping[str, Any], outcome: SoakOutcome, now: Moment
) -> tuple[str, str]:
    """What is wrong with a soak that is too short, and what to do: once its cycle is over, no reading can be added to
    it. While the oven runs, that matters more than what the readings lack."""
    why, lacks = describe_measured(gate, values, outcome, now), list_lacks(outcome, now)
    if run.ended is None:
        return why, "; ".join([f"keep soaking, then enter all readings again{say_or_waive(gate)}", *lacks])
    again = next((route.name for route in batch.checklist.reworks if route.back_to == run.op), "")
    to_bake = f" for rework ({again})" if again else ""
    clear = f"set the pieces aside (m){to_bake}{say_or_waive(gate)}; if readings are missing, enter them all"
    return "; ".join([why, *lacks]), clear


def judge_air(batch: Batch, run: Run, line: str, gate: spec.AirMeasured, now: Moment) -> GateVerdict:
    """The reading is within its limits, the work clear of the dew point, and neither too long ago."""
    verdict = judge_values(batch, run, line, gate, now)
    proof = verdict.proof
    dew = measure_dew(gate, proof.values) if proof is not None else None
    if proof is None or verdict.status != "met" or dew is None:
        return verdict
    if dew.is_near:
        clear = f"warm the part or dry the air, then measure again{say_or_waive(gate)}"
        return GateVerdict("ask", dew.said, clear, proof=proof, again=True)
    age = (now.at - proof.at).total_seconds()
    if gate.good_for is not None and age > gate.good_for.base:
        return GateVerdict("ask", f"measured {format_span(age)} ago", "measure again", proof=proof, again=True)
    return replace(verdict, evidence=f"{verdict.evidence} · {dew.said}")
