"""Where a tool goes: bounds of its moves while reading, and what keeps them unknown."""

from __future__ import annotations

from math import inf
from typing import Literal

Gap = Literal[
    "no value", "two readings", "bad word", "unknown code", "unknown point", "bad arc", "shifted", "axes changed",
    "jump not known", "call missing", "macro call", "probe", "cycle varies", "rotary", "too long to follow",
    "never left", "no word", "tool change", "offset change", "home", "machine coordinates", "program start",
    "offset written", "skipped",
]  # fmt: skip
"""Why a position is unknown."""
Doubt = Literal[
    "distance mode",
    "work offset",
    "tool length",
    "radius compensation",
    "local shift",
    "unknown code",
    "block delete",
    "cycle fires",
    "cycle repeats",
    "units",
    "tool",
    "cycle varies",
    "arc plane",
]
"""What was assumed, so a position is assumed, not known."""
AXES = "XYZ"


class Bounds:
    """Least and most X, Y and Z in mm, each with its line."""

    __slots__ = ("high", "high_line", "low", "low_line")

    def __init__(self) -> None:
        self.low, self.high = [inf] * 3, [-inf] * 3
        self.low_line, self.high_line = [0] * 3, [0] * 3

    def widen(self, axis: int, value: float, line: int) -> None:
        """Widen by a position; NaN is skipped."""
        if value < self.low[axis]:
            self.low[axis], self.low_line[axis] = value, line
        if value > self.high[axis]:
            self.high[axis], self.high_line[axis] = value, line


class TravelLog:
    """The moves of one tool in one work offset at one length offset and one set of rotary angles."""

    __slots__ = ("angles", "doubts", "feed", "first_line", "gaps", "length", "offset", "rapid", "units")

    def __init__(self, offset: str, length: str, angles: tuple[tuple[str, float], ...], units: str, line: int) -> None:
        self.offset, self.length, self.angles, self.units, self.first_line = offset, length, angles, units, line
        self.rapid, self.feed = Bounds(), Bounds()
        self.gaps: list[dict[Gap, int]] = [{}, {}, {}]
        """For each axis, why a position on it is unknown, with the first line."""
        self.doubts: list[dict[Doubt, int]] = [{}, {}, {}]

    def miss(self, axis: int, gap: Gap, line: int) -> None:
        self.gaps[axis].setdefault(gap, line)

    def doubt(self, axis: int, doubt: Doubt, line: int) -> None:
        self.doubts[axis].setdefault(doubt, line)
