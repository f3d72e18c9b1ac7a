"""Which pieces are taken: equally often, spread, the same on every terminal."""

from collections import Counter
from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.sampling_places import (
    choose_every_nth,
    choose_first_and_last,
    choose_on_grid,
    choose_spread,
    list_grid_places,
)


def differ(taken: Counter[object], places: list) -> int:
    counts = [taken[place] for place in places]
    return max(counts) - min(counts)


def distance(one: int, other: int, around: int) -> int:
    apart = abs(one - other)
    return min(apart, around - apart)


@given(st.integers(1, 40), st.integers(0, 40), st.integers(0, 1000))
def test_places_are_taken_equally_often_and_far_apart(size: int, number: int, first: int) -> None:
    """After any number of loads, from any load on."""
    places, taken = list(range(size)), Counter[object]()
    for load in range(first, first + 2 * size):
        chosen = choose_spread(load, places, number)
        assert len(chosen) == min(size, number) == len(set(chosen))
        assert chosen == sorted(chosen)
        assert all(distance(a, b, size) >= size // number for a, b in combinations(chosen, 2))
        taken.update(chosen)
        assert differ(taken, places) <= 1


def test_no_choice_is_spread_farther() -> None:
    """Tried over all choices of small carriers."""
    for size in range(2, 10):
        for number in range(2, size + 1):
            best = max(
                min(distance(a, b, size) for a, b in combinations(choice, 2))
                for choice in combinations(range(size), number)
            )
            chosen = choose_spread(3, list(range(size)), number)
            assert min(distance(a, b, size) for a, b in combinations(chosen, 2)) == best


@given(st.integers(1, 7), st.integers(1, 7), st.integers(1, 12))
def test_on_a_grid_places_are_taken_equally_often(rows: int, columns: int, number: int) -> None:
    places, taken = list_grid_places(rows, columns), Counter[object]()
    for load in range(4 * rows * columns):
        chosen = choose_on_grid(load, rows, columns, number)
        assert len(set(chosen)) == min(number, rows * columns)
        taken.update(chosen)
        assert differ(taken, places) <= 1


def test_on_a_grid_no_two_places_always_go_together() -> None:
    together = {frozenset(pair) for load in range(6) for pair in combinations(choose_on_grid(load, 3, 4, 4), 2)}
    partners = Counter(place for pair in together for place in pair)

    assert min(partners.values()) > 3


def test_three_by_four_by_hand() -> None:
    assert choose_on_grid(0, 3, 4, 3) == [(0, 0), (1, 3), (2, 0)]
    assert choose_on_grid(1, 3, 4, 3) == [(0, 1), (1, 2), (2, 1)]
    assert choose_on_grid(4, 3, 4, 3) == [(0, 0), (1, 1), (2, 2)]


@given(st.integers(1, 8), st.integers(1, 8), st.booleans())
def test_a_grid_is_walked_from_neighbor_to_neighbor(rows: int, columns: int, by_column: bool) -> None:
    places = list_grid_places(rows, columns, by_column=by_column)

    assert sorted(places) == [(row, column) for row in range(rows) for column in range(columns)]
    assert all(abs(a[0] - b[0]) + abs(a[1] - b[1]) == 1 for a, b in pairwise(places))
    assert places[:2] in ([(0, 0)], [(0, 0), (1, 0)] if by_column and rows > 1 or columns == 1 else [(0, 0), (0, 1)])


@given(st.integers(0, 50), st.integers(1, 20), st.data())
def test_an_empty_place_is_made_up_for(load: int, number: int, data: st.DataObject) -> None:
    places = [f"P{n}" for n in range(12)]
    empty = data.draw(st.sets(st.sampled_from(places)))
    chosen = choose_spread(load, places, number, empty)

    assert not set(chosen) & empty
    assert len(set(chosen)) == min(number, 12 - len(empty))
    unhindered = choose_spread(load, places, number)
    if not set(unhindered) & empty and number < 12 - len(empty):
        assert chosen == unhindered


@settings(deadline=None)
@given(st.integers(1, 30), st.integers(1, 30))
def test_every_nth_counts_on_and_visits_all_places(size: int, step: int) -> None:
    places, taken = list(range(size)), Counter[object]()
    for load in range(2 * step * size if step * size < 200 else 2 * step):
        before = load * size
        chosen = choose_every_nth(load, places, step, before)
        assert len(chosen) == (before + size) // step - before // step
        taken.update(chosen)
        assert differ(taken, places) <= 1


def test_every_nth_by_hand() -> None:
    """Loads of 12, every 4th: places 4, 8, 12, then each load one further; loads of 5, every 3rd, never shifted."""
    twelve = list(range(1, 13))
    assert [choose_every_nth(n, twelve, 4, 12 * n) for n in range(5)] == [
        [4, 8, 12], [1, 5, 9], [2, 6, 10], [3, 7, 11], [4, 8, 12],
    ]  # fmt: skip
    assert [choose_every_nth(n, [1, 2, 3, 4, 5], 3, 5 * n) for n in range(4)] == [[3], [1, 4], [2, 5], [3]]
    assert choose_every_nth(7, [1, 2], 1, 5) == [1, 2]
    assert choose_every_nth(0, [], 3, 5) == []


@pytest.mark.parametrize(("places", "chosen"), [([], []), (["a"], ["a"]), (["a", "b"], ["a", "b"]),
                                                (["a", "b", "c"], ["a", "c"])])  # fmt: skip
def test_first_and_last(places: list[str], chosen: list[str]) -> None:
    assert choose_first_and_last(places) == chosen


def test_what_cannot_be_taken() -> None:
    for wrong in (
        lambda: choose_spread(1, [1, 2], -1),
        lambda: choose_on_grid(1, 0, 3, 1),
        lambda: choose_on_grid(1, 3, 0, 1),
        lambda: choose_on_grid(1, 3, 3, -1),
        lambda: choose_every_nth(1, [1], 0, 1),
        lambda: choose_every_nth(1, [1], 1, -1),
    ):
        with pytest.raises(ImpossibleFigure):
            wrong()
    assert choose_spread(1, [], 3) == choose_spread(1, [1, 2], 0) == []
