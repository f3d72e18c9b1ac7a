"""Start quantity over estimated yields, against scipy, and never at odds with the forecast of the batch it starts."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy import stats

from floor.figures.errors import Impossible
from floor.figures.forecast import WorkInProcess, forecast_good_count
from floor.figures.route_yields import OperationYield, count_pieces_tested
from floor.figures.start_at_estimated_yields import MOST_CARRIED, estimate_fill_probability, estimate_start_quantity
from floor.figures.start_at_known_yields import LARGEST_START, compute_start_quantity
from floor.figures.top_up import compute_top_up
from floor.figures.yields import YieldCounts, update_beliefs

NEARLY = 1e-6


def route(*yields: float, rework: float = 0.0, tests: int = 0) -> list[OperationYield]:
    return [
        OperationYield(f"op {n}", good, min(rework, 1 - good), 0.7, tests=tests if n == 1 else 0)
        for n, good in enumerate(yields)
    ]


@pytest.mark.parametrize("ordered", [20, 100, 900])
@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.95])
def test_one_operation_needs_what_scipys_beta_binomial_says(ordered: int, confidence: float) -> None:
    """An estimate of 90 % that weighs 40 pieces is Beta(36, 4)."""
    found = estimate_start_quantity(ordered, confidence, route(0.9), [40], lot=12)

    def chance(pieces: int) -> float:
        return float(stats.betabinom.sf(ordered - 1, pieces, 36, 4))

    assert chance(found.pieces) >= confidence > chance(found.pieces - 1)
    assert found.probability == pytest.approx(chance(found.pieces), abs=1e-9)
    assert found.rounded == -(-found.pieces // 12) * 12 == (found.lots or 0) * 12
    assert found.rounded_probability == pytest.approx(chance(found.rounded), abs=1e-9)
    assert found.mean_based_probability == pytest.approx(chance(found.mean_based), abs=1e-9)


@pytest.mark.parametrize("weight", [1, 2, 4, 10])
def test_a_confidence_just_reached_is_reached(weight: int) -> None:
    """One good piece, at a yield of 0.5 that weighs so many pieces: by exact fractions (Pólya's urn)."""
    for pieces in range(1, 9):
        exact = 1 - math.prod((Fraction(weight, 2) + n) / (weight + n) for n in range(pieces))
        assert estimate_start_quantity(1, float(exact), route(0.5), [weight]).pieces == pieces
        assert estimate_start_quantity(1, float(exact), route(0.5), [weight], lot=pieces).lots == 1


@settings(max_examples=15, deadline=None)
@given(
    ordered=st.integers(1, 120),
    yields=st.lists(st.floats(0.8, 1), min_size=1, max_size=6),
    weight=st.floats(5, 200),
    confidence=st.floats(0.5, 0.97),
    rework=st.just(0.0) | st.floats(0.001, 0.05),
    tests=st.integers(0, 2),
)
@example(ordered=188, yields=[0.9375], weight=5.0, confidence=0.5, rework=0.0, tests=0)
@example(ordered=400, yields=[0.97, 0.9, 0.99], weight=20.0, confidence=0.9, rework=0.02, tests=1)
def test_a_batch_just_started_is_not_told_to_start_more(
    ordered: int, yields: list[float], weight: float, confidence: float, rework: float, tests: int
) -> None:
    """The forecast of the fresh batch gives the same chance, and one piece fewer would not do.

    To a millionth: for an estimate that weighs 5 pieces, mostly near certain, the two sums differ by 2e-7 (188
    ordered, a yield of 93.75 %; the forecast is scipy's beta-binomial to 1e-9).
    """
    operations, weights = route(*yields, rework=rework, tests=tests), [weight] * len(yields)

    found = estimate_start_quantity(ordered, confidence, operations, weights)

    beliefs = update_beliefs(operations, weights, [YieldCounts()] * len(yields))

    def fresh(pieces: int) -> float:
        taken = count_pieces_tested(pieces, operations)
        hand = [WorkInProcess(pieces if n == 0 else 0, 0, used) for n, used in enumerate(taken)]
        return forecast_good_count(ordered, 0, hand, beliefs).probability

    assert fresh(found.pieces) == pytest.approx(found.probability, abs=NEARLY)
    assert fresh(found.pieces) >= confidence - NEARLY
    assert fresh(found.pieces - 1) < confidence + NEARLY
    assert estimate_fill_probability(found.pieces, ordered, operations, weights) == pytest.approx(
        found.probability, abs=NEARLY
    )
    more = compute_top_up(
        ordered,
        0,
        [WorkInProcess(found.pieces), *[WorkInProcess()] * (len(yields) - 1)],
        beliefs,
        level=confidence - NEARLY,
        at=0,
        minutes=[1.0] * len(yields),
        most=5000,
    )
    assert more is not None
    assert more.pieces == 0


@settings(max_examples=20, deadline=None)
@given(st.integers(1, 300), st.floats(0.85, 0.99), st.floats(0.001, 0.009), st.floats(0.6, 0.97))
def test_more_yield_never_needs_more_starts(ordered: int, good: float, better: float, confidence: float) -> None:
    less, more = (
        estimate_start_quantity(ordered, confidence, route(each, 0.97), [30, 30]) for each in (good, good + better)
    )

    assert more.pieces <= less.pieces


def test_an_estimate_of_great_weight_needs_what_a_certain_yield_needs() -> None:
    operations = route(0.98, 0.97, 0.99)

    for ordered in (96, 1000):
        certain = compute_start_quantity(ordered, 0.95, operations)
        assert estimate_start_quantity(ordered, 0.95, operations, [1e6] * 3).pieces == certain.pieces
        assert estimate_start_quantity(ordered, 0.95, operations, [30] * 3).pieces > certain.pieces


@pytest.mark.parametrize(
    ("ordered", "confidence", "good", "weight", "lot", "words"),
    [
        (0, 0.9, 0.9, 30, None, "order"), (10, 1.0, 0.9, 30, None, "confidence"), (10, 0.9, 0.0, 30, None, "pass"),
        (10, 0.9, 0.9, 0, None, "weight"), (10, 0.9, 0.9, 30, 0, "lot"), (10, 0.99, 0.05, 0.3, None, "known so little"),
    ],
)  # fmt: skip
def test_impossible_orders_are_refused_with_the_way_out(
    ordered: int, confidence: float, good: float, weight: float, lot: int | None, words: str
) -> None:
    with pytest.raises(Impossible) as refused:
        estimate_start_quantity(ordered, confidence, route(good), [weight], lot=lot)
    assert words in str(refused.value)


def test_the_largest_order_is_the_largest_that_may_be_started() -> None:
    assert estimate_start_quantity(LARGEST_START, 0.9, [], []).pieces == LARGEST_START
    with pytest.raises(Impossible, match="order of 10,000,001 pieces"):
        estimate_start_quantity(LARGEST_START + 1, 0.9, [], [])


def test_an_order_too_large_for_the_forecast_is_answered_with_rework_hardly_known() -> None:
    """Against a simulation by numpy and scipy's binomial: 95 % good of a weight of 5 pieces, of the rest 3/5 reworked
    with a weight of 1 piece, 70 % of it saved. With less care the inversion gives up, and nothing else can tell."""
    ordered, operations = 12_000, route(0.95, rework=0.03)
    found = estimate_start_quantity(ordered, 0.8, operations, [5])

    (belief,) = update_beliefs(operations, [5], [YieldCounts()])
    assert belief.reworkable is not None
    assert belief.saved is not None
    rng = np.random.default_rng(1)
    first, sent, saved = (
        rng.beta(one.good, one.bad, 400_000) for one in (belief.first, belief.reworkable, belief.saved)
    )
    chances = stats.binom.sf(ordered - 1, found.pieces, first + (1 - first) * sent * saved)
    assert found.pieces > MOST_CARRIED
    assert found.probability == pytest.approx(chances.mean(), abs=0.003)
