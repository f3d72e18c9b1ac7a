"""A plan of all open batches, with what could not be planned and why."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from floor.figures.schedule import (
    QUICK,
    CannotPlan,
    Obstacle,
    Plan,
    PlannedRun,
    Problem,
    Progress,
    plan,
    plan_possible,
    without,
)
from floor.planning.doubt import doubtful
from floor.planning.problem import Asked, Work
from floor.planning.progress import Telling, Told


@dataclass(frozen=True, slots=True)
class ShopPlan:
    """The plan, and the problem it solves: what was asked, less the loads that cannot be planned.

    The problem knows too what the yields may bring beside what is planned: rework, and loads to make up for scrap.
    """

    asked: Asked
    problem: Problem
    plan: Plan
    obstacles: tuple[Obstacle, ...]

    @property
    def mixed(self) -> bool:
        """Whether carriers are filled with pieces of several loads."""
        return self.asked.mixed

    def work(self, run: PlannedRun) -> Work:
        return self.asked.works[run.run]

    def carrier(self, run: PlannedRun) -> str:
        """The carrier with the number on it: ``Pallet 2``."""
        if run.carrier is None or run.carrier_number is None:
            return ""
        numbers = self.asked.numbers[run.carrier]
        return f"{run.carrier} {numbers[run.carrier_number - 1]}"

    def due(self, batch: str) -> datetime | None:
        return next(one.due for one in self.problem.batches if one.id == batch)

    def late_hours(self, batch: str) -> float:
        """Hours from the due date to the planned finish; negative is early, 0 without a due date."""
        due = self.due(batch)
        return 0.0 if due is None else (self.plan.finish[batch] - due).total_seconds() / 3600


def make_plan(
    ways: Sequence[Asked],
    *,
    effort: int = QUICK,
    progress: Telling | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> ShopPlan:
    """The best plan over several ways to put the same pieces on carriers; of equals the first.

    Args:
        progress: told after each order of work that was tried, in the thread that plans.
        should_stop: asked between tries. When it says yes, the best plan so far is the answer: whoever stopped it
            throws that away and keeps the plan that stands.

    Raises:
        CannotPlan: the fault lies with the shop and not with single loads.
    """
    found: list[ShopPlan] = []
    faults: CannotPlan | None = None
    told = Told(progress)
    for n, asked in enumerate(ways):
        if found and should_stop is not None and should_stop():
            break
        try:
            found.append(_plan(asked, effort, told.part(n / len(ways), (n + 1) / len(ways)), should_stop))
        except CannotPlan as refused:
            faults = faults or refused
    if not found:
        raise faults or CannotPlan(())
    best = min(found, key=_badness)
    told(1.0, "planned")
    return replace(best, problem=doubtful(best.asked, best.problem, best.plan))


def _plan(asked: Asked, effort: int, told: Telling, should_stop: Callable[[], bool] | None) -> ShopPlan:
    def heard(how: Progress) -> None:
        # What follows the last try, numbering places and people and their slack, takes about a fifth of the time.
        told(0.8 * how.done / how.total, f"best so far {how.end:%a %d %b %H:%M}")

    impossible = {obstacle.load for obstacle in asked.obstacles if obstacle.load is not None}
    problem = without(asked.problem, impossible) if impossible else asked.problem
    try:
        made = plan(problem, effort=effort, on_progress=heard, should_stop=should_stop)
        return ShopPlan(asked, problem, made, asked.obstacles)
    except CannotPlan:
        found, obstacles = plan_possible(problem, effort=effort, on_progress=heard, should_stop=should_stop)
    problem = without(problem, {obstacle.load for obstacle in obstacles if obstacle.load is not None})
    return ShopPlan(asked, problem, found, (*asked.obstacles, *obstacles))


def _badness(shop_plan: ShopPlan) -> tuple[int, float, float]:
    late = sum(max(0.0, shop_plan.late_hours(batch.id)) for batch in shop_plan.problem.batches)
    return len(shop_plan.asked.problem.loads) - len(shop_plan.problem.loads), late, shop_plan.plan.end.timestamp()


def left_out(shop_plan: ShopPlan) -> tuple[str, ...]:
    """Loads that are not in the plan: those with an obstacle and those that wait for them."""
    kept = {load.id for load in shop_plan.problem.loads}
    return tuple(load.id for load in shop_plan.asked.problem.loads if load.id not in kept)
