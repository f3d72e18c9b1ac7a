"""An order is filled with the last piece it wants: spares hold up no promise."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from floor.planning.plan import ShopPlan, find_fill_times, make_plan, score_plan
from floor.planning.snapshot import take_snapshot
from tests.batch.factory import Bench, open_bench
from tests.planning.planned import ONE_SHIFT, potted


def some_to_pack(order: int) -> Bench:
    """Thirteen lids wait to be packed; the resin of thirteen more has a day left to cure."""
    bench = open_bench(potted, start=26, order=order)
    first = bench.form(10)
    bench.through(first, 10, 20)
    bench.clock.forward(24 * 3600)
    bench.through(first, 30)
    bench.through(bench.form(10), 10, 20)
    return bench


def planned_of(bench: Bench) -> ShopPlan:
    return make_plan(take_snapshot([bench.state], bench.clock(), ONE_SHIFT).ways, effort=400)


@pytest.mark.parametrize(("order", "days"), [(13, 0), (14, 1)])
def test_what_fills_the_order_now_waits_for_nothing_else(order: int, days: int) -> None:
    bench = some_to_pack(order)

    made = planned_of(bench)
    filled = find_fill_times(made)["B0001"]

    assert (filled.date() - bench.clock().at.date()) == timedelta(days=days)
    if not days:
        assert filled < made.plan.finish["B0001"], "the others come a day later"


def test_of_two_ways_that_end_alike_the_one_that_fills_the_order_first_is_better() -> None:
    bench = some_to_pack(13)
    ways = take_snapshot([bench.state], bench.clock(), ONE_SHIFT).ways
    assert [way.mixed for way in ways] == [True, False]
    together, apart = (make_plan([way], effort=400) for way in ways)

    alike = replace(apart, plan=replace(apart.plan, end=together.plan.end))

    assert score_plan(alike) < score_plan(together)


def test_an_order_with_too_few_pieces_left_is_filled_with_the_last_at_best() -> None:
    made = planned_of(some_to_pack(26))
    doubts = {id: replace(doubt, wanted=40) for id, doubt in made.asked.doubts.items()}
    made = replace(made, asked=replace(made.asked, doubts=doubts))

    assert find_fill_times(made) == made.plan.finish


def test_a_plan_is_the_same_whether_or_not_its_yields_are_put_into_it() -> None:
    ways = take_snapshot([some_to_pack(13).state], some_to_pack(13).clock(), ONE_SHIFT).ways

    with_them, without = (make_plan(ways, effort=400, doubts=doubts) for doubts in (True, False))

    assert without.plan == with_them.plan
    assert (with_them.problem.batches[0].wanted, without.problem.batches[0].wanted) == (13, None)
