"""Axes: round numbers in their range, told apart, and places in proportion."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from floor.figures.axis import Scale, find_range, format_ticks, list_ticks

NUMBERS = st.floats(-1e9, 1e9, allow_nan=False)


@pytest.mark.parametrize(
    ("low", "high", "most", "ticks"),
    [
        (0.0, 100.0, 6, ["0", "20", "40", "60", "80", "100"]),
        (7.983, 8.021, 6, ["7.99", "8.00", "8.01", "8.02"]),
        (-0.4, 0.4, 5, ["-0.4", "-0.2", "0.0", "0.2", "0.4"]),
        (15.9, 16.1, 7, ["15.90", "15.95", "16.00", "16.05", "16.10"]),
        (0.0, 3.0, 4, ["0", "1", "2", "3"]),
        (0.0, 2e9, 4, ["0", "1e+09", "2e+09"]),
    ],
)
def test_ticks_are_round(low: float, high: float, most: int, ticks: list[str]) -> None:
    assert format_ticks(list_ticks(low, high, most)) == ticks


@pytest.mark.parametrize(
    ("high", "ticks"), [(1.0, ["0", "1"]), (5.0, ["0", "1", "2", "3", "4", "5"]), (40.0, ["0", "10", "20", "30", "40"])]
)
def test_there_is_no_half_piece(high: float, ticks: list[str]) -> None:
    assert format_ticks(list_ticks(0.0, high, 6, least=1)) == ticks


@given(NUMBERS, NUMBERS, st.integers(2, 20))
def test_ticks_are_few_in_range_evenly_apart_and_read_apart(one: float, other: float, most: int) -> None:
    low, high = min(one, other), max(one, other)
    assume(high - low > 1e-6 * max(1.0, abs(low), abs(high)))
    ticks = list_ticks(low, high, most)
    assert 1 <= len(ticks) <= most
    room = 1e-6 * (high - low)
    assert low - room <= ticks[0] <= ticks[-1] <= high + room
    assert len(set(format_ticks(ticks))) == len(ticks)
    apart = {round((after - before) / (high - low), 6) for before, after in zip(ticks, ticks[1:], strict=False)}
    assert len(apart) <= 1


@given(st.lists(NUMBERS, min_size=1))
def test_a_range_holds_all_and_is_never_empty(values: list[float]) -> None:
    low, high = find_range(values)
    assert low < high
    assert low <= min(values) <= max(values) <= high


def test_places_are_in_proportion() -> None:
    down = Scale(10.0, 20.0, 60.0, 0.0)
    assert [down.place(value) for value in (10.0, 12.5, 20.0)] == [60.0, 45.0, 0.0]
