"""Settings of a trial side by side: published examples, scipy, false alarms, and what is said where nothing can be."""

import math
import random
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.comparison import (
    Difference,
    Trend,
    compare_numbers,
    compare_shares,
    compute_fisher,
    estimate_pieces_each,
    estimate_pieces_each_of_shares,
    find_shown_difference,
)
from floor.figures.quality.intervals import Interval
from floor.figures.quality.looks import FALSE_ALARMS
from floor.figures.quality.missing import Missing

OLD = [32, 37, 35, 28, 41, 44, 35, 31, 34, 38, 42]
NEW = [36, 31, 30, 31, 34, 36, 29, 32, 31]
"""Times to assemble a device by two procedures: NIST/SEMATECH e-Handbook 7.3.1. The values are from memory, and so are
the means, deviations, t and degrees of freedom of the page, which agree with them."""


def of_two(first: list[float], second: list[float]) -> Difference:
    return compare_numbers([first, second]).differences[0]


def test_two_means_of_the_handbook() -> None:
    found = compare_numbers([OLD, NEW])
    assert [one.about.mean for one in found.settings] == pytest.approx([36.0909, 32.2222], abs=5e-5)
    assert [one.about.deviation for one in found.settings] == pytest.approx([4.9082, 2.5386], abs=5e-5)
    one = found.differences[0]
    t, freedom = 2.2694, 15.533
    assert one.p == pytest.approx(2 * stats.t.sf(t, freedom), abs=2e-5)
    assert one.shown


values = st.lists(st.floats(-1000, 1000).map(lambda value: round(value, 3)), min_size=2, max_size=12)


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@settings(deadline=None)
@given(values, values)
def test_difference_and_interval_of_two_means_as_scipy_has_them(first: list[float], second: list[float]) -> None:
    one = of_two(first, second)
    if len(set(first)) == len(set(second)) == 1:
        assert one.interval is Missing.CONSTANT
        return
    theirs = stats.ttest_ind(second, first, equal_var=False)
    ends = theirs.confidence_interval(0.95)
    assert isinstance(one.interval, Interval)
    assert (one.interval.low, one.interval.high) == pytest.approx((ends.low, ends.high), rel=1e-6, abs=1e-6)
    assert one.p == pytest.approx(theirs.pvalue, rel=1e-6, abs=1e-12)


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@given(values)
def test_the_interval_of_a_mean_as_scipy_has_it(some: list[float]) -> None:
    found = compare_numbers([some]).settings[0].interval
    if len(set(some)) == 1:
        assert found is Missing.CONSTANT
        return
    assert isinstance(found, Interval)
    ends = stats.t.interval(0.95, len(some) - 1, sum(some) / len(some), stats.sem(some))
    assert (found.low, found.high) == pytest.approx(ends, rel=1e-6, abs=1e-6)


@settings(deadline=None)
@given(st.lists(st.lists(st.sampled_from([0.1, 0.2, 0.3, 0.4, 9.0]), max_size=6), min_size=2, max_size=5))
def test_an_interval_leaves_nothing_out_just_where_a_difference_is_shown(samples: list[list[float]]) -> None:
    for one in compare_numbers(samples).differences:
        if isinstance(one.interval, Interval):
            assert one.shown == (not one.interval.low <= 0 <= one.interval.high)
            assert one.interval.low <= one.difference <= one.interval.high


@pytest.mark.parametrize(("first", "second", "interval", "p"), [
    ([3.0], [4.0, 5.0], Missing.TOO_FEW, Missing.TOO_FEW),
    ([3.0, 3.0], [3.0, 3.0, 3.0], Missing.CONSTANT, 1.0),
    ([3.0] * 3, [4.0] * 3, Missing.CONSTANT, 0.1),
    ([3.0] * 4, [4.0] * 4, Missing.CONSTANT, 2 / 70),
])  # fmt: skip
def test_where_nothing_spreads_all_ways_to_deal_the_values_out_are_counted(
    first: list[float], second: list[float], interval: Missing, p: float | Missing
) -> None:
    """As `scipy.stats.permutation_test` would: 2 of 20 and 2 of 70 ways set the values so far apart."""
    one = of_two(first, second)
    assert one.interval is interval
    assert one.p == (p if isinstance(p, Missing) else pytest.approx(p))


