"""A share of pieces that share their loads' luck: against numpy and scipy by another route, and what it promises."""

from __future__ import annotations

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from floor.figures.quality.intervals import Interval
from floor.figures.quality.missing import Missing
from floor.figures.quality.share_by_load import LoadCount, ShareByLoad, compute_share_by_load

LOAD = st.integers(1, 40).flatmap(lambda pieces: st.tuples(st.integers(0, pieces), st.just(pieces)))


def by_the_book(loads: list[tuple[int, int]]) -> tuple[float, float, float]:
    """Korn and Graubard: linearized variance of a ratio, effective sample size, Clopper-Pearson by scipy's beta law."""
    good, pieces = numpy.array(loads, dtype=float).T
    share, total = good.sum() / pieces.sum(), pieces.sum()
    residuals = (good - share * pieces) / total
    variance = len(loads) * numpy.var(residuals, ddof=1) if len(loads) > 1 else 0.0
    simple = share * (1 - share) / total
    worth = min(share * (1 - share) / variance, total) if variance > 0 and simple > 0 else total
    blur = (stats.t.ppf(0.975, total - 1) / stats.t.ppf(0.975, len(loads) - 1)) ** 2
    size = worth * min(blur, 1.0)
    x = share * size
    low = stats.beta.ppf(0.025, x, size - x + 1) if x > 0 else 0.0
    high = stats.beta.ppf(0.975, x + 1, size - x) if good.sum() < total else 1.0
    return worth, low, high


@settings(deadline=None)
@given(st.lists(LOAD, min_size=2, max_size=30))
def test_worth_and_interval_by_another_route(loads: list[tuple[int, int]]) -> None:
    found = compute_share_by_load([LoadCount(*load) for load in loads])

    assert isinstance(found, ShareByLoad)
    assert isinstance(found.interval, Interval)
    worth, low, high = by_the_book(loads)
    assert found.worth == pytest.approx(worth, rel=1e-9)
    assert (found.interval.low, found.interval.high) == pytest.approx((low, high), abs=1e-7)
    assert found.share == pytest.approx(sum(good for good, _ in loads) / sum(pieces for _, pieces in loads))


def test_loads_that_go_wrong_as_a_whole_are_worth_little() -> None:
    alike = compute_share_by_load([LoadCount(14, 16)] * 6)
    apart = compute_share_by_load([*[LoadCount(16, 16)] * 5, LoadCount(4, 16)])

    assert isinstance(alike, ShareByLoad)
    assert isinstance(apart, ShareByLoad)
    assert (alike.good, apart.good) == (84, 84)
    assert alike.worth == 96
    assert apart.worth < 10


def test_one_load_and_none_have_no_interval() -> None:
    assert compute_share_by_load([]) is Missing.EMPTY
    assert compute_share_by_load([LoadCount(0, 0)]) is Missing.EMPTY
    one = compute_share_by_load([LoadCount(3, 4), LoadCount(0, 0)])
    assert isinstance(one, ShareByLoad)
    assert one.interval is Missing.TOO_FEW


@pytest.mark.parametrize("loads", [6, 12])
def test_the_truth_is_held_though_loads_differ(loads: int) -> None:
    """Beta-binomial loads of 8 with a correlation of 0.2; single pieces' interval holds it far less often."""
    random = numpy.random.default_rng(11)
    truth, size, tries = 0.85, 8, 1500
    spread = 1 / 0.2 - 1
    held = bare = 0
    for _ in range(tries):
        luck = random.beta(truth * spread, (1 - truth) * spread, size=loads)
        found = compute_share_by_load([LoadCount(int(good), size) for good in random.binomial(size, luck)])
        assert isinstance(found, ShareByLoad)
        assert isinstance(found.interval, Interval)
        held += found.interval.low <= truth <= found.interval.high
        exact = stats.binomtest(found.good, found.pieces).proportion_ci(0.95, method="exact")
        bare += exact.low <= truth <= exact.high
    assert held / tries > 0.93
    assert bare / tries < 0.90
