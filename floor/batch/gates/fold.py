"""Folding of proofs, waivers, and what is said of a clock."""

from __future__ import annotations

from datetime import datetime

from floor.batch.events import (
    AirRead,
    AttemptRefused,
    ClockConfirmed,
    GaugeSuspected,
    ProgramRead,
    Proved,
    SuspectGaugeSettled,
    Waived,
    WaiverClosed,
)
from floor.batch.fold_registry import handles, open_run, prove_again, require
from floor.batch.gates.fold_lots import record_lot, take_lot
from floor.batch.gates.fold_out_of_limits import read_out
from floor.batch.gates.judge import judge_gate
from floor.batch.gates.offset_history import record_probed
from floor.batch.gates.offset_users import is_offset_set_anew
from floor.batch.gates.program_findings import sort_findings
from floor.batch.gates.room_air import record_air
from floor.batch.open_items import SuspectGauge, Waiver
from floor.batch.proof import (
    AirReading,
    LineMark,
    LotKey,
    OffsetKey,
    ProgramCheck,
    Proof,
    SetupKey,
    ToolKey,
    ToolState,
)
from floor.batch.run import Run, SampleResult
from floor.batch.state import Batch
from floor.batch.walk.clock_jumps import confirm_jumps
from floor.batch.walk.fold import start_clocks
from floor.batch.walk.fold_lapses import SET_ANEW, void_steps
from floor.batch.walk.shared_cycles import find_runs_in_cycle
from floor.checklist.gates import AirMeasured, FirstPiece, Gate, LotRecorded, Measured, ProgramLoaded
from floor.checklist.operation import Do
from floor.entry import Entry


@handles(Proved)
def _proved(batch: Batch, entry: Entry, event: Proved, at: datetime) -> None:
    run, key = open_run(batch, entry, event), event.key
    step = dict(batch.find_operation(run).numbered_steps).get(event.line)
    if isinstance(key, OffsetKey):
        _prove_again_where_set_anew(batch, entry, event, run, key, at)
        record_probed(batch, run, key.offset, entry.seq, event.values, event.last)
    batch.proofs[key] = Proof(entry.seq, at, entry.by, event.values, run.number, run.station, run.load)
    batch.voids.pop(key, None)
    run.marks[event.line] = LineMark("done", entry.seq, at, entry.by)
    if isinstance(key, LotKey):
        record_lot(batch, key.what, event.values["lot"], event.values.get("use_by"), entry, at)
    elif isinstance(step, LotRecorded) and step.per == "load":
        take_lot(batch, run, step, event.values["lot"])
    if isinstance(step, AirMeasured):
        record_air(batch, entry.seq, at, step, event.values)
    if isinstance(key, ToolKey):
        _load_tool(batch, run.station, key, event, at)
    if event.sampled is not None:
        taken = event.sampled
        run.samples[event.line] = SampleResult(
            entry.seq, taken.lot, taken.size, taken.accept, taken.reject, taken.severity, event.out
        )
    if event.gate in SET_ANEW:
        void_steps(batch, run, SET_ANEW[event.gate], f"{event.gate} again", entry, at, behind=event.line)
    if event.out and isinstance(step, Measured | FirstPiece):
        batch.out[entry.seq] = read_out(batch, entry, event, run, step, at)
    if event.line in run.reopened and _is_met(batch, run, event.line, step):
        run.reopened.discard(event.line)
    start_clocks(batch, run, f"step {event.line}", at, entry.seq)


def _is_met(batch: Batch, run: Run, line: str, step: Do | Gate | None) -> bool:
    """Whether what was entered fulfills it: a value may be out of limits, and the line then stays open."""
    return step is None or isinstance(step, Do) or judge_gate(batch, run, line, step, batch.last).status == "met"


def _prove_again_where_set_anew(
    batch: Batch, entry: Entry, event: Proved, run: Run, key: OffsetKey, at: datetime
) -> None:
    """Probing an offset that is another carrier's overwrites its zero on the control.

    Carriers that go through one cycle may share a zero of the whole bed. Up to the third edition of the rules, only
    where each carrier has an offset of its own.
    """
    if "offset" not in event.values and batch.rules < 4:
        return
    offset = str(event.values.get("offset", key.offset))
    beside = {one.load for one in find_runs_in_cycle(batch, run)} if "offset" not in event.values else set()
    for other in [other for other in batch.proofs if isinstance(other, OffsetKey) and other != key]:
        if other.load not in beside and is_offset_set_anew(batch, other, run.station, offset):
            prove_again(batch, other, f"{offset} was probed on {batch.format_load(run.load)}", entry, at)


