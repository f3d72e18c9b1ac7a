"""Pieces that pass operations of estimated yield, against scipy's beta-binomial and the forecast's own method."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from floor.figures.beta_mixture import Mixture
from floor.figures.forecast import WorkInProcess, forecast_good_count
from floor.figures.pass_probability import InversionTooCoarse, build_pass_probability
from floor.figures.yields import Beta, OperationBelief


def alone(*betas: Beta) -> list[Mixture]:
    return [[(1.0, beta)] for beta in betas]


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 5000), st.integers(1, 400), st.floats(1, 1e5), st.floats(0.3, 1e4))
def test_one_operation_equals_scipy(ordered: int, spare: int, good: float, bad: float) -> None:
    started = ordered + spare
    try:
        chance = build_pass_probability(ordered, alone(Beta(good, bad)), started)
    except InversionTooCoarse:
        assume(False)

    assert chance(started) == pytest.approx(stats.betabinom.sf(ordered - 1, started, good, bad), abs=1e-9)


@pytest.mark.parametrize("operations", [2, 7, 40])
def test_many_operations_whose_product_is_known_equal_scipy(operations: int) -> None:
    """Beta(a, b) times an independent Beta(a + b, c) is Beta(a, b + c): compare the moments."""
    random = Random(operations)
    parts = [random.uniform(0.1, 0.6) for _ in range(operations)]
    betas = [Beta(25 + sum(parts[:n]), part) for n, part in enumerate(parts)]
    whole = stats.betabinom(3000, 25, sum(parts))
    ordered = int(whole.ppf(0.2))

    chance = build_pass_probability(ordered, alone(*betas), 3000)

    for started in (2900, 3000, 3100):
        expected = stats.betabinom.sf(ordered - 1, started, 25, sum(parts))
        assert chance(started) == pytest.approx(expected, abs=1e-10)


@settings(max_examples=10, deadline=None)
@given(st.lists(st.builds(Beta, st.floats(5, 60), st.floats(0.3, 5)), min_size=1, max_size=6), st.integers(80, 200))
def test_two_ways_to_the_same_chance_agree(betas: list[Beta], ordered: int) -> None:
    """The forecast carries the whole distribution from operation to operation; this inverts its transform once."""
    started = int(ordered * 1.3)
    hand = [WorkInProcess(started), *[WorkInProcess()] * (len(betas) - 1)]

    seen = forecast_good_count(ordered, 0, hand, [OperationBelief(beta) for beta in betas])

    assert build_pass_probability(ordered, alone(*betas), started)(started) == pytest.approx(seen.probability, abs=1e-9)


def test_edges() -> None:
    certain = build_pass_probability(10, alone(Beta(30, 0)), 12)
    assert (certain(9), certain(10)) == (0.0, 1.0)
    assert build_pass_probability(10, alone(Beta(30, 1), Beta(0, 5)), 12)(10_000) == 0.0
    with pytest.raises(InversionTooCoarse):
        build_pass_probability(300, alone(Beta(30, 0.01)), 300)
