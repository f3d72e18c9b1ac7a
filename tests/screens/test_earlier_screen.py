"""Earlier batches on screen: beside a batch, in the form that opens the next one, and where more pieces are started."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from threading import Event
from typing import Any

import pytest
from textual.pilot import Pilot

from floor.app import FloorApp
from floor.batch.lifecycle.commands import OpenBatch
from floor.screens.batch.process import EarlierScreen
from floor.screens.batch.screen import BatchScreen
from floor.screens.forms.dialogs import FormDialog
from floor.screens.shop.order_form import OpenBatchScreen
from floor.shop import Shop, earlier_batches
from floor.shop.simulation import ManualClock
from tests.batch.factory import edited, part
from tests.screens.conftest import Open, Picture
from tests.screens.keys import fill, words
from tests.screens.test_opening import a_good_one, choose, own
from tests.shop.earlier import FILE, work_batch
from tests.shop.taught import ALL_DAY

OTHER = (('number = "KB-7"', 'number = "KB-8"'),)


@pytest.fixture
def history(shop: Shop, clock: ManualClock) -> list[str]:
    """Two closed batches of the part, and one of another part at the same stations."""
    (shop.folder / "shop.toml").write_text(ALL_DAY, encoding="utf-8")
    names = []
    for scrap in ({10: 1, 30: 1}, {10: 2}):
        names.append(work_batch(shop, clock, scrap))
        clock.forward(40 * 86400)
    names.append(work_batch(shop, clock, {10: 1}, checklist=edited(*OTHER)))
    clock.forward(20 * 86400)
    return names


def shown(app: FloorApp) -> str:
    return " ".join(words(app).split())


async def settle(pilot: Pilot[Any]) -> None:
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()


async def test_the_page_shows_earlier_batches_beside_this_one(
    open_app: Open, shop: Shop, clock: ManualClock, history: list[str]
) -> None:
    this = work_batch(shop, clock, {10: 1}, until=timedelta(hours=3), close=False)
    app = open_app("AA")
    async with app.run_test(size=(80, 50)) as pilot:
        await pilot.press("b", "v", "6")
        await settle(pilot)
        assert isinstance(app.screen, EarlierScreen)
        said = words(app)
        assert "by the checklist alone" in said
        assert "next order, with this batch" in said
        order = [line.split()[0] for line in said.split("\n") if line.startswith("B0") and " d " in line]
        assert order == [this, *history[1::-1]], "the newest first, and no other part"
        await pilot.press("right")
        assert "op 10 Mill the groove: checklist 100.0 % (30), next order " in words(app)
        assert "6 of 8" in words(app)
        await pilot.press("right")
        assert "op 10 Mill the groove, cycle: next order" in words(app)
        await pilot.press("right")
        assert "KB-8" in words(app)
        assert "no plan uses another part's" in shown(app)
        await pilot.press("right")
        assert "page 1 of 4" in words(app)


async def test_without_any_that_is_said(open_app: Open, batch: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v", "6")
        await settle(pilot)
        assert "No earlier batch of this part" in shown(app)
        await pilot.press("right")
        assert "Nothing has been counted yet" in shown(app)
        await pilot.press("right")
        assert "No run has been timed yet" in shown(app)
        await pilot.press("right")
        assert "No other part has been counted or timed" in shown(app)


async def test_a_batch_that_cannot_be_read_is_named(open_app: Open, shop: Shop, history: list[str]) -> None:
    (shop.folder / "record" / "closed" / f"{history[0]}.json").write_bytes(b"no record")
    this = shop.open_batch(OpenBatch(shop.find_next_id(), part(), "digest", FILE, 6, 8), "LL").id
    app = open_app("AA")
    async with app.run_test(size=(80, 50)) as pilot:
        app.session.shop.refresh()
        app.go_batch(this)
        await pilot.press("v", "6")
        await settle(pilot)
        assert f"{history[0]} is left out" in shown(app)


async def test_the_next_order_is_planned_by_them_and_that_goes_on_record(
    open_app: Open, shop: Shop, history: list[str]
) -> None:
    own(shop, a_good_one(), "part.toml")
    app = open_app()
    async with app.run_test(size=(160, 50)) as pilot:
        await choose(pilot, "part.toml")
        await fill(pilot, "8")
        assert "How sure, without and with earlier batches:" in words(app)
        assert "by the checklist alone" in words(app)
        assert f"with {history[1]}, {history[0]}" in words(app)
        await fill(pilot, "", "", "")
        await pilot.press("enter", "y")
        assert isinstance(app.screen, BatchScreen)
        [batch] = shop.batches
        assert batch.earlier is not None
        assert batch.earlier.batches == (history[1], history[0])
        assert batch.started > 8, "by the checklist alone nothing is lost, and 8 would do"
        await pilot.press("a")
        assert isinstance(app.screen, FormDialog)
        assert "by checklist and counts" in words(app)
        assert f"with {history[1]}, {history[0]}" in words(app)


async def test_a_sampling_plan_goes_on_from_earlier_batches_and_what_is_stricter_is_said_before_the_opening(
    open_app: Open, shop: Shop, clock: ManualClock
) -> None:
    was, plan = "sample = 2 }", "sample = { aql = 2.5 } }"
    (shop.folder / "shop.toml").write_text(ALL_DAY, encoding="utf-8")
    first = work_batch(shop, clock, checklist=edited((was, plan)))
    own(shop, a_good_one().replace(was, plan), "part.toml")
    app = open_app()
    async with app.run_test(size=(160, 50)) as pilot:
        await choose(pilot, "part.toml")
        await fill(pilot, "8", "", "")
        assert isinstance(app.screen, OpenBatchScreen)
        (found,) = app.screen.earlier.lots_before
        assert (found.batches, found.severity, len(found.lots)) == ((first,), "normal", 2), "two loads of four"
        app.screen.earlier.lots_before = (replace(found, severity="tightened"),)
        await pilot.press("enter")
        assert "Op 10 Measure groove depth: tightened inspection, as B0001 left it, 2 loads since" in shown(app)
        await pilot.press("y")
    [batch] = shop.batches
    assert [one.severity for one in batch.lots_before.values()] == ["tightened"]


async def test_the_half_life_of_the_shop_is_that_of_the_next_order(
    open_app: Open, shop: Shop, history: list[str]
) -> None:
    """Of batches 20 and 60 days ago nothing is left after as many days as half-lives."""
    own(shop, a_good_one(), "part.toml")
    (shop.folder / "shop.toml").write_text(f"half_life_days = 1\n{ALL_DAY}", encoding="utf-8")
    app = open_app()
    async with app.run_test(size=(160, 50)) as pilot:
        await choose(pilot, "part.toml")
        await fill(pilot, "8", "", "", "")
        await pilot.press("enter", "y")
    [batch] = shop.batches
    assert batch.earlier is not None
    assert {one.op: round(one.good, 3) for one in batch.earlier.yields}[10] == 1.0


async def test_an_order_entered_before_they_are_read_is_asked_about_when_they_are(
    open_app: Open, shop: Shop, history: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    own(shop, a_good_one(), "part.toml")
    go, read = Event(), earlier_batches.read_earlier

    def slow(*given: Any) -> Any:
        assert go.wait(20)
        return read(*given)

    monkeypatch.setattr(earlier_batches, "read_earlier", slow)
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        app.ticking = True  # reads beside the keys, as in the shop
        await choose(pilot, "part.toml")
        await pilot.pause()
        assert isinstance(app.screen, OpenBatchScreen)
        app.ticking = False
        await fill(pilot, "8", "", "", "", "")
        assert "Reading earlier batches of the part; it goes on by itself" in shown(app)
        assert not shop.batches
        go.set()
        await settle(pilot)
        assert "Open a batch of KB-7 A? 8 ordered, 10 to start" in shown(app), "not 8, as offered before"
        await pilot.press("y")
    [batch] = shop.batches
    assert batch.earlier is not None


async def test_a_fault_in_the_reading_keeps_no_batch_from_being_opened(
    open_app: Open, shop: Shop, batch: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*given: Any) -> Any:
        raise OSError("the disk is away")

    monkeypatch.setattr(earlier_batches, "read_earlier", broken)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v", "6")
        await settle(pilot)
        assert "Earlier batches cannot be read: the disk is away" in shown(app)


@pytest.mark.parametrize("page", range(4), ids=["sure", "yields", "times", "others"])
def test_picture(
    picture: Picture,
    open_app: Open,
    shop: Shop,
    clock: ManualClock,
    history: list[str],
    page: int,
) -> None:
    """Newest first, each with age and weight; what the plan takes stands at the operation."""
    work_batch(shop, clock, {10: 1}, until=timedelta(hours=3), close=False)

    async def opened(pilot: Pilot[Any]) -> None:
        await pilot.press("b", "v", "6")
        await settle(pilot)
        await pilot.press(*["right"] * page)

    picture(open_app("AA"), run_before=opened)


def test_picture_of_the_next_order(picture: Picture, open_app: Open, shop: Shop, history: list[str]) -> None:
    """The quantity without and with earlier batches, each with the pieces that it stands on."""
    own(shop, a_good_one(), "part.toml")

    async def entered(pilot: Pilot[Any]) -> None:
        await choose(pilot, "part.toml")
        await fill(pilot, "8")
        await pilot.press("pagedown")

    picture(open_app(), run_before=entered)
