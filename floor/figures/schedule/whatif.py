"""What if: a changed problem against the present plan, and what one more of each resource would save."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta

from floor.dataclass import dataclass
from floor.figures.overtime import change_crew_size
from floor.figures.schedule.model import CannotPlan, Obstacle, Plan, Saving, SchedulingProblem
from floor.figures.schedule.planner import QUICK, find_last_end, solve_schedule
from floor.figures.workdays import count_working_hours

_USED = 0.1
"""Least share in use to ask about one more; below, any saving would be luck of the search."""


@dataclass(frozen=True, slots=True)
class PlanDifference:
    """A changed problem's plan against the present one.

    Attributes:
        plan: the plan of the changed problem; None if it cannot be planned.
        hours: how much later everything finishes than in the present plan; negative is earlier, None without a plan.
        batches: likewise for each batch in both plans.
        obstacles: why it cannot be planned.
    """

    plan: Plan | None
    hours: float | None
    batches: dict[str, float]
    obstacles: tuple[Obstacle, ...] = ()


def compare_with_present(
    present: Plan,
    changed: SchedulingProblem,
    *,
    effort: int = QUICK,
    seed: int = 0,
    should_stop: Callable[[], bool] | None = None,
) -> PlanDifference:
    """Plan a changed problem, starting from the present order of work, and give the difference."""
    try:
        new = solve_schedule(changed, effort=effort, seed=seed, previous=present, should_stop=should_stop)
    except CannotPlan as refused:
        return PlanDifference(None, None, {}, refused.obstacles)
    return PlanDifference(
        new,
        _hours(present.end, new.end),
        {batch: _hours(present.finish[batch], end) for batch, end in new.finish.items() if batch in present.finish},
    )


def compute_savings_of_one_more(
    problem: SchedulingProblem,
    present: Plan,
    *,
    effort: int = QUICK,
    seed: int = 0,
    on_progress: Callable[[int, int, str], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> tuple[Saving, ...]:
    """What one more of each carrier, one more operator, place at each station and hour of each shift would save.

    Gains from merely planning the same shop again do not count. The present plan still works with one more of
    anything, so nothing saves less than 0. Resources hardly used are left out. Largest saving of working hours first.

    Args:
        on_progress: called before each with how many are done, how many in total, and its name.
    """
    savings = []
    asked = list(list_problems_with_one_more(problem, present))

    def end(changed: SchedulingProblem) -> datetime:
        """The last end; the present plan's if no other plan was found that hits every window."""
        try:
            return find_last_end(changed, present, effort=effort, seed=seed, should_stop=should_stop)
        except CannotPlan:
            return present.end

    luck = end(problem) if should_stop is None or not should_stop() else present.end
    for done, (kind, name, changed) in enumerate(asked):
        if should_stop is not None and should_stop():
            break
        if on_progress is not None:
            on_progress(done, len(asked), name)
        then = min(end(changed), luck)
        savings.append(Saving(kind, name, _hours(then, luck), count_working_hours(problem.calendar, then, luck)))
    return tuple(sorted(savings, key=lambda saving: (-saving.working, -saving.hours)))


def list_problems_with_one_more(
    problem: SchedulingProblem, present: Plan
) -> Iterator[tuple[str, str, SchedulingProblem]]:
    """(kind, name, the problem with one more) for each resource in use, and for one more hour on each shift."""
    for use in present.use:
        if use.share < _USED:
            continue
        if use.kind == "carrier":
            yield use.kind, use.name, add_carriers(problem, use.name)
        elif use.kind == "hands":
            yield use.kind, use.name, add_hands(problem)
        else:
            yield use.kind, use.name, add_places(problem, use.name)
    if any(run.attended for run in present.runs):
        yield "calendar", "hour of shift", lengthen_all_shifts(problem, timedelta(hours=1))


def add_carriers(problem: SchedulingProblem, kind: str, more: int = 1) -> SchedulingProblem:
    """More carriers of a kind."""
    return replace(problem, carriers={**problem.carriers, kind: problem.carriers.get(kind, 0) + more})


def add_hands(problem: SchedulingProblem, more: int = 1) -> SchedulingProblem:
    """More operators on every shift."""
    return replace(problem, hands=problem.hands + more, calendar=change_crew_size(problem.calendar, more))


def add_places(problem: SchedulingProblem, station: str, more: int = 1) -> SchedulingProblem:
    """More places at a station: oven shelves, or a second machine of the kind."""
    return replace(
        problem,
        stations=tuple(
            replace(one, places=one.places + more) if one.name == station else one for one in problem.stations
        ),
    )


def lengthen_all_shifts(problem: SchedulingProblem, by: timedelta) -> SchedulingProblem:
    """Every shift ends later."""
    return replace(problem, calendar=problem.calendar.longer(by))


def take_station_down(problem: SchedulingProblem, station: str, until: datetime) -> SchedulingProblem:
    """A station that can start nothing before an instant."""
    return replace(
        problem,
        stations=tuple(replace(one, down_until=until) if one.name == station else one for one in problem.stations),
    )


def _hours(old: datetime, new: datetime) -> float:
    return (new.timestamp() - old.timestamp()) / 3600