def test_settings_without_values_or_with_what_is_no_number_are_left_out() -> None:
    found = compare_numbers([[], [1.0, 2.0], [math.nan], [5.0, 6.5]])
    assert [(one.first, one.second) for one in found.differences] == [(1, 3)]
    assert found.settings[0].interval is Missing.EMPTY
    assert compare_numbers([[], []]).differences == ()
    assert compare_numbers([[], []]).deviation is Missing.TOO_FEW


def test_values_near_the_ends_of_a_float_are_compared_too() -> None:
    tiny = of_two([1e-99, 2e-99, 3e-99], [7e-99, 8e-99, 9e-99])
    huge = of_two([1e99, 2e99, 3e99], [7e99, 8e99, 9e99])
    usual = of_two([1, 2, 3], [7, 8, 9])
    assert usual.p == pytest.approx(0.0018, abs=1e-4)
    assert tiny.p == pytest.approx(usual.p)
    assert huge.p == pytest.approx(usual.p)


# --- several settings ----------------------------------------------------------------------------------------------


def test_of_several_alike_settings_none_is_named_more_than_once_in_twenty() -> None:
    """1,000 trials of five settings, four pieces each, all the same: Holm keeps the false alarms of all ten pairs."""
    chance = random.Random(7)
    named = sum(
        any(
            one.shown for one in compare_numbers([[chance.gauss(5, 1) for _ in range(4)] for _ in range(5)]).differences
        )
        for _ in range(1000)
    )
    assert named / 1000 <= FALSE_ALARMS + 3 * math.sqrt(0.05 * 0.95 / 1000)
    assert named > 0, "or nothing could ever be named"


def test_a_trend_is_counted_out_over_all_ways_to_deal_the_values_out() -> None:
    """Kendall's test by its definition, each of 1,680 ways to give nine values to three settings of three."""
    samples, levels = [[0.2, 0.5, 0.4], [0.3, 0.7, 0.6], [0.8, 1.1, 0.9]], [6000.0, 8000.0, 10000.0]
    pool = [value for values in samples for value in values]

    def rising(groups: list[list[float]]) -> int:
        return sum(b > a for low, high in combinations(groups, 2) for a in low for b in high)

    ways = [
        [[pool[n] for n in first], [pool[n] for n in second], [pool[n] for n in set(range(9)) - {*first, *second}]]
        for first in combinations(range(9), 3)
        for second in combinations(sorted(set(range(9)) - set(first)), 3)
    ]
    own = rising(samples)
    trend = compare_numbers(samples, levels).trend
    assert len(ways) == 1680
    assert isinstance(trend, Trend)
    assert trend.rising
    assert trend.p == pytest.approx(2 * sum(rising(way) >= own for way in ways) / 1680)


def test_a_trend_of_many_values_is_about_that_of_scipy() -> None:
    chance = random.Random(3)
    levels = [1.0, 2.0, 3.0, 4.0]
    samples = [[chance.gauss(0.12 * level, 1) for _ in range(60)] for level in levels]
    trend = compare_numbers(samples, levels).trend
    assert isinstance(trend, Trend)
    pairs = [(level, value) for level, values in zip(levels, samples, strict=True) for value in values]
    theirs = stats.kendalltau(*zip(*pairs, strict=True), method="asymptotic")
    assert trend.rising == (theirs.statistic > 0)
    assert trend.p == pytest.approx(theirs.pvalue, rel=0.02)


def test_a_trend_takes_three_numbers_and_equal_values_count_against_it() -> None:
    assert compare_numbers([[1, 2], [3, 4]], [1, 2]).trend is Missing.NO_LIMIT
    assert compare_numbers([[1, 2], [3, 4], []], [1, 2, 3]).trend is Missing.NO_LIMIT
    assert compare_numbers([[1, 2], [3, 4], [5, 6]]).trend is Missing.NO_LIMIT
    same = compare_numbers([[1.0] * 3] * 3, [1, 2, 3]).trend
    assert isinstance(same, Trend)
    assert same.p == 1.0
    with pytest.raises(ImpossibleFigure):
        compare_numbers([[1.0]], [1, 2])


# --- good and bad ----------------------------------------------------------------------------------------------------


