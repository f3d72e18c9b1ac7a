"""The walk shows what the checklist says about a line: gauge, balloon, drawing; a source if there is room."""

from __future__ import annotations

import pytest
from textual.widgets import Static

from floor.app import FloorApp
from floor.batch.lifecycle.commands import OpenBatch
from floor.checklist.model import Checklist
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import edited
from tests.screens.operator import Place
from tests.screens.seen import seen

DRAWING = ('revision = "A"\n', 'revision = "A"\ndrawing = "KB-7 sheet 2, revision B"\n')
GROOVE = 'what = "groove depth"'
MEASURED = f'{GROOVE}, gauge = "Depth micrometer", number = 4, source = "Trial of 40 pieces"'


async def walk_seen(
    shop: Shop, clock: ManualClock, checklist: Checklist, line: str, size: tuple[int, int] = (80, 24)
) -> tuple[str, bool]:
    """The walk as it stands at a line, and whether its form is in sight."""
    batch = shop.open_batch(OpenBatch(shop.find_next_id(), checklist, "digest", "part.toml", 8, 10), by="LL").id
    place = Place(shop, batch, clock)
    run = place.at(place.load(), line)
    app = FloorApp(shop, who="AA", ticking=False)
    async with app.run_test(size=size) as pilot:
        app.go_walk(batch, run)
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, WalkScreen)
        in_sight = all(screen.asks.region.contains_region(field.region) for field in screen.asks.inputs)
        keys = screen.query_one("#step-keys", Static)
        return seen(app), in_sight and screen.query_one("#step").region.contains_region(keys.region)


async def test_the_value_stands_with_its_gauge_its_balloon_and_the_drawing(shop: Shop, clock: ManualClock) -> None:
    text, in_sight = await walk_seen(shop, clock, edited(DRAWING, (GROOVE, MEASURED)), "Measure groove depth")
    rows = [row.strip() for row in text.splitlines()]
    at = rows.index("▶ Measure groove depth")
    assert rows[at + 1 : at + 3] == [
        "With: Depth micrometer; balloon 4 on KB-7 sheet 2, revision B",
        "Source: Trial of 40 pieces",
    ]
    assert in_sight


async def test_a_first_piece_stands_with_the_drawing(shop: Shop, clock: ManualClock) -> None:
    text, _ = await walk_seen(shop, clock, edited(DRAWING), "Accept the first piece")
    assert "Drawing: KB-7 sheet 2, revision B" in text


async def test_nothing_stands_where_the_checklist_says_nothing(shop: Shop, clock: ManualClock) -> None:
    text, _ = await walk_seen(shop, clock, edited(), "Measure groove depth")
    assert "With:" not in text
    assert "Source:" not in text


@pytest.mark.parametrize(("long", "said"), [(False, True), (True, False)])
async def test_a_source_gives_way_to_the_form(shop: Shop, clock: ManualClock, long: bool, said: bool) -> None:
    """If required reading fills the step, the source is on paper only; the form and its keys stay in sight."""
    more = f', detail = "{"Mind the burr. " * 15}", cautions = ["cutter", "hot"]' if long else ""
    fields = ("sample = 2", "sample = 4" if long else "sample = 2")
    checklist = edited(DRAWING, (GROOVE, MEASURED + more), fields)
    text, in_sight = await walk_seen(shop, clock, checklist, "Measure groove depth")
    assert ("Source: Trial of 40 pieces" in text) == said
    assert in_sight


async def test_a_caution_is_read_with_its_source(shop: Shop, clock: ManualClock) -> None:
    text, _ = await walk_seen(shop, clock, edited(), "Read: WARNING")
    assert "Turning cutter" in text
    assert "Source: 29 CFR 1910.212(a)(1)" in text


async def test_the_set_up_stands_with_the_limits_of_its_station(shop: Shop, clock: ManualClock) -> None:
    limits = ('name = "Mill"\n', 'name = "Mill"\npower_limit = "2.2 kW"\nsource = "Spindle plate"\n')
    text, _ = await walk_seen(shop, clock, edited(limits), "Start the cycle", (160, 50))
    assert "at most 2.2 kW (Spindle plate)" in text
