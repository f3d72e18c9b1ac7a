"""What must be done about a run under way, and by when: the windows it still has to hit."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.clocks import compute_planned_end, compute_window_spans
from floor.batch.walk.no_longer_asked import find_gates_no_longer_asked
from floor.checklist.gates import Cured
from floor.checklist.operation import Clock
from floor.dataclass import dataclass
from floor.entry import Moment


@dataclass(frozen=True, slots=True)
class RunDeadline:
    """One deadline of a run under way that somebody must be there for."""

    run: str
    """As the planner calls it."""
    load: str
    """As people see it: ``Tray 1``."""
    op: int
    clock: str
    """What closes; empty if the cycle just may not run unattended."""
    windows: tuple[tuple[datetime, datetime], ...]
    """(opens, closes) of each window; none if nothing closes."""
    by: datetime
    """When the last window closes; without one, when the cycle ends."""


def find_run_deadlines(batch: Batch, run: Run, name: str, now: Moment) -> Iterator[RunDeadline]:
    """Windows that started in this run and that it waits for; and the end of a cycle that may not run unattended.

    Args:
        name: of the run, as the planner calls it.
    """
    operation = batch.find_operation(run)
    load = batch.format_carrier(batch.loads[run.load])
    used = find_gates_no_longer_asked(batch, run)
    waited = {step.clock for key, step in operation.numbered_steps if isinstance(step, Cured) and key not in used}
    for clock in operation.clocks:
        if clock.id in waited and is_clock_started_in(batch, run, clock):
            windows = _list_closing_windows(batch, run, clock, now)
            if windows:
                yield RunDeadline(name, load, run.op, clock.id, windows, max(closes for _, closes in windows))
    ends = compute_planned_end(batch, run, now) if run.running else None
    if ends is not None and not operation.may_outlast_shift and not operation.time.cycle_attended:
        yield RunDeadline(name, load, run.op, "", (), ends)


def _list_closing_windows(batch: Batch, run: Run, clock: Clock, now: Moment) -> tuple[tuple[datetime, datetime], ...]:
    """When each window of a clock opens and closes; none where one stays open."""
    spans = compute_window_spans(batch, clock, run.pieces, now)
    windows = tuple((opens, closes) for opens, closes in spans if closes is not None)
    return windows if len(windows) == len(spans) else ()


def is_clock_started_in(batch: Batch, run: Run, clock: Clock) -> bool:
    """Whether a timer was started in this run, so that its windows count from the record."""
    if clock.per == "batch":
        return clock.id in batch.batch_clocks and batch.batch_clocks[clock.id][0] >= run.begun
    started = batch.piece_clocks.get(clock.id, {})
    return any(piece in started and started[piece][0] >= run.begun for piece in run.pieces)
