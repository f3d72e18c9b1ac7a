"""What if: a changed problem beside the present plan, and what one more of each resource would save."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from floor.figures.calendar import Shift
from floor.figures.schedule.model import CannotPlan, Kind, Load, Obstacle, Plan, Problem
from floor.figures.schedule.planner import QUICK, plan


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


@dataclass(frozen=True, slots=True)
class Saving:
    """Hours by which one more of a resource brings the finish forward. `kind` is as in `Use`, or "calendar"."""

    kind: str
    name: str
    hours: float


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

    The present plan would still do with one more of anything, so nothing saves less than 0. Resources that are
    hardly used are left out. The largest saving comes first.

    Args:
        on_progress: called before each with how many are done, how many there are, and its name.
    """
    savings = []
    asked = list(_one_more_of_each(problem, present))
    for done, (kind, name, changed) in enumerate(asked):
        if should_stop is not None and should_stop():
            break
        if on_progress is not None:
            on_progress(done, len(asked), name)
        hours = compare(present, changed, effort=effort, seed=seed, should_stop=should_stop).hours
        savings.append(Saving(kind, name, max(0.0, -(hours or 0.0))))
    return tuple(sorted(savings, key=lambda saving: -saving.hours))


def _one_more_of_each(problem: Problem, present: Plan) -> Iterator[tuple[str, str, Problem]]:
    for use in present.use:
        if use.kind == "carrier" and use.busy:
            yield use.kind, use.name, more_carriers(problem, use.name)
        elif use.kind == "hands" and use.busy:
            yield use.kind, use.name, more_hands(problem)
        elif use.kind == "station" and use.share >= 0.1:
            yield use.kind, use.name, more_places(problem, use.name)
    if any(run.attended for run in present.runs):
        yield "calendar", "hour of shift", longer_shifts(problem, timedelta(hours=1))


def more_carriers(problem: Problem, kind: str, more: int = 1) -> Problem:
    """So many more carriers of a kind."""
    return replace(problem, carriers={**problem.carriers, kind: problem.carriers.get(kind, 0) + more})


def more_hands(problem: Problem, more: int = 1) -> Problem:
    """So many more operators on every shift."""
    shifts = tuple(shift if shift.people is None else replace(shift, people=shift.people + more)
                   for shift in problem.calendar.shifts)
    return replace(problem, hands=problem.hands + more, calendar=replace(problem.calendar, shifts=shifts))


def more_places(problem: Problem, station: str, more: int = 1) -> Problem:
    """So many more places at a station: oven shelves, or a second machine of the kind."""
    return replace(problem, stations=tuple(
        replace(one, places=one.places + more) if one.name == station else one for one in problem.stations))


def longer_shifts(problem: Problem, by: timedelta) -> Problem:
    """Every shift ends so much later."""
    return replace(problem, calendar=problem.calendar.longer(by))


def more_shifts(problem: Problem, *shifts: Shift) -> Problem:
    """Further shifts, such as a second one."""
    return replace(problem, calendar=problem.calendar.with_shifts(*shifts))


def station_down(problem: Problem, station: str, until: datetime) -> Problem:
    """A station that starts nothing before an instant."""
    return replace(problem, stations=tuple(
        replace(one, down_until=until) if one.name == station else one for one in problem.stations))


def longer_cure(problem: Problem, operation: str, by: float) -> Problem:
    """Every cure of an operation that is still to come takes so many minutes longer."""
    return replace(problem, loads=tuple(
        replace(load, runs=tuple(
            replace(run, phases=tuple(replace(phase, minutes=phase.minutes + by) if phase.kind is Kind.CURE else phase
                                      for phase in run.phases))
            if run.operation == operation else run for run in load.runs)) for load in problem.loads))


def scrapped(problem: Problem, load_id: str, made_again: tuple[Load, ...] = ()) -> Problem:
    """A load is lost, with the loads that would take pieces from it alone; `made_again` are loads to replace it."""
    gone = {load_id}
    while True:
        runs = {run.id for load in problem.loads if load.id in gone for run in load.runs}
        bereft = {load.id for load in problem.loads if load.id not in gone and _only_from(load, runs)}
        if not bereft:
            break
        gone |= bereft
    kept = [replace(load, runs=tuple(replace(run, after=tuple(a for a in run.after if a.run not in runs))
                                     for run in load.runs)) for load in problem.loads if load.id not in gone]
    return replace(problem, loads=(*kept, *made_again))


def _only_from(load: Load, gone: set[str]) -> bool:
    """Whether all the runs of other loads that this load begins after are gone."""
    before = {after.run for after in load.runs[0].after} if load.runs else set()
    return bool(before) and before <= gone


def _hours(old: datetime, new: datetime) -> float:
    return (new.timestamp() - old.timestamp()) / 3600
