"""A list wider than the screen: row names stay in sight while the rest scrolls."""

from __future__ import annotations

from dataclasses import replace

import pytest
from textual.app import App, ComposeResult

from floor.app import FloorApp
from floor.batch.gates.room_air import ReadAir
from floor.batch.lifecycle.commands import OpenBatch
from floor.screens.batch.screen import BatchScreen
from floor.screens.widgets.rows import TableView, fit_cell
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import part
from tests.batch.test_cure_air import CLOSING, coated
from tests.screens.operator import Place
from tests.screens.seen import seen


class Wide(App[None]):
    """A list of twenty columns beside the names."""

    def __init__(self, fixed: int) -> None:
        super().__init__()
        self.fixed = fixed

    def compose(self) -> ComposeResult:
        yield TableView(
            [("Load", 9), *((f"{op:>3}", 3) for op in range(10, 210, 10))], id="wide", gap=1, fixed=self.fixed
        )

    def on_mount(self) -> None:
        signs = [f"{n:>3}" for n in range(20)]
        self.query_one(TableView).fill([("Pallet 1", *signs), ("Pallet 12", *signs)])


@pytest.mark.parametrize("by", [4, 5, 30, 50])
async def test_the_names_stay_and_what_is_scrolled_to_stands_beside_them(by: int) -> None:
    app = Wide(fixed=1)
    async with app.run_test(size=(40, 8)) as pilot:
        rows = app.query_one(TableView)
        still = [strip.text for strip in (rows.render_line(y) for y in range(3))]
        rows.scroll_to(x=by, animate=False)
        await pilot.pause()
        moved = [strip.text for strip in (rows.render_line(y) for y in range(3))]
        whole = " " + " ".join(f"{n:>3}" for n in range(20)) + " " * 40
    for was, now in zip(still, moved, strict=True):
        assert now[:11] == was[:11]
        assert len(now) == 40
    assert moved[1][11:] == whole[1 + by :][: 40 - 11]


async def test_the_chosen_row_has_a_mark_that_needs_no_color() -> None:
    app = Wide(fixed=1)
    async with app.run_test(size=(40, 8)) as pilot:
        rows = app.query_one(TableView)
        await pilot.press("tab")
        assert [rows.render_line(y).text[0] for y in range(3)] == [" ", "▸", " "]
        await pilot.press("down")
        rows.scroll_to(x=30, animate=False)
        await pilot.pause()
        assert [rows.render_line(y).text[0] for y in range(3)] == [" ", " ", "▸"]


async def test_on_a_batch_of_many_operations_the_carriers_are_named_wherever_one_looks(
    shop: Shop, clock: ManualClock
) -> None:
    plain = part()
    last = plain.operations[-1]
    more = [replace(last, op=60 + 10 * n, title=f"Look again {n}", clocks=(), steps=last.steps[1:]) for n in range(12)]
    long = replace(plain, operations=(*plain.operations, *more))
    place = Place(shop, shop.open_batch(OpenBatch("B0001", long, "d", "part.toml", 8, 10), by="LL").id, clock)
    place.load()
    app = FloorApp(shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = BatchScreen(app.session, place.id)
        app.push_screen(screen)
        await pilot.pause()
        assert "170" not in seen(app)
        await pilot.press(*["right"] * 60)
        shown = seen(app)
        assert "170" in shown, "it is scrolled to the end"
        assert "Pallet 1" in shown
        assert "loose" in shown


async def test_a_batch_shows_that_a_window_will_close_before_it_opens(shop: Shop, clock: ManualClock) -> None:
    id = shop.open_batch(OpenBatch("B0001", coated(CLOSING), "d", "part.toml", 8, 10), by="LL").id
    operator = SimulatedOperator(shop, id, "AA", clock, "LL")
    load = operator.form(10)
    operator.work(load)
    operator.work(load)
    operator.do(ReadAir("15", "50"))
    app = FloorApp(shop, who="AA", ticking=False)
    async with app.run_test(size=(160, 50)) as pilot:
        app.push_screen(BatchScreen(app.session, id))
        await pilot.pause()
        assert "cure: closes before it is ready" in seen(app)


@pytest.mark.parametrize(
    ("text", "width", "shown"),
    [
        ("Fixture plate 12", 16, "Fixture plate 12"),
        ("Fixture plate 12", 10, "Fixtur… 12"),
        ("Machining center", 9, "Machinin…"),
        ("Order 123456", 8, "…123456"),
        ("Engraver 1 or 2", 7, "En… 1/2"),
        ("Fixture plate 3 B4", 13, "Fixture… 3 B4"),
        ("Fixture plate 3 · B4", 9, "Fix… 3 B4"),
        ("Station 12, 14, 16", 9, "…, 14, 16"),
        ("Machining center +1", 12, "Machinin… +1"),
    ],
)
def test_a_name_that_is_cut_keeps_its_number(text: str, width: int, shown: str) -> None:
    assert fit_cell(text, width) == shown


def test_a_sentence_is_cut_at_its_end() -> None:
    assert fit_cell("Load 4 of 16 pieces on Pallet 12", 20, number=False) == "Load 4 of 16 pieces…"


async def test_with_two_batches_and_long_names_what_to_do_is_read_at_80_columns(shop: Shop, clock: ManualClock) -> None:
    plain = part()
    stations = tuple(replace(one, name=f"{one.name} by the far window") for one in plain.stations)
    carriers = tuple(replace(one, name=f"Fixture {one.name.lower()} of cast iron") for one in plain.carriers)
    long = replace(plain, stations=stations, carriers=carriers)
    for id in ("B0001", "B0002"):
        place = Place(shop, shop.open_batch(OpenBatch(id, long, "d", "part.toml", 8, 12), by="LL").id, clock)
        place.through(place.load(), 10)
    place.at(place.load(), "Clamp the pallet")
    app = FloorApp(shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        shown = seen(app)
        assert "Clamp the pallet · 10 Mill" in shown
        assert "Start · 20 Coat" in shown
        assert "8 pieces wait for a Fixture pallet of…" in shown
        row = next(line for line in shown.splitlines() if line.lstrip().startswith("▶") and "Start" in line)
        assert "… 1 " in row, "which pallet it is, is read too"
        assert "B0001" in row
        await pilot.press("down")
        shown = seen(app)
        assert "FIXTURE PALLET OF CAST IRON 1 · BENCH BY THE FAR WINDOW" in shown, "in full above, of the row chosen"


@pytest.mark.parametrize(("width", "said"), [(60, "Pallet 1"), (48, "Pallet 1: Confirm"), (40, "Pallet 1: Confirm")])
async def test_a_slim_list_says_which_carrier(place: Place, width: int, said: str) -> None:
    """Four rows that confirm a cycle are told apart by their pallets; without a column for it, it leads the line."""
    place.at(place.load(), "end", wait=False)
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(width, 20)) as pilot:
        await pilot.pause()
        assert said in seen(app)
