"""Keys faster than the screen: what is typed to a field that is gone is dropped, and the way out always works."""

from __future__ import annotations

import random

import pytest

from floor.screens.batch.screen import BatchScreen
from floor.screens.shop.what_next import NextScreen
from floor.screens.walk.screen import WalkScreen
from tests.screens.conftest import Open
from tests.screens.operator import Operator, Place


@pytest.mark.parametrize("still_shown", [True, False])
async def test_a_focus_that_comes_after_its_field_was_taken_away_holds_nobody(
    open_app: Open, place: Place, still_shown: bool
) -> None:
    """The focus is set a turn later than it is asked for; by then the form may be gone."""
    run = place.at(place.load(), "Read back the program")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, WalkScreen)
        field = screen.asks.inputs[0]
        if still_shown:
            await field.remove()
        else:
            screen.asks.clear()
            await pilot.pause()
        screen.focused = field

        await pilot.press("escape", "escape")  # out of the form, where another one has come up since

        assert isinstance(app.screen, NextScreen)


KEYS = ["enter", "enter", "enter", "escape", "tab", "1", "0", ".", "a", "s", "w", "up", "down", "space", "backspace"]


@pytest.mark.parametrize("seed", range(3))
async def test_after_a_burst_of_keys_the_way_out_works(open_app: Open, place: Place, seed: int) -> None:
    """Forty keys at a time without waiting for the screen, while forms come and go; then Escape leads back."""
    rng = random.Random(seed)
    run = place.at(place.load(), "Read back the program")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        operator = Operator(app, place.clock, second="BB")
        for _ in range(2):
            for key in rng.choices(KEYS, k=40):
                operator.send(key)
            await operator._through()
            assert app.focused is None or app.focused.is_attached
        await pilot.pause()
        for _ in range(40):
            if isinstance(app.screen, NextScreen):
                break
            await pilot.press("escape")
        assert isinstance(app.screen, NextScreen)
        await pilot.press("b")
        assert isinstance(app.screen, BatchScreen), "it answers"
