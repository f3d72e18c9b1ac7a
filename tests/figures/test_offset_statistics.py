"""Offsets against earlier ones: published factors, scipy, and how often the band raises a false alarm."""

import math
import statistics

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from floor.figures.errors import Impossible
from floor.figures.offset_statistics import (
    FALSE_ALARMS,
    FEWEST,
    RECENT,
    Tilt,
    Verdict,
    compare_with_earlier,
    compute_tilt,
    get_band_factor,
    get_scale_factor,
    judge_offset,
)

STEP = 0.001
OFFSETS = st.lists(st.floats(-500, 500), min_size=FEWEST, max_size=30)


@pytest.mark.parametrize(
    ("count", "factor"),
    [(4, 2.0164), (5, 1.8056), (6, 1.7628), (7, 1.6876), (8, 1.6717), (9, 1.6326), (10, 1.6254)],
)
def test_factors_of_few_values(count: int, factor: float) -> None:
    """A table in published R code for small samples, itself simulated."""
    assert get_scale_factor(count) == pytest.approx(factor, rel=1e-3)


@pytest.mark.parametrize("count", [*range(4, 14), 20, 45])
def test_factors_by_simulation(count: int) -> None:
    """The mean MAD of normal samples, by scipy, scaled to the standard deviation of 1."""
    samples = np.random.default_rng(count).standard_normal((60_000, count))
    mad = stats.median_abs_deviation(samples, axis=1).mean()

    assert get_scale_factor(count) * mad == pytest.approx(1.0, rel=0.012)


def test_factor_of_very_many_values() -> None:
    """scipy's scale for normal data, 1.4826."""
    assert get_scale_factor(10**9) == pytest.approx(1 / stats.norm.ppf(0.75), abs=1e-6)


@pytest.mark.parametrize("count", range(FEWEST, RECENT + 1))
def test_usual_offsets_fall_outside_the_band_once_in_370(count: int) -> None:
    """Of each simulated sample the chance that one more value of its law lies outside is worked out by scipy's normal
    law, so that 200,000 samples tell it well, a million where they are few; other samples than those the table was made
    from."""
    samples = np.random.default_rng(1000 + count).standard_normal((1_000_000 if count < 6 else 200_000, count))
    middle = np.median(samples, axis=1)
    half = get_band_factor(count) * get_scale_factor(count) * stats.median_abs_deviation(samples, axis=1)
    outside = stats.norm.sf(half - middle) + stats.norm.cdf(-half - middle)

    assert outside.mean() == pytest.approx(FALSE_ALARMS, rel=0.05 if count < 6 else 0.06)
    assert pytest.approx(2 * stats.norm.sf(3), rel=1e-3) == FALSE_ALARMS


@pytest.mark.parametrize("steps", [0.2, 0.5, 1, 2, 4, 10])
def test_false_alarms_of_the_whole_rule_with_rounded_offsets(steps: float) -> None:
    """20,000 new offsets against 12 earlier ones, their spread so many reading steps."""
    rng = np.random.default_rng(7)
    offsets = np.round(rng.normal(100, steps * STEP, (20_000, 13)) / STEP) * STEP
    alarms = sum(
        compare_with_earlier(new, earlier, resolution=STEP).verdict is Verdict.UNUSUAL
        for *earlier, new in offsets.tolist()
    )
    assert alarms / 20_000 < FALSE_ALARMS


def test_the_band_is_wider_than_the_best_there_is_and_comes_near_it() -> None:
    """Student's interval for one more value, t·s·√(1 + 1/n) (Hahn 1970; scipy's t): no rule for normal values is
    narrower. Robustness has its price."""
    for count in range(FEWEST, RECENT + 1):
        best = stats.t.isf(FALSE_ALARMS / 2, count - 1) * math.sqrt(1 + 1 / count)
        assert best * 0.99 < get_band_factor(count)
    assert get_band_factor(20) < 1.3 * stats.t.isf(FALSE_ALARMS / 2, 19) * math.sqrt(1 + 1 / 20)


