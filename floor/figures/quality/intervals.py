"""How well a share is known from a count: exact (Clopper-Pearson) and Wilson intervals."""

from __future__ import annotations

import math
from enum import StrEnum
from statistics import NormalDist

from floor.dataclass import dataclass
from floor.figures.distributions import find_beta_quantile
from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.missing import Missing


class Side(StrEnum):
    """Which ends of an interval are computed; the other end is 0 or 1."""

    BOTH = "both"
    LOWER = "lower"
    UPPER = "upper"


@dataclass(frozen=True, slots=True)
class Interval:
    """Both ends, in the unit of the figure that it is about."""

    low: float
    high: float


def compute_exact_interval(
    events: int, trials: int, confidence: float = 0.95, side: Side = Side.BOTH
) -> Interval | Missing:
    """Clopper-Pearson: holds the true share at least as often as ``confidence`` says, however few the trials.

    No events at all give an upper bound above 0. Source: NIST/SEMATECH e-Handbook 7.2.4.1.

    Args:
        events: How many of the trials had it, in pieces.
        trials: All of them; none at all is `Missing.EMPTY`.
        confidence: Above 0 and below 1, split evenly where both ends are computed.

    Raises:
        ImpossibleFigure: more events than trials, a count below 0, a confidence out of its range.
    """
    miss = _require(events, trials, confidence, side)
    if not trials:
        return Missing.EMPTY
    low, high = 0.0, 1.0
    if events and side is not Side.UPPER:
        low = find_beta_quantile(miss, events, trials - events + 1)
    if events < trials and side is not Side.LOWER:
        high = find_beta_quantile(1 - miss, events + 1, trials - events)
    return Interval(low, high)


def compute_wilson_interval(
    events: int, trials: int, confidence: float = 0.95, side: Side = Side.BOTH
) -> Interval | Missing:
    """Wilson's score interval: holds the true share about as often as ``confidence`` says; narrower than the exact one.

    Source: E. B. Wilson 1927, as in the NIST/SEMATECH e-Handbook 7.2.4.1. Arguments and errors as in
    `compute_exact_interval`.
    """
    miss = _require(events, trials, confidence, side)
    if not trials:
        return Missing.EMPTY
    z = NormalDist().inv_cdf(1 - miss)
    share, weight = events / trials, z * z / trials
    middle = (share + weight / 2) / (1 + weight)
    half = z * math.sqrt(share * (1 - share) / trials + weight / (4 * trials)) / (1 + weight)
    low = 0.0 if side is Side.UPPER or not events else middle - half
    high = 1.0 if side is Side.LOWER or events == trials else middle + half
    return Interval(low, high)


def _require(events: int, trials: int, confidence: float, side: Side) -> float:
    """The chance to miss at one end."""
    if not 0 <= events <= trials:
        raise ImpossibleFigure(f"{events} of {trials} pieces", "count each piece once")
    require_confidence(confidence)
    return (1 - confidence) / (2 if side is Side.BOTH else 1)


def require_confidence(confidence: float) -> None:
    """Refuse what is no confidence.

    Raises:
        ImpossibleFigure: not above 0 and below 1.
    """
    if not 0 < confidence < 1:
        raise ImpossibleFigure(f"a confidence of {confidence:g}", "give it above 0 and below 1")
