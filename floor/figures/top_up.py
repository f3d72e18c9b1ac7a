"""What to do about a forecast, and when to warn.

More pieces can start at any operation that is still set up. While there is time, name the fewest that fill the order
again and the work they cost.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from floor.dataclass import dataclass
from floor.figures.errors import ImpossibleFigure, ImpossibleOrder
from floor.figures.fewest_pieces import find_fewest, normal_quantile
from floor.figures.forecast import Forecast, WorkInProcess, forecast_good_count
from floor.figures.yields import OperationBelief

_BAND = 2.563
"""Standard deviations from the 10 to the 90 % point of a normal variable."""


@dataclass(frozen=True, slots=True)
class TopUp:
    """More pieces to start at one operation."""

    at: int
    """Index of the operation in the route."""
    pieces: int
    probability: float
    """P(good ≥ ordered) with them."""
    hours: float
    """Mean work on them through the end of the route."""


def compute_top_up(
    ordered: int,
    finished: int,
    in_hand: Sequence[WorkInProcess],
    beliefs: Sequence[OperationBelief],
    *,
    level: float,
    at: int,
    minutes: Sequence[float],
    most: int,
    rework_minutes: Sequence[float] | None = None,
    known: Forecast | None = None,
) -> TopUp | None:
    """The fewest extra pieces to start at an operation now so that P(good ≥ ordered) is at least ``level``.

    Args:
        ordered, finished, in_hand, beliefs: As `forecast`.
        level: Chance wanted, above 0 and below 1.
        at: Index of the operation the new pieces enter.
        minutes: Time of one piece's first pass at each operation.
        most: Most pieces to look for.
        rework_minutes: Rework time of one piece at each operation, all passes; None for none.
        known: The present forecast, if already made.

    Returns:
        None if even ``most`` extra pieces do not reach the level.

    Raises:
        ImpossibleOrder: as `forecast`, or a level out of range.
        ImpossibleFigure: as `forecast`, or an operation that is not in the route.
    """
    if not 0 < level < 1:
        raise ImpossibleOrder(f"a level of {level}", "choose one above 0 and below 1")
    repairs = rework_minutes or [0.0] * len(minutes)
    if not (0 <= at < len(beliefs) == len(minutes) == len(repairs)):
        raise ImpossibleFigure(
            f"pieces started at operation index {at} of {len(beliefs)}, with {len(minutes)} times",
            "name an operation of the route and give one time for each",
        )

    def expected(more: int) -> Forecast:
        hand = list(in_hand)
        hand[at] = WorkInProcess(hand[at].waiting + more, hand[at].rework, hand[at].tests)
        return forecast_good_count(ordered, finished, hand, beliefs)

    now = expected(0) if known is None else known
    if now.probability >= level:
        return TopUp(at, 0, now.probability, 0.0)
    # The missing deviate, in pieces of the present band, is about how many more must come out good.
    passes = math.prod(belief.mean for belief in beliefs[at:])
    lacks = (normal_quantile(level) - normal_quantile(now.probability)) * max(1.0, (now.high - now.low) / _BAND)
    found = find_fewest(
        lambda more: expected(more).probability,
        level,
        known=(0, now.probability),
        guess=math.ceil(lacks / passes),
        most=most,
    )
    if found is None:
        return None
    more, reached = found
    return TopUp(at, more, reached, more * _minutes_per_piece(beliefs[at:], minutes[at:], repairs[at:]) / 60)


def _minutes_per_piece(beliefs: Sequence[OperationBelief], minutes: Sequence[float], repairs: Sequence[float]) -> float:
    """Mean work on one piece from here to the end; a lost piece costs nothing more."""
    total, alive = 0.0, 1.0
    for belief, first, repair in zip(beliefs, minutes, repairs, strict=True):
        sent = (1 - belief.first.mean) * belief.reworkable.mean if belief.reworkable else 0.0
        total += alive * (first + sent * repair)
        alive *= belief.mean
    return total


@dataclass(frozen=True, slots=True)
class WarningDecision:
    """Whether to warn now, and whether to warn at the next fall below the level."""

    say: bool
    armed: bool


def decide_warning(armed: bool, probability: float, level: float, *, clear: float = 0.03) -> WarningDecision:
    """Warn once when P(order filled) falls below the level, not at every count.

    Then silent until P has risen clear of the level, by ``clear`` or, if less, half the way to certainty; after that
    the next fall is news again. Start with ``armed`` true.
    """
    if probability < level:
        return WarningDecision(armed, False)
    return WarningDecision(False, armed or probability >= level + min(clear, (1 - level) / 2))
