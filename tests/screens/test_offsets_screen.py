"""Several pallets on one bed, each with its own zero: what the walk asks, and where the zero is read, at 80 x 24."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from floor.app import FloorApp
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.state import Batch
from floor.entry import Moment
from floor.papers.handover import write_handover_sheet
from floor.papers.trace import format_trace
from floor.papers.traveler import write_traveler
from floor.screens.shop.what_next import NextScreen
from floor.screens.walk.large_view import LargeViewScreen
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import one_cycle
from tests.screens.keys import fill
from tests.screens.seen import seen

Open = Callable[..., FloorApp]


@pytest.fixture
def pallets(shop: Shop, clock: ManualClock) -> str:
    """Two pallets on the bed, both at their probing; one cycle takes both."""
    id = shop.open_batch(OpenBatch(shop.find_next_id(), one_cycle(), "digest", "part.toml", 8, 8), by="LL").id
    hand = SimulatedOperator(shop, id, "AA", clock, second="BB")
    for load in (hand.form(10), hand.form(10)):
        hand.work(load, stop=lambda line: line.key == "probed 1")
    return id


def run_of(shop: Shop, id: str, load: int) -> int:
    run = shop.batch(id).loads[load].run
    assert run is not None
    return run


def both_at_their_start(shop: Shop, pallets: str, clock: ManualClock) -> None:
    hand = SimulatedOperator(shop, pallets, "AA", clock, second="BB")
    for load in (1, 2):
        hand.work(load, stop=lambda line: line.key == "start")


async def test_the_walk_asks_which_offset_was_probed_and_refuses_another_pallets(
    open_app: Open, shop: Shop, pallets: str
) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(WalkScreen(app.session, pallets, run_of(shop, pallets, 2)))
        await pilot.pause()
        assert "Work offset that was probed" in seen(app)
        assert "Probe G55 X Z" in seen(app)
        await fill(pilot, "G54", "200", "0")
        assert "G54 was probed, which belongs to Pallet 1; Pallet 2 uses G55" in seen(app).replace("\n", " ")
        await fill(pilot, "G55")  # the rest of it stands
        assert ("probed", 2, "mill", "G55") in shop.batch(pallets).proofs


async def test_x_asks_which_zero_was_set_anew_and_voids_that_one_alone(
    open_app: Open, shop: Shop, pallets: str, clock: ManualClock
) -> None:
    both_at_their_start(shop, pallets, clock)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(WalkScreen(app.session, pallets, run_of(shop, pallets, 1)))
        await pilot.pause()
        await pilot.press("x")
        await pilot.press(letter(seen(app), "zero set again"))
        assert "Which work zero was reset?" in seen(app)
        assert "G54: Pallet 1" in seen(app)
        await pilot.press(letter(seen(app), "G55: Pallet 2"))
        proofs = shop.batch(pallets).proofs
        assert ("probed", 1, "mill", "G54") in proofs
        assert ("probed", 2, "mill", "G55") not in proofs
        await pilot.press("enter")
        assert "Pallet 2 (load 2) is in this cycle too and is not ready" in seen(app)


async def test_one_key_starts_the_cycle_of_both_and_says_so_beside_it(
    open_app: Open, shop: Shop, pallets: str, clock: ManualClock
) -> None:
    both_at_their_start(shop, pallets, clock)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        assert isinstance(app.screen, NextScreen)
        assert "Start the cycle, with Pallet 2" in seen(app)
        await pilot.press("enter")
        assert "▶ Start the cycle, with Pallet 2" in seen(app)
        await pilot.press("enter", "y")
        assert all(shop.batch(pallets).runs[run].running for run in (1, 2))
        app.push_screen(LargeViewScreen(app.session, pallets, 1))
        await pilot.pause()
        assert app.screen.query_one("#large-full").display


def test_the_zero_stands_on_the_papers(shop: Shop, pallets: str, clock: ManualClock) -> None:
    hand = SimulatedOperator(shop, pallets, "AA", clock, second="BB")
    hand.work(1, stop=lambda line: line.key == "end")
    batch: Batch = shop.batch(pallets)
    now: Moment = clock()
    assert "running load 1 by G54, load 2 by G55; set up for op 10" in write_handover_sheet(batch, now, "")
    assert "load 1, 2, op 10 Mill the groove, running" in write_handover_sheet(batch, now, "")
    assert "work offset G55" in write_traveler(batch, 2, now, "")
    said = "\n".join(format_trace(batch, batch.present(batch.loads[2])[0], now))
    assert "offset   G55" in said
    assert "with     Pallet 1 (load 1)" in said


def letter(text: str, of: str) -> str:
    """The key by which a row of a choice is taken."""
    found = re.search(rf"(\w)  {re.escape(of)}", text)
    assert found is not None, text
    return found[1]
