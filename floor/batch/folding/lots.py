"""A new lot in the middle of a batch: which loads have the old one, which the new one, which both."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from floor.batch.folding.base import kind
from floor.batch.state import Batch, Lot, Run
from floor.checklist.gates import LotRecorded
from floor.checklist.model import Do
from floor.entry import Entry


@kind
def _lot_opened(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    what, use_by = body["what"], body.get("use_by")
    old = batch.lots.get(what)
    for run in batch.open_runs():
        steps = batch.operation_of(run).numbered_steps
        uses = any(isinstance(step, LotRecorded) and step.what == what for _, step in steps)
        if run.count is None and uses and old is not None:
            before = run.taken.get(what, (old.lot,)) if run.load not in body["into"] or _worked(batch, run) else ()
            run.taken[what] = (*before, body["lot"]) if run.load in body["into"] else before
    batch.lots[what] = Lot(body["lot"], date.fromisoformat(use_by) if use_by else None, entry.seq, at)


def _worked(batch: Batch, run: Run) -> bool:
    """Whether anything was done to the pieces in this run yet, so that the old lot may be in them."""
    steps = batch.operation_of(run).numbered_steps
    return run.started is not None or any(
        isinstance(step, Do) and step.at in ("load", "cycle", "after") and key in run.marks for key, step in steps
    )
