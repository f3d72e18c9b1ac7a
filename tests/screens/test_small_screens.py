"""Walk, count and what is next on a small screen: what Enter records is in sight, and nothing is recorded unseen."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import Static

from floor.app import FloorApp
from floor.batch.handover.commands import OfferHandover
from floor.batch.lifecycle.commands import OpenBatch
from floor.screens.batch.screen import BatchScreen
from floor.screens.shop.what_next import NextScreen
from floor.screens.walk.screen import WalkScreen
from floor.screens.widgets.place_map import PlaceMap
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import edited, thermal_break
from tests.screens.conftest import Open
from tests.screens.operator import Operator, Place
from tests.screens.seen import seen
from tests.screens.test_count_screen import counting

TWO_CAUTIONS = (
    'at = "load", cautions = ["cutter"]',
    'at = "load", detail = "Both halves until the latch clicks", cautions = ["cutter", "hot"]',
)
LONG = (
    ('consequence = "Can burn the hand"', 'consequence = "Can burn the hand, and whoever takes the piece from it"'),
    ('avoid = "Heat gloves"', 'avoid = "Heat gloves up to the elbow; tongs; nobody else at the oven meanwhile"'),
)


LONGEST_WAIT = 100


def is_fitted(screen: WalkScreen, size: tuple[int, int]) -> bool:
    """Whether the step was laid out for a screen of this size."""
    step = screen.step
    return screen.size == size == step.begun[-1] and step.fitted == step.room and step.is_laid_out  # type: ignore[index]


@asynccontextmanager
async def at_cautions(
    shop: Shop, clock: ManualClock, size: tuple[int, int]
) -> AsyncIterator[tuple[Place, WalkScreen, Pilot[Any]]]:
    """A step with two cautions that nobody has read yet, on a screen that was made smaller meanwhile."""
    checklist = edited(TWO_CAUTIONS, *LONG)
    id = shop.open_batch(OpenBatch("B0001", checklist, "d", "part.toml", 8, 10), by="LL").id
    place = Place(shop, id, clock)
    run = place.at(place.load(), "caution")
    app = FloorApp(shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(id, run)
        await pilot.pause()
        await pilot.resize_terminal(*size)
        screen = app.screen
        assert isinstance(screen, WalkScreen)
        for _ in range(LONGEST_WAIT):  # on a busy machine the size arrives late
            await pilot.pause()
            if is_fitted(screen, size):
                break
        yield place, screen, pilot


def is_in_sight(screen: WalkScreen, name: str) -> bool:
    """Whether the last row of it is seen, in its place and on the screen."""
    widget, body = screen.query_one(name, Static), screen.query_one("#step-body")
    row = widget.region.bottom - 1
    held = body.region.y <= row < body.region.bottom if name != "#step-keys" else True
    return widget.size.height > 0 and held and row < screen.size.height - 1


@pytest.mark.parametrize("size", [(60, 20), (40, 24), (40, 16)])
async def test_what_enter_does_is_in_sight_beside_two_cautions(
    shop: Shop, clock: ManualClock, size: tuple[int, int]
) -> None:
    async with at_cautions(shop, clock, size) as (_, screen, _pilot):
        assert is_in_sight(screen, "#step-keys")
        assert screen.lines.size.height > 0, "and the line that it is about"


async def test_with_room_for_all_of_it_one_enter_records_that_it_was_read(shop: Shop, clock: ManualClock) -> None:
    async with at_cautions(shop, clock, (60, 24)) as (place, screen, pilot):
        assert str(screen.step.keys.content) == "Enter: I have read this"
        before = place.batch.seq
        await pilot.press("enter")
        assert place.batch.seq == before + 1


async def test_where_they_are_longer_than_the_screen_enter_turns_the_page_before_it_records(
    shop: Shop, clock: ManualClock
) -> None:
    async with at_cautions(shop, clock, (40, 16)) as (place, screen, pilot):
        before, said = place.batch.seq, str(screen.step.keys.content)
        assert said.startswith("Enter: next page")
        assert not is_in_sight(screen, "#step-detail")
        turned = 0
        while str(screen.step.keys.content) == said:
            await pilot.press("enter")
            turned += 1
            assert place.batch.seq == before, "what is below was not read"
        assert turned
        assert is_in_sight(screen, "#step-detail")
        assert str(screen.step.keys.content) == "Enter: I have read this"
        await pilot.press("enter")
        assert place.batch.seq == before + 1

        assert is_in_sight(screen, "#step-title"), "and what was read gives way to what is to be done"
        assert str(screen.step.keys.content) == "Enter: record it as done"
        await pilot.press("pageup", "pageup", "pageup")
        assert screen.step.body.scroll_y == 0, "it can be read again"
        await pilot.press("enter")
        assert place.batch.seq == before + 1


async def test_enter_waits_until_a_new_step_is_laid_out(shop: Shop, clock: ManualClock) -> None:
    """Right after a step that was longer than its place: what fits of the next one is not known yet."""
    async with at_cautions(shop, clock, (40, 16)) as (place, screen, pilot):
        assert str(screen.step.keys.content).startswith("Enter: next page")
        while screen.step.has_more_below:
            await pilot.press("enter")
        before = place.batch.seq
        screen.action_confirm()  # reads the cautions
        assert place.batch.seq == before + 1
        screen.update_all()
        screen.action_confirm()
        assert place.batch.seq == before + 1, "nothing is recorded before anybody can have seen it"
        await pilot.pause()
        await pilot.pause()
        assert not screen.step.has_more_below
        assert place.batch.seq == before + 2, "and the key is not lost"


async def test_enter_waits_while_a_step_has_other_rows_than_were_laid_out(shop: Shop, clock: ManualClock) -> None:
    """The toolkit may call back "after the refresh" before what changed has told the screen so."""
    async with at_cautions(shop, clock, (80, 24)) as (_, screen, pilot):
        step, again = screen.step, list[bool]()
        await pilot.pause()
        assert not step.read_on(lambda: again.append(step.has_more_below)), "all of it is in sight"
        step.detail.display = True
        step.detail.update("\n".join(map(str, range(40))))
        assert step.is_laid_out
        assert step.read_on(lambda: again.append(step.has_more_below)), "it is longer than its place by now"
        await pilot.pause()
        assert again == [True]


async def test_a_count_keeps_what_enter_records_in_sight_and_shows_every_reason_by_a_key(
    open_app: Open, shop: Shop, clock: ManualClock
) -> None:
    deep = '{ code = "deep", text = "Groove too deep", caused_at = 10 },'
    more = "".join(f'\n  {{ code = "more {n}", text = "Fault {n}" }},' for n in range(5))
    start = OpenBatch("B0001", edited((deep, deep + more)), "d", "part.toml", 8, 10)
    place = Place(shop, shop.open_batch(start, by="LL").id, clock)
    app = open_app("AA")
    keys = Operator(app, place.clock, second="BB")
    async with app.run_test(size=(40, 16)) as pilot:
        screen = await counting(keys, place, place.load())
        await pilot.press("1")
        await pilot.pause()
        rows = seen(app).splitlines()
        assert any("Enter: record 3 good + 1 scrap" in row for row in rows)
        assert "PgDn: more below" in seen(app)
        last = f" {screen.key_of(screen.codes[-1])}  "
        assert not any(row.strip("\n").lstrip().startswith(last.lstrip()) for row in rows), "no room for it yet"
        for _ in screen.codes:
            await pilot.press("pagedown")
        assert screen.box.scroll_y == screen.box.max_scroll_y > 0
        await pilot.pause()
        assert any(row.lstrip().startswith(last.lstrip()) for row in seen(app).splitlines())
        assert any("Enter: record 3 good + 1 scrap" in row for row in seen(app).splitlines())


async def test_what_is_next_keeps_its_list_where_the_screen_is_short(open_app: Open, place: Place) -> None:
    """What is under the cursor, some of the list, and of the batches what there is room for; fitted when resized."""
    place.at(place.load(), "Clamp the pallet")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, NextScreen)
        assert [name for name, _ in screen.table.headed] == ["", "When", "Load", "What", "Where"]
        await pilot.resize_terminal(40, 16)
        await pilot.pause()
        await pilot.pause()
        assert [name for name, _ in screen.table.headed] == ["", "When", "What"]
        assert screen.table.size.height > 3
        assert screen.batches.size.height == 1
        assert screen.max_scroll_y == 0, "nothing is below the screen"


# --- the batch -------------------------------------------------------------------------------------------------------


async def test_a_carrier_that_the_list_leaves_no_room_for_is_one_key_away(
    open_app: Open, shop: Shop, clock: ManualClock
) -> None:
    """The key stands there while it is wanted, and draws it large."""
    start = OpenBatch("B0001", thermal_break(), "-", "thermal-break-plate.toml", 60, 66)
    place = Place(shop, shop.open_batch(start, by="LL").id, clock)
    for _ in range(4):
        place.load()
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b")
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, BatchScreen)
        assert screen.lying.display
        assert "f: Pallet 1 as it lies" not in seen(app)
        await pilot.resize_terminal(80, 18)
        await pilot.pause()
        await pilot.pause()
        assert not screen.lying.display
        assert "f: Pallet 1 as it lies" in seen(app)
        assert screen.table.size.height > 2, "and the loads are seen"
        await pilot.press("f")
        drawn = app.screen.query_one(PlaceMap)
        assert drawn.size.height > 0
        assert "good 1" in seen(app)
        await pilot.press("escape")
        assert app.screen is screen
        await pilot.resize_terminal(80, 24)
        await pilot.pause()
        await pilot.pause()
        assert screen.lying.display
        assert "f: Pallet 1 as it lies" not in seen(app)

        await pilot.press("end", "f")
        assert "on no carrier" in seen(app)


async def test_what_is_to_be_counted_blind_is_not_drawn_either(open_app: Open, place: Place) -> None:
    place.load()
    place.shop.do(place.id, OfferHandover("all well"), "LL")
    app = open_app("BB")
    async with app.run_test(size=(80, 16)) as pilot:
        await pilot.press("b", "f")
        assert "f: Pallet 1" not in seen(app)
        assert "still to be counted" in seen(app)
