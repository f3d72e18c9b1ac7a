"""The view from two meters away: where the work stands, what is next, how long it still takes."""

from __future__ import annotations

from dataclasses import fields
from typing import Literal

from floor.batch.counting.blind_count import find_blind_subjects, hide_piece_count
from floor.batch.gates.setup_sheet import find_own_offset
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.clocks import compute_planned_end
from floor.batch.walk.lines import Line, Walk
from floor.batch.walk.shared_cycles import find_runs_in_cycle
from floor.batch.walk.station_walk import build_walk
from floor.batch.worklist.due_task import CLOSING_SOON, DueTask
from floor.checklist.model import SIGNAL_WORDS
from floor.checklist.operation import Operation
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.text import format_span

WorkKind = Literal["runs", "over", "waits", "blocked", "missed", "now", "through"]
USUAL_END = next(str(field.default) for field in fields(Operation) if field.name == "end")
"""The end of a cycle if the checklist names no step for it."""


@dataclass(frozen=True, slots=True)
class LargeView:
    """One piece of work in a few words, each part short enough for large letters."""

    job: str
    operation: str
    carrier: str
    """``Pallet 3 of 6``; empty where the work has none yet."""
    kind: WorkKind
    time: str
    """Time left, or past the planned end; empty if no timer runs."""
    doing: str
    """The current step, what blocks it, or what follows the timer."""
    closes: str = ""
    """Time left in a window that is about to close."""
    cautions: tuple[str, ...] = ()
    """Signal words of the current line, the gravest first."""
    full: str = ""
    """The current line in full, however long it is."""
    offset: str = ""
    """The work offset where each carrier has its own: ``G54``; empty where none has."""


def build_large_view(batch: Batch, now: Moment, due: DueTask | None, run: int | None = None, by: str = "") -> LargeView:
    """The large view of one run or one due task.

    Args:
        due: the task; None for a released run.
        run: the run on view, if any.
    """
    run = due.run if due is not None and run is None else run
    if run is not None:
        return _of_run(batch, now, due, run, by)
    assert due is not None, "without a run there is something due"
    carrier = batch.format_carrier_of_all(batch.loads[due.load]) if due.load else ""
    what = f"{due.what}: {due.title}" if due.go in ("begin", "form") else due.what
    kind: WorkKind = "now"
    if due.urgency in ("blocked", "overdue"):
        to_come = due.closes is not None and due.closes > now.at
        kind = "blocked" if due.urgency == "blocked" or to_come else "missed"
    left = ""
    if due.when is not None and due.when > now.at:
        kind, left, what = "waits", format_span((due.when - now.at).total_seconds()), due.what
    operation = f"Op {due.op}" if due.op else ""
    return LargeView(batch.id, operation, carrier, kind, left, what, _closes(due, now), (), due.sentence)


def _carriers(batch: Batch, run: Run) -> str:
    """``Pallet 1, 2 of 6`` where one cycle takes both."""
    of = [batch.loads[one.load] for one in find_runs_in_cycle(batch, run)]
    numbers = ", ".join(str(load.carrier_number) for load in of)
    kind = batch.checklist.carrier(of[0].carrier)
    return f"{kind.name} {numbers} of {kind.count}"


def _of_run(batch: Batch, now: Moment, due: DueTask | None, number: int, by: str) -> LargeView:
    run = batch.runs[number]
    walked = hide_piece_count(build_walk(batch, run, now, by), find_blind_subjects(batch))
    line = walked.current
    job, operation, carrier = batch.id, f"Op {run.op}", _carriers(batch, run)
    if line is None:
        return LargeView(job, operation, carrier, "through", "", "Released", full="The load is released")
    kind, left = _clock(batch, now, due, number, line)
    title = line.step.title() if line.kind == "caution" and line.step else line.title
    doing = _say_what_follows(walked, line, title, kind, due)
    words = {caution.word for _, caution in line.cautions} if not line.is_satisfied else set()
    step = f"Step {walked.step} of {walked.steps}: {title}"
    why = f": {line.verdict.why}" if line.verdict is not None and kind in ("blocked", "waits") else ""
    offset = ", ".join(filter(None, (find_own_offset(batch, one) for one in find_runs_in_cycle(batch, run))))
    gravest_first = tuple(word for word in SIGNAL_WORDS if word in words)
    return LargeView(job, operation, carrier, kind, left, doing, _closes(due, now), gravest_first, step + why, offset)


def _say_what_follows(walked: Walk, line: Line, title: str, kind: WorkKind, due: DueTask | None) -> str:
    """What is to be done now, what blocks it, or what follows the clock."""
    if kind == "blocked" and line.verdict is not None:
        return line.verdict.why
    if kind == "runs" and line.kind == "end" and walked.operation.end == USUAL_END:
        following = walked.lines[walked.place + 1 :]
        return "then " + next(after.title for after in following if after.is_step)
    comes_later = kind == "waits" or (
        kind == "runs" and (line.kind == "end" or (due is not None and due.urgency == "later"))
    )
    return f"then {title}" if comes_later else title


def _clock(batch: Batch, now: Moment, due: DueTask | None, number: int, line: Line) -> tuple[WorkKind, str]:
    """How the work stands, and its timer: the rest of the cycle, or a window."""
    run = batch.runs[number]
    ends = compute_planned_end(batch, run, now) if run.running else None
    if line.state == "blocked":
        return "blocked", format_span((ends - now.at).total_seconds()) if ends is not None and ends > now.at else ""
    if due is not None and due.urgency == "later" and due.when is not None:
        kind: WorkKind = "runs" if ends is not None else "waits"
        return kind, format_span((due.when - now.at).total_seconds())
    if ends is None:
        return "now", ""
    if ends > now.at:
        return "runs", format_span((ends - now.at).total_seconds())
    return ("over", format_span((now.at - ends).total_seconds())) if line.kind == "end" else ("now", "")


def _closes(due: DueTask | None, now: Moment) -> str:
    if due is None or due.closes is None or due.closes - now.at >= CLOSING_SOON:
        return ""
    return format_span((due.closes - now.at).total_seconds())
