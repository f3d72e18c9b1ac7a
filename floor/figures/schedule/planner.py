"""Entry points of the planner: plan everything, or whatever can be planned."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from floor.dataclass import dataclass
from floor.figures.calendar import to_epoch, to_local
from floor.figures.schedule.assembly import assemble_plan
from floor.figures.schedule.compiled_problem import CompiledProblem
from floor.figures.schedule.improve import LARGE, WarmStart, search_schedules
from floor.figures.schedule.model import CannotPlan, Obstacle, Plan, SchedulingProblem
from floor.figures.schedule.obstacles import (
    diagnose_missed_windows,
    find_input_errors,
    find_unreachable_runs,
    raise_obstacles,
)

FIRST = 0
"""Effort of the first plan of a large shop: one order of work."""

QUICK = 20_000
"""Effort of a plan that a screen waits for, in runs laid out: about 0.3 s of processor time."""

THOROUGH = 200_000
"""Effort of a plan made in the background: about 3 s."""

THOROUGH_LARGE = 150_000
"""The same for a large shop, where laying out a run takes longer: about 10 s."""


@dataclass(frozen=True, slots=True)
class SearchProgress:
    """How far the search has come, in runs placed, and when the best plan so far ends."""

    done: int
    total: int
    end: datetime


def solve_schedule(
    problem: SchedulingProblem,
    *,
    effort: int = QUICK,
    seed: int = 0,
    previous: Plan | None = None,
    hold: bool = False,
    on_progress: Callable[[SearchProgress], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Plan:
    """Find the best plan: fewest weighted hours late, then earliest finish, then early loads.

    The same problem, effort, seed and previous plan give the same plan, unless stopped.

    Args:
        effort: how hard to try, in runs laid out; see FIRST, QUICK and THOROUGH. The first plan of a large shop has no
            slack figures: they would take a fifth of the time.
        previous: a plan whose order of work is tried first; runs not in it go where they are ready.
        hold: let no batch end later than under that order of work, unless a window or due date requires it.
        on_progress: called after each try.
        should_stop: asked between tries; if true, the best plan so far is returned.

    Raises:
        CannotPlan: the problem is impossible, or no order of work was found that hits every window.
    """
    raise_obstacles(find_input_errors(problem))
    shop = CompiledProblem(problem)
    if effort > FIRST:
        raise_obstacles(find_unreachable_runs(shop))  # FIRST proves it below, and only where it misses a window
    tz = problem.calendar.tz

    def report(done: int, total: int, end: int) -> None:
        if on_progress is not None:
            on_progress(SearchProgress(done, total, to_local(end, tz)))

    build, tried = search_schedules(
        shop,
        effort,
        seed,
        build_warm_start(shop, previous) if previous is not None else None,
        hold=hold,
        on_progress=report if on_progress is not None else None,
        should_stop=should_stop if shop.tasks else lambda: True,
    )  # nothing to do has only one order
    if build.missed or build.stuck:
        raise_obstacles(find_unreachable_runs(shop) or diagnose_missed_windows(shop, build, tried))
    return assemble_plan(shop, build, slack=effort > FIRST or len(shop.tasks) <= LARGE)


def find_last_end(
    problem: SchedulingProblem,
    previous: Plan,
    *,
    effort: int = QUICK,
    seed: int = 0,
    should_stop: Callable[[], bool] | None = None,
) -> datetime:
    """When the last load ends in the best plan found; much quicker than the whole plan of a large shop.

    Args:
        problem: one known to be possible: a planned one with more of something.
        previous: a plan whose order of work is tried first.

    Raises:
        CannotPlan: no order of work was found that hits every window.
    """
    shop = CompiledProblem(problem)
    build, tried = search_schedules(shop, effort, seed, build_warm_start(shop, previous), should_stop=should_stop)
    if build.missed or build.stuck:
        raise_obstacles(diagnose_missed_windows(shop, build, tried))
    return to_local(max((slot.end for slot in build.slots if slot is not None), default=shop.now), problem.calendar.tz)


def solve_feasible_part(
    problem: SchedulingProblem,
    *,
    effort: int = QUICK,
    seed: int = 0,
    previous: Plan | None = None,
    hold: bool = False,
    leave_out: Callable[[SchedulingProblem, set[str]], SchedulingProblem] | None = None,
    on_progress: Callable[[SearchProgress], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> tuple[Plan, tuple[Obstacle, ...]]:
    """Like `solve_schedule`, without the loads that cannot be planned and those waiting for them; with the reasons.

    Progress restarts with each load left out.

    Args:
        leave_out: gives the problem without these loads; defaults to `drop_loads`.

    Raises:
        CannotPlan: the fault is in the shop, not in single loads.
    """
    obstacles: list[Obstacle] = []
    while True:
        try:
            made = solve_schedule(
                problem,
                effort=effort,
                seed=seed,
                previous=previous,
                hold=hold,
                on_progress=on_progress,
                should_stop=should_stop,
            )
            return made, tuple(obstacles)
        except CannotPlan as refused:
            faulty = {obstacle.load for obstacle in refused.obstacles if obstacle.load is not None}
            kept = (leave_out or drop_loads)(problem, faulty)
            if len(kept.loads) == len(problem.loads):
                raise
            obstacles += refused.obstacles
            problem = kept


def drop_loads(problem: SchedulingProblem, loads: set[str]) -> SchedulingProblem:
    """The problem without some loads and those waiting for them."""
    gone = set(loads)
    while True:
        runs = {run.id for load in problem.loads if load.id in gone for run in load.runs}
        more = {
            load.id
            for load in problem.loads
            if load.id not in gone and any(after.run in runs for run in load.runs for after in run.after)
        }
        if not more:
            return replace(problem, loads=tuple(load for load in problem.loads if load.id not in gone))
        gone |= more


def build_warm_start(shop: CompiledProblem, previous: Plan) -> WarmStart:
    """How a plan served the runs; a run not in it goes where it could start at best."""
    starts = {run.run: to_epoch(run.start) for run in previous.runs}
    at, key = 0.0, {}
    for run in previous.order:
        at = key[run] = max(at + 1e-3, float(starts[run]))
    at_station = {run.run: run.station for run in previous.runs}
    names = [station.name for station in shop.stations]
    return WarmStart(
        [key.get(task.run.id, float(task.head)) for task in shop.tasks],
        {i: starts[task.run.id] for i, task in enumerate(shop.tasks) if task.run.id in starts},
        {i: names.index(name) for i in shop.with_choice if (name := at_station.get(shop.tasks[i].run.id)) in names},
    )
