"""Refusals of the calculations: inputs that no shop can meet.

``Impossible`` (a ``ValueError``) is the whole family: ``ImpossibleOrder`` for quantities and chances,
``ImpossibleYield`` for what an operation is said to let through, ``ImpossibleFit`` for sizes,
``ImpossibleFigure`` for counts and times that contradict each other.
"""

from __future__ import annotations


class Impossible(ValueError):
    """Something asked for cannot be had.

    Attributes:
        problem: What is impossible, with the thing and its value named; no full stop.
        remedy: What would make it possible; no full stop.
    """

    def __init__(self, problem: str, remedy: str) -> None:
        super().__init__(f"{problem}: {remedy}.")
        self.problem = problem
        self.remedy = remedy


class ImpossibleOrder(Impossible):
    """A quantity or a chance that cannot be promised."""


class ImpossibleYield(Impossible):
    """An operation that lets nothing through, or shares that add up to more than everything."""


class ImpossibleFit(Impossible):
    """A piece that does not fit its blank or carrier, or a size that is none."""


class ImpossibleFigure(Impossible):
    """Counts or times that contradict each other."""
