"""Opening a half-done batch by the documented keys at 80 x 24; asserted on the record."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from textual.pilot import Pilot

from floor.app import FloorApp
from floor.screens.batch.half_done import HalfDoneScreen
from floor.screens.batch.screen import BatchScreen
from floor.screens.forms.dialogs import FormDialog
from floor.screens.forms.form import Form
from floor.screens.shop.order_form import OpenBatchScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import BY_HAND, edited_text
from tests.batch.test_gauges import LOT
from tests.screens.conftest import Picture
from tests.screens.keys import fill
from tests.screens.seen import seen
from tests.screens.test_opening import a_good_one, choose, own

Open = Callable[..., FloorApp]


async def under_way(pilot: Pilot[Any], shop: Shop, started: str = "22") -> HalfDoneScreen:
    """From the opening screen to where it is told where everything is."""
    return await under_way_with(pilot, shop, a_good_one(), "10", started)


async def under_way_with(pilot: Pilot[Any], shop: Shop, text: str, order: str, started: str) -> HalfDoneScreen:
    """The same with a checklist of this text."""
    own(shop, text)
    await choose(pilot, "own.toml")
    screen = pilot.app.screen
    assert isinstance(screen, OpenBatchScreen)
    screen.form.input("order").value, screen.form.input("start").value = order, started
    await pilot.press("f9")
    await pilot.pause()
    screen = pilot.app.screen
    assert isinstance(screen, HalfDoneScreen), seen(pilot.app)
    return screen


async def go_to(pilot: Pilot[Any], screen: HalfDoneScreen, op: int) -> None:
    """The cursor on an operation."""
    down = next(n for n, (at, row) in enumerate(screen.lines) if (at, row) == (op, None))
    await pilot.press("home", *["down"] * down)


async def typical(pilot: Pilot[Any], screen: HalfDoneScreen) -> None:
    """Two pallets curing, a tray in the oven, two scrap, the rest waiting."""
    await go_to(pilot, screen, 30)
    await pilot.press("a", "1")
    await fill(pilot, "", "", "", "22:10", "22:10", "")
    await pilot.press("a", "1")
    await fill(pilot, "", "", "", "23:00", "?", "")
    await go_to(pilot, screen, 40)
    await pilot.press("a", "1")
    await fill(pilot, "", "", "6:10", "", "")
    await go_to(pilot, screen, 10)
    await pilot.press("a", "3")
    await pilot.press("2", "enter", "f2", "enter")
    await pilot.press("a", "2", "enter")
    await pilot.pause()


async def test_a_half_done_batch_is_told_in_few_keys_opened_in_one_act_and_worked_on(
    open_app: Open, shop: Shop, clock: ManualClock
) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await under_way(pilot, shop)
        assert "22 missing" in seen(app)
        await typical(pilot, screen)
        assert "y opens the batch with this, entered late by LL" in seen(app)
        assert "Pallet 1: 4 pieces, waiting; recoat since Sun 22:10" in seen(app)
        await go_to(pilot, screen, 30)
        await pilot.press("down")
        assert "recoat since Sun 22:10; cure since Sun 22:10" in seen(app), "what the line cuts stands below"
        assert shop.batches == [], "nothing is written before y"
        await pilot.press("y")
        await pilot.pause()
        assert isinstance(app.screen, BatchScreen), seen(app)

    (batch,) = shop.batches
    assert [entry.kind for entry in batch.entries] == ["batch_opened", "pieces_started", "entered_late"]
    assert [(batch.format_carrier(load), load.at) for load in batch.list_live_loads()] == [
        ("Pallet 1", 30), ("Pallet 2", 30), ("Tray 1", 40),
    ]  # fmt: skip
    assert batch.list_waiting_pools() == [(10, "", 6)]
    assert batch.total("scrap") == 2
    assert dict(batch.late.rows[1].clocks)["cure"] is None  # type: ignore[union-attr]
    hand = SimulatedOperator(shop, batch.id, "AA", clock, second="BB")
    assert hand.work(3), "the tray in the oven goes on to its release"
    clock.forward(timedelta(hours=12).total_seconds())
    assert hand.work(1), "the pallet is cut once its cure is ripe"


async def test_nothing_is_lost_at_a_refusal_nor_by_escape(open_app: Open, shop: Shop) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await under_way(pilot, shop)
        await go_to(pilot, screen, 30)
        await pilot.press("a", "1")
        await fill(pilot, "", "", "", "22:10", "soon", "")
        assert isinstance(app.screen, FormDialog)
        assert "oon is not a time" in seen(app)
        assert [box.value for box in app.screen.query("Input")][:2] == ["1", "4"]  # type: ignore[attr-defined]
        await pilot.press("escape")
        await go_to(pilot, screen, 10)
        await pilot.press("a", "1")
        await fill(pilot, "", "", "6:50", "")
        await pilot.press("y")
        await pilot.pause()
        assert "18 pieces missing" in seen(app)
        assert shop.batches == []
        await pilot.press("escape")
        await pilot.pause()
        await pilot.press("f9")
        await pilot.pause()
        assert "Pallet 1: 4 pieces, cycle running, started 06:50" in seen(app)
        await pilot.press("down", "delete")
        await pilot.pause()
        assert "22 missing" in seen(app)
        assert screen_of(app).here == (10, None), "what is added next is for the same operation"


async def test_who_saw_the_papers_and_as_of_when_are_kept_by_escape(open_app: Open, shop: Shop) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await under_way(pilot, shop)
        await pilot.press("a", "8")
        await fill(pilot, "Sun 17:00", "BB")
        await pilot.press("escape")
        await pilot.pause()
        await pilot.press("f9")
        await pilot.pause()
        screen = screen_of(app)
        assert (f"{screen.as_of:%a %H:%M}", screen.second) == ("Sun 17:00", "BB")


def screen_of(app: FloorApp) -> HalfDoneScreen:
    assert isinstance(app.screen, HalfDoneScreen), seen(app)
    return app.screen


async def test_what_was_proved_is_told_with_by_whom_and_when(open_app: Open, shop: Shop) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await under_way(pilot, shop)
        await pilot.press("a", "1")
        await fill(pilot, "", "", "6:50", "")
        await pilot.press("a", "2", "enter")
        await pilot.press("a", "7", "7")
        await fill(pilot, "0", "0.05", "BB", "6:40")
        await pilot.press("a", "7", "1")
        await fill(pilot, "H-77", "BB", "6:20")
        await pilot.pause()
        assert "✓ Probe G54 X Z: X 0 mm, Z 0.05 mm · BB 06:40" in seen(app)
        await pilot.press("a", "8")
        shop.set_pin("LL", "9753", "LL")
        await fill(pilot, "", "BB")
        assert "BB saw the papers; cures count from the times entered" in " ".join(seen(app).split())
        await pilot.press("y")
        await fill(pilot, "2468")
        assert "BB has no PIN. They or a lead set one first: c on What next." in seen(app)
        assert not shop.people.known["BB"].has_pin, "nobody's PIN is set in passing"
        shop.set_pin("BB", "2468", "BB")
        await fill(pilot, "1111")
        assert "that is not the PIN of BB" in seen(app).replace("That", "that")
        assert shop.batches == []
        await fill(pilot, "2468")
        await pilot.pause()
    (batch,) = shop.batches
    assert batch.lots["bar stock"].lot == "H-77"
    assert batch.late is not None
    assert batch.late.second == "BB"
    assert screen.missing == 0


async def test_an_unfit_gauge_is_refused_at_its_field(open_app: Open, shop: Shop) -> None:
    shop.add_gauge("BG-1", "Bar gauge", "2026-09-01", "LL")
    shop.withdraw_gauge("BG-1", "dropped", True, "LL")
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await under_way_with(pilot, shop, edited_text(LOT), "10", "22")
        await pilot.press("a", "1")
        await fill(pilot, "", "", "6:50", "")
        await pilot.press("a", "2", "enter", "a", "7", "1")
        await fill(pilot, "bg1", "", "BB", "6:20")
        assert "BG-1 is withdrawn: dropped" in seen(app)
        assert isinstance(app.screen, FormDialog)
        assert app.focused is app.screen.query_one(Form).input("v0")


async def test_only_a_lead_opens_it(open_app: Open, shop: Shop) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await under_way(pilot, shop)
        await pilot.press("a", "2", "enter", "y")
        await pilot.pause()
        assert "Entering a half-done batch needs a lead" in seen(app)
        assert shop.batches == []


def test_picture_of_a_batch_under_way(picture: Picture, open_app: Open, shop: Shop) -> None:
    async def ready(pilot: Pilot[Any]) -> None:
        await typical(pilot, await under_way(pilot, shop))

    picture(open_app("LL"), run_before=ready)


async def test_pieces_in_the_middle_of_their_rework_are_told_with_the_rework_they_are_on(
    open_app: Open, shop: Shop
) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await under_way_with(pilot, shop, edited_text(*BY_HAND), "4", "4")
        await go_to(pilot, screen, 44)
        await pilot.press("a", "1")
        assert "by hand" in seen(app)
        await fill(pilot, "", "1", "", "22:10", "")
        await pilot.press("a", "6")
        await fill(pilot, "3")
        await pilot.press("y")
        await pilot.pause()
        (batch,) = shop.batches
        (load,) = batch.list_live_loads()
        assert (load.rework, load.at, batch.total("finished")) == ("by hand", 44, 3), seen(app)
