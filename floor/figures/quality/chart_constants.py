"""The constants of control charts for subgroups of 2 to 25 values from a normal process.

Names and formulas as in the NIST/SEMATECH e-Handbook 6.3.2 and in any book on control charts.
"""

from __future__ import annotations

import math

from floor.dataclass import dataclass
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


@dataclass(frozen=True, slots=True)
class ChartConstants:
    """d2 and d3: mean and standard deviation of the range, in sigmas; c4: mean of the standard deviation, in sigmas.

    The others turn a mean range (A2, D3, D4) or a mean standard deviation (A3, B3, B4) into limits at three sigmas.
    """

    d2: float
    d3: float
    c4: float
    A2: float
    A3: float
    B3: float
    B4: float
    D3: float
    D4: float


def compute_c4(size: int) -> float:
    """Mean of the sample standard deviation of so many values, 2 or more, in sigmas."""
    return math.sqrt(2 / (size - 1)) * math.exp(math.lgamma(size / 2) - math.lgamma((size - 1) / 2))


def get_chart_constants(size: int) -> ChartConstants:
    """The constants for subgroups of so many values.

    Raises:
        ImpossibleFigure: fewer than 2 values, or more than 25.
    """
    if size not in _RANGES:
        raise ImpossibleFigure(f"a subgroup of {size} values", f"give it 2 to {LARGEST_RANGE}")
    (d2, d3), c4 = _RANGES[size], compute_c4(size)
    swing_of_range, swing_of_deviation = 3 * d3 / d2, 3 * math.sqrt(1 - c4 * c4) / c4
    return ChartConstants(
        d2=d2,
        d3=d3,
        c4=c4,
        A2=3 / (d2 * math.sqrt(size)),
        A3=3 / (c4 * math.sqrt(size)),
        B3=max(0.0, 1 - swing_of_deviation),
        B4=1 + swing_of_deviation,
        D3=max(0.0, 1 - swing_of_range),
        D4=1 + swing_of_range,
    )
