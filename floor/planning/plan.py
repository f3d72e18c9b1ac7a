"""Plan all open batches, and report what could not be planned and why."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import field, replace
from datetime import datetime
from itertools import accumulate
from operator import itemgetter

from floor.dataclass import dataclass
from floor.figures.schedule import (
    FIRST,
    QUICK,
    CannotPlan,
    Obstacle,
    Plan,
    PlannedRun,
    SchedulingProblem,
    SearchProgress,
    solve_feasible_part,
)
from floor.planning.calculation_progress import Progress, ProgressReporter
from floor.planning.missed_deadlines import find_missed_deadlines
from floor.planning.piece_assignment import assign_pieces, map_interchangeable_pieces
from floor.planning.problem import PlannedWork, PlanningRequest
from floor.planning.shared_cycles import expand_shared_cycles
from floor.planning.unplannable import UnplannedPieces, drop_loads_with_pieces, find_unplanned_pieces
from floor.planning.yield_risk import add_yield_risk
from floor.wall import format_local


@dataclass(frozen=True, slots=True)
class ShopPlan:
    """The plan, and the problem it solves: what was asked, less the loads that cannot be planned.

    The problem also knows what yields may add: rework, and loads to make up for scrap.
    """

    asked: PlanningRequest
    problem: SchedulingProblem
    plan: Plan
    obstacles: tuple[Obstacle, ...]
    unplanned: Mapping[str, UnplannedPieces] = field(default_factory=dict)
    """Per batch, what is not in the plan; such a batch has no finish."""
    pressing: tuple[Obstacle, ...] = ()
    """Deadlines of runs under way that no plan can keep: windows that close while nobody is in."""
    coarse: bool = False
    """Whether it is only the first workable order, until a better one is found."""
    runs: tuple[PlannedRun, ...] = field(init=False, compare=False)
    """The planned runs as people see them: each load of a shared cycle is at the station for all of it."""

    def __post_init__(self) -> None:
        works = self.asked.works
        leaders = {run: work.cycle for run, work in works.items() if work.cycle}
        hidden = frozenset(run for run, work in works.items() if work.hidden)
        seen = expand_shared_cycles(self.plan.runs, leaders, hidden) if leaders else self.plan.runs
        object.__setattr__(self, "runs", seen)

    @property
    def mixed(self) -> bool:
        """Whether carriers are filled with pieces of several loads."""
        return self.asked.mixed

    def work(self, run: PlannedRun) -> PlannedWork:
        return self.asked.works[run.run]

    def carrier(self, run: PlannedRun) -> str:
        """The carrier with the number on it: ``Pallet 2``."""
        if run.carrier is None or run.carrier_number is None:
            return ""
        numbers = self.asked.numbers[run.carrier]
        return f"{run.carrier} {numbers[run.carrier_number - 1]}"

    def due(self, batch: str) -> datetime | None:
        return next(one.due for one in self.problem.batches if one.id == batch)

    @property
    def whole(self) -> bool:
        """Whether every piece in work is planned to its last operation."""
        return not self.unplanned


def make_plan(
    ways: Sequence[PlanningRequest],
    *,
    effort: int = QUICK,
    previous: ShopPlan | None = None,
    hold: bool = False,
    doubts: bool = True,
    progress: Progress | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> ShopPlan:
    """The best plan over several ways to put the same pieces on carriers; the first of equals.

    Args:
        previous: the standing plan: its order of work is tried first, so promises change only if the work does, or
            something better is found.
        hold: let no batch end later than by that order of work, unless a window or due date requires it.
        doubts: add to the problem what yields may bring; needed for a band.
        progress: called after each order of work tried, in the planning thread.
        should_stop: called between tries. If true, the best plan so far is returned; the caller discards it and
            keeps the standing plan.

    Raises:
        CannotPlan: the shop itself, not single loads, cannot be planned.
    """
    found: list[ShopPlan] = []
    faults: CannotPlan | None = None
    told = ProgressReporter(progress)
    for n, asked in enumerate(ways):
        if found and should_stop is not None and should_stop():
            break
        try:
            part = told.part(n / len(ways), (n + 1) / len(ways))
            found.append(_plan(asked, effort, previous, hold, part, should_stop))
        except CannotPlan as refused:
            faults = faults or refused
    if not found:
        raise faults or CannotPlan(())
    promised = previous.plan.finish if previous is not None and hold else {}
    best = min(found, key=lambda one: score_plan(one, promised))
    told(1.0, "planned")
    if effort == FIRST:
        return replace(best, coarse=True)  # a plan about to be replaced needs no band
    return replace(best, problem=add_yield_risk(best.asked, best.problem)) if doubts else best


def _plan(
    asked: PlanningRequest,
    effort: int,
    previous: ShopPlan | None,
    hold: bool,
    told: Progress,
    should_stop: Callable[[], bool] | None,
) -> ShopPlan:
    def heard(how: SearchProgress) -> None:
        # The steps after the last try (numbering, slack) take about a fifth of the time.
        told(0.8 * how.done / how.total, f"best so far {format_local(how.end, '%a %d %b %H:%M')}")

    works = dict(asked.works)

    def leave_out(problem: SchedulingProblem, loads: set[str]) -> SchedulingProblem:
        kept, left = drop_loads_with_pieces(problem, works, loads)
        works.update(left)
        return kept

    impossible = {obstacle.load for obstacle in asked.obstacles if obstacle.load is not None}
    problem = leave_out(asked.problem, impossible) if impossible else asked.problem
    made, obstacles = solve_feasible_part(
        problem,
        effort=effort,
        previous=rename_runs(previous, asked.works) if previous else None,
        hold=hold,
        leave_out=leave_out,
        on_progress=heard,
        should_stop=should_stop,
    )
    obstacles = (*asked.obstacles, *obstacles)
    works_of_all = asked.works
    problem, left = drop_loads_with_pieces(
        asked.problem, works_of_all, {obstacle.load for obstacle in obstacles if obstacle.load is not None}
    )
    dealt_to = assign_pieces({**asked.works, **left}, problem, made)
    asked = replace(asked, works=dealt_to, numbers=_numbers(asked, problem))
    return ShopPlan(
        asked,
        problem,
        made,
        obstacles,
        find_unplanned_pieces(asked.problem, problem, works_of_all, obstacles),
        find_missed_deadlines(asked.problem, made, asked.closing),
    )


def _numbers(asked: PlanningRequest, kept: SchedulingProblem) -> dict[str, tuple[int, ...]]:
    """Carrier numbers, with carriers of loads left out of the plan taken last."""
    numbers = {kind: list(those) for kind, those in asked.numbers.items()}
    there = {load.id for load in kept.loads if load.holds_carrier}
    for kind, those in numbers.items():
        holders = [load.id for load in asked.problem.loads if load.holds_carrier and load.carrier == kind]
        first = [number for id, number in zip(holders, those, strict=False) if id in there]
        numbers[kind] = first + [number for number in those if number not in first]
    return {kind: tuple(those) for kind, those in numbers.items()}


def rename_runs(shop_plan: ShopPlan, works: Mapping[str, PlannedWork]) -> Plan:
    """A plan under the current names of its runs: same pieces, same operation, whichever load."""
    at: dict[tuple[str, int, int], int] = {}
    for there, run in reversed([*enumerate(shop_plan.plan.order)]):
        work = shop_plan.asked.works[run]
        at |= dict.fromkeys(((work.batch, work.op, piece) for piece in work.pieces_of), there)
    planned = {run.run: run for run in shop_plan.plan.runs}
    named = map_interchangeable_pieces(works, shop_plan.asked.works)
    found = []
    for name, work in works.items():
        pieces = (named.get((work.batch, piece), piece) for piece in work.pieces_of)
        place = next((at[key] for piece in pieces if (key := (work.batch, work.op, piece)) in at), None)
        if place is not None:
            found.append((place, replace(planned[shop_plan.plan.order[place]], run=name)))
    found.sort(key=itemgetter(0))
    return replace(shop_plan.plan, runs=tuple(run for _, run in found), order=tuple(run.run for _, run in found))


def score_plan(
    shop_plan: ShopPlan, promised: Mapping[str, datetime] = {}
) -> tuple[int, int, float, float, float, float]:
    """Score a plan; lower is better, compared in order.

    Pieces left out, loads left out, lateness, time past the promises, when the last order is filled, the end.

    Args:
        promised: per batch, its promised end.
    """
    late = sum(
        batch.weight * max(0.0, (shop_plan.plan.finish[batch.id] - batch.due).total_seconds())
        for batch in shop_plan.problem.batches
        if batch.due is not None
    )
    pieces = sum(one.pieces for one in shop_plan.unplanned.values())
    out = len(shop_plan.asked.problem.loads) - len(shop_plan.problem.loads)
    pushed = sum(max(0.0, (end - promised.get(id, end)).total_seconds()) for id, end in shop_plan.plan.finish.items())
    filled = max((at.timestamp() for at in find_fill_times(shop_plan).values()), default=0.0)
    return pieces, out, late, pushed, filled, shop_plan.plan.end.timestamp()


def find_fill_times(shop_plan: ShopPlan) -> dict[str, datetime]:
    """When each batch's order is filled in the plan as drawn, often before its last piece is finished."""
    through: dict[str, list[tuple[datetime, int]]] = {}
    for run in shop_plan.runs:
        work = shop_plan.work(run)
        doubt = shop_plan.asked.doubts.get(work.batch)
        if doubt is not None and work.op == doubt.checklist.route[-1]:
            through.setdefault(work.batch, []).append((run.end, work.pieces))
    found = dict(shop_plan.plan.finish)
    for batch, ends in through.items():
        ends.sort(key=lambda end: end[0].timestamp())
        enough = accumulate(pieces for _, pieces in ends)
        wanted = shop_plan.asked.doubts[batch].wanted
        found[batch] = next((end for (end, _), good in zip(ends, enough, strict=True) if good >= wanted), found[batch])
    return found


def list_left_out_loads(shop_plan: ShopPlan) -> tuple[str, ...]:
    """Loads missing from the plan: those with an obstacle and those that wait for them."""
    kept = {load.id for load in shop_plan.problem.loads}
    return tuple(load.id for load in shop_plan.asked.problem.loads if load.id not in kept)
