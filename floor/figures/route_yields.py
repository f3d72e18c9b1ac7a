"""What happens to pieces along a route: yield, rework loops and test pieces of each operation.

Each operation is an absorbing Markov chain. A piece passes at the first try, goes to rework, or is scrap. A rework
pass leaves it good, sends it around again, or scraps it, up to the limit on passes, which each operation counts for
itself. Kemeny and Snell, *Finite Markov Chains*, ch. 3: with so few states the fundamental matrix is a geometric sum.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from floor.dataclass import dataclass
from floor.figures.errors import ImpossibleOrder, ImpossibleYield


@dataclass(frozen=True, slots=True)
class OperationYield:
    """The expected yield of an operation.

    Without ``back_to``, a rework pass ends good with chance ``rework_yield``; of the rest, the same share goes around
    again as of first-time rejects. With ``back_to``, ``rework_yield`` is the chance to survive the rework's own steps;
    the piece then passes the operations from there to this one again.
    """

    name: str
    good: float = 1.0
    """Share of pieces good at the first pass, 0 to 1."""
    rework: float = 0.0
    """Share of all pieces sent to rework after the first pass; ``good + rework`` is at most 1, the rest is scrap."""
    rework_yield: float = 1.0
    passes: int | None = 1
    """Most rework passes of one piece; None for no limit."""
    back_to: int | None = None
    """Index in the route (from 0) of the operation rework goes back to; at most this one's own."""
    tests: int = 0
    """Good pieces used up here once: first piece, set-up, destructive test."""
    tests_per_load: int = 0
    """Good pieces used up here per load."""
    load: int | None = None
    """Pieces to a load, for ``tests_per_load``."""


@dataclass(frozen=True, slots=True)
class PieceOutcome:
    """What happens to one piece at one operation."""

    passed: float
    """Chance that a piece entering leaves good, rework included."""
    saved: float
    """Chance that a piece sent to rework leaves good."""
    reworks: float
    """Mean rework passes per piece entering."""
    visits: tuple[float, ...]
    """Mean number of times a piece entering here is at each operation of the route: this one and, if sent back,
        earlier ones."""


def compute_piece_outcomes(operations: Sequence[OperationYield]) -> tuple[PieceOutcome, ...]:
    """The fate of a piece at each operation, in route order.

    Raises:
        ImpossibleYield: a share outside its range, or an operation that no piece can pass.
    """
    found: list[PieceOutcome] = []
    for index, operation in enumerate(operations):
        _check(index, operation)
        found.append(_fate(index, operation, found, len(operations)))
        if found[-1].passed == 0:
            raise ImpossibleYield(
                f"no piece can pass {operation.name}", "state a yield above 0 or a rework that can save"
            )
    return tuple(found)


def _fate(index: int, operation: OperationYield, earlier: Sequence[PieceOutcome], length: int) -> PieceOutcome:
    good, rework, mends = operation.good, operation.rework, operation.rework_yield
    visits = [0.0] * length
    visits[index] = 1.0
    if rework == 0:
        return PieceOutcome(good, 0.0, 0.0, tuple(visits))
    # One rework pass: `ends` is the chance to end good, `again` the chance of another pass.
    once = [0.0] * length
    if operation.back_to is None:
        ends, again = mends, rework / max(1 - good, rework) * (1 - mends)
    else:
        reach = mends
        for place in range(operation.back_to, index):
            once = [seen + reach * more for seen, more in zip(once, earlier[place].visits, strict=True)]
            reach *= earlier[place].passed
        once[index] += reach
        ends, again = reach * good, reach * rework
    if operation.passes is None:
        if again == 1:
            raise ImpossibleYield(f"rework at {operation.name} never ends", "set a limit on passes")
        rounds = 1 / (1 - again)
    else:
        rounds = sum((again**k for k in range(operation.passes)), 0.0)
    visits = [own + rework * rounds * more for own, more in zip(visits, once, strict=True)]
    return PieceOutcome(
        min(1.0, good + rework * ends * rounds), min(1.0, ends * rounds), rework * rounds, tuple(visits)
    )


@dataclass(frozen=True, slots=True)
class MeanFlow:
    """Mean pieces at one operation."""

    entering: float
    """Pieces that reach it, each counted once."""
    visits: float
    """Times a piece is worked here; pieces sent back from this or a later operation count again."""
    reworks: float
    """Rework passes that this operation causes."""
    leaving: float
    """Good pieces that go on, less tests."""


def compute_route_yield(operations: Sequence[OperationYield]) -> float:
    """Chance that one piece started ends good, tests aside."""
    return math.prod((fate.passed for fate in compute_piece_outcomes(operations)), start=1.0)


def compute_mean_flow(started: int, operations: Sequence[OperationYield]) -> tuple[MeanFlow, ...]:
    """Mean number of pieces at each operation when ``started`` pieces enter the first.

    Exact as long as there are always enough pieces for the tests.

    Raises:
        ImpossibleOrder: fewer than one piece started.
        ImpossibleYield: as `compute_piece_outcomes`.
    """
    if started < 1:
        raise ImpossibleOrder(f"{started} pieces started", "start at least one")
    chain = compute_piece_outcomes(operations)
    tests = count_pieces_tested(started, operations)
    entering = []
    pieces = float(started)
    for fate, taken in zip(chain, tests, strict=True):
        entering.append(pieces)
        pieces = max(0.0, pieces * fate.passed - taken)
    leaving = [*entering[1:], pieces]
    return tuple(
        MeanFlow(
            entering[at],
            sum(entering[j] * chain[j].visits[at] for j in range(at, len(chain))),
            entering[at] * chain[at].reworks,
            leaving[at],
        )
        for at in range(len(chain))
    )


def count_pieces_tested(started: int, operations: Sequence[OperationYield]) -> tuple[int, ...]:
    """Pieces used up as tests at each operation.

    Counts loads as if every piece started were still on them: lost pieces leave gaps on a load more often than they
    save one, and a test piece too many costs less than one too few.
    """
    return tuple(op.tests + (op.tests_per_load * -(-started // op.load) if op.load else 0) for op in operations)


def _check(index: int, operation: OperationYield) -> None:
    name = operation.name
    for what, share in (
        ("yield", operation.good),
        ("rework", operation.rework),
        ("rework yield", operation.rework_yield),
    ):
        if not 0 <= share <= 1:
            raise ImpossibleYield(f"{what} of {name} is {share}", "a share lies between 0 and 1")
    if operation.good + operation.rework > 1 + 1e-12:
        raise ImpossibleYield(f"yield and rework of {name} add up to more than 1", "rework is the share sent to rework")
    if operation.passes is not None and operation.passes < 0:
        raise ImpossibleYield(f"{operation.passes} rework passes at {name}", "allow none, a number, or no limit")
    if operation.back_to is not None and not 0 <= operation.back_to <= index:
        raise ImpossibleYield(
            f"rework of {name} goes to operation index {operation.back_to}", "send it back, not ahead"
        )
    if operation.tests < 0 or operation.tests_per_load < 0:
        raise ImpossibleYield(f"fewer than no test pieces at {name}", "state 0 or more")
    if operation.load is not None and operation.load < 1:
        raise ImpossibleYield(f"a load of {operation.load} pieces at {name}", "a load holds at least one piece")
    if operation.tests_per_load and operation.load is None:
        raise ImpossibleYield(f"test pieces by the load at {name}", "give how many pieces a load holds")
