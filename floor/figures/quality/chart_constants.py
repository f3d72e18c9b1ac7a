"""The constants of control charts for subgroups from a normal process: c4 of any size, d2 and d3 of 2 to 25 values.

Names and formulas as in the NIST/SEMATECH e-Handbook 6.3.2 and in any book on control charts.
"""

from __future__ import annotations

import math

from floor.figures.errors import ImpossibleFigure

LARGEST_RANGE = 25
"""Largest subgroup with a range: of more values, the range wastes most of what they tell."""

_RANGES = {
    2: (1.1283791671, 0.8525024664),
    3: (1.6925687506, 0.8883680040),
    4: (2.0587507460, 0.8798082028),
    5: (2.3259289473, 0.8640819411),
    6: (2.5344127212, 0.8480396861),
    7: (2.7043567512, 0.8332053356),
    8: (2.8472006121, 0.8198314898),
    9: (2.9700263244, 0.8078342745),
    10: (3.0775054617, 0.7970506735),
    11: (3.1728727038, 0.7873146205),
    12: (3.2584552797, 0.7784783412),
    13: (3.3359803541, 0.7704162020),
    14: (3.4067631082, 0.7630230956),
    15: (3.4718268899, 0.7562114297),
    16: (3.5319827861, 0.7499080894),
    17: (3.5878839618, 0.7440517839),
    18: (3.6400637579, 0.7385908534),
    19: (3.6889630232, 0.7334814955),
    20: (3.7349501196, 0.7286863457),
    21: (3.7783358298, 0.7241733407),
    22: (3.8193846434, 0.7199148084),
    23: (3.8583234233, 0.7158867355),
    24: (3.8953481484, 0.7120681751),
    25: (3.9306292195, 0.7084407659),
}
"""Size → mean and standard deviation of the range of so many standard normal values, by integration."""


def compute_c4(size: float) -> float:
    """Mean of the sample standard deviation of so many values, above 1, in sigmas."""
    return math.sqrt(2 / (size - 1)) * math.exp(math.lgamma(size / 2) - math.lgamma((size - 1) / 2))


def get_range_constants(size: int) -> tuple[float, float]:
    """(d2, d3): mean and standard deviation of the range of so many values, in sigmas.

    Raises:
        ImpossibleFigure: fewer than 2 values, or more than 25.
    """
    if size not in _RANGES:
        raise ImpossibleFigure(f"a subgroup of {size} values", f"give it 2 to {LARGEST_RANGE}")
    return _RANGES[size]
