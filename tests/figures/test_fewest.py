"""The search for the fewest pieces, against scipy's tail searched piece by piece."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from floor.figures.fewest_pieces import find_fewest


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 60), st.floats(0.2, 1.0), st.floats(0.01, 0.995), st.integers(-5, 400))
def test_the_search_finds_what_trying_every_number_finds(ordered: int, good: float, level: float, guess: int) -> None:
    asked: list[int] = []

    def chance(pieces: int) -> float:
        asked.append(pieces)
        return float(binom.sf(ordered - 1, pieces, good))

    found = find_fewest(chance, level, known=(ordered - 1, 0.0), guess=guess, most=1000)

    assert found is not None
    pieces, reached = found
    just = level - 1e-12  # eight good of fifteen at a half are enough for a half
    assert reached == binom.sf(ordered - 1, pieces, good) >= just
    assert pieces == ordered or binom.sf(ordered - 1, pieces - 1, good) < level
    assert len(asked) == len(set(asked)) <= 24


def test_a_good_guess_needs_a_handful_of_tries() -> None:
    """1,000 good at 90 %: the line through two tries leads to neighbors on either side of the level."""
    asked: list[int] = []

    def chance(pieces: int) -> float:
        asked.append(pieces)
        return float(binom.sf(999, pieces, 0.9))

    found = find_fewest(chance, 0.95, known=(999, 0.0), guess=1112, most=5000)

    assert found is not None
    assert binom.sf(999, found[0], 0.9) >= 0.95 > binom.sf(999, found[0] - 1, 0.9)
    assert len(asked) <= 6


def test_a_chance_that_jumps_is_halved_towards() -> None:
    """No line leads to a jump: a thousand pieces take ten bisections, with as many tries along the line in between."""
    asked: list[int] = []

    def chance(pieces: int) -> float:
        asked.append(pieces)
        return float(pieces >= 777)

    assert find_fewest(chance, 0.9, known=(0, 0.0), guess=1, most=1000) == (777, 1.0)
    assert len(asked) <= 30


def test_a_chance_that_never_gets_there_is_none_and_ends() -> None:
    assert find_fewest(lambda pieces: 0.3, 0.9, known=(0, 0.1), guess=10, most=500) is None
    assert find_fewest(lambda pieces: float(pieces >= 77), 0.9, known=(0, 0.0), guess=1, most=500) == (77, 1.0)
