"""Folding of a run up to the end of its cycle: lines marked, pauses, timers started."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from floor.batch.events import (
    CautionsRead,
    CycleEnded,
    CycleStarted,
    Paused,
    RunBegun,
    StepDone,
    StepsChecked,
    StepSkipped,
)
from floor.batch.fold_registry import handles, open_run, open_runs_in, require, void_proof
from floor.batch.gates.lapse_causes import find_step_lapses
from floor.batch.gates.proof_keys import find_proof_key
from floor.batch.gates.tool_life import compute_tool_wear, compute_wasted_tool_life
from floor.batch.load import Load
from floor.batch.open_items import Waiver
from floor.batch.proof import (
    LineMark,
    OffsetKey,
    Setup,
    ToolState,
)
from floor.batch.run import CycleStop, Run
from floor.batch.state import Batch
from floor.batch.stations.capacity import count_places_in_use, count_places_needed, list_other_stations
from floor.batch.walk.any_order import list_later_ops
from floor.batch.walk.clock_jumps import compute_shift_since
from floor.batch.walk.fold_rejudging import rejudge_before, rejudge_windows
from floor.checklist.operation import Do
from floor.entry import Entry


@handles(RunBegun)
def _run_begun(batch: Batch, entry: Entry, event: RunBegun, at: datetime) -> None:
    load = batch.loads[event.load]
    if event.ahead:
        require(entry, event.op in list_later_ops(batch, load), f"op {event.op} cannot be done before its turn")
        load.ahead = event.op
    _require_can_begin(batch, entry, event, load)
    _set_up(batch, entry, event, at)
    _void_offsets_of_moved_carriers(batch, entry, event, at)
    run = Run(
        number=event.run,
        load=load.number,
        op=event.op,
        station=event.station,
        setup=event.setup,
        pieces=event.pieces,
        begun=at,
        by=entry.by,
        seq=entry.seq,
        rework=event.rework,
        cycle=event.cycle,
        exception=event.exception,
        touched=at,
        touched_by=entry.by,
    )
    batch.runs[run.number] = run
    load.run = run.number
    if event.ahead:
        assert load.next_op is not None, "else no operation is ahead of it"
        for piece in run.pieces:
            batch.turn.setdefault(piece, load.next_op)
    if event.ahead_why:
        waive_rule(batch, run, entry, f"before op {load.next_op}", event.ahead_why, at)
    if event.instead:
        usual, here = (batch.checklist.station(one).name for one in (batch.operation(run.op).station, run.station))
        waive_rule(batch, run, entry, f"at {here}, not at {usual}", event.instead, at)


def waive_rule(batch: Batch, run: Run, entry: Entry, title: str, reason: str, at: datetime) -> None:
    """What a lead let a run do otherwise than the checklist says is a waiver, and goes with its pieces."""
    batch.waivers[entry.seq] = Waiver(
        seq=entry.seq,
        run=run.number,
        op=run.op,
        line="",
        title=title,
        by=entry.by,
        second="",
        reason=reason,
        at=at,
        pieces=frozenset(run.pieces),
    )


def _require_can_begin(batch: Batch, entry: Entry, event: RunBegun, load: Load) -> None:
    """The load is there and free, and the station does the operation and has room."""
    station = event.station
    can = batch.operation(event.op).stations if event.op in batch.checklist.ops else ()
    other = bool(event.instead) and station in list_other_stations(batch, event.op)
    require(entry, station in can or other, f"op {event.op} is not done at {station}")
    require(entry, load.dissolved is None and load.run is None, f"load {load.number} is not free for a run")
    require(entry, load.at == event.op, f"load {load.number} is not at op {event.op}")
    require(entry, event.pieces == batch.find_next_pieces(load), "the pieces of the load are others")
    room = batch.checklist.station(station).runs_at_once - count_places_in_use(batch, station)
    require(entry, count_places_needed(batch, station, load) <= room, f"{station} is taken by another load")


def _set_up(batch: Batch, entry: Entry, event: RunBegun, at: datetime) -> None:
    """The run stands on the set-up that is there, or on a new one that takes its place."""
    station, standing = event.station, batch.find_setup(event.station)
    if not event.new_setup:
        require(entry, standing is not None and standing.number == event.setup, "its set-up does not stand")
        return
    if standing is not None:
        standing.stands, standing.why_not = False, f"set up for op {event.op}"
    before = standing.number if standing is not None else 0
    batch.setups[event.setup] = Setup(event.setup, station, event.op, at, instead_of=before)


def _void_offsets_of_moved_carriers(batch: Batch, entry: Entry, event: RunBegun, at: datetime) -> None:
    """Moving a carrier to another station lifts it; so does putting another one in its place."""
    station = event.station
    alone = batch.checklist.station(station).runs_at_once == 1
    for key in [key for key in batch.proofs if isinstance(key, OffsetKey)]:
        if key.load == event.load:
            moved = key.station != station
        else:
            moved = key.station == station and (alone or key.load in (event.lifted or ()))
        if moved:
            void_proof(batch, key, "the carrier left the station", entry, at)


def _marks_of(batch: Batch, run: Run, line: str) -> dict[str, LineMark]:
    """The marks a line belongs to: set-up lines are marked once for all runs of the set-up, others per run."""
    for key, step in batch.find_operation(run).numbered_steps:
        if key == line and step.at == "setup":
            return batch.setups[run.setup].marks
    return run.marks


@handles(CautionsRead)
def _cautions_read(batch: Batch, entry: Entry, event: CautionsRead, at: datetime) -> None:
    run = open_run(batch, entry, event)
    for caution in event.cautions:
        batch.read[(entry.by, run.op, caution)] = (at, batch.shift)
    run.marks[f"caution {event.line}"] = LineMark("done", entry.seq, at, entry.by)


def _mark(
    batch: Batch, entry: Entry, event: StepDone | StepSkipped, how: Literal["done", "skipped"], note: str, at: datetime
) -> None:
    line = event.line
    for run in open_runs_in(batch, entry, event):
        marks = _marks_of(batch, run, line)
        require(entry, line not in marks or _again(batch, run, line), f'"{line}" is marked already')
        rejudge_windows(batch, run, entry, line)
        marks[line] = LineMark(how, entry.seq, at, entry.by, note)
        run.reopened.discard(line)
        run.lapsed.pop(line, None)
        _turn(batch, run, line, entry, at)
        if how == "done":
            start_clocks(batch, run, f"step {line}", at, entry.seq)


def _turn(batch: Batch, run: Run, line: str, entry: Entry, at: datetime) -> None:
    """The program stops for attended work in the cycle, or goes on after it. Pieces that were moved are reseated."""
    step = dict(batch.find_operation(run).numbered_steps).get(line)
    turn = step.cycle if isinstance(step, Do) else ""
    if turn == "stands":
        require(entry, run.stands is None, "the program already stands")
        run.stands = CycleStop(step.title() if step else "", at, entry.seq)
        probed = [key for key in batch.proofs if isinstance(key, OffsetKey)]
        for key in [key for key in probed if (key.load, key.station) == (run.load, run.station)]:
            void_proof(batch, key, f"{run.stands.why} in the cycle", entry, at)
    elif turn == "goes on":
        stands = run.stands
        require(entry, stands is not None, "the program does not stand")
        assert stands is not None, "else it is refused"
        moved = compute_shift_since(batch.jumps, stands.seq)
        run.stood += max((at - stands.at).total_seconds() - moved, 0.0)
        run.stands = None


def _again(batch: Batch, run: Run, line: str) -> bool:
    """Whether a step may be repeated in one run: a mix past its pot life, a step that lapsed before a strike."""
    operation = batch.find_operation(run)
    step = operation.step(line)
    return isinstance(step, Do) and bool(step.while_running or find_step_lapses(batch, operation, step))


@handles(StepsChecked)
def _steps_checked(batch: Batch, entry: Entry, event: StepsChecked, at: datetime) -> None:
    open_run(batch, entry, event).left = None


@handles(StepDone)
def _step_done(batch: Batch, entry: Entry, event: StepDone, at: datetime) -> None:
    _mark(batch, entry, event, "done", event.note, at)


@handles(StepSkipped)
def _step_skipped(batch: Batch, entry: Entry, event: StepSkipped, at: datetime) -> None:
    _mark(batch, entry, event, "skipped", event.reason, at)


@handles(CycleStarted)
def _cycle_started(batch: Batch, entry: Entry, event: CycleStarted, at: datetime) -> None:
    runs = open_runs_in(batch, entry, event)
    for run in runs:
        require(entry, run.started is None or run.stopped is not None, "the cycle is started already")
        rejudge_before(batch, run, entry, "start")
    for run in runs:
        _start(batch, run, entry, at, anew=event.anew)


def _start(batch: Batch, run: Run, entry: Entry, at: datetime, anew: bool) -> None:
    if run.stopped is not None:
        stop, for_nothing = run.stopped, compute_wasted_tool_life(batch, run)
        run.stopped = None
        run.reopened.discard("start")
        if not anew:
            moved = compute_shift_since(batch.jumps, stop.seq)
            if run.stands is None:  # otherwise it stays stopped for attended work, and all of that counts
                run.stood += max((at - stop.at).total_seconds() - moved, 0.0)
            run.resumed_at = at
            start_clocks(batch, run, "start", at, entry.seq)
            return
        run.halted.clear()
        run.stands = None
        _turn_again(batch, run)
        for tool, used in for_nothing.items():
            batch.tools[run.station, tool].used += used
        run.stood, run.resumed_at = 0.0, None
    run.started, run.started_seq, run.started_by = at, entry.seq, entry.by
    run.program = batch.find_operation(run).program
    run.tools = {tool: state.length for (station, tool), state in batch.tools.items() if station == run.station}
    start_clocks(batch, run, "start", at, entry.seq)


def _turn_again(batch: Batch, run: Run) -> None:
    """A restarted cycle makes all its program stops again: what is on record from there on is repeated."""
    turned = False
    for line, step in batch.find_operation(run).numbered_steps:
        turned = turned or (isinstance(step, Do) and step.cycle == "stands")
        if step.at != "cycle" or not turned:
            continue
        for waiver in batch.waivers.values():
            waiver.spent = waiver.spent or (waiver.run, waiver.line) == (run.number, line)
        mark = run.marks.pop(line, None)
        if mark is not None and not isinstance(step, Do):
            batch.proofs.pop(find_proof_key(batch, run, line, step), None)


@handles(CycleEnded)
def _cycle_ended(batch: Batch, entry: Entry, event: CycleEnded, at: datetime) -> None:
    for run in open_runs_in(batch, entry, event):
        require(entry, run.running, "the cycle is not running")
        rejudge_before(batch, run, entry, "end")
        run.ended, run.ended_by = at, entry.by
        for tool, used in compute_tool_wear(batch, run).items():
            # A tool whose loading was struck out or waived has still cut.
            batch.tools.setdefault((run.station, tool), ToolState(None, at)).used += used
        start_clocks(batch, run, "end", at, entry.seq)


def start_clocks(batch: Batch, run: Run, event: str, at: datetime, seq: int) -> None:
    if seq in batch.on_paper:
        at = batch.on_paper[seq][1]  # toward the latest end it counts from the act (`floor.batch.walk.clocks`)
    for clock in batch.find_operation(run).clocks:
        if clock.starts != event:
            continue
        if clock.id in run.halted:
            batch.resumed[seq] = min(run.halted[clock.id], batch.resumed.get(seq, run.halted[clock.id]))
        if clock.per == "batch":
            batch.batch_clocks[clock.id] = (at, seq)
        else:
            started = batch.piece_clocks.setdefault(clock.id, {})
            for piece in run.pieces:
                started[piece] = (at, seq)


@handles(Paused)
def _paused(batch: Batch, entry: Entry, event: Paused, at: datetime) -> None:
    open_run(batch, entry, event).paused = event.reason
