"""A scanned tag goes to what it is on, from anywhere; what leads nowhere is said, with what to do."""

from __future__ import annotations

from typing import get_args

import pytest

from floor.app import FloorApp
from floor.batch.gates.open_lot import OpenLot
from floor.batch.gates.tool_life import format_life_left
from floor.batch.handover.commands import OfferHandover
from floor.batch.lifecycle.commands import CloseBatch, FormLoad, OpenBatch, SetPiecesAside
from floor.batch.search.recorded_lots import list_recorded_lots
from floor.batch.tag import NAMES, TagKind, format_tag, make_tag
from floor.papers.tags import list_station_labels
from floor.screens.batch.history import HistoryScreen
from floor.screens.batch.screen import BatchScreen
from floor.screens.forms.dialogs import ChoiceDialog, ConfirmDialog, is_anything_typed
from floor.screens.forms.fields import Errors, FieldSpec, Values
from floor.screens.frame.scan import describe_no_place, open_place, open_tagged
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.sign_in import SignInDialog
from floor.screens.handover.screen import HandoverScreen
from floor.screens.shop.gauges import GaugesScreen
from floor.screens.shop.what_next import NextScreen
from floor.screens.walk.begin_run import BeginScreen
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.find_tagged import NoPlace, ToolPlace, Why
from floor.text import count_cells
from tests.batch.factory import part
from tests.screens.conftest import Open
from tests.screens.keys import PIN, fill, words
from tests.screens.operator import Place

SIZE = (80, 24)


def tag(shop: Shop, kind: TagKind, *names: str | int) -> str:
    return format_tag(make_tag(kind, names, shop.first_hash))


def batch_tag(shop: Shop, kind: TagKind, id: str, *names: int) -> str:
    return format_tag(make_tag(kind, (id, *names), shop.batch(id).entries[0].hash))


def scan(app: FloorApp, text: str) -> None:
    assert isinstance(app.screen, FloorScreen)
    open_tagged(app.screen, text)


def count_entries(shop: Shop) -> dict[str, int]:
    return {name: len(shop.journals.open(name).entries) for name in shop.journals.names()}


async def test_a_load_and_its_pallet_open_the_walk_and_record_nothing(shop: Shop, half: str, open_app: Open) -> None:
    run = shop.batch(half).list_open_runs()[0]
    load = shop.batch(half).loads[run.load]
    before = count_entries(shop)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        texts = batch_tag(shop, "load", half, load.number), tag(shop, "carrier", load.carrier, load.carrier_number)
        for text in texts:
            scan(app, text)
            await pilot.pause()
            assert isinstance(app.screen, WalkScreen)
            assert app.screen.run_ == run.number
        assert f"{shop.batch(half).format_load(load.number)} is on screen" in words(app)
        await pilot.press("escape", "escape")
        assert isinstance(app.screen, NextScreen)
    assert count_entries(shop) == before


async def test_a_waiting_load_shows_what_it_waits_for(shop: Shop, half: str, open_app: Open) -> None:
    waiting = next(load for load in shop.batch(half).list_live_loads() if load.run is None and load.number == 2)
    before = count_entries(shop)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        scan(app, batch_tag(shop, "load", half, waiting.number))
        await pilot.pause()
        assert isinstance(app.screen, BeginScreen)
        assert shop.batch(half).format_load(2) in words(app)
    assert count_entries(shop) == before


async def test_a_waiting_load_of_a_batch_being_handed_over_opens_the_batch(
    place: Place, shop: Shop, open_app: Open
) -> None:
    load = place.load()
    shop.do(place.id, OfferHandover(), shop.batch(place.id).responsible)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        scan(app, batch_tag(shop, "load", place.id, load))
        await pilot.pause()
        assert isinstance(app.screen, BatchScreen)


async def test_the_next_scan_takes_the_place_of_the_one_before(shop: Shop, half: str, open_app: Open) -> None:
    """Ten tags are not ten screens to leave."""
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    run = shop.batch(half).list_open_runs()[0]
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("b")
        loads = [batch_tag(shop, "load", half, number) for number in (run.load, 2)]
        for text in (*loads, tag(shop, "gauge", "dm-04")):
            scan(app, text)
            await pilot.pause()
        assert isinstance(app.screen, GaugesScreen)
        await pilot.press("escape")
        assert isinstance(app.screen, BatchScreen)
        await pilot.press("escape")
        assert isinstance(app.screen, NextScreen)


async def test_a_station_opens_what_is_next_there_and_records_nothing(shop: Shop, half: str, open_app: Open) -> None:
    """One thing at once; of several the most pressing has the first digit; the next scan takes its place."""
    run = shop.batch(half).list_open_runs()[0]
    before = count_entries(shop)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        scan(app, tag(shop, "station", run.station))
        await pilot.pause()
        if isinstance(app.screen, ChoiceDialog):
            assert "what is next" in words(app)
            at_station = [due for due in app.session.due() if due.run == run.number]
            assert at_station
            row = next(n for n, one in enumerate(app.screen.choices) if one.text.endswith(at_station[0].sentence))
            await pilot.press(app.screen.picks[row])
        assert isinstance(app.screen, WalkScreen)
        assert app.screen.run_ == run.number
        await pilot.press("escape", "escape")
        assert isinstance(app.screen, NextScreen)
        scan(app, tag(shop, "station", "drill-press"))
        assert "no open batch uses it" in words(app)
    assert count_entries(shop) == before


