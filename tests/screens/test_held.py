"""A confirming key held down confirms one line, not the operation."""

from __future__ import annotations

from textual import events

from floor.screens.frame.key_guard import GAP, KeyGuard
from floor.shop.simulation import ManualClock
from tests.screens.conftest import Open
from tests.screens.keys import words
from tests.screens.operator import Operator, Place


def taken(gap: float, presses: int = 30, confirms: bool = True) -> int:
    held = KeyGuard()
    return sum(not held.again("enter", 5 + n * gap, confirms) for n in range(presses))


def test_a_key_held_down_confirms_once() -> None:
    """Thirty a second is what keyboards repeat by default (common practice, no source)."""
    assert taken(0.033) == 1
    assert taken(GAP - 0.01, presses=2) == 1, "a tired hand's second press"
    assert taken(GAP + 0.01) == 30
    assert taken(0.5) >= 15, "who taps steadily gets on"


def test_a_letter_held_down_acts_once_and_tapped_each_time() -> None:
    assert taken(0.033, confirms=False) == 1
    assert taken(0.15, confirms=False) == 30


def test_keys_that_take_turns_are_not_held_down() -> None:
    """Places unmarked one after the other: space, right, space, right."""
    held = KeyGuard()
    keys = [("space", False), ("right", False)] * 4
    assert not any(held.again(key, n * 0.05, confirms) for n, (key, confirms) in enumerate(keys))


async def test_enter_held_down_on_the_walk_does_one_line(open_app: Open, place: Place, clock: ManualClock) -> None:
    run = place.at(place.load(), "do")
    app = open_app()
    app.key_reader.guard = KeyGuard()
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


async def test_a_scan_with_no_field_open_does_nothing(open_app: Open, place: Place) -> None:
    """Its letters are keys of the walk: w waives, x says what happened, Enter confirms."""
    run = place.at(place.load(), "do")
    app = open_app()
    app.key_reader.guard = KeyGuard()
    operator = Operator(app, place.clock, second="BB")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        before, screen = place.batch.seq, app.screen
        for key in ("w", "1", "0", "a", "enter"):
            operator.send(key)
        await operator.until(lambda: "open a field first" in words(app), "what is said of it")
        assert place.batch.seq == before
        assert app.screen is screen
        operator.send("w")
        await operator.until(lambda: "Nothing to waive" in words(app), "a letter by itself")


async def test_what_comes_at_once_after_enter_is_not_of_the_same_field(open_app: Open, place: Place) -> None:
    """A label with lot and date, scanned over a slow line: all its keys are there before the first is worked off."""
    load = place.load()
    place.through(load, 10)
    run = place.at(load, "Record the lot of lacquer")
    app = open_app("AA")
    operator = Operator(app, place.clock, second="BB")
    async with app.run_test(size=(80, 24)):
        app.go_walk(place.id, run)
        await operator.line()
        before = place.batch.seq
        for key in (*"h123", "enter", *"2027-03-01", "enter", *"h124", "enter"):
            operator.send(key)
        await operator.until(lambda: place.batch.seq > before, "the lot")
        await operator.line()
    lot = place.batch.lots["lacquer"]
    assert (lot.lot, str(lot.use_by)) == ("h123", "2027-03-01")
