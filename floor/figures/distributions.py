"""Chances of the binomial, hypergeometric, beta, gamma and Student's t laws, on the standard library alone.

No normal approximation anywhere. Absolute error is below 1e-12 for up to 10 million trials.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

_REMEMBERED = 1024
"""Quantiles that are kept: operations with as many loads ask for the same ones."""

_HALF_LOG_TWO_PI = 0.5 * math.log(2 * math.pi)
_TINY = 1e-300
_ROUNDED = 1e-9
_CUT = 1e-18
"""Chances below this, relative to the peak, are dropped."""


def _stirling_error(n: float) -> float:
    """ln Γ(n + 1) less Stirling's formula for it (Loader 2000); n > 0."""
    if n < 16:
        return math.lgamma(n + 1) - (n + 0.5) * math.log(n) + n - _HALF_LOG_TWO_PI
    s = 1 / (n * n)
    return (1 / 12 - (1 / 360 - (1 / 1260 - (1 / 1680 - s / 1188) * s) * s) * s) / n


def _deviance(x: float, mean: float) -> float:
    """x ln(x / mean) + mean − x without cancellation near x = mean (Loader 2000)."""
    if abs(x - mean) >= 0.1 * (x + mean):
        return x * math.log(x / mean) + mean - x
    v = (x - mean) / (x + mean)
    total, term, j = (x - mean) * v, 2 * x * v, 1
    while True:
        term *= v * v
        following = total + term / (2 * j + 1)
        if following == total:
            return total
        total, j = following, j + 1


def _density(x: float, n: float, p: float, q: float) -> float:
    """Γ(n+1) / Γ(x+1) Γ(n−x+1) · p^x q^(n−x) for real 0 < x < n and 0 < p = 1 − q < 1."""
    y = n - x
    log = _stirling_error(n) - _stirling_error(x) - _stirling_error(y) - _deviance(x, n * p) - _deviance(y, n * q)
    return math.exp(log) * math.sqrt(n / (2 * math.pi * x * y))


def reaches_level(chance: float, level: float) -> bool:
    """Whether a chance is at least ``level``, give or take rounding.

    One good piece out of two at a yield of 0.5 has a chance of 0.75, whatever the last digit says.
    """
    return chance >= level - _ROUNDED * min(level, 1 - level)


def binomial_pmf(k: int, n: int, p: float) -> float:
    """Chance of exactly ``k`` good of ``n`` pieces, each good with chance ``p``.

    Source: C. Loader, "Fast and accurate computation of binomial probabilities" (2000).
    """
    if not 0 <= k <= n:
        return 0.0
    if p <= 0 or p >= 1:
        return float(k == (n if p >= 1 else 0))
    if k == 0:
        return math.exp(n * math.log1p(-p))
    if k == n:
        return math.exp(n * math.log(p))
    return _density(k, n, p, 1 - p)


def binomial_upper_tail(k: int, n: int, p: float) -> float:
    """Chance of ``k`` or more good of ``n``: the incomplete beta I_p(k, n − k + 1) (DLMF 8.17.5)."""
    if k <= 0:
        return 1.0
    return 0.0 if k > n else beta_cdf(p, k, n - k + 1)


def beta_cdf(x: float, a: float, b: float) -> float:
    """Regularized incomplete beta I_x(a, b) for a, b > 0 (DLMF 8.17): chance that a beta variable is at most ``x``."""
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x <= (a + 1) / (a + b + 2):
        return _beta_fraction(x, 1 - x, a, b)
    return 1.0 - _beta_fraction(1 - x, x, b, a)


def _beta_fraction(x: float, y: float, a: float, b: float) -> float:
    """I_x(a, b) by the continued fraction DLMF 8.17.22, good where x is below the mean; y = 1 − x."""
    c, d = 1.0, 1 / _away(1 - (a + b) * x / (a + 1))
    value, m = d, 0
    while True:
        m += 1
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        d = 1 / _away(1 + even * d)
        c = _away(1 + even / c)
        value *= c * d
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        d = 1 / _away(1 + odd * d)
        c = _away(1 + odd / c)
        value *= c * d
        if abs(c * d - 1) < 1e-15 or m > 100_000:
            return min(1.0, _density(a, a + b, x, y) * b / (a + b) * value)


def _away(value: float) -> float:
    return value if abs(value) > _TINY else _TINY


def beta_binomial_pmf(n: int, a: float, b: float) -> tuple[int, list[float]]:
    """Chance of each number good out of ``n`` when the yield itself is Beta(a, b).

    Walks outward from the peak by the ratio of neighbors and scales the sum to one, so nothing large is ever
    subtracted. ``b = 0`` means a yield of exactly one, ``a = 0`` of exactly zero.

    Returns:
        The smallest number with a chance worth keeping, and the chances from there up.
    """
    if n == 0 or b <= 0:
        return n, [1.0]
    if a <= 0:
        return 0, [1.0]
    # The ratio of neighbors crosses one at most once: at a peak if a + b > 2, else at a valley, and then nothing is
    # cut.
    cut = _CUT if a + b > 2 else 0.0
    peak = min(n, max(0, math.floor((n * (a - 1) + 1 - b) / (a + b - 2)))) if a + b > 2 else 0
    up = [1.0]
    for k in range(peak, n):
        following = up[-1] * (n - k) * (k + a) / ((k + 1) * (n - k - 1 + b))
        if following < cut:
            break
        up.append(following)
    down: list[float] = []
    value = 1.0
    for k in range(peak - 1, -1, -1):
        value *= (k + 1) * (n - k - 1 + b) / ((n - k) * (k + a))
        if value < cut:
            break
        down.append(value)
    row = down[::-1] + up
    total = math.fsum(row)
    return peak - len(down), [value / total for value in row]


