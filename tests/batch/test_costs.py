"""The cost of the small day at the mill, worked out by hand from its times (`test_time_elements`)."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.batch.quality.costs import BatchCosts, CostRates, compute_costs
from floor.batch.quality.time_elements import compute_time_elements
from floor.checklist.model import Checklist
from floor.figures.key_figures import Absence
from tests.batch.factory import Bench, edited, open_bench
from tests.batch.test_time_elements import day_at_the_mill
from tests.planning.planned import ONE_SHIFT, filled

DAY = cache(day_at_the_mill)
MILL: Mapping[str, float] = {"mill": 45.0}
TOOL: Mapping[str, float] = {"mill 1": 32.0}


def cost(bench: Bench, rates: CostRates | None) -> BatchCosts:
    found = ask(bench, rates)
    assert isinstance(found, BatchCosts)
    return found


def ask(bench: Bench, rates: CostRates | None) -> BatchCosts | None:
    batch, calendar, now = bench.state, ONE_SHIFT.calendar, bench.clock().at
    return compute_costs(batch, compute_time_elements(batch, calendar, now), rates)


def test_a_day_at_the_mill_by_hand() -> None:
    """92 min busy at 45 an hour, 37 min of work at 60 an hour, 8 pieces of 5 min of a tool that lasts 60 for 32."""
    found = cost(DAY(), CostRates("EUR", 60.0, MILL, TOOL))

    assert (found.stations, found.labor, found.tools) == pytest.approx((69.0, 37.0, 32.0 * 40 / 60))
    assert found.total == pytest.approx(69 + 37 + 32 * 40 / 60)
    assert found.per_good_piece is Absence.NOTHING, "none is finished"
    assert found.unpriced == ()


def test_scrap_cost_the_work_up_to_where_it_was_lost() -> None:
    """One of four in the first run: 66 of 92 min busy, 31 of 37 min of work, 20 min of the tool, a quarter each."""
    [lost] = cost(DAY(), CostRates("EUR", 60.0, MILL, TOOL)).scrap

    assert (lost.op, lost.reason, lost.pieces) == (10, "deep", 1)
    assert lost.cost == pytest.approx((45 * 66 / 60 + 60 * 31 / 60 + 32 * 20 / 60) / 4)


def test_what_has_no_rate_is_named_and_not_counted() -> None:
    found = cost(DAY(), CostRates("EUR"))

    assert found.total == 0
    assert set(found.unpriced) == {"Mill", "labor", "tool mill 1"}


def test_without_rates_there_is_no_cost() -> None:
    assert ask(DAY(), None) is None


@cache
def bagged() -> Checklist:
    bag = '[[consumables]]\nwhat = "Bag"\nops = [50]\nby = "count"\neach = 2\nsource = "Trial"\n\n'
    return edited(('[[reworks]]\nid = "touch up"', f'{bag}[[reworks]]\nid = "touch up"'))


def test_material_is_of_all_pieces_started() -> None:
    found = cost(open_bench(bagged, start=8), CostRates("EUR", materials={"Bag": 0.25}))

    assert (found.material, found.total) == (4.0, 4.0)


def test_each_good_piece_bears_its_share() -> None:
    bench = filled(start=4)
    found = cost(bench, CostRates("EUR", 60.0))

    assert found.good == 4
    assert found.per_good_piece == pytest.approx(found.labor / 4)


@settings(deadline=None, max_examples=30)
@given(st.floats(0, 1e4), st.floats(0, 1e4), st.floats(0, 1e4))
def test_scrap_never_cost_more_than_the_batch(labor: float, mill: float, tool: float) -> None:
    found = cost(DAY(), CostRates("EUR", labor, {"mill": mill}, {"mill 1": tool}))

    assert 0 <= sum(one.cost for one in found.scrap) <= found.total + 1e-9
