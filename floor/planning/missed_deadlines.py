"""Runs under way whose windows close, or that may not run unattended, while nobody is in."""

from __future__ import annotations

from bisect import bisect_right
from datetime import datetime

from floor.figures.calendar import WorkingTime, to_epoch, to_local
from floor.figures.schedule import Obstacle, PhaseKind, Plan, PlannedRun, SchedulingProblem
from floor.planning.run_deadlines import RunDeadline
from floor.text import format_clock


def find_missed_deadlines(
    problem: SchedulingProblem, plan: Plan, closing: tuple[RunDeadline, ...]
) -> tuple[Obstacle, ...]:
    """Deadlines of runs under way that no plan can keep with the people who are in, the most urgent first.

    One line per run: its windows come before a cycle that may not run unattended.
    """
    hours = WorkingTime(problem.calendar, to_epoch(problem.now), problem.hands, breaks=False)
    runs = {run.run: run for run in plan.runs}
    found: dict[str, Obstacle] = {}
    for one in sorted(closing, key=lambda one: (not one.clock, one.by)):
        if one.run not in found and one.by > problem.now:
            obstacle = _obstacle(problem, hours, one, runs.get(one.run))
            if obstacle is not None:
                found[one.run] = obstacle
    return tuple(found.values())


def _obstacle(
    problem: SchedulingProblem, hours: WorkingTime, one: RunDeadline, run: PlannedRun | None
) -> Obstacle | None:
    now = problem.now
    taken = None if run is None else _taken_out(run)
    left = _left(hours, one.by)
    if (taken is not None and taken <= one.by) if one.clock else left is None:
        return None
    by, then = format_clock(one.by, now), "" if taken is None else format_clock(taken, now)
    wrong = f"{one.clock} must end by {by}" if one.clock else f"its cycle ends {by} and may not run alone"
    if left is None:
        wrong += f", and nobody is free for it before {then}" if then else ", and it is not in the plan"
        remedy = f"Leave other work for it in time, or have one more person in by {by}"
        return Obstacle(f"{one.load}, op {one.op}", wrong, remedy, one.run)
    gone, then = to_local(left, problem.calendar.tz), _say_back(problem, hours, left)
    remedy = f"Be there by {by} to take it out" if one.clock else f"Be with it until {by}"
    if left <= to_epoch(now):
        wrong += f", and nobody is in before {then}" if then else ", and nobody is in"
    else:
        wrong += f", and nobody is in from {format_clock(gone, now)}" + (f" to {then}" if then else "")
        if any(opens <= gone <= closes for opens, closes in one.windows):
            remedy = f"Be there by {by}, or take it out by {format_clock(gone, now)}"
    return Obstacle(f"{one.load}, op {one.op}", wrong, remedy, one.run)


def _taken_out(run: PlannedRun) -> datetime:
    """When somebody attends to it after its cycle, as planned."""
    cycle = max((part.end for part in run.stretches if part.kind is PhaseKind.UNATTENDED), default=run.start)
    return min((part.start for part in run.attended if part.start >= cycle), default=run.end)


def _left(hours: WorkingTime, at: datetime) -> int | None:
    """Since when nobody is in, in epoch seconds; None if somebody is."""
    second = to_epoch(at)
    while hours.known_until <= second and hours.extend():
        pass
    step = bisect_right(hours.times, second - 1) - 1
    return None if hours.levels[step] else hours.times[step]


def _say_back(problem: SchedulingProblem, hours: WorkingTime, left: int) -> str:
    """When somebody is in again; empty if nobody ever is."""
    back = _back(hours, left)
    return "" if back is None else format_clock(to_local(back, problem.calendar.tz), problem.now)


def _back(hours: WorkingTime, left: int) -> int | None:
    """When somebody is in again, in epoch seconds; None if nobody ever is.

    The plan may come to the run minutes later, with other work before it: that is not when the shift begins.
    """
    while True:
        step = bisect_right(hours.times, left)
        found = next((at for at, many in zip(hours.times[step:], hours.levels[step:], strict=False) if many), None)
        if found is not None or not hours.extend():
            return found
