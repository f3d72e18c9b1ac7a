"""Folding of a release: the load goes on, and what is sent to rework goes back."""

from __future__ import annotations

from datetime import datetime

from floor.batch.counting.fold import end_detours, end_run_of_load, is_reworked_in_place, push_detour
from floor.batch.events import Released
from floor.batch.fold_registry import handles, open_run, require
from floor.batch.load import Detour, Load
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.fold import start_clocks
from floor.batch.walk.fold_rejudging import rejudge_at_release
from floor.entry import Entry


@handles(Released)
def _released(batch: Batch, entry: Entry, event: Released, at: datetime) -> None:
    run = open_run(batch, entry, event)
    require(entry, run.count is not None, "the run is not counted")
    load = batch.loads[run.load]
    rejudge_at_release(batch, run, entry)
    run.released, run.released_by = at, entry.by
    start_clocks(batch, run, "release", at, entry.seq)
    if load.detours:
        ahead = batch.list_detour_ops(load, load.detours[-1])
        here = load.detours[-1].pieces & batch.on.get(load.number, set())
        left = (op for op in ahead if op > run.op and not here <= batch.early.get(op, set()))
        load.detours[-1].at = next(left, None)
    elif load.ahead is not None:
        load.early |= {load.ahead}
    else:
        load.next_op = next((op for op in batch.list_leg_ops(load) if op > run.op), None)
    end_run_of_load(batch, load)
    assert run.count is not None
    _send_back(batch, run, load)
    end_detours(batch, load, entry, at)


def _send_back(batch: Batch, run: Run, load: Load) -> None:
    """Push a detour onto the load for each rework in the count that stays on the carrier."""
    assert run.count is not None
    for mark in run.count.marks:
        reason = batch.find_operation(run).reason(mark.reason)
        route = batch.checklist.rework(reason.rework) if reason and mark.to == "rework" else None
        if route is None or not is_reworked_in_place(batch, run, route):
            continue
        push_detour(load.detours, Detour(route.id, frozenset(mark.pieces), run.op, route.back_to))
