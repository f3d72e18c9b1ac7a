"""Counting: correcting a number changes no mark, and a mark changes no number."""

from __future__ import annotations

from collections import Counter
from random import Random

import pytest

from floor.batch.counting.commands import MarkedPieces
from floor.screens.forms.dialogs import FormDialog
from floor.screens.walk.count_form import CountScreen
from tests.screens.conftest import Open
from tests.screens.keys import words
from tests.screens.operator import Operator, Place

SIZE = (80, 24)
DIGITS, MOVES = "0123456789", ("up", "down", "left", "right")


async def counting(keys: Operator, place: Place, load: int) -> CountScreen:
    """The count of a load, ready for keys."""
    keys.app.go_walk(place.id, place.at(load, "count"))
    await keys.line()
    await keys.press("enter")
    await keys.until(lambda: isinstance(keys.app.screen, CountScreen) and keys.app.screen.is_mounted, "the count")
    assert isinstance(keys.app.screen, CountScreen)
    return keys.app.screen


async def test_backspace_takes_back_a_digit_and_no_mark(open_app: Open, place: Place) -> None:
    """A piece with a fault must not be released as good because a number was typed wrong."""
    app = open_app("AA")
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=SIZE) as pilot:
        screen = await counting(keys, place, place.load())
        await pilot.press("a", "4", "backspace")
        assert (list(screen.marks), screen.good_typed, screen.good) == (["A1"], "", 3)
        await pilot.press("backspace", "1", "3", "backspace")
        assert (list(screen.marks), screen.good) == (["A1"], 1)
        await pilot.press("space")
        assert (list(screen.marks), screen.good) == ([], 1), "a mark taken back leaves the number that was counted"


async def test_a_mark_that_is_given_up_leaves_what_stood_there(open_app: Open, place: Place) -> None:
    """Escape at the note of another reason does not make a scrapped piece good."""
    app = open_app("AA")
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=SIZE) as pilot:
        screen = await counting(keys, place, place.load())
        await pilot.press("a", "b")
        assert isinstance(app.screen, FormDialog)
        await pilot.press("escape")
        assert app.screen is screen
        assert {where: reason.code for where, reason in screen.marks.items()} == {"A1": "deep"}


@pytest.mark.parametrize("places", [True, False], ids=["in places", "loose"])
@pytest.mark.parametrize("seed", range(2))
async def test_marks_change_by_their_own_keys_alone(open_app: Open, place: Place, places: bool, seed: int) -> None:
    """Whatever digits, moves and corrections come in between; and the number only by digits and backspace."""
    load = place.load()
    if not places:
        place.through(load, 10, 20, 30)
        place.through(place.load(40), 40)
        load = place.load(50)
    app, random = open_app("AA"), Random(seed)
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=SIZE) as pilot:
        screen = await counting(keys, place, load)
        assert screen.has_places is places
        letters = [screen.letter(reason) for reason in screen.codes]
        screen.notes = {reason.code: "a dent" for reason in screen.codes}
        typed, marks, heap, last = "", {}, Counter(), ""
        for key in random.choices([*DIGITS, "backspace", "backspace", "space", *letters * 2, *MOVES], k=60):
            await pilot.press(key)
            if key in letters and (not places or screen.here in screen.names):
                code = last = screen.codes[letters.index(key)].code
                heap[code] += 1
                marks[screen.here] = code
            elif key == "space":
                marks.pop(screen.here, None)
                heap[last] -= bool(heap[last])
            elif key == "backspace":
                typed = typed[:-1]
            elif key in DIGITS:
                typed = (typed + key)[-4:].lstrip("0") or "0"
            if places:
                assert {where: reason.code for where, reason in screen.marks.items()} == marks, key
            else:
                assert Counter(screen.heap) == heap, key
            assert screen.good_typed == typed, key


async def test_a_released_run_without_a_good_piece_says_what_became_of_them(open_app: Open, place: Place) -> None:
    load = place.load()
    marks = (MarkedPieces("deep", positions=("A1", "A2", "B1", "B2")),)
    assert place.hand.work(load, marks=marks)
    run = max(place.batch.runs)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        assert "wrong count: b, y, select it, x strikes it out" in words(app)
        assert "✓ Released: 0 good, 4 scrap; none moved on" in words(app)


async def test_where_a_count_stands_the_way_to_correct_it_is_said(open_app: Open, place: Place) -> None:
    run = place.at(place.load(), "release")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        assert "Enter: release    wrong count: b, y, select it, x strikes it out" in words(app)
        await pilot.press("b", "y", "end", "x")
        assert isinstance(app.screen, FormDialog), "and so it is"
