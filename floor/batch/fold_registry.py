"""Shared by the folding of all kinds of entry: the table of handlers, refusing, moving a piece, finding a run."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, TypeVar

from floor.batch.events import Event, OfRun, Paused
from floor.batch.gates.proof_keys import find_lines_proved_by
from floor.batch.load import PiecePlace
from floor.batch.proof import ProofKey, VoidedProof
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.long_breaks import LONG_BREAK, find_interruption, needs_person
from floor.entry import Entry
from floor.text import join_sentences


class Inapplicable(Exception):
    """An entry that the state before it cannot take."""

    def __init__(self, entry: Entry, why: str, remedy: str = "") -> None:
        self.wrong = f"entry {entry.seq} ({entry.kind.replace('_', ' ')}): {why}"
        super().__init__(f"{self.wrong}. {join_sentences(remedy)}" if remedy else self.wrong)
        self.entry = entry
        self.why = why
        self.remedy = remedy
        """What makes the record readable; empty if nobody knows."""


E = TypeVar("E", bound=Event)
HANDLERS: dict[type[Event], Callable[[Batch, Entry, Any, datetime], None]] = {}
"""Kind of entry → the function that changes the state."""


def handles(
    of: type[E],
) -> Callable[[Callable[[Batch, Entry, E, datetime], None]], Callable[[Batch, Entry, E, datetime], None]]:
    """Register a function as the handler of a kind of entry."""

    def made(handler: Callable[[Batch, Entry, E, datetime], None]) -> Callable[[Batch, Entry, E, datetime], None]:
        HANDLERS[of] = handler
        return handler

    return made


def move_piece(batch: Batch, piece: int, place: PiecePlace) -> None:
    """Move one piece. Nothing else changes where a piece is."""
    before = batch.places.get(piece)
    if before is not None:
        batch.tally[(before.where, before.op, before.rework)] -= 1
        if before.where == "load":
            batch.on[before.load].discard(piece)
    if batch.handover is not None:  # its earlier count no longer applies
        for one in (before, place):
            batch.handover.counted.pop(one.heap if one else "", None)
            batch.handover.tries.pop(one.heap if one else "", None)
    batch.places[piece] = place
    batch.tally[(place.where, place.op, place.rework)] += 1
    if place.where == "load":
        batch.on.setdefault(place.load, set()).add(piece)


def require(entry: Entry, holds: bool, why: str) -> None:
    if not holds:
        raise Inapplicable(entry, why)


def touch_run(batch: Batch, entry: Entry, event: Event, number: int) -> Run:
    """The run of this number, touched by an entry."""
    run = batch.runs.get(number)
    if run is None:
        raise Inapplicable(entry, f"there is no run {number}")
    if run.touched is not None and entry.done - run.touched > LONG_BREAK and needs_person(run):
        run.resumed = entry.done
    run.left = find_interruption(run, batch.operation(run.op).recheck_after, entry.done)
    run.touched, run.touched_by = entry.done, entry.by
    if batch.handover is not None:  # somebody was at the load after the count
        batch.handover.counted.pop(f"load {run.load}", None)
    if not isinstance(event, Paused):
        run.paused = ""
    return run


def open_run(batch: Batch, entry: Entry, event: OfRun, number: int = 0) -> Run:
    """The open run that an entry is about, or the given one of several."""
    run = touch_run(batch, entry, event, number or event.run)
    require(entry, run.released is None, f"run {run.number} is already released")
    return run


def open_runs_in(batch: Batch, entry: Entry, event: OfRun) -> list[Run]:
    """The open runs that an entry is about: several if one cycle takes them."""
    return [open_run(batch, entry, event, number) for number in event.runs]


def void_proof(batch: Batch, key: ProofKey, why: str, entry: Entry, at: datetime) -> None:
    batch.voids[key] = VoidedProof(why, at, entry.seq, batch.proofs.pop(key, None))


def prove_again(batch: Batch, key: ProofKey, why: str, entry: Entry, at: datetime, also_running: bool = True) -> None:
    """Void a proof; the line opens again in any run whose cycle relies on it.

    Args:
        also_running: whether a cycle relies on it while it runs, or only when it goes on after a stop.
    """
    station = batch.proofs[key].station
    void_proof(batch, key, why, entry, at)
    for running in batch.list_open_runs():
        relies = running.started is not None and running.ended is None and (also_running or not running.running)
        if running.station == station and relies:
            running.reopened |= find_lines_proved_by(
                batch, running, key
            )  # the cycle goes on only once it is proved again
