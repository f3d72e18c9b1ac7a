"""An independent check of a plan: reads problem and plan, and uses nothing from the planner.

Instants are compared as such and not as what the wall shows, which in one hour of the year is the same twice.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import datetime, time, timedelta

from floor.figures.schedule import PhaseKind, Plan, PlannedRun, RunModel, SchedulingProblem

Span = tuple[float, float]


def check_plan(problem: SchedulingProblem, plan: Plan) -> list[str]:
    """Every rule of the problem that the plan breaks; an empty list for a good plan."""
    runs = {run.id: run for load in problem.loads for run in load.runs}
    planned = {run.run: run for run in plan.runs}
    if sorted(runs) != sorted(run.run for run in plan.runs):
        return [f"runs planned are not the runs asked for: {sorted(set(runs) ^ set(planned))}"]
    return [
        *_each_run(problem, runs, planned),
        *_order(problem, planned),
        *_capacities(problem, runs, planned),
        *_hands(problem, runs, planned),
        *_set_ups(problem, runs, planned),
        *_totals(problem, plan),
    ]


def _each_run(problem: SchedulingProblem, runs: dict[str, RunModel], planned: dict[str, PlannedRun]) -> Iterator[str]:
    """Phases complete and in order, times that follow one another, pauses only where allowed."""
    for name, run in runs.items():
        done = planned[name]
        start, end = done.start.timestamp(), done.end.timestamp()
        if not problem.now.timestamp() <= start <= min(end, done.held_until.timestamp()):
            yield f"{name}: times out of order"
        if done.station != run.station and (run.under_way or done.station not in dict(run.also_at)):
            yield f"{name}: at {done.station}, which cannot do it"
        if run.allowed and not any(
            (s.earliest is None or s.earliest.timestamp() <= start)
            and (s.latest is None or start <= s.latest.timestamp())
            for s in run.allowed
        ):
            yield f"{name}: starts outside the instants allowed"
        at = start
        for part in done.stretches:
            if part.start.timestamp() != at or part.end.timestamp() < at:
                yield f"{name}: a gap at {part.start}"
            at = part.end.timestamp()
        if at != end:
            yield f"{name}: stretches do not end at {done.end}"
        yield from _waits(run, done)
        work = [part for part in done.stretches if part.kind not in (PhaseKind.WAIT, PhaseKind.SETUP)]
        indices = [part.phase for part in work]
        if indices != sorted(indices) or set(indices) != set(range(len(run.phases))):
            yield f"{name}: phases out of order or left out"
        for index, phase in enumerate(run.phases):
            parts = [part for part in work if part.phase == index]
            if abs(sum(_length(part.start, part.end) for part in parts) - phase.minutes * 60) > 1:
                yield f"{name}: phase {index} has not its length"
            if len(parts) > 1 and not phase.interruptible:
                yield f"{name}: phase {index} was interrupted"
            for one, two in zip(parts, parts[1:], strict=False):
                if _most_present(problem, one.end, two.start) >= phase.hands:
                    yield f"{name}: phase {index} pauses while people are in"
                closed = _length(one.end, two.start) >= 86_400
                if closed and not phase.stands and phase.minutes * 60 <= _longest_shift(problem, end):
                    yield f"{name}: phase {index} is left half done over closed days"
            if (
                phase.kind is PhaseKind.UNATTENDED
                and not phase.outlasts_shift
                and any(not _covered(problem, part.start, part.end) for part in parts)
            ):
                yield f"{name}: phase {index} outlasts the shift"


def _longest_shift(problem: SchedulingProblem, until: float) -> float:
    """Seconds of the longest shift with its breaks, from now until four weeks after an instant."""
    best = run = 0.0
    for start, end, level in levels(problem, problem.now.timestamp(), until + 28 * 86_400, breaks=False):
        run = run + end - start if level else 0.0
        best = max(best, run)
    return best


def _waits(run: RunModel, done: PlannedRun) -> Iterator[str]:
    """What needs no hands begins when the phase before it ends; the rest not later than it may."""
    at, before = done.start.timestamp(), None
    for part in done.stretches:
        if part.kind is PhaseKind.WAIT:
            continue
        waited = part.start.timestamp() - at
        if waited and part.phase is not None and part.phase != before:
            phase = run.phases[part.phase]
            if phase.wait is not None and waited > phase.wait * 60:
                yield f"{run.id}: phase {part.phase} begins {waited / 60:g} min after the one before it"
            if phase.kind is PhaseKind.CURE or (phase.kind is PhaseKind.UNATTENDED and phase.outlasts_shift):
                yield f"{run.id}: phase {part.phase} runs without hands, and may begin with nobody there"
        at, before = part.end.timestamp(), part.phase


def _order(problem: SchedulingProblem, planned: dict[str, PlannedRun]) -> Iterator[str]:
    """Order within each load, links with their windows, release of loads."""
    for load in problem.loads:
        for one, two in zip(load.runs, load.runs[1:], strict=False):
            if _length(planned[one.id].end, planned[two.id].start) < 0:
                yield f"{two.id} starts before {one.id} ends"
        for run in load.runs:
            if load.release is not None and _length(load.release, planned[run.id].start) < 0:
                yield f"{run.id} starts before its load is released"
            for after in run.after:
                gap = _length(planned[after.run].end, planned[run.id].start) / 60
                if not any(
                    w.earliest - 1 / 60 <= gap and (w.latest is None or gap <= w.latest + 1 / 60) for w in after.windows
                ):
                    yield f"{run.id} starts {gap:g} min after {after.run}: outside its windows"


def _capacities(problem: SchedulingProblem, runs: dict[str, RunModel], planned: dict[str, PlannedRun]) -> Iterator[str]:
    """Never more at a station than it has places, nor more carriers in use than there are."""
    for station in problem.stations:
        here = [(run, planned[name]) for name, run in runs.items() if planned[name].station == station.name]
        takes = {run.id: dict([(run.station, run.places), *run.also_at])[station.name] for run, _ in here}
        held = [(problem.now if run.under_way else done.start, done.held_until, takes[run.id]) for run, done in here]
        if _peak(held) > station.places:
            yield f"{station.name} holds more than {station.places}"
        if any(station.down_until is not None and _length(station.down_until, done.start) < 0 for _, done in here):
            yield f"{station.name} is used while it is down"
        for place in range(1, station.places + 1):
            if _peak((done.start, done.held_until, 1) for _, done in here if place in done.places) > 1:
                yield f"{station.name} place {place} holds two at once"
        if any(len(set(done.places)) != takes[run.id] or max(done.places) > station.places for run, done in here):
            yield f"{station.name}: places not told apart"
    for kind, count in problem.carriers.items():
        legs = [
            (
                problem.now if load.holds_carrier else planned[load.runs[0].id].start,
                planned[load.runs[-1].id].end,
                planned[load.runs[0].id].carrier_number,
            )
            for load in problem.loads
            if load.carrier == kind
        ]
        if _peak((start, end, 1) for start, end, _ in legs) > count:
            yield f"more than {count} {kind} in use"
        for number in {number for _, _, number in legs}:
            if (
                number is None
                or not 1 <= number <= count
                or _peak((start, end, 1) for start, end, which in legs if which == number) > 1
            ):
                yield f"{kind} {number} is under two loads at once"


def _hands(problem: SchedulingProblem, runs: dict[str, RunModel], planned: dict[str, PlannedRun]) -> Iterator[str]:
    """Attended work inside shifts, nobody in two places, never more at work than are in."""
    attended = []
    for name, done in planned.items():
        for part in done.stretches:
            run = runs[name]
            phase = (
                run.setup
                if part.kind is PhaseKind.SETUP
                else run.phases[part.phase]
                if part.phase is not None
                else None
            )
            if phase is None or phase.kind is not PhaseKind.ATTENDED:
                continue
            if len(set(part.people)) != phase.hands:
                yield f"{name}: {len(part.people)} people where {phase.hands} are needed"
            attended.append((part.start, part.end, phase.hands, part.people))
    if not attended:
        return
    first = min(part[0].timestamp() for part in attended)
    last = max(part[1].timestamp() for part in attended)
    present = _shifts(problem, first, last, breaks=True)
    minus = [(a.timestamp(), b.timestamp(), -n) for a, b, n, _ in attended]
    level = 0.0
    for _, change in sorted(_changes([*present, *minus]).items()):
        level += change
        if level < 0:
            yield "more hands at work than are in"
            break
    for person in {p for *_, people in attended for p in people}:
        if _peak((a, b, 1) for a, b, _, people in attended if person in people) > 1:
            yield f"person {person} is in two places at once"


def _set_ups(problem: SchedulingProblem, runs: dict[str, RunModel], planned: dict[str, PlannedRun]) -> Iterator[str]:
    """A set-up is left out only after the same family on the same places."""
    for station in problem.stations:
        set_up_for: dict[int, str | None] = defaultdict(lambda family=station.set_up_for: family)
        here = sorted(
            (name for name in runs if planned[name].station == station.name),
            key=lambda name: (not runs[name].under_way, planned[name].start.timestamp(), planned[name].end.timestamp()),
        )
        for name in here:
            run, done = runs[name], planned[name]
            family = run.family or run.operation
            needed = (
                run.setup is not None
                and not run.under_way
                and any(set_up_for[place] != family for place in done.places)
            )
            spent = sum(_length(part.start, part.end) for part in done.stretches if part.kind is PhaseKind.SETUP)
            if run.setup is not None and abs(spent - needed * run.setup.minutes * 60) > 1:
                yield f"{name}: set-up of {spent:g} s where {'one' if needed else 'none'} is needed"
            set_up_for.update(dict.fromkeys(done.places, family))


def _totals(problem: SchedulingProblem, plan: Plan) -> Iterator[str]:
    for batch in problem.batches:
        ends = [run.end.timestamp() for run in plan.runs if run.batch == batch.id]
        if plan.finish[batch.id].timestamp() != max(ends, default=problem.now.timestamp()):
            yield f"batch {batch.id}: finish is not its last end"
    if _length(plan.bound, plan.end) < 0:
        yield "ends before its own bound"
    if any(run.slack < 0 for run in plan.runs):
        yield "negative slack"
    if any(not 0 <= use.share <= 1 or use.busy > use.available + 1e-6 for use in plan.use):
        yield f"use beyond what is available: {plan.use}"


def _length(start: datetime, end: datetime) -> float:
    return end.timestamp() - start.timestamp()


def _changes(spans: Iterable[tuple[float, float, float]]) -> dict[float, float]:
    change: dict[float, float] = defaultdict(float)
    for start, end, amount in spans:
        change[start] += amount
        change[end] -= amount
    return change


def _peak(spans: Iterable[tuple[datetime, datetime, int]]) -> float:
    level = most = 0.0
    for _, change in sorted(_changes((a.timestamp(), b.timestamp(), n) for a, b, n in spans).items()):
        level += change
        most = max(most, level)
    return most


def levels(problem: SchedulingProblem, start: float, end: float, *, breaks: bool) -> list[tuple[float, float, int]]:
    """(begin, end, people) from one epoch second to another; with `breaks` those who have one are not there."""
    found, level, since = [], 0, start
    for at, change in sorted(_changes(_shifts(problem, start, end, breaks=breaks)).items()):
        if max(start, since) < min(end, at):
            found.append((max(start, since), min(end, at), level))
        level, since = level + round(change), max(start, at)
    return [*found, (since, end, level)] if since < end else found


def _shifts(problem: SchedulingProblem, start: float, end: float, *, breaks: bool) -> list[tuple[float, float, float]]:
    """(start, end, people) of every shift around two epoch seconds; breaks as spans of minus as many people."""
    tz = problem.calendar.tz
    found: list[tuple[float, float, float]] = []
    day = datetime.fromtimestamp(start, tz).date() - timedelta(days=2)
    last = datetime.fromtimestamp(end, tz).date() + timedelta(days=1)
    while day <= last:
        for shift in problem.calendar.shifts:
            if shift.weekday != day.weekday() or day in problem.calendar.days_off:
                continue
            people = problem.hands if shift.people is None else shift.people

            def at(clock: time, next_day: bool, day=day) -> float:
                return datetime.combine(day + timedelta(days=next_day), clock, tz).timestamp()

            closes = at(shift.end, shift.end <= shift.start)
            found.append((at(shift.start, False), closes, people if breaks else 1))
            for a, b in shift.breaks if breaks else ():
                first, until = at(a, a < shift.start), at(b, b < shift.start)
                if first < closes:
                    found.append((first, min(until, closes), -people))
        day += timedelta(days=1)
    return found


def _covered(problem: SchedulingProblem, start: datetime, end: datetime) -> bool:
    """Whether somebody is in, at work or at a break, all the time from start to end."""
    known = levels(problem, start.timestamp(), end.timestamp(), breaks=False)
    return all(level > 0 for *_, level in known)


def _most_present(problem: SchedulingProblem, start: datetime, end: datetime) -> float:
    """Most people in at any time strictly between two instants."""
    known = levels(problem, start.timestamp(), end.timestamp(), breaks=True)
    return max((level for *_, level in known), default=0)
