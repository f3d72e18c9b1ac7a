"""Exact chances against scipy, published cases, and every case counted out."""

import math
from collections import Counter
from fractions import Fraction
from itertools import combinations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from floor.figures.quality.exact_tests import (
    MOST_RANKS,
    Draw,
    compute_group_tail,
    compute_label_tails,
    compute_order_tail,
)


def test_scrap_in_corners() -> None:
    """120 pieces of which 40 sat in corners; 8 scrapped, 6 of them there: scipy, `hypergeom` and `fisher_exact`."""
    found = compute_group_tail(6, {Draw(120, 40, 8): 1})

    assert found == pytest.approx(0.016302, abs=1e-6)
    assert found == pytest.approx(stats.fisher_exact([[6, 34], [2, 78]], "greater").pvalue, rel=1e-9)


def test_fisher_of_the_scipy_documentation() -> None:
    """The table 8, 2 / 1, 5 (scipy's `fisher_exact`), as one load of 16 pieces with 9 bad."""
    wanted = stats.fisher_exact([[8, 2], [1, 5]], "greater").pvalue

    assert compute_group_tail(8, {Draw(16, 10, 9): 1}) == pytest.approx(wanted, rel=1e-9)


def test_one_place_of_twelve() -> None:
    """9 of 18 bad pieces at one place of twelve, one bad in each load: scipy's binomial; times 12 it is 5.62e-5."""
    found = compute_group_tail(9, {Draw(12, 1, 1): 18})

    assert found == pytest.approx(stats.binom.sf(8, 18, 1 / 12), rel=1e-9)
    assert 12 * found == pytest.approx(5.62e-5, abs=1e-7)


@given(st.lists(st.tuples(st.integers(1, 5), st.integers(0, 5), st.integers(0, 5)), max_size=4), st.integers(0, 12))
def test_a_group_counted_out(loads: list[tuple[int, int, int]], found: int) -> None:
    """All ways to choose the bad pieces of each load, as fractions."""
    draws = Counter(Draw(size, min(size, marked), min(size, bad)) for size, marked, bad in loads)
    total, enough = 0, 0
    ways = [list(combinations(range(draw.pieces), draw.bad)) for draw in draws.elements()]
    limits = [draw.marked for draw in draws.elements()]
    for outcome in product(*ways):
        total += 1
        enough += sum(n < limit for limit, bad in zip(limits, outcome, strict=True) for n in bad) >= found
    assert compute_group_tail(found, draws) == pytest.approx(float(Fraction(enough, total)), rel=1e-11, abs=1e-15)


@settings(deadline=None)
@given(st.data())
def test_places_of_many_loads_equal_the_poisson_binomial_of_scipy(data: st.DataObject) -> None:
    loads = data.draw(st.lists(st.tuples(st.integers(2, 24), st.integers(1, 3)), min_size=1, max_size=60))
    draws = Counter(Draw(size, 1, min(bad, size - 1)) for size, bad in loads)
    found = data.draw(st.integers(0, len(loads)))

    wanted = stats.poisson_binom.sf(found - 1, [draw.bad / draw.pieces for draw in draws.elements()])
    assert compute_group_tail(found, draws) == pytest.approx(wanted, rel=1e-6, abs=1e-14)


def test_many_loads_keep_small_chances() -> None:
    """300 loads of one kind are a binomial (scipy), to the last digits of 1e-20."""
    for found in (26, 40, 60, 75):
        wanted = stats.binom.sf(found - 1, 300, 1 / 12)
        assert compute_group_tail(found, {Draw(12, 1, 1): 300}) == pytest.approx(wanted, rel=1e-7, abs=1e-26)
    assert compute_group_tail(301, {Draw(12, 1, 1): 300}) == 0


def test_loads_that_can_tell_nothing_change_nothing() -> None:
    """All bad, none bad, all in the group, none in it."""
    draws = Counter({Draw(12, 3, 2): 4})
    idle = Counter({Draw(9, 3, 9): 2, Draw(9, 3, 0): 5, Draw(4, 4, 1): 1, Draw(7, 0, 3): 3})

    assert compute_group_tail(5 + 7, draws + idle) == compute_group_tail(5, draws)
    assert compute_group_tail(7, draws + idle) == 1
    assert compute_group_tail(0, {}) == 1
    assert compute_group_tail(1, {}) == 0


@pytest.mark.parametrize(("late", "early"), [((3, 4, 5), (1, 2, 6)), ((2, 9), (1, 4, 5))])
def test_order_in_one_load_is_the_rank_sum_test(late: tuple[int, ...], early: tuple[int, ...]) -> None:
    """scipy's exact `mannwhitneyu`."""
    size = len(late) + len(early)
    ranks = {value: rank for rank, value in enumerate(sorted((*late, *early)), 1)}
    wanted = stats.mannwhitneyu(late, early, alternative="greater", method="exact").pvalue

    found = compute_order_tail(sum(ranks[value] for value in late), {(size, len(late)): 1})
    assert found == pytest.approx(wanted, rel=1e-12)


