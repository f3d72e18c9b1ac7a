"""Start quantity: the fewest pieces to start to fill the order with the wanted confidence.

Without test pieces the number good is binomial. Test pieces at operation j, taken from the first good ones there, make
the pieces to start a sum of independent waiting times: negative binomial for t_j successes of chance p_1…p_j at each
operation, and for the order's last piece at the end. So P(good ≥ ordered) is a short, exact convolution over binomial
tails, with no normal approximation.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Sequence
from itertools import accumulate
from operator import mul

from floor.dataclass import dataclass
from floor.figures.convolution import convolve
from floor.figures.distributions import binomial_pmf, binomial_upper_tail, reaches_level
from floor.figures.errors import ImpossibleOrder, ImpossibleYield
from floor.figures.route_yields import (
    OperationYield,
    PieceOutcome,
    compute_piece_outcomes,
    compute_route_yield,
    count_pieces_tested,
)

LARGEST_START = 10_000_000
"""Pieces; a larger start quantity is refused instead of searched for."""

_NEGLIGIBLE = 1e-17
"""Chances below this, relative to the peak, are dropped."""


@dataclass(frozen=True, slots=True)
class LoadLoss:
    """Whole loads lost (a skipped probe scraps the pallet), counted at the start and apart from single scrap."""

    pieces: int
    """Pieces to a load, at least 1."""
    survives: float
    """Chance that a load is not lost, above 0 and at most 1."""

    def __post_init__(self) -> None:
        if self.pieces < 1 or not 0 < self.survives <= 1:
            raise ImpossibleYield(
                f"loads of {self.pieces} pieces that survive with chance {self.survives}",
                "a load holds at least one piece and survives with a chance above 0 and at most 1",
            )


@dataclass(frozen=True, slots=True)
class StartQuantity:
    """How many pieces to start. Only ``pieces`` and ``rounded`` carry the confidence asked for."""

    ordered: int
    confidence: float
    piece_yield: float
    """Chance that one piece started ends good, tests and lost loads aside."""
    pieces: int
    """Fewest to start with P(good ≥ ordered) ≥ confidence."""
    probability: float
    """P(good ≥ ordered) for ``pieces``."""
    tests: int
    """Pieces used up as tests when ``pieces`` are started."""
    rounded: int
    """Fewest whole lots (blanks or loads) that keep the confidence, in pieces; ``pieces`` if no lot is set."""
    rounded_probability: float
    lots: int | None
    """Blanks or loads that ``rounded`` fills; None if no lot is set."""
    mean_based: int
    """Pieces that give ``ordered`` good ones on average: for comparison, never a promise."""
    mean_based_probability: float
    """P(good ≥ ordered) for ``mean_based``; often not much better than even."""


def compute_mean_based_start(ordered: int, operations: Sequence[OperationYield]) -> int:
    """Pieces that give ``ordered`` good ones and the single test pieces on average, rounded up.

    The textbook figure (Tompkins et al., *Facilities Planning*: each operation's input is its output divided by
    its yield). It falls short about half the time. Test pieces per load are left out.
    """
    needed = float(ordered)
    for fate, operation in zip(reversed(compute_piece_outcomes(operations)), reversed(operations), strict=True):
        needed = (needed + operation.tests) / fate.passed
    return math.ceil(needed * (1 - 1e-12))  # 100 / 0.8 is 125, not 126 by rounding


def compute_fill_probability(
    started: int, ordered: int, operations: Sequence[OperationYield], load_loss: LoadLoss | None = None
) -> float:
    """P(good ≥ ordered) when ``started`` pieces enter the first operation; exact.

    Raises:
        ImpossibleOrder: nothing ordered.
        ImpossibleYield: an operation that no piece can pass.
    """
    _check_order(ordered)
    return _chance(ordered, compute_piece_outcomes(operations), count_pieces_tested(started, operations), load_loss)(
        started
    )


def compute_start_quantity(
    ordered: int,
    confidence: float,
    operations: Sequence[OperationYield],
    *,
    lot: int | None = None,
    load_loss: LoadLoss | None = None,
) -> StartQuantity:
    """The fewest pieces to start, and the fewest whole lots, to fill the order with the wanted confidence.

    Args:
        ordered: Good pieces wanted, at least 1.
        confidence: Chance to fill the order, above 0 and below 1.
        operations: The route; may be empty.
        lot: Pieces per blank or load, started whole only; None for any number.
        load_loss: Loads lost as a whole.

    Raises:
        ImpossibleOrder: an order or confidence out of range, or more than `LARGEST_START` needed.
        ImpossibleYield: an operation that no piece can pass, or test pieces that use up every load.
    """
    _check_order(ordered)
    if not 0 < confidence < 1:
        raise ImpossibleOrder(
            f"a confidence of {100 * confidence:g} %",
            "choose one above 0 and below 100 %; certainty would need endless pieces",
        )
    if lot is not None and lot < 1:
        raise ImpossibleOrder(f"a lot of {lot} pieces", "a blank or load holds at least one piece")
    chain = compute_piece_outcomes(operations)
    _check_tests(chain, operations)
    mean_based = compute_mean_based_start(ordered, operations)
    if mean_based > LARGEST_START:
        raise ImpossibleOrder(
            f"{ordered} good pieces at a yield of {compute_route_yield(operations):.2g}",
            f"more than {LARGEST_START:,} would have to be started; raise the yields or order fewer",
        )

    guess = int(mean_based / load_loss.survives) if load_loss else mean_based

    def fewest(step: int) -> int:
        # More pieces may mean more loads and so more tests: from below, tests and pieces settle on the least pair.
        tests, pieces = count_pieces_tested(ordered, operations), guess
        while True:
            chance = _chance(ordered, chain, tests, load_loss)
            pieces = _fewest(ordered + sum(tests), confidence, step, pieces, chance)
            tests, before = count_pieces_tested(pieces, operations), tests
            if tests == before:
                return pieces

    pieces = fewest(1)
    rounded = pieces if lot is None else fewest(lot)

    def probability(started: int) -> float:
        return _chance(ordered, chain, count_pieces_tested(started, operations), load_loss)(started)

    return StartQuantity(
        ordered=ordered,
        confidence=confidence,
        piece_yield=compute_route_yield(operations),
        pieces=pieces,
        probability=probability(pieces),
        tests=sum(count_pieces_tested(pieces, operations)),
        rounded=rounded,
        rounded_probability=probability(rounded),
        lots=None if lot is None else rounded // lot,
        mean_based=mean_based,
        mean_based_probability=probability(mean_based),
    )


def _fewest(at_least: int, confidence: float, step: int, guess: int, chance: Callable[[int], float]) -> int:
    """The least multiple of ``step`` with ``chance`` at or above the confidence; ``chance`` must rise with pieces."""
    low = -(-at_least // step)
    high = max(low, guess // step)
    stride = max(1, math.isqrt(high) // 4)
    while not reaches_level(chance(high * step), confidence):
        low, high, stride = high + 1, high + stride, 2 * stride
        if high * step > 4 * LARGEST_START:
            raise ImpossibleOrder(
                f"{at_least} good and tested pieces with a confidence of {100 * confidence:g} %",
                f"more than {LARGEST_START:,} would have to be started; raise the yields or ask for less confidence",
            )
    return step * (
        low + bisect_left(range(low, high), True, key=lambda lots: reaches_level(chance(lots * step), confidence))
    )


def _chance(
    ordered: int, chain: Sequence[PieceOutcome], tests: Sequence[int], load_loss: LoadLoss | None
) -> Callable[[int], float]:
    """P(good ≥ ordered) as a function of the pieces started, for so many tests at each operation."""
    reach = list(accumulate((fate.passed for fate in chain), mul))
    whole = reach[-1] if reach else 1.0
    spent = sum(tests)
    lost = _lost_before_tests_are_done(reach, tests)

    def pieces_kept(pieces: int) -> float:
        most = pieces - spent - lost[0]
        if most < ordered:
            return 0.0
        tail, total, last = binomial_upper_tail(ordered, most, whole), 0.0, 0.0
        for weight in lost[1]:
            total += weight * tail
            if most <= ordered:
                break
            # One piece less: P(X_m ≥ N) − P(X_{m−1} ≥ N) = p · P(X_{m−1} = N − 1), itself stepped down by its ratio.
            last = last * (most - ordered + 1) / (most * (1 - whole)) if last > 1e-290 and whole < 1 else 0.0
            most -= 1
            last = last or binomial_pmf(ordered - 1, most, whole)
            tail = max(0.0, tail - whole * last)
        return min(1.0, total)

    if load_loss is None:
        return pieces_kept
    survives, size = load_loss.survives, load_loss.pieces

    def loads_kept(pieces: int) -> float:
        full, rest = divmod(pieces, size)
        # Twelve deviations and thirty loads either side of the mean: the rest is below 1e-20.
        mean, reach = full * survives, 12 * math.sqrt(full * survives * (1 - survives)) + 30
        total = 0.0
        for kept in range(max(0, int(mean - reach)), min(full, int(mean + reach)) + 1):
            weight = binomial_pmf(kept, full, survives)
            if weight > 1e-18:
                with_last = pieces_kept(kept * size + rest)
                without = pieces_kept(kept * size) if rest else with_last
                total += weight * (survives * with_last + (1 - survives) * without)
        return min(1.0, total)

    return loads_kept


def _lost_before_tests_are_done(reach: Sequence[float], tests: Sequence[int]) -> tuple[int, list[float]]:
    """Pieces scrapped until the test pieces of all operations are made: a sum of negative binomials.

    ``reach`` is the chance to be good after each operation.

    Returns:
        The smallest number kept, and the chances from there up, which sum to one.
    """
    first, row = 0, [1.0]
    for good, taken in zip(reach, tests, strict=True):
        if taken and good < 1:
            at, more = _scrapped_before(taken, good)
            row = convolve(row, more)
            first += at
            cut = _NEGLIGIBLE * max(row)
            low = next(n for n, value in enumerate(row) if value > cut)
            high = next(n for n in range(len(row), 0, -1) if row[n - 1] > cut)
            first, row = first + low, row[low:high]
    total = math.fsum(row)
    return first, [value / total for value in row]


def _scrapped_before(taken: int, good: float) -> tuple[int, list[float]]:
    """Scrap before ``taken`` good pieces: negative binomial up to a factor, stepped outward from its peak."""
    scrap = 1 - good
    peak = int((taken - 1) * scrap / good)
    up, down = [1.0], [1.0]
    while up[-1] > _NEGLIGIBLE:
        w = peak + len(up) - 1
        up.append(up[-1] * (w + taken) / (w + 1) * scrap)
    while down[-1] > _NEGLIGIBLE and len(down) <= peak:
        w = peak - len(down)
        down.append(down[-1] * (w + 1) / ((w + taken) * scrap))
    return peak - len(down) + 1, down[:0:-1] + up


def _check_order(ordered: int) -> None:
    if ordered < 1:
        raise ImpossibleOrder(f"an order of {ordered} pieces", "order at least one")
    if ordered > LARGEST_START:
        raise ImpossibleOrder(f"an order of {ordered:,} pieces", f"order at most {LARGEST_START:,}")


def _check_tests(chain: Sequence[PieceOutcome], operations: Sequence[OperationYield]) -> None:
    """Refuse tests by the load that would use up every piece of every load."""
    used, reach = 0.0, 1.0
    for fate, operation in zip(chain, operations, strict=True):
        reach *= fate.passed
        if operation.tests_per_load and operation.load:
            used += operation.tests_per_load / (operation.load * reach)
        if used >= 1:
            raise ImpossibleYield(
                f"the tests at {operation.name} use up every piece of a load of {operation.load}",
                "test fewer, or put more pieces on a load",
            )
