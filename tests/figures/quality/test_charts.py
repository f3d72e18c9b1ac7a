"""Constants and charts against published examples."""

import math
import statistics

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.chart_constants import LARGEST_RANGE, compute_c4, get_range_constants
from floor.figures.quality.control_charts import (
    Chart,
    ChartPoint,
    ControlLimits,
    compute_deviation_charts,
    compute_individuals_charts,
    compute_p_chart,
    compute_range_charts,
)
from floor.figures.quality.missing import Missing
from tests.figures.quality.published import FLOW_RATES, RINGS, VISCOSITIES, WAFERS


def limits_of(chart: Chart, n: int = 0) -> ControlLimits:
    limits = chart.points[n].limits
    assert limits is not None
    return limits


def signals_of(chart: Chart) -> list[int]:
    """From 1."""
    return [n for n, point in enumerate(chart.points, 1) if point.out]


@pytest.mark.parametrize(("size", "d2_printed", "d3_printed", "c4", "a2", "lower", "upper"), [
    (2, 1.12838, 0.85250, 0.797885, 1.8800, 0, 3.2665),
    (3, 1.69257, 0.88837, 0.886227, 1.0233, 0, 2.5746),
    (5, 2.32593, 0.86408, 0.939986, 0.5768, 0, 2.1145),
    (7, 2.70436, 0.83321, 0.959369, 0.4193, 0.0757, 1.9243),
    (10, 3.07751, 0.79705, 0.972659, 0.3083, 0.2230, 1.7770),
])  # fmt: skip
def test_constants_of_the_tables(
    size: int, d2_printed: float, d3_printed: float, c4: float, a2: float, lower: float, upper: float
) -> None:
    """As in the tables of Montgomery's *Introduction to Statistical Quality Control*, to one more digit by scipy."""
    d2, d3 = get_range_constants(size)

    assert (d2, d3, 3 / d2 / math.sqrt(size)) == pytest.approx((d2_printed, d3_printed, a2), abs=5e-5)
    assert compute_c4(size) == pytest.approx(c4, abs=5e-7)
    assert list_limits_over_mean(d2, d3) == pytest.approx([lower, upper], abs=6e-5)


def list_limits_over_mean(mean: float, swing: float) -> list[float]:
    """D3 and D4 of the range, B3 and B4 of the standard deviation."""
    return [max(0, 1 - 3 * swing / mean), 1 + 3 * swing / mean]


@pytest.mark.parametrize(("size", "a3", "lower", "upper"), [(5, 1.427, 0, 2.089), (10, 0.975, 0.284, 1.716)])
def test_constants_for_standard_deviations(size: int, a3: float, lower: float, upper: float) -> None:
    """A3, B3 and B4 as tabled in the same book (from memory)."""
    c4 = compute_c4(size)

    found = [3 / c4 / math.sqrt(size), *list_limits_over_mean(c4, math.sqrt(1 - c4 * c4))]
    assert found == pytest.approx([a3, lower, upper], abs=5e-4)


@pytest.mark.parametrize("size", [2, 3, 4, 5, 8, 11, 16, 20, LARGEST_RANGE])
def test_range_constants_by_integration(size: int) -> None:
    """Mean and variance of the range of normal values, by scipy's normal law on a grid of least and greatest value."""
    step = 0.01
    below = stats.norm.cdf(np.arange(-8, 8, step))
    mean = (1 - (1 - below) ** size - below**size).sum() * step
    x, y = below[:, None], below[None, :]
    outside = 1 - y**size - (1 - x) ** size + (y - x).clip(0) ** size
    above = (np.triu(outside, 1).sum() + np.diag(outside).sum() / 2) * step**2

    d2, d3 = get_range_constants(size)
    assert d2 == pytest.approx(mean, abs=1e-8)
    assert d3 == pytest.approx(math.sqrt(2 * above - mean**2), abs=3e-5)


