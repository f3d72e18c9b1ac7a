"""Folding of pieces moved by hand: the loads they leave, the one they join, and what was proved of either."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import datetime

from floor.batch.counting.fold import end_detours, set_waiting, tidy_load
from floor.batch.events import PiecesMoved
from floor.batch.fold_registry import Inapplicable, handles, move_piece, require, void_proof
from floor.batch.load import Detour, Load, PiecePlace
from floor.batch.proof import OffsetKey
from floor.batch.state import Batch
from floor.entry import Entry

MOVED = "pieces were moved on the carrier"


@handles(PiecesMoved)
def _pieces_moved(batch: Batch, entry: Entry, event: PiecesMoved, at: datetime) -> None:
    sources = [_find_free(batch, entry, number) for number in event.left]
    joined = _find_free(batch, entry, event.joined) if event.joined else None
    for piece in event.pieces:
        _require_there(batch, entry, event, piece)
    touched = {load.number: load for load in (*sources, *([joined] if joined is not None else []))}
    _void_zeros(batch, entry, event, touched, at)
    if event.load:
        made = _form(batch, entry, event, touched, joined, at)
        _take_over(batch, entry, event, made, joined, at)
        end_detours(batch, made, entry, at)
    else:
        for piece in event.pieces:
            set_waiting(batch, piece, event.op, event.rework, entry)
    for load in sources:
        if load is not joined:
            for detour in load.detours:
                detour.pieces -= set(event.pieces)
            tidy_load(batch, load, entry, at)


def _void_zeros(batch: Batch, entry: Entry, event: PiecesMoved, touched: Collection[int], at: datetime) -> None:
    """What was probed of a carrier that pieces were moved on lapses, and the load that goes on there knows why."""
    for key in [key for key in batch.proofs if isinstance(key, OffsetKey) and key.load in touched]:
        void_proof(batch, key, MOVED, entry, at)
        if event.joined == key.load:
            void_proof(batch, key._replace(load=event.load), MOVED, entry, at)


def _find_free(batch: Batch, entry: Entry, number: int) -> Load:
    load = batch.loads.get(number)
    if load is None or load.dissolved is not None or load.run is not None:
        raise Inapplicable(entry, f"load {number} is not there between two runs")
    return load


def _require_there(batch: Batch, entry: Entry, event: PiecesMoved, piece: int) -> None:
    place = batch.places.get(piece)
    on = place is not None and place.where == "load" and place.load in event.left
    loose = place is not None and (place.where, place.op, place.rework) == ("waiting", event.op, event.rework)
    require(entry, on if event.left else loose, f"piece {piece} is elsewhere")


def _form(
    batch: Batch, entry: Entry, event: PiecesMoved, before: dict[int, Load], joined: Load | None, at: datetime
) -> Load:
    """The load of all pieces now on the carrier; it goes where those it is made of went.

    Args:
        before: the loads that it is made of.
    """
    require(entry, event.load not in batch.loads, f"there is a load {event.load} already")
    for load in batch.list_live_loads():
        there = (load.carrier, load.carrier_number) == (event.carrier, event.number)
        require(entry, not there or load is joined, f"{batch.format_carrier(load)} carries load {load.number}")
    like = joined or next(iter(before.values()), None)
    on = {piece for piece in event.slots if piece is not None}
    made = Load(
        number=event.load,
        carrier=event.carrier,
        carrier_number=event.number,
        slots=event.slots,
        first_op=max((load.first_op for load in before.values()), default=event.op),
        next_op=like.next_op if like is not None else event.op,
        formed=at,
        seq=entry.seq,
        rework=event.rework,
        placed=event.placed,
        early=frozenset[int]().union(*(load.early for load in before.values())),
        made_of=frozenset(before).union(*(load.made_of for load in before.values())),
        detours=[
            Detour(one.rework, one.pieces & on, one.found, one.at)
            for one in (like.detours if like is not None else [])
            if one.pieces & on
        ],
    )
    batch.loads[made.number] = made
    return made


def _take_over(batch: Batch, entry: Entry, event: PiecesMoved, made: Load, joined: Load | None, at: datetime) -> None:
    """The pieces moved, and all that was on the carrier, held and scrapped ones too, are now on this load."""
    for piece in made.pieces:
        place = batch.places[piece]
        if place.sits:
            require(entry, place.load == event.joined, f"piece {piece} sits elsewhere")
            move_piece(batch, piece, replace(place, load=made.number))
        else:
            mine = piece in event.pieces or (place.where, place.load) == ("load", event.joined)
            require(entry, mine, f"piece {piece} is elsewhere")
            move_piece(batch, piece, PiecePlace("load", load=made.number, seq=entry.seq))
    require(entry, all(batch.places[piece].load == made.number for piece in event.pieces), "a moved piece has no place")
    if joined is not None:
        require(entry, not batch.present(joined) and not batch.sitting(joined), "a piece is left behind")
        joined.dissolved, joined.detours = at, []
