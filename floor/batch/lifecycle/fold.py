"""Pieces started, loads formed of them, and the end of a batch here."""

from __future__ import annotations

from datetime import datetime

from floor.batch.events import (
    BatchClosed,
    BatchOpened,
    ChecklistWeakened,
    GoneOver,
    LoadFormed,
    PiecesStarted,
    TakenIn,
)
from floor.batch.fold_registry import Inapplicable, handles, move_piece, require
from floor.batch.load import Load, PiecePlace
from floor.batch.state import Batch
from floor.batch.stations.fold_disturbances import void_after_unrecorded_work
from floor.checklist.equipment import MOST_PIECES
from floor.entry import Entry


@handles(BatchOpened)
def _batch_opened(batch: Batch, entry: Entry, event: BatchOpened, at: datetime) -> None:
    raise Inapplicable(entry, "a batch is opened once")


@handles(ChecklistWeakened)
def _checklist_weakened(batch: Batch, entry: Entry, event: ChecklistWeakened, at: datetime) -> None:
    """Nothing changes: the batch is worked by its own checklist."""


@handles(PiecesStarted)
def _pieces_started(batch: Batch, entry: Entry, event: PiecesStarted, at: datetime) -> None:
    first, count = event.first, event.count
    require(entry, first == batch.started + 1, "the pieces before these are not started")
    require(entry, count > 0 and batch.started + count <= MOST_PIECES, f"a batch holds 1 to {MOST_PIECES} pieces")
    op = batch.checklist.operations[0].op
    for piece in range(first, first + count):
        batch.started_at[piece] = at
        move_piece(batch, piece, PiecePlace("waiting", op=op, seq=entry.seq))


@handles(LoadFormed)
def _load_formed(batch: Batch, entry: Entry, event: LoadFormed, at: datetime) -> None:
    number, op, rework = event.load, event.op, event.rework
    slots = event.slots
    require(entry, number not in batch.loads, f"there is a load {number} already")
    known = any(carrier.id == event.carrier for carrier in batch.checklist.carriers)
    require(entry, known, f"there is no carrier {event.carrier}")
    for piece in slots:
        if piece is None:
            continue
        place = batch.places.get(piece)
        require(
            entry,
            place is not None and place.where == "waiting" and place.op == op and place.rework == rework,
            f"piece {piece} is not waiting at op {op}",
        )
    for load in batch.list_live_loads():
        taken = (load.carrier, load.carrier_number) == (event.carrier, event.number)
        require(entry, not taken, f"{batch.format_carrier(load)} carries load {load.number}")
    batch.loads[number] = Load(
        number=number,
        carrier=event.carrier,
        carrier_number=event.number,
        slots=slots,
        first_op=op,
        next_op=op,
        formed=at,
        seq=entry.seq,
        rework=rework,
        placed=event.placed,
    )
    for piece in slots:
        if piece is not None:
            move_piece(batch, piece, PiecePlace("load", load=number, seq=entry.seq))


@handles(BatchClosed)
def _batch_closed(batch: Batch, entry: Entry, event: BatchClosed, at: datetime) -> None:
    require(entry, batch.closed is None, "the batch is closed already")
    batch.closed = at


@handles(GoneOver)
def _gone_over(batch: Batch, entry: Entry, event: GoneOver, at: datetime) -> None:
    batch.gone = event.to


@handles(TakenIn)
def _taken_in(batch: Batch, entry: Entry, event: TakenIn, at: datetime) -> None:
    batch.gone = ""
    batch.id = event.name or batch.id
    for station in event.in_service:  # entries about stations out of service here follow this one
        batch.outages.pop(station, None)
    batch.conditions.clear()  # those of the other shop's machines
    for station, tool, used in event.worn:
        batch.tools[(station, tool)].used = used
    if event.untold:
        void_after_unrecorded_work(batch, entry, at)
