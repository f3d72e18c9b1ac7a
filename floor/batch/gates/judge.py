"""Judging gates: they are questions to the record, never boxes to tick.

Each kind (models in `floor.checklist.gates`) has one rule: which proof it looks for (`key`) and the pure function that
judges. What a proof lapses on is in `lapse_causes`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any, Literal

from floor.batch.gates.check_values import (
    count_samples,
    count_values_outside,
    find_missing_or_outside,
    find_values_outside,
    format_values,
    format_values_outside,
    is_same_text,
)
from floor.batch.gates.dew_point import measure_dew
from floor.batch.gates.lapse_causes import is_safety_check
from floor.batch.gates.offset_history import describe_tilt, list_unusual_offsets
from floor.batch.gates.offset_users import list_offset_owners
from floor.batch.gates.program_findings import list_program_faults
from floor.batch.gates.soak_outcome import (
    describe_over_temperature,
    describe_soak,
    format_soak_evidence,
    list_lacks,
    read_outcome,
)
from floor.batch.gates.tool_life import compute_tool_life, format_life_left, say_life
from floor.batch.open_items import OutOfLimits
from floor.batch.proof import (
    LotKey,
    OffsetKey,
    Proof,
    ProofKey,
    RunKey,
    SetupKey,
    ShiftKey,
    StationShiftKey,
    ToolKey,
    is_past_use_by,
    read_lot,
)
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.clocks import find_pieces_to_cure, judge_clock, list_pieces_too_late
from floor.batch.walk.long_breaks import LONG_BREAK, was_left_since
from floor.batch.walk.shared_cycles import find_runs_in_cycle
from floor.checklist import gates as spec
from floor.checklist.operation import Clock, Do
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.text import format_clock, format_count, format_span


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


@dataclass(frozen=True, slots=True)
class GateRule:
    """How one kind of gate is proved."""

    judge: Callable[[Batch, Run, str, Any, Moment], GateVerdict]
    key: Callable[[Batch, Run, str, Any], ProofKey]


def _evidence(gate: spec.Gate, proof: Proof, now: Moment) -> str:
    values = format_values(gate.asks(), proof.values)
    return (
        f"{values} · {proof.by} {format_clock(proof.at, now.at)}"
        if values
        else f"{proof.by} {format_clock(proof.at, now.at)}"
    )


def find_evidence_then(batch: Batch, run: Run, line: str, gate: spec.Gate, now: Moment) -> str:
    """The proof that a gate had when its work started, even if voided since: the work relied on it."""
    key = GATE_RULES[gate.gate].key(batch, run, line, gate)
    if gate.is_for_work and key in batch.proofs:  # it has aged since
        return _evidence(gate, batch.proofs[key], now)
    void = batch.voids.get(key)
    began = run.started_seq if run.started is not None else run.count.seq if run.count is not None else None
    if void is None or void.proof is None or began is None or void.seq < began:
        return ""
    return _evidence(gate, void.proof, now)


def _find(batch: Batch, run: Run, line: str, gate: spec.Gate, now: Moment, ask: str) -> Proof | GateVerdict:
    """The standing proof, or a verdict that asks for one and says why an earlier one does not count."""
    key = GATE_RULES[gate.gate].key(batch, run, line, gate)
    proof = batch.proofs.get(key)
    if proof is not None:
        return proof
    void = batch.voids.get(key)
    why = f"must be repeated, void since {format_clock(void.at, now.at)}: {void.why}" if void else "not proved yet"
    return GateVerdict("ask", why, ask, again=void is not None)


def _or_waive(gate: spec.Gate) -> str:
    return "" if gate.waive == "never" else ", or have a lead waive it"


DECIDE = "name the piece and decide what becomes of it"
DECIDE_BEFORE = "decide on the pieces made since the last good check"


def _judge_measured(batch: Batch, run: Run, line: str, gate: spec.Measured, now: Moment) -> GateVerdict:
    """Ask for a decision on a piece out of limits before another is measured, then for enough good readings."""
    if not gate.of_piece:
        return _judge_values(batch, run, line, gate, now)
    key = GATE_RULES[gate.gate].key(batch, run, line, gate)
    for one in batch.list_open_out_of_limits(key):
        many = f" ({one.left} of {one.many} still to be named)" if 0 < one.left < one.many else ""
        before = format_count(one.before, "piece") + " made since the last good check may be out too"
        wrong = format_values_outside(one)
        why, clear = (f"{wrong}{many}", DECIDE) if one.left else (f"{wrong}; {before}", DECIDE_BEFORE)
        return GateVerdict("ask", why, clear, proof=batch.proofs.get(key), again=True, decide=one.seq)
    if is_all_decided(run):
        return GateVerdict("met", "", evidence=_proved_or_decided(batch, key, gate, now) + _out_before(batch, key))
    proof = batch.proofs.get(key)
    if proof is None or not find_values_outside(gate.asks(), proof.values):
        verdict = _judge_values(batch, run, line, gate, now)
        return replace(verdict, evidence=verdict.evidence + _out_before(batch, key))
    if any(one.key == key and proof.seq == one.seq for one in batch.out.values()):
        given = proof.values.get("value")
        read = given if isinstance(given, list) else [given]
        more = count_samples(gate, len(run.undecided)) - (len(read) - count_values_outside(gate, proof.values))
        if gate.accept or more <= 0:
            return GateVerdict("met", "", evidence=_evidence(gate, proof, now) + _out_before(batch, key), proof=proof)
        those = "the one" if more == 1 else "those"
        why = f"{format_count(more, 'more piece')} to measure in place of {those} decided on"
        return GateVerdict("ask", why, "measure and enter it", proof=proof, again=True)
    return _judge_values(batch, run, line, gate, now)


ALL_DECIDED = "every piece on it was decided before the count"


def _proved_or_decided(batch: Batch, key: ProofKey, gate: spec.Gate, now: Moment) -> str:
    """What was proved before all pieces were decided stays in sight; else why nothing has to be."""
    proof = batch.proofs.get(key)
    stands = proof is not None and not find_values_outside(gate.asks(), proof.values)
    return _evidence(gate, proof, now) if proof is not None and stands else ALL_DECIDED


def is_all_decided(run: Run) -> bool:
    """Whether nothing is left to prove because every piece of the run was, or may be, out of limits."""
    return bool(run.decided) and not run.undecided


def _out_before(batch: Batch, key: ProofKey) -> str:
    """Decided readings out of limits at this gate: they stay in sight beside the good ones."""
    return "".join(f" · {say_out(one)}" for one in batch.out.values() if one.key == key)


def say_out(one: OutOfLimits) -> str:
    """``out: groove depth 3.2, wanted 2.9 to 3.1 mm: A1 scrap (AA)``, with what was read again and why."""
    said = [f"{decided.where} {decided.to} ({decided.by})" for decided in one.decided] + one.again
    said += [one.settled] if one.settled else []
    said += [f"those before it: {one.before_said}"] if one.before_said else []
    return f"out: {format_values_outside(one)}" + (f": {'; '.join(said)}" if said else "")


def _judge_values(batch: Batch, run: Run, line: str, gate: spec.Gate, now: Moment) -> GateVerdict:
    proof = _find(batch, run, line, gate, now, "enter what you read")
    if isinstance(proof, GateVerdict):
        return proof
    wrong = find_missing_or_outside(gate.asks(), proof.values)
    if wrong:
        moved = "; if the work was moved, probe every axis again" if isinstance(gate, spec.Probed) else ""
        clear = f"set it right and enter the new value{_or_waive(gate)}{moved}"
        return GateVerdict("ask", "; ".join(wrong), clear, proof=proof, again=True)
    return GateVerdict("met", "", evidence=_evidence(gate, proof, now), proof=proof)


def _judge_probed(batch: Batch, run: Run, line: str, gate: spec.Probed, now: Moment) -> GateVerdict:
    verdict = _judge_values(batch, run, line, gate, now)
    entered = str(verdict.proof.values.get("offset", "")) if verdict.proof is not None else ""
    if not entered or is_same_text(entered, gate.offset):
        return _judge_seat(batch, run, gate, verdict)
    carrier = batch.format_carrier(batch.loads[run.load])
    owners = list_offset_owners(batch.checklist, run.station, entered)
    whose = f"belongs to {', '.join(owners)}" if owners else "belongs to no carrier here"
    why = f"{entered} was probed, which {whose}; {carrier} uses {gate.offset}"
    clear = f"probe {gate.offset} and enter it; the earlier probing of {entered} is void"
    return replace(verdict, why=why, clear=clear)


def _judge_seat(batch: Batch, run: Run, gate: spec.Probed, verdict: GateVerdict) -> GateVerdict:
    """Within its limits a carrier may still sit tilted, or otherwise than it always did: a chip lies under it."""
    proof = verdict.proof
    if proof is None or verdict.status != "met" or batch.rules < COMPARED_SINCE:
        return verdict
    tilted = describe_tilt(gate, proof.values)
    if tilted:
        clear = f"clean under it, reseat it and probe again{_or_waive(gate)}"
        return GateVerdict("ask", tilted, clear, proof=proof, again=True)
    unusual = list_unusual_offsets(batch, run, gate, proof)
    if not unusual:
        return verdict
    if all(one.probed_twice for one in unusual):
        return replace(verdict, evidence=f"{verdict.evidence} · unusual, probed twice")
    why = "; ".join(one.said for one in unusual if not one.probed_twice)
    return GateVerdict("ask", why, "clean under it and probe again; a repeat reading counts", proof=proof, again=True)


COMPARED_SINCE = 3
"""Edition of the rules since which a probed offset is compared with earlier ones."""


def _judge_cured(batch: Batch, run: Run, line: str, gate: spec.Cured, now: Moment) -> GateVerdict:
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
        assert ripe.opens is not None
        return _wait_for(clock, ripe.opens, ripe.rate, now)
    if ripe.status == "late":
        return GateVerdict(
            "blocked",
            describe_closed_window(batch, clock, run.load, pieces, now),
            f"set the pieces aside (m){_or_waive(gate)}",
            late=True,
        )
    assert ripe.since is not None
    until = f", until {format_clock(ripe.closes, now.at)}" if ripe.closes else ""
    met = GateVerdict("met", "", when=ripe.closes, evidence=f"since {format_clock(ripe.since, now.at)}{until}")
    return _judge_stage(batch, run, line, gate, met, now) if gate.stage is not None else met


def _judge_stage(batch: Batch, run: Run, line: str, gate: spec.Cured, met: GateVerdict, now: Moment) -> GateVerdict:
    """A stage of drying that a test does not show holds a coat back though its time is over."""
    proof = _find(batch, run, line, gate, now, f"test for {gate.stage} where it does not show")
    if isinstance(proof, GateVerdict):
        return proof
    from floor.figures.drying import is_stage_reached

    shown = str(proof.values.get(spec.STAGE, spec.NO_STAGE))
    if not is_stage_reached(str(gate.stage), shown):
        why = f"the test shows {shown}, {gate.stage} is wanted"
        return GateVerdict("ask", why, f"let it dry on, then test again{_or_waive(gate)}", proof=proof, again=True)
    return replace(met, evidence=f"{met.evidence} · {_evidence(gate, proof, now)}", proof=proof)


def _wait_for(clock: Clock, opens: datetime, rate: float, now: Moment) -> GateVerdict:
    """How long is left; in cold or damp air, as long as that stays."""
    if not rate:
        clear = "warm or dry the air, then record it (x)"
        return GateVerdict("wait", f"{clock.id} stands still: the air is too cold or damp", clear, opens)
    left = format_span((opens - now.at).total_seconds())
    slowed = " in this cold or damp air" if rate < 1 else ""
    return GateVerdict("wait", f"{clock.id} needs {left} more{slowed}", f"ready {format_clock(opens, now.at)}", opens)


def describe_closed_window(batch: Batch, clock: Clock, load: int, pieces: Sequence[int], now: Moment) -> str:
    """``recoat: its last window has closed for A1 on Pallet 2 (1 of 4 pieces)``; for the carrier where it is all."""
    late = list_pieces_too_late(batch, clock, pieces, now)
    where = batch.format_carrier(batch.loads[load])
    if late and len(late) < len(pieces):
        names = ", ".join(filter(None, (batch.format_slot(batch.loads[load], piece) for piece in late)))
        where = f"{names} on {where} ({len(late)} of {format_count(len(pieces), 'piece')})".removeprefix(" on ")
    return f"{clock.id} time limit passed for {where}"


def _judge_tool(batch: Batch, run: Run, line: str, gate: spec.ToolLoaded, now: Moment) -> GateVerdict:
    proof = _find(batch, run, line, gate, now, f"load tool {gate.tool} and enter its number and length")
    if isinstance(proof, GateVerdict):
        return proof
    wrong = find_missing_or_outside(gate.asks(), proof.values)
    if wrong:
        return GateVerdict("ask", "; ".join(wrong), f"load tool {gate.tool}", proof=proof, again=True)
    left, need = compute_tool_life(batch, run, gate.tool)
    if left is not None and left < need:
        card = batch.checklist.tool(gate.tool)
        what = "these loads take" if len(find_runs_in_cycle(batch, run)) > 1 else "this load takes"
        short = f"tool {gate.tool} has {format_life_left(card, left)}, {what} {say_life(card, need)}"
        return GateVerdict("blocked", short, "change the tool and record the change", change=gate.tool)
    life = f" · {format_life_left(batch.checklist.tool(gate.tool), left)}" if left is not None else ""
    return GateVerdict("met", "", evidence=_evidence(gate, proof, now) + life, proof=proof)


def _judge_program(batch: Batch, run: Run, line: str, gate: spec.ProgramLoaded, now: Moment) -> GateVerdict:
    operation = batch.find_operation(run)
    wanted, check = operation.program, batch.programs.get(run.setup)
    if operation.program_file and check is None:
        return GateVerdict("ask", f"{operation.program_file} is not read yet", "Enter reads it", reads=True)
    faults = list_program_faults(batch, run)
    if check is not None and (faults or check.left_out):
        many = format_count(len(faults) + check.left_out, "fault")
        clear = f"correct the program; Enter reads it again{_or_waive(gate)}"
        return GateVerdict("blocked", f"{many} in {check.file}", clear, reads=True)
    proof = _find(batch, run, line, gate, now, f"load {wanted} and enter what the control shows")
    if isinstance(proof, GateVerdict):
        return proof
    shown = str(proof.values.get("program", ""))
    if not is_same_text(shown, wanted):
        return GateVerdict(
            "ask", f"the control shows {shown}, the route says {wanted}", f"load {wanted}", proof=proof, again=True
        )
    file = f" · {check.file} {check.sha256[:8]}" if check is not None else ""
    return GateVerdict("met", "", evidence=_evidence(gate, proof, now) + file, proof=proof)


def _judge_counted(batch: Batch, run: Run, line: str, gate: spec.Counted, now: Moment) -> GateVerdict:
    proof = _find(batch, run, line, gate, now, "count the pieces")
    if isinstance(proof, GateVerdict):
        return proof
    found = proof.values.get("pieces")
    if found != len(run.pieces):
        sitting = batch.format_sitting_pieces(batch.loads[run.load])
        apart = f", and {sitting}" if sitting else ""
        return GateVerdict(
            "ask",
            f"counted {found}, the record says {len(run.pieces)}{apart}",
            "count again, or set aside what is missing",
            proof=proof,
            again=True,
        )
    return GateVerdict("met", "", evidence=_evidence(gate, proof, now), proof=proof)


def _judge_person(batch: Batch, run: Run, line: str, gate: spec.FirstPiece | spec.Signed, now: Moment) -> GateVerdict:
    if isinstance(gate, spec.FirstPiece) and is_all_decided(run):  # the next load on the set-up asks for it again
        key = GATE_RULES[gate.gate].key(batch, run, line, gate)
        return GateVerdict("met", "", evidence=_proved_or_decided(batch, key, gate, now))
    another = isinstance(gate, spec.Signed) or gate.independent
    ask = "a second person signs" if another else "enter who accepts it"
    proof = _find(batch, run, line, gate, now, ask)
    if isinstance(proof, GateVerdict):
        return proof
    wrong = find_values_outside(gate.asks(), proof.values)
    if wrong:
        clear = f"set it right, and measure the next piece; this one is counted out{_or_waive(gate)}"
        return GateVerdict("ask", "; ".join(wrong), clear, proof=proof, again=True)
    self_check = " (self-check)" if proof.values.get("self") else ""
    return GateVerdict("met", "", evidence=_evidence(gate, proof, now) + self_check, proof=proof)


def _judge_held(batch: Batch, run: Run, line: str, gate: spec.WorkHeld, now: Moment) -> GateVerdict:
    verdict = _judge_values(batch, run, line, gate, now)
    self_check = verdict.proof is not None and verdict.status == "met" and verdict.proof.values.get("self")
    return replace(verdict, evidence=f"{verdict.evidence} (self-check)") if self_check else verdict


def _judge_lot(batch: Batch, run: Run, line: str, gate: spec.LotRecorded, now: Moment) -> GateVerdict:
    which = "serial number" if gate.serial else "lot"
    ask = f"enter the {which} of {gate.what}"
    lot = batch.lots.get(gate.what)
    if gate.per != "batch":
        proof = _find(batch, run, line, gate, now, ask)
        if isinstance(proof, GateVerdict):
            return proof
        lot = read_lot(proof)
    if lot is None:
        return GateVerdict("ask", "not recorded yet", ask)
    if gate.use_by and lot.use_by is None:
        return GateVerdict(
            "ask", f"{gate.what} {lot.lot} has no {gate.until} date on record", f"enter {which} and date"
        )
    if is_past_use_by(lot.use_by, _today(now)):
        over = "calibration was due" if gate.serial else "was to be used by"
        return GateVerdict("ask", f"{gate.what} {lot.lot} {over} {lot.use_by}", f"take another and enter its {which}")
    until = f", {gate.until} {lot.use_by}" if lot.use_by else ""
    return GateVerdict("met", "", evidence=f"{lot.lot}{until}")


def _today(now: Moment) -> date:
    return now.at.date()


def _judge_word(batch: Batch, run: Run, line: str, gate: spec.Confirmed, now: Moment) -> GateVerdict:
    proof = _find(batch, run, line, gate, now, "look, then confirm")
    if isinstance(proof, GateVerdict):
        return proof
    if is_safety_check(batch, gate) and was_left_since(batch, run, proof.at, now.at):
        away = format_span(LONG_BREAK.total_seconds())
        why = f"work stopped for more than {away} after {proof.by} confirmed it at {format_clock(proof.at, now.at)}"
        return GateVerdict("ask", why, "look again, then confirm", proof=proof, again=True)
    return GateVerdict("met", "", evidence=_evidence(gate, proof, now), proof=proof)


def _judge_soaked(batch: Batch, run: Run, line: str, gate: spec.Soaked, now: Moment) -> GateVerdict:
    """Long enough inside; what was over stands until a lead decides, whatever is read next."""
    ask = "enter the readings, or the logger's file"
    proof = _find(batch, run, line, gate, now, ask)
    if isinstance(proof, GateVerdict):
        return proof
    outcome = read_outcome(proof.values)
    if outcome is None:
        return GateVerdict("ask", "no readings on record", ask, proof=proof, again=True)
    over = describe_over_temperature(gate, outcome, now)
    if over:
        clear = f"set the pieces aside (m){_or_waive(gate)}; if it was mistyped, strike it out"
        return GateVerdict("blocked", over, clear, proof=proof)
    wrong = find_missing_or_outside(tuple(one for one in gate.asks() if one.kind != "readings"), proof.values)
    if wrong:
        return GateVerdict("ask", "; ".join(wrong), "set it right and enter it again", proof=proof, again=True)
    said = describe_soak(gate, proof.values, outcome, now)
    if outcome.total < gate.time.base:
        return GateVerdict("ask", said, _say_way_on(batch, run, gate), proof=proof, again=True)
    evidence = f"{format_soak_evidence(gate, proof.values, outcome, now)} · {proof.by} {format_clock(proof.at, now.at)}"
    return GateVerdict("met", "", evidence=evidence, proof=proof, notes="; ".join(list_lacks(outcome, now)))


def _say_way_on(batch: Batch, run: Run, gate: spec.Soaked) -> str:
    """What to do about a soak that is too short: once its cycle is over, no reading can be added to it."""
    if run.ended is None:
        return f"keep soaking, then enter all readings again{_or_waive(gate)}"
    again = next((route.name for route in batch.checklist.reworks if route.back_to == run.op), "")
    to_bake = f" for rework ({again})" if again else ""
    return f"set the pieces aside (m){to_bake}{_or_waive(gate)}; if readings are missing, enter all of them"


def _judge_air(batch: Batch, run: Run, line: str, gate: spec.AirMeasured, now: Moment) -> GateVerdict:
    """The reading is within its limits, the work clear of the dew point, and neither too long ago."""
    verdict = _judge_values(batch, run, line, gate, now)
    proof = verdict.proof
    dew = measure_dew(gate, proof.values) if proof is not None else None
    if proof is None or verdict.status != "met" or dew is None:
        return verdict
    if dew.is_near:
        clear = f"warm the parts or dry the air, then measure again{_or_waive(gate)}"
        return GateVerdict("ask", dew.said, clear, proof=proof, again=True)
    age = (now.at - proof.at).total_seconds()
    if gate.good_for is not None and age > gate.good_for.base:
        return GateVerdict("ask", f"measured {format_span(age)} ago", "measure again", proof=proof, again=True)
    return replace(verdict, evidence=f"{verdict.evidence} · {dew.said}")


def _by_offset(batch: Batch, run: Run, line: str, gate: spec.Probed) -> OffsetKey:
    return OffsetKey("probed", run.load, run.station, gate.offset)


def _by_run(batch: Batch, run: Run, line: str, gate: spec.Gate) -> RunKey:
    return RunKey(gate.gate, "run", run.number, line)


def _by_setup(batch: Batch, run: Run, line: str, gate: spec.Gate) -> SetupKey:
    return SetupKey(gate.gate, "setup", run.setup, line)


def _by_lot(batch: Batch, run: Run, line: str, gate: spec.LotRecorded) -> ProofKey:
    if gate.per == "batch":
        return LotKey("lot recorded", gate.what)
    return _by_setup(batch, run, line, gate) if gate.per == "setup" else _by_run(batch, run, line, gate)


def _by_scope(batch: Batch, run: Run, line: str, gate: spec.Measured | spec.Signed | spec.Confirmed) -> ProofKey:
    if gate.per == "shift":
        key = ShiftKey(gate.gate, "shift", batch.shift, run.op, line)
        return StationShiftKey(*key, run.station) if batch.operation(run.op).also_at else key
    return _by_setup(batch, run, line, gate) if gate.per == "setup" else _by_run(batch, run, line, gate)


GATE_RULES: dict[str, GateRule] = {
    "probed": GateRule(_judge_probed, _by_offset),
    "cured": GateRule(_judge_cured, _by_run),
    "tool loaded": GateRule(_judge_tool, lambda batch, run, line, gate: ToolKey("tool loaded", run.station, gate.tool)),
    "program loaded": GateRule(_judge_program, _by_setup),
    "work held": GateRule(_judge_held, _by_run),
    "measured": GateRule(_judge_measured, _by_scope),
    "counted": GateRule(_judge_counted, _by_run),
    "first piece accepted": GateRule(_judge_person, _by_setup),
    "signed": GateRule(_judge_person, _by_scope),
    "lot recorded": GateRule(_judge_lot, _by_lot),
    "confirmed": GateRule(_judge_word, _by_scope),
    "soaked": GateRule(_judge_soaked, _by_run),
    "air measured": GateRule(_judge_air, _by_run),
}


def find_lines_proved_by(batch: Batch, run: Run, key: ProofKey) -> set[str]:
    """The lines of a run that a proof with this key serves."""
    return {
        line
        for line, step in batch.find_operation(run).numbered_steps
        if not isinstance(step, Do) and GATE_RULES[step.gate].key(batch, run, line, step) == key
    }


def judge_gate(batch: Batch, run: Run, line: str, gate: spec.Gate, now: Moment) -> GateVerdict:
    """Judge whether a gate is met for a run at this moment."""
    return GATE_RULES[gate.gate].judge(batch, run, line, gate, now)
