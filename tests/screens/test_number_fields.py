"""Number fields, what stays in one after a refusal, and how long a reply stays; at 80 x 24."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

import pytest
from textual.pilot import Pilot

from floor.app import FloorApp
from floor.screens.forms.dialogs import FormDialog
from floor.screens.frame.keys import KeysDialog
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.screens.keys import words
from tests.screens.operator import Place
from tests.screens.test_scanner_keys import Hand

Open = Callable[..., FloorApp]
SIZE = (80, 24)


@asynccontextmanager
async def probing(place: Place, open_app: Open) -> AsyncIterator[tuple[FloorApp, Pilot[object], WalkScreen]]:
    """On the walk at a gate that asks for two numbers."""
    run = place.at(place.load(), "Probe G54 X Z")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        walk = app.screen
        assert isinstance(walk, WalkScreen)
        yield app, pilot, walk


async def test_a_field_for_a_number_takes_no_letter_and_says_so(place: Place, open_app: Open) -> None:
    async with probing(place, open_app) as (app, pilot, walk):
        await pilot.press("w", "minus", "x", "space")
        assert walk.asks.inputs[0].value == "-"
        assert "G54 X takes a number" in words(app)
        await pilot.press("0", "comma", "2", "full_stop", "plus")
        assert walk.asks.inputs[0].value == "-0,2.+"
        assert "takes a number" not in words(app), "it is typed anew"


@pytest.mark.parametrize("pause", [0.005, 0.05, 0.2])
async def test_what_a_scanner_reads_into_a_number_is_not_taken(place: Place, open_app: Open, pause: float) -> None:
    """A lot number with its letters left out would be a reading that nobody took."""
    async with probing(place, open_app) as (app, pilot, walk):
        hand = Hand(app, pilot)
        await hand.press(*"L0.5", "enter", pause=pause)
        assert app.focused is walk.asks.inputs[0], "it does not go on"
        assert "Letters ignored" in words(app)
        assert walk.asks.inputs[0].value == "", "nothing looks entered"
        await hand.press(*"12", "enter", pause=pause)
        assert app.focused is walk.asks.inputs[1], "typed anew from its beginning, it is as it was meant"
        assert walk.asks.inputs[0].value == "12"


async def test_after_a_wrong_letter_a_hand_types_on_and_enter_takes_what_the_field_shows(
    place: Place, open_app: Open
) -> None:
    async with probing(place, open_app) as (app, pilot, walk):
        hand = Hand(app, pilot)
        await hand.press("r", pause=0.4)
        assert "takes a number" in words(app)
        await hand.press(*"0.4740", "enter", *"16", pause=0.15)
        assert app.focused is walk.asks.inputs[1], "its first Enter is not swallowed"
        assert [one.value for one in walk.asks.inputs] == ["0.4740", "16"]


async def test_a_scan_into_a_field_leaves_what_stood_there(place: Place, open_app: Open) -> None:
    async with probing(place, open_app) as (app, pilot, walk):
        hand = Hand(app, pilot)
        await hand.press(*"0.2", "home", pause=0.3)
        await hand.press(*"H44", "enter", pause=0.05)
        assert "Letters ignored" in words(app)
        assert walk.asks.inputs[0].value == "0.2"
        assert app.focused is walk.asks.inputs[0]


async def test_letters_alone_are_put_away_with_one_key_too(place: Place, open_app: Open) -> None:
    async with probing(place, open_app) as (app, pilot, walk):
        await pilot.press("n", "a", "n", "ctrl+u", "1", "full_stop", "enter")
        assert app.focused is walk.asks.inputs[1]
        assert walk.asks.inputs[0].value == "1."


async def test_a_field_emptied_with_one_key_is_begun_again(place: Place, open_app: Open) -> None:
    async with probing(place, open_app) as (app, pilot, walk):
        await pilot.press("0", "a", "ctrl+u", "1", "enter")
        assert app.focused is walk.asks.inputs[1]
        assert walk.asks.inputs[0].value == "1"


async def test_a_unit_is_its_own_or_refused_and_never_dropped(place: Place, open_app: Open) -> None:
    """ "0.02 in" in a field for mm was 0.02 at the second Enter."""
    async with probing(place, open_app) as (app, pilot, walk):
        await pilot.press("0", *("full_stop", "0", "2", "space", "i", "n"), "enter", "0", "m", "m", "enter")
        assert walk.asks.inputs[0].value == "0.02 in"
        assert "G54 X: asked for in mm, not inches. Enter it in mm" in words(app)
        assert app.focused is walk.asks.inputs[0]
        before = place.batch.seq
        await pilot.press("0", "full_stop", "5", "space", "M", "M", "enter", "enter")
        assert place.batch.seq > before
        assert place.batch.entries[-1].body["values"] == {"X": 0.5, "Z": 0.0}


async def test_letters_alone_are_told_once_and_forgotten(place: Place, open_app: Open) -> None:
    """The number typed after them is taken at its first Enter."""
    async with probing(place, open_app) as (app, pilot, walk):
        await pilot.press("a", "b", "enter")
        assert app.focused is walk.asks.inputs[0]
        assert "G54 X takes a number" in words(app)
        await pilot.press("3", "enter")
        assert app.focused is walk.asks.inputs[1]
        assert "Letters ignored" not in words(app)


async def test_the_key_of_the_keys_is_one_in_a_field_for_a_number_too(place: Place, open_app: Open) -> None:
    async with probing(place, open_app) as (app, pilot, _):
        await pilot.press("1", "question_mark")
        assert isinstance(app.screen, KeysDialog)
        await pilot.press("escape", "2")
        assert isinstance(app.screen, WalkScreen)
        assert app.screen.asks.inputs[0].value == "12", "back in the field where it was left"


async def test_text_takes_every_letter_and_the_question_mark(place: Place, open_app: Open) -> None:
    run = place.at(place.load(), "Record the lot of bar stock")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        assert isinstance(app.screen, WalkScreen)
        await pilot.press("A", "7", "question_mark")
        assert app.screen.asks.inputs[0].value == "A7?"


async def test_a_value_that_is_refused_is_replaced_by_what_is_typed_next(place: Place, open_app: Open) -> None:
    async with probing(place, open_app) as (app, pilot, _):
        assert isinstance(app.screen, WalkScreen)
        before = place.batch.seq
        await pilot.press("0", "enter", *"1.2.3", "enter")
        assert place.batch.seq == before
        assert app.focused is app.screen.asks.inputs[1]
        assert "is not a number" in words(app)
        await pilot.press("0", "enter")
        assert place.batch.seq > before, "the digits took the place of what was wrong"


async def test_a_refused_value_of_a_dialog_is_replaced_too(
    open_app: Open, shop: Shop, batch: str, clock: ManualClock
) -> None:
    hand = SimulatedOperator(shop, batch, "AA", clock, second="BB")
    hand.form(10)
    app = open_app("LL")
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("b", "a", "x")
        assert isinstance(app.screen, FormDialog)
        assert "Pieces to start takes a number" in words(app)
        await pilot.press("0", "enter", "enter")
        assert isinstance(app.screen, FormDialog), "none cannot be started"
        await pilot.press("4", "enter")
        assert shop.batch(batch).started == 14


async def test_an_answer_stands_until_the_next_key(open_app: Open, shop: Shop, half: str) -> None:
    app = open_app("LL")
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("b", "u")
        assert "Nothing of yours from the last minute" in words(app)
        await pilot.press("down")
        assert "Nothing of yours from the last minute" not in words(app)


async def test_what_was_wrong_at_a_form_is_not_reported_of_what_is_done_elsewhere(place: Place, open_app: Open) -> None:
    async with probing(place, open_app) as (app, pilot, _):
        await pilot.press("1", "full_stop", "full_stop", "enter", "0", "enter")
        assert "is not a number" in words(app)
        await pilot.press("escape")
        assert "is not a number" in words(app), "it stands in the field still"
        await pilot.press("n")
        assert isinstance(app.screen, FormDialog)
        await pilot.press("escape")
        assert "is not a number" not in words(app)


@pytest.mark.parametrize("typed", ["x", "1"])
async def test_what_is_missing_in_a_form_is_not_missing_once_something_is_typed(
    open_app: Open, shop: Shop, half: str, typed: str
) -> None:
    app = open_app("LL")
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("b", "d", "2", "1", "enter")
        assert isinstance(app.screen, FormDialog)
        assert "may not stay empty" in words(app)
        await pilot.press(typed)
        assert "may not stay empty" not in words(app)
