"""What a checklist lets expect of an order: yields of its operations, pieces to start."""

from __future__ import annotations

from floor.checklist.model import Checklist
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


def first_load(checklist: Checklist) -> int:
    """Pieces that the first operation's carrier holds."""
    return checklist.carrier(checklist.operations[0].carrier).capacity


def starts(checklist: Checklist, order: int) -> tuple[StartQuantity, ...]:
    """How many pieces to start, one answer for each of `CONFIDENCES`; ``rounded`` is to whole first loads.

    Raises:
        Impossible: no number of pieces will do.
    """
    yields, load = operation_yields(checklist), first_load(checklist)
    return tuple(start_quantity(order, confidence, yields, lot=load) for confidence in CONFIDENCES)


def chance(checklist: Checklist, order: int, started: int) -> float:
    """P(good ≥ order) when so many pieces are started."""
    return fill_probability(started, order, operation_yields(checklist))
