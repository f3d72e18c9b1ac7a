"""Work that differs from the list, by the key h on the batch: chosen pieces, loads split and joined, pieces moved."""

from __future__ import annotations

from typing import Any

import pytest
from textual.pilot import Pilot

from floor.app import FloorApp
from floor.batch.corrections.commands import Note
from floor.batch.handover.commands import OfferHandover
from floor.batch.lifecycle.commands import OpenBatch, SetPiecesAside
from floor.batch.load import Load
from floor.batch.moving.commands import MovePieces
from floor.batch.walk.commands import BeginRun
from floor.batch.walk.put_back import PutBack
from floor.screens.forms.dialogs import ChoiceDialog
from floor.screens.walk.screen import WalkScreen
from floor.screens.widgets.place_map import PlaceMap
from floor.shop import Shop
from floor.shop.simulation import SimulatedOperator
from tests.batch.test_out_of_list import line_of_ops
from tests.screens.conftest import Open
from tests.screens.operator import Place
from tests.screens.seen import seen


async def type_in(pilot: Pilot[str], *fields: str) -> None:
    """Fill one field after the other; what is proposed in it goes."""
    for text in fields:
        await pilot.press(*("space" if letter == " " else letter for letter in text), "enter")
    await pilot.pause()


def drawn(app: FloorApp) -> list[str]:
    """The carriers drawn on the top screen, whatever room each has."""
    return [" ".join(one.render().plain.split()) for one in app.screen.query(PlaceMap) if one.display]


async def at_row(app: FloorApp, pilot: Pilot[str], place: Place, down: int = 0) -> None:
    app.go_batch(place.id)
    await pilot.pause()
    await pilot.press(*["down"] * down)


def load(place: Place, number: int) -> Load:
    return place.batch.loads[number]


async def test_a_load_is_formed_of_chosen_pieces_on_a_chosen_pallet(open_app: Open, place: Place) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at_row(app, pilot, place)
        await pilot.press("h", "1")
        await pilot.pause()
        assert "new: 1-10" in seen(app)
        assert "free: 1-3" in seen(app)
        await type_in(pilot, "7 3-4", "", "2", "b2 a1-a2")

        assert load(place, 1).slots == (3, 4, None, 7)
        assert "Pallet 2 loaded with 3 pieces: load 1" in seen(app)


async def test_a_piece_that_does_not_wait_is_refused_at_its_field(open_app: Open, place: Place) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at_row(app, pilot, place)
        await pilot.press("h", "1")
        await type_in(pilot, "77", "", "2", "")

        assert "Not among the pieces that are there: 77" in seen(app)
        assert app.focused is not None
        assert app.focused.id == "field-which"
        assert not place.batch.loads


async def test_a_load_is_split_onto_the_next_free_pallet(open_app: Open, place: Place) -> None:
    place.through(place.load(), 10)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at_row(app, pilot, place)
        await pilot.press("h", "1")
        await pilot.pause()
        assert drawn(app) == ["1 2 A good 1■ good 2■ B good 3■ good 4■ ■ chosen"], "blank: all"
        assert "Here: " not in seen(app), "it is drawn"
        assert "must be probed again" in seen(app)
        await pilot.press("b", "1")
        assert drawn(app) == ["1 2 A good 1 good 2 B good 3■ good 4 ■ chosen"]
        await pilot.press("space", *"a2", "enter")
        assert drawn(app) == ["1 2 A good 1 good 2■ B good 3■ good 4 ■ chosen"]
        await type_in(pilot, "", "b2 a1")

        assert load(place, 2).slots == (2, None, None, 3)
        assert "B1, A2 of load 1: moved onto Pallet 2 B2, A1, load 2 from there on" in seen(app)


async def test_on_a_small_screen_the_pieces_are_listed(open_app: Open, place: Place) -> None:
    place.through(place.load(), 10)
    app = open_app("AA")
    async with app.run_test(size=(60, 20)) as pilot:
        await at_row(app, pilot, place)
        await pilot.press("h", "1")
        await pilot.pause()
        assert "Here: A1 1, A2 2, B1 3, B2 4" in seen(app)
        assert "good 1" not in seen(app)
        await pilot.resize_terminal(80, 24)
        await pilot.pause()
        assert "Here: " not in seen(app)
        assert "good 1■" in seen(app)


async def test_the_keypad_alone_takes_pieces_off_by_the_numbers_in_the_drawing(open_app: Open, place: Place) -> None:
    place.through(place.load(), 10)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at_row(app, pilot, place)
        await pilot.press("h", "4")
        assert drawn(app) == ["1 2 A good 1 good 2 B good 3 good 4 ■ chosen"], "a blank is none here"
        await pilot.press(*"2-3")
        assert drawn(app) == ["1 2 A good 1 good 2■ B good 3■ good 4 ■ chosen"]
        await pilot.press("enter")
        assert place.batch.waiting(20) == [2, 3]