def test_too_few_to_tell() -> None:
    assert compare_with_earlier(5, [1, 1, 1], resolution=STEP).verdict is Verdict.TOO_FEW
    assert compare_with_earlier(5, [1, 1, 1, 1], resolution=STEP).verdict is Verdict.UNUSUAL
    assert judge_offset(5, [], resolution=STEP).verdict is Verdict.TOO_FEW


def test_how_far_in_half_widths() -> None:
    """Median 10, deviations 0 1 1 2 2 3 3 (hundredths): MAD 0.02 and half a step; 1.6875 · 11.13 of it is half the
    band (by hand)."""
    earlier = [10.0, 10.01, 9.99, 10.02, 9.98, 10.03, 9.97]
    found = compare_with_earlier(10.5, earlier, resolution=STEP)

    assert found.center == 10.0
    assert found.half_width == pytest.approx(0.0205 * 1.6875 * 11.13)
    assert found.distance == pytest.approx(0.5 / (0.0205 * 1.6875 * 11.13))
    assert found.verdict is Verdict.UNUSUAL
    assert compare_with_earlier(10 - 0.37, earlier, resolution=STEP).verdict is Verdict.USUAL
    assert compare_with_earlier(9.5, earlier, resolution=STEP).distance == pytest.approx(-(found.distance or 0))


def test_offsets_that_were_all_the_same_leave_the_steps_they_are_read_in() -> None:
    """12 alike: half a step · 1.593 · 5.55 is 4.4 steps, so four more are usual and five are not (by hand)."""
    assert compare_with_earlier(7 + 4 * STEP, [7.0] * 12, resolution=STEP).verdict is Verdict.USUAL
    assert compare_with_earlier(7 + 5 * STEP, [7.0] * 12, resolution=STEP).verdict is Verdict.UNUSUAL
    assert compare_with_earlier(
        7 + 5 * STEP, [7.0] * 12, resolution=STEP, least_half_width=0.01
    ).distance == pytest.approx(0.5)


def test_wrong_offsets_before_do_not_hide_the_next() -> None:
    """Three of twelve on another carrier's offset, 150 mm away; by mean and standard deviation the new one is usual."""
    rng = np.random.default_rng(3)
    earlier = [*rng.normal(100, 0.005, 9).tolist(), 250, 250, 250]
    assert abs(250 - statistics.mean(earlier)) / statistics.stdev(earlier) < 3

    assert compare_with_earlier(250, earlier, resolution=STEP).verdict is Verdict.UNUSUAL
    assert compare_with_earlier(100.004, earlier, resolution=STEP).verdict is Verdict.USUAL


def test_siblings_speak_where_the_carrier_cannot() -> None:
    siblings = [[10.0, 10.01], [10.02, 10.0, 10.01], [9.99], [10.0] * 30, []]

    new = judge_offset(10.3, [], siblings, resolution=STEP)
    assert (new.own.verdict, new.siblings.verdict, new.verdict) == (Verdict.TOO_FEW, Verdict.UNUSUAL, Verdict.UNUSUAL)
    assert new.siblings.count == 4, "each counts once, by its median"
    assert judge_offset(10.01, [], siblings, resolution=STEP).verdict is Verdict.USUAL
    assert judge_offset(10.3, [], siblings[:3], resolution=STEP).verdict is Verdict.TOO_FEW


def test_a_carrier_that_always_differed_is_usual() -> None:
    own, siblings = [10.3, 10.301, 10.299, 10.3, 10.302, 10.298], [[10.0], [10.01], [9.99], [10.0]]
    found = judge_offset(10.301, own, siblings, resolution=STEP)
    assert (found.verdict, found.siblings.verdict) == (Verdict.USUAL, Verdict.UNUSUAL)


def test_old_offsets_are_forgotten() -> None:
    """With a new vise 25 offsets ago, the old ones say nothing."""
    assert judge_offset(10.0, [10.0] * 40 + [20.0] * 25, resolution=STEP).verdict is Verdict.UNUSUAL
    assert judge_offset(20.0, [10.0] * 40 + [20.0] * 25, resolution=STEP).own.count == RECENT