def test_all_constants_change_steadily_with_size() -> None:
    sizes = range(2, LARGEST_RANGE + 1)
    rows = [(*get_range_constants(size), compute_c4(size)) for size in sizes]
    for rising in ([d2 for d2, _, _ in rows], [c4 for _, _, c4 in rows]):
        assert sorted(rising) == rising
    for falling in (
        [3 / d2 / math.sqrt(size) for size, (d2, _, _) in zip(sizes, rows, strict=True)],
        [3 / c4 / math.sqrt(size) for size, (_, _, c4) in zip(sizes, rows, strict=True)],
        [math.sqrt(1 - c4 * c4) / c4 for _, _, c4 in rows],
        [d3 / d2 for d2, d3, _ in rows],
    ):
        assert sorted(falling, reverse=True) == falling
    # d3 has its greatest value at 3; the second differences show a slip in a single row.
    spreads = [d3 for _, d3, _ in rows[1:]]
    bends = [a - 2 * b + c for a, b, c in zip(spreads, spreads[1:], spreads[2:], strict=False)]
    assert all(abs(one) < 0.01 for one in bends)
    assert all(0 < one < 0.004 for one in bends[4:])


@pytest.mark.parametrize("size", [-1, 0, 1, LARGEST_RANGE + 1])
def test_no_constants_of_other_sizes(size: int) -> None:
    with pytest.raises(ImpossibleFigure, match="subgroup"):
        get_range_constants(size)


def test_c4_of_very_many_values() -> None:
    """1 - 1/(4n) to the second order, NIST/SEMATECH e-Handbook 6.3.2.1 (from memory)."""
    assert compute_c4(5000) == pytest.approx(1 - 1 / (4 * 5000), abs=1e-7)


def test_p_chart_of_wafers() -> None:
    """NIST/SEMATECH e-Handbook 6.3.3.2; limits as printed for Montgomery's juice cans in the vignette of qcc."""
    chart = compute_p_chart([(round(50 * share), 50) for share in WAFERS])

    limits = limits_of(chart)
    found = (limits.center, limits.lower, limits.upper, limits.sigma)
    assert found == pytest.approx((0.2313333, 0.05242755, 0.4102391, 0.05963526), abs=1e-7)
    assert signals_of(chart) == [15, 23]
    assert chart.missing is None


def test_p_chart_of_some_wafers() -> None:
    """The same vignette: by the limits of all but wafers 15 and 23, wafer 21 is beyond them as well."""
    chart = compute_p_chart([(round(50 * share), 50) for n, share in enumerate(WAFERS, 1) if n not in (15, 23)])

    limits = limits_of(chart)
    assert (limits.center, limits.lower, limits.upper) == pytest.approx((0.215, 0.04070284, 0.3892972), abs=1e-7)
    assert [n for n, share in enumerate(WAFERS, 1) if ChartPoint(share, limits).out] == [15, 21, 23]


def test_each_load_of_a_p_chart_has_limits_for_its_size() -> None:
    """p ± 3 √(p (1 − p) / n): the formula of NIST/SEMATECH e-Handbook 6.3.3.2, within 0 to 1."""
    chart = compute_p_chart([(1, 10), (9, 90), (10, 100), (0, 0), (20, 200), (1, 10)])

    share = 41 / 410
    for n, size in ((0, 10), (1, 90), (4, 200)):
        half = 3 * math.sqrt(share * (1 - share) / size)
        limits = limits_of(chart, n)
        assert (limits.lower, limits.upper) == pytest.approx((max(0, share - half), share + half))
    assert (chart.points[3].value, chart.points[3].limits, chart.points[3].score) == (None, None, None)
    assert not chart.points[3].out
    assert chart.points[0].score == pytest.approx((0.1 - share) / math.sqrt(share * (1 - share) / 10))


def test_limits_of_a_share_end_at_one() -> None:
    chart = compute_p_chart([(4, 5), (5, 5), (5, 5), (5, 5), (4, 5)])

    assert limits_of(chart).upper == 1


@pytest.mark.parametrize(("counts", "missing"), [
    ([], Missing.EMPTY),
    ([(0, 0)] * 6, Missing.EMPTY),
    ([(1, 5)] * 4, Missing.TOO_FEW),
    ([(0, 5)] * 9, Missing.CONSTANT),
    ([(5, 5)] * 9, Missing.CONSTANT),
])  # fmt: skip
def test_a_p_chart_without_limits_says_why_and_keeps_its_points(counts, missing: Missing) -> None:
    chart = compute_p_chart(counts)

    assert chart.missing is missing
    assert [point.value for point in chart.points] == [bad / all_ if all_ else None for bad, all_ in counts]
    assert not any(point.out or point.score is not None or point.limits for point in chart.points)


