"""Held pieces, pieces sent to rework, and scrap still on its carrier.

On a carrier that holds them fast, held and scrapped pieces stay until it is emptied or somebody reports them off, so
that a count of what is there agrees with the record.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from floor.batch.events import Counted, OutDecided, Proved, iter_events, read_if_kind
from floor.batch.gates.check_values import find_values_outside
from floor.batch.gates.second_readings import find_outside_by_piece
from floor.batch.load import LOST, Load, PiecePlace
from floor.batch.open_items import OutOfLimits
from floor.batch.state import Batch
from floor.checklist.gates import Measured
from floor.checklist.operation import Rework
from floor.dataclass import dataclass
from floor.entry import Entry
from floor.text import format_count


@dataclass(frozen=True, slots=True)
class HeldPiece:
    """A piece on hold, with the reasons on record."""

    piece: int
    op: int
    """Where it was found."""
    place: str
    """Carrier and position it was taken from; the carrier alone where pieces ride loose."""
    reason: str
    note: str
    by: str
    at: datetime
    owes: str = ""
    """The rework still due; using the piece as is waives it."""
    sits: bool = False
    """Whether it is still in that place, never having left its carrier."""
    scrap: bool = False
    """Whether nothing is left to decide about it."""
    measured: str = ""
    """What was measured out of limits in its run before it was set aside."""


def find_decision(batch: Batch, op: int, piece: int) -> str:
    """What was decided about a piece held at its first count; empty while it is held."""
    place = batch.places[piece]
    if place.where == "hold" and place.op == op:
        return ""
    if place.where in LOST and place.op == op:
        return "scrap"
    return "rework" if place.rework or batch.found.get(piece) == op else "good"


def list_held_pieces(batch: Batch) -> list[HeldPiece]:
    """The held pieces, longest first."""
    held = sorted(batch.held().items(), key=lambda item: (item[1].seq, item[0]))
    proofs = [(entry, proved) for entry, proved in iter_events(batch.entries, Proved) if entry.seq not in batch.struck]
    return [
        replace(_held(batch, piece, place), measured=_measured(batch, piece, place, proofs)) for piece, place in held
    ]


def list_scrap_on_carriers(batch: Batch) -> list[HeldPiece]:
    """Scrap that still sits on its carrier, by load and place."""
    return [
        replace(_held(batch, piece, batch.places[piece]), scrap=True, owes="")
        for load in batch.list_live_loads()
        for piece in batch.sitting(load, "scrap")
    ]


def _held(batch: Batch, piece: int, place: PiecePlace) -> HeldPiece:
    entry = batch.entries[place.seq - 1]
    load = batch.loads.get(place.load)
    where = f"{batch.format_carrier(load)} {batch.format_slot(load, piece)}".strip() if load else "loose"
    code = batch.operation(place.op).reason(place.reason)
    counted = read_if_kind(entry, Counted)
    marks = counted.marks if counted is not None else ()
    note = next((mark.note for mark in marks if piece in mark.pieces), "")
    reason = code.text if code is not None and marks else place.reason
    route = batch.checklist.rework(place.rework) if place.rework else None
    owes = route.name if route else ""
    return HeldPiece(piece, place.op, where, reason, note, entry.by, entry.time, owes, place.sits)


def _measured(batch: Batch, piece: int, place: PiecePlace, proofs: Sequence[tuple[Entry, Proved]]) -> str:
    """What was read out of limits of the piece; of its load, where the record does not say whose values they were.

    Args:
        proofs: those that stand.
    """
    load = batch.loads.get(place.load)
    rode = {place.load, *load.made_of} if load is not None else {place.load}
    runs = {run.number for run in batch.runs.values() if run.load in rode and run.op == place.op}
    steps = dict(batch.operation(place.op).numbered_steps)
    found = []
    for entry, proved in proofs:
        step = steps.get(proved.line)
        if proved.run in runs and entry.seq <= place.seq and isinstance(step, Measured):
            out = batch.out.get(entry.seq)
            if out is not None and _is_held_by(batch, out, piece, place.seq):
                continue  # its reason says it
            by_piece = find_outside_by_piece(out) if out is not None else {}
            wrong = by_piece.get(piece, []) if by_piece else find_values_outside(step.asks(), proved.values)
            found += [f"{said} ({entry.by})" for said in wrong]
    return "; ".join(dict.fromkeys(found))


def _is_held_by(batch: Batch, out: OutOfLimits, piece: int, seq: int) -> bool:
    """Whether a piece was decided on for a reading before the entry that put it where it is."""
    since = (entry for entry in batch.entries[out.seq : seq] if entry.seq not in batch.struck)
    return any(event.out == out.seq and piece in event.pieces for _, event in iter_events(since, OutDecided))


def list_possible_reworks(batch: Batch, pieces: Sequence[int]) -> list[Rework]:
    """Rework routes that all of these held pieces can take: none starts beyond where a piece has come."""
    found = {batch.find_op_reached(piece) for piece in pieces}
    return [route for route in batch.checklist.reworks if all(batch.checklist.may_mend(route, op) for op in found)]


def count_most_passes(batch: Batch, pieces: Sequence[int], route: Rework) -> int:
    """The most times any of these pieces has been through a route."""
    return max((batch.passes[(piece, route.id)] for piece in pieces), default=0)


def list_pieces_in_rework(batch: Batch, hidden: Collection[str] = ()) -> list[str]:
    """Pieces in rework: waiting for it, on a load of it, on a detour of their load, or just counted as rework.

    Args:
        hidden: keys of handover subjects whose figures are left out.
    """
    lines = []
    for op, rework, count in batch.list_waiting_pools():
        route = batch.checklist.rework(rework) if rework else None
        if route is not None:
            unseen = f"waiting {op} {rework}" in hidden
            waits = "waits" if count == 1 and not unseen else "wait"
            pieces = "pieces" if unseen else format_count(count, "piece")
            lines.append(f"{pieces} {waits} for op {op} {batch.operation(op).title}: {route.name}")
    for load in batch.list_live_loads():
        lines += _rework_on_load(batch, load, hidden=f"load {load.number}" in hidden)
    return lines


def _rework_on_load(batch: Batch, load: Load, *, hidden: bool) -> Iterator[str]:
    """Pieces of one load in rework, and those that were counted for it and are not released yet."""
    carrier = batch.format_carrier(load)

    def count(pieces: Collection[int]) -> str:
        return "pieces" if hidden else format_count(len(pieces), "piece")

    route = batch.find_rework(load)
    if route is not None:
        yield f"{count(batch.find_next_pieces(load))} on {carrier} at op {load.at}: {route.name}"
    counted = batch.runs[load.run].count if load.run is not None else None
    for mark in counted.marks if counted is not None else ():
        on = set(mark.pieces) & set(batch.present(load))  # the others wait for it already
        if mark.to == "rework" and on and load.at is not None:
            reason = batch.operation(load.at).reason(mark.reason)
            text = reason.text if reason is not None else mark.reason
            yield f"{count(on)} on {carrier}, counted at op {load.at}, not released: {text}"
