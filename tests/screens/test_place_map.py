"""The drawing of a carrier: the largest cells there is room for, a word or a letter in each, what is meant marked."""

from __future__ import annotations

from typing import get_args

import pytest

from floor.batch.counting.lying import Lies
from floor.screens.frame.terminal_looks import to_plain
from floor.screens.widgets.place_map import (
    LONGEST_WORD,
    MARK,
    Cell,
    PlaceMap,
    Places,
    draw_side_by_side,
    list_words,
    shorten,
)


def carrier(rows: int = 2, columns: int = 2, **more: object) -> Places:
    """A held piece in A1, scrap in A2, a good one in B1, which is meant; B2 is empty."""
    cells = {
        "A1": Cell("hold", "11", "loud"),
        "A2": Cell("scrap", "12", "loud"),
        "B1": Cell("good", "3", "", marked=True),
    }
    return Places(rows, columns, cells, beside=2, marks="chosen", **more)  # type: ignore[arg-type]


def draw(places: Places, width: int, height: int) -> list[str]:
    """The lines that are drawn; none where it gives way."""
    drawn = PlaceMap("lying")
    return drawn.render().plain.split("\n") if drawn.draw(places, width, height) else []


def test_words_stand_in_the_cells_with_the_number_the_mark_and_the_cursor() -> None:
    rows = draw(carrier(here="A1", title="Pallet 1"), 40, 5)
    assert [" ".join(row.split()) for row in rows] == [
        "Pallet 1",
        "1 2",
        "A [ hold 11 ] scrap 12",
        f"B good 3{MARK} -",
        f"{MARK} chosen",
    ]
    assert [row.index(number) for row, number in zip(rows[1:3], ("1", "11"), strict=True)] == [10, 12]


def test_where_cells_are_narrow_letters_stand_for_the_words_and_are_explained() -> None:
    rows = draw(carrier(here="A1"), 20, 5)
    assert [" ".join(row.split()) for row in rows[:3]] == ["1 2", "A [ H11 ] S12", f"B g3{MARK} -"]
    assert " ".join(rows[3:]) == f"H hold, S scrap, g good, {MARK} chosen"


def test_where_there_is_room_the_cells_grow() -> None:
    small, large = (PlaceMap("lying"), PlaceMap("lying"))
    small.draw(carrier(), 40, 4)
    large.draw(carrier(), 100, 16)
    assert (small.step, large.step, large.cell) == (1, 3, 14)


@pytest.mark.parametrize(("width", "height"), [(15, 9), (80, 3)])
def test_without_room_it_gives_way_to_the_list(width: int, height: int) -> None:
    assert draw(carrier(), width, height) == []
    kept = PlaceMap("places", gives_way=False)
    assert kept.draw(carrier(), width, height), "the count has no list"


def test_nothing_is_drawn_of_a_carrier_without_places() -> None:
    drawn = PlaceMap("lying")
    assert drawn.draw(carrier(), 80, 20)
    assert not drawn.draw(None, 80, 20)
    assert not drawn.display


def test_of_several_carriers_as_many_are_drawn_as_fit_beside_each_other() -> None:
    maps = [PlaceMap("one"), PlaceMap("two"), PlaceMap("three")]
    assert draw_side_by_side(maps, [carrier(), carrier()], 44, 9)
    assert [one.display for one in maps] == [True, True, False]
    assert draw_side_by_side(maps, [carrier(), carrier(3, 9)], 60, 9)
    assert [one.display for one in maps] == [True, False, False]
    assert not draw_side_by_side(maps, [carrier(), carrier()], 12, 9)
    assert not draw_side_by_side(maps, [], 80, 9)
    assert not any(one.display for one in maps)


def test_every_state_has_a_word_that_fits_and_a_letter_of_its_own() -> None:
    words = [*filter(None, get_args(Lies)), "piece"]
    assert max(map(len, words)) <= LONGEST_WORD
    cells = [Cell(word) for word in words]
    assert len({shorten(one).casefold() for one in cells}) == len(words)
    assert len(list_words([*cells, *cells, Cell()])) == len(words), "each once, and not the empty place"


def test_the_mark_has_a_twin_in_ascii() -> None:
    assert to_plain("".join(draw(carrier(here="A1"), 40, 9))).isascii()
    assert to_plain(MARK) == "#"
