"""What becomes of pieces that a filled order does not need: taken out, brought back, or going on.

A trial takes its pieces out and back in the same way.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from floor.batch.counting.fold import leave_run, record_wear_of_emptied_run, set_waiting, tidy_loads
from floor.batch.events import SurplusBroughtBack, SurplusGoesOn, SurplusTakenOut
from floor.batch.fold_registry import Inapplicable, handles, move_piece, require
from floor.batch.load import Load, PiecePlace, Where
from floor.batch.open_items import SurplusPermission
from floor.batch.state import Batch
from floor.entry import Entry


@handles(SurplusTakenOut)
def _surplus_taken_out(batch: Batch, entry: Entry, event: SurplusTakenOut, at: datetime) -> None:
    take_out_of_work(batch, entry, event.pieces, event.to, event.reason, at)


def take_out_of_work(batch: Batch, entry: Entry, pieces: Sequence[int], to: Where, reason: str, at: datetime) -> None:
    """Take pieces off their loads, or from where they wait; their place keeps what would come next."""
    for piece in pieces:
        place = batch.places.get(piece)
        require(entry, place is not None and place.where in ("waiting", "load"), f"piece {piece} is not in process")
    record_wear_of_emptied_run(batch, pieces)
    for piece in pieces:
        place, rework, op = batch.places[piece], batch.find_rework_under_way(piece)[0], batch.find_next_op(piece)
        if op is None:
            raise Inapplicable(entry, f"nothing is left to be done to piece {piece}")
        if place.where == "load":
            leave_run(batch, piece, entry)
        move_piece(batch, piece, PiecePlace(to, op, place.load, reason, rework, entry.seq))
    tidy_loads(batch, pieces, entry, at)


@handles(SurplusBroughtBack)
def _surplus_brought_back(batch: Batch, entry: Entry, event: SurplusBroughtBack, at: datetime) -> None:
    for piece in event.pieces:
        require(entry, batch.places[piece].where in ("spare", "stopped"), f"piece {piece} is not a spare")
        bring_back_to_work(batch, entry, piece)


def bring_back_to_work(batch: Batch, entry: Entry, piece: int) -> None:
    """Back onto its load where that has not gone further without it, else to wait for its next operation."""
    place = batch.places[piece]
    load = batch.loads.get(place.load)
    if load is not None and load.dissolved is None and load.run is None and _joins_again(load, piece, place):
        move_piece(batch, piece, PiecePlace("load", load=load.number, seq=entry.seq))
    else:
        set_waiting(batch, piece, place.op, place.rework, entry)


@handles(SurplusGoesOn)
def _surplus_goes_on(batch: Batch, entry: Entry, event: SurplusGoesOn, at: datetime) -> None:
    require(entry, event.until in batch.checklist.route, f"there is no op {event.until} in the route")
    batch.goes_on = SurplusPermission(event.until, entry.by, event.reason, at)


def _joins_again(load: Load, piece: int, place: PiecePlace) -> bool:
    """Whether the load is still where this spare left it: on the same detour, or before the same operation."""
    if load.detours and piece in load.detours[-1].pieces:
        return load.at == place.op
    return load.next_op == place.op and place.rework in ("", load.rework)
