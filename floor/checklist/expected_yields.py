"""What to expect of an order by its checklist: yields of its operations, pieces to start."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import ceil
from statistics import fmean
from typing import NamedTuple

from floor.checklist.blank_layout import compute_layout, format_blank_size
from floor.checklist.model import Checklist
from floor.checklist.operation import Operation
from floor.figures.errors import ImpossibleOrder
from floor.figures.route_yields import OperationYield
from floor.figures.start_at_estimated_yields import estimate_fill_probability, estimate_start_quantity
from floor.figures.start_at_known_yields import StartQuantity, compute_fill_probability, compute_start_quantity

CONFIDENCES = (0.90, 0.95)
"""Confidence levels for which a start quantity is offered (shop decision)."""


TestPieces = Mapping[int, int]
"""Good pieces that are used up at an operation, by its number: first pieces, destructive tests, trials."""
NO_TESTS: TestPieces = {}


def list_operation_yields(checklist: Checklist, tests: TestPieces = NO_TESTS) -> tuple[OperationYield, ...]:
    """The estimated yield of each operation of the route, and the share of pieces it sends to rework.

    Without a share in the checklist all rejects count as lost; whatever rework saves is extra.

    Raises:
        ImpossibleOrder: test pieces at an operation that is not in the route.
    """
    for op in tests:
        if op not in checklist.route:
            raise ImpossibleOrder(f"test pieces at op {op}, which is not in the route", "name one that is")
    return tuple(_operation_yield(checklist, checklist.ops[op], tests.get(op, 0)) for op in checklist.route)


def read_test_pieces(text: str) -> dict[int, int]:
    """``20=9, 30=2``: so many pieces at these operations.

    Raises:
        ValueError: it says something else.
    """
    found: dict[int, int] = {}
    for one in text.replace(",", " ").split():
        op, _, count = one.partition("=")
        if not (op.isdecimal() and count.isdecimal()):
            raise ValueError(f'"{one}" does not name test pieces; write it like 30=2 for two at op 30')
        found[int(op)] = found.get(int(op), 0) + int(count)
    return {op: count for op, count in found.items() if count}


def _operation_yield(checklist: Checklist, operation: Operation, tests: int) -> OperationYield:
    shares = [
        (reason.share, route.expected_yield)
        for reason in operation.reasons
        if reason.share is not None
        for route in [checklist.rework(reason.rework)]
        if route is not None
    ]
    rework = min(sum(share for share, _ in shares), 1 - operation.expected_yield)
    saved = fmean([saves for _, saves in shares], [share for share, _ in shares]) if shares else 1.0
    name = f"op {operation.op} {operation.title}"
    return OperationYield(name, operation.expected_yield, rework, min(saved, 1.0), tests=tests)


def count_pieces_at_op(checklist: Checklist, op: int, pieces: int) -> int:
    """How many of the started pieces come to an operation: all, or by the shares given those to be reworked."""
    if not checklist.ops[op].rework_only:
        return pieces
    shares = [
        reason.share or 0.0
        for one in checklist.operations
        for reason in one.reasons
        if reason.rework and op in checklist.list_way(reason.rework)
    ]
    return min(pieces, ceil(round(pieces * sum(shares), 9)))


def are_shares_known(checklist: Checklist) -> bool:
    """Whether the checklist states the expected share of each rework."""
    return all(
        reason.share is not None
        for one in checklist.operations
        if not one.rework_only
        for reason in one.reasons
        if reason.to == "rework"
    )


class StartUnit(NamedTuple):
    """What a start quantity is rounded up to where only full ones are started."""

    pieces: int
    word: str
    """``blank``, or ``load`` if the checklist has no blank layout."""
    of: str
    """Size of the blank, or name of the carrier."""
    whole: bool
    """Whether only full ones are started: the rest of a blank that is cut up at once is cut anyway."""

    def choose(self, quantity: StartQuantity) -> int:
        """What to start of a quantity."""
        return quantity.rounded or quantity.pieces if self.whole else quantity.pieces


def find_start_unit(checklist: Checklist) -> StartUnit:
    """A blank by its layout; else a load of the first operation's carrier.

    Raises:
        ImpossibleFit: no piece fits the blank.
    """
    blank = checklist.blank
    if blank is not None:
        return StartUnit(compute_layout(blank).pieces, "blank", format_blank_size(blank), not blank.part_used)
    carrier = checklist.carrier(checklist.operations[0].carrier)
    return StartUnit(carrier.capacity, "load", carrier.name, False)


def compute_yield_weights(checklist: Checklist) -> list[float]:
    """The weight, in pieces, of each operation's estimated yield."""
    return [checklist.ops[op].yield_weight for op in checklist.route]


def list_confidence_levels(level: float) -> tuple[float, ...]:
    """`CONFIDENCES`, the last raised to the shop's own warning level if that is higher."""
    return *CONFIDENCES[:-1], max(CONFIDENCES[-1], level)


def compute_start_quantities(
    checklist: Checklist, order: int, wanted: Sequence[float] = CONFIDENCES, tests: TestPieces = NO_TESTS
) -> tuple[StartQuantity, ...]:
    """How many pieces to start, one answer per confidence level; ``rounded`` is to whole lots.

    Yields are treated as estimates, just like in the forecast of the open batch.

    Raises:
        Impossible: no number of pieces is enough.
    """
    yields, lot = list_operation_yields(checklist, tests), find_start_unit(checklist).pieces
    return tuple(
        estimate_start_quantity(order, confidence, yields, compute_yield_weights(checklist), lot=lot)
        for confidence in wanted
    )


def estimate_fill_chance(checklist: Checklist, order: int, started: int, tests: TestPieces = NO_TESTS) -> float:
    """P(good ≥ order) when so many pieces are started, over the estimated yields."""
    yields = list_operation_yields(checklist, tests)
    return estimate_fill_probability(started, order, yields, compute_yield_weights(checklist))


class Sureness(NamedTuple):
    """How sure a start quantity is, and on what that stands."""

    chance: float
    """P(good ≥ order) of the pieces started."""
    pieces: int
    """Fewest that give the confidence; 0 where no number does."""
    least: float
    most: float
    """Pieces that the yields stand on, of the operation known worst and of the one known best; those that lose nothing
    by any estimate are left out.
    """


def assess_start(
    checklist: Checklist, order: int, started: int, confidence: float, tests: TestPieces = NO_TESTS
) -> Sureness:
    """How sure so many pieces fill an order, by the yields of a checklist.

    Raises:
        Impossible: the yields let nothing through.
    """
    chance = estimate_fill_chance(checklist, order, started, tests)
    try:
        pieces = compute_start_quantities(checklist, order, (confidence,), tests)[0].pieces
    except ImpossibleOrder:
        pieces = 0
    known = [one.yield_weight for one in checklist.operations if not one.rework_only and one.expected_yield < 1]
    return Sureness(chance, pieces, min(known, default=0.0), max(known, default=0.0))


class StartAtKnownYields(NamedTuple):
    """The figures if every yield were exactly as estimated."""

    chance: float
    """P(good ≥ order) of the pieces started."""
    pieces: int
    """Fewest that would give the confidence."""


def compute_at_known_yields(
    checklist: Checklist, order: int, started: int, confidence: float, tests: TestPieces = NO_TESTS
) -> StartAtKnownYields:
    """The figures of an order if every yield were exactly as estimated.

    Raises:
        Impossible: no number of pieces is enough.
    """
    yields = list_operation_yields(checklist, tests)
    return StartAtKnownYields(
        compute_fill_probability(started, order, yields), compute_start_quantity(order, confidence, yields).pieces
    )