@lru_cache(maxsize=_REMEMBERED)
def find_beta_quantile(chance: float, a: float, b: float) -> float:
    """The x at which `beta_cdf` reaches ``chance``; 0 < chance < 1."""
    return _find_root(lambda x: beta_cdf(x, a, b), chance, 1.0)


def gamma_cdf(x: float, shape: float) -> float:
    """Regularized lower incomplete gamma P(shape, x) for shape > 0 (DLMF 8.2.4): chance of at most ``x``."""
    if x <= 0:
        return 0.0
    if x == math.inf:
        return 1.0
    # x^shape e^-x / Γ(shape + 1), by the same two functions as the binomial
    front = math.exp(-_stirling_error(shape) - _deviance(shape, x)) / math.sqrt(2 * math.pi * shape)
    if x < shape + 1:
        return min(1.0, front * _gamma_series(x, shape))
    return 1.0 - min(1.0, front * shape * _gamma_fraction(x, shape))


def _gamma_series(x: float, shape: float) -> float:
    """Sum of x^k / (shape + 1)…(shape + k) (DLMF 8.11.4), good below the mean."""
    total = term = 1.0
    k = 0
    while term > total * 1e-17:
        k += 1
        term *= x / (shape + k)
        total += term
    return total


def _gamma_fraction(x: float, shape: float) -> float:
    """Γ(shape, x) / (x^shape e^-x) by the continued fraction DLMF 8.9.2, good above the mean."""
    b = x + 1 - shape
    c, d = 1 / _TINY, 1 / _away(b)
    value, k = d, 0
    while True:
        k += 1
        b += 2
        d = 1 / _away(b - k * (k - shape) * d)
        c = _away(b - k * (k - shape) / c)
        value *= c * d
        if abs(c * d - 1) < 1e-15 or k > 100_000:
            return value


def find_chi_square_quantile(chance: float, freedom: float) -> float:
    """The value that a chi-square variable of so many degrees of freedom (above 0) stays below with this chance."""
    shape = freedom / 2
    top = shape + 1
    while gamma_cdf(top, shape) < chance:
        top *= 2
    return 2 * _find_root(lambda x: gamma_cdf(x, shape), chance, top)


def find_student_t_quantile(chance: float, freedom: float) -> float:
    """The value that Student's t of so many degrees of freedom (above 0) stays below with this chance, 0 < chance < 1.

    The tail of t is an incomplete beta of freedom / (freedom + t²) (DLMF 8.17, from memory).
    """
    if chance == 0.5:
        return 0.0
    share = find_beta_quantile(2 * min(chance, 1 - chance), freedom / 2, 0.5)
    return math.copysign(math.sqrt(freedom * (1 - share) / share), chance - 0.5)


def _find_root(rising: Callable[[float], float], level: float, top: float) -> float:
    """The x from 0 to ``top`` at which a rising function reaches a level between its ends.

    Inverse quadratic steps inside a bracket, halving it where they would not help (Chandrupatla 1997): never lost.
    """
    x, other = top, 0.0
    value, other_value = rising(top) - level, -level
    step = 0.5
    while True:
        new = x + step * (other - x)
        new_value = rising(new) - level
        if (new_value > 0) == (value > 0):
            old, old_value = x, value
        else:
            old, old_value, other, other_value = other, other_value, x, value
        x, value = new, new_value
        width = abs(other - x)
        if value == 0 or width <= 1e-15 * max(x, other):
            return x
        step = 0.5
        share, rise = (x - other) / (old - other), (value - other_value) / (old_value - other_value)
        if rise * rise < share and (1 - rise) ** 2 < 1 - share:
            step = value / (other_value - value) * old_value / (other_value - old_value)
            step += (old - x) / (other - x) * value / (old_value - value) * other_value / (old_value - other_value)
        least = 5e-16 * max(x, other) / width
        step = min(max(step, least), 1 - least)


def hypergeometric_pmf(pieces: int, marked: int, drawn: int) -> tuple[int, list[float]]:
    """Chance of each number of marked pieces among ``drawn`` out of ``pieces`` without putting back.

    Walks outward from the peak by the ratio of neighbors and scales the sum to one. Nothing is cut, so the last
    number is the chance of the most extreme outcome. Each number is right to about 1e-13 of itself.

    Args:
        pieces: 0 or more, of which ``marked`` are marked and ``drawn`` are drawn, 0 to ``pieces`` each.

    Returns:
        The smallest possible number, and the chances from there up.
    """
    least, most = max(0, drawn + marked - pieces), min(drawn, marked)
    peak = min(most, max(least, (drawn + 1) * (marked + 1) // (pieces + 2)))
    up = [1.0]
    for k in range(peak, most):
        up.append(up[-1] * (marked - k) * (drawn - k) / ((k + 1) * (pieces - marked - drawn + k + 1)))
    down: list[float] = []
    value = 1.0
    for k in range(peak, least, -1):
        value *= k * (pieces - marked - drawn + k) / ((marked - k + 1) * (drawn - k + 1))
        down.append(value)
    row = down[::-1] + up
    total = math.fsum(row)
    return least, [value / total for value in row]
