"""Axes of charts: where a value lies, and the round numbers beside it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

_MOST_DECIMALS = 9
_LARGEST_PLAIN = 1e9
"""Numbers from here on are written with an exponent."""


class Scale(NamedTuple):
    """From values to places on paper or screen, both in their own unit."""

    low: float
    high: float
    """Above ``low``."""
    start: float
    end: float
    """Where ``low`` and ``high`` lie; below ``start`` on paper, as that counts from the top."""

    def place(self, value: float) -> float:
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)


def find_range(values: Sequence[float]) -> tuple[float, float]:
    """The least and the greatest, one value at least; a little apart where all are the same."""
    low, high = min(values), max(values)
    if low == high:
        spread = abs(low) * 0.01 or 1.0
        return low - spread, high + spread
    return low, high


def list_ticks(low: float, high: float, most: int, least: float = 0.0) -> list[float]:
    """At most so many (2 or more) round numbers from ``low`` to ``high``: 1, 2 or 5 times a power of ten apart.

    Args:
        least: how far apart at least: 1 where there are whole numbers only.
    """
    power = 10.0 ** math.floor(math.log10(max((high - low) / most, least)))
    for step in (power * times for times in (1, 2, 5, 10, 20, 50)):
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first < most:
            break
    return [n * step for n in range(first, last + 1)]


def format_ticks(ticks: Sequence[float]) -> list[str]:
    """Each with the decimals that tell it from its neighbor, zeros kept: ``7.98``, ``8.00``."""
    step = ticks[1] - ticks[0] if len(ticks) > 1 else abs(ticks[0]) if ticks else 1.0
    decimals = max(0, -math.floor(math.log10(step or 1.0) + 1e-9))
    if decimals > _MOST_DECIMALS or any(abs(one) >= _LARGEST_PLAIN for one in ticks):
        return [f"{one:.6g}" for one in ticks]
    return [f"{one + 0.0:.{decimals}f}" for one in ticks]
