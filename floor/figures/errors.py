"""Errors of the calculations: inputs no shop can meet.

``Impossible`` (a ``ValueError``) is the whole family: ``ImpossibleOrder`` for quantities and chances,
``ImpossibleYield`` for yields, ``ImpossibleFit`` for sizes, ``ImpossibleFigure`` for counts and times that conflict.
"""

from __future__ import annotations


class Impossible(ValueError):
    """What was asked for cannot be done.

    Attributes:
        problem: What is impossible, naming the thing and its value; no period.
        remedy: What would make it possible; no period.
    """

    def __init__(self, problem: str, remedy: str) -> None:
        super().__init__(f"{problem}: {remedy}.")
        self.problem = problem
        self.remedy = remedy


class ImpossibleOrder(Impossible):
    """A quantity or a chance that cannot be promised."""


class ImpossibleYield(Impossible):
    """An operation that passes nothing, or shares that add up to more than 1."""


class ImpossibleFit(Impossible):
    """A piece that does not fit its blank or carrier, or a size that makes no sense."""


class ImpossibleFigure(Impossible):
    """Counts or times that conflict."""
