"""Random shops of many kinds beside the optimum that CP-SAT proves, from a model that knows nothing of the planner."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.schedule import CannotPlan, Kind, Plan, Window, plan
from tests.bench.plan import over_optimum
from tests.bench.proven.model import solve
from tests.bench.proven.shops import GRID, closes, random_shop, runs
from tests.figures.schedule_check import check_plan

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
        made = plan(problem, effort=LIGHT)
    except CannotPlan:
        return
    assert check_plan(problem, made) == []


@pytest.mark.parametrize("seed", PROVEN_FAST)
def test_no_plan_is_better_than_the_optimum_that_is_proven(seed: int) -> None:
    """Better would mean that the model forbids what the planner does, or that a plan breaks a rule."""
    problem = random_shop(seed)
    made = plan(problem, effort=LIGHT)

    proof = solve(problem, round(1.5 * minutes(made)), 4, grid=GRID, hint=made)

    assert proof.proven
    assert over_optimum(problem, made, proof) >= 1


def test_random_shops_are_of_many_kinds() -> None:
    """What is said of all of them is worth little where most have no window, no return and nobody at home."""
    shops = [random_shop(seed) for seed in range(200)]
    every = [run for shop in shops for run in runs(shop)]
    comes_back = [shop for shop in shops if any(
        len({run.station for run in load.runs if run.station}) < sum(run.station is not None for run in load.runs)
        for load in shop.loads)]

    assert sum(map(closes, shops)) > 60
    assert len(comes_back) > 60
    assert any(window.latest is not None and after.windows[-1] != window
               for run in every for after in run.after for window in after.windows), "a window that opens again"
    assert any(run.under_way for run in every)
    assert any(run.also_at for run in every)
    assert any(run.setup for run in every)
    assert any(phase.interruptible for run in every for phase in run.phases)
    assert any(phase.wait is not None for run in every for phase in run.phases)
    assert any(phase.kind is Kind.UNATTENDED and not phase.outlasts_shift for run in every for phase in run.phases)
    assert any(batch.due for shop in shops for batch in shop.batches)
    assert any(load.release for shop in shops for load in shop.loads)
    assert any(station.down_until for shop in shops for station in shop.stations)


def test_the_proof_knows_when_no_plan_exists() -> None:
    """A window that closes before it can be hit at all: the cure is longer than it is open."""
    problem = next(shop for shop in map(random_shop, range(100)) if closes(shop) and not shop.loads[0].holds_carrier)
    load = problem.loads[0]
    never = tuple(replace(run, after=tuple(replace(after, windows=(Window(10**6, 10**6),)) for after in run.after))
                  for run in load.runs)

    assert solve(replace(problem, loads=(replace(load, runs=never), *problem.loads[1:])), 21 * 1440, 4,
                 grid=GRID).proven
