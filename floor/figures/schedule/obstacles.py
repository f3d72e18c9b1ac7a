"""What makes a problem impossible, found before planning, each with what would make it possible."""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from math import isfinite

from floor.figures.calendar import NoWorkingTime, WorkingTime, to_epoch, to_local, to_seconds
from floor.figures.schedule.compiled_problem import CompiledProblem
from floor.figures.schedule.model import (
    CannotPlan,
    LoadModel,
    Obstacle,
    Phase,
    PhaseKind,
    Precedence,
    RunModel,
    SchedulingProblem,
)
from floor.figures.schedule.reachability import ReachableTimes
from floor.figures.schedule.serial_schedule import SerialSchedule
from floor.wall import format_local

_MOMENT = "%a %d %b %H:%M"

MakeObstacle = Callable[[str, str], Obstacle]
"""Makes an obstacle from what is wrong and what to do; operation, run and load are known."""


class _Hours:
    """The problem's working time and opening hours, and the phases already known to fit."""

    def __init__(self, problem: SchedulingProblem) -> None:
        self.now = to_epoch(problem.now)
        self.work = WorkingTime(problem.calendar, self.now, problem.hands)
        self.open = WorkingTime(problem.calendar, self.now, 1, breaks=False)
        self.checked: set[Phase] = set()


def find_input_errors(problem: SchedulingProblem) -> tuple[Obstacle, ...]:
    """Every fault that does not depend on the order of work: names, numbers, phases no shift can hold."""
    instants = [
        problem.now,
        *(load.release for load in problem.loads),
        *(batch.due for batch in problem.batches),
        *(station.down_until for station in problem.stations),
        *(
            at
            for load in problem.loads
            for run in load.runs
            for span in run.allowed
            for at in (span.earliest, span.latest)
        ),
    ]
    if any(at is not None and at.tzinfo is None for at in instants):
        return (Obstacle("plan", "an instant has no time zone", "Give aware dates and times"),)
    return (*_check_shop(problem), *_check_loads(problem), *_check_stations_now(problem))


def _check_shop(problem: SchedulingProblem) -> Iterator[Obstacle]:
    for what, names in (
        ("run", [run.id for load in problem.loads for run in load.runs]),
        ("load", [load.id for load in problem.loads]),
        ("station", [station.name for station in problem.stations]),
        ("batch", [batch.id for batch in problem.batches]),
    ):
        for name, count in Counter(names).items():
            if count > 1:
                yield Obstacle(f"{what} {name}", f"named {count} times", f"Give each {what} its own id")
    if problem.hands < 0:
        yield Obstacle("hands", f"{problem.hands} operators", "Give 0 or more")
    used = {run.station: (load, run) for load in problem.loads for run in load.runs}
    for station in problem.stations:
        if station.places < 1 and station.name in used:
            load, run = used[station.name]
            yield Obstacle(
                f"operation {run.operation}",
                f"{station.name} has {station.places} places",
                f"Give {station.name} at least {run.places}",
                run.id,
                load.id,
            )


def _check_loads(problem: SchedulingProblem) -> Iterator[Obstacle]:
    ids = {run.id for load in problem.loads for run in load.runs}
    batches = {batch.id for batch in problem.batches}
    hours = _Hours(problem)
    holding = Counter(load.carrier for load in problem.loads if load.holds_carrier)
    for load in problem.loads:
        first = load.runs[0].operation if load.runs else ""
        if load.batch not in batches:
            yield Obstacle(f"load {load.id}", f"its batch {load.batch} is not given", "Add the batch", load=load.id)
        if load.carrier is not None:
            count = problem.carriers.get(load.carrier, 0)
            if count < max(1, holding[load.carrier]):
                needed = max(1, holding[load.carrier])
                yield Obstacle(
                    f"operation {first}",
                    f"load {load.id} rides on a {load.carrier} and there are {count}",
                    f"Have at least {needed} of them",
                    load.runs[0].id if load.runs else None,
                    load.id,
                )
        for run in load.runs:
            yield from _check_run(problem, load, run, ids, hours)
    yield from _find_circle(problem, ids)