async def test_on_a_walk_the_label_of_another_station_or_its_tool_is_refused(
    place: Place, shop: Shop, open_app: Open
) -> None:
    """CBP-11: what is printed on a machine's label is what the screen calls it, and reading it says whether one stands
    at the right one. Nothing is recorded."""
    run = place.at(place.load(), "Clamp the pallet")
    mill = next(one for one in list_station_labels(shop.batches, shop.first_hash) if one.names == ("mill",))
    before = count_entries(shop)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        scan(app, tag(shop, "station", "bench"))
        assert f"This is Bench; Pallet 1 is at {mill.words[0]}. Go there, or Esc and scan again" in words(app)
        scan(app, mill.text)
        assert f"{mill.words[0]}: right for op 10 of Pallet 1" in words(app)
        assert isinstance(app.screen, WalkScreen)
        assert app.screen.run_ == run
        open_place(app.screen, ToolPlace("oven", 7, (place.id,)))
        assert "This is T7 of the Oven; Pallet 1 is at Mill" in words(app)
        assert isinstance(app.screen, WalkScreen)
    assert count_entries(shop) == before


async def test_a_station_where_nothing_is_due_says_so(place: Place, shop: Shop, open_app: Open) -> None:
    place.at(place.load(), "count")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        scan(app, tag(shop, "station", "bench"))
        await pilot.pause()
        assert "Bench: nothing is due there" in words(app)


async def test_a_gauge_is_under_the_cursor(shop: Shop, open_app: Open) -> None:
    for serial, due in (("DM-04", "2026-04-01"), ("TW-1", "2026-09-01"), ("BG-2", "2026-06-01")):
        shop.add_gauge(serial, "Gauge", due, "LL")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        scan(app, tag(shop, "gauge", "TW-1"))
        await pilot.pause()
        assert isinstance(app.screen, GaugesScreen)
        assert app.screen.chosen is shop.people.gauges["TW-1"]


async def test_a_badge_signs_in_who_has_no_pin(shop: Shop, open_app: Open) -> None:
    app = open_app("")
    async with app.run_test(size=SIZE) as pilot:
        scan(app, tag(shop, "person", "AA"))
        await pilot.pause()
        assert app.session.who == "AA"
        assert "AA signed in" in words(app)
        scan(app, tag(shop, "person", "BB"))
        await pilot.pause()
        assert app.session.who == "BB"
        scan(app, tag(shop, "person", "BB"))
        await pilot.pause()
        assert "BB is signed in" in words(app)


async def test_a_badge_is_no_pin(shop: Shop, open_app: Open) -> None:
    shop.set_pin("LL", PIN, "LL")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        scan(app, tag(shop, "person", "LL"))
        await pilot.pause()
        assert isinstance(app.screen, SignInDialog)
        assert "LL Lena Lindqvist" in words(app)
        assert app.session.who == "AA"
        await pilot.press(*PIN, "enter")
        assert app.session.who == "LL"


async def test_a_tool_shows_where_it_is_and_what_is_left_and_goes_to_its_run(
    place: Place, shop: Shop, open_app: Open
) -> None:
    run = place.at(place.load(), "Clamp the pallet")
    station = shop.batch(place.id).runs[run].station
    tool = shop.batch(place.id).checklist.tools_at(station)[0]
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        scan(app, tag(shop, "tool", station, tool.number))
        await pilot.pause()
        assert isinstance(app.screen, ChoiceDialog)
        shown = words(app)
        assert f"T{tool.number} {tool.name}" in shown
        assert [one.text for one in app.screen.choices] == [
            f"Pallet 1 (load 1), op 10, {place.id}",
            f"Batch {place.id}: op 10",
        ]
        await pilot.press("1")
        assert isinstance(app.screen, WalkScreen)
        assert app.screen.run_ == run


async def test_a_tool_that_is_loaded_says_what_is_left_of_it(half: str, shop: Shop, open_app: Open) -> None:
    batch = shop.batch(half)
    (station, number), state = next(iter(batch.tools.items()))
    card = batch.checklist.tool(number)
    assert card is not None
    assert card.life is not None
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        scan(app, tag(shop, "tool", station, number))
        await pilot.pause()
        assert format_life_left(card, card.life.base - state.used) in words(app)


async def test_a_lot_shows_the_entries_that_name_it(shop: Shop, half: str, open_app: Open) -> None:
    what, lot = list_recorded_lots(shop.batch(half))[0]
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        scan(app, tag(shop, "lot", what, lot))
        await pilot.pause()
        assert isinstance(app.screen, HistoryScreen)
        assert f'Only "{lot}"' in words(app)
        assert app.screen.lines.entries