async def test_pieces_are_set_aside_by_place_or_by_the_number_in_the_drawing(open_app: Open, place: Place) -> None:
    place.through(place.load(), 10)
    place.shop.do(place.id, SetPiecesAside("hold", "bent", load=1, positions=("A1",)), "AA")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at_row(app, pilot, place)
        await pilot.press("m", *"3", "space", *"b2")
        assert drawn(app) == ["1 2 A hold 1 good 2 B good 3■ good 4■ ■ chosen"]
        await pilot.press("enter")
        await type_in(pilot, "", "dropped", "")
    entry = place.batch.entries[-1]
    assert (entry.kind, entry.body["pieces"], entry.body["to"]) == ("set_aside", [3, 4], "hold")


async def test_where_each_piece_of_a_new_load_goes_is_drawn_while_it_is_typed(open_app: Open, place: Place) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at_row(app, pilot, place)
        await pilot.press("enter")
        await pilot.pause()
        assert drawn(app) == ["1 2 A piece 1 piece 2 B piece 3 piece 4"], "the question whether they are loaded"
        await pilot.press("escape", "h", "1", *"7 3-4")
        assert drawn(app) == ["Pallet 1 1 2 A piece 7 piece 3 B piece 4 -"]
        await pilot.press("enter", "enter", "enter", *"b2 a1-a2")
        assert drawn(app) == ["Pallet 1 1 2 A piece 3 piece 4 B - piece 7"]
        await pilot.press("backspace")
        assert drawn(app) == ["Pallet 1 2 A - - B - -"], "what cannot be loaded has no places"


async def test_a_load_joins_another_that_waits_for_the_same(open_app: Open, place: Place) -> None:
    for number in (place.load(), place.load()):
        place.through(number, 10)
        place.shop.do(place.id, MovePieces(number, (4 * number - 3, 4 * number)), "AA")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at_row(app, pilot, place)
        await pilot.press("h", "2")
        await pilot.pause()
        assert "2: 2 free" in seen(app)
        assert drawn(app) == [
            "Pallet 1 1 2 A away good 2■ B good 3■ away ■ chosen",
            "onto Pallet 2 1 2 A away good 6 B good 7 away",
        ]
        await type_in(pilot, "", "", "")

        assert load(place, 3).slots == (2, 6, 7, 3)
        assert load(place, 1).dissolved is not None


async def test_loose_pieces_join_a_load(open_app: Open, place: Place) -> None:
    place.through(place.load(), 10)
    place.shop.do(place.id, MovePieces(1, (1, 2)), "AA")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at_row(app, pilot, place, down=2)
        await pilot.press("h", "2")
        await type_in(pilot, "2", "", "a1")

        assert load(place, 2).slots == (2, None, 3, 4)


async def test_pieces_change_places_or_come_off(open_app: Open, place: Place) -> None:
    place.through(place.load(), 10)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at_row(app, pilot, place)
        await pilot.press("h", "3")
        await type_in(pilot, "a1 a2", "a2 a1")
        assert load(place, 2).slots == (2, 1, 3, 4)

        await pilot.press("h", "4")
        await pilot.press("enter")
        assert place.batch.waiting(20) == [], "one Enter too many takes nothing off"
        await type_in(pilot, "a2")
        assert place.batch.waiting(20) == [1]

        await pilot.press("h", "4")
        await type_in(pilot, "all")
        assert place.batch.waiting(20) == [1, 2, 3, 4]


async def test_there_is_nothing_to_join(open_app: Open, place: Place) -> None:
    place.load()
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at_row(app, pilot, place)
        await pilot.press("h", "2")
        await pilot.pause()

        assert "No other Pallet waits with a load for op 10" in seen(app)


async def test_a_digit_means_the_same_whatever_else_is_offered(open_app: Open, place: Place) -> None:
    """The first operation is milled at no other station, so that is not offered; the tote's pieces have no places."""
    offered: dict[tuple[bool, str], set[str]] = {}
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        load = place.load()
        for op in (10, 20, 30, 40, 50):
            if op in (40, 50):
                load = place.load(op)
            await at_row(app, pilot, place)
            await pilot.press("h")
            await pilot.pause()
            assert isinstance(app.screen, ChoiceDialog)
            for pick, choice in zip(app.screen.picks, app.screen.choices, strict=True):
                offered.setdefault((choice.text.startswith(("form", "put")), pick), set()).add(choice.text[:4])
            await pilot.press("escape")
            if op < 50:
                place.through(load, op)
        assert len(offered) > 4
        assert all(len(texts) == 1 for texts in offered.values()), offered


async def test_a_lead_sends_a_load_to_another_bench(open_app: Open, place: Place) -> None:
    place.through(place.load(), 10)
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await at_row(app, pilot, place)
        await pilot.press("h", "6", "1")
        await pilot.pause()
        assert "Op 20 at Packing table" in seen(app)
        await type_in(pilot, "the bench is wet")

        run = place.batch.runs[2]
        assert (run.op, run.station) == (20, "table")
        assert isinstance(app.screen, WalkScreen)
        assert "Waived on this load: at Packing table, not at Bench" in seen(app)


async def test_an_operator_is_told_at_once_that_it_takes_a_lead(open_app: Open, place: Place) -> None:
    place.through(place.load(), 10)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at_row(app, pilot, place)
        await pilot.press("h", "6")
        await pilot.pause()

        assert "needs a lead" in seen(app)


