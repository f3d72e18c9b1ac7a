"""Yields and times learned from experience.

A yield is a Beta variable: the checklist's estimate and its weight in pieces are the prior, counts make the posterior
(conjugate, exact). A first pass has three outcomes: good, rework and scrap. A Dirichlet prior of the same weight
splits into two independent Betas: good, and rework among the rest.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median

from floor.dataclass import dataclass
from floor.figures.errors import ImpossibleFigure, ImpossibleYield
from floor.figures.route_yields import OperationYield, compute_piece_outcomes

PLAN_RUNS = 3.0
"""Runs that a stated time is worth (shop decision)."""


@dataclass(frozen=True, slots=True)
class Beta:
    """The belief about a share: as if ``good`` pieces had passed and ``bad`` had not.

    ``bad = 0`` is a share of exactly one and ``good = 0`` of exactly zero, until a count says otherwise.
    """

    good: float
    bad: float

    def __post_init__(self) -> None:
        if not (self.good >= 0 and self.bad >= 0 and 0 < self.good + self.bad < math.inf):
            raise ImpossibleYield(
                f"a yield known from {self.good} good and {self.bad} bad pieces",
                "give an estimate a weight above 0 pieces",
            )

    @property
    def mean(self) -> float:
        return self.good / (self.good + self.bad)

    @property
    def mean_square(self) -> float:
        """Mean of the square: chance that two pieces both pass."""
        total = self.good + self.bad
        return self.mean * (self.good + 1) / (total + 1)

    @property
    def complement(self) -> Beta:
        """The share that does not pass."""
        return Beta(self.bad, self.good)

    def seen(self, good: int, bad: int) -> Beta:
        """The belief after so many more pieces have been counted.

        Raises:
            ImpossibleFigure: a count below 0.
        """
        if good < 0 or bad < 0:
            raise ImpossibleFigure(f"counts of {good} good and {bad} bad", "counts are 0 or more")
        return Beta(self.good + good, self.bad + bad)


def build_prior(estimate: float, weight: float) -> Beta:
    """The checklist's estimate of a yield, worth ``weight`` counted pieces.

    Raises:
        ImpossibleYield: estimate not above 0 and at most 1, or weight not above 0.
    """
    if not (0 < estimate <= 1 and weight > 0):
        raise ImpossibleYield(
            f"an estimated yield of {estimate} with a weight of {weight} pieces",
            "the estimate is above 0 and at most 1, the weight above 0",
        )
    return Beta(estimate * weight, (1 - estimate) * weight)


@dataclass(frozen=True, slots=True)
class YieldCounts:
    """Pieces out of an operation so far."""

    good: int = 0
    """Good at the first pass."""
    rework: int = 0
    """Sent to rework after the first pass, whatever happened to them."""
    scrap: int = 0
    """Scrap at the first pass."""
    saved: int = 0
    """Of those reworked: good in the end."""
    lost: int = 0
    """Of those reworked: scrap in the end. The rest are still in rework."""

    def __post_init__(self) -> None:
        if min(self.good, self.rework, self.scrap, self.saved, self.lost) < 0:
            raise ImpossibleFigure(f"a count below 0 in {self}", "counts are 0 or more")
        if self.saved + self.lost > self.rework:
            raise ImpossibleFigure(
                f"{self.saved} saved and {self.lost} lost of {self.rework} reworked", "count each reworked piece once"
            )


@dataclass(frozen=True, slots=True)
class OperationBelief:
    """The beliefs about one operation."""

    first: Beta
    """Good at the first pass."""
    reworkable: Beta | None = None
    """Share of rejects sent to rework; None if there is no rework."""
    saved: Beta | None = None
    """Share of reworked pieces good in the end, all passes and the way back included; None if there is no rework."""

    @property
    def mean(self) -> float:
        """Chance that the next piece to enter leaves good."""
        rescue = self.reworkable.mean * self.saved.mean if self.reworkable and self.saved else 0.0
        return self.first.mean + (1 - self.first.mean) * rescue


def update_beliefs(
    operations: Sequence[OperationYield], weights: Sequence[float], counts: Sequence[YieldCounts]
) -> tuple[OperationBelief, ...]:
    """Beliefs after counting, one per operation.

    The estimates weigh ``weights`` pieces each. The belief about rework weighs as many pieces as that prior sends
    there, at least one.

    Raises:
        ImpossibleYield: as `compute_piece_outcomes`, or a weight not above 0.
        ImpossibleFigure: lists of unequal length.
    """
    if not len(operations) == len(weights) == len(counts):
        raise ImpossibleFigure(
            f"{len(operations)} operations, {len(weights)} weights, {len(counts)} counts",
            "give one of each per operation",
        )
    beliefs = []
    for operation, fate, weight, count in zip(
        operations, compute_piece_outcomes(operations), weights, counts, strict=True
    ):
        if not 0 < weight < math.inf:
            raise ImpossibleYield(f"a weight of {weight} pieces at {operation.name}", "give a weight above 0")
        good, rework = operation.good * weight, operation.rework * weight
        scrap = weight - good - rework
        scrap = scrap if scrap > 1e-9 * weight else 0.0  # 30 · (1 − 0.97 − 0.03) is zero, not 4e-16
        first = Beta(good, rework + scrap).seen(count.good, count.rework + count.scrap)
        if rework + count.rework == 0:
            beliefs.append(OperationBelief(first))
            continue
        chance = fate.saved if operation.rework else operation.rework_yield
        trust = max(1.0, rework)
        beliefs.append(
            OperationBelief(
                first,
                Beta(rework + count.rework, scrap + count.scrap),
                Beta(chance * trust, (1 - chance) * trust).seen(count.saved, count.lost),
            )
        )
    return tuple(beliefs)


@dataclass(frozen=True, slots=True)
class TimeEstimate:
    """A time blended from plan and observation, in the given unit."""

    time: float
    spread: float | None
    """Standard deviation of one run: 1.4826 times the median absolute deviation; None below three runs."""
    runs: int


def estimate_time(planned: float, observed: Sequence[float], weight: float = PLAN_RUNS) -> TimeEstimate:
    """A time per piece or load: (weight · planned + n · median of n observed) / (weight + n).

    The plan weighs as much as ``weight`` runs. Thanks to the median, a run that somebody forgot to end does not shift
    the figure; half of them would have to be wrong.

    Raises:
        ImpossibleFigure: a time or weight below 0 or not finite, or no weight and nothing observed.
    """
    if not all(0 <= value < math.inf for value in (planned, weight, *observed)):
        raise ImpossibleFigure(f"planned time {planned}, weight {weight}, observed {list(observed)}", "none is below 0")
    runs = len(observed)
    if weight + runs == 0:
        raise ImpossibleFigure("a time with neither plan nor observation", "give the plan a weight above 0")
    middle = median(observed) if runs else 0.0
    spread = 1.4826 * median(abs(value - middle) for value in observed) if runs >= 3 else None
    return TimeEstimate((weight * planned + runs * middle) / (weight + runs), spread, runs)
