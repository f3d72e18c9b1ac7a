"""Two factors: against published analyses and numpy's least squares, balanced and not."""

import math
import random
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.comparison import compute_fisher
from floor.figures.quality.factor_effects import Effect, FactorEffects, compare_factor_shares, compare_factors
from floor.figures.quality.intervals import Interval
from floor.figures.quality.missing import Missing

TOOTH_GROWTH = [
    [
        [15.2, 21.5, 17.6, 9.7, 14.5, 10.0, 8.2, 9.4, 16.5, 9.7],
        [19.7, 23.3, 23.6, 26.4, 20.0, 25.2, 25.8, 21.2, 14.5, 27.3],
        [25.5, 26.4, 22.4, 24.5, 24.8, 30.9, 26.4, 27.3, 29.4, 23.0],
    ],
    [
        [4.2, 11.5, 7.3, 5.8, 6.4, 10.0, 11.2, 11.2, 5.2, 7.0],
        [16.5, 16.5, 15.2, 17.3, 22.5, 17.3, 13.6, 14.5, 18.8, 15.5],
        [23.6, 18.5, 33.9, 25.5, 26.4, 32.5, 26.7, 21.5, 23.3, 29.5],
    ],
]
"""E. W. Crampton, The Journal of Nutrition 33 (1947) 491, as R's data set ToothGrowth has it (from memory): supplement
by dose."""


def effects(found: FactorEffects) -> tuple[Effect, Effect]:
    assert not isinstance(found.effects, Missing)
    return found.effects


def test_a_published_analysis_of_two_factors() -> None:
    """R's aov of supplement times dose: supplement F 15.572, p 0.000231; interaction F 4.107, p 0.0218603; mean square
    of the residuals 13.19 (from memory).
    """
    found = compare_factors(TOOTH_GROWTH)
    supplement, dose = effects(found)
    (one,) = supplement.differences
    assert one.difference == pytest.approx(-3.7, abs=1e-9)
    assert one.p == pytest.approx(0.000231, abs=5e-7)
    assert not isinstance(found.interaction, Missing)
    assert found.interaction.p == pytest.approx(0.0218603, abs=5e-8)
    assert found.deviation == pytest.approx(math.sqrt(13.19), abs=1e-3)
    assert supplement.counts == (30, 30)
    assert dose.counts == (20, 20, 20)
    assert found.tries == 5, "one of supplement, three of dose, the interaction"


def by_numpy(cells: list[list[list[float]]], factor: int, one: int, other: int) -> tuple[float, float, int]:
    """(difference, its standard error, degrees of freedom) by least squares, the spread that of inside the cells."""
    rows, ys, inside, full = [], [], 0.0, 0
    a, b = len(cells), len(cells[0])
    for n, m in product(range(a), range(b)):
        for value in cells[n][m]:
            rows.append([1.0, *(float(n == k) for k in range(1, a)), *(float(m == k) for k in range(1, b))])
            ys.append(value)
        if cells[n][m]:
            full += 1
            inside += float(np.sum((np.array(cells[n][m]) - np.mean(cells[n][m])) ** 2))
    x, y = np.array(rows), np.array(ys)
    beta = np.linalg.lstsq(x, y, rcond=None)[0]
    contrast = np.zeros(a + b - 1)
    start = 0 if factor == 0 else a - 1
    for level, sign in ((one, -1.0), (other, 1.0)):
        if level:
            contrast[start + level] = sign
    freedom = len(ys) - full
    variance = inside / freedom
    error = math.sqrt(variance * float(contrast @ np.linalg.inv(x.T @ x) @ contrast))
    return float(contrast @ beta), error, freedom


@settings(max_examples=60, deadline=None)
@given(st.integers(2, 4), st.integers(2, 3), st.integers(0, 10**6))
def test_unbalanced_effects_are_those_of_least_squares(a: int, b: int, seed: int) -> None:
    """numpy's lstsq and scipy's Student's t; every cell has 2 to 5 values."""
    draw = random.Random(seed)
    cells = [[[draw.gauss(n + 2 * m, 1) for _ in range(draw.randint(2, 5))] for m in range(b)] for n in range(a)]
    found = compare_factors(cells)
    for factor, effect in enumerate(effects(found)):
        for one in effect.differences:
            difference, error, freedom = by_numpy(cells, factor, one.first, one.second)
            assert one.difference == pytest.approx(difference, rel=1e-8, abs=1e-10)
            assert one.p == pytest.approx(2 * stats.t.sf(abs(difference) / error, freedom), rel=1e-6, abs=1e-12)
            assert isinstance(one.interval, Interval)
            assert (one.interval.low > 0 or one.interval.high < 0) == one.shown, "it leaves 0 out just if it is shown"


