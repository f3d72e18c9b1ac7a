"""What a checklist lets expect of an order: yields of its operations, pieces to start."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from floor.checklist.laying import lay, size
from floor.checklist.model import Checklist
from floor.figures.predicted import predicted_chance, predicted_start
from floor.figures.quantity import StartQuantity, fill_probability, start_quantity
from floor.figures.route import OperationYield

CONFIDENCES = (0.90, 0.95)
"""Chances to fill the order for which a start quantity is offered (shop decision)."""


def operation_yields(checklist: Checklist) -> tuple[OperationYield, ...]:
    """The estimated yield of each operation, in route order.

    A checklist does not say what share of the rejects can be reworked, so all of them count as lost: rework only adds
    to the chance.
    """
    return tuple(
        OperationYield(f"op {operation.op} {operation.title}", operation.expected_yield)
        for operation in checklist.operations
    )


class Lot(NamedTuple):
    """What a start quantity is rounded up to, so that none is begun that is not full."""

    pieces: int
    word: str
    """``blank``, or ``load`` where the checklist lays out no blank."""
    of: str
    """Size of the blank, or name of the carrier."""


def whole_lot(checklist: Checklist) -> Lot:
    """A blank as the pieces lie on it; else a load of the first operation's carrier.

    Raises:
        ImpossibleFit: no piece fits the blank.
    """
    if checklist.blank is not None:
        return Lot(lay(checklist.blank).pieces, "blank", size(checklist.blank))
    carrier = checklist.carrier(checklist.operations[0].carrier)
    return Lot(carrier.capacity, "load", carrier.name)


def weights(checklist: Checklist) -> list[float]:
    """Pieces that the estimated yield of each operation weighs."""
    return [operation.yield_weight for operation in checklist.operations]


def confidences(level: float) -> tuple[float, ...]:
    """`CONFIDENCES`, the last never under the level below which the shop wants to be told of an order."""
    return *CONFIDENCES[:-1], max(CONFIDENCES[-1], level)


def starts(
    checklist: Checklist, order: int, wanted: Sequence[float] = CONFIDENCES
) -> tuple[StartQuantity, ...]:
    """How many pieces to start, one answer for each confidence wanted; ``rounded`` is to whole lots.

    The yields are taken as the estimates they are, as the forecast of the open batch takes them.

    Raises:
        Impossible: no number of pieces will do.
    """
    yields, lot = operation_yields(checklist), whole_lot(checklist).pieces
    return tuple(
        predicted_start(order, confidence, yields, weights(checklist), lot=lot) for confidence in wanted
    )


def chance(checklist: Checklist, order: int, started: int) -> float:
    """P(good ≥ order) when so many pieces are started, over the estimated yields."""
    return predicted_chance(started, order, operation_yields(checklist), weights(checklist))


class Exactly(NamedTuple):
    """What would be if every yield were exactly as estimated."""

    chance: float
    """P(good ≥ order) of the pieces started."""
    pieces: int
    """Fewest that would give the confidence."""


def if_exact(checklist: Checklist, order: int, started: int, confidence: float) -> Exactly:
    """The figures of an order if every yield were exactly as estimated.

    Raises:
        Impossible: no number of pieces will do.
    """
    yields = operation_yields(checklist)
    return Exactly(fill_probability(started, order, yields), start_quantity(order, confidence, yields).pieces)
