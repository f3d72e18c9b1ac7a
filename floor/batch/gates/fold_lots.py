"""Lots as recorded, and new ones in mid-batch: which loads have which, now and earlier."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import date, datetime
from typing import TypeVar

from floor.batch.corrections.unproved_work import find_root_entry
from floor.batch.events import Event, LotCorrected, LotOpened, Proved, StruckOut, read_event
from floor.batch.fold_registry import handles
from floor.batch.gates.proof_keys import find_proof_key
from floor.batch.proof import CorrectedLot, Lot, LotKey, read_lot
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gates import LotRecorded
from floor.checklist.operation import Do
from floor.entry import Entry

E = TypeVar("E", bound=Event)


@handles(LotCorrected)
def _lot_corrected(batch: Batch, entry: Entry, event: LotCorrected, at: datetime) -> None:
    """Nothing changes from here on: the entry that it is about was folded with the right lot (`correct_lot`)."""


def correct_lot(event: E, corrected: CorrectedLot | None) -> E:
    """The event as it would be had the right lot been recorded."""
    if corrected is not None and isinstance(event, Proved):
        given = {"lot": corrected.lot} | ({"use_by": corrected.use_by} if corrected.use_by else {})
        return replace(event, values=event.values | given)
    if corrected is not None and isinstance(event, LotOpened):
        return replace(event, lot=corrected.lot, use_by=corrected.use_by)
    return event


def read_lot_of_entry(entry: Entry, corrected: CorrectedLot | None = None) -> tuple[str, str] | None:
    """The lot that an entry records, and its date as ISO text, empty where it has none; None if it records none.

    Args:
        corrected: what it was corrected to; without, as it was entered.
    """
    event = correct_lot(read_event(entry), corrected)
    if isinstance(event, Proved) and event.gate == "lot recorded":
        return str(event.values["lot"]), str(event.values.get("use_by") or "")
    return (event.lot, event.use_by) if isinstance(event, LotOpened) else None


def list_lot_entries(batch: Batch, run: Run, what: str) -> tuple[int, ...]:
    """The entries that say the lot of a run, where one is recorded for the batch: as it was when it was counted."""
    until = run.count.seq if run.count is not None else batch.seq + 1
    return _lots_of(batch, run, [seq for seq in batch.lot_entries.get(what, ()) if seq < until])


@handles(LotOpened)
def _lot_opened(batch: Batch, entry: Entry, event: LotOpened, at: datetime) -> None:
    what, use_by = event.what, event.use_by
    for run in batch.list_open_runs():
        in_use = find_lots_in_use(batch, run, what) if run.count is None else ()
        if in_use:
            before = in_use if run.load not in event.into or _worked(batch, run) else ()
            run.taken[what] = (*before, event.lot) if run.load in event.into else before
    record_lot(batch, what, event.lot, use_by, entry, at)


def find_lots_in_use(batch: Batch, run: Run, what: str) -> tuple[str, ...]:
    """The lots of a material that a run has so far, in their order; empty where its operation records none."""
    for line, step in batch.find_operation(run).numbered_steps:
        if isinstance(step, LotRecorded) and step.what == what:
            lot = _find_lot(batch, run, line, step)
            return run.taken.get(what, (lot.lot,) if lot is not None else ())
    return ()


def _find_lot(batch: Batch, run: Run, line: str, gate: LotRecorded) -> Lot | None:
    if gate.per == "batch":
        return batch.lots.get(gate.what)
    proof = batch.proofs.get(find_proof_key(batch, run, line, gate))
    return read_lot(proof) if proof is not None else None


def take_lot(batch: Batch, run: Run, gate: LotRecorded, lot: str) -> None:
    """A lot is recorded for this run alone: after another one, where that may be in its pieces already."""
    before = run.taken.get(gate.what, ())
    run.taken[gate.what] = (*before, lot) if before and before[-1] != lot and _worked(batch, run) else (lot,)


def _worked(batch: Batch, run: Run) -> bool:
    """Whether anything done in this run may have put the old lot into the pieces.

    Stricter than `find_line_worked_on`: any loading step counts, and a skipped one.
    """
    steps = batch.find_operation(run).numbered_steps
    return run.started is not None or any(
        isinstance(step, Do) and step.at in ("load", "cycle", "after") and key in run.marks for key, step in steps
    )


def record_lot(batch: Batch, what: str, lot: str, use_by: str | None, entry: Entry, at: datetime) -> None:
    """Use this lot from here on."""
    batch.lots[what] = Lot(lot, date.fromisoformat(use_by) if use_by else None, entry.seq, at)
    batch.lot_entries.setdefault(what, []).append(entry.seq)


def is_another_lot(batch: Batch, run: Run, what: str, entry: Entry) -> bool:
    """Whether a run went on, at this entry, by another lot than the record now says."""
    roots = {target: find_root_entry(batch, target) for target in batch.struck if target < entry.seq}
    struck = {target: one for target, one in roots.items() if _records(one, what)}
    if not any(batch.struck[target] > entry.seq for target in struck):
        return False
    then = _struck_before(batch, entry.seq)
    every = sorted({*batch.lot_entries.get(what, ()), *(one.seq for one in struck.values())})
    now = [seq for seq in every if seq not in batch.struck]
    return _lots_of(batch, run, now) != _lots_of(batch, run, [seq for seq in every if seq not in then])


def _records(entry: Entry, what: str) -> bool:
    event = read_event(entry)
    if isinstance(event, LotOpened):
        return event.what == what
    return isinstance(event, Proved) and event.key == LotKey("lot recorded", what)


def _struck_before(batch: Batch, seq: int) -> Collection[int]:
    """What was struck out at the time of an entry, with strikes of strikes resolved."""
    strikes = {*batch.struck.values(), *batch.struck}
    then: set[int] = set()
    for one in sorted((one for one in strikes if one < seq), reverse=True):
        event = read_event(batch.entries[one - 1])
        if isinstance(event, StruckOut) and one not in then:
            then.add(event.seq)
    return then


def _lots_of(batch: Batch, run: Run, recorded: list[int]) -> tuple[int, ...]:
    """The lot entries of a run: the last one, or all since another lot was opened in mid-run."""
    last: tuple[int, ...] = ()
    taken: tuple[int, ...] | None = None
    for seq in recorded:
        event = read_event(batch.entries[seq - 1])
        if isinstance(event, LotOpened) and run.seq < seq and last:
            taken = (*(taken or last), seq) if run.load in event.into else taken or last
        last = (seq,)
    return taken or last