def _check_run(
    problem: SchedulingProblem, load: LoadModel, run: RunModel, ids: set[str], hours: _Hours
) -> Iterator[Obstacle]:
    def obstacle(wrong: str, remedy: str) -> Obstacle:
        return Obstacle(f"operation {run.operation}", wrong, remedy, run.id, load.id)

    yield from _check_stations(problem, run, obstacle)
    for after in run.after:
        yield from _check_link(after, ids, obstacle)
    yield from _check_spans(problem, run, obstacle)
    for phase in (*run.phases, *([run.setup] if run.setup is not None else [])):
        if phase not in hours.checked:
            faults = list(_check_phase(hours, phase, obstacle))
            yield from faults
            if not faults:
                hours.checked.add(phase)


def _check_stations(problem: SchedulingProblem, run: RunModel, obstacle: MakeObstacle) -> Iterator[Obstacle]:
    stations = {station.name: station for station in problem.stations}
    for name, places in ((run.station, run.places), *run.also_at):
        if name is not None and name not in stations:
            yield obstacle(f"its station {name} is not given", "Add the station or name another")
        elif name is not None and not 1 <= places <= stations[name].places:
            yield obstacle(
                f"takes {places} places of {name}, which has {stations[name].places}",
                f"Take at least 1, or split the load to fit {stations[name].places}",
            )


def _check_link(link: Precedence, ids: set[str], obstacle: MakeObstacle) -> Iterator[Obstacle]:
    if link.run not in ids:
        yield obstacle(f"waits for run {link.run}, which is not given", "Add the run or drop the link")
    if not link.windows:
        yield obstacle(f"has no window after run {link.run}", "Give at least one window")
    for window in link.windows:
        if not (isfinite(window.earliest) and window.earliest >= 0) or (
            window.latest is not None and not window.latest >= window.earliest
        ):
            yield obstacle(
                f"its window after run {link.run} is {window.earliest:g} to {window.latest} min",
                "Give an earliest of 0 or more and a latest not before it",
            )


def _check_spans(problem: SchedulingProblem, run: RunModel, obstacle: MakeObstacle) -> Iterator[Obstacle]:
    ends = [span.latest for span in run.allowed]
    if ends and all(end is not None and end < problem.now for end in ends):
        last: datetime = max(end for end in ends if end is not None)
        yield obstacle(
            f"the last moment it could start was {format_local(last, _MOMENT)}",
            "Open a later window, redo the operation before, or scrap the load",
        )


def _check_phase(hours: _Hours, phase: Phase, obstacle: MakeObstacle) -> Iterator[Obstacle]:
    if not (isfinite(phase.minutes) and phase.minutes >= 0):
        yield obstacle(f"a {phase.kind} phase of {phase.minutes:g} min", "Give 0 minutes or more")
        return
    if not (isfinite(phase.spread) and phase.spread >= 0):
        yield obstacle(f"a {phase.kind} phase with a spread of {phase.spread:g}", "Give 0 or more")
    if phase.kind is PhaseKind.ATTENDED:
        if phase.hands < 1:
            yield obstacle(f"attended by {phase.hands} people", "Give at least 1, or call the phase unattended")
            return
        try:
            hours.work.fit(hours.now, to_seconds(phase.minutes), need=phase.hands, interruptible=phase.interruptible)
        except NoWorkingTime as why:
            most = hours.work.find_longest_stretch(phase.hands)
            yield obstacle(
                f"attended work: {why}",
                "Let it be interrupted, split it, or add a shift or a person"
                if most
                else f"Have {phase.hands} at work at the same time on some shift",
            )
    elif phase.kind is PhaseKind.UNATTENDED and not phase.outlasts_shift:
        try:
            hours.open.fit(hours.now, to_seconds(phase.minutes))
        except NoWorkingTime:
            yield obstacle(
                f"a cycle of {phase.minutes:g} min may not outlast the shift, and the longest shift is "
                f"{hours.open.find_longest_stretch() / 60:g} min",
                "Let it outlast the shift, shorten it, or lengthen a shift",
            )


def _check_stations_now(problem: SchedulingProblem) -> Iterator[Obstacle]:
    for station in problem.stations:
        there = [
            (load, run) for load in problem.loads for run in load.runs if run.under_way and run.station == station.name
        ]
        if sum(run.places for _, run in there) > station.places:
            load, run = there[-1]
            yield Obstacle(
                f"operation {run.operation}",
                f"{len(there)} runs are under way at {station.name}, which has {station.places} places",
                "Correct which load stands there",
                run.id,
                load.id,
            )


