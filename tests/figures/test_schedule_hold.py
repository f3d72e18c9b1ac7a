"""No batch's promise is given up so that the whole shop finishes sooner."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.schedule import (
    Batch,
    CannotPlan,
    Kind,
    Load,
    Phase,
    Plan,
    Problem,
    Run,
    Station,
    improve,
    plan,
)
from floor.figures.schedule.planner import served
from floor.figures.schedule.serial_schedule import Build
from floor.figures.schedule.shop import Shop
from tests.bench.proven.shops import random_shop
from tests.figures.schedule_shops import MONDAY, live_shop, small_shop
from tests.figures.test_schedule_rules import ALWAYS

MOST = 2000


def two_batches() -> Problem:
    """A first batch at the mill, and one that mills and then bakes by itself: all is over sooner with the second first.

    By hand: first A, then B: A after 60 minutes, B after 60 + 60 + 300. B first: B after 360, A after 120.
    """
    def mill(batch: str) -> Run:
        return Run(f"{batch} mill", "mill", "Mill", (Phase(Kind.ATTENDED, 60.0),))

    bake = Run("B bake", "bake", "Oven", (Phase(Kind.UNATTENDED, 300.0),))
    return Problem(
        MONDAY, ALWAYS, (Station("Mill"), Station("Oven")), {}, 1, (Batch("A"), Batch("B")),
        (Load("a", "A", (mill("A"),)), Load("b", "B", (mill("B"), bake))),
    )  # fmt: skip


def hours(made: Plan, batch: str) -> float:
    return (made.finish[batch] - made.start) / timedelta(hours=1)


def first_a_then_b() -> Plan:
    """The plan in which A goes first because it alone is due."""
    problem = two_batches()
    due = replace(problem, batches=(Batch("A", due=MONDAY + timedelta(hours=1)), Batch("B")))
    return plan(due, effort=MOST)


def test_a_batch_keeps_its_finish_though_the_whole_would_end_sooner() -> None:
    stood = first_a_then_b()
    assert (hours(stood, "A"), hours(stood, "B")) == (1.0, 7.0)

    held = plan(two_batches(), effort=MOST, previous=stood, hold=True)
    free = plan(two_batches(), effort=MOST, previous=stood)

    assert (hours(held, "A"), hours(held, "B")) == (1.0, 7.0)
    assert (hours(free, "A"), hours(free, "B")) == (2.0, 6.0)


def test_a_due_date_goes_before_what_was_promised() -> None:
    problem = replace(two_batches(), batches=(Batch("A"), Batch("B", due=MONDAY + timedelta(hours=6))))

    held = plan(problem, effort=MOST, previous=first_a_then_b(), hold=True)

    assert (hours(held, "A"), hours(held, "B")) == (2.0, 6.0)


@settings(max_examples=60)
@given(st.integers(0, 100_000), st.sampled_from([small_shop, live_shop]))
def test_no_batch_ends_later_than_by_the_order_that_stood(seed: int, shop: object) -> None:
    problem: Problem = shop(seed)  # type: ignore[operator]
    problem = replace(problem, batches=tuple(replace(batch, due=None) for batch in problem.batches))
    try:
        stood = plan(problem, effort=0, seed=seed)
    except CannotPlan:
        return

    held = plan(problem, effort=MOST, seed=seed, previous=stood, hold=True)

    assert all(end <= stood.finish[batch] for batch, end in held.finish.items())


@pytest.mark.parametrize("seed", [43, 250, 281])
@pytest.mark.parametrize("effort", [0, MOST])
def test_what_stood_is_held_though_the_same_order_as_early_as_it_goes_would_push_a_batch(
    seed: int, effort: int
) -> None:
    problem = random_shop(seed)
    problem = replace(problem, batches=tuple(replace(batch, due=None) for batch in problem.batches))
    stood = plan(problem, effort=MOST, seed=seed)

    held = plan(problem, effort=effort, seed=seed, previous=stood, hold=True)

    assert all(end <= stood.finish[batch] for batch, end in held.finish.items())


def test_what_is_held_is_the_plan_as_it_stood_and_not_the_same_order_as_early_as_it_goes(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The latter might end sooner in all, and later for a batch."""
    problem = two_batches()
    shop = Shop(problem)
    stood = first_a_then_b()
    other = plan(problem, effort=MOST)
    assert other.end < stood.end

    def as_it_stood(*given: object, **named: object) -> Iterator[Build]:
        for made in (stood, other):
            yield Build(shop).run(served(shop, made).keys)

    monkeypatch.setattr(improve, "_as_it_stood", as_it_stood)

    held = plan(problem, effort=MOST, previous=stood, hold=True)

    assert (hours(held, "A"), hours(held, "B")) == (1.0, 7.0)


def test_an_order_of_work_that_leaves_runs_unplaced_promises_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """They would seem to end at once, and every whole plan to be later than that."""
    shop = Shop(two_batches())
    stood = first_a_then_b()
    unplaced = Build(shop)
    unplaced.stuck = [*range(len(shop.tasks))]

    def as_it_stood(*given: object, **named: object) -> Iterator[Build]:
        yield unplaced
        yield Build(shop).run(served(shop, stood).keys)

    monkeypatch.setattr(improve, "_as_it_stood", as_it_stood)

    held = plan(two_batches(), effort=MOST, previous=stood, hold=True)

    assert (hours(held, "A"), hours(held, "B")) == (1.0, 7.0)


@pytest.mark.parametrize("effort", [0, MOST])
def test_where_nothing_stood_there_is_nothing_to_hold(effort: int) -> None:
    assert plan(two_batches(), effort=effort, hold=True) == plan(two_batches(), effort=effort)