@pytest.mark.parametrize("count", [(2, 1), (-1, 4)])
def test_impossible_counts_are_refused(count: tuple[int, int]) -> None:
    with pytest.raises(ImpossibleFigure, match="pieces"):
        compute_p_chart([count] * 6)


def test_individuals_of_flow_rates() -> None:
    """NIST/SEMATECH e-Handbook 6.3.2.2 prints 45.8159 and 55.8041, with d2 rounded to 1.128."""
    charts = compute_individuals_charts(FLOW_RATES)

    limits = limits_of(charts.location)
    assert (limits.center, limits.lower, limits.upper) == pytest.approx((50.81, 45.8159, 55.8041), abs=2e-3)
    assert (limits.lower, limits.upper) == pytest.approx((45.8176, 55.8024), abs=5e-5)
    ranges = limits_of(charts.spread, 1)
    assert (ranges.center, ranges.lower, ranges.upper) == pytest.approx((1.8778, 0, 6.135), abs=2e-3)
    assert charts.spread.points[0].value is None
    assert signals_of(charts.location) == signals_of(charts.spread) == []


def test_individuals_of_viscosities() -> None:
    """Montgomery's viscosities as printed in the vignette of qcc, d2 rounded to 1.128."""
    charts = compute_individuals_charts(VISCOSITIES)

    limits = limits_of(charts.location)
    assert (limits.center, limits.lower, limits.upper) == pytest.approx((34.088, 32.56504, 35.61096), abs=6e-4)
    assert charts.sigma == pytest.approx(0.5076521, rel=4e-4)
    assert signals_of(charts.location) == [4]


def test_a_gap_has_no_moving_range() -> None:
    charts = compute_individuals_charts([1.0, 3.0, None, 4.0, 5.0, 9.0, 9.5])

    assert [point.value for point in charts.spread.points] == [None, 2, None, None, 1, 4, 0.5]
    assert charts.sigma == pytest.approx(7.5 / 4 / get_range_constants(2)[0])
    assert limits_of(charts.location).center == pytest.approx(31.5 / 6)


@pytest.mark.parametrize(("values", "missing"), [
    ([], Missing.EMPTY),
    ([None, None], Missing.EMPTY),
    ([1.0, 2.0], Missing.TOO_FEW),
    ([1.0, None, 2.0, None, 3.0, None, 2.0, None, 1.0], Missing.TOO_FEW),
    ([7.0] * 8, Missing.CONSTANT),
    ([5e9, 5e9, 5e9 + 1e-6, 5e9, 5e9], Missing.CONSTANT),
    ([0.0, 0.0, 5e-324, 0.0, 0.0], Missing.CONSTANT),
    ([1.0, math.nan, 2.0, 3.0, 4.0, 5.0], Missing.NOT_A_NUMBER),
    ([1.0, 1e200, 2.0, 3.0, 4.0, 5.0], Missing.TOO_LARGE),
])  # fmt: skip
def test_individuals_without_limits_say_why(values, missing: Missing) -> None:
    charts = compute_individuals_charts(values)

    assert (charts.location.missing, charts.spread.missing, charts.sigma) == (missing, missing, missing)
    assert charts.freedom is missing
    assert len(charts.location.points) == len(charts.spread.points) == len(values)
    shown = [point.value for point in charts.location.points]
    unfit = missing in (Missing.NOT_A_NUMBER, Missing.TOO_LARGE)
    assert shown == ([None] * len(values) if unfit else values)


def test_means_and_ranges_of_rings() -> None:
    """Montgomery's piston rings as printed in the vignette of qcc."""
    charts = compute_range_charts(RINGS)

    means, ranges = limits_of(charts.location), limits_of(charts.spread)
    assert (means.center, means.lower, means.upper) == pytest.approx((74.00118, 73.98805, 74.0143), abs=1e-5)
    assert (ranges.center, ranges.lower, ranges.upper) == pytest.approx((0.02276, 0, 0.04812533), abs=1e-6)
    assert charts.sigma == pytest.approx(0.009785039, abs=4e-7)  # printed with d2 as 2.326
    assert signals_of(charts.location) == []


