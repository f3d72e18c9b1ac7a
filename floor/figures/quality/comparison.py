"""Settings of a trial side by side: how well each is known, which differ, and what more pieces would show.

Few pieces are the rule. So every figure comes with its interval, several comparisons share the false alarms (Holm), and
where nothing is shown, what it would take is told instead.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from itertools import combinations, groupby
from operator import itemgetter
from statistics import NormalDist

from floor.dataclass import dataclass
from floor.figures.distributions import beta_cdf, find_student_t_quantile, hypergeometric_pmf
from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.describe_values import Description, compute_deviation, describe_values
from floor.figures.quality.exact_tests import compute_trend_tail
from floor.figures.quality.intervals import Interval, compute_exact_interval, require_confidence
from floor.figures.quality.looks import FALSE_ALARMS, adjust_for_tries
from floor.figures.quality.missing import Missing, find_missing

POWER = 0.8
"""Chance that a difference worth having is shown, where pieces are counted for it (usual in trials)."""
MOST_EACH = 1000
"""Pieces for each setting beyond which nobody tries."""
_SAME = 1 + 1e-9
"""Chances are equal within rounding, as outcomes that are equally likely are computed in different ways."""


@dataclass(frozen=True, slots=True)
class Measured:
    """What one setting gave."""

    about: Description
    interval: Interval | Missing
    """Of the mean, by Student's t; `Missing.TOO_FEW` of one value, `Missing.CONSTANT` of equal ones."""


@dataclass(frozen=True, slots=True)
class Difference:
    """Between two settings, by their places in the order given."""

    first: int
    second: int
    difference: float
    """Of the second from the first: of means in their unit, or of shares good."""
    interval: Interval | Missing
    """As wide as its step of Holm's asks, so that it leaves 0 out exactly where the difference is shown."""
    p: float | Missing
    adjusted: float | Missing
    """After all comparisons of the trial."""

    @property
    def shown(self) -> bool:
        return not isinstance(self.adjusted, Missing) and self.adjusted <= FALSE_ALARMS


@dataclass(frozen=True, slots=True)
class Tested:
    """The chance of as much by luck."""

    p: float
    adjusted: float
    """After all comparisons of the trial."""

    @property
    def shown(self) -> bool:
        return self.adjusted <= FALSE_ALARMS


@dataclass(frozen=True, slots=True)
class Trend(Tested):
    """Whether the response goes one way with a setting that is a number."""

    rising: bool


@dataclass(frozen=True, slots=True)
class Comparison:
    """All that the values of a trial tell."""

    settings: tuple[Measured, ...]
    differences: tuple[Difference, ...]
    """Of all two settings that have values."""
    trend: Trend | Missing
    """`Missing.NO_LIMIT` where the settings are no numbers, or only two."""
    deviation: float | Missing
    """Inside the settings, pooled."""
    tries: int
    """Comparisons that share the false alarms."""


def compare_numbers(
    samples: Sequence[Sequence[float]], levels: Sequence[float] | None = None, confidence: float = 0.95
) -> Comparison:
    """Compare the means of settings, two at a time, by Welch's test and interval.

    Args:
        samples: Values of each setting, independent of each other.
        levels: What each setting is, where it is a number.
        confidence: Of each mean by itself; of differences, shared by all that are compared.

    Raises:
        ImpossibleFigure: other levels than samples, or a confidence out of its range.
    """
    require_confidence(confidence)
    known = [_summarize(values) for values in samples]
    pairs = [(a, b) for a, b in combinations(range(len(samples)), 2) if known[a].count and known[b].count]
    found = [_test_means(known[a], known[b]) for a, b in pairs]
    order = _test_trend(samples, levels)
    chances = [one.p for one in found if not isinstance(one.p, Missing)]
    chances += [] if isinstance(order, Missing) else [order[1]]
    steps = iter(zip(adjust_for_tries(chances), list_holm_steps(chances), strict=True))
    differences = []
    for (a, b), one in zip(pairs, found, strict=True):
        adjusted, tried = (one.p, 1) if isinstance(one.p, Missing) else next(steps)
        interval = one.find_interval(1 - (1 - confidence) / tried)
        differences.append(Difference(a, b, one.difference, interval, one.p, adjusted))
    trend = order if isinstance(order, Missing) else Trend(order[1], next(steps)[0], order[0])
    settings = tuple(
        Measured(describe_values(values), _compute_mean_interval(one, confidence))
        for values, one in zip(samples, known, strict=True)
    )
    return Comparison(settings, tuple(differences), trend, _pool_deviation(known), max(len(chances), 1))


@dataclass(frozen=True, slots=True)
class _Summary:
    """What is needed of many values, worked out once."""

    count: int
    """0 if no figure can be made of them."""
    mean: float = 0.0
    deviation: float = 0.0
    """Of two values or more."""
    missing: Missing | None = None
    """Why their mean has no interval."""