@pytest.mark.parametrize("empty", [0, 1, 2])
def test_a_setting_without_values_is_left_out_wherever_it_stands(empty: int) -> None:
    """The others are compared as if it were not in the trial, by their own places: a first setting that is not tried
    yet once stood in for the second.
    """
    used = [n for n in range(3) if n != empty]
    cells = [[[]] * 2 if n == empty else TOOTH_GROWTH[0][:2] if n == used[0] else TOOTH_GROWTH[1][:2] for n in range(3)]
    without = compare_factors([row[:2] for row in TOOTH_GROWTH])
    for found, factor in (
        (compare_factors(cells), 0),
        (compare_factors([list(row) for row in zip(*cells, strict=True)]), 1),
    ):
        effect = effects(found)[factor]
        (one,), (expected,) = effect.differences, effects(without)[0].differences
        assert (one.first, one.second) == tuple(used)
        assert effect.counts == tuple(0 if n == empty else 20 for n in range(3))
        assert (one.difference, one.p) == pytest.approx((expected.difference, expected.p))
        assert effects(found)[1 - factor].differences[0].difference == pytest.approx(
            effects(without)[1].differences[0].difference
        )


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6))
def test_the_interaction_is_an_f_test_of_two_models(seed: int) -> None:
    """numpy's residuals of the model with and without it, scipy's F distribution."""
    draw = random.Random(seed)
    cells = [[[draw.gauss(n * m, 1) for _ in range(draw.randint(1, 4) + (n == m))] for m in range(3)] for n in range(2)]
    found = compare_factors(cells)
    rows = [[1.0, n, m == 1, m == 2] for n in range(2) for m in range(3) for _ in cells[n][m]]
    y = np.array([value for row in cells for cell in row for value in cell])
    x = np.array(rows, dtype=float)
    left = float(np.sum((y - x @ np.linalg.lstsq(x, y, rcond=None)[0]) ** 2))
    inside = sum(float(np.sum((np.array(cell) - np.mean(cell)) ** 2)) for row in cells for cell in row)
    freedom = len(y) - 6
    assert not isinstance(found.interaction, Missing)
    assert found.interaction.p == pytest.approx(stats.f.sf((left - inside) / 2 / (inside / freedom), 2, freedom))


def test_as_many_numbers_as_values_leave_no_spread_to_judge_by() -> None:
    """Three values for a mean and two effects: 2 and 1, and nothing is left over."""
    found = compare_factors([[[1.0], [2.0]], [[3.0], []]])
    first, second = effects(found)
    assert found.deviation is Missing.TOO_FEW
    for (one,), difference in ((first.differences, 2.0), (second.differences, 1.0)):
        assert one.difference == pytest.approx(difference)
        assert (one.p, one.interval) == (Missing.TOO_FEW, Missing.TOO_FEW)
    assert found.tries == 1


@pytest.mark.parametrize("steps", [(0.1, 0.1, 0.1, 0.1), (-0.7, -0.1, 0.1, 0.7)], ids=["all", "in each setting"])
def test_the_rounding_of_a_mean_is_no_spread(steps: tuple[float, float, float, float]) -> None:
    """Three times 0.1 by 3 is not 0.1: with the values all the same, or the mean of them all 0."""
    a, b, c, d = ([one] * 3 for one in steps)
    assert compare_factors([[a, b], [c, d]]).deviation is Missing.CONSTANT


def test_without_doubles_the_spread_is_what_is_left_and_no_interaction_is_told() -> None:
    """One value each, by hand: rows 1 2 / 3 5: effects 2.5 and 1.5, what is left 0.25 on one degree of freedom."""
    found = compare_factors([[[1.0], [2.0]], [[3.0], [5.0]]])
    first, second = effects(found)
    assert (first.differences[0].difference, second.differences[0].difference) == pytest.approx((2.5, 1.5))
    assert found.deviation == pytest.approx(0.5)
    assert found.interaction is Missing.TOO_FEW