def test_means_and_ranges_from_their_sums() -> None:
    """Montgomery and Runger, *Applied Statistics and Probability for Engineers*, solution 15-1: 35 groups of 5 with sum
    of means 7805, sum of ranges 1200; printed 203.22, 242.78 and, with D4 = 2.115, 72.51."""
    middle, half = 7805 / 35, 1200 / 70
    charts = compute_range_charts([[middle - half, middle, middle, middle, middle + half]] * 35)

    means = limits_of(charts.location)
    assert (means.lower, means.upper) == pytest.approx((203.22, 242.78), abs=0.01)
    assert limits_of(charts.spread).upper == pytest.approx(72.497, abs=1e-3)
    assert charts.sigma == pytest.approx(14.74, abs=5e-3)


def test_means_and_standard_deviations_of_rings() -> None:
    """The same rings: center and upper limit of s as the R package qcc prints them (from memory)."""
    charts = compute_deviation_charts(RINGS)

    deviations = limits_of(charts.spread)
    found = (deviations.center, deviations.lower, deviations.upper)
    assert found == pytest.approx((0.009240037, 0, 0.01930242), abs=1e-8)
    assert deviations.center == pytest.approx(statistics.fmean(statistics.stdev(group) for group in RINGS))
    assert limits_of(charts.location).upper == pytest.approx(74.00118 + 3 * 0.009240037 / 0.939986 / 5**0.5, abs=1e-5)


@pytest.mark.parametrize("compute", [compute_range_charts, compute_deviation_charts])
def test_subgroups_of_unequal_size(compute) -> None:
    """Limits of each for its own size; a gap and a single value take no part in sigma."""
    groups = [*RINGS[:6], RINGS[6][:3], [], [74.05], RINGS[9]]
    charts = compute(groups)

    center = statistics.fmean(value for group in groups for value in group)
    for n, size in ((0, 5), (6, 3), (8, 1)):
        limits = limits_of(charts.location, n)
        half = 3 * charts.sigma / math.sqrt(size)
        assert (limits.lower, limits.upper) == pytest.approx((center - half, center + half))
    (d2, d3), c4 = get_range_constants(3), compute_c4(3)
    of_three = limits_of(charts.spread, 6)
    mean, swing = (d2, d3) if compute is compute_range_charts else (c4, math.sqrt(1 - c4 * c4))
    assert of_three.center == pytest.approx(charts.sigma * mean)
    assert (of_three.lower, of_three.upper) == pytest.approx((0, charts.sigma * (mean + 3 * swing)))
    gap, single = charts.spread.points[7], charts.spread.points[8]
    assert (gap.value, gap.limits, single.value, single.limits) == (None, None, None, None)
    assert charts.location.points[7].value is None


@pytest.mark.parametrize(("compute", "measure", "of_size"), [
    (compute_range_charts, lambda group: max(group) - min(group), get_range_constants),
    (compute_deviation_charts, statistics.stdev, lambda size: (compute_c4(size), math.sqrt(1 - compute_c4(size)**2))),
], ids=["range", "deviation"])  # fmt: skip
def test_sigma_of_unequal_subgroups_has_the_least_variance(compute, measure, of_size) -> None:
    """Weights 1 / variance of each estimate (Gauss-Markov): no other weights are better."""
    groups = [RINGS[0], RINGS[1][:2], RINGS[2][:4], RINGS[3], RINGS[4][:3]]
    terms = []
    for group in groups:
        mean, swing = of_size(len(group))
        terms.append((measure(group) / mean, (swing / mean) ** 2))
    wanted = sum(sigma / variance for sigma, variance in terms) / sum(1 / variance for _, variance in terms)

    assert compute(groups).sigma == pytest.approx(wanted)


@pytest.mark.parametrize(("groups", "size", "freedom"), [
    (5, 2, 4.6), (10, 2, 9.0), (20, 2, 17.8), (5, 3, 9.3), (10, 3, 18.4), (5, 4, 13.9), (10, 4, 27.6), (5, 5, 18.4),
    (10, 5, 36.5), (20, 5, 72.7),
])  # fmt: skip
def test_freedom_of_ranges(groups: int, size: int, freedom: float) -> None:
    """Duncan's table of d2* (A. J. Duncan, *Quality Control and Industrial Statistics*; from memory)."""
    values = [[float(n % 3), *(float(n % 3 + 1 + k) for k in range(size - 1))] for n in range(groups)]

    assert compute_range_charts(values).freedom == pytest.approx(freedom, rel=0.02)


