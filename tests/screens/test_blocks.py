"""Large letters: readable from two meters, never wider than the room, no two alike."""

from __future__ import annotations

from itertools import combinations
from math import radians, tan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.block_letters import (
    GLYPHS,
    HEIGHT,
    count_squares,
    count_terminal_rows,
    draw_block_letters,
    draw_blocks,
    is_drawable,
    wrap_squares,
)

TEXTS = st.text(max_size=60)


def test_the_smallest_letter_is_large_enough_at_two_meters() -> None:
    """NUREG-0700, section 1.3: 16 minutes of arc at least; CSS: 96 px to the inch; a cell of 8 × 16 px is usual."""
    half_row = 16 / 2 / 96 * 25.4

    assert half_row * HEIGHT >= 2000 * tan(radians(16 / 60))


def test_every_letter_is_of_one_height_and_has_no_ragged_row() -> None:
    for letter, rows in GLYPHS.items():
        assert len(rows) == HEIGHT, letter
        assert len({len(row) for row in rows}) == 1, letter


def test_no_two_letters_or_figures_look_alike() -> None:
    """At a distance one square is easily missed, so that pairs often taken for each other differ by two or more."""
    for one, other in combinations([letter for letter in GLYPHS if letter.isalnum()], 2):
        first, second = GLYPHS[one], GLYPHS[other]
        if len(first[0]) == len(second[0]):
            assert sum(a != b for x, y in zip(first, second, strict=True) for a, b in zip(x, y, strict=True)) > 1, (
                one + other
            )


@given(TEXTS, st.integers(1, 4))
def test_it_is_drawn_as_wide_and_high_as_stated(text: str, size: int) -> None:
    letters = draw_block_letters(text)
    rows = draw_blocks(letters, size) if letters else []

    assert all(len(row) == count_squares(letters) * size for row in rows)
    assert len(rows) == (count_terminal_rows(size) if letters else 0)
    assert set("".join(rows)) <= set(" ▀▄█")


@given(TEXTS, st.integers(12, 60), st.integers(1, 5))
def test_lines_go_into_the_room_and_what_is_left_off_is_marked(text: str, width: int, most: int) -> None:
    letters = draw_block_letters(text)
    lines = wrap_squares(letters, width, most)

    assert len(lines) <= most
    assert all(count_squares(line) <= width for line in lines)
    if not any(line.endswith("…") for line in lines):
        assert " ".join(lines).split() == letters.split()


@pytest.mark.parametrize(("text", "shown"), [("Prüfen", "PRUFEN"), ("0.5°", "0.5°"), ("Größe", "GROSSE")])
def test_accents_are_left_off(text: str, shown: str) -> None:
    assert draw_block_letters(text) == shown
    assert is_drawable(text)


def test_a_script_that_the_font_does_not_have_is_known() -> None:
    assert not is_drawable("Паллета 3")
    assert is_drawable("Really? Yes")
