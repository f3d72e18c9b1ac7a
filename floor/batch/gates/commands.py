"""Proving a gate, waiving it, and closing a waiver."""

from __future__ import annotations

from dataclasses import field
from typing import Any

from floor.batch import events
from floor.batch.command import (
    Context,
    Refused,
    must_be_current,
    refuse_closed_batch,
    require_reason,
    require_run,
    walk_of,
)
from floor.batch.events import make_drafts
from floor.batch.gates.check_values import count_values_outside, find_values_outside, is_same_text, split_by_piece
from floor.batch.gates.events import Fault
from floor.batch.gates.first_piece_lots import list_first_piece_lots, say_new_lot
from floor.batch.gates.gauges import check_gauges
from floor.batch.gates.measured_pieces import choose_measured_pieces, find_first_piece
from floor.batch.gates.offset_history import find_last_elsewhere
from floor.batch.gates.offset_users import list_zeros
from floor.batch.gates.open_lot import refuse_redated, refuse_use_by
from floor.batch.gates.out_of_limits import ReadPieces, find_suspect, stands_until_decided
from floor.batch.gates.proof_keys import find_proof_key
from floor.batch.gates.proof_readers import read_proof
from floor.batch.gates.samples import find_sample_size, plan_sample
from floor.batch.gates.soak_readings import find_work_span
from floor.batch.gates.verifiers import check_verifier
from floor.batch.proof import ProofKey, read_use_by_date
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.stations.qualified_people import refuse_unqualified
from floor.batch.walk.clock_jumps import find_latest_day
from floor.batch.walk.lines import Line
from floor.batch.walk.shared_cycles import find_runs_in_cycle
from floor.checklist.gate_forms import PLACE
from floor.checklist.gates import ByPlan, FirstPiece, Gate, LotRecorded, Measured, Probed, Signed, ToolLoaded, WorkHeld
from floor.dataclass import dataclass
from floor.entry import Draft


@dataclass(frozen=True, slots=True)
class Prove:
    """Record the values that a gate's form asks for, also when they are out of limits."""

    run: int
    line: str
    values: dict[str, Any] = field(default_factory=dict)

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        run = require_run(batch, self.run)
        walked = walk_of(batch, run, context)
        line = walked.line(self.line)
        gate = line.gate if line is not None else None
        if line is None or gate is None:
            raise Refused("unknown", f'there is no gate "{self.line}" in this run', "look at the walk again")
        if not _may_open_another_lot(run, line, gate):
            must_be_current(walked, self.line)
        refuse_unqualified(batch, run.station, context)
        _refuse_what_no_entry_proves(line)
        count = find_sample_size(batch, run, self.line, gate)
        values = read_proof(gate, count, self.values, find_work_span(run, context.now))
        if isinstance(gate, Probed):
            _refuse_zero_in_use(batch, run, self.line, gate, values, context)
        if isinstance(gate, Signed | FirstPiece) or (isinstance(gate, WorkHeld) and gate.second):
            values |= check_verifier(batch, run, self.line, gate, str(values.get("person", "")), context)
        today = find_latest_day(batch, context.now)
        values |= check_gauges(gate, values, context, today, lambda what: _note_attempt(what, run, self.line, values))
        if isinstance(gate, LotRecorded):
            _refuse_expired_lot(batch, run, self.line, gate, values, context)
        worn = _compute_wear_so_far(batch, run, gate, context) if isinstance(gate, ToolLoaded) else 0.0
        out = (
            count_values_outside(gate, values)
            if isinstance(gate, Measured | FirstPiece) and stands_until_decided(gate, values)
            else 0
        )
        key = find_proof_key(batch, run, self.line, gate)
        pieces = choose_measured_pieces(batch, run, self.line, gate)
        if isinstance(gate, FirstPiece):
            pieces = find_first_piece(batch, run, self.line, gate, self.values.get(PLACE))
            values |= list_first_piece_lots(batch, run, gate)
        return make_drafts(
            events.Proved(
                run=run.number,
                op=run.op,
                line=self.line,
                gate=gate.gate,
                key=key,
                values=values,
                worn=worn,
                out=out,
                before=_count_suspect(batch, run, self.line, gate, values, pieces) if out else 0,
                pieces=pieces,
                sampled=_plan_first_sample(batch, run, self.line, gate),
                again=_say_why_again(batch, run, key, gate),
                last=find_last_elsewhere(batch, run, gate, context.elsewhere.find_probed),
            )
        )


def _say_why_again(batch: Batch, run: Run, key: ProofKey, gate: Gate) -> str:
    """What voided the acceptance of the first piece before; empty where nothing did."""
    if not isinstance(gate, FirstPiece):
        return ""
    void = batch.voids.get(key)
    return void.why if void is not None else say_new_lot(batch, run, gate, batch.proofs.get(key))


def _plan_first_sample(batch: Batch, run: Run, line: str, gate: Gate) -> events.SampleTaken | None:
    """The sample by a plan that is being entered; None where there is no plan, or the load is being sorted."""
    if not isinstance(gate, Measured) or not isinstance(gate.sample, ByPlan):
        return None
    taken = run.samples.get(line)
    return None if taken is not None and taken.is_rejected else plan_sample(batch, run, line, gate.sample)


def _may_open_another_lot(run: Run, line: Line, gate: Gate) -> bool:
    """A new can may be opened in mid-run."""
    return isinstance(gate, LotRecorded) and line.is_satisfied and run.count is None


def _refuse_what_no_entry_proves(line: Line) -> None:
    """A gate to be waited for, that something blocks, or where a file is read or a reading decided on first."""
    verdict = line.verdict
    if verdict is not None and (verdict.status in ("wait", "blocked") or verdict.decide or verdict.reads):
        raise Refused("gate", f"{line.title}: {verdict.why}", verdict.clear)


