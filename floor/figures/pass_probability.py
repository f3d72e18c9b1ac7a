"""How many pieces pass a route whose yields are only estimated: exact, and quick for thousands of pieces.

With pass chance p, the chance that k or more of n pieces pass equals the chance that a Beta(k, n − k + 1) variable is
at most p (DLMF 8.17.5). So if p is a product of Betas, it is the chance that one product of independent Betas is at
most another. Moments of such products are quotients of gamma functions (sums of those for mixtures of Betas), and the
chance follows by inverting the transform along a line in the complex plane (Abate and Whitt 1992: there the trapezoid
rule's error falls exponentially).
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Sequence

from floor.dataclass import dataclass
from floor.figures.beta_mixture import Mixture
from floor.figures.yields import Beta

_DIGITS = 34.0
"""Natural logarithm of what may be neglected of the whole: e⁻³⁴ is below 2e-15."""

NODES = 20_000
"""Most steps of the inversion."""

_HALF_LOG_TWO_PI = 0.5 * math.log(2 * math.pi)


class InversionTooCoarse(ArithmeticError):
    """The chance has a corner too sharp for the inversion: few pieces to spare and next to no spread."""


def build_pass_probability(
    ordered: int, yields: Sequence[Mixture], near: int, nodes: int = NODES
) -> Callable[[int], float]:
    """P(at least ``ordered`` pass every operation) as a function of the pieces started.

    Args:
        ordered: At least 1.
        yields: The yield of each operation, independent of the others.
        near: About how many pieces will be asked for, above ``ordered``; the absolute error there is below 1e-10.
        nodes: Most steps of the inversion; each costs time in proportion to the number of Betas.

    Raises:
        InversionTooCoarse: the chance has too sharp a corner.
    """
    doubtful = [law for law in yields if any(beta.bad for _, beta in law)]
    if not doubtful:
        return lambda started: float(started >= ordered)
    if any(all(beta.good == 0 for _, beta in law) for law in doubtful):
        return lambda started: 0.0
    if any(beta.good == 0 for law in doubtful for _, beta in law):
        raise InversionTooCoarse(f"{ordered} of {near}")

    line = _choose_line(ordered, near, doubtful)
    products = _sample_products(line, ordered, near, doubtful, nodes)

    def chance(started: int) -> float:
        if started < ordered:
            return 0.0
        terms = [cmath.exp(value + _spare(at, started, ordered)) / at for at, value in products]
        integral = line.step / math.pi * (math.fsum(term.real for term in terms) - terms[0].real / 2)
        return min(1.0, max(0.0, -integral if line.shift < 0 else 1.0 - integral))

    return chance


@dataclass(frozen=True, slots=True)
class _Line:
    """The line of the inversion: where it crosses the real axis, and the distance of its nodes."""

    shift: float
    """Right of the axis the integral gives the chance to fall short, left of it the chance to fill."""
    step: float


def _choose_line(ordered: int, near: int, laws: Sequence[Mixture]) -> _Line:
    # The smaller of the two chances keeps more digits. Near the axis the steps must be short, far from it the
    # transform grows: hence three deviations, or halfway to the end of its strip.
    means = [math.fsum(chance * beta.mean for chance, beta in law) for law in laws]
    squares = [math.fsum(chance * beta.mean_square for chance, beta in law) for law in laws]
    falls_short = math.log(ordered / near) > math.fsum(map(math.log, means))
    strip = float(ordered) if falls_short else min(beta.good for law in laws for _, beta in law)
    spread = math.fsum(square / (mean * mean) - 1 for mean, square in zip(means, squares, strict=True))
    deviation = math.sqrt(max(0.0, spread) + 1 / ordered)
    away = min(strip / 2, 3 / deviation)
    shift = -away if falls_short else away
    beyond = shift * (1 + min(strip / away - 1, 2) / 2)
    # The trapezoid rule adds what the distribution has one period on and back, which must be next to nothing.
    period = max(_DIGITS / away, (_DIGITS + _transform(beyond, near, ordered, laws).real) / abs(beyond - shift))
    return _Line(shift, 2 * math.pi / period)


def _sample_products(
    line: _Line, ordered: int, near: int, laws: Sequence[Mixture], nodes: int
) -> list[tuple[complex, complex]]:
    """The nodes up the line with the logarithm of E(P⁻ᶻ) at each, until the rest is negligible."""
    peak = _transform(line.shift, near, ordered, laws).real
    sampled: list[tuple[complex, complex]] = []
    for n in range(nodes):
        at = complex(line.shift, n * line.step)
        value, most = _product(at, laws)
        sampled.append((at, value))
        if most + _spare(at, near, ordered).real < peak - _DIGITS - 4:
            return sampled
    raise InversionTooCoarse(f"{ordered} of {near}")


def _transform(at: complex, started: int, ordered: int, laws: Sequence[Mixture]) -> complex:
    """Logarithm of E(Uᶻ P⁻ᶻ), where U is Beta(ordered, started − ordered + 1) and P the product."""
    return _spare(at, started, ordered) + _product(at, laws)[0]


def _spare(at: complex, started: int, ordered: int) -> complex:
    return (_log_gamma(ordered + at) - math.lgamma(ordered)) + (math.lgamma(started + 1) - _log_gamma(started + 1 + at))


def _product(at: complex, laws: Sequence[Mixture]) -> tuple[complex, float]:
    """Logarithm of E(P⁻ᶻ), and what its real part would be if no parts of a mixture canceled."""
    total, most = 0j, 0.0
    for law in laws:
        terms = [math.log(chance) + _power(at, beta) for chance, beta in law]
        top = max(term.real for term in terms)
        whole = sum((cmath.exp(term - top) for term in terms), 0j)
        total += top + cmath.log(whole) if whole else complex(-math.inf)
        most += top + math.log(math.fsum(math.exp(term.real - top) for term in terms))
    return total, most


def _power(at: complex, beta: Beta) -> complex:
    whole = beta.good + beta.bad
    return _log_gamma(beta.good - at) - math.lgamma(beta.good) + math.lgamma(whole) - _log_gamma(whole - at)


def _log_gamma(z: complex) -> complex:
    """A logarithm of the gamma function right of 0, up to a multiple of 2πi (Stirling's series, DLMF 5.11.1)."""
    product = 1 + 0j
    while abs(z) < 10:
        product *= z
        z += 1
    s = 1 / (z * z)
    series = (1 / 12 - (1 / 360 - (1 / 1260 - (1 / 1680 - (1 / 1188 - s * 691 / 360360) * s) * s) * s) * s) / z
    return (z - 0.5) * cmath.log(z) - z + _HALF_LOG_TWO_PI + series - cmath.log(product)