def _summarize(values: Sequence[float]) -> _Summary:
    missing = find_missing(values)
    if missing:
        return _Summary(0, missing=missing)
    mean = math.fsum(values) / len(values)
    if len(values) == 1:
        return _Summary(1, mean, missing=Missing.TOO_FEW)
    deviation = compute_deviation(values)
    return _Summary(len(values), mean, deviation, None if deviation else Missing.CONSTANT)


def list_holm_steps(chances: Sequence[float]) -> list[int]:
    """By how many tries Holm divides for each: fewer with each that is shown before it, as many for all that are not.

    So an interval leaves 0 out exactly where its difference is shown.
    """
    steps, left = [1] * len(chances), len(chances)
    for n in sorted(range(len(chances)), key=chances.__getitem__):
        steps[n] = left
        left -= chances[n] * left <= FALSE_ALARMS
    return steps


def _compute_mean_interval(known: _Summary, confidence: float) -> Interval | Missing:
    """Student's t interval of a mean (NIST/SEMATECH e-Handbook 1.3.5.2)."""
    if known.missing:
        return known.missing
    factor = find_student_t_quantile((1 + confidence) / 2, known.count - 1)
    half = factor * known.deviation / math.sqrt(known.count)
    return Interval(known.mean - half, known.mean + half)


@dataclass(frozen=True, slots=True)
class _Means:
    """The second mean less the first, by Student's t."""

    difference: float
    p: float | Missing
    spread: float = 0.0
    """Standard error of the difference; 0 where it cannot be told."""
    freedom: float = 0.0

    def find_interval(self, confidence: float) -> Interval | Missing:
        if not self.spread:
            return Missing.TOO_FEW if isinstance(self.p, Missing) else Missing.CONSTANT
        half = find_student_t_quantile((1 + confidence) / 2, self.freedom) * self.spread
        return Interval(self.difference - half, self.difference + half)


def _test_means(first: _Summary, second: _Summary) -> _Means:
    """Welch's test, which does not take the spreads as equal.

    Source: B. L. Welch, Biometrika 34 (1947) 28; NIST/SEMATECH e-Handbook 1.3.5.3 and 7.3.1. Where neither spreads, all
    ways to deal the values out are counted.
    """
    difference = second.mean - first.mean
    if min(first.count, second.count) < 2:
        return _Means(difference, Missing.TOO_FEW)
    errors = [one.deviation / math.sqrt(one.count) for one in (first, second)]
    spread = math.hypot(*errors)
    if spread == 0:
        chance = compute_fisher(first.count, first.count, 0, second.count) if difference else 1.0
        return _Means(difference, chance)
    shares = [(error / spread) ** 2 for error in errors]
    freedom = 1 / sum(one * one / (known.count - 1) for one, known in zip(shares, (first, second), strict=True))
    t = difference / spread
    return _Means(difference, beta_cdf(freedom / (freedom + t * t), freedom / 2, 0.5), spread, freedom)


def _pool_deviation(known: Sequence[_Summary]) -> float | Missing:
    freedom = sum(one.count - 1 for one in known if one.count)
    if not freedom:
        return Missing.TOO_FEW
    pooled = math.sqrt(math.fsum(one.deviation**2 * (one.count - 1) / freedom for one in known if one.count))
    return pooled or Missing.CONSTANT


def _test_trend(samples: Sequence[Sequence[float]], levels: Sequence[float] | None) -> tuple[bool, float] | Missing:
    """Whether values rise with the levels, and Kendall's two-sided chance; equal values count against the trend."""
    if levels is None:
        return Missing.NO_LIMIT
    if len(levels) != len(samples):
        raise ImpossibleFigure(f"{len(levels)} levels of {len(samples)} settings", "give each setting one")
    some = [(value, level) for level, values in zip(levels, samples, strict=True) for value in values]
    sizes = [count for _, count in sorted(Counter(level for _, level in some).items())]
    if len(sizes) < 3:
        return Missing.NO_LIMIT
    missing = find_missing([value for value, _ in some])
    if missing:
        return missing
    rising, falling = _count_pairs(some)
    tail = compute_trend_tail(max(rising, falling), [sizes])
    if tail is None:
        tail = _estimate_tail(max(rising, falling), sizes)
    return rising > falling, min(1.0, 2 * tail)


def _count_pairs(some: Sequence[tuple[float, float]]) -> tuple[int, int]:
    """Pairs of (value, level) in which the greater value has the higher level, and the lower one."""
    places = {level: n for n, level in enumerate(sorted({level for _, level in some}))}
    seen = [0] * len(places)
    rising = falling = 0
    for _, equal in groupby(sorted(some), key=itemgetter(0)):
        here = [places[level] for _, level in equal]
        for at in here:
            rising += sum(seen[:at])
            falling += sum(seen[at + 1 :])
        for at in here:
            seen[at] += 1
    return rising, falling


def _estimate_tail(rising: int, sizes: Sequence[int]) -> float:
    """The same for many values, by the normal law of the count of pairs that rise (Jonckheere-Terpstra)."""
    n = sum(sizes)
    mean = (n * n - sum(size * size for size in sizes)) / 4
    variance = (n * n * (2 * n + 3) - sum(size * size * (2 * size + 3) for size in sizes)) / 72
    return 1 - NormalDist(mean, math.sqrt(variance)).cdf(rising - 0.5)


