"""A run that was only started is put back: the station is free, the load is where it was."""

from __future__ import annotations

from datetime import datetime

from floor.batch.counting.fold import end_run_of_load
from floor.batch.events import RunPutBack
from floor.batch.fold_registry import handles, open_run, require, void_proof
from floor.batch.proof import OffsetKey, RunKey, SetupKey, ToolKey
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.entry import Entry


@handles(RunPutBack)
def _run_put_back(batch: Batch, entry: Entry, event: RunPutBack, at: datetime) -> None:
    run = open_run(batch, entry, event)
    require(entry, run.started is None and run.count is None, f"the work of run {run.number} has started")
    for key, proof in list(batch.proofs.items()):
        if isinstance(key, RunKey) and key.run == run.number:
            del batch.proofs[key]
        elif isinstance(key, OffsetKey) and proof.run == run.number:
            void_proof(batch, key, "the load was put back", entry, at)
    for waiver in batch.waivers.values():
        if waiver.run == run.number and not waiver.closed:
            waiver.closed = f"the load was put back · {entry.by}"
    _leave_the_setup(batch, run)
    for piece in run.pieces if batch.loads[run.load].ahead is not None else ():
        if not any(piece in done for done in batch.early.values()):
            batch.turn.pop(piece, None)
    end_run_of_load(batch, batch.loads[run.load], not_done=run.op)
    run.pieces, run.put_back = (), True
    run.released, run.released_by = at, entry.by


def _leave_the_setup(batch: Batch, run: Run) -> None:
    """Keep a set-up that was made ready for the run.

    If none was, the previous one stands again, unless the station was disturbed or set up by another batch since: then
    none stands.
    """
    setup = batch.setups[run.setup]
    if setup.marks or not setup.stands or _used(batch, run):
        return
    setup.stands, setup.why_not, setup.never_made = False, "the load was put back", True
    before = batch.setups.get(setup.instead_of)
    if before is not None and not _left_otherwise_since(batch, run):
        before.stands, before.why_not = True, ""


def _used(batch: Batch, run: Run) -> bool:
    """Whether the set-up existed before the run, serves another run, or has a proof."""
    if any(other.setup == run.setup and not other.put_back and other is not run for other in batch.runs.values()):
        return True
    return any(
        key.setup == run.setup if isinstance(key, SetupKey) else isinstance(key, ToolKey) and proof.run == run.number
        for key, proof in batch.proofs.items()
    )


def _left_otherwise_since(batch: Batch, run: Run) -> bool:
    """Whether the station may have changed since the set-up of the run was begun."""
    began = min(other.seq for other in batch.runs.values() if other.setup == run.setup)
    return batch.left_otherwise.get(run.station, 0) > began
