"""No batch's promise is broken to finish the whole shop sooner."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.schedule import (
    BatchModel,
    CannotPlan,
    LoadModel,
    Phase,
    PhaseKind,
    Plan,
    RunModel,
    SchedulingProblem,
    StationModel,
    improve,
    solve_schedule,
)
from floor.figures.schedule.compiled_problem import CompiledProblem
from floor.figures.schedule.planner import build_warm_start
from floor.figures.schedule.serial_schedule import SerialSchedule
from tests.bench.proven.shops import random_shop
from tests.figures.schedule_shops import MONDAY, live_shop, small_shop
from tests.figures.test_schedule_rules import ALWAYS

MOST = 2000


def two_batches() -> SchedulingProblem:
    """A first batch at the mill, and one that mills and then bakes by itself: everything ends sooner with the second
        first.

    By hand: first A, then B: A after 60 minutes, B after 60 + 60 + 300. B first: B after 360, A after 120.
    """

    def mill(batch: str) -> RunModel:
        return RunModel(f"{batch} mill", "mill", "Mill", (Phase(PhaseKind.ATTENDED, 60.0),))

    bake = RunModel("B bake", "bake", "Oven", (Phase(PhaseKind.UNATTENDED, 300.0),))
    return SchedulingProblem(
        MONDAY, ALWAYS, (StationModel("Mill"), StationModel("Oven")), {}, 1, (BatchModel("A"), BatchModel("B")),
        (LoadModel("a", "A", (mill("A"),)), LoadModel("b", "B", (mill("B"), bake))),
    )  # fmt: skip


def hours(made: Plan, batch: str) -> float:
    return (made.finish[batch] - made.start) / timedelta(hours=1)


def first_a_then_b() -> Plan:
    """The plan in which A goes first because it alone is due."""
    problem = two_batches()
    due = replace(problem, batches=(BatchModel("A", due=MONDAY + timedelta(hours=1)), BatchModel("B")))
    return solve_schedule(due, effort=MOST)


def test_a_batch_keeps_its_finish_though_the_whole_would_end_sooner() -> None:
    stood = first_a_then_b()
    assert (hours(stood, "A"), hours(stood, "B")) == (1.0, 7.0)

    held = solve_schedule(two_batches(), effort=MOST, previous=stood, hold=True)
    free = solve_schedule(two_batches(), effort=MOST, previous=stood)

    assert (hours(held, "A"), hours(held, "B")) == (1.0, 7.0)
    assert (hours(free, "A"), hours(free, "B")) == (2.0, 6.0)


def test_a_due_date_goes_before_what_was_promised() -> None:
    problem = replace(two_batches(), batches=(BatchModel("A"), BatchModel("B", due=MONDAY + timedelta(hours=6))))

    held = solve_schedule(problem, effort=MOST, previous=first_a_then_b(), hold=True)

    assert (hours(held, "A"), hours(held, "B")) == (2.0, 6.0)


@settings(max_examples=60)
@given(st.integers(0, 100_000), st.sampled_from([small_shop, live_shop]))
def test_no_batch_ends_later_than_by_the_order_that_stood(seed: int, shop: object) -> None:
    problem: SchedulingProblem = shop(seed)  # type: ignore[operator]
    problem = replace(problem, batches=tuple(replace(batch, due=None) for batch in problem.batches))
    try:
        stood = solve_schedule(problem, effort=0, seed=seed)
    except CannotPlan:
        return

    held = solve_schedule(problem, effort=MOST, seed=seed, previous=stood, hold=True)

    assert all(end <= stood.finish[batch] for batch, end in held.finish.items())


@pytest.mark.parametrize("seed", [43, 250, 281])
@pytest.mark.parametrize("effort", [0, MOST])
def test_what_stood_is_held_though_the_same_order_as_early_as_it_goes_would_push_a_batch(
    seed: int, effort: int
) -> None:
    problem = random_shop(seed)
    problem = replace(problem, batches=tuple(replace(batch, due=None) for batch in problem.batches))
    stood = solve_schedule(problem, effort=MOST, seed=seed)

    held = solve_schedule(problem, effort=effort, seed=seed, previous=stood, hold=True)

    assert all(end <= stood.finish[batch] for batch, end in held.finish.items())


def test_what_is_held_is_the_plan_as_it_stood_and_not_the_same_order_as_early_as_it_goes(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The latter might end sooner overall, and later for one batch."""
    problem = two_batches()
    shop = CompiledProblem(problem)
    stood = first_a_then_b()
    other = solve_schedule(problem, effort=MOST)
    assert other.end < stood.end

    def as_it_stood(*given: object, **named: object) -> Iterator[SerialSchedule]:
        for made in (stood, other):
            yield SerialSchedule(shop).run(build_warm_start(shop, made).keys)

    monkeypatch.setattr(improve, "_as_it_stood", as_it_stood)

    held = solve_schedule(problem, effort=MOST, previous=stood, hold=True)

    assert (hours(held, "A"), hours(held, "B")) == (1.0, 7.0)


def test_an_order_of_work_that_leaves_runs_unplaced_promises_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """They would seem to end at once, and every complete plan later than that."""
    shop = CompiledProblem(two_batches())
    stood = first_a_then_b()
    unplaced = SerialSchedule(shop)
    unplaced.stuck = [*range(len(shop.tasks))]

    def as_it_stood(*given: object, **named: object) -> Iterator[SerialSchedule]:
        yield unplaced
        yield SerialSchedule(shop).run(build_warm_start(shop, stood).keys)

    monkeypatch.setattr(improve, "_as_it_stood", as_it_stood)

    held = solve_schedule(two_batches(), effort=MOST, previous=stood, hold=True)

    assert (hours(held, "A"), hours(held, "B")) == (1.0, 7.0)


@pytest.mark.parametrize("effort", [0, MOST])
def test_where_nothing_stood_there_is_nothing_to_hold(effort: int) -> None:
    assert solve_schedule(two_batches(), effort=effort, hold=True) == solve_schedule(two_batches(), effort=effort)
