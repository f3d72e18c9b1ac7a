"""Shewhart charts: each point with its own limits, three sigmas either way.

The limits come from all points. A point that lies on a limit is no signal.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable, Sequence
from itertools import pairwise

from floor.dataclass import dataclass
from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.chart_constants import LARGEST_RANGE, compute_c4, get_range_constants
from floor.figures.quality.describe_values import compute_deviation
from floor.figures.quality.missing import Missing, find_missing

FEWEST_POINTS = 5
"""Fewest points with limits: from fewer, these swing too much (common practice, no source)."""
_NEIGHBORS = math.sqrt(3) / 2 + math.pi / 12 - 1
"""Covariance of two moving ranges that share a value, in squares of their mean: they are differences of normal values
with a correlation of -1/2."""
_LEAST_SPREAD, _LEAST_SPREAD_SHARE = 1e-300, 1e-14
"""Alone, and as a share of the center."""


@dataclass(frozen=True, slots=True)
class ControlLimits:
    """Center and limits of one point, and the standard deviation of such a point, in the unit of the chart."""

    center: float
    lower: float
    upper: float
    sigma: float


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One point; no value where nothing was counted or measured, no limits where the chart has none."""

    value: float | None
    limits: ControlLimits | None

    @property
    def out(self) -> bool:
        """Beyond a limit."""
        if self.value is None or self.limits is None:
            return False
        return self.value < self.limits.lower or self.value > self.limits.upper

    @property
    def score(self) -> float | None:
        """Distance from the center in sigmas of this point; None without value or limits."""
        if self.value is None or self.limits is None:
            return None
        return (self.value - self.limits.center) / self.limits.sigma


@dataclass(frozen=True, slots=True)
class Chart:
    """Points in the order given, as many as were given."""

    points: tuple[ChartPoint, ...]
    missing: Missing | None
    """Why there are no limits; None if there are."""


@dataclass(frozen=True, slots=True)
class ValueCharts:
    """The two charts of a characteristic, in its unit."""

    location: Chart
    """Single values, or means of subgroups."""
    spread: Chart
    """Moving ranges, ranges or standard deviations."""
    sigma: float | Missing
    """Standard deviation of the process within subgroups, or from value to value; unbiased."""
    freedom: float | Missing
    """Degrees of freedom of a sample standard deviation that is known as well as this sigma."""


def compute_p_chart(counts: Sequence[tuple[int, int]]) -> Chart:
    """Share bad by load, with limits for each load's own size, within 0 to 1.

    Without any bad piece, or without any good one, there are no limits: `Missing.CONSTANT`. Source:
    NIST/SEMATECH e-Handbook 6.3.3.2.

    Args:
        counts: (bad, pieces) of each load. A load of no pieces is a gap.

    Raises:
        ImpossibleFigure: more bad than pieces, or a count below 0.
    """
    for bad, pieces in counts:
        if not 0 <= bad <= pieces:
            raise ImpossibleFigure(f"{bad} bad of {pieces} pieces", "count each piece once")
    bad, pieces = (sum(column) for column in zip(*counts, strict=True)) if counts else (0, 0)
    missing = _judge_count(sum(size > 0 for _, size in counts)) or (None if 0 < bad < pieces else Missing.CONSTANT)
    values = [bad / pieces if pieces else None for bad, pieces in counts]
    if missing:
        return Chart(_draw(values, lambda n: None), missing)
    share = bad / pieces

    def limit(n: int) -> ControlLimits | None:
        if not counts[n][1]:
            return None
        sigma = math.sqrt(share * (1 - share) / counts[n][1])
        return ControlLimits(share, max(0.0, share - 3 * sigma), min(1.0, share + 3 * sigma), sigma)

    return Chart(_draw(values, limit), None)


def compute_individuals_charts(values: Sequence[float | None]) -> ValueCharts:
    """Single values, and the moving ranges of two neighbors; the range of a value stands at the later one.

    A gap has no moving range on either side. Source: NIST/SEMATECH e-Handbook 6.3.2.2.

    Args:
        values: In the order made, any unit; None is a gap.
    """
    known = [value for value in values if value is not None]
    if missing := _find_unfit(known):
        return _draw_gaps(len(values), missing)
    ranges = [None, *(_subtract(one, other) for one, other in pairwise(values))][: len(values)]
    counted = [each for each in ranges if each is not None]
    if missing := _judge_count(len(known)) or (None if counted else Missing.TOO_FEW):
        return _draw_without_limits(values, ranges, missing)
    d2, d3 = get_range_constants(2)
    center, sigma = statistics.fmean(known), math.fsum(counted) / len(counted) / d2
    if _is_rounding(sigma, center):
        return _draw_without_limits(values, ranges, Missing.CONSTANT)
    limits = _limit(center, sigma)
    limits_of_ranges = _limit_from_zero(sigma * d2, sigma * d3)
    beside = sum(one is not None and other is not None for one, other in pairwise(ranges))
    variance = ((d3 / d2) ** 2 * len(counted) + 2 * _NEIGHBORS * beside) / len(counted) ** 2
    return ValueCharts(
        Chart(_draw(values, lambda n: limits), None),
        Chart(_draw(ranges, lambda n: limits_of_ranges), None),
        sigma,
        _find_freedom(variance),
    )


