"""The good count of one operation with rework, case by case, and of a whole route by simulation.

Written from what the job means, as a check on the forecast for tests and benchmark; shares nothing with it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from scipy.special import gammaln

Shape = tuple[float, float]
"""The two numbers of a Beta variable."""


@dataclass(frozen=True, slots=True)
class Station:
    """What is known of one operation: good at first, sent to rework of the rejects, saved of those; what is there."""

    good: Shape
    sent: Shape
    saved: Shape
    waiting: int
    in_rework: int = 0


def station(
    good: float, rework: float, saves: float, passes: int, weight: float, counted: tuple[int, int, int, int, int],
    waiting: int, in_rework: int,
) -> Station:  # fmt: skip
    """From a checklist's estimates, of so many pieces' weight, and what was counted.

    Args:
        counted: good at first, sent to rework, scrap, saved of those sent, lost of those sent.
    """
    passed, sent, scrap, saved, lost = counted
    # One pass saves this share; of the rest as many go round again as of first-time rejects.
    again = rework / (1 - good) * (1 - saves)
    chance = sum(saves * again**n for n in range(passes))
    trust = max(1.0, rework * weight)
    dead = max(0.0, round((1 - good - rework) * weight, 9))
    return Station(
        (good * weight + passed, (1 - good) * weight + sent + scrap),
        (rework * weight + sent, dead + scrap),
        (chance * trust + saved, (1 - chance) * trust + lost),
        waiting,
        in_rework,
    )


def counted_out(at: Station) -> np.ndarray:
    """Chances of 0, 1, 2 … pieces leaving good: every number of rejects, of those sent, of those saved."""
    rejects = _table(at.waiting, (at.good[1], at.good[0]))[at.waiting]
    most = int(np.nonzero(rejects > 1e-15)[0].max())
    sent = _table(most, at.sent)
    saved = _table(most + at.in_rework, at.saved)[at.in_rework :]
    back = sent @ saved
    out = np.zeros(at.waiting + at.in_rework + 1)
    for number in range(most + 1):
        left = at.waiting - number
        room = min(back.shape[1], len(out) - left)
        out[left : left + room] += rejects[number] * back[number, :room]
    return out


def _table(most: int, shape: Shape) -> np.ndarray:
    """Chances of k of n for every n up to ``most``, n down and k across: the beta-binomial law by its definition."""
    n, k = np.arange(most + 1)[:, None], np.arange(most + 1)[None, :]
    a, b = shape
    if b == 0 or a == 0:
        return ((n if b == 0 else 0) == k).astype(float) * np.ones((most + 1, 1))
    rest = np.maximum(n - k, 0)
    log = gammaln(n + 1) - gammaln(k + 1) - gammaln(rest + 1) + gammaln(k + a) + gammaln(rest + b) - gammaln(n + a + b)
    return np.where(k <= n, np.exp(log - (math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b))), 0.0)


def exactly_out(at: Station) -> list[Fraction]:
    """The same in whole numbers, for a few pieces."""
    out = [Fraction(0)] * (at.waiting + at.in_rework + 1)
    for good in range(at.waiting + 1):
        for sent in range(at.waiting - good + 1):
            for saved in range(sent + at.in_rework + 1):
                out[good + saved] += (
                    _of(good, at.waiting, at.good) * _of(sent, at.waiting - good, at.sent)
                    * _of(saved, sent + at.in_rework, at.saved)
                )  # fmt: skip
    return out


def _of(k: int, n: int, shape: Shape) -> Fraction:
    """Chance of k of n, drawn one after the other, each drawn piece weighing one more (Pólya's urn)."""
    a, b = (Fraction(str(round(number, 9))) for number in shape)
    chance = Fraction(math.comb(n, k))
    for drawn in range(n):
        chance *= (a + drawn if drawn < k else b + drawn - k) / (a + b + drawn)
    return chance


def drawn_out(route: Sequence[Station], batches: int, seed: int) -> np.ndarray:
    """Good pieces of so many drawn batches: the yields first, once for the batch, then every count."""
    random = np.random.default_rng(seed)

    def share(shape: Shape) -> np.ndarray:
        return random.beta(*shape, batches) if min(shape) > 0 else np.full(batches, float(shape[1] == 0))

    pieces = np.zeros(batches, int)
    for at in route:
        pieces += at.waiting
        good = random.binomial(pieces, share(at.good))
        sent = random.binomial(pieces - good, share(at.sent)) + at.in_rework
        pieces = good + random.binomial(sent, share(at.saved))
    return pieces
