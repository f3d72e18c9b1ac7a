"""Pieces lost, by operation, reason and place: scrap, rework and holds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from typing import NamedTuple

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
from floor.batch.load import LOST, Load
from floor.batch.run import Run
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
    of_kinds = batch.list_entries(*(kind.KIND for kind in kinds))
    told = (entry for entry in of_kinds if entry.kind != Counted.KIND or entry.body["marks"])
    return ((entry, event) for entry, event in iter_events(told, *kinds) if entry.seq not in batch.struck)


class _Lost(NamedTuple):
    """A loss of one piece."""

    loss: Loss
    piece: int
    """0 where somebody stated only how many."""
    run: int
    """That counted it, or that it was in or came from when it was set aside; 0 of none."""
    corrected: bool = False
    """Whether it was good after all: no loss, unless it is decided on as one."""


def count_losses(batch: Batch, since: datetime | None = None) -> Counter[Loss]:
    """Number of pieces per loss, from counts, dispositions and pieces set aside.

    Args:
        since: only of runs begun then or later, as the key figures.
    """
    return Counter(one.loss for one in _iter_losses(batch) if not one.corrected and _is_since(batch, one.run, since))


def find_lost_since(batch: Batch, since: datetime) -> set[int]:
    """The pieces that were lost in runs begun then or later, also before their count, or held there and then lost."""
    lost = {one.piece: one.run for one in _iter_losses(batch) if one.loss.to == "scrap"}
    return {piece for piece, run in lost.items() if batch.places[piece].where in LOST and _is_since(batch, run, since)}


def count_held(batch: Batch, since: datetime | None = None) -> int:
    """The pieces on hold now; ``since`` as for `count_losses`."""
    held = batch.held()
    runs = {one.piece: one.run for one in _iter_losses(batch)} if held and since is not None else {}
    return sum(_is_since(batch, runs.get(piece, 0), since) for piece in held)


def _is_since(batch: Batch, run: int, since: datetime | None) -> bool:
    return since is None or (run in batch.runs and batch.runs[run].begun >= since)


def say_lost_as(batch: Batch) -> str:
    """``scrapped``, or ``scrapped, regraded or returned`` where some were: how pieces were lost to the order."""
    words = ["scrapped", *(where for where in ("regraded", "returned") if batch.total(where))]
    return " or ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def _iter_losses(batch: Batch) -> Iterator[_Lost]:
    """Every loss of every piece, in the order of the entries; one held and then decided on is lost once more."""
    last: dict[int, _Lost] = {}
    for entry, event in iter_loss_events(batch, *KINDS):
        good = batch.corrected_counts.get(entry.seq, frozenset())
        for one in _list_lost(batch, entry, event, last):
            last[one.piece] = one
            yield one._replace(corrected=True) if one.piece in good else one


def _list_lost(batch: Batch, entry: Entry, event: Event, last: Mapping[int, _Lost]) -> Iterable[_Lost]:
    """What one event says was lost.

    Args:
        last: piece → its loss before.
    """
    match event:
        case Counted() as counted:
            for mark in counted.marks:
                for piece, place in zip(mark.pieces, mark.places or [""] * len(mark.pieces), strict=True):
                    yield _Lost(Loss(mark.to, counted.op, mark.reason, mark.caused_at, place), piece, counted.run)
        case EnteredLate() as late:
            yield from _list_told(batch, late)
        case SetAside() as aside:
            load = _find_load_then(batch, aside, entry.seq)
            run = _find_run_then(batch, aside, load, entry.seq)
            op = _op_then(batch, aside, load, run, entry.seq)
            for piece in aside.pieces:
                place = batch.format_slot(load, piece) if load else ""
                of = run or _find_last_run(batch, piece, entry.seq)
                yield _Lost(Loss(aside.to, op, aside.reason, None, place), piece, of.number if of else 0)
        case Disposed() as disposed if disposed.rework or disposed.decision in ENDS:
            for piece in disposed.pieces:
                yield last[piece]._replace(
                    loss=replace(last[piece].loss, to="rework" if disposed.rework else "scrap"), piece=piece
                )


def _list_told(batch: Batch, late: EnteredLate) -> Iterable[_Lost]:
    """What was lost before the batch was entered."""
    for row in late.rows:
        to, op = ("rework", row.found) if row.rework else (row.what, row.op)
        if to not in ("scrap", "rework", "hold"):
            continue
        codes, by_way = batch.operation(op).reasons, bool(row.rework)
        code = next((one for one in codes if (one.rework == row.rework if by_way else one.code == row.reason)), None)
        loss = Loss(to, op, code.code if code else row.reason or row.rework, code.caused_at if code else None, "")
        named = [*row.pieces, *[0] * row.count][: row.count]
        yield from (_Lost(loss, piece, 0) for piece in named)


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


def _find_run_then(batch: Batch, aside: SetAside, load: Load | None, seq: int) -> Run | None:
    """The run that pieces on a load, or all of a run, were in or came from when they were set aside."""
    if aside.of_run in batch.runs:
        return batch.runs[aside.of_run]
    if load is None:
        return None
    loads = (load.number, *load.made_of)
    return next((run for run in reversed(batch.runs.values()) if run.load in loads and run.seq < seq), None)


def _find_last_run(batch: Batch, piece: int, seq: int) -> Run | None:
    return next((run for run in reversed(batch.runs.values()) if run.seq < seq and piece in run.pieces), None)


def _op_then(batch: Batch, aside: SetAside, load: Load | None, run: Run | None, seq: int) -> int:
    """The operation that pieces were at, or waited for, when they were set aside; of all of a run, its own.

    Args:
        load: the one they were on then.
        run: that it was in or came from.
    """
    if aside.of_run in batch.runs:
        return batch.runs[aside.of_run].op
    if load is None:
        return aside.op or batch.checklist.route[-1]  # those that wait for none are finished
    if run is None:
        return load.first_op
    over = run.count is not None and run.count.seq < seq
    return (batch.checklist.after(run.op) or run.op) if over else run.op
