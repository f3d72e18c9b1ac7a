"""Moving pieces by hand: to another place, to another carrier, onto a load that waits for the same, or off to wait."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from floor.batch import events
from floor.batch.command import Context, Refused, format_pieces, refuse_closed_batch, require_load
from floor.batch.events import make_drafts
from floor.batch.lifecycle.commands import list_free_carriers
from floor.batch.load import Load
from floor.batch.moving.choose import require_pieces, seat_pieces
from floor.batch.state import Batch
from floor.checklist.equipment import Carrier
from floor.dataclass import dataclass
from floor.entry import Draft
from floor.text import format_count

REWORK_FIRST = "bring its rework back to the others first"


@dataclass(frozen=True, slots=True)
class MovePieces:
    """Move pieces of a load, or loose ones, between two runs.

    Onto a free carrier they are a load of their own: the load is split, or all of it changes its carrier. Onto one that
    carries a load for the same operation they join it. Onto their own they change places. Onto none they wait loose.
    """

    load: int | None = None
    """The load that they are on; None for pieces that wait loose."""
    pieces: tuple[int, ...] = ()
    """Which; by default all that are there."""
    onto: int | None = None
    """The number of the carrier, of the kind that they ride on or wait for; None for none."""
    places: tuple[str, ...] = ()
    """The place of each, in their order; by default the first that are free."""
    op: int | None = None
    """Of loose pieces: the operation that they wait for."""
    rework: str = ""
    """Of loose pieces: the rework route that they wait in."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        source = require_load(batch, self.load) if self.load is not None else None
        pieces = self._choose_pieces(batch, source)
        if source is not None:
            _refuse_busy(batch, source)
        if self.onto is None:
            return _take_off(batch, source, pieces)
        kind = batch.checklist.carrier(source.carrier if source else batch.operation(self.op or 0).carrier)
        joined = self._find_joined(batch, source, kind, context)
        stay = _list_staying(batch, joined, pieces) if joined is not None else {}
        moved = events.PiecesMoved(
            op=self.op or 0,
            pieces=pieces,
            rework=self.rework,
            load=max(batch.loads, default=0) + 1,
            carrier=kind.id,
            number=self.onto,
            slots=seat_pieces(kind, pieces, self.places, stay),
            joined=joined.number if joined is not None else 0,
            placed=bool(self.places and (self.pieces or source is not None)),
        )
        return make_drafts(moved if source is None else _say_whence(batch, moved, source))

    def _choose_pieces(self, batch: Batch, source: Load | None) -> tuple[int, ...]:
        there = batch.present(source) if source is not None else batch.waiting(self.op or 0, self.rework)
        pieces = self.pieces or tuple(there)
        if not pieces:
            raise Refused("count", "no piece is there to be moved", "choose a load that has some")
        where = f"are on load {source.number}" if source is not None else f"wait for op {self.op}"
        require_pieces(pieces, there, where, "which")
        return pieces

    def _find_joined(self, batch: Batch, source: Load | None, kind: Carrier, context: Context) -> Load | None:
        """The load on the carrier that they go onto, which they may join; None if it is free."""
        for load in batch.list_live_loads():
            if (load.carrier, load.carrier_number) != (kind.id, self.onto):
                continue
            if load is not source:
                _refuse_busy(batch, load)
                self._require_same_way(batch, source, load)
            elif not self.places:
                raise Refused("input", "they are on this carrier", "name the place that each goes to", field="places")
            return load
        free = list_free_carriers(batch, kind.id, context)
        if self.onto not in free:
            known = isinstance(self.onto, int) and 0 < self.onto <= kind.count
            wrong = f"another batch has {kind.label(self.onto or 0)}" if known else f"there is no such {kind.name}"
            raise Refused("busy", wrong, "choose another", field="carrier")
        return None

    def _require_same_way(self, batch: Batch, source: Load | None, joined: Load) -> None:
        """Refuse pieces that have another way to go than the load they would join."""
        name = batch.format_load(joined.number)
        if joined.detours or (source is not None and source.detours):
            back = joined if joined.detours or source is None else source
            wrong = f"some pieces of {batch.format_load(back.number)} go back by themselves"
            raise Refused("not now", wrong, REWORK_FIRST, field="carrier")
        op, rework = (source.next_op, source.rework) if source is not None else (self.op, self.rework)
        if op != joined.next_op:
            wrong = f"{name} goes to op {joined.next_op}, these go to op {op}"
            raise Refused("not now", wrong, "bring both to the same operation first", field="carrier")
        if rework != joined.rework:
            wrong = f"{name} goes another way after op {op}, because of a rework"
            raise Refused("not now", wrong, "keep them apart until it is over", field="carrier")


def _say_whence(batch: Batch, moved: events.PiecesMoved, source: Load) -> events.PiecesMoved:
    """The move with the load, places, operation and rework that the pieces come with."""
    return replace(
        moved,
        op=batch.find_next_op(moved.pieces[0]) or 0,
        where=format_pieces(batch, source, moved.pieces),
        left=(source.number,),
        rework=source.rework,
    )


def _refuse_busy(batch: Batch, load: Load) -> None:
    """Refuse a load that is in a run, or whose count is in dispute."""
    name = batch.format_load(load.number)
    if load.run is not None:
        run = batch.runs[load.run]
        wrong = f"{name} is under way at op {run.op}"
        started = run.started is not None or run.count is not None
        raise Refused(
            "not now", wrong, "count and release it first" if started else "put it back first (u on its walk)"
        )
    if any(one.subject == f"load {load.number}" for one in batch.list_open_differences()):
        raise Refused("count", f"the count of {name} is in dispute", "settle that first (o on the batch)")


def _list_staying(batch: Batch, load: Load, moved: Sequence[int]) -> dict[int, int]:
    """Index of a place → the piece that is in it and stays, a held or scrapped one too."""
    stay = {*batch.present(load), *batch.sitting(load)} - set(moved)
    return {n: piece for n, piece in enumerate(load.slots) if piece is not None and piece in stay}


def _take_off(batch: Batch, load: Load | None, pieces: tuple[int, ...]) -> list[Draft]:
    """They wait loose for the operation that their load goes to."""
    if load is None:
        raise Refused("input", "they wait loose already", "enter the number of a carrier", field="carrier")
    alone = {piece for detour in load.detours for piece in detour.pieces}
    if alone & set(pieces):
        many = format_count(len(alone & set(pieces)), "piece")
        wrong = f"{many} of {batch.format_load(load.number)} in rework on this carrier"
        raise Refused("not now", wrong, REWORK_FIRST, field="which")
    op = batch.find_next_op(pieces[0]) or 0
    where = format_pieces(batch, load, pieces)
    return make_drafts(events.PiecesMoved(op=op, pieces=pieces, where=where, left=(load.number,), rework=load.rework))
