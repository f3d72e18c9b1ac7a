"""Shops to plan: generated small ones, published job shops, and flow shops."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
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

MONDAY = datetime(2026, 9, 7, tzinfo=UTC)
CHICAGO = ZoneInfo("America/Chicago")
WEEKDAYS = Calendar.weekly("America/Chicago", range(5), time(7), time(15, 30), (time(11, 30), time(12)))
"""Monday to Friday, 07:00 to 11:30 and 12:00 to 15:30: common practice, no source."""


def job_shop(jobs: Sequence[Sequence[tuple[int, float]]]) -> SchedulingProblem:
    """Jobs as lists of (machine, minutes), nothing else scarce; open day and night."""
    loads = tuple(
        LoadModel(
            f"J{j}",
            "B",
            tuple(
                RunModel(f"J{j}.{k}", f"op {k}", f"M{machine}", (Phase(PhaseKind.UNATTENDED, minutes),))
                for k, (machine, minutes) in enumerate(job)
            ),
        )
        for j, job in enumerate(jobs)
    )
    machines = sorted({machine for job in jobs for machine, _ in job})
    return SchedulingProblem(
        MONDAY, Calendar.always(), tuple(StationModel(f"M{m}") for m in machines), {}, 1, (BatchModel("B"),), loads
    )


def small_shop(seed: int) -> SchedulingProblem:
    """A shop small enough to be solved to proof: 3 to 5 loads of 3 to 5 runs, whole minutes.

    Depending on the seed it has shifts, scarce hands and carriers, an oven with places, set-ups saved by running
    like after like, windows that close, and loads that take pieces from several others.
    """
    random = Random(seed)
    count = random.randint(3, 5)
    stations = (StationModel("mill"), StationModel("bench"), StationModel("oven", places=random.choice((2, 3))))
    route = _route(random, random.randint(3, 5))
    kinds = [random.choice(("part A", "part B")) for _ in range(count)]
    loads = []
    for n in range(count):
        runs = [
            replace(
                run,
                id=f"L{n}.{k}",
                family=f"{run.operation} {kinds[n]}",
                phases=tuple(replace(phase, minutes=phase.minutes + 5 * random.randint(0, 3)) for phase in run.phases),
                after=tuple(Precedence(f"L{n}.{k - 1}", after.windows) for after in run.after),
            )
            for k, run in enumerate(route)
        ]
        loads.append(LoadModel(f"L{n}", "B", tuple(runs), "pallet"))
    if random.random() < 0.3:
        loads += _regrouped(random, loads)
    calendar = (
        Calendar.always()
        if random.random() < 0.5
        else Calendar.weekly("UTC", range(7), time(7), time(15, 30), (time(11, 30), time(12)))
    )
    return SchedulingProblem(
        MONDAY.replace(hour=7),
        calendar,
        stations,
        {"pallet": random.randint(1, 3), "tray": 1},
        random.randint(1, 2),
        (BatchModel("B"),),
        tuple(loads),
    )


def _route(random: Random, length: int) -> list[RunModel]:
    runs = []
    for k in range(length):
        style = random.choice(("machine", "bench", "cure", "bake", "machine"))
        minutes = 5 * random.randint(2, 10)
        after: tuple[Precedence, ...] = ()
        if k and random.random() < 0.3:
            after = (Precedence("before", (StartWindow(0, 10 * random.randint(2, 6)),)),)
        elif k and random.random() < 0.1:
            after = (Precedence("before", (StartWindow(0, 30), StartWindow(120, None))),)
        if style == "machine":
            phases = (Phase(PhaseKind.ATTENDED, 5), Phase(PhaseKind.UNATTENDED, minutes), Phase(PhaseKind.ATTENDED, 5))
            setup = Phase(PhaseKind.ATTENDED, 15) if random.random() < 0.4 else None
            runs.append(RunModel("", f"mill {k}", "mill", phases, after, setup=setup))
        elif style == "bench":
            runs.append(RunModel("", f"hand work {k}", "bench", (Phase(PhaseKind.ATTENDED, minutes),), after))
        elif style == "cure":
            runs.append(RunModel("", f"cure {k}", None, (Phase(PhaseKind.CURE, 2 * minutes),), after))
        else:
            runs.append(
                RunModel(
                    "",
                    f"bake {k}",
                    "oven",
                    (Phase(PhaseKind.UNATTENDED, 2 * minutes),),
                    after,
                    places=random.choice((1, 2)),
                )
            )
    return runs


def _regrouped(random: Random, loads: list[LoadModel]) -> list[LoadModel]:
    """Two tray loads, each with pieces from some of the pallet loads."""
    half = len(loads) // 2
    return [
        LoadModel(
            name,
            "B",
            (
                RunModel(
                    f"{name}.0",
                    "rinse",
                    "bench",
                    (Phase(PhaseKind.ATTENDED, 5 * random.randint(1, 4)),),
                    tuple(Precedence(load.runs[-1].id) for load in sources),
                ),
            ),
            "tray",
        )
        for name, sources in (("T0", loads[: half + 1]), ("T1", loads[half:]))
    ]


def without_latest(problem: SchedulingProblem) -> SchedulingProblem:
    """The same shop with windows that never close."""
    return replace(
        problem,
        loads=tuple(
            replace(
                load,
                runs=tuple(
                    replace(
                        run,
                        after=tuple(
                            Precedence(after.run, (StartWindow(min(window.earliest for window in after.windows)),))
                            for after in run.after
                        ),
                    )
                    for run in load.runs
                ),
            )
            for load in problem.loads
        ),
    )


def live_shop(seed: int) -> SchedulingProblem:
    """A shop in the middle of its work: everything a small shop has, plus live state.

    Two batches with due dates, some runs under way, carriers already held, a station down, interruptible work, cycles
    that may not outlast the shift, two-person work, fixed starting windows, set-ups at a station with two places,
    a late shift with fewer people, and a change of the clocks in the week.
    """
    random = Random(seed)
    small = small_shop(seed)
    now = datetime(2027, 3, 12, random.randint(6, 16), random.choice((0, 20)), tzinfo=CHICAGO)
    calendar = WEEKDAYS.add_shifts(
        *(Shift(day, time(15), time(1, 30), ((time(19), time(19, 30)),), people=1) for day in range(5))
    )
    held = {"mill": 0, "bench": 0, "oven": 0, "pallet": 0}
    loads = []
    for load in small.loads:
        runs = [replace(run, phases=tuple(_varied(random, phase) for phase in run.phases)) for run in load.runs]
        first = runs[0]
        begun = random.random() < 0.4 and load.carrier == "pallet" and held["pallet"] < small.carriers["pallet"]
        if begun and first.station is not None and held[first.station] == 0:
            runs[0] = replace(first, under_way=True, setup=None)
            held[first.station] += 1
        if random.random() < 0.1 and not runs[0].under_way:
            runs[0] = replace(
                runs[0],
                allowed=(
                    StartSpan(now, now + timedelta(minutes=1)),
                    StartSpan(now + timedelta(hours=20), now + timedelta(days=9)),
                ),
            )
        held["pallet"] += begun
        loads.append(replace(load, runs=tuple(runs), holds_carrier=begun, batch=random.choice("BC")))
    stations = tuple(
        replace(
            station,
            places=2 if station.name == "mill" and random.random() < 0.3 else station.places,
            set_up_for=random.choice((None, "mill 0 part A")),
            down_until=now + timedelta(hours=5) if random.random() < 0.1 else None,
        )
        for station in small.stations
    )
    return SchedulingProblem(
        now,
        calendar,
        stations,
        small.carriers,
        2,
        (BatchModel("B", due=now + timedelta(days=random.randint(1, 5))), BatchModel("C", weight=2.0)),
        tuple(loads),
    )


def also_elsewhere(problem: SchedulingProblem, seed: int) -> SchedulingProblem:
    """The shop with a second station beside a few of them, able to do half of the runs."""
    random = Random(seed)
    twins = {one.name: f"{one.name} too" for one in problem.stations if random.random() < 0.7}
    stations = (
        *problem.stations,
        *(
            replace(
                one, name=twins[one.name], places=one.places + random.randint(0, 1), set_up_for=None, down_until=None
            )
            for one in problem.stations
            if one.name in twins
        ),
    )

    def other(one: RunModel) -> RunModel:
        if one.station not in twins or random.random() < 0.5:
            return one
        return replace(one, also_at=((twins[one.station], one.places),))

    loads = tuple(replace(load, runs=tuple(map(other, load.runs))) for load in problem.loads)
    return replace(problem, stations=stations, loads=loads)


def _varied(random: Random, phase: Phase) -> Phase:
    if phase.kind is PhaseKind.ATTENDED:
        return replace(
            phase,
            interruptible=random.random() < 0.4,
            hands=2 if random.random() < 0.1 else 1,
            spread=0.2,
            stands=random.random() < 0.5,
        )
    if phase.kind is PhaseKind.UNATTENDED:
        return replace(phase, outlasts_shift=random.random() < 0.7, spread=0.1)
    return phase


def tight_shop(seed: int) -> SchedulingProblem:
    """A live shop with more tightly tied runs: more windows, some with a second one, and runs on two places.

    Phases may not wait long or begin with the one before, loads come later, and starts are fixed to a day.
    """
    random = Random(seed)
    shop = live_shop(seed)
    loads = []
    for load in shop.loads:
        runs = list(load.runs)
        for k, (one, before) in enumerate(zip(load.runs[1:], load.runs, strict=False), 1):
            if random.random() < 0.5:
                later = StartWindow(30.0 * random.randint(8, 40), random.choice((None, 60.0 * 90)))
                near = StartWindow(random.choice((0.0, 10.0, 20.0)), 30.0 * random.randint(1, 6))
                windows = (near, later) if random.random() < 0.6 else (near,)
                runs[k] = replace(one, after=(Precedence(before.id, windows),))
            first, *rest = runs[k].phases
            waits = (
                replace(phase, wait=random.choice((None, 0.0, 45.0)), joined=random.random() < 0.4) for phase in rest
            )
            runs[k] = replace(runs[k], phases=(first, *waits))
        wide = {one.name for one in shop.stations if one.places > 1}
        runs = [
            replace(one, places=2) if one.station in wide and not one.under_way and random.random() < 0.4 else one
            for one in runs
        ]
        if random.random() < 0.2:
            day = shop.now + timedelta(days=random.randint(1, 3))
            runs[-1] = replace(runs[-1], allowed=(StartSpan(None, day), StartSpan(day + timedelta(hours=9), None)))
        held = load.holds_carrier or random.random() < 0.7
        loads.append(replace(load, runs=tuple(runs), release=None if held else shop.now + timedelta(hours=3)))
    return replace(shop, loads=tuple(loads))
