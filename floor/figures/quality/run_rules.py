"""Run rules: what in the order of points would hardly happen by chance, by the names of their sources.

Western Electric: Statistical Quality Control Handbook, 1956, the four tests of an unnatural pattern; in the
NIST/SEMATECH e-Handbook 6.3.2. Nelson: L. S. Nelson, "The Shewhart Control Chart - Tests for Special Causes", Journal
of Quality Technology 16 (1984) 237-239 (from memory), eight tests.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from enum import StrEnum
from functools import partial
from itertools import pairwise

from floor.dataclass import dataclass


class Rule(StrEnum):
    """A rule. Beyond and within are strict: a point on a line of so many sigmas is neither."""

    ONE_BEYOND_THREE = "1 beyond 3 sigma"
    """Western Electric 1, Nelson 1."""
    TWO_OF_THREE_BEYOND_TWO = "2 of 3 beyond 2 sigma"
    """On one side. Western Electric 2, Nelson 5."""
    FOUR_OF_FIVE_BEYOND_ONE = "4 of 5 beyond 1 sigma"
    """On one side. Western Electric 3, Nelson 6."""
    EIGHT_ON_ONE_SIDE = "8 on one side"
    """Western Electric 4."""
    NINE_ON_ONE_SIDE = "9 on one side"
    """Nelson 2."""
    SIX_RISING_OR_FALLING = "6 rising or falling"
    """Nelson 3."""
    FOURTEEN_UP_AND_DOWN = "14 up and down"
    """Nelson 4: each step the other way than the step before."""
    FIFTEEN_WITHIN_ONE = "15 within 1 sigma"
    """Nelson 7: less spread than the limits tell."""
    EIGHT_BEYOND_ONE = "8 beyond 1 sigma"
    """Nelson 8: on both sides, none between."""


WESTERN_ELECTRIC = (
    Rule.ONE_BEYOND_THREE,
    Rule.TWO_OF_THREE_BEYOND_TWO,
    Rule.FOUR_OF_FIVE_BEYOND_ONE,
    Rule.EIGHT_ON_ONE_SIDE,
)
NELSON = (
    Rule.ONE_BEYOND_THREE,
    Rule.NINE_ON_ONE_SIDE,
    Rule.SIX_RISING_OR_FALLING,
    Rule.FOURTEEN_UP_AND_DOWN,
    Rule.TWO_OF_THREE_BEYOND_TWO,
    Rule.FOUR_OF_FIVE_BEYOND_ONE,
    Rule.FIFTEEN_WITHIN_ONE,
    Rule.EIGHT_BEYOND_ONE,
)
NELSON_ONLY = tuple(rule for rule in NELSON if rule not in WESTERN_ELECTRIC and rule is not Rule.NINE_ON_ONE_SIDE)
"""What Nelson's tests can find where the four of Western Electric do not: nine on one side are eight before."""


@dataclass(frozen=True, slots=True)
class RunSignal:
    """A rule that is met: by the point that completes it, and the first point that it needs."""

    rule: Rule
    index: int
    first: int


def find_run_signals(scores: Sequence[float | None], rules: Sequence[Rule]) -> list[RunSignal]:
    """Every point that completes a rule, by index and then in the order of the rules.

    A run that goes on completes its rule again at each further point.

    Args:
        scores: Distance of each point from its center in its own sigmas (`ChartPoint.score`). None is a gap: the
            points before and after it are neighbors.
    """
    places = [n for n, score in enumerate(scores) if score is not None]
    known = [score for score in scores if score is not None]
    found = [RunSignal(rule, places[last], places[first]) for rule in rules for first, last in _FINDERS[rule](known)]
    return sorted(found, key=lambda signal: signal.index)


_Scores = Sequence[float]
_Runs = Iterator[tuple[int, int]]
"""First and last point of each run."""


def _find_several_beyond(wanted: int, window: int, sigmas: float, scores: _Scores) -> _Runs:
    """So many of the points of a window on one side beyond the line, the last among them."""
    beyond: dict[bool, list[int]] = {True: [], False: []}
    for n, score in enumerate(scores):
        if abs(score) > sigmas:
            side = beyond[score > 0]
            side.append(n)
            if len(side) >= wanted and n - side[-wanted] < window:
                yield side[-wanted], n


def _find_one_sided(length: int, scores: _Scores) -> _Runs:
    return _find_equal(length, [(score > 0) - (score < 0) for score in scores])


def _find_monotone(length: int, scores: _Scores) -> _Runs:
    return ((first, last + 1) for first, last in _find_equal(length - 1, _list_steps(scores)))


def _find_alternating(length: int, scores: _Scores) -> _Runs:
    turns = [int(one * other < 0) for one, other in pairwise(_list_steps(scores))]
    return ((first, last + 2) for first, last in _find_equal(length - 2, turns))


def _find_within_one(length: int, scores: _Scores) -> _Runs:
    return _find_equal(length, [int(abs(score) < 1) for score in scores])


def _find_beyond_one_on_both_sides(length: int, scores: _Scores) -> _Runs:
    for first, last in _find_equal(length, [int(abs(score) > 1) for score in scores]):
        run = scores[first : last + 1]
        if min(run) < 0 < max(run):
            yield first, last


def _list_steps(scores: _Scores) -> list[int]:
    """Up, down or level: the sign of each step."""
    return [(later > score) - (later < score) for score, later in pairwise(scores)]


def _find_equal(length: int, signs: Sequence[int]) -> _Runs:
    """Every stretch of so many equal signs; 0 is no sign."""
    run, before = 0, 0
    for n, sign in enumerate(signs):
        run = run + 1 if sign == before else 1
        before = sign
        if sign and run >= length:
            yield n - length + 1, n


_FINDERS: dict[Rule, Callable[[_Scores], _Runs]] = {
    Rule.ONE_BEYOND_THREE: partial(_find_several_beyond, 1, 1, 3.0),
    Rule.TWO_OF_THREE_BEYOND_TWO: partial(_find_several_beyond, 2, 3, 2.0),
    Rule.FOUR_OF_FIVE_BEYOND_ONE: partial(_find_several_beyond, 4, 5, 1.0),
    Rule.EIGHT_ON_ONE_SIDE: partial(_find_one_sided, 8),
    Rule.NINE_ON_ONE_SIDE: partial(_find_one_sided, 9),
    Rule.SIX_RISING_OR_FALLING: partial(_find_monotone, 6),
    Rule.FOURTEEN_UP_AND_DOWN: partial(_find_alternating, 14),
    Rule.FIFTEEN_WITHIN_ONE: partial(_find_within_one, 15),
    Rule.EIGHT_BEYOND_ONE: partial(_find_beyond_one_on_both_sides, 8),
}
