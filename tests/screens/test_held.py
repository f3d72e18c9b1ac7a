"""A confirming key held down confirms one line, not the operation."""

from __future__ import annotations

import pytest
from textual import events

from floor.screens.held import GAP, Held
from floor.shop.hand import HandClock
from tests.screens.conftest import Open
from tests.screens.keys import words
from tests.screens.operator import Place


@pytest.mark.parametrize(("gap", "taken"), [(0.033, 1), (GAP - 0.01, 1), (GAP + 0.01, 30)])
def test_a_key_that_repeats_is_taken_once(gap: float, taken: int) -> None:
    """Thirty a second is what keyboards repeat by default (common practice, no source)."""
    held = Held()
    assert sum(not held.again("enter", 5 + n * gap) for n in range(30)) == taken


def test_other_keys_and_the_other_confirming_key_are_not_held_back() -> None:
    held = Held()
    assert not any(held.again(key, 1.0) for key in ("a", "a", "enter", "space", "down", "down"))


async def test_enter_held_down_on_the_walk_does_one_line(open_app: Open, place: Place, clock: HandClock) -> None:
    run = place.at(place.load(), "do")
    app = open_app()
    app.held = Held()
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        before = place.batch.seq
        for n in range(30):
            key = events.Key("enter", None)
            key.time = 100 + n / 30
            app.post_message(key)
        await pilot.pause()
        assert place.batch.seq == before + 1
        assert "Press again" in words(app)
