"""Folding of notes, strikes, and a lead's decisions after them."""

from __future__ import annotations

from datetime import datetime

from floor.batch.events import (
    CautionsRead,
    MeasuredAgain,
    Noted,
    NoteDone,
    Proved,
    StepDone,
    StepSkipped,
    StruckOut,
    UnprovedSettled,
    Waived,
    read_event,
)
from floor.batch.fold_registry import handles, require, touch_run
from floor.batch.gates.proof_keys import find_lines_proved_by
from floor.batch.state import Batch
from floor.entry import Entry

_AT_A_LINE = CautionsRead | MeasuredAgain | StepDone | StepSkipped | Waived
"""Entries at a line of a walk other than proofs."""


@handles(Noted)
def _noted(batch: Batch, entry: Entry, event: Noted, at: datetime) -> None:
    if event.run:
        touch_run(batch, entry, event, event.run)


@handles(NoteDone)
def _note_done(batch: Batch, entry: Entry, event: NoteDone, at: datetime) -> None:
    require(entry, 0 < event.of < entry.seq, "it is about a note that is not there")


@handles(StruckOut)
def _struck_out(batch: Batch, entry: Entry, event: StruckOut, at: datetime) -> None:
    require(entry, 0 < event.seq < entry.seq, "it strikes out what is not there")
    struck = next((one for one in batch.entries if one.seq == event.seq), None)
    if struck is None:
        return
    said = read_event(struck)
    for run in batch.list_open_runs():
        if isinstance(said, Proved):
            run.reopened |= find_lines_proved_by(batch, run, said.key)
        elif isinstance(said, _AT_A_LINE) and run.number in said.runs:
            run.reopened.add(said.line)


@handles(UnprovedSettled)
def _unproved_settled(batch: Batch, entry: Entry, event: UnprovedSettled, at: datetime) -> None:
    require(entry, 0 < event.strike < entry.seq, "it decides on what is not there")
    batch.settled[event.strike] = f"{event.how} · {entry.by}: {event.reason}"
