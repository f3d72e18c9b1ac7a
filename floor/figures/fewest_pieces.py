"""The fewest pieces that reach a chance, in few tries because each chance takes long to compute."""

from __future__ import annotations

import math
from collections.abc import Callable
from statistics import NormalDist

from floor.figures.distributions import reaches_level

_TRIES = 8
"""Tries along the line before every other try is a bisection, which ends soon whatever the chance does."""


def find_fewest(
    chance: Callable[[int], float], level: float, *, known: tuple[int, float], guess: int, most: int
) -> tuple[int, float] | None:
    """The least number of pieces with a chance of at least ``level``, and that chance; None if it is above ``most``.

    The normal deviate of the chance is nearly a straight line over the pieces. Follow the line through the last two
    tries until two neighbors bracket the level.

    Args:
        chance: Rises with the pieces.
        level: Above 0 and below 1.
        known: A number of pieces and its chance, below the level.
        guess: Where to try first.
    """
    low, high, reached = known[0], most + 1, 0.0
    last, wanted, tries = (known[0], normal_quantile(known[1])), normal_quantile(level), 0
    while high - low > 1:
        guess = min(max(guess, low + 1), high - 1)
        found = chance(guess)
        before, last, tries = last, (guess, normal_quantile(found)), tries + 1
        if reaches_level(found, level):
            high, reached = guess, found
        else:
            low = guess
        steep = (last[1] - before[1]) / (last[0] - before[0])
        if steep <= 0 or (tries > _TRIES and tries % 2):
            guess = low + max(1, low - known[0]) if high > most else (low + high) // 2
        else:
            guess = math.ceil(last[0] + min((wanted - last[1]) / steep, most))
    return None if high > most else (high, reached)


def normal_quantile(chance: float) -> float:
    """The standard normal deviate not exceeded with this chance; kept finite at both ends."""
    return NormalDist().inv_cdf(min(max(chance, 1e-12), 1 - 1e-12))
