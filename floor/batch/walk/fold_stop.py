"""A cycle that stops before its end: by an entry of its own, or because the station lost its power."""

from __future__ import annotations

from datetime import datetime, timedelta

from floor.batch.events import CycleStopped
from floor.batch.fold_registry import handles, open_runs_in, require, void_proof
from floor.batch.gates.proof_keys import find_proof_key
from floor.batch.proof import RunKey
from floor.batch.run import CycleStop, Run
from floor.batch.state import Batch
from floor.batch.walk.fold_lapses import void_steps
from floor.checklist.gates import Gate
from floor.checklist.operation import Clock, Do
from floor.entry import Entry


@handles(CycleStopped)
def _cycle_stopped(batch: Batch, entry: Entry, event: CycleStopped, at: datetime) -> None:
    for run in open_runs_in(batch, entry, event):
        require(entry, run.running, "the cycle is not running")
        stop(batch, run, event.why, at - timedelta(seconds=event.ago), entry)


def stop(batch: Batch, run: Run, why: str, at: datetime, entry: Entry) -> None:
    """Stop the cycle; the walk goes back to starting it.

    Args:
        at: when it stopped, by the clock of the entry.
    """
    run.stopped = CycleStop(why, at, entry.seq)
    run.reopened.add("start")
    void_steps(batch, run, "cycle stopped", f"the cycle stopped ({why})", entry, at)
    _halt(batch, run, entry)


def _halt(batch: Batch, run: Run, entry: Entry) -> None:
    """Stop the timers that started in the cycle, and reopen what was done and measured since: an oven without power is
    no longer at temperature, and the dwell so far counts toward the latest end only. With no timer in the cycle, as in
    a cut, what was done stays done; so do its program stops: pieces turned over stay turned over.
    """
    operation = batch.find_operation(run)
    within = {line: step for line, step in operation.numbered_steps if step.at == "cycle"}
    events = {"start", *(f"step {line}" for line in within)}
    clocks = [clock for clock in operation.clocks if clock.starts in events]
    for clock in clocks:
        began = _take_clock(batch, run, clock)
        if began:
            run.halted[clock.id] = min([*began, run.halted.get(clock.id, began[0])])
    for line, step in within.items() if clocks else ():
        if isinstance(step, Do):
            if not step.cycle:
                run.marks.pop(line, None)
        else:
            _void_line(batch, run, line, step, entry)


def _take_clock(batch: Batch, run: Run, clock: Clock) -> list[tuple[datetime, int]]:
    """When and by which entries a clock began for these pieces; it does not run any more."""
    if clock.per == "batch":
        return [batch.batch_clocks.pop(clock.id)] if clock.id in batch.batch_clocks else []
    started = batch.piece_clocks.get(clock.id, {})
    return [started.pop(piece) for piece in run.pieces if piece in started]


def _void_line(batch: Batch, run: Run, line: str, gate: Gate, entry: Entry) -> None:
    """What was proved for this run alone is to be proved again."""
    key = find_proof_key(batch, run, line, gate)
    if isinstance(key, RunKey) and key in batch.proofs:
        void_proof(batch, key, "the cycle stopped", entry, entry.done)
        run.marks.pop(line, None)
