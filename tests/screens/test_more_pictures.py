"""Pictures off the usual path: a tool card, pieces set aside, an event, taking over, too small a terminal."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from floor.app import FloorApp
from floor.batch.handover.commands import OfferHandover
from floor.batch.lifecycle.commands import OpenBatch
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import thermal_break
from tests.screens.operator import Place

Snap = Callable[..., bool]
SIZES = pytest.mark.parametrize("size", [(80, 24), (160, 50)], ids=["80x24", "160x50"])


@pytest.fixture
def plates(shop: Shop, clock: ManualClock) -> Place:
    """The shipped demo part."""
    id = shop.open_batch(OpenBatch("B0001", thermal_break(), "digest", "plate.toml", 96, 108), by="LL").id
    return Place(shop, id, clock)


def _walk(place: Place, run: int, *keys: str) -> tuple[FloorApp, Callable[[Any], Any]]:
    app = FloorApp(place.shop, who="AA", ticking=False)

    async def go(pilot: Any) -> None:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.pause()
        await pilot.press(*keys)

    return app, go


@SIZES
def test_the_card_of_a_tool(snap_compare: Snap, plates: Place, size: tuple[int, int]) -> None:
    """To be seen: caution, card and form together at 80 × 24; beside the walk, all of the card by name."""
    app, go = _walk(plates, plates.at(plates.load(), "Load and measure tool 1"))
    assert snap_compare(app, run_before=go, terminal_size=size)


@SIZES
def test_the_set_up_before_the_start(snap_compare: Snap, plates: Place, size: tuple[int, int]) -> None:
    """To be seen: program, work offset, and how each tool runs, at the line that starts the cycle."""
    app, go = _walk(plates, plates.at(plates.load(), "start"))
    assert snap_compare(app, run_before=go, terminal_size=size)


@SIZES
def test_setting_pieces_aside(snap_compare: Snap, place: Place, size: tuple[int, int]) -> None:
    """To be seen: where the cursor is, the phrases offered, and what is wrong below its field."""
    app, go = _walk(place, place.at(place.load(), "Shut the door"), "m", "z", "enter", "x", "enter", "enter")
    assert snap_compare(app, run_before=go, terminal_size=size)


def test_what_happened_at_the_station(snap_compare: Snap, place: Place) -> None:
    """To be seen: each happening by a digit, and that it voids what was proved."""
    app, go = _walk(place, place.at(place.load(), "Shut the door"), "x")
    assert snap_compare(app, run_before=go, terminal_size=(80, 24))


@SIZES
def test_what_the_incoming_person_reads(snap_compare: Snap, place: Place, size: tuple[int, int]) -> None:
    """To be seen: who is responsible until when, what the other one says, and no recorded figure."""
    place.at(place.load(), "Shut the door")
    place.shop.do(place.id, OfferHandover("door switch sticks"), "LL")
    app = FloorApp(place.shop, who="BB", ticking=False)
    assert snap_compare(app, press=["b", "o"], terminal_size=size)


def test_too_small(snap_compare: Snap, place: Place) -> None:
    """To be seen: what is wrong, the size that it takes, and the one it has."""
    assert snap_compare(FloorApp(place.shop, who="AA", ticking=False), terminal_size=(39, 15))
