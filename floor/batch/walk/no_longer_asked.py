"""What a run no longer asks for: gates of a phase that is over, and what had to hold only while work was done."""

from __future__ import annotations

from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.gates import Cured, Gate
from floor.checklist.operation import BEFORE_CYCLE, Do


def find_gates_no_longer_asked(batch: Batch, run: Run) -> set[str]:
    """Gates of a run whose work is done: their timers no longer concern it."""
    over = set(BEFORE_CYCLE) if run.started is not None or run.count is not None else set()
    over |= {"cycle"} if run.ended is not None or run.count is not None else set()
    over |= {"after"} if run.count is not None else set()
    steps = batch.find_operation(run).numbered_steps
    return find_steps_of_done_work(batch, run) | {key for key, step in steps if step.at in over}


def find_steps_of_done_work(batch: Batch, run: Run) -> set[str]:
    """Windows, mixes and checks of the air whose work is done: every step that follows in the same phase is marked,
    or the step is that a window names.

    They must hold while their work is done, not until the count.
    """
    found: set[str] = set()
    steps = batch.find_operation(run).numbered_steps
    over: dict[str, bool] = {}
    """For the clock of each mix, looking back: whether every window from here to its next mix is done with."""
    for phases in (("after",), ("cycle",), BEFORE_CYCLE):
        followed = done = False
        for key, step in reversed([pair for pair in steps if pair[1].at in phases]):
            if isinstance(step, Cured) and step.until:
                over[step.clock] = over.get(step.clock, True) and step.until in run.marks
            is_over = isinstance(step, Do) and over.pop(step.while_running, False)
            if _is_work_done(run, step, is_over, followed and done):
                found.add(key)
            if isinstance(step, Do):
                done = (done or not followed) and batch.find_mark(run, key, step) is not None
                followed = True
    return found


def _is_work_done(run: Run, step: Do | Gate, is_over: bool, all_behind: bool) -> bool:
    """
    Args:
        is_over: whether the steps are done that the windows of a mix name.
        all_behind: whether every step that follows in the phase is marked.
    """
    if isinstance(step, Do):
        return bool(step.while_running) and (all_behind or is_over)
    if isinstance(step, Cured) and step.until:
        return step.until in run.marks
    return step.is_for_work and all_behind
