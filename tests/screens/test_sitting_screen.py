"""Held and scrapped pieces on a carrier that holds them fast, by the documented keys at 80 x 24."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from floor.app import FloorApp
from floor.batch.counting.commands import MarkedPieces
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.screens.batch.hold import HoldScreen
from floor.screens.batch.screen import BatchScreen
from floor.screens.forms.dialogs import FormDialog
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import conserved
from tests.screens.keys import fill, words
from tests.screens.seen import seen

Open = Callable[..., FloorApp]
SIZE = (80, 24)


@pytest.fixture
def hand(shop: Shop, batch: str, clock: ManualClock) -> SimulatedOperator:
    """A pallet through its first operation with one scrap, A2."""
    hand = SimulatedOperator(shop, batch, "AA", clock, second="BB")
    hand.work(hand.form(10), marks=(MarkedPieces("deep", positions=("A2",)),))
    return hand


async def test_a_held_piece_used_as_it_is_goes_on_from_its_place_and_none_becomes_loose(
    shop: Shop, hand: SimulatedOperator, open_app: Open
) -> None:
    loose = hand.batch.list_waiting_pools()
    app = open_app("LL")
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("b", "m")
        assert "3 pieces · Pallet 1 · 1 scrap (A2) still on the carrier" in words(app)
        await fill(pilot, "A1", "", "chip under it?", "")
        await pilot.pause()
        assert "Set aside as hold, still on the carrier" in words(app)
        assert (hand.batch.places[1].where, hand.batch.places[1].sits) == ("hold", True)

        await pilot.press("d", "1")  # A2, scrap, may be marked too
        assert isinstance(app.screen, HoldScreen)
        assert "Still on its carrier: used as it is, it goes on from there" in words(app)
        await pilot.press("enter", "1")
        await fill(pilot, "it was clean", "", "", "")
        assert "1 piece: use as is" in words(app)
    batch = hand.batch
    (load,) = batch.list_live_loads()
    assert (batch.present(load), load.at, batch.list_waiting_pools()) == ((1, 3, 4), 20, loose)
    conserved(batch)
    hand.work(load.number)
    assert batch.runs[max(batch.runs)].pieces == (1, 3, 4)


async def test_held_pieces_taken_off_lie_apart_from_then_on(
    shop: Shop, hand: SimulatedOperator, open_app: Open
) -> None:
    hand.do(SetPiecesAside("hold", "scratch?", load=1, positions=("A1",)))
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("b", "d", "1", "h")
        assert "1 piece taken off the carrier" in words(app)
        assert not hand.batch.places[1].sits
        assert "Still on its carrier" not in words(app)
        before = hand.batch.seq
        await pilot.press("h")
        assert "None of these sits on a carrier any more" in words(app)
        assert hand.batch.seq == before


async def test_scrap_that_sits_is_taken_off_by_its_place(shop: Shop, hand: SimulatedOperator, open_app: Open) -> None:
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("b", "m")
        await fill(pilot, "A2", "", "", "")
        assert isinstance(app.screen, FormDialog)
        assert "already set aside" in words(app)
        await pilot.press("ctrl+u")
        await fill(pilot, "yes")
        await pilot.pause()
        assert "Taken off the carrier: A2" in words(app)
    assert hand.batch.sitting(hand.batch.loads[1]) == ()
    assert hand.batch.entries[-1].kind == "taken_off"


async def test_the_batch_shows_scrap_and_held_pieces_on_their_carrier(
    shop: Shop, hand: SimulatedOperator, open_app: Open
) -> None:
    hand.do(SetPiecesAside("hold", "scratch?", load=1, positions=("A1",)))
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("b")
        assert isinstance(app.screen, BatchScreen)
        assert any("2 ✕1 ?1" in cell for row in app.screen.table.filled for cell in row)


async def test_what_is_in_rework_and_what_sits_stands_whole_beside_the_pieces_of_a_load(
    hand: SimulatedOperator, open_app: Open
) -> None:
    hand.do(SetPiecesAside("hold", "scratch?", load=1, positions=("B1",)))
    hand.work(1, marks=(MarkedPieces("thin", positions=("A1",)),))
    app = open_app("LL")
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("b")

        row = next(line for line in seen(app).splitlines() if line.strip(" ▸").startswith("Pallet 1"))
        assert "2 ↺1 ✕1 ?1" in row


async def test_the_count_of_a_rework_says_how_many_wait_on_the_carrier(
    hand: SimulatedOperator, open_app: Open, shop: Shop
) -> None:
    """One piece goes back by itself; the others are on the pallet all the same, and whoever counts sees them."""
    hand.work(1, marks=(MarkedPieces("thin", positions=("A1",)),))
    hand.work(1, stop=lambda line: line.kind == "count")
    run = hand.run(1)
    assert len(run.pieces) == 1
    app = open_app("LL")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(hand.id, run.number)
        await pilot.pause()
        assert "Count pieces (1 in, 2 waiting)" in seen(app)
        await pilot.press("enter", "down", "1")
        text = seen(app)
        assert "1 went in = 1 good (the rest): adds up; 2 waiting, 1 scrap (A2) still" in text
        assert "waits: on the carrier, not of this rework" in text
        assert "waits; it is counted with the others later" in text
