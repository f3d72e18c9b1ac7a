"""Steps that are done again: a door that was shut before a tool was changed is not shut any more."""

from __future__ import annotations

from datetime import datetime

from floor.batch.gates.lapse_causes import find_step_lapses
from floor.batch.proof import VoidedProof
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gate_base import Lapse
from floor.checklist.gates import Cured
from floor.checklist.operation import BEFORE_CYCLE, Do
from floor.entry import Entry

SET_ANEW: dict[str, Lapse] = {"probed": "rezeroed", "tool loaded": "tool changed", "work held": "refixtured"}
"""Kind of gate → what it took hands at the machine for, if it is proved once more."""
STOPS: frozenset[Lapse] = frozenset({"power lost", "cycle stopped"})
"""What the cycle does not go on after by itself."""


def void_steps(batch: Batch, run: Run, what: Lapse, why: str, entry: Entry, at: datetime, behind: str = "") -> None:
    """What was done by hand before the cycle, and lapses on this, is to be done again; not once the cycle is over.

    Args:
        behind: only the steps that come behind this line.
    """
    if run.ended is not None or run.count is not None:
        return
    operation = batch.find_operation(run)
    lines = [line for line, _ in operation.numbered_steps]
    for line, step in operation.numbered_steps[lines.index(behind) + 1 if behind in lines else 0 :]:
        if not isinstance(step, Do) or what not in find_step_lapses(batch, operation, step):
            continue
        if run.marks.pop(line, None) is not None or run.late:
            run.lapsed[line] = VoidedProof(why, at, entry.seq)
            if run.started is not None:
                run.reopened.add(line)
    if what in STOPS and run.started is not None and batch.rules > 4:
        run.reopened |= _find_waits_begun_again(batch, run)


def _find_waits_begun_again(batch: Batch, run: Run) -> set[str]:
    """The waits before the cycle that count from a line that is asked again: an oven purges before each light-off.

    Not what must be in time as well: that work is done.
    """
    operation = batch.find_operation(run)
    asked = {f"step {line}" for line in run.reopened}
    waits = [clock for clock in operation.clocks if not any(window.latest for window in clock.windows)]
    again = {clock.id for clock in waits if clock.starts in asked}
    steps = operation.numbered_steps
    return {line for line, step in steps if isinstance(step, Cured) and step.at in BEFORE_CYCLE and step.clock in again}
