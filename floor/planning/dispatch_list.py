"""What next by the plan: the order in which to do what waits, and how long each task may wait at no cost."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from floor.batch.worklist.due_task import CLOSING_SOON, DueTask
from floor.dataclass import dataclass
from floor.figures.schedule import PlannedRun
from floor.planning.plan import ShopPlan
from floor.planning.planned_loads import PlannedWork
from floor.planning.window_conflicts import WindowConflicts, find_window_conflicts, locate_due
from floor.text import format_clock

NO_ROOM = timedelta(minutes=5)
"""Anything shorter is shown as no time at all."""


@dataclass(frozen=True, slots=True)
class RankedDue:
    """A due task with its latest start: after that the finish slips, or a window closes."""

    due: DueTask
    latest: datetime | None
    """None if the plan does not cover it."""

    def said(self, now: datetime) -> str:
        """``by 14:20`` and the like; empty if unknown."""
        if self.latest is None or self.due.urgency not in ("now", "soon"):
            return ""
        return "now" if self.latest - now < NO_ROOM else f"by {format_clock(self.latest, now)}"


def rank_dues(dues: Iterable[DueTask], shop_plan: ShopPlan, now: datetime) -> list[RankedDue]:
    """The same tasks in the order that serves the finish.

    Filled orders, overdue tasks and windows about to close stay on top; then tasks about people; then work by its
    latest start; tasks not due yet keep their order. A window counts as about to close also if other waiting work would
    outlast it, and that work says so.
    """
    forming = _forming(shop_plan)
    dues = [_loaded_as_planned(due, forming) for due in dues]
    latest = _latest(shop_plan)
    beside = find_window_conflicts(dues, shop_plan, now)
    closing = _closing(dues, beside, now)
    advised = [RankedDue(replace(due, outlasts=beside.said(due, now)), _of(due, latest, now)) for due in dues]
    advised.sort(key=lambda one: _rank(one, closing))
    # The first plan of a large shop does not know slack yet.
    return [replace(one, latest=None) for one in advised] if shop_plan.coarse else advised


Pool = tuple[str, int | None, str]
"""Batch, operation and rework route of pieces that wait."""


def _forming(shop_plan: ShopPlan) -> dict[Pool, list[PlannedWork]]:
    """The loads that the plan forms from waiting pieces, in order of their start."""
    found: dict[Pool, list[PlannedWork]] = {}
    for run in shop_plan.runs:
        work = shop_plan.work(run)
        if work.forms is not None:
            found.setdefault((work.batch, *work.forms), []).append(work)
    return found


def _loaded_as_planned(due: DueTask, forming: Mapping[Pool, Sequence[PlannedWork]]) -> DueTask:
    """What can be loaded now, with as many of the waiting pieces as the plan loads first."""
    if due.loading is None:
        return due
    waiting = set(due.loading.those)
    planned = forming.get((due.batch, due.op, due.rework), ())
    pieces = next((work.pieces for work in planned if waiting.issuperset(work.pieces_of)), due.loading.pieces)
    loading = replace(due.loading, pieces=pieces)
    return replace(due, loading=loading, what=loading.what)


def _closing(dues: Sequence[DueTask], beside: WindowConflicts, now: datetime) -> set[str]:
    """Keys of work that must come first, because its window closes soon or before the other work is done."""
    missed = {one.place for due in dues for one in beside.missed(due, now)}
    return {
        due.key
        for due in dues
        if due.closes is not None and (due.closes - now < CLOSING_SOON or locate_due(due) in missed)
    }


def _rank(one: RankedDue, closing: set[str]) -> tuple[int, float]:
    due = one.due
    if due.go == "surplus":
        return -1, 0.0
    if due.urgency == "overdue":
        return 0, 0.0
    if due.urgency not in ("now", "soon"):
        return 4, 0.0
    if due.key in closing and due.closes is not None:
        return 1, due.closes.timestamp()
    if due.go in ("handover", "difference", "hold", "close"):
        return 2, 0.0
    return 3, one.latest.timestamp() if one.latest is not None else float("inf")


def _of(due: DueTask, latest: dict[tuple[object, ...], datetime], now: datetime) -> datetime | None:
    if due.go == "form":
        found = latest.get((due.batch, "form", due.op, due.rework))
    elif due.at_once and due.urgency == "now":
        found = now  # the plan only knows when the cycle ends
    else:
        found = latest.get((due.batch, due.load))
    if due.closes is not None:  # the plan may use a later window or be too late; this one is on record
        found = due.closes if found is None else min(found, due.closes)
    return None if found is None else max(found, now)


def _latest(shop_plan: ShopPlan) -> dict[tuple[object, ...], datetime]:
    """Latest start of what each load or waiting group does next; none if it cannot be planned through."""
    found: dict[tuple[object, ...], datetime] = {}
    nowhere = _leading_nowhere(shop_plan)
    for run in shop_plan.runs:
        work = shop_plan.work(run)
        if work.pieces_of and nowhere.issuperset((work.batch, piece) for piece in work.pieces_of):
            continue
        at = run.start + timedelta(minutes=run.slack)
        if work.load is not None:
            found.setdefault((work.batch, work.load), _attended(run, at))
        elif work.forms is not None:
            key = (work.batch, "form", *work.forms)
            found[key] = min(found.get(key, at), at)
    return found


def _leading_nowhere(shop_plan: ShopPlan) -> set[tuple[str, int]]:
    """(batch, piece) of pieces that cannot be planned through: no plan tells how long their work may wait."""
    there = {load.id for load in shop_plan.problem.loads}
    return {
        (load.batch, piece)
        for load in shop_plan.asked.problem.loads
        if load.id not in there
        for run in load.runs
        for piece in shop_plan.asked.works[run.id].pieces_of
    }


def _attended(run: PlannedRun, at: datetime) -> datetime:
    """For a run under way: the start of its next attended part, plus its slack."""
    first = min((part.start for part in run.stretches if part.people), default=run.start)
    return at + (first - run.start)