@dataclass(frozen=True, slots=True)
class Shares:
    """What good and bad pieces of a trial tell."""

    settings: tuple[Interval | Missing, ...]
    """Of the share good, exact."""
    differences: tuple[Difference, ...]


def compare_shares(counts: Sequence[tuple[int, int]], confidence: float = 0.95) -> Shares:
    """Compare the shares good of settings, two at a time, by Fisher's exact test.

    Args:
        counts: (good, all) of each setting.

    Raises:
        ImpossibleFigure: more good than all, or a confidence out of its range.
    """
    settings = tuple(compute_exact_interval(good, pieces, confidence) for good, pieces in counts)
    pairs = [(a, b) for a, b in combinations(range(len(counts)), 2) if counts[a][1] and counts[b][1]]
    chances = [compute_fisher(*counts[a], *counts[b]) for a, b in pairs]
    return Shares(
        settings,
        tuple(
            Difference(a, b, counts[b][0] / counts[b][1] - counts[a][0] / counts[a][1], Missing.NO_LIMIT, p, adjusted)
            for (a, b), p, adjusted in zip(pairs, chances, adjust_for_tries(chances), strict=True)
        ),
    )


def compute_fisher(good: int, pieces: int, other_good: int, other_pieces: int) -> float:
    """Two-sided chance of two shares this far apart or farther: all outcomes that are no more likely.

    Source: NIST/SEMATECH e-Handbook 7.3.3; two-sided as R and scipy have it.
    """
    least, row = hypergeometric_pmf(pieces + other_pieces, good + other_good, pieces)
    return sum_no_likelier(row, good - least)


def sum_no_likelier(chances: Sequence[float], at: int) -> float:
    """The chance of this outcome and all that are no more likely."""
    own = chances[at] * _SAME
    return min(1.0, math.fsum(chance for chance in chances if chance <= own))


def estimate_pieces_each(deviation: float, difference: float, tries: int = 1, power: float = POWER) -> int | Missing:
    """About how many values each of two settings needs until a difference of means is shown.

    Source: NIST/SEMATECH e-Handbook 7.2.2.2, for two samples, by Student's t step by step.

    Args:
        deviation: Standard deviation inside a setting, above 0.
        difference: Not 0.
        tries: Comparisons that share the false alarms.
        power: Chance that it is shown.

    Raises:
        ImpossibleFigure: a deviation not above 0, a difference of 0, fewer than 1 try, or a power out of its range.
    """
    _require_power(tries, power)
    if not 0 < deviation < math.inf or not 0 < abs(difference) < math.inf:
        raise ImpossibleFigure(f"a difference of {difference:g}, deviation {deviation:g}", "give both above 0")
    return _find_fewest(lambda n: find_shown_difference(n, tries, power) * deviation <= abs(difference))


def find_shown_difference(each: int, tries: int = 1, power: float = POWER) -> float:
    """The difference of means, in standard deviations, that so many values of each setting (2 or more) show."""
    freedom = 2 * each - 2
    sides = (find_student_t_quantile(1 - FALSE_ALARMS / tries / 2, freedom), find_student_t_quantile(power, freedom))
    return sum(sides) * math.sqrt(2 / each)


def estimate_pieces_each_of_shares(share: float, other: float, tries: int = 1, power: float = POWER) -> int | Missing:
    """About how many pieces each of two settings needs until Fisher's test shows a difference of shares.

    Source: J. L. Fleiss, "Statistical Methods for Rates and Proportions" (1981) 3.2, with its correction for
    continuity, from memory.

    Raises:
        ImpossibleFigure: equal shares or ones out of 0 to 1, fewer than 1 try, or a power out of its range.
    """
    _require_power(tries, power)
    if not (0 <= share <= 1 and 0 <= other <= 1 and share != other):
        raise ImpossibleFigure(f"shares of {share:g} and {other:g}", "give two different ones from 0 to 1")
    normal, mean, apart = NormalDist(), (share + other) / 2, abs(share - other)
    sides = normal.inv_cdf(1 - FALSE_ALARMS / tries / 2) * math.sqrt(2 * mean * (1 - mean))
    sides += normal.inv_cdf(power) * math.sqrt(share * (1 - share) + other * (1 - other))
    first = (sides / apart) ** 2
    each = math.ceil(first / 4 * (1 + math.sqrt(1 + 4 / (first * apart))) ** 2)
    return each if each <= MOST_EACH else Missing.TOO_LARGE


def _require_power(tries: int, power: float) -> None:
    if tries < 1 or not 0 < power < 1:
        raise ImpossibleFigure(f"{tries} tries, a power of {power:g}", "give 1 or more, and a power from 0 to 1")


def _find_fewest(enough: Callable[[int], bool]) -> int | Missing:
    """The fewest from 2 to `MOST_EACH`; more of them are always enough too."""
    if not enough(MOST_EACH):
        return Missing.TOO_LARGE
    low, high = 1, MOST_EACH
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high
