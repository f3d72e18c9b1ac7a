"""Random shops of many kinds against the optimum proven by CP-SAT, from a model that shares nothing with the
planner."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.calendar import Calendar
from floor.figures.schedule import (
    FIRST,
    BatchModel,
    CannotPlan,
    LoadModel,
    Phase,
    PhaseKind,
    Plan,
    Precedence,
    RunModel,
    SchedulingProblem,
    StartWindow,
    StationModel,
    solve_schedule,
)
from floor.figures.schedule.compiled_problem import CompiledProblem
from floor.figures.schedule.improve import search_schedules
from floor.figures.schedule.reachability import ReachableTimes
from tests.bench.plan import over_optimum
from tests.bench.proven.model import solve
from tests.bench.proven.shops import GRID, closes, random_shop, runs
from tests.figures.schedule_check import check_plan
from tests.figures.schedule_shops import MONDAY

LIGHT = 400

PROVEN_FAST = (2, 4, 6, 9, 17, 24, 27, 31, 32, 43, 50, 59, 61, 70, 74, 88, 94, 96)
"""Seeds of shops whose optimum is proven in well under a second."""


def minutes(made: Plan) -> float:
    return (made.end.timestamp() - made.start.timestamp()) / 60


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 100_000))
def test_every_plan_of_a_random_shop_keeps_every_rule(seed: int) -> None:
    problem = random_shop(seed)
    try:
        made = solve_schedule(problem, effort=LIGHT)
    except CannotPlan:
        return
    assert check_plan(problem, made) == []


@pytest.mark.parametrize("seed", PROVEN_FAST)
def test_no_plan_is_better_than_the_optimum_that_is_proven(seed: int) -> None:
    """Better would mean that the model forbids what the planner does, or that a plan breaks a rule."""
    problem = random_shop(seed)
    made = solve_schedule(problem, effort=LIGHT)

    proof = solve(problem, round(1.5 * minutes(made)), 4, grid=GRID, hint=made)

    assert proof.proven
    assert over_optimum(problem, made, proof) >= 1


def booth(latest: float | None) -> SchedulingProblem:
    """Coat 50 min, 1 h of cure, second coat 20 min in the same booth; 10 min of set-up for each, 4 racks, no nights."""

    def load(n: int) -> LoadModel:
        set_up = Phase(PhaseKind.ATTENDED, 10)
        return LoadModel(
            str(n),
            "B",
            (
                RunModel(f"{n} coat", "coat", "booth", (Phase(PhaseKind.ATTENDED, 50),), setup=set_up),
                RunModel(
                    f"{n} second",
                    "second",
                    "booth",
                    (Phase(PhaseKind.ATTENDED, 20),),
                    (Precedence(f"{n} coat", (StartWindow(60, latest),)),),
                    setup=set_up,
                ),
            ),
            "rack",
        )

    return SchedulingProblem(
        MONDAY,
        Calendar.always(),
        (StationModel("booth"),),
        {"rack": 4},
        1,
        (BatchModel("B"),),
        tuple(map(load, range(4))),
    )


@pytest.mark.parametrize("latest", [None, 20 * 60, 240])
def test_a_window_that_closes_late_does_not_spoil_the_plan(latest: float | None) -> None:
    problem = booth(latest)
    made = solve_schedule(problem)

    proof = solve(problem, 600, 8, grid=GRID)

    assert proof.proven
    assert minutes(made) == proof.end
    assert check_plan(problem, made) == []


def test_a_set_up_that_another_load_has_done_makes_room_for_a_window() -> None:
    """Press within 20 min of the mix: filling takes 10, and 15 to set up for it, unless that is done already."""
    window = (StartWindow(0, 20),)
    paste = LoadModel(
        "P",
        "B",
        (
            RunModel("P mix", "mix", "mixer", (Phase(PhaseKind.ATTENDED, 10),)),
            RunModel("P fill", "fill", "filler", (Phase(PhaseKind.ATTENDED, 10),), setup=Phase(PhaseKind.ATTENDED, 15)),
            RunModel("P press", "press", "press", (Phase(PhaseKind.ATTENDED, 10),), (Precedence("P mix", window),)),
        ),
    )
    other = LoadModel("Q", "B", (replace(paste.runs[1], id="Q fill"),))
    problem = SchedulingProblem(
        MONDAY,
        Calendar.always(),
        (StationModel("mixer"), StationModel("filler"), StationModel("press")),
        {},
        1,
        (BatchModel("B"),),
        (paste, other),
    )

    made = solve_schedule(problem)

    assert check_plan(problem, made) == []
    assert minutes(made) == solve(problem, 600, 4, grid=GRID).end


IMPOSSIBLE = (14, 26, 71, 80)


@pytest.mark.parametrize("seed", IMPOSSIBLE)
def test_what_is_refused_as_impossible_is_proven_to_be(seed: int) -> None:
    problem = random_shop(seed)

    with pytest.raises(CannotPlan, match="even in an empty shop"):
        solve_schedule(problem, effort=LIGHT)

    proof = solve(problem, 21 * 1440, 4, grid=GRID)
    assert (proof.proven, proof.end) == (True, None)


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 100_000))
def test_nothing_that_can_be_planned_is_called_impossible(seed: int) -> None:
    shop = CompiledProblem(random_shop(seed))

    build, _ = search_schedules(shop, 0)

    assert build.missed or build.stuck or ReachableTimes(shop).unreachable() == {}


def test_random_shops_are_of_many_kinds() -> None:
    """Claims about all of them are worth little if most have no window, no return and nobody in."""
    shops = [random_shop(seed) for seed in range(200)]
    every = [run for shop in shops for run in runs(shop)]
    comes_back = [
        shop
        for shop in shops
        if any(
            len({run.station for run in load.runs if run.station}) < sum(run.station is not None for run in load.runs)
            for load in shop.loads
        )
    ]

    assert sum(map(closes, shops)) > 60
    assert len(comes_back) > 60
    assert any(
        window.latest is not None and after.windows[-1] != window
        for run in every
        for after in run.after
        for window in after.windows
    ), "a window that opens again"
    assert any(run.under_way for run in every)
    assert any(run.also_at for run in every)
    assert any(run.setup for run in every)
    assert any(phase.interruptible for run in every for phase in run.phases)
    assert any(phase.wait is not None for run in every for phase in run.phases)
    assert any(phase.kind is PhaseKind.UNATTENDED and not phase.outlasts_shift for run in every for phase in run.phases)
    assert any(batch.due for shop in shops for batch in shop.batches)
    assert any(load.release for shop in shops for load in shop.loads)
    assert any(station.down_until for shop in shops for station in shop.stations)


def test_the_proof_knows_when_no_plan_exists() -> None:
    """A window that closes before it can be hit at all: the cure is longer than it is open."""
    problem = next(shop for shop in map(random_shop, range(100)) if closes(shop) and not shop.loads[0].holds_carrier)
    load = problem.loads[0]
    never = tuple(
        replace(run, after=tuple(replace(after, windows=(StartWindow(10**6, 10**6),)) for after in run.after))
        for run in load.runs
    )

    assert solve(
        replace(problem, loads=(replace(load, runs=never), *problem.loads[1:])), 21 * 1440, 4, grid=GRID
    ).proven


def test_the_first_order_of_work_is_not_the_answer_where_it_misses_a_window_and_another_does_not() -> None:
    for seed in (47, 63, 144):
        problem = random_shop(seed)
        assert check_plan(problem, solve_schedule(problem, effort=FIRST)) == []
