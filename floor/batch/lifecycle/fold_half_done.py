"""A batch entered half done: every piece is put where the rows say."""

from __future__ import annotations

from datetime import datetime, timedelta

from floor.batch.events import EnteredLate, LateProof, LateRow
from floor.batch.fold_registry import handles, move_piece, require
from floor.batch.gates.fold_lots import record_lot
from floor.batch.gates.tool_life import compute_tool_wear
from floor.batch.lifecycle.half_done import LateEntry, PlacedPieces, list_op_results
from floor.batch.load import Load, PiecePlace
from floor.batch.proof import LineMark, LotKey, Proof, Setup, ToolKey, ToolState
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.stations.capacity import count_places_in_use, count_places_needed
from floor.entry import Entry, parse_wall

LONG_AGO = timedelta(days=3653)
"""The assumed age of a timer with unknown start: no closing window is still open."""


@handles(EnteredLate)
def _entered_late(batch: Batch, entry: Entry, event: EnteredLate, at: datetime) -> None:
    first = batch.checklist.operations[0].op
    fresh = not batch.loads and batch.late is None and len(batch.waiting(first)) == batch.started
    require(entry, fresh, "work is on record already")
    rows = tuple(PlacedPieces.read(row, at) for row in event.rows)
    pieces = tuple(row.pieces for row in event.rows)
    told = sorted(piece for some in pieces for piece in some)
    require(entry, told == sorted(batch.places), "not every piece is entered exactly once")
    late = LateEntry(entry.seq, entry.by, event.seen_by, at, entry.time, rows, pieces)
    batch.late = late
    for one in event.setups:
        batch.setups[one.setup] = Setup(one.setup, one.station, one.op, at)
    for row, told_row, some in zip(event.rows, rows, pieces, strict=True):
        for op, how in list_op_results(batch.checklist, told_row):
            late.counted.setdefault(op, {}).update(dict.fromkeys(some, how))
        _put(batch, entry, row, told_row, some)
        for clock, since in told_row.clocks:
            _clock(batch, late, clock, some, since)
    for proof in event.proofs:
        _proved(batch, entry, proof, at)
    for run in batch.runs.values():
        run.tools = {tool: state.length for (station, tool), state in batch.tools.items() if station == run.station}


def _put(batch: Batch, entry: Entry, row: LateRow, told: PlacedPieces, pieces: tuple[int, ...]) -> None:
    if told.what == "load":
        _load(batch, entry, row, told, pieces)
        return
    require(entry, told.what == "finished" or told.op in batch.checklist.ops, f"there is no op {told.op}")
    for piece in pieces:
        move_piece(
            batch, piece, PiecePlace(told.what, op=told.op, reason=told.reason, rework=told.rework, seq=entry.seq)
        )
    _passed(batch, told, pieces)


def _passed(batch: Batch, told: PlacedPieces, pieces: tuple[int, ...]) -> None:
    for piece in pieces if told.rework else ():
        batch.passes[piece, told.rework] += 1
        batch.found[piece] = told.found


def _load(batch: Batch, entry: Entry, row: LateRow, told: PlacedPieces, pieces: tuple[int, ...]) -> None:
    operation, number = batch.operation(told.op), row.load
    kind = batch.checklist.carrier(operation.carrier)
    slots: list[int | None] = list(pieces)
    if kind.positions:
        slots = [None] * len(kind.positions)
        for place, piece in zip(told.places or kind.positions, pieces, strict=bool(told.places)):
            slots[kind.positions.index(place)] = piece
    for load in batch.list_live_loads():
        require(entry, (load.carrier, load.carrier_number) != (kind.id, told.number), f"{kind.name} is entered twice")
    require(entry, number not in batch.loads and bool(pieces), f"there is a load {number} already")
    leg, rework = batch.checklist.leg_of(told.op, told.rework).ops, told.rework
    if batch.checklist.own_way(rework) and not batch.checklist.is_apart(rework, leg[0]):  # with the others again
        leg, rework = batch.checklist.leg_of(told.op).ops, ""
    route = batch.checklist.rework(rework) if rework else None
    first = route.back_to if route is not None and route.back_to in leg else leg[0]
    load = Load(number, kind.id, told.number, tuple(slots), first, told.op, entry.done, entry.seq, rework)
    batch.loads[number] = load
    for piece in pieces:
        move_piece(batch, piece, PiecePlace("load", load=number, seq=entry.seq))
    _passed(batch, told, pieces)
    if told.stands != "waits":
        _run(batch, entry, row, told, load)


def _run(batch: Batch, entry: Entry, row: LateRow, told: PlacedPieces, load: Load) -> None:
    """A run whose cycle had started before; what was done in it until then is not on record."""
    operation, as_of = batch.operation(told.op), entry.done
    room = batch.checklist.station(operation.station).runs_at_once - count_places_in_use(batch, operation.station)
    require(entry, count_places_needed(batch, operation.station, load) <= room, f"{operation.station} is taken")
    require(entry, row.setup in batch.setups and row.run not in batch.runs, "its set-up does not stand")
    began = told.began or as_of
    route = batch.checklist.rework(told.rework) if told.rework else None
    run = Run(
        row.run,
        load.number,
        told.op,
        operation.station,
        row.setup,
        batch.present(load),
        began,
        "",
        entry.seq,
        rework=route.id if route is not None and route.back_to == told.op else "",
        late=entry.by,
        started=began,
        started_seq=entry.seq,
        touched=as_of,
        program=operation.program,
    )
    batch.runs[run.number] = run
    load.run = run.number
    assert batch.late is not None
    events = {"start": told.began}
    if told.stands == "over":
        run.ended = told.ended or as_of
        events["end"] = told.ended
        for tool, used in compute_tool_wear(batch, run).items():
            batch.tools.setdefault((run.station, tool), ToolState(None, as_of)).used += used
    for clock in operation.clocks:
        if clock.starts not in events:
            continue
        if clock.per == "batch":
            batch.batch_clocks[clock.id] = (events[clock.starts] or as_of, entry.seq)
        else:
            _clock(batch, batch.late, clock.id, run.pieces, events[clock.starts])


def _clock(batch: Batch, late: LateEntry, clock: str, pieces: tuple[int, ...], since: datetime | None) -> None:
    """Without a second person it counts from the entry; toward its latest end from the stated time."""
    sure = since is not None and bool(late.second)
    start = since if sure and since is not None else late.entered
    batch.piece_clocks.setdefault(clock, {}).update(dict.fromkeys(pieces, (start, late.seq)))
    if not sure:
        claim = since or late.entered - LONG_AGO
        late.claimed.setdefault(clock, {}).update(dict.fromkeys(pieces, (claim, late.seq)))


def _proved(batch: Batch, entry: Entry, proof: LateProof, as_of: datetime) -> None:
    key, values = proof.key, proof.values
    at, station, run = parse_wall(proof.at, as_of), proof.station, proof.run
    batch.proofs[key] = Proof(entry.seq, at, proof.by, values, run, station, proof.load)
    if run:
        batch.runs[run].marks[proof.line] = LineMark("done", entry.seq, at, proof.by)
    if isinstance(key, LotKey):
        record_lot(batch, key.what, values["lot"], values.get("use_by"), entry, at)
    if isinstance(key, ToolKey):
        known = batch.tools.get((station, key.tool))
        used = max(known.used if known else 0.0, proof.worn)
        batch.tools[station, key.tool] = ToolState(values.get("length"), at, used)