@given(st.integers(0, 15), st.integers(0, 15), st.integers(0, 15), st.integers(0, 15))
def test_two_shares_as_scipy_has_them(good: int, bad: int, other_good: int, other_bad: int) -> None:
    if good + bad and other_good + other_bad:
        theirs = stats.fisher_exact([[good, bad], [other_good, other_bad]]).pvalue
        assert compute_fisher(good, good + bad, other_good, other_good + other_bad) == pytest.approx(theirs, rel=1e-9)


def test_the_chance_of_what_is_likeliest_is_one_and_no_rounding_more() -> None:
    """10 of 20 each: all outcomes are as likely or less, and their chances add up to a little above 1."""
    assert compute_fisher(10, 20, 10, 20) == 1.0


def test_shares_of_several_settings_are_adjusted_and_an_empty_one_is_left_out() -> None:
    found = compare_shares([(9, 9), (2, 9), (0, 0), (9, 9)])
    by = {(one.first, one.second): one for one in found.differences}
    assert set(by) == {(0, 1), (0, 3), (1, 3)}
    assert by[0, 1].adjusted == pytest.approx(3 * stats.fisher_exact([[9, 0], [2, 7]]).pvalue)
    assert by[0, 1].shown
    assert not by[0, 3].shown
    assert found.settings[2] is Missing.EMPTY
    low = found.settings[0]
    assert isinstance(low, Interval)
    assert low.low == pytest.approx(stats.binomtest(9, 9).proportion_ci(method="exact").low)


# --- how many would show it ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("times", "tries", "each"), [
    (1.0, 1, 16.715), (0.5, 1, 63.766), (2.0, 1, 5.090), (1.0, 3, 22.424), (0.8, 6, 39.615), (3.0, 1, 3.070),
])  # fmt: skip
def test_how_many_show_a_difference_of_means(times: float, tries: int, each: float) -> None:
    """By the noncentral t of statsmodels 0.14 (`TTestIndPower`, power 0.8); ours is off by one at most."""
    found = estimate_pieces_each(1.0, times, tries)
    assert isinstance(found, int)
    assert abs(found - math.ceil(each)) <= 1
    assert find_shown_difference(found, tries) <= times
    assert estimate_pieces_each(25.4, -25.4 * times, tries) == found


def test_so_many_pieces_do_show_it_four_times_in_five() -> None:
    chance = random.Random(11)
    each = estimate_pieces_each(1.0, 1.5)
    assert isinstance(each, int)
    shown = sum(
        of_two([chance.gauss(0, 1) for _ in range(each)], [chance.gauss(1.5, 1) for _ in range(each)]).shown
        for _ in range(600)
    )
    assert 0.74 <= shown / 600 <= 0.9


@pytest.mark.parametrize(("share", "other"), [(0.95, 0.6), (0.9, 0.5), (0.6, 0.3), (1.0, 0.6)])
def test_how_many_show_a_difference_of_shares(share: float, other: float) -> None:
    """The power of Fisher's test with so many pieces, added up outcome by outcome with scipy."""
    each = estimate_pieces_each_of_shares(share, other)
    assert isinstance(each, int)
    mine, theirs = (stats.binom.pmf(range(each + 1), each, one) for one in (share, other))
    power = sum(
        mine[a] * theirs[b]
        for a in range(each + 1)
        for b in range(each + 1)
        if compute_fisher(a, each, b, each) <= FALSE_ALARMS
    )
    assert 0.77 <= power <= (0.9 if share < 1 else 0.96), "near 100 % it asks for a few more than it takes"


def test_what_nobody_could_try_has_no_number() -> None:
    assert estimate_pieces_each(1.0, 0.001) is Missing.TOO_LARGE
    assert estimate_pieces_each_of_shares(0.5, 0.501) is Missing.TOO_LARGE
    for wrong in ((0.0, 1.0), (1.0, 0.0), (math.inf, 1.0)):
        with pytest.raises(ImpossibleFigure):
            estimate_pieces_each(*wrong)
    with pytest.raises(ImpossibleFigure):
        estimate_pieces_each(1.0, 1.0, tries=0)
    with pytest.raises(ImpossibleFigure):
        estimate_pieces_each_of_shares(0.5, 0.5)