async def test_a_lot_in_two_batches_asks_which(shop: Shop, half: str, open_app: Open) -> None:
    other = shop.open_batch(OpenBatch("B0002", part(), "digest", "part.toml", 8, 8), by="LL").id
    what = list_recorded_lots(shop.batch(half))[0][0]
    for id in (half, other):
        shop.do(id, OpenLot(what, "L-99"), "AA")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        scan(app, tag(shop, "lot", what, "L-99"))
        await pilot.pause()
        assert isinstance(app.screen, ChoiceDialog)
        await pilot.press("2")
        assert isinstance(app.screen, HistoryScreen)
        assert app.screen.batch_id == other


async def test_a_box_opens_its_batch_and_once_closed_its_history(shop: Shop, open_app: Open) -> None:
    id = shop.open_batch(OpenBatch("B0001", part(), "digest", "part.toml", 3, 3), by="LL").id
    box, load = batch_tag(shop, "box", id), batch_tag(shop, "load", id, 1)
    app = open_app("LL")
    async with app.run_test(size=SIZE) as pilot:
        scan(app, box)
        await pilot.pause()
        assert isinstance(app.screen, BatchScreen)
        await pilot.press("escape")
        shop.do(id, SetPiecesAside("scrap", "stock was cracked", op=10, count=3), "LL")
        shop.do(id, CloseBatch("stock was cracked"), "LL")
        scan(app, load)
        await pilot.pause()
        assert isinstance(app.screen, NextScreen)
        assert "Load 1 of B0001: batch closed." in words(app)
        scan(app, box)
        await pilot.pause()
        assert isinstance(app.screen, HistoryScreen)


async def test_what_leads_nowhere_stays_where_one_is(shop: Shop, batch: str, open_app: Open) -> None:
    shop.do(batch, FormLoad(10), "AA")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.push_screen(HandoverScreen(app.session, batch))
        await pilot.pause()
        for text, said in (
            ("%C%PALLET%1%000000", "✕ Tag misread. Scan again"),
            (tag(shop, "carrier", "pallet", 2), "✕ PALLET 2 is empty"),
            ("4006381333931", "✕ Not a Floor tag"),
        ):
            scan(app, text)
            await pilot.pause()
            assert isinstance(app.screen, HandoverScreen)
            assert said in words(app)


@pytest.mark.parametrize("why", get_args(Why))
def test_whatever_is_wrong_fits_two_lines_and_says_what_to_do(why: Why) -> None:
    """EEMUA 191 and ISO 9241-110 alike: what is wrong, then what to do (from memory)."""
    names = ("X" * 30, "Y" * 30)
    for kind in NAMES:
        said = describe_no_place(NoPlace(why, kind, names[: NAMES[kind]]))
        assert count_cells(said) <= 2 * (80 - 4), said
        wrong, _, remedy = said.partition(". ")
        assert wrong
        assert remedy, said


async def test_a_badge_scanned_where_initials_are_asked_for_signs_in(shop: Shop, open_app: Open) -> None:
    app = open_app("")
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("l")
        await fill(pilot, tag(shop, "gauge", "DM-04"))
        assert "This tag is nobody's badge here" in words(app)
        await fill(pilot, tag(shop, "person", "AA"))
        assert app.session.who == "AA"


async def test_in_a_form_a_tag_is_the_name_on_it_and_another_tag_is_no_value(
    shop: Shop, half: str, open_app: Open
) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    taken: list[str] = []

    def attempt(values: Values) -> Errors:
        taken.append(values["serial"])
        return {}

    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        assert isinstance(app.screen, FloorScreen)
        app.screen.ask_form("Gauge", [FieldSpec("serial", "Serial number")], attempt)
        await pilot.pause()
        for text in (tag(shop, "carrier", "pallet", 1), "%G%DM-04%000000"):
            await fill(pilot, text)
            assert "No lot, gauge or person has this tag" in " ".join(words(app).split())
        await fill(pilot, tag(shop, "gauge", "DM-04"))
    assert taken == ["DM-04"]


async def test_what_is_typed_on_a_scanned_screen_is_not_lost_to_the_next_scan(
    place: Place, shop: Shop, open_app: Open
) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    load = place.load()
    place.at(load, "Record the lot of bar stock")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        scan(app, batch_tag(shop, "load", place.id, load))
        await pilot.pause()
        walk = app.screen
        assert isinstance(walk, WalkScreen)
        await pilot.press(*"L-1")
        scan(app, tag(shop, "gauge", "DM-04"))
        await pilot.pause()
        assert isinstance(app.screen, ConfirmDialog)
        await pilot.press("y")
        assert isinstance(app.screen, GaugesScreen)
        await pilot.press("escape")
        assert app.screen is walk
        assert is_anything_typed(walk)
