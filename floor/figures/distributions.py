"""Binomial, beta and beta-binomial chances, exact to rounding, on the standard library alone.

No normal approximation anywhere. Absolute error is below 1e-12 for up to 10 million trials.
"""

from __future__ import annotations

import math

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