async def test_an_operator_is_told_before_typing_that_another_order_takes_a_lead(open_app: Open, place: Place) -> None:
    place.through(place.load(), 10)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at_row(app, pilot, place)
        await pilot.press("h", "5", "1")
        await pilot.pause()

        assert "needs a lead" in seen(app)
        assert "Op 30 before op 20" not in seen(app)
        assert [run.op for run in place.batch.list_open_runs()] == []


async def test_a_lead_lets_a_load_do_another_operation_first(open_app: Open, place: Place) -> None:
    place.through(place.load(), 10)
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await at_row(app, pilot, place)
        await pilot.press("h", "5", "1")
        await pilot.pause()
        assert "Op 30 before op 20" in seen(app)
        await type_in(pilot, "the coat comes tomorrow")
        run = place.batch.runs[2]
        assert (run.op, place.batch.loads[1].next_op) == (30, 20)
        assert isinstance(app.screen, WalkScreen)
        assert "Waived on this load: before op 20 (op 30, LL" in seen(app)


async def test_why_only_some_other_stations_are_offered_is_said(open_app: Open, place: Place) -> None:
    place.through(place.load(), 10)
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await at_row(app, pilot, place)
        await pilot.press("h", "6")
        assert "Stations of the list's kind (bench), and shops outside." in seen(app)


async def test_in_any_order_nobody_is_asked_why(open_app: Open, shop: Shop) -> None:
    opened = OpenBatch(shop.find_next_id(), line_of_ops(12, 14), "digest", "part.toml", 4, 4)
    id = shop.open_batch(opened, "LL").id
    hand = SimulatedOperator(shop, id, "AA", shop.clock, second="BB")  # type: ignore[arg-type]
    hand.work(hand.form(10))
    word = hand.do(Note("burr on A2", run=1, next_shift=True))[0].seq
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_batch(id)
        await pilot.pause()
        await pilot.press("h", "5")
        assert ": burr on A2" in seen(app), "what was left with the load is read here too (HND-28)"
        await pilot.press("1")
        await pilot.pause()

        assert isinstance(app.screen, WalkScreen)
        assert shop.batch(id).entries[-1].body["read"] == [word]
        assert [run.op for run in shop.batch(id).list_open_runs()] == [14]
        app.go_batch(id)
        await pilot.pause()
        row = next(line for line in seen(app).splitlines() if "Pallet 1" in line)
        assert row.count("✓") == 1, "op 12 is still to be done"


async def test_a_waiver_is_marked_wherever_its_pieces_are(open_app: Open, place: Place) -> None:
    """CBP-38."""
    for number in (place.load(), place.load()):
        place.through(number, 10)
    place.shop.do(place.id, BeginRun(1, station="table", instead="the bench is wet"), "LL")
    place.shop.do(place.id, PutBack(place.batch.list_open_runs()[0].number), "LL")
    place.shop.do(place.id, BeginRun(1, station="table", instead="the bench is wet"), "LL")
    place.hand.work(1)
    place.shop.do(place.id, MovePieces(1, (1,)), "AA")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at_row(app, pilot, place)
        rows = [line for line in seen(app).splitlines() if line.strip(" ▸").startswith(("Pallet", "loose"))]

        assert [" W" in row for row in rows[:4]] == [True, False, False, True]


async def test_what_is_still_to_be_counted_is_not_listed_by_moving_it(open_app: Open, place: Place) -> None:
    """The form would show each piece of the load, or of the heap, to who is to count it blind."""
    place.load()
    place.shop.do(place.id, OfferHandover("as usual"), place.batch.responsible)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await at_row(app, pilot, place)
        for down in range(2):
            await pilot.press(*["down"] * down, "h")
            await pilot.pause()
            assert "These are still to be counted: take over first (o), then move them" in seen(app)
            assert "Move: " not in seen(app)


@pytest.mark.parametrize("size", [(80, 24), (160, 50)], ids=["80x24", "160x50"])
def test_picture_of_joining(snap_compare: Any, open_app: Open, place: Place, size: tuple[int, int]) -> None:
    """To be seen: both pallets as they lie, the pieces that were typed marked on theirs, and the places free on the
    other."""
    for number in (place.load(), place.load()):
        place.through(number, 10)
        place.shop.do(place.id, MovePieces(number, (4 * number - 3, 4 * number)), "AA")

    async def go(pilot: Any) -> None:
        await at_row(pilot.app, pilot, place)
        await pilot.press("h", "2", *"b1")

    assert snap_compare(open_app("AA"), run_before=go, terminal_size=size)


@pytest.mark.parametrize("size", [(80, 24), (160, 50)], ids=["80x24", "160x50"])
def test_picture_of_forming_a_load(snap_compare: Any, open_app: Open, place: Place, size: tuple[int, int]) -> None:
    """To be seen: the pallet with each of the pieces that were typed in the place where it goes."""

    async def go(pilot: Any) -> None:
        await at_row(pilot.app, pilot, place)
        await pilot.press("h", "1", *"7 3-4")

    assert snap_compare(open_app("AA"), run_before=go, terminal_size=size)
