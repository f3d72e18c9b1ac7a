"""Random shops of many kinds, small enough to solve to proof; drawn from what shops have, not from the planner.

All times are multiples of five minutes, so that an optimum lies on a grid of five minutes.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta, tzinfo
from random import Random
from zoneinfo import ZoneInfo

from floor.figures.calendar import Calendar, Shift
from floor.figures.schedule import (
    BatchModel,
    LoadModel,
    Phase,
    PhaseKind,
    Precedence,
    RunModel,
    SchedulingProblem,
    StartSpan,
    StartWindow,
    StationModel,
)

GRID = 5
"""Minutes."""

CHICAGO, BERLIN = ZoneInfo("America/Chicago"), ZoneInfo("Europe/Berlin")

_MOMENTS = (
    datetime(2026, 9, 7, 7, tzinfo=UTC),  # a Monday morning
    datetime(2026, 9, 11, 13, tzinfo=CHICAGO),  # a Friday afternoon
    datetime(2026, 10, 31, 18, tzinfo=CHICAGO),  # clocks go back in the night; 15 U.S.C. 260a
    datetime(2027, 3, 13, 18, tzinfo=CHICAGO),  # and forward
    datetime(2026, 10, 24, 20, tzinfo=BERLIN),  # back; Directive 2000/84/EC
    datetime(2027, 3, 27, 20, tzinfo=BERLIN),  # forward
    datetime(2026, 9, 9, 21, tzinfo=CHICAGO),  # a night in the week
)

_SHIFTS = (
    (range(7), time(0), time(0), ()),
    (range(5), time(7), time(15, 30), ((time(11, 30), time(12)),)),
    (range(7), time(6), time(14), ((time(9), time(9, 15)), (time(12), time(12, 30)))),
    (range(5), time(21), time(5), ((time(1), time(1, 30)),)),
)
"""Days, start, end and breaks: round the clock, a day shift on weekdays, one every day, a night shift."""


@dataclass(frozen=True, slots=True)
class _Place:
    """A station as the draw sees it: what is done there, and whether it is set up for a family."""

    station: StationModel
    style: str
    set_up: int


def random_shop(seed: int) -> SchedulingProblem:
    """A shop whose stations, routes, windows, shifts, carriers and state are drawn with this seed."""
    random = Random(seed)
    now = random.choice(_MOMENTS) + timedelta(minutes=GRID * random.randrange(0, 36))
    assert now.tzinfo is not None
    places = [_place(random, n) for n in range(random.randint(2, 5))]
    products = [_route(random, places, name) for name in "AB"[: random.choice((1, 1, 2))]]
    carried = random.random() < 0.7
    loads = []
    for n in range(random.randint(3, 6)):
        which = n % len(products)
        loads.append(_load(random, f"L{n}", "AB"[which], products[which], "pallet" if carried else None))
    if random.random() < 0.25:
        loads += _regrouped(random, loads, places)
    loads = _in_the_middle(random, loads, now)
    batches = tuple(_batch(random, "AB"[n], now) for n in range(len(products)))
    carriers = {"pallet": random.randint(1, 3), "tray": 1}
    stations = tuple(_state(random, place.station, loads, now) for place in places)
    calendar, hands = _calendar(random, now.tzinfo), random.choice((1, 1, 2))
    return SchedulingProblem(now, calendar, stations, carriers, hands, batches, tuple(loads))


def closes(problem: SchedulingProblem) -> bool:
    """Whether some window of the shop closes."""
    return any(window.latest is not None for run in runs(problem) for after in run.after for window in after.windows)


def runs(problem: SchedulingProblem) -> Iterator[RunModel]:
    """All runs of the problem."""
    return (run for load in problem.loads for run in load.runs)


def _calendar(random: Random, zone: tzinfo) -> Calendar:
    days, start, end, breaks = random.choice((_SHIFTS[0], *_SHIFTS))
    calendar = Calendar.weekly(zone, days, start, end, *breaks)
    if end != start and random.random() < 0.3:
        # A second turn that begins as the first ends, or half an hour before, with its own number of people.
        minutes = end.hour * 60 + end.minute - random.choice((0, 30))
        begins = time(minutes // 60, minutes % 60)
        until = time((end.hour + random.choice((4, 8))) % 24)
        people = random.choice((None, 1))
        calendar = calendar.add_shifts(*(Shift(day, begins, until, people=people) for day in days))
    return calendar


def _place(random: Random, n: int) -> _Place:
    style = random.choice(("machine", "machine", "hand", "oven"))
    places = random.choice((2, 3)) if style == "oven" else 2 if random.random() < 0.15 else 1
    set_up = GRID * random.randint(1, 6) if style != "oven" and random.random() < 0.5 else 0
    return _Place(StationModel(f"S{n}", places), style, set_up)


def _route(random: Random, places: list[_Place], product: str) -> list[RunModel]:
    """Operations of one product. It comes back to stations, as there are fewer of them than operations."""
    route: list[RunModel] = []
    back = random.choice(places)
    for k in range(random.randint(2, 5)):
        if route and route[-1].station is not None and random.random() < 0.3:
            route.append(
                RunModel("", f"{product} cure {k}", None, (Phase(PhaseKind.CURE, GRID * random.randint(4, 60)),))
            )
            continue
        place = back if random.random() < 0.4 else random.choice(places)
        route.append(_operation(random, place, places, f"{product} {place.style} {k}", route))
    return route


def _operation(random: Random, place: _Place, places: list[_Place], name: str, route: list[RunModel]) -> RunModel:
    station = place.station
    after: tuple[Precedence, ...] = ()
    if route and random.random() < 0.45:
        after = (
            Precedence(str(random.choice((len(route) - 1, len(route) - 1, max(0, len(route) - 2)))), _windows(random)),
        )
    set_up = Phase(PhaseKind.ATTENDED, place.set_up) if place.set_up else None
    also = [other.station for other in places if other.station.name != station.name and other.style == place.style]
    return RunModel(
        "",
        name,
        station.name,
        _phases(random, place.style),
        after,
        setup=set_up,
        places=random.randint(1, station.places) if place.style == "oven" else 1,
        also_at=((also[0].name, 1),) if also and random.random() < 0.3 else (),
    )


def _phases(random: Random, style: str) -> tuple[Phase, ...]:
    length = GRID * random.randint(2, 16)
    by_hand = Phase(PhaseKind.ATTENDED, GRID * random.randint(1, 4))
    if style == "hand":
        work = Phase(PhaseKind.ATTENDED, length, interruptible=random.random() < 0.4)
        cure = (Phase(PhaseKind.CURE, GRID * random.randint(4, 40)),) if random.random() < 0.3 else ()
        return (work, *cure)
    cycle = Phase(PhaseKind.UNATTENDED, 2 * length, outlasts_shift=random.random() < 0.7)
    if style == "oven" and random.random() < 0.5:
        return (cycle,)
    waits = 60.0 * random.choice((0.5, 1, 4)) if random.random() < 0.15 else None
    return (by_hand, cycle, replace(by_hand, wait=waits))


def _windows(random: Random) -> tuple[StartWindow, ...]:
    earliest, latest = GRID * random.choice((0, 0, 2, 12)), GRID * random.randint(4, 36)
    draw = random.random()
    if draw < 0.6:
        return (StartWindow(earliest, earliest + latest),)
    if draw < 0.75:
        return (StartWindow(earliest, earliest + latest), StartWindow(earliest + latest + 60 * random.randint(2, 12)))
    if draw < 0.85:
        reopens = earliest + latest + 60 * random.randint(2, 6)
        return (StartWindow(earliest, earliest + latest), StartWindow(reopens, reopens + latest))
    return (StartWindow(earliest + latest),)


def _load(random: Random, name: str, batch: str, route: list[RunModel], carrier: str | None) -> LoadModel:
    kind = random.choice("xy")
    more = GRID * random.randint(0, 3)
    made = []
    for k, run in enumerate(route):
        phases = tuple(
            phase
            if phase.kind is PhaseKind.ATTENDED and len(run.phases) > 1
            else replace(phase, minutes=phase.minutes + more)
            for phase in run.phases
        )
        made.append(
            replace(
                run,
                id=f"{name}.{k}",
                family=f"{run.station} {kind}",
                phases=phases,
                after=tuple(replace(after, run=f"{name}.{after.run}") for after in run.after),
            )
        )
    return LoadModel(name, batch, tuple(made), carrier)


def _regrouped(random: Random, loads: list[LoadModel], places: list[_Place]) -> list[LoadModel]:
    """A load on another carrier that takes pieces from two of the others."""
    sources = random.sample(loads, 2)
    links = tuple(
        Precedence(
            load.runs[-1].id,
            (StartWindow(0, GRID * random.randint(30, 100)),) if random.random() < 0.3 else (StartWindow(),),
        )
        for load in sources
    )
    station = next((place.station.name for place in places if not place.set_up), None)
    last = RunModel("T.0", "rinse", station, (Phase(PhaseKind.ATTENDED, GRID * random.randint(1, 6)),), links)
    return [LoadModel("T", sources[0].batch, (last,), "tray")]


def _in_the_middle(random: Random, loads: list[LoadModel], now: datetime) -> list[LoadModel]:
    """A load under way, one that is released later, one whose start must be hit: some of the time."""
    first, *rest = loads
    run = first.runs[0]
    if random.random() < 0.3:
        left = run.phases[random.randrange(len(run.phases)) :]
        held = run.station is not None and any(phase.kind is not PhaseKind.CURE for phase in left)
        if held and not any(phase.kind is PhaseKind.ATTENDED and phase.wait is not None for phase in left):
            # Nobody pauses a cycle by going home.
            left = (replace(left[0], outlasts_shift=True), *left[1:])
            begun = replace(run, phases=left, setup=None, under_way=True, also_at=())
            first = replace(first, runs=(begun, *first.runs[1:]), holds_carrier=first.carrier is not None)
    if rest and random.random() < 0.2:
        rest[0] = replace(rest[0], release=now + timedelta(minutes=GRID * random.randint(6, 60)))
    if rest and random.random() < 0.15:
        last = rest[-1]
        opens = now + timedelta(minutes=GRID * random.randint(0, 30))
        spans = (
            StartSpan(opens, opens + timedelta(minutes=GRID * random.randint(6, 60))),
            StartSpan(now + timedelta(hours=20), now + timedelta(days=9)),
        )
        rest[-1] = replace(last, runs=(replace(last.runs[0], allowed=spans), *last.runs[1:]))
    return [first, *rest]


def _batch(random: Random, name: str, now: datetime) -> BatchModel:
    due = now + timedelta(minutes=GRID * random.randint(24, 360)) if random.random() < 0.25 else None
    return BatchModel(name, due, random.choice((1.0, 1.0, 2.0)))


def _state(random: Random, station: StationModel, loads: list[LoadModel], now: datetime) -> StationModel:
    there = any(run.under_way and run.station == station.name for load in loads for run in load.runs)
    down = now + timedelta(minutes=GRID * random.randint(3, 48)) if not there and random.random() < 0.12 else None
    return replace(station, set_up_for=random.choice((None, f"{station.name} x")), down_until=down)
