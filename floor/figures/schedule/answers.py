"""A finished build as a plan in the shop's words: times, people, use of resources, and the bottleneck."""

from collections import defaultdict
from datetime import datetime
from zoneinfo import ZoneInfo

from floor.figures.calendar import local
from floor.figures.schedule.build import Build, Part
from floor.figures.schedule.chain import waits
from floor.figures.schedule.model import Bottleneck, Kind, Plan, PlannedRun, Stretch, Use
from floor.figures.schedule.shop import ATTENDED, Shop
from floor.figures.schedule.slack import slacks
from floor.figures.schedule.units import Units

_BINDING = 0.05
"""Share of the plan's length that must be waited for a resource before it is said to bind."""

_BUSY = 0.5
"""Share in use under which a resource is not named where the shifts are waited for too."""


def answer(shop: Shop, build: Build) -> Plan:
    """The plan of a build in which every run is placed."""
    tz = shop.problem.calendar.tz
    units = Units(shop, build)
    slack = slacks(shop, build, units)
    order = sorted(range(len(shop.tasks)), key=lambda i: (build.placed(i).start, i))
    finish = {batch.id: local(shop.now, tz) for batch in shop.batches}
    end = shop.now
    for i in order:
        last = build.placed(i).end
        batch = shop.loads[shop.tasks[i].load].batch
        finish[batch] = max(finish[batch], local(last, tz), key=datetime.timestamp)
        end = max(end, last)
    use = _use(shop, build, end)
    return Plan(
        start=local(shop.now, tz), end=local(end, tz), bound=local(min(shop.bound, end), tz),
        runs=tuple(_run(shop, build, units, i, slack[i], tz) for i in order),
        finish=finish, use=use, bottleneck=_bottleneck(shop, build, use),
        order=tuple(shop.tasks[i].run.id for b in build.sequence for i in shop.blocks[b].tasks))


def _run(shop: Shop, build: Build, units: Units, i: int, slack: int, tz: ZoneInfo) -> PlannedRun:
    task, slot = shop.tasks[i], build.placed(i)
    load = shop.loads[task.load]
    number = build.carrier[task.load]
    return PlannedRun(
        run=task.run.id, load=load.id, batch=load.batch, operation=task.run.operation, station=task.run.station,
        carrier=load.carrier, start=local(slot.start, tz), end=local(slot.end, tz), held_until=local(slot.held, tz),
        stretches=_stretches(shop, i, slot.start, slot.parts, units, tz), places=units.places.get(i, ()),
        carrier_number=number or None, slack=slack / 60)


def _stretches(shop: Shop, i: int, start: int, parts: list[Part], units: Units, tz: ZoneInfo) -> tuple[Stretch, ...]:
    phases = shop.tasks[i].run.phases
    found: list[Stretch] = []
    at = start
    for n, (stint, begin, end) in enumerate(parts):
        if begin > at:
            found.append(Stretch(Kind.WAIT, local(at, tz), local(begin, tz)))
        kind = Kind.SETUP if stint.phase is None else phases[stint.phase].kind
        people = units.people[i, n] if stint.how == ATTENDED else ()
        found.append(Stretch(kind, local(begin, tz), local(end, tz), stint.phase, people))
        at = end
    return tuple(found)


def _use(shop: Shop, build: Build, end: int) -> tuple[Use, ...]:
    """Hours of each resource in use, from now to the end."""
    length = (end - shop.now) / 3600
    station: dict[int, float] = defaultdict(float)
    hands = 0.0
    first: dict[int, int] = {}
    last: dict[int, int] = {}
    for i, task in enumerate(shop.tasks):
        slot = build.placed(i)
        start = shop.now if task.fixed else slot.start
        station[task.station] += (slot.held - start) / 3600 * task.places
        hands += sum((b - a) * stint.hands for stint, a, b in slot.parts if stint.how == ATTENDED) / 3600
        first[task.load] = min(first.get(task.load, start), start)
        last[task.load] = max(last.get(task.load, 0), slot.end)
    held: dict[int, float] = defaultdict(float)
    for load, start in first.items():
        since = shop.now if shop.loads[load].holds_carrier else start
        held[shop.load_kind[load]] += (last[load] - since) / 3600
    return (
        *(Use("station", s.name, station[n], length * s.places) for n, s in enumerate(shop.stations)),
        *(Use("carrier", kind, held[n], length * shop.problem.carriers[kind]) for n, kind in enumerate(shop.kinds)),
        Use("hands", "hands", hands, shop.hours.worked(shop.now, end) / 3600))


