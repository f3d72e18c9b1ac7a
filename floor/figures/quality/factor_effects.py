"""Effects of two factors tried together: of each by itself, over all settings of the other; and whether one depends on
the other.

Least squares without interaction, so that few or missing values of some settings tilt no effect; its spread is that of
values inside the settings, where there are some. Counts of good pieces are compared setting by setting of the other
factor, exactly. All effects and the interaction share the false alarms (Holm).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import combinations
from typing import NamedTuple

from floor.dataclass import dataclass
from floor.figures.convolution import convolve
from floor.figures.distributions import beta_cdf, find_student_t_quantile, hypergeometric_pmf
from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.comparison import Difference, Tested, list_holm_steps, sum_no_likelier
from floor.figures.quality.intervals import Interval, require_confidence
from floor.figures.quality.looks import adjust_for_tries
from floor.figures.quality.missing import Missing, find_missing

_LEAST_SHARE = 1e-24
"""A sum of squares below this share of the whole is rounding."""


@dataclass(frozen=True, slots=True)
class Effect:
    """Of one factor, over all settings of the other."""

    counts: tuple[int, ...]
    """Values of each of its settings."""
    differences: tuple[Difference, ...]
    """Between two of its settings that have values, by their places."""


@dataclass(frozen=True, slots=True)
class Interaction(Tested):
    """Whether the effect of one factor differs between settings of the other."""


@dataclass(frozen=True, slots=True)
class FactorEffects:
    """What two factors do."""

    effects: tuple[Effect, Effect] | Missing
    """`Missing.NO_LIMIT` where both were always changed together, so that nobody can tell which of them did it."""
    interaction: Interaction | Missing
    """`Missing.EMPTY` where a setting has no value, `Missing.TOO_FEW` where none has two, `Missing.CONSTANT` without a
    spread, `Missing.NO_LIMIT` where it is not tested.
    """
    deviation: float | Missing
    """Of single values, once both factors are told."""
    tries: int


Cells = Sequence[Sequence[Sequence[float]]]
"""Values by setting of the first factor, then of the second."""


def compare_factors(cells: Cells, confidence: float = 0.95) -> FactorEffects:
    """Effects on a mean, by Student's t from least squares; the interaction by an F test against all cell means.

    Source: NIST/SEMATECH e-Handbook 7.4.3.5 and 4.4.3.1; the sums of squares are each after the other factor, of type
    II.

    Args:
        cells: As many of each first setting.

    Raises:
        ImpossibleFigure: rows of different lengths, or a confidence out of its range.
    """
    require_confidence(confidence)
    _require_table(cells)
    values = [value for row in cells for cell in row for value in cell]
    missing = find_missing(values)
    if missing:
        return FactorEffects(missing, missing, missing, 1)
    fit = _fit(cells, math.fsum(values) / len(values))
    if fit is None:
        return FactorEffects(Missing.NO_LIMIT, Missing.NO_LIMIT, Missing.NO_LIMIT, 1)
    joint = _test_interaction(cells, fit)
    found = [list(_iter_contrasts(fit, factor)) for factor in (0, 1)]
    chances = [one.p for some in found for one in some if not isinstance(one.p, Missing)]
    chances += [] if isinstance(joint, Missing) else [joint]
    steps = iter(zip(adjust_for_tries(chances), list_holm_steps(chances), strict=True))
    effects = []
    for factor, some in enumerate(found):
        differences = []
        for one in some:
            adjusted, tried = (one.p, 1) if isinstance(one.p, Missing) else next(steps)
            interval = one.find_interval(1 - (1 - confidence) / tried)
            differences.append(Difference(one.first, one.second, one.difference, interval, one.p, adjusted))
        effects.append(Effect(_count(cells, factor), tuple(differences)))
    interaction = joint if isinstance(joint, Missing) else Interaction(joint, next(steps)[0])
    return FactorEffects((effects[0], effects[1]), interaction, fit.deviation, max(len(chances), 1))


def _require_table(cells: Sequence[Sequence[object]]) -> None:
    if len({len(row) for row in cells}) != 1:
        raise ImpossibleFigure("rows of different lengths", "give each setting of the one factor all of the other")


def _count(cells: Sequence[Sequence[Sequence[object]]], factor: int) -> tuple[int, ...]:
    rows = cells if factor == 0 else list(zip(*cells, strict=True))
    return tuple(sum(map(len, row)) for row in rows)


class _Fit(NamedTuple):
    """Least squares with one number for each setting of either factor, the first of each as 0."""

    settings: tuple[Sequence[int], Sequence[int]]
    """Of each factor, those that have values."""
    places: tuple[dict[int, int], dict[int, int]]
    """Of each factor: setting → its column; the first that has values has none."""
    numbers: Sequence[float]
    spread: Sequence[Sequence[Fraction]]
    """Variances and covariances of the numbers, in variances of a value."""
    left: float
    """Sum of squares that is left."""
    inside: float
    """Sum of squares inside the cells."""
    freedom: int
    """Values less cells that have some."""
    rest: int
    """Cells that have values less numbers that were fitted: what an interaction could tell."""

    @property
    def error(self) -> tuple[float, int]:
        """Sum of squares and its degrees of freedom: inside the cells or, where each has one value, of what is left."""
        return (self.inside, self.freedom) if self.freedom else (self.left, self.rest)

    @property
    def deviation(self) -> float | Missing:
        squares, freedom = self.error
        if not freedom:
            return Missing.TOO_FEW
        return math.sqrt(squares / freedom) or Missing.CONSTANT


_Cell = tuple[int, int, Sequence[float]]
"""Settings of both factors, and the values there."""


def _fit(cells: Cells, middle: float) -> _Fit | None:
    """None where the two factors cannot be told apart."""
    known = [(n, m, cell) for n, row in enumerate(cells) for m, cell in enumerate(row) if cell]
    settings = sorted({n for n, _, _ in known}), sorted({m for _, m, _ in known})
    first = {at: column for column, at in enumerate(settings[0][1:], 1)}
    second = {at: column for column, at in enumerate(settings[1][1:], 1 + len(first))}
    columns = 1 + len(first) + len(second)
    rows = [[0, *(place[at] for place, at in ((first, n), (second, m)) if at in place)] for n, m, _ in known]
    spread, sums = _solve(rows, known, columns, middle)
    if spread is None:
        return None
    numbers = [math.fsum(float(part) * one for part, one in zip(row, sums, strict=True)) for row in spread]
    left, inside = _sum_squares(rows, known, numbers, middle)
    count = sum(len(cell) for _, _, cell in known)
    freedom, rest = count - len(known), len(known) - columns
    return _Fit(settings, (first, second), numbers, spread, left, inside, freedom, rest)


def _solve(
    rows: Sequence[Sequence[int]], known: Sequence[_Cell], columns: int, middle: float
) -> tuple[list[list[Fraction]] | None, list[float]]:
    """The inverse of the normal equations, and their right side."""
    square = [[Fraction(0)] * columns for _ in range(columns)]
    sums = [0.0] * columns
    for row, (_, _, cell) in zip(rows, known, strict=True):
        total = math.fsum(value - middle for value in cell)
        for one in row:
            sums[one] += total
            for other in row:
                square[one][other] += len(cell)
    return _invert(square), sums


def _sum_squares(
    rows: Sequence[Sequence[int]], known: Sequence[_Cell], numbers: Sequence[float], middle: float
) -> tuple[float, float]:
    """About what was fitted, and about the mean of each cell; none where it is but rounding."""
    left, inside, whole = [], [], []
    for row, (_, _, cell) in zip(rows, known, strict=True):
        told, mean = middle + math.fsum(numbers[one] for one in row), math.fsum(cell) / len(cell)
        left += [(value - told) ** 2 for value in cell]
        inside += [(value - mean) ** 2 for value in cell]
        whole += [(value - middle) ** 2 for value in cell]
    least = _LEAST_SHARE * max(math.fsum(whole), middle * middle)
    return _drop_rounding(math.fsum(left), least), _drop_rounding(math.fsum(inside), least)


def _drop_rounding(squares: float, least: float) -> float:
    return squares if squares > least else 0.0


def _invert(matrix: Sequence[Sequence[Fraction]]) -> list[list[Fraction]] | None:
    """Exact, by Gauss and Jordan; None if there is no inverse."""
    size = len(matrix)
    rows = [[*row, *(Fraction(n == m) for m in range(size))] for n, row in enumerate(matrix)]
    for n in range(size):
        pivot = next((m for m in range(n, size) if rows[m][n]), None)
        if pivot is None:
            return None
        rows[n], rows[pivot] = rows[pivot], rows[n]
        rows[n] = [one / rows[n][n] for one in rows[n]]
        for m in range(size):
            if m != n and rows[m][n]:
                rows[m] = [one - rows[m][n] * other for one, other in zip(rows[m], rows[n], strict=True)]
    return [row[size:] for row in rows]


class _Contrast(NamedTuple):
    """The second setting of a factor less the first."""

    first: int
    second: int
    difference: float
    p: float | Missing
    spread: float
    """Its standard error; 0 where there is none."""
    freedom: int

    def find_interval(self, confidence: float) -> Interval | Missing:
        if isinstance(self.p, Missing):
            return self.p
        half = find_student_t_quantile((1 + confidence) / 2, self.freedom) * self.spread
        return Interval(self.difference - half, self.difference + half)


def _iter_contrasts(fit: _Fit, factor: int) -> Iterator[_Contrast]:
    places, deviation, freedom = fit.places[factor], fit.deviation, fit.error[1]
    for one, other in combinations(fit.settings[factor], 2):
        at = [places[n] for n in (one, other) if n in places]
        signs = [1 if n == other else -1 for n in (one, other) if n in places]
        difference = sum(sign * fit.numbers[n] for sign, n in zip(signs, at, strict=True))
        share = sum(a * b * fit.spread[n][m] for a, n in zip(signs, at, strict=True)
                    for b, m in zip(signs, at, strict=True))  # fmt: skip
        if isinstance(deviation, Missing):
            yield _Contrast(one, other, difference, deviation, 0.0, freedom)
            continue
        spread = deviation * math.sqrt(share)
        t = difference / spread
        yield _Contrast(
            one, other, difference, beta_cdf(freedom / (freedom + t * t), freedom / 2, 0.5), spread, freedom
        )


def _test_interaction(cells: Cells, fit: _Fit) -> float | Missing:
    if not all(cell for row in cells for cell in row) or not fit.rest:
        return Missing.EMPTY
    if not fit.freedom:
        return Missing.TOO_FEW
    if not fit.inside:
        return Missing.CONSTANT
    ratio = (fit.left - fit.inside) / fit.rest / (fit.inside / fit.freedom)
    x = fit.freedom / (fit.freedom + fit.rest * ratio)
    return beta_cdf(x, fit.freedom / 2, fit.rest / 2)


def compare_factor_shares(cells: Sequence[Sequence[tuple[int, int]]]) -> FactorEffects:
    """Effects on the share good, by the exact test of two settings inside each setting of the other factor.

    The difference is that of Mantel and Haenszel: of shares, weighted by the pieces that tell it. Source: A. Agresti,
    "Categorical Data Analysis", the exact conditional test of several two-by-two tables, from memory.

    Args:
        cells: (good, all) by setting of the first factor, then of the second.

    Raises:
        ImpossibleFigure: rows of different lengths, or more good than all.
    """
    _require_table(cells)
    if any(not 0 <= good <= pieces for row in cells for good, pieces in row):
        raise ImpossibleFigure("more good pieces than pieces", "count each piece once")
    tables = (cells, [list(row) for row in zip(*cells, strict=True)])
    found = [_compare_rows(rows) for rows in tables]
    chances = [one.p for some in found for one in some if not isinstance(one.p, Missing)]
    if not chances:
        return FactorEffects(Missing.NO_LIMIT, Missing.NO_LIMIT, Missing.NO_LIMIT, 1)
    steps = iter(adjust_for_tries(chances))
    first, second = (
        Effect(
            tuple(sum(pieces for _, pieces in row) for row in rows),
            tuple(one if isinstance(one.p, Missing) else replace(one, adjusted=next(steps)) for one in some),
        )
        for rows, some in zip(tables, found, strict=True)
    )
    return FactorEffects((first, second), Missing.NO_LIMIT, Missing.NO_LIMIT, len(chances))


def _compare_rows(rows: Sequence[Sequence[tuple[int, int]]]) -> list[Difference]:
    """The settings of one factor, two at a time, not adjusted yet."""
    used = [n for n, row in enumerate(rows) if any(pieces for _, pieces in row)]
    found = []
    for one, other in combinations(used, 2):
        pairs = [pair for pair in zip(rows[one], rows[other], strict=True) if pair[0][1] and pair[1][1]]
        apart, p = _compare_strata(pairs)
        found.append(Difference(one, other, apart, Missing.NO_LIMIT, p, p))
    return found


def _compare_strata(pairs: Sequence[tuple[tuple[int, int], tuple[int, int]]]) -> tuple[float, float | Missing]:
    """(difference of the shares good, its two-sided chance): all outcomes that are no more likely."""
    if not pairs:
        return 0.0, Missing.NO_LIMIT
    row, least = [1.0], 0
    for (good, pieces), (other_good, other) in pairs:
        start, chances = hypergeometric_pmf(pieces + other, good + other_good, pieces)
        row, least = convolve(row, chances), least + start
    weights = [pieces * other / (pieces + other) for (_, pieces), (_, other) in pairs]
    apart = math.fsum(
        weight * (other_good / other - good / pieces)
        for weight, ((good, pieces), (other_good, other)) in zip(weights, pairs, strict=True)
    )
    return apart / math.fsum(weights), sum_no_likelier(row, sum(good for (good, _), _ in pairs) - least)
