"""A newly probed offset compared with earlier ones: usual, unusual and by how much, or too few to tell.

Median and median absolute deviation, because one wrong offset among the earlier ones must not hide the next. With few
values the band is wider, so that normal values fall outside at most once in 370 whatever their number, as with three
standard deviations. Four values catch gross errors; fine ones need twenty.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from enum import StrEnum

from floor.dataclass import dataclass
from floor.figures.errors import ImpossibleFigure

FEWEST = 4
"""Fewest values for a verdict: the deviation of three says next to nothing."""
RECENT = 20
"""How many of a carrier's latest values count: older ones are from another vise, table or season."""
FALSE_ALARMS = 0.0027
"""Share of usual values that fall outside the band."""

_SCALE = {4: 2.0178, 5: 1.8040, 6: 1.7634, 7: 1.6875, 8: 1.6726, 9: 1.6327, 10: 1.6246}
"""Number of values → the factor that makes their MAD the standard deviation on average (2,000,000 normal samples)."""
_BAND = {
    4: 22.65, 5: 23.46, 6: 10.99, 7: 11.13, 8: 7.76, 9: 7.76, 10: 6.33, 11: 6.33, 12: 5.55, 13: 5.54, 14: 5.06,
    15: 5.06, 16: 4.72, 17: 4.73, 18: 4.48, 19: 4.48, 20: 4.30,
}  # fmt: skip
"""Number of values → half the band in standard deviations estimated this way, for `FALSE_ALARMS`: computed from the
chance, for each of the same samples, that one more normal value falls outside. Above 20 the last one holds."""


class Verdict(StrEnum):
    """How an offset compares with others."""

    USUAL = "usual"
    UNUSUAL = "unusual"
    TOO_FEW = "too few"
    """No verdict."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """An offset beside earlier ones, in their unit."""

    verdict: Verdict
    count: int
    """Number of values it was compared with."""
    center: float | None = None
    """Their median; None if they are too few, and so are all below."""
    half_width: float | None = None
    """Half the band about it."""
    distance: float | None = None
    """Signed distance of the new value from the median in half widths; beyond 1 either way is unusual."""


@dataclass(frozen=True, slots=True)
class OffsetJudgement:
    """A new offset beside those of its carrier and of its siblings."""

    own: Comparison
    siblings: Comparison

    @property
    def verdict(self) -> Verdict:
        """By its own carrier, else by its siblings: a carrier may differ from them for good reason."""
        return self.siblings.verdict if self.own.verdict is Verdict.TOO_FEW else self.own.verdict


def judge_offset(
    value: float,
    own: Sequence[float],
    siblings: Sequence[Sequence[float]] = (),
    *,
    resolution: float,
    least_half_width: float = 0.0,
) -> OffsetJudgement:
    """Compare a new offset with earlier ones of its carrier and with its siblings, which count once each.

    Args:
        value: The new one, one axis, in any unit.
        own: Earlier ones of the same carrier and offset, oldest first.
        siblings: The same for each other carrier of its kind on the same register.
        resolution: Smallest step in which offsets are read, above 0, same unit.
        least_half_width: What nobody minds, same unit: the band is never narrower.

    Raises:
        ImpossibleFigure: a value that is not a number, a resolution not above 0, or a width below 0.
    """
    middles = [statistics.median(each[-RECENT:]) for each in siblings if each]
    return OffsetJudgement(
        compare_with_earlier(value, own[-RECENT:], resolution=resolution, least_half_width=least_half_width),
        compare_with_earlier(value, middles, resolution=resolution, least_half_width=least_half_width),
    )


def compare_with_earlier(
    value: float, earlier: Sequence[float], *, resolution: float, least_half_width: float = 0.0
) -> Comparison:
    """Compare a value with earlier ones of the same distribution; arguments and errors as in `judge_offset`."""
    if not 0 < resolution < math.inf or not 0 <= least_half_width < math.inf:
        raise ImpossibleFigure(f"a resolution of {resolution:g}, a width of {least_half_width:g}", "give them above 0")
    if not all(map(math.isfinite, (value, *earlier))):
        raise ImpossibleFigure("an offset that is not a number", "leave it out")
    count = len(earlier)
    if count < FEWEST:
        return Comparison(Verdict.TOO_FEW, count)
    center = statistics.median(earlier)
    half_width = max(get_band_factor(count) * _estimate_spread(earlier, center, resolution), least_half_width)
    distance = (value - center) / half_width
    return Comparison(Verdict.UNUSUAL if abs(distance) > 1 else Verdict.USUAL, count, center, half_width, distance)


def _estimate_spread(values: Sequence[float], center: float, resolution: float) -> float:
    """Standard deviation from the MAD plus half a step: the true MAD may be that much larger than what was read.

    Without the half step, offsets rounded as coarsely as they spread would be called unusual ten times as often.
    """
    deviation = statistics.median(abs(each - center) for each in values)
    return get_scale_factor(len(values)) * (deviation + resolution / 2)


def get_scale_factor(count: int) -> float:
    """The factor that turns the MAD of so many normal values (4 or more) into their standard deviation on average.

    Above 10 by Hayes, "Finite-sample bias-correction factors for the median absolute deviation", Communications in
    Statistics - Simulation and Computation 43 (2014) 2205.
    """
    return _SCALE.get(count) or 1 / (0.6744897501960817 * (1 - 0.76213 / count - 0.86413 / count**2))


def get_band_factor(count: int) -> float:
    """Half the band for so many values (4 or more), in standard deviations."""
    return _BAND.get(count, _BAND[RECENT])


@dataclass(frozen=True, slots=True)
class Tilt:
    """The least-squares plane through heights probed at several places."""

    slope_x: float
    """Rise per unit of X."""
    slope_y: float
    fall: float
    """From the lowest to the highest of the places on the plane, in the unit of the heights."""
    residual: float
    """Distance of the height farthest from the plane; 0 for three places."""


def compute_tilt(points: Sequence[tuple[float, float, float]]) -> Tilt | None:
    """The tilt of a carrier from heights at X and Y; None for fewer than three places, or places in one line.

    Args:
        points: (x, y, z), all in one unit.

    Raises:
        ImpossibleFigure: a coordinate that is not a number.
    """
    if not all(math.isfinite(each) for point in points for each in point):
        raise ImpossibleFigure("a probed point that is not a number", "leave it out")
    if len(points) < 3:
        return None
    x, y, z = ([each - math.fsum(axis) / len(points) for each in axis] for axis in zip(*points, strict=True))
    xx, xy, yy = _sum_products(x, x), _sum_products(x, y), _sum_products(y, y)
    xz, yz = _sum_products(x, z), _sum_products(y, z)
    spanned = xx * yy - xy * xy
    if not spanned > 1e-9 * (xx + yy) ** 2:
        return None
    slope_x, slope_y = (xz * yy - yz * xy) / spanned, (yz * xx - xz * xy) / spanned
    plane = [slope_x * one + slope_y * other for one, other in zip(x, y, strict=True)]
    return Tilt(slope_x, slope_y, max(plane) - min(plane), max(abs(a - b) for a, b in zip(z, plane, strict=True)))


def _sum_products(one: Sequence[float], other: Sequence[float]) -> float:
    return math.fsum(a * b for a, b in zip(one, other, strict=True))
