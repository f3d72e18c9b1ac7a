"""Cure, recoat and other windows of a route for the planner, counted from the end of the run before."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from floor.batch.state import Batch
from floor.batch.walk.clocks import compute_window_spans
from floor.batch.walk.clocks_before_next_run import find_clock_gates
from floor.checklist.model import Checklist
from floor.checklist.operation import Clock, Operation
from floor.checklist.run_time_left import compute_remaining
from floor.entry import Moment
from floor.figures.schedule import StartSpan, StartWindow
from floor.planning.durations import RunDuration, has_latest_start

ANY_TIME = (StartWindow(),)


def _remaining(operation: Operation, clock: Clock, each: RunDuration) -> tuple[float, float]:
    return compute_remaining(operation, clock, each.before, each.cycle, each.after)


def is_plain_cure(clock: Clock) -> bool:
    """Whether it is a single window that opens later: a cure that the carrier sits through."""
    return len(clock.windows) == 1 and clock.windows[0].earliest is not None


def compute_cure_tail(checklist: Checklist, operation: Operation, each: RunDuration, following: int | None) -> float:
    """Minutes of cure that the carrier sits through after this operation, before the next may start."""
    if following is None:
        return 0.0
    cures = [
        clock.windows[0].earliest.base / 60 - _remaining(operation, clock, each)[0]
        for source, clock, _ in find_clock_gates(checklist, checklist.ops[following])
        if source.op == operation.op and is_plain_cure(clock) and clock.windows[0].earliest is not None
    ]
    return max(0.0, *cures) if cures else 0.0


def list_windows_after_end(
    operation: Operation, clock: Clock, each: RunDuration, tailing: float
) -> tuple[StartWindow, ...]:
    """The windows of a timer, counted from the end of its run (cure included), without those that cannot be hit.

    Args:
        tailing: minutes of cure that end the run as planned.
    """
    least, most = _remaining(operation, clock, each)
    found = []
    for window in clock.windows:
        earliest = max(0.0, (window.earliest.base / 60 if window.earliest else 0.0) - least - tailing)
        latest = window.latest.base / 60 - most - tailing if window.latest else None
        if latest is None or latest >= earliest:
            found.append(StartWindow(earliest, latest))
    return tuple(found)


def compute_overshoot(operation: Operation, clock: Clock, each: RunDuration, tailing: float) -> float:
    """Minutes by which the timer's own run overshoots its nearest window; 0 if it can hit one."""
    least, most = _remaining(operation, clock, each)
    short = [
        max(0.0, (window.earliest.base / 60 if window.earliest else 0.0) - least - tailing)
        - (window.latest.base / 60 - most - tailing if window.latest else float("inf"))
        for window in clock.windows
    ]
    return max(0.0, min(short))


def intersect_windows(some: Iterable[StartWindow], others: Iterable[StartWindow]) -> tuple[StartWindow, ...]:
    """Times that lie in a window of both timers."""
    others = tuple(others)
    found = []
    for one in some:
        for other in others:
            latest = min((end for end in (one.latest, other.latest) if end is not None), default=None)
            earliest = max(one.earliest, other.earliest)
            if latest is None or earliest <= latest:
                found.append(StartWindow(earliest, latest))
    return tuple(found)


def find_recorded_spans(batch: Batch, clock: Clock, pieces: tuple[int, ...], now: Moment) -> tuple[StartSpan, ...]:
    """When pieces whose timer is running may start; empty if it runs for none."""
    return tuple(
        StartSpan(opens if opens > now.at else None, shuts)
        for opens, shuts in compute_window_spans(batch, clock, pieces, now)
    )


def intersect_spans(some: Iterable[StartSpan], others: Iterable[StartSpan]) -> tuple[StartSpan, ...]:
    """Instants that lie in a span of both."""
    others = tuple(others)
    found = []
    for one in some:
        for other in others:
            earliest = max((at for at in (one.earliest, other.earliest) if at is not None), default=None)
            latest = min((at for at in (one.latest, other.latest) if at is not None), default=None)
            if earliest is None or latest is None or earliest <= latest:
                found.append(StartSpan(earliest, latest))
    return tuple(found)


def find_first_opening(allowed: Iterable[StartSpan]) -> datetime | None:
    """When the first span opens, if none is open yet."""
    opens = [span.earliest for span in allowed]
    return min((at for at in opens if at is not None), default=None) if opens and None not in opens else None


def must_keep_loads_apart(checklist: Checklist, ops: tuple[int, ...]) -> bool:
    """Whether a closing window reaches from an earlier leg into this one.

    Pieces of different loads are then not combined: one would wait for the other while its window closes.
    """
    return any(
        source.op < ops[0] and has_latest_start(clock)
        for op in ops
        for source, clock, _ in find_clock_gates(checklist, checklist.ops[op])
    )