def _count_suspect(
    batch: Batch, run: Run, line: str, gate: Gate, values: dict[str, Any], pieces: tuple[int, ...]
) -> int:
    """How many pieces made since the last good check at a line may be out of limits too."""
    if not isinstance(gate, Measured):
        return 0
    by_piece = split_by_piece(gate, values)
    asks, known = gate.asks(), dict(zip(pieces, by_piece, strict=False)) if len(by_piece) == len(pieces) else {}
    out = frozenset(piece for piece, one in known.items() if find_values_outside(asks, one))
    read = ReadPieces(out, frozenset(known) - out)
    return len(find_suspect(batch, run, line, gate, run.undecided, read).all)


def _refuse_expired_lot(
    batch: Batch, run: Run, line: str, gate: LotRecorded, values: dict[str, Any], context: Context
) -> None:
    use_by = read_use_by_date(values)
    if use_by is not None:
        today, attempt = find_latest_day(batch, context.now), _note_attempt("past its date", run, line, values)
        refuse_use_by(gate, use_by, today, attempt)
        refuse_redated(batch, gate, str(values["lot"]), use_by.isoformat(), today, attempt)


def _note_attempt(what: Fault, run: Run, line: str, values: dict[str, Any]) -> events.AttemptRefused:
    return events.AttemptRefused(what=what, run=run.number, op=run.op, line=line, values=values)


def _compute_wear_so_far(batch: Batch, run: Run, gate: ToolLoaded, context: Context) -> float:
    """How far other batches wore a tool before it was loaded for this one; 0 where this batch knows as much."""
    known = batch.tools.get((run.station, gate.tool))
    elsewhere = context.elsewhere.worn.get((run.station, gate.tool), 0.0)
    return elsewhere if elsewhere > (known.used if known else 0.0) else 0.0


def _refuse_zero_in_use(
    batch: Batch, run: Run, line: str, gate: Probed, values: dict[str, Any], context: Context
) -> None:
    """Refuse to probe a zero that another load is being cut by: it is a slip, or that cycle must stop first."""
    entered = str(values.get("offset", gate.offset)).upper()
    is_slip = not is_same_text(entered, gate.offset)
    beside = [] if is_slip else find_runs_in_cycle(batch, run)
    cut = [
        (zero, f"{batch.format_load(other.load)} is being cut in {entered} now (run {other.number})")
        for other in batch.list_open_runs()
        if other.running and other.station == run.station and other not in beside
        for zero in list_zeros(batch, other)
    ]
    cut += [
        (zero, f"{load} is being cut in {entered} now")
        for station, zero, load in context.elsewhere.zeros
        if station == run.station
    ]
    for zero, said in cut:
        if is_same_text(zero, entered):
            uses = f"{batch.format_carrier(batch.loads[run.load])} uses {gate.offset}"
            slip = f"look again: {uses}. If {entered} was moved, stop that cycle (x)"
            raise Refused(
                "input",
                f"{said}: nobody can probe it",
                slip if is_slip else "end or stop that cycle (x) first",
                field="offset",
                attempt=_note_attempt("zero in use", run, line, values),
            )


def require_waivable(line: Line | None, context: Context) -> tuple[Line, Gate]:
    """A gate that may be passed unproved; refused where it is none, or may never be, or is to be decided on."""
    gate = line.gate if line is not None else None
    if line is None or gate is None:
        skips = line is None or line.kind == "do"
        instead = "skip it with a reason (s)" if skips else "do it, or set its pieces aside on hold (m)"
        raise Refused("input", "nothing to waive here", instead)
    if gate.waive == "never":
        clear = line.verdict.clear if line.verdict else ""
        raise Refused("authority", f"{line.title}: may not be waived", clear, signs="")
    if line.verdict is not None and line.verdict.decide:
        raise Refused("gate", f"{line.title}: {line.verdict.why}", line.verdict.clear)
    context.need_lead("waiving a gate")
    return line, gate


def takes_second(gate: Gate) -> bool:
    """Whether a waiver of it takes a second signature."""
    return gate.waive == "lead and second"


@dataclass(frozen=True, slots=True)
class Waive:
    """Pass a gate unproved: a lead, a reason, and where the checklist says so a second signature."""

    run: int
    line: str
    why: str
    second: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        run = require_run(batch, self.run)
        walked = walk_of(batch, run, context)
        line, gate = require_waivable(walked.line(self.line), context)
        must_be_current(walked, self.line)
        why = require_reason(self.why, "a waiver")
        second = context.need_second(self.second, "this waiver") if takes_second(gate) else ""
        unmet = line.verdict.why if line.verdict else ""
        return make_drafts(
            events.Waived(
                run=run.number, op=run.op, line=self.line, title=line.title, unmet=unmet, reason=why, second=second
            )
        )


@dataclass(frozen=True, slots=True)
class CloseWaiver:
    """Close a waiver; where its gate asks for two, another lead than who gave it, if there is one."""

    waiver: int
    why: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        waiver = batch.waivers.get(self.waiver)
        if waiver is None or waiver.closed:
            raise Refused("unknown", "there is no such open waiver", "choose one from the list")
        context.need_lead("closing a waiver")
        others = sorted(context.leads - {waiver.by})
        if waiver.second and waiver.by == context.by.initials and others:
            wrong = f"{waiver.by} gave this waiver, and its check asks for two persons"
            raise Refused("authority", wrong, f"another lead closes it: {', '.join(others)}", signs="another lead")
        return make_drafts(events.WaiverClosed(waiver=self.waiver, reason=require_reason(self.why, "closing a waiver")))
