"""Runs under way whose windows close, or that may not run unattended, while nobody is in."""

from __future__ import annotations

from bisect import bisect_right
from datetime import datetime

from floor.figures.calendar import WorkingTime, to_epoch, to_local
from floor.figures.schedule import Obstacle, PhaseKind, Plan, PlannedRun, RunModel, SchedulingProblem
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
    taken = None if run is None else _taken_out(run)
    left = _left(hours, one.by)
    if (taken is not None and taken <= one.by) if one.clock else left is None:
        return None
    asked = next((asked for load in problem.loads for asked in load.runs if asked.id == one.run), None)
    parts = [one.load, _name_station(problem, asked, run), f"op {one.op} {one.clock}".strip()]
    where = ", ".join(filter(None, parts))
    if left is None:
        wrong = f"nobody is free before {format_clock(taken, problem.now)}" if taken else "it is not in the plan"
        return Obstacle(where, wrong, _say_remedy(problem, one, asked, None), one.run)
    gone = to_local(left, problem.calendar.tz) if left > to_epoch(problem.now) else None
    back = _say_back(problem, hours, left)
    wrong = "nobody in"
    wrong += f" from {format_clock(gone, problem.now)}" if gone else ""
    wrong += f" until {back}" if back else ""
    wrong += "" if one.clock else ", and its cycle may not run alone"
    return Obstacle(where, wrong, _say_remedy(problem, one, asked, gone), one.run)


def _say_remedy(problem: SchedulingProblem, one: RunDeadline, asked: RunModel | None, gone: datetime | None) -> str:
    """What to do and by when: before all leave, where a window is open then.

    Args:
        gone: when all leave; None where they have, or somebody is in.
    """
    by = format_clock(one.by, problem.now)
    if not one.clock:
        return f"STAY until {by}"
    alone = asked is not None and any(phase.kind is PhaseKind.UNATTENDED for phase in asked.phases)
    verb = "TAKE OUT" if alone else "FINISH"
    if gone is not None and any(opens <= gone <= closes for opens, closes in one.windows):
        return f"{verb} by {format_clock(gone, problem.now)}, or be in by {by}"
    return f"{verb} by {by}"


def _name_station(problem: SchedulingProblem, asked: RunModel | None, run: PlannedRun | None) -> str:
    """``Oven 1`` where it has several places and the plan says which; empty where there is no station."""
    station = next((one for one in problem.stations if asked is not None and one.name == asked.station), None)
    if station is None:
        return ""
    return f"{station.name} {run.places[0]}" if station.places > 1 and run is not None and run.places else station.name


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
