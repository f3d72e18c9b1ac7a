"""What a checklist lets expect of an order: yields of its operations, pieces to start."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from statistics import fmean
from typing import NamedTuple

from floor.checklist.blank_layout import compute_layout, format_blank_size
from floor.checklist.model import Checklist, Operation
from floor.figures.route import OperationYield
from floor.figures.start_estimate import estimate_fill_probability, estimate_start_quantity
from floor.figures.start_quantity import StartQuantity, compute_fill_probability, compute_start_quantity

CONFIDENCES = (0.90, 0.95)
"""Chances to fill the order for which a start quantity is offered (shop decision)."""


def operation_yields(checklist: Checklist) -> tuple[OperationYield, ...]:
    """The estimated yield of each operation of the route, and the share of its pieces that is sent to rework.

    Where the checklist gives no share, all rejects count as lost: what rework saves of them comes on top.
    """
    return tuple(_operation_yield(checklist, checklist.ops[op]) for op in checklist.route)


def _operation_yield(checklist: Checklist, operation: Operation) -> OperationYield:
    shares = [
        (reason.share, route.expected_yield)
        for reason in operation.reasons
        if reason.share is not None
        for route in [checklist.rework(reason.rework)]
        if route is not None
    ]
    rework = min(sum(share for share, _ in shares), 1 - operation.expected_yield)
    saved = fmean([saves for _, saves in shares], [share for share, _ in shares]) if shares else 1.0
    return OperationYield(f"op {operation.op} {operation.title}", operation.expected_yield, rework, min(saved, 1.0))


def count_pieces_at_op(checklist: Checklist, op: int, pieces: int) -> int:
    """How many of so many started pieces come to an operation: all, or those to be reworked by the shares given."""
    if not checklist.ops[op].rework_only:
        return pieces
    shares = [
        reason.share or 0.0
        for one in checklist.operations
        for reason in one.reasons
        if reason.rework and op in checklist.list_way(reason.rework)
    ]
    return min(pieces, ceil(round(pieces * sum(shares), 9)))


def shares_known(checklist: Checklist) -> bool:
    """Whether the checklist says how many pieces each of its reworks is expected to take."""
    return all(
        reason.share is not None
        for one in checklist.operations
        if not one.rework_only
        for reason in one.reasons
        if reason.to == "rework"
    )


class LotSize(NamedTuple):
    """What a start quantity is rounded up to, so that none is started that is not full."""

    pieces: int
    word: str
    """``blank``, or ``load`` where the checklist lays out no blank."""
    of: str
    """Size of the blank, or name of the carrier."""


def whole_lot(checklist: Checklist) -> LotSize:
    """A blank as the pieces lie on it; else a load of the first operation's carrier.

    Raises:
        ImpossibleFit: no piece fits the blank.
    """
    if checklist.blank is not None:
        return LotSize(compute_layout(checklist.blank).pieces, "blank", format_blank_size(checklist.blank))
    carrier = checklist.carrier(checklist.operations[0].carrier)
    return LotSize(carrier.capacity, "load", carrier.name)


def compute_yield_weights(checklist: Checklist) -> list[float]:
    """Pieces that the estimated yield of each operation weighs."""
    return [checklist.ops[op].yield_weight for op in checklist.route]


def confidences(level: float) -> tuple[float, ...]:
    """`CONFIDENCES`, the last never under the level below which the shop wants to be told of an order."""
    return *CONFIDENCES[:-1], max(CONFIDENCES[-1], level)


def compute_start_quantities(
    checklist: Checklist, order: int, wanted: Sequence[float] = CONFIDENCES
) -> tuple[StartQuantity, ...]:
    """How many pieces to start, one answer for each confidence wanted; ``rounded`` is to whole lots.

    The yields are taken as the estimates they are, as the forecast of the open batch takes them.

    Raises:
        Impossible: no number of pieces will do.
    """
    yields, lot = operation_yields(checklist), whole_lot(checklist).pieces
    return tuple(
        estimate_start_quantity(order, confidence, yields, compute_yield_weights(checklist), lot=lot)
        for confidence in wanted
    )


def chance(checklist: Checklist, order: int, started: int) -> float:
    """P(good ≥ order) when so many pieces are started, over the estimated yields."""
    return estimate_fill_probability(started, order, operation_yields(checklist), compute_yield_weights(checklist))


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
    return Exactly(
        compute_fill_probability(started, order, yields), compute_start_quantity(order, confidence, yields).pieces
    )
