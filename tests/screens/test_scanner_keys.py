"""A scanner that reads where no field is open enters nothing, however slowly it sends its letters."""

from __future__ import annotations

import asyncio

import pytest
from textual import events
from textual.keys import _character_to_key

from floor.app import TAG_PAUSE, FloorApp
from floor.batch.tag import format_tag, make_tag
from floor.screens.walk.screen import WalkScreen
from tests.screens.operator import Place, said

SIZE = (80, 24)
SCANS = ("s1204", "p2", "x1", "m12", "w5", "d1", "u", "y7", "a9", "o1", "k", "n17b", "70-03A", "1", "xbjk2")
"""Lots, tools and orders as a shop has them; their letters are keys here."""


def send(app: FloorApp, key: str, time: float) -> None:
    """As the terminal does, at a time by the clock of keys."""
    event = events.Key(_character_to_key(key) if len(key) == 1 else key, key if len(key) == 1 else None)
    event.time = time
    event.set_sender(app)
    assert app._driver is not None
    app._driver.send_message(event)


@pytest.mark.parametrize("pause", [0.005, 0.05, 0.1, 0.2])
@pytest.mark.parametrize("scan", SCANS)
async def test_no_scan_enters_anything_in_the_walk(place: Place, scan: str, pause: float) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    app = FloorApp(place.shop, who="LL", ticking=False)
    app.held.gap = 0.6
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        before, at = place.batch.seq, 100.0
        for key in [*scan, "enter"]:
            send(app, key, at)
            at += pause
            await asyncio.sleep(pause)
            await pilot.pause()
        await asyncio.sleep(0.25)
        await pilot.pause()
        assert place.batch.seq == before, place.batch.entries[-1].kind


async def test_a_question_that_a_scan_opened_goes_away_and_that_is_said(place: Place) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    app = FloorApp(place.shop, who="LL", ticking=False)
    app.held.gap = 0.6
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        for n, key in enumerate([*"s1204b", "enter"]):
            send(app, key, 100.0 + 0.2 * n)
            await asyncio.sleep(0.2)
            await pilot.pause()
        assert isinstance(app.screen, WalkScreen)
        assert "Scan ignored, nothing entered" in said(app)


async def test_a_hand_opens_the_question_and_answers_it(place: Place) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    app = FloorApp(place.shop, who="LL", ticking=False)
    app.held.gap = 0.6
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        for n, key in enumerate(["p", "2"]):
            send(app, key, 100.0 + 0.3 * n)
            await asyncio.sleep(0.3)
            await pilot.pause()
        await asyncio.sleep(0.3)
        await pilot.pause()
        assert place.batch.entries[-1].kind == "paused"


async def test_a_tag_scanned_anywhere_opens_what_it_is_on(place: Place) -> None:
    load = place.load()
    run = place.at(load, "Clamp the pallet")
    text = format_tag(make_tag("load", (place.id, load), place.batch.entries[0].hash))
    app = FloorApp(place.shop, who="LL", ticking=False)
    app.held.gap = 0.6
    async with app.run_test(size=SIZE) as pilot:
        for key in [*text, "enter"]:
            send(app, key, 100.0)
        await pilot.pause()
        assert isinstance(app.screen, WalkScreen)
        assert app.screen.run_ == run
        before = place.batch.seq
        for key in text[:8]:
            send(app, key, 200.0)
        await asyncio.sleep(TAG_PAUSE + 0.2)
        await pilot.pause()
        assert "Scan ignored" in said(app), "half a tag"
        assert place.batch.seq == before
