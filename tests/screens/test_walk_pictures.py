"""Pictures of a walk that asks, waits and refuses."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from floor.app import FloorApp
from floor.batch.gates.commands import Prove
from floor.batch.walk.commands import BeginRun
from tests.screens.conftest import Picture
from tests.screens.operator import Place


def _walk(place: Place, run: int) -> tuple[FloorApp, Callable[[Any], Any]]:
    app = FloorApp(place.shop, who="AA", ticking=False)

    async def go(pilot: Any) -> None:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.pause()

    return app, go


def test_a_walk_that_asks_for_values(picture: Picture, place: Place) -> None:
    """To be seen: the form with the limits beside each field, the cursor in the first, and how to leave it."""
    app, go = _walk(place, place.at(place.load(), "Probe G54 X Z"))
    picture(app, run_before=go)


def test_a_walk_whose_value_does_not_do(picture: Picture, place: Place) -> None:
    """To be seen: which value lies outside which limits, and that Enter names the piece and decides on it."""
    run = place.at(place.load(), "Measure groove depth")
    line = place.hand.current(1)
    assert line is not None
    place.hand.do(Prove(run, line.key, {"value": [2.7, 3.0]}))
    app, go = _walk(place, run)
    picture(app, run_before=go)


def test_a_walk_that_waits_for_a_cure(picture: Picture, place: Place) -> None:
    """To be seen: that it waits, how long still and until when by the clock, and that it ripens by itself."""
    load = place.load()
    place.through(load, 10, 20)
    run = int(place.hand.do(BeginRun(load, anyway=True))[0].body["run"])
    app, go = _walk(place, run)
    picture(app, run_before=go)


def test_a_walk_that_is_blocked(picture: Picture, place: Place) -> None:
    """To be seen: what blocks (a window that has closed) and what clears it, by sign and word; the rest ahead."""
    place.through(place.load(), 10, 20, 30)
    place.through(place.load(40), 40)
    packed = place.load(50)
    place.clock.forward(9 * 3600)
    app, go = _walk(place, int(place.hand.do(BeginRun(packed, anyway=True))[0].body["run"]))
    picture(app, run_before=go)


def test_coming_back_after_a_while(picture: Picture, place: Place) -> None:
    """To be seen: how long one was away, what was last, and the line to go on with, marked once."""
    run = place.at(place.load(), "Clamp the pallet")
    place.clock.forward(50 * 60)
    app, go = _walk(place, run)
    picture(app, run_before=go)


def test_all_keys_of_the_walk(picture: Picture, place: Place) -> None:
    """To be seen: what one does here, then every key with its word and what it does, each on one row of 80 columns."""
    app, go = _walk(place, place.at(place.load(), "Clamp the pallet"))

    async def asked(pilot: Any) -> None:
        await go(pilot)
        await pilot.press("?")

    picture(app, run_before=asked)
