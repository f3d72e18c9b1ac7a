"""Judge each point that a run passed again, on the record without struck entries.

A command was allowed by the record of its time, so with nothing struck out there is nothing to judge.
"""

from __future__ import annotations

from datetime import timedelta

from floor.batch.gates.fold_lots import is_another_lot
from floor.batch.gates.proof_keys import find_proof_key
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.lines import Line
from floor.batch.walk.station_walk import build_walk
from floor.checklist.gates import Cured, Gate, LotRecorded
from floor.checklist.operation import Do
from floor.entry import Entry, Moment


def rejudge_before(batch: Batch, run: Run, entry: Entry, point: str) -> None:
    """A run passes everything before a line of its walk: remember what is not proved by now."""
    if not batch.struck:
        return
    for line in _before(batch, run, entry, point):
        lot = line.step.what if isinstance(line.step, LotRecorded) and line.step.per == "batch" else ""
        if not line.is_satisfied or (lot and is_another_lot(batch, run, lot, entry)):
            run.unmet.add((line.key, entry.seq))
            run.reopened.add(line.key)


def rejudge_windows(batch: Batch, run: Run, entry: Entry, line_key: str) -> None:
    """A step is done: windows and mixes before it must hold now; afterwards they no longer matter."""
    if not batch.struck or not any(_by_clock(step) for _, step in batch.find_operation(run).numbered_steps):
        return
    for line in _before(batch, run, entry, line_key):
        if _by_clock(line.step) and not line.is_satisfied:
            run.unmet.add((line.key, entry.seq))
            run.reopened.add(line.key)


def rejudge_at_release(batch: Batch, run: Run, entry: Entry) -> None:
    """The run is released: remember what it proved again after passing it, with the proving entry."""
    rejudge_before(batch, run, entry, "release")
    missed = {line for line, _ in run.unmet}
    for line in _before(batch, run, entry, "release") if missed else ():
        if line.key in missed and line.is_satisfied:
            run.proved_since[line.key] = _evidence(batch, run, line)


def _before(batch: Batch, run: Run, entry: Entry, point: str) -> list[Line]:
    late = entry.time - entry.done  # an act from paper was judged as of its own time
    now = Moment(entry.done, entry.boot, entry.up - late / timedelta(seconds=1))
    lines = []
    for line in build_walk(batch, run, now, entry.by).lines:
        if line.key == point:
            break
        if line.is_step:
            lines.append(line)
    return lines


def _by_clock(step: Do | Gate | None) -> bool:
    if step is None:
        return False
    return bool(step.while_running) if isinstance(step, Do) else step.is_for_work


def _evidence(batch: Batch, run: Run, line: Line) -> int:
    """The entry that a satisfied line rests on; 0 for a timer or a cycle event."""
    mine = (run.number, line.key, False)
    waived = [one.seq for one in batch.waivers.values() if (one.run, one.line, one.spent) == mine]
    if waived or line.step is None or isinstance(line.step, Cured):
        return max(waived, default=0)
    if isinstance(line.step, Do):
        mark = run.marks.get(line.key) or batch.setups[run.setup].marks.get(line.key)
        return mark.seq if mark else 0
    if isinstance(line.step, LotRecorded) and line.step.per == "batch":
        return batch.lots[line.step.what].seq
    key = find_proof_key(batch, run, line.key, line.step)
    if key in batch.proofs:
        return batch.proofs[key].seq
    void = batch.voids.get(key)  # voided after its phase was over: it counted then
    return void.proof.seq if void is not None and void.proof is not None else 0