@given(earlier=OFFSETS, value=st.floats(-500, 500), by=st.floats(-1000, 1000))
def test_where_the_zero_is_does_not_matter(earlier: list[float], value: float, by: float) -> None:
    one = compare_with_earlier(value, earlier, resolution=STEP)
    other = compare_with_earlier(value + by, [each + by for each in earlier], resolution=STEP)
    assert other.distance == pytest.approx(one.distance, abs=1e-6, rel=1e-6)


@given(earlier=OFFSETS, value=st.floats(-500, 500))
def test_inches_say_the_same(earlier: list[float], value: float) -> None:
    one = compare_with_earlier(value, earlier, resolution=STEP)
    other = compare_with_earlier(value / 25.4, [each / 25.4 for each in earlier], resolution=STEP / 25.4)
    assert other.distance == pytest.approx(one.distance, abs=1e-9)


@given(earlier=st.lists(st.floats(-500, 500), min_size=9, max_size=20), wild=st.floats(-1e6, 1e6))
def test_one_wild_value_moves_the_middle_no_farther_than_to_its_neighbor(earlier: list[float], wild: float) -> None:
    found = compare_with_earlier(0, [*earlier[:-1], wild], resolution=STEP)
    kept = sorted(earlier[:-1])
    assert found.center is not None
    assert kept[len(kept) // 2 - 1] <= found.center <= kept[(len(kept) + 1) // 2]


POINTS = st.lists(st.tuples(st.floats(0, 400), st.floats(0, 300), st.floats(-5, 5)), min_size=3, max_size=12)


@given(POINTS)
def test_tilt_is_numpys_least_squares(points: list[tuple[float, float, float]]) -> None:
    at = np.array([[x, y, 1.0] for x, y, _ in points])
    heights = np.array([z for *_, z in points])
    spread = np.linalg.svd(at[:, :2] - at[:, :2].mean(axis=0), compute_uv=False)
    found = compute_tilt(points)
    if spread[1] < 0.01 * spread[0] or spread[0] < 1:
        return  # nearly on one line: both answers are mostly rounding
    (slope_x, slope_y, level), *_ = np.linalg.lstsq(at, heights, rcond=None)
    plane = at @ np.array([slope_x, slope_y, level])

    assert found is not None
    assert (found.slope_x, found.slope_y) == (pytest.approx(slope_x, abs=1e-7), pytest.approx(slope_y, abs=1e-7))
    assert found.fall == pytest.approx(np.ptp(plane), abs=1e-6)
    assert found.residual == pytest.approx(abs(heights - plane).max(), abs=1e-6)


def test_tilt_by_hand() -> None:
    """A chip of 0.1 mm under one edge of 200 mm: 0.0005 a millimeter."""
    found = compute_tilt([(0, 0, 5), (200, 0, 5.1), (0, 100, 5), (200, 100, 5.1)])
    assert found == Tilt(pytest.approx(0.0005), pytest.approx(0, abs=1e-15), pytest.approx(0.1), pytest.approx(0))


def test_places_that_span_no_plane_have_no_tilt() -> None:
    assert compute_tilt([]) is None
    assert compute_tilt([(0, 0, 1), (5, 5, 2)]) is None
    assert compute_tilt([(0, 0, 1), (5, 5, 2), (9, 9, 1)]) is None
    assert compute_tilt([(3, 3, 1)] * 4) is None


@pytest.mark.parametrize("wrong", [
    lambda: compare_with_earlier(math.nan, [1] * 5, resolution=1),
    lambda: compare_with_earlier(1, [1, math.inf, 1, 1], resolution=1),
    lambda: compare_with_earlier(1, [1] * 5, resolution=0),
    lambda: compare_with_earlier(1, [1] * 5, resolution=1, least_half_width=-1),
    lambda: judge_offset(1, [math.nan], resolution=1),
    lambda: compute_tilt([(0, 0, math.nan)] * 3),
])  # fmt: skip
def test_nonsense_is_refused(wrong: object) -> None:
    with pytest.raises(Impossible):
        wrong()  # type: ignore[operator]