@given(st.lists(st.tuples(st.integers(1, 6), st.integers(0, 6)), max_size=3), st.integers(0, 70))
def test_order_counted_out(loads: list[tuple[int, int]], rank_sum: int) -> None:
    kinds = Counter((size, min(size, bad)) for size, bad in loads)
    outcomes = [
        sum(map(sum, outcome))
        for outcome in product(*(list(combinations(range(1, size + 1), bad)) for size, bad in kinds.elements()))
    ]
    wanted = sum(outcome >= rank_sum for outcome in outcomes) / len(outcomes)
    assert compute_order_tail(rank_sum, kinds) == pytest.approx(wanted, rel=1e-11, abs=1e-15)


def test_order_in_many_loads_is_about_normal() -> None:
    """100 loads of 12 with one bad: the sum of 100 dice of 12 sides, by its normal law within 0.5 % of the chance."""
    mean, sigma = 650, math.sqrt(100 * 143 / 12)
    for off in (0, 1, 2):
        rank_sum = round(mean + off * sigma)
        wanted = stats.norm.sf((rank_sum - 0.5 - mean) / sigma)
        assert compute_order_tail(rank_sum, {(12, 1): 100}) == pytest.approx(wanted, rel=0.01)


def test_too_many_ranks_are_told() -> None:
    assert compute_order_tail(5000, {(MOST_RANKS + 1, 1): 1}) is not None
    assert compute_order_tail(5000, {(MOST_RANKS + 2, 1): 1}) is None


def count_out(loads: list[tuple[int, int]], size: int, group: list[int]) -> float:
    """Share of all groups of so many loads with as much excess, by fractions."""
    share = Fraction(sum(bad for _, bad in loads), sum(pieces for pieces, _ in loads))
    excess = [bad - share * pieces for pieces, bad in loads]
    own = sum(excess[n] for n in group)
    sums = [sum(excess[n] for n in chosen) for chosen in combinations(range(len(loads)), size)]
    return sum(one >= own for one in sums) / len(sums)


@settings(deadline=None)
@given(st.data())
def test_labels_counted_out(data: st.DataObject) -> None:
    loads = data.draw(st.lists(st.tuples(st.integers(1, 12), st.integers(0, 5)), min_size=1, max_size=9))
    loads = [(pieces, min(pieces, bad)) for pieces, bad in loads]
    order = data.draw(st.permutations(range(len(loads))))
    size = data.draw(st.integers(0, len(loads)))
    group = list(order[:size])

    assert compute_label_tails(loads, {"x": group})["x"] == pytest.approx(count_out(loads, size, group), rel=1e-11)


def test_labels_of_single_bad_pieces_are_fishers() -> None:
    """Loads of one size with at most one bad: hypergeometric over loads (scipy)."""
    loads = [(12, int(n % 5 == 0)) for n in range(60)]
    group = list(range(0, 60, 10)) + [1, 2, 3]

    found = compute_label_tails(loads, {"x": group})["x"]
    assert found == pytest.approx(stats.hypergeom.sf(5, 60, 12, 9), rel=1e-9)


def test_labels_by_scipys_permutations() -> None:
    """`permutation_test` of scipy with 40,000 random permutations, within four standard errors."""
    loads = [(12, bad) for bad in (0, 0, 1, 0, 3, 2, 0, 0, 1, 4, 0, 0, 2, 0, 1, 0, 5, 0, 0, 1, 0, 0, 0, 1)] + [(5, 1)]
    group = [4, 5, 9, 12, 13, 24]
    share = sum(bad for _, bad in loads) / sum(pieces for pieces, _ in loads)
    excess = [bad - share * pieces for pieces, bad in loads]
    own = [excess[n] for n in group]
    rest = [each for n, each in enumerate(excess) if n not in group]
    wanted = stats.permutation_test(
        (own, rest), lambda x, y: sum(x), n_resamples=40_000, alternative="greater", rng=3
    ).pvalue

    found = compute_label_tails(loads, {"x": group})["x"]
    assert found == pytest.approx(wanted, abs=4 * math.sqrt(wanted / 40_000))


def test_very_many_loads_of_all_sizes_are_rounded_and_stay_near() -> None:
    """Against the normal law of the permuted sum (its exact mean and variance), for a chance that is not small."""
    loads = [(5 + n % 23, max(0, n % 7 - 4 + n % 3 - n % 2)) for n in range(1500)]
    share = sum(bad for _, bad in loads) / sum(pieces for pieces, _ in loads)
    excess = [bad - share * pieces for pieces, bad in loads]
    group = list(range(3, 1500, 14))
    variance = sum(each * each for each in excess) / 1499 * len(group) * (1 - len(group) / 1500)
    wanted = stats.norm.sf(sum(excess[n] for n in group) / math.sqrt(variance))

    assert compute_label_tails(loads, {"x": group})["x"] == pytest.approx(wanted, abs=0.05)


def test_labels_without_any_difference() -> None:
    assert compute_label_tails([(4, 1)] * 5, {"x": [0, 1]}) == {"x": 1}
    assert compute_label_tails([], {}) == {}
    assert compute_label_tails([(3, 0), (5, 0)], {"x": [1], "y": []}) == {"x": 1, "y": 1}