@pytest.mark.parametrize(("groups", "size"), [(5, 2), (12, 5), (8, 30)])
def test_freedom_of_deviations(groups: int, size: int) -> None:
    """Of pooled variances, which tell the most, groups × (size − 1); standard deviations tell a little less."""
    found = compute_deviation_charts([[float((3 * n + k * k) % 7) for k in range(size)] for n in range(groups)]).freedom

    assert found == pytest.approx(groups * (size - 1), rel=0.1)
    assert found < groups * (size - 1)


@pytest.mark.parametrize(("count", "rel"), [(25, 0.02), (100, 0.02), (1000, 0.003)])
def test_freedom_of_moving_ranges(count: int, rel: float) -> None:
    """The variance of the mean moving range is 0.8264 / (n − 1) of its square (J. D. Cryer and T. P. Ryan, Journal of
    Quality Technology 22 (1990) 187, from memory), so about 0.605 (n − 1); books print 0.62 (n − 1).
    """
    found = compute_individuals_charts([float(7 * n % 11) for n in range(count)]).freedom

    assert found == pytest.approx(0.5 / 0.8264 * (count - 1) + 0.25, rel=rel)
    assert found == pytest.approx(0.62 * (count - 1), rel=0.04)


def test_moving_ranges_that_share_no_value_are_worth_more_each() -> None:
    """Eight pairs with gaps between are eight ranges of two: Duncan's 9.0 for ten is 7.2 for eight."""
    values = [value for n in range(8) for value in (float(n % 3), float(n % 3 + 1), None)]

    assert compute_individuals_charts(values).freedom == pytest.approx(7.2, rel=0.02)


@pytest.mark.parametrize(("groups", "missing"), [
    ([], Missing.EMPTY),
    ([[]] * 6, Missing.EMPTY),
    ([[1.0, 2.0]] * 4, Missing.TOO_FEW),
    ([[1.0]] * 9, Missing.EMPTY),
    ([[1.0, 1.0]] * 9, Missing.CONSTANT),
    ([[0.0, 5e-324]] * 9, Missing.CONSTANT),
    ([[1.0, math.inf]] * 9, Missing.NOT_A_NUMBER),
    ([[1.0, -1e300]] * 9, Missing.TOO_LARGE),
])  # fmt: skip
@pytest.mark.parametrize("compute", [compute_range_charts, compute_deviation_charts])
def test_subgroups_without_limits_say_why(compute, groups, missing: Missing) -> None:
    charts = compute(groups)

    assert (charts.location.missing, charts.spread.missing, charts.sigma) == (missing, missing, missing)
    assert charts.freedom is missing
    assert len(charts.location.points) == len(groups)
    assert not any(point.out for point in (*charts.location.points, *charts.spread.points))


def test_large_subgroups_have_deviations_only() -> None:
    large = [[float(n % 7) for n in range(26)]] * 6
    with pytest.raises(ImpossibleFigure, match="26"):
        compute_range_charts(large)
    assert compute_deviation_charts(large).location.missing is None


@given(st.lists(st.one_of(st.none(), st.floats()), max_size=30))
def test_no_values_raise(values: list[float | None]) -> None:
    charts = compute_individuals_charts(values)

    assert len(charts.location.points) == len(values)
    known = [point.limits for point in charts.location.points if point.limits]
    assert all(math.isfinite(limits.upper) and limits.lower < limits.upper for limits in known)


@given(st.lists(st.lists(st.floats(), max_size=6), max_size=12))
def test_no_subgroups_raise(groups: list[list[float]]) -> None:
    for compute in (compute_range_charts, compute_deviation_charts):
        assert len(compute(groups).spread.points) == len(groups)


def test_a_point_on_a_limit_is_no_signal() -> None:
    limits = limits_of(compute_individuals_charts(VISCOSITIES).location)
    on, past = (
        [ChartPoint(end, limits).out for end in (limits.upper + off, limits.lower - off)] for off in (0.0, 1e-9)
    )

    assert (on, past) == ([False, False], [True, True])
