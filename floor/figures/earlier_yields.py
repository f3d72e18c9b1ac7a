"""A yield from earlier batches: how many pieces each of them is worth for the next one.

Each batch has a yield of its own, spread around the part's; so a thousand pieces of one batch tell less of the next
than a thousand of ten. With a correlation ρ of two pieces of one batch, n pieces are worth n / (1 + (n - 1) ρ) for the
mean, and the next batch's own yield is known no better than a Beta of 1 / ρ - 1 pieces lets it be. What is believed of
it is the Beta with the mean and variance of both together: 1 / (M + 1) = ρ + (1 - ρ) / (N + 1) for N pieces that tell
of the mean.

The checklist's estimate of w pieces is read so that without earlier batches nothing changes: `SHARE_BETWEEN` of its
doubt is what batches differ by, the rest is doubt about the mean. ρ is the moment estimate from the batches, drawn
toward the checklist's by `PRIOR_BATCHES`. Age is a power prior: a batch counts by a share that halves each half-life,
which the shop may set.

Sources (from memory): Williams, *Applied Statistics* 31 (1982), 144-148, and Kleinman, *JASA* 68 (1973), 46-54, for
the moment estimate; Ibrahim and Chen, *Statistical Science* 15 (2000), 46-60, for the power prior. Calibration:
``tests/bench/earlier.py``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from floor.dataclass import dataclass
from floor.figures.errors import ImpossibleFigure

HALF_LIFE_DAYS = 365.0
"""Days after which a batch counts half, unless the shop says otherwise: in about a year people, tools, lots and the
state of a machine change enough to make an old yield half a guess, and shorter would forget a part ordered once a year
(shop decision)."""
SHARE_BETWEEN = 0.5
"""Share of the checklist's doubt that is how batches differ, before any tells (shop decision)."""
PRIOR_BATCHES = 4.0
"""Batches that the checklist's doubt is worth, in how much batches differ (shop decision, held by the simulation)."""


class BatchYield(NamedTuple):
    """What one batch says of a yield."""

    share: float
    """Good at the first count."""
    worth: float
    """Pieces that would tell as much if loads did not share their luck."""
    days: float
    """How old it is when the next one is planned."""
    counts: bool = True
    """False where the estimate holds its pieces already: it only tells how much batches differ."""
    reworked: float = 0.0
    """Share sent to rework at the first count."""


@dataclass(frozen=True, slots=True)
class EarlierYield:
    """What is believed of the next batch's yield."""

    good: float
    weight: float
    """Pieces that it is worth for the next batch: M."""
    reworked: float
    """Share that is sent to rework."""
    differ: float
    """ρ, by which batches differ."""
    weights: tuple[float, ...]
    """Pieces that each batch is worth for the mean, in their order; 0 of one that the estimate holds."""


def combine_yields(
    good: float, weight: float, reworked: float, batches: Sequence[BatchYield], half_life: float = HALF_LIFE_DAYS
) -> EarlierYield:
    """The checklist's estimate and earlier batches together; without any, exactly the estimate.

    Args:
        good, weight, reworked: the estimate: share good at first, its weight in pieces, share sent to rework.
        half_life: in days.

    Raises:
        ImpossibleFigure: a share not within 0 and 1, or a weight or age that is none.
    """
    for one in batches:
        if not (0 <= one.share <= 1 and 0 <= one.reworked <= 1 and 0 < one.worth < math.inf and one.days >= 0):
            raise ImpossibleFigure(f"a batch that says {one}", "shares are from 0 to 1, pieces above 0, ages 0 or more")
    if not (0 < good <= 1 and 0 < weight < math.inf):
        raise ImpossibleFigure(f"an estimate of {good} worth {weight} pieces", "state a share and a weight above 0")
    differ = estimate_difference(weight, batches)
    weights = tuple(weigh_batch(one, differ, half_life) if one.counts else 0.0 for one in batches)
    if not batches:
        return EarlierYield(good, weight, reworked, differ, weights)
    stated = weight / (1 - SHARE_BETWEEN)
    told = stated + math.fsum(weights)

    def blend(estimate: float, shares: Sequence[float]) -> float:
        seen = math.fsum(share * pieces for share, pieces in zip(shares, weights, strict=True))
        return (estimate * stated + seen) / told

    doubt = differ + (1 - differ) / (told + 1)
    return EarlierYield(
        blend(good, [one.share for one in batches]),
        1 / doubt - 1,
        blend(reworked, [one.reworked for one in batches]),
        differ,
        weights,
    )


def weigh_batch(one: BatchYield, differ: float, half_life: float = HALF_LIFE_DAYS) -> float:
    """Pieces that a batch is worth for the mean of all: fewer the more batches differ, and the older it is."""
    return compute_age_share(one.days, half_life) * one.worth / (1 + max(one.worth - 1, 0.0) * differ)


def compute_age_share(days: float, half_life: float) -> float:
    """The share by which something so old (0 days or more) counts."""
    return math.exp2(-days / half_life)


def estimate_difference(weight: float, batches: Sequence[BatchYield]) -> float:
    """ρ: what the batches show, by as many of them as there are, and what an estimate of this weight lets expect.

    Batches that are all good, or all bad, show nothing.
    """
    expected = SHARE_BETWEEN / (weight + 1)
    shown = estimate_correlation([(one.share, one.worth) for one in batches])
    if shown is None:
        return expected
    free = len(batches) - 1
    return (PRIOR_BATCHES * expected + free * shown) / (PRIOR_BATCHES + free)


def compute_pearson(batches: Sequence[tuple[float, float]]) -> float | None:
    """Pearson's X² of (share, pieces) against one share for all; None where all are 0 or 1."""
    pieces = math.fsum(count for _, count in batches)
    mean = math.fsum(share * count for share, count in batches) / pieces if pieces else 0.0
    if not 1e-12 < mean < 1 - 1e-12:
        return None
    return math.fsum(count * (share - mean) ** 2 for share, count in batches) / (mean * (1 - mean))


def estimate_correlation(batches: Sequence[tuple[float, float]]) -> float | None:
    """The correlation of two pieces of one batch, from 0 to 1, such that X² is what it is expected to be.

    E X² = Σ (1 - nⱼ / Σn) (1 + (nⱼ - 1) ρ) over batches of nⱼ pieces.

    Returns:
        None where nothing tells it: one batch, single pieces, or no share other than 0 or 1.
    """
    found = compute_pearson(batches)
    pieces = math.fsum(count for _, count in batches)
    if found is None or len(batches) < 2:
        return None
    per = math.fsum((1 - count / pieces) * (count - 1) for _, count in batches)
    if per <= 1e-9:
        return None
    return min(max((found - (len(batches) - 1)) / per, 0.0), 1.0)


def weigh_times(runs: int, days: float, half_life: float = HALF_LIFE_DAYS) -> float:
    """Runs that the times of a batch are worth for the next: its people, tools and material are shared, so at most
    `MOST_RUNS`; and the fewer the older.
    """
    return compute_age_share(days, half_life) * runs / (1 + (runs - 1) / MOST_RUNS)


MOST_RUNS = 4.0
"""Runs that the times of one batch are worth at most: a correlation of a quarter (shop decision)."""
