"""Yields of earlier batches against scipy's beta-binomial and chi-square laws, and what the weights promise."""

from __future__ import annotations

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from floor.figures.earlier_yields import (
    HALF_LIFE_DAYS,
    PRIOR_BATCHES,
    SHARE_BETWEEN,
    BatchYield,
    combine_yields,
    compute_pearson,
    estimate_correlation,
    estimate_difference,
    weigh_batch,
    weigh_times,
)
from floor.figures.errors import ImpossibleFigure

SHARES = st.floats(0.0, 1.0)
BATCHES = st.lists(
    st.builds(BatchYield, SHARES, st.floats(0.5, 5000.0), st.floats(0.0, 4000.0), st.booleans(), st.just(0.0)),
    max_size=12,
)
STATED = st.tuples(st.floats(0.01, 1.0), st.floats(1.0, 1000.0))


def test_x_squared_is_that_of_a_table_of_good_and_bad() -> None:
    """scipy's chi-square test of homogeneity on the same counts."""
    counts = [(95, 100), (60, 72), (118, 120), (40, 48)]
    table = [[good, pieces - good] for good, pieces in counts]

    found = compute_pearson([(good / pieces, float(pieces)) for good, pieces in counts])

    assert found == pytest.approx(stats.chi2_contingency(table, correction=False).statistic)


def test_a_batch_is_worth_as_many_pieces_as_its_variance_says() -> None:
    """A share of n pieces of one batch varies as scipy's beta-binomial; so many single pieces would vary as much."""
    mean, differ, pieces = 0.93, 0.04, 150
    law = stats.betabinom(pieces, mean * (1 / differ - 1), (1 - mean) * (1 / differ - 1))

    worth = weigh_batch(BatchYield(0.9, pieces, 0.0), differ)

    assert mean * (1 - mean) / worth == pytest.approx(law.var() / pieces**2)


def test_the_belief_has_the_mean_and_variance_of_the_mean_and_of_the_batch_together() -> None:
    """By numerical integration over the mean of all batches, the next batch's own yield a Beta around it."""
    batches = [BatchYield(0.9, 80.0, 0.0), BatchYield(0.97, 100.0, 90.0), BatchYield(0.86, 64.0, 400.0)]
    found = combine_yields(0.95, 30.0, 0.0, batches)
    told = 30.0 / (1 - SHARE_BETWEEN) + sum(found.weights)
    law = stats.beta(found.good * told, (1 - found.good) * told)

    def square(mean: float) -> float:
        return float(law.pdf(mean)) * (mean**2 + mean * (1 - mean) * found.differ)

    variance = integrate.quad(square, 0, 1, epsabs=1e-12)[0] - found.good**2

    assert found.good * (1 - found.good) / (found.weight + 1) == pytest.approx(variance)
    assert found.good == pytest.approx(
        (0.95 * 60 + sum(one.share * many for one, many in zip(batches, found.weights, strict=True))) / told
    )


def test_the_correlation_is_found_again_in_drawn_batches() -> None:
    random = numpy.random.default_rng(4)
    mean, differ = 0.9, 0.05
    sizes = random.integers(40, 160, 400)
    own = random.beta(mean * (1 / differ - 1), (1 - mean) * (1 / differ - 1), 400)
    drawn = [(float(random.binomial(size, share)) / size, float(size)) for size, share in zip(sizes, own, strict=True)]

    assert estimate_correlation(drawn) == pytest.approx(differ, rel=0.25)
    alike = [(float(random.binomial(size, mean)) / size, float(size)) for size in sizes]
    assert estimate_correlation(alike) == pytest.approx(0.0, abs=0.005)


def test_the_checklists_doubt_is_worth_so_many_batches() -> None:
    batches = [BatchYield(share, 100.0, 0.0) for share in (0.8, 0.95, 0.99)]
    shown = estimate_correlation([(one.share, one.worth) for one in batches])
    assert shown is not None

    expected = SHARE_BETWEEN / 31
    assert estimate_difference(30.0, batches) == pytest.approx(
        (PRIOR_BATCHES * expected + 2 * shown) / (PRIOR_BATCHES + 2)
    )


@pytest.mark.parametrize(
    "batches",
    [
        [],
        [BatchYield(0.9, 100.0, 0.0)],
        [BatchYield(1.0, 100.0, 0.0), BatchYield(1.0, 50.0, 0.0)],
        [BatchYield(0.0, 1.0, 0.0), BatchYield(1.0, 1.0, 0.0)],
    ],
    ids=["none", "one", "all good", "single pieces"],
)
def test_what_tells_nothing_of_how_batches_differ_leaves_what_is_expected(batches: list[BatchYield]) -> None:
    assert estimate_difference(30.0, batches) == SHARE_BETWEEN / 31


