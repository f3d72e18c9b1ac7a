"""What if: a changed problem beside the present plan, and what one more of each resource would save."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from floor.figures.overtime import with_people
from floor.figures.schedule.model import CannotPlan, Obstacle, Plan, Problem, Saving
from floor.figures.schedule.planner import QUICK, last_end, plan
from floor.figures.workdays import working_hours

_USED = 0.1
"""Share in use under which one more is not asked about: what it seems to save is the search's luck."""


@dataclass(frozen=True, slots=True)
class Difference:
    """A changed problem's plan beside the present one.

    Attributes:
        plan: the plan of the changed problem; None if it cannot be planned.
        hours: how much later everything is finished than in the present plan; negative is earlier, None without a plan.
        batches: likewise for each batch that both plans have.
        obstacles: why it cannot be planned.
    """

    plan: Plan | None
    hours: float | None
    batches: dict[str, float]
    obstacles: tuple[Obstacle, ...] = ()


def compare(present: Plan, changed: Problem, *, effort: int = QUICK, seed: int = 0,
            should_stop: Callable[[], bool] | None = None) -> Difference:
    """Plan a changed problem, its order of work taken from the present plan, and give the difference."""
    try:
        new = plan(changed, effort=effort, seed=seed, previous=present, should_stop=should_stop)
    except CannotPlan as refused:
        return Difference(None, None, {}, refused.obstacles)
    return Difference(new, _hours(present.end, new.end),
                      {batch: _hours(present.finish[batch], end) for batch, end in new.finish.items()
                       if batch in present.finish})


def one_more(problem: Problem, present: Plan, *, effort: int = QUICK, seed: int = 0,
             on_progress: Callable[[int, int, str], None] | None = None,
             should_stop: Callable[[], bool] | None = None) -> tuple[Saving, ...]:
    """What one more of each carrier, a pair of hands, a place at each station and an hour of each shift would save.

    What planning the same shop once more would gain is not counted as saved. The present plan would still do with one
    more of anything, so nothing saves less than 0. Resources that are hardly used are left out. The largest saving of
    working hours comes first.

    Args:
        on_progress: called before each with how many are done, how many there are, and its name.
    """
    savings = []
    asked = list(more_of_each(problem, present))

    def end(changed: Problem) -> datetime:
        """The last end; that of the present plan where no other plan was found that hits every window."""
        try:
            return last_end(changed, present, effort=effort, seed=seed, should_stop=should_stop)
        except CannotPlan:
            return present.end

    luck = end(problem) if should_stop is None or not should_stop() else present.end
    for done, (kind, name, changed) in enumerate(asked):
        if should_stop is not None and should_stop():
            break
        if on_progress is not None:
            on_progress(done, len(asked), name)
        then = min(end(changed), luck)
        savings.append(Saving(kind, name, _hours(then, luck), working_hours(problem.calendar, then, luck)))
    return tuple(sorted(savings, key=lambda saving: (-saving.working, -saving.hours)))


def more_of_each(problem: Problem, present: Plan) -> Iterator[tuple[str, str, Problem]]:
    """(kind, name, the problem with one more) for each resource in use, and for one more hour on each shift."""
    for use in present.use:
        if use.share < _USED:
            continue
        if use.kind == "carrier":
            yield use.kind, use.name, more_carriers(problem, use.name)
        elif use.kind == "hands":
            yield use.kind, use.name, more_hands(problem)
        else:
            yield use.kind, use.name, more_places(problem, use.name)
    if any(run.attended for run in present.runs):
        yield "calendar", "hour of shift", longer_shifts(problem, timedelta(hours=1))


def more_carriers(problem: Problem, kind: str, more: int = 1) -> Problem:
    """So many more carriers of a kind."""
    return replace(problem, carriers={**problem.carriers, kind: problem.carriers.get(kind, 0) + more})


def more_hands(problem: Problem, more: int = 1) -> Problem:
    """So many more operators on every shift."""
    return replace(problem, hands=problem.hands + more, calendar=with_people(problem.calendar, more))


def more_places(problem: Problem, station: str, more: int = 1) -> Problem:
    """So many more places at a station: oven shelves, or a second machine of the kind."""
    return replace(problem, stations=tuple(
        replace(one, places=one.places + more) if one.name == station else one for one in problem.stations))


def longer_shifts(problem: Problem, by: timedelta) -> Problem:
    """Every shift ends so much later."""
    return replace(problem, calendar=problem.calendar.longer(by))


def station_down(problem: Problem, station: str, until: datetime) -> Problem:
    """A station that starts nothing before an instant."""
    return replace(problem, stations=tuple(
        replace(one, down_until=until) if one.name == station else one for one in problem.stations))


def _hours(old: datetime, new: datetime) -> float:
    return (new.timestamp() - old.timestamp()) / 3600