def _find_circle(problem: SchedulingProblem, ids: set[str]) -> Iterator[Obstacle]:
    """A run that waits for itself through others."""
    waits_for: dict[str, set[str]] = {}
    where: dict[str, tuple[LoadModel, RunModel]] = {}
    for load in problem.loads:
        for n, run in enumerate(load.runs):
            before = {after.run for after in run.after if after.run in ids}
            waits_for[run.id] = before | ({load.runs[n - 1].id} if n else set())
            where[run.id] = load, run
    caught = _find_first_caught(waits_for)
    if caught is not None:
        load, run = where[caught]
        yield Obstacle(
            f"operation {run.operation}",
            "waits for a run that waits for it in turn",
            "Take one of the links away",
            run.id,
            load.id,
        )


def _find_first_caught(waits_for: Mapping[str, set[str]]) -> str | None:
    """The first run left after removing, again and again, every run that waits for nothing."""
    followers: dict[str, list[str]] = {run: [] for run in waits_for}
    for run_id, before in waits_for.items():
        for other in before:
            followers[other].append(run_id)
    left = {run_id: len(before) for run_id, before in waits_for.items()}
    free = [run_id for run_id, count in left.items() if not count]
    for run_id in free:
        for follower in followers[run_id]:
            left[follower] -= 1
            if not left[follower]:
                free.append(follower)
    return next((run_id for run_id, count in left.items() if count), None)


def raise_obstacles(found: Sequence[Obstacle]) -> None:
    """Refuse a problem with obstacles.

    Raises:
        CannotPlan
    """
    if found:
        raise CannotPlan(tuple(found))


def find_unreachable_runs(shop: CompiledProblem) -> tuple[Obstacle, ...]:
    """Runs for which the calendar has no time even in an empty shop: proof that no plan exists."""
    return tuple(_describe_miss(shop, i, late, 0) for i, late in ReachableTimes(shop).unreachable().items())


def _format_length(length: int) -> str:
    """Seconds as ``34 min`` or ``12.6 h``."""
    return f"{-(-length // 60)} min" if length < 7200 else f"{length / 3600:.1f} h"


def diagnose_missed_windows(shop: CompiledProblem, build: SerialSchedule, tried: int) -> list[Obstacle]:
    """The windows the closest build misses and the runs it could not place; no proof that no plan exists."""
    end = max((slot.end for slot in build.slots if slot is not None), default=shop.now)
    ends = format_local(to_local(end, shop.problem.calendar.tz), _MOMENT)
    cost = f"; if it may be so much later, everything ends {ends}"
    found = []
    for i, late in build.missed.items():
        one = _describe_miss(shop, i, late, tried)
        found.append(replace(one, remedy=one.remedy + cost) if late and not build.stuck else one)
    for i in build.stuck[:1]:
        task = shop.tasks[i]
        load = shop.loads[task.load]
        found.append(
            Obstacle(
                f"operation {task.run.operation}",
                f"load {load.id} never gets its {load.carrier}: each is held by a load that waits for other loads",
                "Have one more, or let the loads on them go first",
                task.run.id,
                load.id,
            )
        )
    return found


def _describe_miss(shop: CompiledProblem, i: int, late: int, tried: int) -> Obstacle:
    """What is wrong with a run that misses its window by so many seconds; 0 if there is no time for it at all.

    Args:
        tried: orders of work tried; 0 if it is proven that none works.
    """
    task, tz = shop.tasks[i], shop.problem.calendar.tz
    load = shop.loads[task.load].id
    latest = max((last for _, last in task.allowed if last is not None), default=None)
    found = f"no plan was found in {tried} orders of work; in the nearest, "
    remedy = "Widen the window, have a shift in when it is open, or start the operation before at another time"
    if latest is not None and late:
        last, first = (format_local(to_local(at, tz), _MOMENT) for at in (latest, latest + late))
        wrong = (
            f"{found}the earliest it can start is {first}, and the last moment it could start is {last}"
            if tried
            else f"the last moment it could start is {last}, but even in an empty shop the earliest it "
            f"can start is {first}"
        )
        remedy = "Have a shift in before that, redo the operation before, or set the pieces aside"
    elif late:
        wrong = (
            f"{found}load {load} misses its window by {_format_length(late)}"
            if tried
            else f"load {load} misses its window even in an empty shop, by at least {_format_length(late)}"
        )
    else:
        wrong = f"{found}load {load} finds no time for it" if tried else "no time for it even in an empty shop"
    return Obstacle(f"operation {task.run.operation}", wrong, remedy, task.run.id, load)
