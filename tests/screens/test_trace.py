"""The trace of a piece: one query back to pallet, runs, tools, programs, lots, people and waivers."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from textual.pilot import Pilot

from floor.app import FloorApp
from floor.batch.counting.lying import list_what_lies
from floor.papers.trace import format_trace
from floor.screens.batch.trace import TraceScreen
from floor.screens.forms.dialogs import FormDialog
from floor.shop import Shop
from tests.batch.factory import open_bench
from tests.screens.conftest import Picture
from tests.screens.keys import fill, words
from tests.screens.seen import seen

Open = Callable[..., FloorApp]


async def at(pilot: Pilot[Any], batch: str, piece: int | None = None) -> TraceScreen:
    screen = TraceScreen(pilot.app.session, batch, piece)  # type: ignore[attr-defined]
    pilot.app.push_screen(screen)
    await pilot.pause()
    await pilot.pause()
    return screen


async def test_one_page_has_all_that_traceability_asks_for(open_app: Open, shop: Shop, half: str) -> None:
    """AS9100D 8.5.2, ISO 9001:2015 8.5.2: carrier and place, lot, machine, program, tools, people, acceptance."""
    app = open_app("AA")
    async with app.run_test(size=(160, 50)) as pilot:
        await at(pilot, half, 3)
        page = " ".join(seen(app).split())

        for part in (
            "Piece 3 of 10: on load 1",
            "op 10 Mill the groove · Pallet 1 B1 · good",
            "station Mill, load 1, run 1, 07:00 to",
            "program KB7-10 A",
            "T1 6 mm end mill length 4",
            "lots bar stock 10-01A",
            "AA, BB (signed), released by AA",
            "Measure groove depth: A1 3, B2 3 mm",
            "count 4 in: 3 good, 1 scrap (AA)",
            "op 30 Cut free · Pallet 1 B1 · good",
        ):
            assert part in page, part


@pytest.mark.parametrize("size", [(80, 24), (160, 50)])
async def test_where_the_piece_lies_now_is_drawn(open_app: Open, shop: Shop, half: str, size: tuple[int, int]) -> None:
    batch = shop.batch(half)
    load = next(load for load in batch.list_live_loads() if batch.checklist.carrier(load.carrier).positions)
    on, scrapped = batch.present(load)[0], next(one for one, at in batch.places.items() if at.where == "scrap")
    app = open_app("AA")
    async with app.run_test(size=size) as pilot:
        screen = await at(pilot, half, on)
        place = batch.format_slot(load, on)
        assert screen.lying.places.here == place
        assert f"[ {list_what_lies(batch, load)[place].lies} ]" in " ".join(seen(app).split())
        screen.go_to(scrapped)
        await pilot.pause()
        assert screen.lying.display == batch.places[scrapped].sits


async def test_what_the_customer_was_told_of_a_piece_long_decided_is_noted_on_its_page(
    open_app: Open, shop: Shop, half: str
) -> None:
    """REC-06 and -13: the piece is scrap since its count and on no list any more."""
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, half)
        await pilot.press("escape", "n")
        assert "No piece chosen yet" in words(app)
    scrap = next(piece for piece, place in shop.batch(half).places.items() if place.where == "scrap")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at(pilot, half, scrap)
        await pilot.press("n", "2")
        await fill(pilot, "one groove too deep", "Ms Vance", "", "26-114")
        assert "1 piece: customer told" in words(app)
        await pilot.press("end")
        assert "customer told: one groove too deep (Ms Vance" in " ".join(seen(app).split())
    assert shop.batch(half).entries[-1].body["reference"] == "26-114"


async def test_a_waiver_stands_on_the_page_of_every_piece_it_let_through(open_app: Open, shop: Shop, half: str) -> None:
    waiver = next(iter(shop.batch(half).waivers.values()))
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half, min(waiver.pieces))
        await pilot.press("end")

        text = " ".join(seen(app).split())
        assert "WAIVED Count the pieces on the pallet by LL: counted at the mill a minute ago; OPEN" in text
        assert screen.piece in waiver.pieces


async def test_a_piece_is_chosen_by_number_or_by_load_and_place(open_app: Open, shop: Shop, half: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        assert isinstance(app.screen, FormDialog), "without a piece it asks at once"
        await pilot.press("7", "enter", "enter", "enter")
        assert screen.piece == 7
        await pilot.press("slash", "enter", "2", "enter")
        await fill(pilot, "b2")
        assert screen.piece == shop.batch(half).loads[2].slots[3]
        await pilot.press("slash", "escape")
        await pilot.press("left")
        assert screen.piece == 7


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        (("9", "9", "enter", "enter", "enter"), "There is no piece 99: 1 to 10"),
        (("enter", "9", "enter", "a", "1", "enter"), "There is no load 9 in this batch"),
        (("enter", "1", "enter", "c", "9", "enter"), "No piece was put in c9 of load 1"),
        (("enter", "enter", "enter"), "There is no load"),
    ],
)
async def test_a_piece_that_is_not_there_is_reported(
    open_app: Open, half: str, keys: tuple[str, ...], said: str
) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at(pilot, half)
        await pilot.press(*keys)

        assert screen.piece is None
        assert said in words(app), "in the form, which stays"
        await pilot.press("escape", "right")
        assert screen.piece == 1


def test_where_pieces_were_mixed_it_says_one_of_so_many() -> None:
    """Loose in the tote of op 50 no piece is told from the others (common practice, no source)."""
    bench = open_bench(order=8)
    for load in (bench.form(10), bench.form(10)):
        bench.through(load, 10)
        bench.through(load, 20)
        bench.through(load, 30)
    while pools := bench.state.list_waiting_pools():
        load = bench.form(pools[0][0])
        bench.through(load)

    text = " ".join(" ".join(format_trace(bench.state, 5, bench.clock())).split())

    assert "Piece 5 of 8: finished" in text
    assert "it is one of 8 pieces (1-8)" in text
    assert "Tote 1, one of 8" in text
    assert "Tray 1, one of 6" in text
    assert "Moved by hand: Pallet to Tray, Tray to Tote." in text
    assert "nobody confirmed each place" in text
    assert "Tray 1, one of 6 by order" in text
    sure = " ".join(" ".join(format_trace(open_bench().state, 1, bench.clock())).split())
    assert "one of" not in sure
    assert "by order" not in sure


def test_picture_of_a_trace(picture: Picture, open_app: Open, half: str) -> None:
    """Each operation with carrier and place on a line of its own, and under it station, tools, lots and people."""

    async def go(pilot: Pilot[Any]) -> None:
        await at(pilot, half, 3)

    picture(open_app("AA"), run_before=go)
