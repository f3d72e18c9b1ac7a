"""Run rules against the published cases of a reference package, run lengths, and the rules' own words."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from floor.figures.quality.run_rules import NELSON, WESTERN_ELECTRIC, Rule, RunSignal, find_run_signals


def ends(scores: list[float], rule: Rule) -> list[int]:
    """From 1."""
    return [signal.index + 1 for signal in find_run_signals(scores, [rule])]


@pytest.mark.parametrize(("scores", "rule", "at"), [
    ([0, 3.2, -3.5, 2.9], Rule.ONE_BEYOND_THREE, [2, 3]),
    ([0, 2.5, 1, 2.6, 0], Rule.TWO_OF_THREE_BEYOND_TWO, [4]),
    ([0, 1.2, 1.3, 0.2, 1.4, 1.5], Rule.FOUR_OF_FIVE_BEYOND_ONE, [6]),
    ([-1.0] * 8 + [1.0], Rule.EIGHT_ON_ONE_SIDE, [8]),
    ([0.5] * 8 + [-0.5], Rule.EIGHT_ON_ONE_SIDE, [8]),
    ([0.5] * 8 + [-0.5], Rule.NINE_ON_ONE_SIDE, []),
    ([0.5] * 9, Rule.NINE_ON_ONE_SIDE, [9]),
])  # fmt: skip
def test_published_cases(scores: list[float], rule: Rule, at: list[int]) -> None:
    """The test suite of the R package qcc, both of its rule sets."""
    assert ends(scores, rule) == at


@pytest.mark.parametrize(("scores", "rule", "at"), [
    ([1, 2, 3, 4, 5, 6], Rule.SIX_RISING_OR_FALLING, [6]),
    ([6, 5, 4, 3, 2, 1, 0], Rule.SIX_RISING_OR_FALLING, [6, 7]),
    ([1, 2, 3, 3, 5, 6, 7], Rule.SIX_RISING_OR_FALLING, []),
    ([1, -1] * 7, Rule.FOURTEEN_UP_AND_DOWN, [14]),
    ([1, -1] * 6 + [1, 1], Rule.FOURTEEN_UP_AND_DOWN, []),
    ([0.5, -0.9, 0.0] * 5, Rule.FIFTEEN_WITHIN_ONE, [15]),
    ([0.5, -0.9, 1.0] * 5, Rule.FIFTEEN_WITHIN_ONE, []),
    ([1.5, -1.5, 1.1, -2, 2, 3, -4, 1.2], Rule.EIGHT_BEYOND_ONE, [8]),
    ([1.5] * 8, Rule.EIGHT_BEYOND_ONE, []),
    ([1.5, -1.5, 1.0, -2, 2, 3, -4, 1.2], Rule.EIGHT_BEYOND_ONE, []),
    ([2.5, -2.5, 2.5], Rule.TWO_OF_THREE_BEYOND_TWO, [3]),
    ([2.5, -2.5, -1], Rule.TWO_OF_THREE_BEYOND_TWO, []),
    ([2.5, 2.0], Rule.TWO_OF_THREE_BEYOND_TWO, []),
    ([1.5, 1.5, 1.5, 1.5], Rule.FOUR_OF_FIVE_BEYOND_ONE, [4]),
    ([-3.0, 3.0], Rule.ONE_BEYOND_THREE, []),
    ([-1.0] * 4 + [0.0] + [-1.0] * 4, Rule.EIGHT_ON_ONE_SIDE, []),
])  # fmt: skip
def test_nelsons_words(scores: list[float], rule: Rule, at: list[int]) -> None:
    """Nelson 1984 (from memory); a point on a line is beyond it on neither side."""
    assert ends(scores, rule) == at
    assert ends([-score for score in scores], rule) == at


def test_a_signal_names_its_first_point_and_gaps_are_passed_over() -> None:
    scores = [None, 2.5, None, 0.1, 2.6, None]

    assert find_run_signals(scores, WESTERN_ELECTRIC) == [RunSignal(Rule.TWO_OF_THREE_BEYOND_TWO, 4, 1)]
    assert find_run_signals([0.1, *[1.0] * 9], [Rule.NINE_ON_ONE_SIDE])[0] == RunSignal(Rule.NINE_ON_ONE_SIDE, 8, 0)
    assert find_run_signals([], NELSON) == find_run_signals([None], NELSON) == []


def test_one_point_may_complete_several() -> None:
    found = find_run_signals([2.5, 3.5], WESTERN_ELECTRIC)

    assert [signal.rule for signal in found] == [Rule.ONE_BEYOND_THREE, Rule.TWO_OF_THREE_BEYOND_TWO]
    assert [signal.first for signal in found] == [1, 0]


@pytest.mark.parametrize(("rules", "length"), [([Rule.ONE_BEYOND_THREE], 370.40), (list(WESTERN_ELECTRIC), 91.75)])
def test_average_run_length_in_control(rules: list[Rule], length: float) -> None:
    """370.40 with the first rule alone, 91.75 with all four: NIST/SEMATECH e-Handbook 6.3.2 (the second from memory).

    Solved here as a Markov chain over what the rules still need of the last seven points.
    """
    states: dict[tuple[float, ...], int] = {(): 0}
    moves = []
    for state in (waiting := [()]):
        for zone, chance in ZONES.items():
            window = (*state, zone)
            if all(signal.index < len(window) - 1 for signal in find_run_signals(window, rules)):
                after = reduce_window(window)
                if after not in states:
                    states[after] = len(states)
                    waiting.append(after)
                moves.append((states[state], states[after], chance))
    stays = np.zeros((len(states), len(states)))
    for one, other, chance in moves:
        stays[one, other] += chance
    runs = np.linalg.solve(np.eye(len(states)) - stays, np.ones(len(states)))

    assert runs[0] == pytest.approx(length, abs=0.01)


ZONES = {
    side * middle: stats.norm.cdf(middle + 0.5) - stats.norm.cdf(middle - 0.5) if middle < 3 else stats.norm.sf(3)
    for side in (1, -1)
    for middle in (0.5, 1.5, 2.5, 3.5)
}
"""A point of each zone, and the chance of the zone."""


def reduce_window(window: tuple[float, ...]) -> tuple[float, ...]:
    """The last seven points, each no farther out than a later rule can still see."""
    last = window[-7:]
    seen = [math.copysign(min(abs(zone), 2.5 if age < 2 else 1.5 if age < 4 else 0.5), zone)
            for age, zone in enumerate(reversed(last))]  # fmt: skip
    run = next((n for n, zone in enumerate(seen) if zone * seen[0] < 0), len(seen))
    return tuple(reversed(seen[: max(run, 4)]))


@given(st.lists(st.one_of(st.none(), st.integers(-7, 7).map(lambda n: n / 2)), max_size=40))
def test_every_signal_keeps_its_rule_when_cut_out(scores: list[float | None]) -> None:
    """The points from the first to the last of a signal are enough to give it."""
    for signal in find_run_signals(scores, [*NELSON, Rule.EIGHT_ON_ONE_SIDE]):
        cut = scores[signal.first : signal.index + 1]
        again = find_run_signals(cut, [signal.rule])
        assert [one.first for one in again if one.index == len(cut) - 1] == [0]
