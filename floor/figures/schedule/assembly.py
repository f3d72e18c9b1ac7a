"""A finished build as a plan in shop terms: times, people, use of resources, and the bottleneck."""

from collections import defaultdict
from collections.abc import Callable
from datetime import datetime
from functools import cache

from floor.figures.calendar import to_local
from floor.figures.schedule.assigned_units import UnitNumbers
from floor.figures.schedule.bottleneck import find_bottleneck_by_waits
from floor.figures.schedule.compiled_problem import ATTENDED, CompiledProblem
from floor.figures.schedule.critical_chain import trace_critical_waits
from floor.figures.schedule.model import PhaseKind, Plan, PlannedRun, PlannedStretch, ResourceUse
from floor.figures.schedule.phase_placement import Part
from floor.figures.schedule.serial_schedule import SerialSchedule
from floor.figures.schedule.slack import compute_slacks

Wall = Callable[[int], datetime]
"""The wall-clock time at an epoch second."""

_BINDING = 0.05
"""A resource counts as binding if runs wait for it for this share of the plan's length."""


def assemble_plan(shop: CompiledProblem, build: SerialSchedule, *, slack: bool = True) -> Plan:
    """Make the plan of a build in which every run is placed.

    Args:
        slack: compute how much later each run may start; if False, it is 0 for all.
    """

    @cache  # most instants are the end of one thing and the start of another
    def wall(at: int) -> datetime:
        return to_local(at, shop.problem.calendar.tz)

    units = UnitNumbers(shop, build)
    later = compute_slacks(shop, build, units) if slack else [0] * len(shop.tasks)
    order = sorted(range(len(shop.tasks)), key=lambda i: (build.placed(i).start, i))
    finish = {batch.id: wall(shop.now) for batch in shop.batches}
    end = shop.now
    for i in order:
        last = build.placed(i).end
        batch = shop.loads[shop.tasks[i].load].batch
        finish[batch] = max(finish[batch], wall(last), key=datetime.timestamp)
        end = max(end, last)
    use = _use(shop, build, end)
    runs = tuple(_run(shop, build, units, i, later[i], wall) for i in order)
    return Plan(
        start=wall(shop.now),
        end=wall(end),
        bound=wall(min(shop.bound, end)),
        runs=runs,
        finish=finish,
        use=use,
        bottleneck=find_bottleneck_by_waits(shop.problem, runs, use, _waited(shop, build, end)),
        order=tuple(shop.tasks[i].run.id for i in build.sequence),
    )


def _run(
    shop: CompiledProblem, build: SerialSchedule, units: UnitNumbers, i: int, slack: int, wall: Wall
) -> PlannedRun:
    task, slot = shop.tasks[i], build.placed(i)
    load = shop.loads[task.load]
    station = shop.stations[slot.station].name if slot.station >= 0 else None
    number = units.carrier[task.load]
    return PlannedRun(
        run=task.run.id,
        load=load.id,
        batch=load.batch,
        operation=task.run.operation,
        station=station,
        carrier=load.carrier,
        start=wall(slot.start),
        end=wall(slot.end),
        held_until=wall(slot.held),
        stretches=_stretches(shop, i, slot.start, slot.parts, units, wall),
        places=units.places.get(i, ()),
        carrier_number=number or None,
        slack=slack / 60,
    )


def _stretches(
    shop: CompiledProblem, i: int, start: int, parts: list[Part], units: UnitNumbers, wall: Wall
) -> tuple[PlannedStretch, ...]:
    phases = shop.tasks[i].run.phases
    found: list[PlannedStretch] = []
    at = start
    for n, (stint, begin, end) in enumerate(parts):
        if begin > at:
            found.append(PlannedStretch(PhaseKind.WAIT, wall(at), wall(begin)))
        kind = PhaseKind.SETUP if stint.phase is None else phases[stint.phase].kind
        people = units.people[i, n] if stint.how == ATTENDED else ()
        found.append(PlannedStretch(kind, wall(begin), wall(end), stint.phase, people))
        at = end
    return tuple(found)


def _use(shop: CompiledProblem, build: SerialSchedule, end: int) -> tuple[ResourceUse, ...]:
    """Hours each resource is in use, from now to the end."""
    length = (end - shop.now) / 3600
    station: dict[int, float] = defaultdict(float)
    hands = 0.0
    first: dict[int, int] = {}
    last: dict[int, int] = {}
    for i, task in enumerate(shop.tasks):
        slot = build.placed(i)
        start = shop.now if task.fixed else slot.start
        station[slot.station] += (slot.held - start) / 3600 * slot.places
        hands += sum((b - a) * stint.hands for stint, a, b in slot.parts if stint.how == ATTENDED) / 3600
        first[task.load] = min(first.get(task.load, start), start)
        last[task.load] = max(last.get(task.load, 0), slot.end)
    held: dict[int, float] = defaultdict(float)
    for load, start in first.items():
        since = shop.now if shop.loads[load].holds_carrier else start
        held[shop.load_kind[load]] += (last[load] - since) / 3600
    return (
        *(ResourceUse("station", s.name, station[n], length * s.places) for n, s in enumerate(shop.stations)),
        *(
            ResourceUse("carrier", kind, held[n], length * shop.problem.carriers[kind])
            for n, kind in enumerate(shop.kinds)
        ),
        ResourceUse("hands", "hands", hands, shop.hours.worked(shop.now, end) / 3600),
    )


def _waited(shop: CompiledProblem, build: SerialSchedule, end: int) -> dict[tuple[str, str], float]:
    """Hours that critical runs wait for each (kind, name), if they matter relative to the plan's length."""
    waited: dict[tuple[str, str], int] = defaultdict(int)
    for wait in trace_critical_waits(shop, build):
        task = shop.tasks[wait.task]
        slot = build.placed(wait.task)
        station = shop.stations[slot.station].name if slot.station >= 0 else None
        name = {"station": station, "carrier": shop.loads[task.load].carrier}.get(wait.kind, wait.kind)
        waited[wait.kind, name or ""] += wait.seconds
    return {what: total / 3600 for what, total in waited.items() if total >= _BINDING * (end - shop.now)}