def _bottleneck(shop: Shop, build: Build, use: tuple[Use, ...]) -> Bottleneck:
    """Of the resources that the runs deciding the finish wait for, the one most in use."""
    end = max((slot.end for slot in build.slots if slot is not None), default=shop.now)
    waited: dict[tuple[str, str], int] = defaultdict(int)
    for wait in waits(shop, build):
        task = shop.tasks[wait.task]
        name = {"station": task.run.station, "carrier": shop.loads[task.load].carrier}.get(wait.kind, wait.kind)
        waited[wait.kind, name or ""] += wait.seconds
    # What is waited for but little, next to the length of the plan, does not bind it.
    binding = {what for what, total in waited.items() if total >= _BINDING * (end - shop.now)}
    shares = {(item.kind, item.name): item.share for item in use if (item.kind, item.name) in binding}
    kind, name = max(shares, key=shares.__getitem__, default=("", ""))
    share = f"{shares.get((kind, name), 0):.0%}"
    if shares and (shares[kind, name] >= _BUSY or ("calendar", "calendar") not in binding):
        words = {"carrier": _carrier_words, "station": _station_words, "hands": _hands_words}[kind]
        return Bottleneck(kind, name, words(shop, build, name, share))
    if binding:
        return Bottleneck("calendar", "shifts", "Shifts: nothing is short of places, but what decides the finish waits "
                          f"{waited['calendar', 'calendar'] / 3600:.1f} h for somebody to be in.")
    return _route(shop, build)


def _station_words(shop: Shop, build: Build, name: str, share: str) -> str:
    runs = sum(task.run.station == name for task in shop.tasks)
    return f"{name}: in use {share} of the time to the finish, by {runs} runs; what decides the finish waits for it."


def _hands_words(shop: Shop, build: Build, name: str, share: str) -> str:
    return f"Hands: busy {share} of the shifts to the finish; what decides the finish waits for them."


def _carrier_words(shop: Shop, build: Build, name: str, share: str) -> str:
    """How long a load keeps a carrier, and how much of that is cure."""
    kept = cured = loads = 0
    first = 0
    for load, kind in zip(shop.loads, shop.load_kind, strict=True):
        slots = [build.placed(i) for i in range(first, first + len(load.runs))]
        runs = shop.tasks[first:first + len(load.runs)]
        first += len(load.runs)
        if kind >= 0 and shop.kinds[kind] == name and slots:
            loads += 1
            kept += slots[-1].end - slots[0].start
            cured += sum(end - start for task, slot in zip(runs, slots, strict=True) for stint, start, end in slot.parts
                         if stint.phase is not None and task.run.phases[stint.phase].kind is Kind.CURE)
    count = shop.problem.carriers[name]
    return (f"{name}: {count} in the shop, in use {share} of the time to the finish; a load keeps one "
            f"{kept / loads / 3600:.1f} h, {cured / loads / 3600:.1f} h of it cure.")


def _route(shop: Shop, build: Build) -> Bottleneck:
    if not shop.tasks:
        return Bottleneck("route", "", "Nothing is left to do.")
    last = max(range(len(shop.tasks)), key=lambda i: build.placed(i).end)
    load = shop.loads[shop.tasks[last].load]
    return Bottleneck("route", load.id, f"The route itself: load {load.id} hardly waits for anything; "
                      "only shorter operations or cures would finish sooner.")
