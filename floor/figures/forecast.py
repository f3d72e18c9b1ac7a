"""Forecast of a batch as it stands: will the order be filled, and how many good pieces will there be.

Pieces are at different operations, some in rework. Each yield is uncertain and shared by all pieces still to pass it.
Each is used at its own operation only, so the count leaving an operation is beta-binomial given the count entering,
however those got there. The distribution of the good count is carried through the route, operation by operation, and
the spread of the yields is integrated out exactly. The one exception: at an operation with rework that more than
`EXACT_PIECES` may enter, the whole yield becomes a mixture of Betas (`build_mixture`), more of them the more its doubt
weighs in the good count. The mean stays exact, chances are within 0.025.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import cache, lru_cache

from floor.dataclass import dataclass
from floor.figures.beta_mixture import (
    build_rework_cases,
    choose_slice_counts,
    compute_standard_deviation,
    compute_yield_deviation,
)
from floor.figures.binomial_thinning import mix_distributions, thin_distribution, trim_tails
from floor.figures.convolution import convolve
from floor.figures.distributions import beta_binomial_pmf, reaches_level
from floor.figures.errors import ImpossibleFigure, ImpossibleOrder
from floor.figures.yields import Beta, OperationBelief

EXACT_PIECES = 200
"""Most pieces at an operation for which rework is followed case by case."""

_PLACES = 10
"""Digits of a chance that are right, so that three quarters meets a level of 0.75."""

_NEGLIGIBLE = 1e-15


@dataclass(frozen=True, slots=True)
class WorkInProcess:
    """Pieces at one operation that are not finished there."""

    waiting: int = 0
    """Waiting for the first pass, or on a run of it."""
    rework: int = 0
    """Sent to rework from it and not back yet."""
    tests: int = 0
    """Good pieces still to be used up as tests."""

    def __post_init__(self) -> None:
        if min(self.waiting, self.rework, self.tests) < 0:
            raise ImpossibleFigure(f"a count below 0 in {self}", "counts are 0 or more")


@dataclass(frozen=True, slots=True)
class Forecast:
    """The good count to expect once everything in hand has finished."""

    ordered: int
    probability: float
    """P(good ≥ ordered)."""
    expected: float
    """Mean good pieces."""
    shortage: float
    """Mean pieces short of the order: E max(ordered − good, 0)."""
    low: int
    """Good count reached with 90 % chance."""
    high: int
    """Good count exceeded with at most 10 % chance: with ``low``, the 10–90 % band."""
    exact: bool
    """False if the yield of an operation with rework was replaced by a mixture."""


def forecast_good_count(
    ordered: int, finished: int, in_hand: Sequence[WorkInProcess], beliefs: Sequence[OperationBelief]
) -> Forecast:
    """The good count of a batch once everything in hand has passed its remaining operations.

    Args:
        ordered: Good pieces wanted, at least 1.
        finished: Good pieces finished at the last operation.
        in_hand: Pieces at each operation, in route order.
        beliefs: What is believed of each operation, in route order.

    Raises:
        ImpossibleOrder: nothing ordered.
        ImpossibleFigure: fewer than 0 pieces finished, or lists of unequal length.
    """
    if ordered < 1:
        raise ImpossibleOrder(f"an order of {ordered} pieces", "order at least one")
    law = compute_good_count_distribution(finished, tuple(in_hand), tuple(beliefs))
    first, row = law.first, law.chances
    short = [(ordered - good) * chance for good, chance in enumerate(row, first) if good < ordered]
    return Forecast(
        ordered=ordered,
        probability=round(law.at_least(ordered), _PLACES),
        expected=math.fsum(good * chance for good, chance in enumerate(row, first)),
        shortage=math.fsum(short),
        low=_quantile(first, row, 0.1),
        high=_quantile(first, row, 0.9),
        exact=law.exact,
    )


@dataclass(frozen=True, slots=True)
class GoodCountDistribution:
    """The distribution of the good count: ``chances`` of ``first``, ``first`` + 1 and so on; they sum to one."""

    first: int
    chances: tuple[float, ...]
    exact: bool

    def at_least(self, ordered: int) -> float:
        """P(good ≥ ordered)."""
        return min(1.0, math.fsum(self.chances[max(0, ordered - self.first) :]))


@lru_cache(maxsize=32)
def compute_good_count_distribution(
    finished: int, in_hand: tuple[WorkInProcess, ...], beliefs: tuple[OperationBelief, ...]
) -> GoodCountDistribution:
    """The distribution behind `forecast_good_count`; arguments and errors as there."""
    if finished < 0 or len(in_hand) != len(beliefs):
        raise ImpossibleFigure(
            f"{finished} finished, pieces at {len(in_hand)} operations, beliefs of {len(beliefs)}",
            "give 0 or more finished and one entry of each for every operation",
        )
    first, row, exact = 0, [1.0], True
    for here, belief, most in zip(in_hand, beliefs, choose_slice_counts(_spreads(in_hand, beliefs)), strict=True):
        exact = exact and (belief.reworkable is None or _few(first + here.waiting, row, here))
        first, row = _pass(first + here.waiting, row, here, belief, most)
    return GoodCountDistribution(first + finished, tuple(row), exact)


def _spreads(in_hand: Sequence[WorkInProcess], beliefs: Sequence[OperationBelief]) -> list[float]:
    """Deviation of the good count from the doubt about each operation, up to a factor, and the chance to get there."""
    found, entering, reach = [], 0.0, 1.0
    for here, belief in zip(in_hand, beliefs, strict=True):
        entering, reach = entering + here.waiting, reach * belief.mean
        back = here.rework * belief.saved.mean if belief.saved else 0.0
        doubt = here.rework * compute_standard_deviation(belief.saved) if belief.saved else 0.0
        leaving = entering * belief.mean
        found.append((leaving * compute_yield_deviation(belief) + doubt) / reach if reach else 0.0)
        entering = leaving + back
    return found


def _few(first: int, row: list[float], here: WorkInProcess) -> bool:
    return first + len(row) - 1 + here.rework <= EXACT_PIECES


def _pass(
    first: int, row: list[float], here: WorkInProcess, belief: OperationBelief, most: int
) -> tuple[int, list[float]]:
    """Distribution of the pieces leaving an operation, from that of those entering; starts at the smallest number."""
    if not (belief.reworkable and belief.saved):
        first, row = thin_distribution(first, row, belief.first)
    elif _few(first, row, here):
        first, row = _reworked(first, row, here.rework, belief.first, belief.reworkable, belief.saved)
    else:
        first, row = _mixed(first, row, here.rework, belief, most)
    if here.tests:
        none_left = max(0, here.tests - first + 1)
        first, row = max(0, first - here.tests), [math.fsum(row[:none_left]), *row[none_left:]] if none_left else row
    return trim_tails(first, row)


def _reworked(
    first: int, row: list[float], already: int, passes: Beta, again: Beta, saved: Beta
) -> tuple[int, list[float]]:
    """Like `thin_distribution`, with rejects sent to rework and ``already`` pieces there: exact, case by case."""

    @cache
    def mended(sent: int) -> tuple[int, list[float]]:
        return beta_binomial_pmf(sent, saved.good, saved.bad)

    @cache
    def rescued(rejects: int) -> tuple[int, list[float]]:
        back = [0.0] * (rejects + already + 1)
        for sent, chance in _numbered(beta_binomial_pmf(rejects, again.good, again.bad)):
            for number, share in _numbered(mended(sent + already)):
                back[number] += chance * share
        return trim_tails(0, back)

    out = [0.0] * (first + len(row) + already)
    for entering, weight in enumerate(row, first):
        for passed, chance in _numbered(beta_binomial_pmf(entering, passes.good, passes.bad)):
            scale = weight * chance
            if scale < _NEGLIGIBLE:
                continue
            for back, share in _numbered(rescued(entering - passed)):
                out[passed + back] += scale * share
    return trim_tails(0, out)


def _numbered(row: tuple[int, list[float]]) -> Iterator[tuple[int, float]]:
    return enumerate(row[1], row[0])


def _mixed(first: int, row: list[float], already: int, belief: OperationBelief, most: int) -> tuple[int, list[float]]:
    """Like `_reworked`, for many pieces: the chance to leave good is a mixture of so many Betas."""
    out = [0.0] * (first + len(row) + already)
    for case in build_rework_cases(belief, already, most):
        passed = mix_distributions([(chance, *thin_distribution(first, row, beta)) for chance, beta in case.good])
        at, back = case.back
        for number, chance in enumerate(convolve(passed[1], back), passed[0] + at):
            out[number] += case.chance * chance
    return trim_tails(0, out)


def _quantile(first: int, row: Sequence[float], chance: float) -> int:
    """The least number not exceeded with at least this chance."""
    total = 0.0
    for number, value in enumerate(row, first):
        total += value
        if reaches_level(total, chance):
            return number
    return first + len(row) - 1
