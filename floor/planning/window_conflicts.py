"""Attended work that outlasts a window: what closes elsewhere meanwhile, by the plan's times.

It is known only where there is a plan, and seen as if one person did both.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from math import ceil

from floor.batch.worklist.due_task import DueTask
from floor.dataclass import dataclass
from floor.figures.schedule import PhaseKind, PlannedRun, PlannedStretch
from floor.planning.plan import ShopPlan
from floor.text import format_clock, format_span

Place = tuple[object, ...]
"""Where a task is: a batch and its load, or its pieces to be loaded; see `place_of`."""


@dataclass(frozen=True, slots=True)
class ClosingWindow:
    """A window that must be hit."""

    place: Place
    cycle: str
    """The run that carries the work of a shared cycle; empty if unknown."""
    station: str
    """The station where nothing else can start until then; empty if there is room beside it."""
    name: str
    by: datetime


@dataclass(frozen=True, slots=True)
class WindowConflicts:
    """Due tasks against the windows that close meanwhile."""

    takes: Mapping[Place, timedelta]
    """The attended work next at each place, without breaks."""
    cycles: Mapping[Place, str]
    stations: Mapping[Place, str]
    shutting: Sequence[ClosingWindow]

    def missed(self, due: DueTask, now: datetime) -> list[ClosingWindow]:
        """Windows of other work that close before this is done, in order of closing."""
        place = locate_due(due)
        takes = self.takes.get(place) if due.urgency in ("now", "soon") else None
        if takes is None:
            return []
        after = self.stations[place] if due.go != "run" else ""
        return [
            one
            for one in self.shutting
            if now < one.by < now + takes and one.cycle != self.cycles[place] and (one.station != after or not after)
        ]

    def said(self, due: DueTask, now: datetime) -> str:
        """``takes 40 min; Tray 1 closes 14:20``; empty if nothing closes meanwhile."""
        missed = self.missed(due, now)
        if not missed:
            return ""
        minutes = ceil(self.takes[locate_due(due)].total_seconds() / 60)
        return f"takes {format_span(60 * minutes)}; {missed[0].name} closes {format_clock(missed[0].by, now)}"


def locate_due(due: DueTask) -> Place:
    return (due.batch, due.load) if due.load is not None else (due.batch, due.go, due.op, due.rework)


def find_window_conflicts(dues: Sequence[DueTask], shop_plan: ShopPlan, now: datetime) -> WindowConflicts:
    """The work and windows of due tasks, by the plan."""
    runs = _runs(dues, shop_plan)
    single = {station.name for station in shop_plan.problem.stations if station.places == 1}
    shutting = (_find_closing_window(due, runs, single, shop_plan, now) for due in dues if due.load is not None)
    return WindowConflicts(
        {place: taken for place, run in runs.items() if (taken := _by_hand(run))},
        {place: _cycle(run, shop_plan) for place, run in runs.items()},
        {place: run.station or "" for place, run in runs.items()},
        sorted((window for window in shutting if window is not None), key=lambda window: window.by),
    )


def _find_closing_window(
    due: DueTask, runs: Mapping[Place, PlannedRun], single: set[str], shop_plan: ShopPlan, now: datetime
) -> ClosingWindow | None:
    """The window that somebody has to hit with a load; None where nothing closes.

    Args:
        single: stations with room for one run.
    """
    by = _shuts(due, runs, shop_plan, now)
    if by is None:
        return None
    place = locate_due(due)
    run = runs.get(place)
    there = run.station if run is not None and due.go == "run" and run.station in single else None
    name = (shop_plan.carrier(run) if run is not None else "") or f"load {due.load}"
    return ClosingWindow(place, _cycle(run, shop_plan), there or "", name, by)


def _runs(dues: Sequence[DueTask], shop_plan: ShopPlan) -> dict[Place, PlannedRun]:
    """The plan's runs of each due task; none if the plan is older than the task."""
    first: dict[Place, PlannedRun] = {}
    for run in shop_plan.runs:
        work = shop_plan.work(run)
        place = (work.batch, work.load) if work.load is not None else (work.batch, "form", *(work.forms or ()))
        first.setdefault(place, run)
    there = ((place, due.op, first[place]) for due in dues if (place := locate_due(due)) in first)
    return {place: run for place, op, run in there if shop_plan.work(run).op == op}


def _cycle(run: PlannedRun | None, shop_plan: ShopPlan) -> str:
    return "" if run is None else shop_plan.work(run).cycle or run.run


def _by_hand(run: PlannedRun) -> timedelta:
    """A run's next attended work; breaks do not count, a cycle or cure ends it."""
    return sum((part.end - part.start for part in _next_by_hand(run)), timedelta())


def _next_by_hand(run: PlannedRun) -> Iterator[PlannedStretch]:
    begun = False
    for part in run.stretches:
        if part.people:
            begun = True
            yield part
        elif begun and part.kind in (PhaseKind.UNATTENDED, PhaseKind.CURE):
            return


def _shuts(due: DueTask, runs: Mapping[Place, PlannedRun], shop_plan: ShopPlan, now: datetime) -> datetime | None:
    """The latest start of the work: from the record, else from the plan."""
    if due.closes is not None:
        return due.closes
    run = runs.get(locate_due(due))
    if run is None or due.urgency == "overdue":
        return None
    leader = _cycle(run, shop_plan)
    ends = [one.by for one in shop_plan.asked.closing if one.run == leader and one.clock and one.by > now]
    if due.go == "begin":
        ends += _allowed(run.run, shop_plan, now)
    return min(ends, default=None)


def _allowed(run: str, shop_plan: ShopPlan, now: datetime) -> list[datetime]:
    """When the last window of a waiting load closes; none if one stays open."""
    spans = next(one.allowed for load in shop_plan.problem.loads for one in load.runs if one.id == run)
    ends = [one.latest for one in spans]
    return [max(end for end in ends if end is not None)] if ends and None not in ends else []