def test_a_missing_setting_leaves_the_effects_and_takes_the_interaction() -> None:
    found = compare_factors([[[1.0, 1.2], [2.0, 2.1]], [[3.0, 3.1], []]])
    assert [one.difference for effect in effects(found) for one in effect.differences] == pytest.approx([1.95, 0.95])
    assert found.interaction is Missing.EMPTY


def test_factors_changed_together_cannot_be_told_apart() -> None:
    assert compare_factors([[[1.0, 1.2], []], [[], [3.0, 3.1]]]).effects is Missing.NO_LIMIT


def test_a_setting_without_any_value_is_left_out() -> None:
    found = compare_factors([[[1.0, 1.2], [2.0, 2.1]], [[], []], [[3.0, 3.1], [4.0, 4.2]]])
    first, _ = effects(found)
    assert [(one.first, one.second) for one in first.differences] == [(0, 2)]
    assert first.counts == (4, 0, 4)


def test_one_setting_of_a_factor_has_nothing_to_compare() -> None:
    first, second = effects(compare_factors([[[1.0, 1.1], [2.0, 2.2]], [[], []]]))
    assert first.differences == ()
    assert len(second.differences) == 1


@pytest.mark.parametrize(
    ("cells", "why"),
    [
        ([[[], []], [[], []]], Missing.EMPTY),
        ([[[math.inf], []], [[1.0], []]], Missing.NOT_A_NUMBER),
    ],
)
def test_nothing_and_no_numbers(cells: list[list[list[float]]], why: Missing) -> None:
    assert compare_factors(cells).effects is why


def test_equal_values_have_no_spread_to_judge_by() -> None:
    found = compare_factors([[[1.1] * 3, [1.1] * 3], [[2.2] * 3, [2.2] * 3]])
    first, second = effects(found)
    assert found.deviation is Missing.CONSTANT
    assert found.interaction is Missing.CONSTANT
    assert first.differences[0].p is Missing.CONSTANT
    assert second.differences[0].difference == pytest.approx(0.0, abs=1e-12)


def test_all_effects_and_the_interaction_together_have_few_false_alarms() -> None:
    """2,000 trials of nothing, 3 by 2 settings with 1 to 4 values: at most 5 % with anything shown, within luck."""
    draw = random.Random(5)
    shown = 0
    for _ in range(2000):
        cells = [[[draw.gauss(0, 1) for _ in range(draw.randint(1, 4))] for _ in range(2)] for _ in range(3)]
        found = compare_factors(cells)
        some = any(one.shown for effect in effects(found) for one in effect.differences)
        shown += some or (not isinstance(found.interaction, Missing) and found.interaction.shown)
    assert shown <= stats.binom.ppf(0.999, 2000, 0.05)


def test_shares_are_compared_inside_each_setting_of_the_other_factor() -> None:
    """Brute force over all ways that keep the good of each setting of the other factor; one stratum is Fisher's."""
    cells = [[(3, 4), (1, 3)], [(1, 4), (0, 3)]]
    first, second = effects(compare_factor_shares(cells))
    chances: dict[int, int] = {}
    for x, y in product(range(5), range(2)):
        ways = math.comb(4, x) * math.comb(4, 4 - x) * math.comb(3, y) * math.comb(3, 1 - y)
        chances[x + y] = chances.get(x + y, 0) + ways
    whole = sum(chances.values())
    own = chances[4]
    assert first.differences[0].p == pytest.approx(sum(one for one in chances.values() if one <= own) / whole)
    assert first.differences[0].difference == pytest.approx((2 * -0.5 + 1.5 * -1 / 3) / 3.5), "Mantel and Haenszel"
    assert second.counts == (8, 6)

    only, _ = effects(compare_factor_shares([[(5, 6), (0, 0)], [(1, 6), (0, 0)]]))
    assert only.differences[0].p == pytest.approx(compute_fisher(5, 6, 1, 6))


def test_shares_of_factors_changed_together_tell_nothing() -> None:
    assert compare_factor_shares([[(5, 6), (0, 0)], [(0, 0), (1, 6)]]).effects is Missing.NO_LIMIT


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ImpossibleFigure):
        compare_factors([[[1.0]], [[1.0], [2.0]]])
    with pytest.raises(ImpossibleFigure):
        compare_factor_shares([[(3, 2)], [(0, 0)]])
