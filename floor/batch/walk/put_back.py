"""Putting back a run that was only started: the station is free again, the load is where it was."""

from __future__ import annotations

from floor.batch import events
from floor.batch.command import Context, Refused, refuse_closed_batch, require_run
from floor.batch.corrections.unproved_work import find_line_title
from floor.batch.events import make_drafts
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.operation import Do
from floor.dataclass import dataclass
from floor.entry import Draft, Moment
from floor.text import format_clock


@dataclass(frozen=True, slots=True)
class PutBack:
    """Put a run back, if nothing was done to its pieces yet."""

    run: int

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        run = require_run(batch, self.run)
        refused = refuse_put_back(batch, run, context.now)
        if refused is not None:
            raise refused
        return make_drafts(events.RunPutBack(run=run.number, op=run.op, load=run.load, falls=count_lines_to_redo(run)))


def refuse_put_back(batch: Batch, run: Run, now: Moment) -> Refused | None:
    """Why a run can no longer be put back and what to do instead; None if it can."""
    name = f"{batch.format_load(run.load)} at op {run.op}"
    if run.count is not None:
        wrong = f"{name} is counted ({run.count.by} {format_clock(run.count.at, now.at)})"
        return Refused("not now", wrong, "release it, or strike the count out (j on the batch) if it was not counted")
    if run.started is not None:
        wrong = f"{name}: its cycle was started {format_clock(run.started, now.at)}"
        remedy = "end it, count and release; or strike the start out (j on the batch) if it never ran"
        return Refused("not now", wrong, remedy)
    line = find_line_worked_on(batch, run)
    if line:
        wrong = (
            f"{name}: {find_line_title(batch, batch.find_operation(run), line)} is done, and that cannot be put back"
        )
        return Refused("not now", wrong, "finish it, or strike that out (j on the batch) if it was not done")
    return None


def find_line_worked_on(batch: Batch, run: Run) -> str:
    """The first line of a run that did something to its pieces; empty if none.

    Starting a timer counts, and so does rework; without a cycle the steps are the work. For a single piece since it was
    set aside see `_missed_nothing` in `floor/batch/counting/fold_holds.py`.
    """
    operation = batch.find_operation(run)
    rework = batch.checklist.rework(run.rework) if run.rework else None
    own = {f"rework {rework.id} {n}": step for n, step in enumerate(rework.steps, 1)} if rework else {}
    steps = dict(operation.numbered_steps) | own
    clocks = {clock.starts.removeprefix("step ") for clock in operation.clocks}
    for line, mark in run.marks.items():
        if mark.how != "done":
            continue
        step = steps.get(line)
        by_hand = isinstance(step, Do) and (line in own or (not operation.cycle and step.at in ("load", "after")))
        if line in clocks or by_hand:
            return line
    return ""


def count_lines_to_redo(run: Run) -> int:
    """How many of the run's own marked lines would have to be repeated."""
    return sum(not line.startswith("caution ") for line in run.marks)
