"""Measured values in a few numbers, and values that are off by a unit or a decimal point."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence

from floor.dataclass import dataclass
from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.missing import Missing, find_missing
from floor.figures.units import MM_PER_INCH


@dataclass(frozen=True, slots=True)
class Description:
    """All but the count in the unit of the values; a reason in the place of what cannot be told."""

    count: int
    mean: float | Missing
    median: float | Missing
    deviation: float | Missing
    """Sample standard deviation; `Missing.TOO_FEW` of one value, 0 where all are the same."""
    least: float | Missing
    greatest: float | Missing


def describe_values(values: Sequence[float]) -> Description:
    """Count, mean, median, standard deviation and ends."""
    missing = find_missing(values)
    if missing:
        return Description(len(values), *[missing] * 5)
    return Description(
        count=len(values),
        mean=math.fsum(values) / len(values),
        median=statistics.median(values),
        deviation=compute_deviation(values) if len(values) > 1 else Missing.TOO_FEW,
        least=min(values),
        greatest=max(values),
    )


def compute_deviation(values: Sequence[float]) -> float:
    """Sample standard deviation of two values or more; exactly 0 where all are the same.

    In two passes with sums that do not round on the way, so that values with many equal leading digits keep all digits
    that they have.
    """
    if min(values) == max(values):
        return 0.0
    mean = math.fsum(values) / len(values)
    return math.sqrt(math.fsum((value - mean) ** 2 for value in values) / (len(values) - 1))


_SLIPS = (MM_PER_INCH, 1 / MM_PER_INCH, 10.0, 0.1, -1.0)


def find_slip_factor(value: float, low: float, high: float) -> float | None:
    """The factor by which a value out of limits must be multiplied to be inside, if it is one of units, digits or sign.

    25.4 for inches taken for mm, 1 / 25.4 the other way, 10 and 0.1 for a decimal point, -1 for a sign. If several
    would do, the one that brings it nearest to the middle of the limits.

    Args:
        value, low, high: In one unit; the limits count as inside.

    Returns:
        None if the value is inside, or out by something else.

    Raises:
        ImpossibleFigure: limits that are not numbers, or the lower one above the upper one.
    """
    if not (math.isfinite(low) and math.isfinite(high) and low <= high):
        raise ImpossibleFigure(f"limits {low:g} to {high:g}", "give the lower one first")
    if not math.isfinite(value) or low <= value <= high:
        return None
    fitting = [factor for factor in _SLIPS if low <= value * factor <= high]
    return min(fitting, key=lambda factor: abs(value * factor - (low + high) / 2), default=None)
