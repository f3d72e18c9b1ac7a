"""The middle of values and what is known of it: numpy, scipy, the standard's ranks, what the interval promises."""

from __future__ import annotations

import math

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.intervals import Interval
from floor.figures.quality.missing import Missing
from floor.figures.quality.spread import (
    Spread,
    compute_median_interval,
    compute_spread,
    count_values_for_interval,
)

VALUES = st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=60)


@given(VALUES)
def test_median_and_quartiles_equal_numpy(values: list[float]) -> None:
    found = compute_spread(values)

    assert isinstance(found, Spread)
    wanted = numpy.quantile(values, [0.25, 0.5, 0.75]) if len(values) > 3 else (
        min(values), numpy.median(values), max(values))  # fmt: skip
    assert (found.lower, found.median, found.upper) == pytest.approx(tuple(wanted), abs=1e-6)
    assert found.count == len(values)


@settings(deadline=None)
@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=200), st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_the_interval_of_the_median_equals_scipy(values: list[float], confidence: float) -> None:
    """``scipy.stats.quantile_test``, which inverts the binomial test of a quantile (Conover); nan is none."""
    found = compute_median_interval(values, confidence)

    with numpy.errstate(all="ignore"):
        wanted = stats.quantile_test(values, q=0, p=0.5).confidence_interval(confidence)
    if isinstance(found, Missing):
        assert math.isnan(wanted.low) or math.isnan(wanted.high)
    else:
        assert (found.low, found.high) == (wanted.low, wanted.high)


@pytest.mark.parametrize(
    ("count", "rank"), [(6, 1), (8, 1), (9, 2), (11, 2), (12, 3), (15, 4), (20, 6), (25, 8), (30, 10), (50, 18)]
)
def test_ranks_are_those_of_the_standard(count: int, rank: int) -> None:
    """ISO 16269-7, two-sided, 95 %: k of n (from memory)."""
    values = [float(n) for n in range(1, count + 1)]

    assert compute_median_interval(values) == Interval(rank, count + 1 - rank)


def test_fewer_than_six_have_no_interval_at_95_percent() -> None:
    assert compute_median_interval([1.0] * 5) is Missing.TOO_FEW
    assert compute_median_interval([]) is Missing.EMPTY
    for confidence in (0.5, 0.8, 0.9, 0.95, 0.99):
        fewest = count_values_for_interval(confidence)
        assert compute_median_interval([1.0] * (fewest - 1), confidence) is Missing.TOO_FEW or fewest == 1
        assert isinstance(compute_median_interval([1.0] * fewest, confidence), Interval)
    assert count_values_for_interval() == 6


def test_what_is_no_number_has_no_spread() -> None:
    assert compute_spread([]) is Missing.EMPTY
    assert compute_spread([1.0, math.nan]) is Missing.NOT_A_NUMBER
    for refuses in (lambda: compute_median_interval([1.0], 1.0), lambda: count_values_for_interval(1.0)):
        with pytest.raises(ImpossibleFigure):
            refuses()


@pytest.mark.parametrize("count", [6, 7, 13, 40])
def test_the_median_is_held_as_often_as_promised_whatever_the_law(count: int) -> None:
    random = numpy.random.default_rng(7)
    for draw, middle in ((random.exponential, math.log(2)), (random.standard_normal, 0.0), (random.random, 0.5)):
        held = 0
        for _ in range(2000):
            found = compute_median_interval(list(draw(size=count)))
            assert isinstance(found, Interval)
            held += found.low <= middle <= found.high
        assert held / 2000 > 0.94
