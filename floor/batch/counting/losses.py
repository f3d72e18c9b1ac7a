"""Pieces lost, by operation, reason and place: scrap, rework and holds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime
from itertools import takewhile

from floor.batch.event_base import E, Event
from floor.batch.events import (
    ENDS,
    Counted,
    Disposed,
    EnteredLate,
    LoadFormed,
    PiecesMoved,
    SetAside,
    iter_events,
)
from floor.batch.load import Load
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Entry

KINDS: tuple[type[Event], ...] = (Counted, EnteredLate, SetAside, Disposed)
FORMING: tuple[type[LoadFormed | PiecesMoved], ...] = (LoadFormed, PiecesMoved)


@dataclass(frozen=True, slots=True)
class Loss:
    """Pieces that were not simply good, grouped by operation, reason and place."""

    to: str
    """scrap (also what is lost to the order regraded or returned), rework or hold."""
    found: int
    """The operation where it was found."""
    reason: str
    caused: int | None
    """The operation that causes it, as far as the checklist says."""
    position: str
    """Name of the place on the carrier; empty where there is none, or it is not known."""


def iter_loss_events(batch: Batch, *kinds: type[E]) -> Iterator[tuple[Entry, E]]:
    """Events of these kinds that were not struck out, without counts of good pieces only: there are thousands."""
    told = (entry for entry in batch.entries if entry.kind != Counted.KIND or entry.body["marks"])
    return ((entry, event) for entry, event in iter_events(told, *kinds) if entry.seq not in batch.struck)


def count_losses(batch: Batch, since: datetime | None = None) -> Counter[Loss]:
    """Number of pieces per loss, from counts, dispositions and pieces set aside.

    Args:
        since: only by entries made then or later.
    """
    found = _tally(batch, iter_loss_events(batch, *KINDS))
    if since is None:
        return found
    return found - _tally(batch, takewhile(lambda one: one[0].time < since, iter_loss_events(batch, *KINDS)))


def say_lost_as(batch: Batch) -> str:
    """``scrapped``, or ``scrapped, regraded or returned`` where some were: how pieces were lost to the order."""
    words = ["scrapped", *(where for where in ("regraded", "returned") if batch.total(where))]
    return " or ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def _tally(batch: Batch, events: Iterable[tuple[Entry, Event]]) -> Counter[Loss]:
    found: Counter[Loss] = Counter()
    held: dict[int, Loss] = {}
    for entry, event in events:
        match event:
            case Counted() as counted:
                for mark in counted.marks:
                    for piece, place in zip(mark.pieces, mark.places or [""] * len(mark.pieces), strict=True):
                        loss = Loss(mark.to, counted.op, mark.reason, mark.caused_at, place)
                        found[loss] += 1
                        held[piece] = loss
            case EnteredLate() as late:
                _told(batch, late, found, held)
            case SetAside() as aside:
                load = _find_load_then(batch, aside, entry.seq)
                for piece in aside.pieces:
                    place = batch.format_slot(load, piece) if load else ""
                    loss = Loss(aside.to, _op_then(batch, aside, load, entry.seq), aside.reason, None, place)
                    found[loss] += 1
                    held[piece] = loss
            case Disposed() as disposed if disposed.rework or disposed.decision in ENDS:
                for piece in disposed.pieces:
                    found[replace(held[piece], to="rework" if disposed.rework else "scrap")] += 1
    return found


def _told(batch: Batch, late: EnteredLate, found: Counter[Loss], held: dict[int, Loss]) -> None:
    """What was lost before the batch was entered."""
    for row in late.rows:
        to, op = ("rework", row.found) if row.rework else (row.what, row.op)
        if to not in ("scrap", "rework", "hold"):
            continue
        codes, by_way = batch.operation(op).reasons, bool(row.rework)
        code = next((one for one in codes if (one.rework == row.rework if by_way else one.code == row.reason)), None)
        loss = Loss(to, op, code.code if code else row.reason or row.rework, code.caused_at if code else None, "")
        found[loss] += row.count
        held.update(dict.fromkeys(row.pieces, loss))


def _find_load_then(batch: Batch, aside: SetAside, seq: int) -> Load | None:
    """The load that pieces were set aside from, as it was formed: struck out since, its number may be another's now."""
    if not aside.load:
        return None
    load = batch.loads.get(aside.load)
    before = (entry for entry in reversed(batch.entries[: seq - 1]) if entry.body.get("load") == aside.load)
    for entry, formed in iter_events(before, *FORMING):
        if load is not None and load.seq == entry.seq:
            return load
        carried, op = (formed.carrier, formed.number, formed.slots), formed.op
        return Load(formed.load, *carried, op, op, entry.done, entry.seq, formed.rework)
    return load if load is not None and load.seq < seq else None  # it was under way when the batch was entered


def _op_then(batch: Batch, aside: SetAside, load: Load | None, seq: int) -> int:
    """The operation that pieces were at, or waited for, when they were set aside; of all of a run, its own.

    Args:
        load: the one they were on then.
    """
    if aside.of_run in batch.runs:
        return batch.runs[aside.of_run].op
    if load is None:
        return aside.op or batch.checklist.route[-1]  # those that wait for none are finished
    runs = [run for run in batch.runs.values() if run.load in (load.number, *load.made_of) and run.seq < seq]
    if not runs:
        return load.first_op
    last = runs[-1]
    over = last.count is not None and last.count.seq < seq
    return (batch.checklist.after(last.op) or last.op) if over else last.op