@given(STATED, st.floats(0.0, 1.0))
def test_without_earlier_batches_the_plan_is_as_stated(stated: tuple[float, float], reworked: float) -> None:
    found = combine_yields(*stated, reworked, [])

    assert (found.good, found.weight, found.reworked, found.weights) == (*stated, reworked, ())


@given(STATED, st.floats(0.5, 1000.0), st.floats(0.0, 2000.0))
def test_one_batch_makes_the_belief_no_looser(stated: tuple[float, float], pieces: float, days: float) -> None:
    """One batch tells nothing of how batches differ, so it can only add."""
    found = combine_yields(*stated, 0.0, [BatchYield(0.9, pieces, days)])

    assert found.weight >= stated[1] * (1 - 1e-9)


@given(st.floats(0.5, 5000.0), st.floats(0.0, 3000.0), st.floats(0.0, 3000.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_an_older_batch_or_one_of_batches_that_differ_more_is_never_heavier(
    pieces: float, days: float, more_days: float, differ: float, more: float
) -> None:
    young = weigh_batch(BatchYield(0.9, pieces, days), differ)

    assert weigh_batch(BatchYield(0.9, pieces, days + more_days), differ) <= young
    assert weigh_batch(BatchYield(0.9, pieces, days), min(differ + more, 1.0)) <= young * (1 + 1e-12)
    assert 0 <= young <= max(pieces, 1.0)


@given(st.integers(0, 1000), st.floats(0.0, 3000.0), st.floats(0.0, 3000.0))
def test_older_times_are_never_heavier(runs: int, days: float, more: float) -> None:
    assert weigh_times(runs, days + more) <= weigh_times(runs, days) < 4.0 + (runs == 0)


@pytest.mark.parametrize("half_life", [30.0, HALF_LIFE_DAYS])
def test_a_batch_counts_half_after_the_half_life(half_life: float) -> None:
    new, old = (weigh_batch(BatchYield(0.9, 100.0, days), 0.01, half_life) for days in (0.0, half_life))
    assert old == pytest.approx(new / 2)
    assert weigh_times(8, half_life, half_life) == pytest.approx(weigh_times(8, 0.0, half_life) / 2)
    new_one, old_one = (
        combine_yields(0.9, 30.0, 0.0, [BatchYield(0.9, 100.0, days)], half_life) for days in (0.0, half_life)
    )
    assert old_one.weights[0] == pytest.approx(new_one.weights[0] / 2)


def test_batches_more_alike_than_luck_lets_expect_do_not_differ_by_less_than_nothing() -> None:
    """X² of equal shares is 0, one less than expected of two batches."""
    assert estimate_correlation([(0.9, 20), (0.9, 20), (0.9, 40)]) == 0.0


def test_where_all_were_good_no_share_is_above_one() -> None:
    batches = [BatchYield(1.0, pieces, days) for pieces, days in ((7.3, 11.0), (0.7, 400.3), (91.1, 0.1))]
    assert combine_yields(1.0, 17.3, 0.0, batches).good == 1.0


@given(STATED, BATCHES)
def test_a_batch_that_the_file_holds_moves_no_mean(stated: tuple[float, float], batches: list[BatchYield]) -> None:
    held = [one._replace(counts=False) for one in batches]
    found = combine_yields(*stated, 0.0, held)

    assert found.good == pytest.approx(stated[0])
    assert found.weights == (0.0,) * len(held)


@given(STATED, BATCHES)
def test_the_belief_lies_between_what_was_stated_and_seen(
    stated: tuple[float, float], batches: list[BatchYield]
) -> None:
    found = combine_yields(*stated, 0.0, batches)
    shares = [stated[0], *(one.share for one in batches if one.counts)]

    assert min(shares) - 1e-9 <= found.good <= max(shares) + 1e-9
    assert found.weight > 0


def test_no_scrap_so_far_is_no_proof_of_none() -> None:
    found = combine_yields(0.97, 30.0, 0.0, [BatchYield(1.0, 200.0, 0.0), BatchYield(1.0, 300.0, 30.0)])

    assert 0.97 < found.good < 1.0
    assert found.weight > 30.0


def test_a_figure_that_is_none_is_refused() -> None:
    fine = BatchYield(0.9, 100.0, 0.0)
    wrong = [
        lambda: combine_yields(0.9, 30.0, 0.0, [fine._replace(share=1.2)]),
        lambda: combine_yields(0.9, 30.0, 0.0, [fine._replace(worth=0.0)]),
        lambda: combine_yields(0.9, 30.0, 0.0, [fine._replace(days=-1.0)]),
        lambda: combine_yields(0.0, 30.0, 0.0, [fine]),
        lambda: combine_yields(0.9, 0.0, 0.0, [fine]),
    ]
    for asked in wrong:
        with pytest.raises(ImpossibleFigure):
            asked()