def _load_tool(batch: Batch, station: str, key: ToolKey, event: Proved, at: datetime) -> None:
    """What is known of a tool's wear stays known: loading it again makes it no newer."""
    known = batch.tools.get((station, key.tool))
    used = max(known.used if known else 0.0, event.worn)
    batch.tools[station, key.tool] = ToolState(event.values.get("length"), known.since if known else at, used)


@handles(AttemptRefused)
def _attempt_refused(batch: Batch, entry: Entry, event: AttemptRefused, at: datetime) -> None:
    """Nothing changes: it was not taken."""


@handles(AirRead)
def _air_read(batch: Batch, entry: Entry, event: AirRead, at: datetime) -> None:
    batch.air.append(AirReading(entry.seq, at, event.temperature, event.humidity))


@handles(ProgramRead)
def _program_read(batch: Batch, entry: Entry, event: ProgramRead, at: datetime) -> None:
    """If the file has changed, the program is read back again, and the first piece accepted again.

    What a lead waived was another file's matter. A file that could not be read has not changed, yet no cycle starts
    or goes on with it. A cycle under way runs what was loaded before.
    """
    run = open_run(batch, entry, event)
    before = batch.programs.get(run.setup)
    faults, notes = sort_findings(event.findings)
    known = before.sha256 if before is not None else ""
    read = event if event.sha256 or before is None else before
    batch.programs[run.setup] = ProgramCheck(
        seq=entry.seq,
        at=at,
        by=entry.by,
        file=event.file,
        sha256=event.sha256 or known,
        faults=faults,
        notes=notes,
        offsets=read.offsets,
        seconds=read.seconds,
        untimed=read.untimed,
        left_out=event.left_out,
    )
    if not event.sha256:
        _reopen_stopped(batch, run.setup, event.line)
    if not known or event.sha256 in ("", known):
        return
    _spend_waivers(batch, run.setup)
    for key in [key for key in batch.proofs if isinstance(key, SetupKey) and key.setup == run.setup]:
        if key.gate in ("program loaded", "first piece accepted"):
            prove_again(batch, key, f"{event.file} has changed", entry, at, also_running=False)


def _reopen_stopped(batch: Batch, setup: int, line: str) -> None:
    for run in batch.list_open_runs():
        if run.setup == setup and run.stopped is not None:
            run.reopened.add(line)


def _spend_waivers(batch: Batch, setup: int) -> None:
    """Waivers of what another program's file showed, or of the piece that it cut, where its cycle is still to start."""
    for waiver in batch.waivers.values():
        run = batch.runs[waiver.run]
        step = dict(batch.find_operation(run).numbered_steps).get(waiver.line)
        to_start = run.started is None or run.stopped is not None
        if run.setup == setup and run.count is None and to_start and isinstance(step, ProgramLoaded | FirstPiece):
            waiver.spent = True
            if run.stopped is not None:
                run.reopened.add(waiver.line)


@handles(Waived)
def _waived(batch: Batch, entry: Entry, event: Waived, at: datetime) -> None:
    run = open_run(batch, entry, event)
    batch.waivers[entry.seq] = Waiver(
        seq=entry.seq,
        run=run.number,
        op=run.op,
        line=event.line,
        title=event.title,
        by=entry.by,
        second=event.second,
        reason=event.reason,
        at=at,
        pieces=frozenset(run.pieces),
    )


@handles(WaiverClosed)
def _waiver_closed(batch: Batch, entry: Entry, event: WaiverClosed, at: datetime) -> None:
    waiver = batch.waivers[event.waiver]
    require(entry, not waiver.closed, "the waiver is closed already")
    waiver.closed_by = entry.by
    waiver.closed = f"{event.reason} · {entry.by}"


@handles(GaugeSuspected)
def _gauge_suspected(batch: Batch, entry: Entry, event: GaugeSuspected, at: datetime) -> None:
    batch.suspect_gauges[entry.seq] = SuspectGauge(
        entry.seq, event.serial, event.gauge, event.reason, entry.by, event.checks
    )


@handles(SuspectGaugeSettled)
def _suspect_gauge_settled(batch: Batch, entry: Entry, event: SuspectGaugeSettled, at: datetime) -> None:
    one = batch.suspect_gauges.get(event.report)
    require(entry, one is not None and not one.settled, "it is already decided")
    assert one is not None
    one.settled = f"{event.reason} ({entry.by})"


@handles(ClockConfirmed)
def _clock_confirmed(batch: Batch, entry: Entry, event: ClockConfirmed, at: datetime) -> None:
    batch.jumps = confirm_jumps(batch.jumps, entry.seq)
    batch.clock_told = entry.seq