def compute_range_charts(subgroups: Sequence[Sequence[float]]) -> ValueCharts:
    """Means and ranges of subgroups (X-bar and R), each with limits for its own number of values.

    Sigma is the mean of range / d2, weighted by (d2 / d3)² as sizes differ (minimum variance, Burr 1976, from
    memory); of equal sizes it is the mean range / d2. Source: NIST/SEMATECH e-Handbook 6.3.2.1.

    Args:
        subgroups: Values of each in one unit, in the order made. An empty one is a gap, one of a single value has no
            range.

    Raises:
        ImpossibleFigure: a subgroup of more than 25 values; `compute_deviation_charts` takes those.
    """
    largest = max(map(len, subgroups), default=0)
    if largest > LARGEST_RANGE:
        raise ImpossibleFigure(
            f"the range of a subgroup of {largest} values", f"use standard deviations above {LARGEST_RANGE}"
        )
    return _compute_subgroup_charts(subgroups, lambda values: max(values) - min(values), get_range_constants)


def compute_deviation_charts(subgroups: Sequence[Sequence[float]]) -> ValueCharts:
    """Means and standard deviations of subgroups (X-bar and s); arguments as in `compute_range_charts`, any size.

    Sigma is the mean of s / c4, weighted by c4² / (1 − c4²) as sizes differ (minimum variance, Burr 1976, from
    memory).
    """
    return _compute_subgroup_charts(subgroups, compute_deviation, _get_deviation_constants)


def _get_deviation_constants(size: int) -> tuple[float, float]:
    c4 = compute_c4(size)
    return c4, math.sqrt(1 - c4 * c4)


def _compute_subgroup_charts(
    subgroups: Sequence[Sequence[float]],
    measure: Callable[[Sequence[float]], float],
    factors: Callable[[int], tuple[float, float]],
) -> ValueCharts:
    """``factors`` of a size: mean and standard deviation of the measured spread, in sigmas."""
    if missing := _find_unfit([value for group in subgroups for value in group]):
        return _draw_gaps(len(subgroups), missing)
    means = [_measure_from(1, group, statistics.fmean) for group in subgroups]
    spreads = [_measure_from(2, group, measure) for group in subgroups]
    known = [(spread, len(group)) for spread, group in zip(spreads, subgroups, strict=True) if spread is not None]
    if missing := _judge_count(len(known)):
        return _draw_without_limits(means, spreads, missing)
    sigma, variance = _estimate_sigma([(spread, *factors(size)) for spread, size in known])
    center = statistics.fmean([value for group in subgroups for value in group])
    if _is_rounding(sigma, center):
        return _draw_without_limits(means, spreads, Missing.CONSTANT)

    def limit_mean(n: int) -> ControlLimits | None:
        return _limit(center, sigma / math.sqrt(len(subgroups[n]))) if subgroups[n] else None

    def limit_spread(n: int) -> ControlLimits | None:
        return None if spreads[n] is None else _limit_from_zero(*(sigma * each for each in factors(len(subgroups[n]))))

    return ValueCharts(
        Chart(_draw(means, limit_mean), None),
        Chart(_draw(spreads, limit_spread), None),
        sigma,
        _find_freedom(variance),
    )


def _measure_from(fewest: int, group: Sequence[float], measure: Callable[[Sequence[float]], float]) -> float | None:
    return measure(group) if len(group) >= fewest else None


def _estimate_sigma(spreads: Sequence[tuple[float, float, float]]) -> tuple[float, float]:
    """Sigma, and its variance in squares of itself, from (spread, its mean in sigmas, its standard deviation in
    sigmas) of each subgroup.
    """
    weights = [(mean / swing) ** 2 for _, mean, swing in spreads]
    sigmas = (weight * spread / mean for weight, (spread, mean, _) in zip(weights, spreads, strict=True))
    return math.fsum(sigmas) / math.fsum(weights), 1 / math.fsum(weights)


def _find_freedom(variance: float) -> float:
    """Of a sigma with such a variance, in squares of itself.

    Patnaik's approximation by a chi variable (P. B. Patnaik, Biometrika 37 (1950) 78), solved as Duncan's table of d2*
    is; both from memory.
    """
    return 1 / (2 * math.sqrt(1 + 2 * variance) - 2)


def _find_unfit(values: Sequence[float]) -> Missing | None:
    """Why these values cannot even be drawn; None if they can."""
    missing = find_missing(values)
    return None if missing is Missing.EMPTY else missing


def _is_rounding(sigma: float, center: float) -> bool:
    """Whether a spread is none, or so small beside the values that a float cannot tell it from none."""
    return sigma <= max(_LEAST_SPREAD, _LEAST_SPREAD_SHARE * abs(center))


def _judge_count(count: int) -> Missing | None:
    if not count:
        return Missing.EMPTY
    return Missing.TOO_FEW if count < FEWEST_POINTS else None


def _subtract(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else abs(one - other)


def _limit(center: float, sigma: float) -> ControlLimits:
    return ControlLimits(center, center - 3 * sigma, center + 3 * sigma, sigma)


def _limit_from_zero(center: float, sigma: float) -> ControlLimits:
    return ControlLimits(center, max(0.0, center - 3 * sigma), center + 3 * sigma, sigma)


def _draw(values: Sequence[float | None], limit: Callable[[int], ControlLimits | None]) -> tuple[ChartPoint, ...]:
    return tuple(ChartPoint(value, limit(n)) for n, value in enumerate(values))


def _draw_gaps(count: int, missing: Missing) -> ValueCharts:
    return _draw_without_limits([None] * count, [None] * count, missing)


def _draw_without_limits(
    values: Sequence[float | None], spreads: Sequence[float | None], missing: Missing
) -> ValueCharts:
    location, spread = (Chart(_draw(each, lambda n: None), missing) for each in (values, spreads))
    return ValueCharts(location, spread, missing, missing)
