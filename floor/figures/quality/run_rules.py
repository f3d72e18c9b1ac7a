"""Run rules: what in the order of points would hardly happen by chance, by the names of their sources.

Western Electric: Statistical Quality Control Handbook, 1956, the four tests of an unnatural pattern; in the
NIST/SEMATECH e-Handbook 6.3.2. Nelson: L. S. Nelson, "The Shewhart Control Chart - Tests for Special Causes", Journal
of Quality Technology 16 (1984) 237-239 (from memory), eight tests.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from enum import StrEnum
from functools import partial

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


@dataclass(frozen=True, slots=True)
class RunSignal:
    """A rule that is met: by the point that completes it, and the first point that it needs."""

    rule: Rule
    index: int
    first: int


Scores = Sequence[float]


def find_run_signals(scores: Sequence[float | None], rules: Sequence[Rule]) -> list[RunSignal]:
    """Every point that completes a rule, by index and then in the order of the rules.

    A run that goes on completes its rule again at each further point.

    Args:
        scores: Distance of each point from its center in its own sigmas (`ChartPoint.score`). None is a gap: the
            points before and after it are neighbors.
    """
    places = [n for n, score in enumerate(scores) if score is not None]
    known = [score for score in scores if score is not None]
    found = []
    for end, index in enumerate(places):
        for rule in rules:
            length, complete = _TESTS[rule]
            window = known[max(0, end - length + 1) : end + 1]
            start = complete(window)
            if start is not None:
                found.append(RunSignal(rule, index, places[end - len(window) + 1 + start]))
    return found


def _find_several_beyond(wanted: int, sigmas: float, window: Scores) -> int | None:
    """So many of the window on one side beyond the line, the last among them; the window may be short."""
    side = 1 if window[-1] > 0 else -1
    beyond = [n for n, score in enumerate(window) if side * score > sigmas]
    completed = len(beyond) >= wanted and beyond[-1] == len(window) - 1
    return beyond[-wanted] if completed else None


def _find_whole(length: int, test: Callable[[Scores], bool], window: Scores) -> int | None:
    return 0 if len(window) == length and test(window) else None


def _is_one_sided(window: Scores) -> bool:
    return all(score > 0 for score in window) or all(score < 0 for score in window)


def _is_monotone(window: Scores) -> bool:
    return _is_one_sided(_list_steps(window))


def _is_alternating(window: Scores) -> bool:
    steps = _list_steps(window)
    return all(one * other < 0 for one, other in zip(steps, steps[1:], strict=False))


def _list_steps(window: Scores) -> list[int]:
    """Up, down or level: the sign of each step."""
    return [(later > score) - (later < score) for score, later in zip(window, window[1:], strict=False)]


def _is_within_one(window: Scores) -> bool:
    return all(abs(score) < 1 for score in window)


def _is_beyond_one_on_both_sides(window: Scores) -> bool:
    return all(abs(score) > 1 for score in window) and not _is_one_sided(window)


_TESTS: dict[Rule, tuple[int, Callable[[Scores], int | None]]] = {
    Rule.ONE_BEYOND_THREE: (1, partial(_find_several_beyond, 1, 3.0)),
    Rule.TWO_OF_THREE_BEYOND_TWO: (3, partial(_find_several_beyond, 2, 2.0)),
    Rule.FOUR_OF_FIVE_BEYOND_ONE: (5, partial(_find_several_beyond, 4, 1.0)),
    Rule.EIGHT_ON_ONE_SIDE: (8, partial(_find_whole, 8, _is_one_sided)),
    Rule.NINE_ON_ONE_SIDE: (9, partial(_find_whole, 9, _is_one_sided)),
    Rule.SIX_RISING_OR_FALLING: (6, partial(_find_whole, 6, _is_monotone)),
    Rule.FOURTEEN_UP_AND_DOWN: (14, partial(_find_whole, 14, _is_alternating)),
    Rule.FIFTEEN_WITHIN_ONE: (15, partial(_find_whole, 15, _is_within_one)),
    Rule.EIGHT_BEYOND_ONE: (8, partial(_find_whole, 8, _is_beyond_one_on_both_sides)),
}
