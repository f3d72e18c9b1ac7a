"""How many more pieces it takes until a pattern would be named."""

from __future__ import annotations

import math

from floor.figures.distributions import binomial_upper_tail
from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.looks import FIRST_BAD, Look
from floor.figures.quality.missing import Missing

_MOST_LOOKS = 60
"""After so many looks a million pieces are bad."""


def estimate_pieces_to_detect(
    bad: int,
    pieces: int,
    places: int,
    tries: int,
    look: Look | None,
    *,
    times: float = 2.0,
    chance: float = 0.8,
) -> int | Missing:
    """About how many more pieces until a place ``times`` as likely to scrap as any other would be named.

    As if each bad piece fell on a place by itself (binomial): good for loads with few bad pieces. The looks still to
    come are taken one by one, each with what it may spend, and the first is told at which the place would be named
    with that chance; 0 if the last look was good enough.

    Args:
        bad, pieces: So far, of the operation; its share bad is taken to stay as it is.
        places: Places of a full carrier, 2 or more.
        tries: Suspects tried at a look, 1 or more.
        look: The last one; None before the first.

    Returns:
        Pieces, or `Missing.TOO_FEW` while none is bad and `Missing.TOO_LARGE` for more than anybody makes.

    Raises:
        ImpossibleFigure: more bad than pieces, fewer than 2 places or 1 try, not more than 1 times, or a chance that
            is not above 0 and below 1.
    """
    if not 0 <= bad <= pieces or places < 2 or tries < 1:
        raise ImpossibleFigure(f"{bad} bad of {pieces} pieces in {places} places", "count each piece once")
    if not 1 < times < math.inf or not 0 < chance < 1:
        raise ImpossibleFigure(f"a place {times:g} times as likely", "give more than 1, and a chance below 1")
    if not bad:
        return Missing.TOO_FEW
    following = look or Look(1, 0, FIRST_BAD)
    for _ in range(_MOST_LOOKS):
        needed = _find_fewest_named(following.count, 1 / places, following.alpha / tries)
        if binomial_upper_tail(needed, following.count, times / (places - 1 + times)) >= chance:
            return max(0, math.ceil((following.count - bad) * pieces / bad))
        following = Look(following.number + 1, 0, following.next_count)
    return Missing.TOO_LARGE


def _find_fewest_named(bad: int, share: float, alpha: float) -> int:
    """The fewest of all bad pieces that a place must have to be named; more than all if none are enough."""
    low, high = 0, bad + 1
    while high - low > 1:
        middle = (low + high) // 2
        if binomial_upper_tail(middle, bad, share) <= alpha:
            high = middle
        else:
            low = middle
    return high
