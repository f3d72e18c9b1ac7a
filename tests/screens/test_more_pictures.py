"""Pictures off the usual path: a tool card, pieces set aside, an event, taking over, what a key asks or opens."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from floor.app import FloorApp
from floor.batch.gates.commands import Prove
from floor.batch.handover.commands import OfferHandover
from floor.batch.lifecycle.commands import OpenBatch
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import thermal_break
from tests.screens.conftest import Open, Picture
from tests.screens.operator import Place
from tests.screens.painted import rows


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


def test_the_card_of_a_tool(picture: Picture, plates: Place) -> None:
    """To be seen: caution, card and form together at 80 × 24; beside the walk, all of the card by name."""
    app, go = _walk(plates, plates.at(plates.load(), "Load and measure tool 1"))
    picture(app, run_before=go)


def test_the_set_up_before_the_start(picture: Picture, plates: Place) -> None:
    """To be seen: program, work offset, and how each tool runs, at the line that starts the cycle."""
    app, go = _walk(plates, plates.at(plates.load(), "start"))
    picture(app, run_before=go)


def test_setting_pieces_aside(picture: Picture, place: Place) -> None:
    """To be seen: where the cursor is, the phrases offered, and what is wrong below its field."""
    app, go = _walk(place, place.at(place.load(), "Shut the door"), "m", "z", "enter", "x", "enter", "enter")
    picture(app, run_before=go)


def test_what_happened_at_the_station(picture: Picture, place: Place) -> None:
    """To be seen: each happening by a digit, and that it voids what was proved."""
    app, go = _walk(place, place.at(place.load(), "Shut the door"), "x")
    picture(app, run_before=go)


def test_what_the_incoming_person_reads(picture: Picture, place: Place) -> None:
    """To be seen: who is responsible until when, what the other one says, and no recorded figure."""
    place.at(place.load(), "Shut the door")
    place.shop.do(place.id, OfferHandover("door switch sticks"), "LL")
    app = FloorApp(place.shop, who="BB", ticking=False)
    picture(app, press=["b", "o"])


def test_too_small(picture: Picture, place: Place) -> None:
    """To be seen: what is wrong, the size that it takes, and the one it has."""
    picture(FloorApp(place.shop, who="AA", ticking=False), sizes=[(39, 15)])


# --- what stands between two screens -------------------------------------------------------------------------------


def test_a_cycle_that_runs(picture: Picture, place: Place) -> None:
    """To be seen: since when, how long still, and what comes after."""
    app, go = _walk(place, place.at(place.load(), "end", wait=False))
    picture(app, run_before=go)


def test_starting_a_cycle(picture: Picture, place: Place) -> None:
    """To be seen: what `y` starts and records; Enter records nothing."""
    app, go = _walk(place, place.at(place.load(), "start"), "enter")
    picture(app, run_before=go)


def test_beginning_a_run(picture: Picture, place: Place) -> None:
    """To be seen: what starts where, what has to be there first, and what `y` does."""
    place.load()
    app = FloorApp(place.shop, who="AA", ticking=False)
    picture(app, press=["/", *"pallet", "space", "1", "enter"])


def test_counting_without_places(picture: Picture, place: Place) -> None:
    """To be seen: the reasons with their digits, the sum, and that it adds up."""
    load = place.load()
    place.through(load, 10, 20)
    app, go = _walk(place, place.at(load, "count"), "enter", "1")
    picture(app, run_before=go)


def test_deciding_on_a_value_out_of_limits(picture: Picture, place: Place) -> None:
    """To be seen: which piece, which value, and what can be done with it; nothing is chosen yet."""
    run = place.at(place.load(), "Measure groove depth")
    line = place.hand.current(1)
    assert line is not None
    place.hand.do(Prove(run, line.key, {"value": [3.0, 3.3]}))
    app, go = _walk(place, run, "enter")
    picture(app, run_before=go)


@pytest.mark.parametrize(
    "keys",
    [("b", "h"), ("b", "v"), ("b", "e"), ("b", "j", "enter"), ("b", "o", "d", "1"), ("exclamation_mark",), ("v",)],
    ids=["moves", "views", "papers", "an entry", "handing over", "out of the ordinary", "wall"],
)
def test_what_a_key_opens(picture: Picture, open_app: Open, half: str, keys: tuple[str, ...]) -> None:
    """To be seen: what it is about on top, each choice whole, and how to leave it."""
    picture(open_app(), press=keys)


def test_finding_anything(picture: Picture, open_app: Open, half: str) -> None:
    """To be seen: what fits what is typed, each with what it is."""
    picture(open_app(), press=["/", *"pal"])


def test_a_shop_without_batches(picture: Picture, bare_shop: Shop) -> None:
    """To be seen: what to do first."""
    picture(FloorApp(bare_shop, ticking=False))


@pytest.mark.parametrize(
    ("title", "keys"), [("Shut the door", ()), ("count", ("enter", "1")), ("end", ()), ("Clamp the pallet", ("?",))]
)
async def test_a_terminal_made_narrow_and_wide_again_shows_the_same(
    place: Place, title: str, keys: tuple[str, ...]
) -> None:
    """Nothing stays wrapped or scrolled as the narrow one needed it."""
    app, go = _walk(place, place.at(place.load(), title, wait=title != "end"), *keys)
    async with app.run_test(size=(80, 24)) as pilot:
        await go(pilot)
        await pilot.pause()
        before = rows(app)
        for size in ((60, 20), (80, 24)):
            await pilot.resize_terminal(*size)
            await pilot.pause()
            await pilot.pause()
        assert rows(app) == before


async def test_a_choice_of_two_lines_stands_behind_its_key(place: Place) -> None:
    app, go = _walk(place, place.at(place.load(), "Shut the door"), "x")
    async with app.run_test(size=(60, 20)) as pilot:
        await go(pilot)
        shown = [row.strip() for row in rows(app)]
        first = next(n for n, row in enumerate(shown) if "8  guard off, lock on" in row)
        assert shown[first].index("guard") == shown[first + 1].index("clear it")
