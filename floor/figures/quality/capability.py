"""Capability: how much of its limits a characteristic uses, each index with its interval and the number of values.

Cp and Cpk measure by the spread within subgroups, Pp and Ppk by the spread of all values. Formulas of the
NIST/SEMATECH e-Handbook 6.1.6; they hold for values that are normal and from a process in control, which nobody can
tell from the index.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from statistics import NormalDist

from floor.dataclass import dataclass
from floor.figures.distributions import find_chi_square_quantile
from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.chart_constants import compute_c4
from floor.figures.quality.describe_values import compute_deviation
from floor.figures.quality.intervals import require_confidence
from floor.figures.quality.missing import Missing, find_missing

FEWEST_VALUES = 25
"""Fewest values with an index (common practice, no source): from 25, the interval of a Cp of 1.33 is 0.96 to 1.70."""


_TOO_COARSE = 2
"""Different values that tell nothing of the spread between them (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class ToleranceLimits:
    """Lower and upper limit of a characteristic, in its unit; None where it has none.

    Raises:
        ImpossibleFigure: not a number, or the lower one not below the upper one.
    """

    lower: float | None
    upper: float | None

    def __post_init__(self) -> None:
        given = [limit for limit in (self.lower, self.upper) if limit is not None]
        if not all(map(math.isfinite, given)) or (len(given) == 2 and not given[0] < given[1]):
            raise ImpossibleFigure(f"limits {self.lower} to {self.upper}", "give the lower one below the upper one")


@dataclass(frozen=True, slots=True)
class CapabilityIndex:
    """An index, without unit, and its interval."""

    value: float
    low: float
    high: float


Index = CapabilityIndex | Missing


@dataclass(frozen=True, slots=True)
class Capability:
    """Indices of a characteristic, never without the number of values that they are computed from.

    Cpk and Ppk are the distance of the mean from the nearer limit, or from the only one, over three sigmas.
    """

    count: int
    mean: float | Missing
    sigma_within: float | Missing
    sigma_overall: float | Missing
    cp: Index
    cpk: Index
    pp: Index
    ppk: Index


def compute_capability(
    values: Sequence[float],
    limits: ToleranceLimits,
    sigma_within: float | Missing,
    confidence: float = 0.95,
    *,
    freedom: float | Missing | None = None,
) -> Capability:
    """All indices; below 25 values, or of only two different ones, none, and the reason.

    Intervals: Cp and Pp by chi-square; Cpk and Ppk by Bissell's formula (A. F. Bissell, Applied Statistics 39 (1990)
    331, from memory). How often they hold the truth: `tests/bench/FIGURES.md`.

    Args:
        values: In one unit, at least 25 of them.
        limits: In the same unit.
        sigma_within: `ValueCharts.sigma` of the same values.
        confidence: Above 0 and below 1.
        freedom: `ValueCharts.freedom`; None if sigma is a sample standard deviation of all values, or taken for one.

    Raises:
        ImpossibleFigure: a confidence out of its range, a sigma below 0, or no degrees of freedom.
    """
    require_confidence(confidence)
    if isinstance(freedom, float) and not freedom > 0:
        raise ImpossibleFigure(f"{freedom:g} degrees of freedom", "give more than 0")
    if not isinstance(sigma_within, Missing) and not sigma_within >= 0:
        raise ImpossibleFigure(f"a sigma of {sigma_within:g}", "give it as 0 or more")
    count = len(values)
    missing = find_missing(values, FEWEST_VALUES)
    if missing:
        return Capability(count, *[missing] * 7)
    mean, overall = statistics.fmean(values), compute_deviation(values)
    if len(set(values)) == _TOO_COARSE:
        return Capability(count, mean, sigma_within, overall, *[Missing.TWO_LEVELS] * 4)
    of_all = count - 1.0
    known, bias = of_all, 1.0
    if freedom is not None and not isinstance(freedom, Missing):
        known, bias = freedom, compute_c4(freedom + 1)
    within = _Spread(mean, sigma_within or Missing.CONSTANT, count, known, bias, limits, confidence)
    whole = _Spread(mean, overall or Missing.CONSTANT, count, of_all, 1.0, limits, confidence)
    return Capability(
        count=count,
        mean=mean,
        sigma_within=sigma_within,
        sigma_overall=overall,
        cp=within.compare_width(),
        cpk=within.compare_nearer(),
        pp=whole.compare_width(),
        ppk=whole.compare_nearer(),
    )


@dataclass(frozen=True, slots=True)
class _Spread:
    """Mean and one sigma beside the limits."""

    mean: float
    sigma: float | Missing
    count: int
    freedom: float
    bias: float
    """Mean of the sample standard deviation that is known as well as sigma, in units of the mean of sigma."""
    limits: ToleranceLimits
    confidence: float

    def compare_width(self) -> Index:
        lower, upper, sigma = self.limits.lower, self.limits.upper, self.sigma
        if lower is None or upper is None:
            return Missing.NO_LIMIT
        if isinstance(sigma, Missing):
            return sigma
        value, freedom = (upper - lower) / (6 * sigma), self.freedom
        ends = [(1 - self.confidence) / 2, (1 + self.confidence) / 2]
        chances = (find_chi_square_quantile(end, freedom) / freedom for end in ends)
        low, high = (value / self.bias * math.sqrt(chance) for chance in chances)
        return CapabilityIndex(value, low, high)

    def compare_nearer(self) -> Index:
        lower, upper, sigma = self.limits.lower, self.limits.upper, self.sigma
        rooms = [self.mean - lower] if lower is not None else []
        rooms += [upper - self.mean] if upper is not None else []
        if not rooms:
            return Missing.NO_LIMIT
        if isinstance(sigma, Missing):
            return sigma
        value = min(rooms) / (3 * sigma)
        z = NormalDist().inv_cdf((1 + self.confidence) / 2)
        half = z * math.sqrt(1 / (9 * self.count) + value * value / (2 * self.freedom))
        return CapabilityIndex(value, value - half, value + half)
