"""How well a share is known from a count: exact (Clopper-Pearson) intervals and bounds."""

from __future__ import annotations

from floor.dataclass import dataclass
from floor.figures.distributions import find_beta_quantile
from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.missing import Missing


@dataclass(frozen=True, slots=True)
class Interval:
    """Both ends, in the unit of the figure that it is about."""

    low: float
    high: float


def compute_exact_interval(events: float, trials: float, confidence: float = 0.95) -> Interval | Missing:
    """Clopper-Pearson: holds the true share at least as often as ``confidence`` says, however few the trials.

    Source: NIST/SEMATECH e-Handbook 7.2.4.1.

    Args:
        events: How many of the trials had it, in pieces; parts of one where trials that are not independent count less.
        trials: All of them; none at all is `Missing.EMPTY`.
        confidence: Above 0 and below 1; the chance to miss is split evenly over both ends.

    Raises:
        ImpossibleFigure: more events than trials, a count below 0, a confidence out of its range.
    """
    require_confidence(confidence)
    miss = (1 - confidence) / 2
    high = compute_upper_bound(events, trials, 1 - miss)
    if isinstance(high, Missing):
        return high
    return Interval(find_beta_quantile(miss, events, trials - events + 1) if events else 0.0, high)


def compute_upper_bound(events: float, trials: float, confidence: float = 0.95) -> float | Missing:
    """What the true share is at most, at least as often as ``confidence`` says; above 0 even without an event.

    Arguments, errors and source as in `compute_exact_interval`.
    """
    if not 0 <= events <= trials:
        raise ImpossibleFigure(f"{events} of {trials} pieces", "count each piece once")
    require_confidence(confidence)
    if not trials:
        return Missing.EMPTY
    return find_beta_quantile(confidence, events + 1, trials - events) if events < trials else 1.0


def require_confidence(confidence: float) -> None:
    """Refuse what is no confidence.

    Raises:
        ImpossibleFigure: not above 0 and below 1.
    """
    if not 0 < confidence < 1:
        raise ImpossibleFigure(f"a confidence of {confidence:g}", "give it above 0 and below 1")
