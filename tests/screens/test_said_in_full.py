"""Nothing stale, and nothing cut if there is room: replies, load names, entries, reasons, refusals."""

from __future__ import annotations

from dataclasses import replace

import pytest

from floor.app import FloorApp
from floor.batch.describe import describe
from floor.batch.gates.commands import Prove
from floor.batch.lifecycle.commands import OpenBatch
from floor.screens.batch.history import HistoryScreen
from floor.screens.batch.screen import BatchScreen
from floor.screens.shop.what_next import NextScreen
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import part
from tests.screens.keys import words
from tests.screens.operator import Place
from tests.screens.painted import rows

SIZE = (80, 24)


@pytest.fixture
def long_names(shop: Shop, clock: ManualClock) -> Place:
    """The test part on pallets with a long name, and a reason that takes two lines."""
    plain = part()
    carriers = tuple(replace(one, name="Fixture plate") if one.id == "pallet" else one for one in plain.carriers)
    first, *rest = plain.operations
    reason = replace(first.reasons[0], text="The groove is deeper than the drawing says at one end only")
    first = replace(first, reasons=(reason, *first.reasons[1:]))
    changed = replace(plain, carriers=carriers, operations=(first, *rest))
    return Place(shop, shop.open_batch(OpenBatch("B0001", changed, "d", "part.toml", 8, 10), by="LL").id, clock)


async def test_an_answer_is_gone_when_one_comes_back_from_another_screen(place: Place) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("end", "enter", "y")
        assert "loaded with 4 pieces: load 2" in words(app)
        await pilot.press("b", "escape")
        assert isinstance(app.screen, NextScreen)
        assert "loaded with" not in words(app)

        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("n", "x", "enter")
        assert "Noted" in words(app), "what was asked in a dialog is answered behind it"


async def test_the_number_of_a_load_is_never_cut_off(long_names: Place) -> None:
    long_names.load()
    app = FloorApp(long_names.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        screen = app.screen
        assert isinstance(screen, NextScreen)
        assert dict(screen.table.headed)["Load"] >= len("Fixture plate 1")
        await pilot.press("b")
        batch = app.screen
        assert isinstance(batch, BatchScreen)
        assert batch.table.widths()[0] >= len("Fixture plate 1")


async def test_what_a_row_has_no_room_for_stands_above_the_list(place: Place) -> None:
    place.at(place.load(), "Press each corner: nothing rocks")
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE):
        screen = app.screen
        assert isinstance(screen, NextScreen)
        row = next(line for line in rows(app) if line.startswith("▸▶ ") and "Press each corner" in line)
        assert "Mill the groove" not in row, "there is no room for all of it"
        assert "Press each corner: nothing rocks · 10 Mill the groove" in str(screen.spot.content).splitlines()
        assert screen.spot.display


async def test_the_lot_number_of_an_entry_is_read_without_opening_it(place: Place) -> None:
    run = place.at(place.load(), "Record the lot of bar stock")
    lot = "HEAT-0123456789-ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    place.hand.do(Prove(run, "lot recorded 1", {"lot": lot}))
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("b", "j")
        assert isinstance(app.screen, HistoryScreen)
        assert lot in words(app)


@pytest.mark.parametrize(
    ("title", "line", "wrong", "right"),
    [
        ("Read back the program", "program loaded 1", {"program": "X1"}, {"program": "kb7-10 a"}),
        ("Measure groove depth", "measured 1", {"value": [3.3, 3.0]}, {}),  # decided on, not measured over
        ("Load and measure tool 1", "tool loaded 1", {"tool": 2, "length": 90.0}, {"tool": 1, "length": 90.0}),
    ],
)
def test_what_did_not_do_looks_so_in_the_history(
    place: Place, title: str, line: str, wrong: dict[str, object], right: dict[str, object]
) -> None:
    """REC-37: a failed try stays on record, and nobody takes it for a value that was accepted."""
    run = place.at(place.load(), title)
    for values, refused in ((wrong, True), (right, False)) if right else ((wrong, True),):
        entry = place.hand.do(Prove(run, line, values))[0]
        assert describe(place.batch, entry).endswith(" ✕ not accepted") == refused


async def test_a_long_reason_is_read_to_its_end(long_names: Place) -> None:
    load = long_names.load()
    run = long_names.at(load, "count")
    app = FloorApp(long_names.shop, who="AA", ticking=False)
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(long_names.id, run)
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        shown = " ".join(str(app.screen.query_one("#reasons").content).split())  # type: ignore[attr-defined]
        assert "The groove is deeper than the drawing says at one end only" in shown
        assert max(map(len, str(app.screen.query_one("#reasons").content).splitlines())) <= 60  # type: ignore[attr-defined]


@pytest.mark.parametrize("size", [(80, 24), (60, 20)])
async def test_a_long_answer_is_read_to_its_end(place: Place, size: tuple[int, int]) -> None:
    """As of a logger's file, which says of each sensor what is not counted."""
    run = place.at(place.load(), "Clamp the pallet")
    app = FloorApp(place.shop, who="AA", ticking=False)
    long = " ".join(f"Sensor {n}: no readings for 20 min from 14:05: not counted;" for n in range(1, 6)) + " enough"
    async with app.run_test(size=size) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        assert isinstance(app.screen, WalkScreen)
        app.screen.say(long)
        await pilot.pause()
        shown = " ".join(" ".join(rows(app)).split())
        assert long in shown
        assert "Clamp the pallet" in shown, "what is to be done stays on view"
