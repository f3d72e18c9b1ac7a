"""By the keys: a value out of limits is decided from the walk and from what is next; the count shows the decision."""

from __future__ import annotations

import pytest
from textual.widgets import OptionList

from floor.batch.gates.commands import Prove
from floor.batch.gates.decide_out_of_limits import DecideBefore
from floor.batch.lifecycle.commands import OpenBatch, SetPiecesAside
from floor.screens.forms.dialogs import ChoiceDialog, ConfirmDialog
from floor.screens.frame.key_guard import SLOW
from floor.screens.shop.what_next import NextScreen
from floor.screens.walk.count_form import CountScreen
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import decide_out, edited, measure_again
from tests.batch.test_gates import VALUES
from tests.screens.conftest import Open
from tests.screens.keys import fill, words
from tests.screens.operator import Place
from tests.screens.painted import flat
from tests.screens.seen import seen

SIZE = (80, 24)


def read_out(place: Place) -> tuple[int, int, int]:
    """A groove depth of 3.3 mm on a load that waits at it: load, run, entry."""
    load = place.load()
    run = place.at(load, "Measure groove depth")
    line = place.hand.current(load)
    assert line is not None
    return load, run, place.shop.do(place.id, Prove(run, line.key, {"value": [3.0, 3.3]}), "AA")[0].seq


async def test_the_same_piece_is_measured_again_by_the_keys(open_app: Open, place: Place) -> None:
    load, run, seq = read_out(place)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        assert "Enter: decide on the piece" in words(app)
        before = place.batch.seq
        await pilot.press("enter", "enter")
        assert app.screen.query_one(OptionList).highlighted is None, "no reason is offered before another"
        shown = [str(one.prompt).split()[0] for one in app.screen.query_one(OptionList).options]
        assert shown == sorted(shown), "it is read in the order of its keys"
        assert place.batch.seq == before
        await pilot.press("escape")
        await pilot.press("enter", "2")
        await fill(pilot, "3.05")
        await pilot.press("f2", "enter")
        await pilot.pause()
        assert isinstance(app.screen, WalkScreen)
        assert "✓ On record: B2 again 3.05 mm, dirty gauge or piece (AA)" in words(app), "a good reading is no fault"
    assert place.current(load) == "Accept the first piece"
    (second,) = place.batch.out[seq].again
    assert (second.value, second.good, second.corrects) == (3.05, True, False)


async def test_what_was_just_entered_is_taken_back_from_the_question_too(open_app: Open, place: Place) -> None:
    """One key takes the last act back, wherever one stands."""
    load, run, seq = read_out(place)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("enter")
        assert isinstance(app.screen, ChoiceDialog)
        assert "u: take back" in words(app)
        await pilot.pause(SLOW)
        await pilot.press("u")
        await pilot.pause(SLOW * 2)
        assert isinstance(app.screen, WalkScreen)
        assert "Taken back: " in words(app)
    assert seq in place.batch.struck


async def test_what_is_too_old_to_be_taken_back_is_said_in_the_question(
    open_app: Open, place: Place, clock: ManualClock
) -> None:
    _, run, seq = read_out(place)
    clock.forward(61)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause(SLOW)
        await pilot.press("u")
        await pilot.pause(SLOW * 2)
        assert isinstance(app.screen, ChoiceDialog)
        assert "Nothing of yours from the last minute" in words(app)
    assert seq not in place.batch.struck


async def test_a_value_typed_wrong_is_corrected_by_itself(open_app: Open, place: Place) -> None:
    load, run, seq = read_out(place)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("enter", "3")
        assert "Only this value is replaced; all others stay, and 3.3 stays on record." in flat(words(app))
        await pilot.press("x")
        assert "takes a number" in flat(words(app)), "at the key, not at the end"
        await pilot.pause(SLOW)
        await fill(pilot, "3.03")
        await pilot.press("f2", "enter")
        await pilot.pause()
        assert "✓ On record: B2 corrected to 3.03 mm, typed wrong (AA)" in words(app)
    assert place.current(load) == "Accept the first piece"
    assert seq not in place.batch.struck
    assert place.batch.proofs[place.batch.out[seq].key].values["value"] == [3.0, 3.03]


async def test_a_value_of_a_first_piece_is_corrected_by_itself(open_app: Open, shop: Shop, clock: ManualClock) -> None:
    """A first piece is accepted by all its values together, so none is measured again by itself."""
    opening = OpenBatch(shop.find_next_id(), edited(VALUES), "digest", "part.toml", 8, 10)
    place = Place(shop, shop.open_batch(opening, by="LL").id, clock)
    load = place.load()
    run = place.at(load, "Accept the first piece")
    values = {"value 1": "30.2", "value 2": "yes", "person": "BB"}
    line = place.hand.current(load)
    assert line is not None
    (read,) = place.shop.do(place.id, Prove(run, line.key, values), "AA")
    app = open_app("BB")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("enter")
        shown = [str(one.prompt) for one in app.screen.query_one(OptionList).options]
        assert not [one for one in shown if "measure" in one]
        key = next(one[0] for one in shown if one.endswith("groove depth 30.2 was typed or read wrong: correct it"))
        await pilot.press(key)
        await fill(pilot, "3.02")
        await pilot.press("f2", "enter")
        await pilot.pause()
        assert "corrected to 3.02 mm, typed wrong (BB)" in words(app)
    assert read.seq not in place.batch.struck
    assert place.current(load) != "Accept the first piece"


async def test_who_did_not_accept_a_first_piece_is_told_at_once_who_corrects_it(
    open_app: Open, shop: Shop, clock: ManualClock
) -> None:
    opening = OpenBatch(shop.find_next_id(), edited(VALUES), "digest", "part.toml", 8, 10)
    place = Place(shop, shop.open_batch(opening, by="LL").id, clock)
    load = place.load()
    run = place.at(load, "Accept the first piece")
    line = place.hand.current(load)
    assert line is not None
    place.shop.do(place.id, Prove(run, line.key, {"value 1": "30.2", "value 2": "yes", "person": "BB"}), "AA")
    app = open_app("LL")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("enter")
        shown = [str(one.prompt) for one in app.screen.query_one(OptionList).options]
        assert not [one for one in shown if "correct" in one]
        assert "BB accepted it and corrects a value of it (Ctrl+L: BB signs in)" in flat(words(app))


@pytest.mark.parametrize("key", ["2", "3"], ids=["measured again", "corrected"])
@pytest.mark.parametrize("opened", ["the form", "the choice"])
async def test_a_value_typed_for_a_piece_that_another_terminal_settled_lands_on_no_other(
    open_app: Open, place: Place, key: str, opened: str
) -> None:
    """Both pieces are out; while the form of the first stands open, another terminal corrects that one."""
    load = place.load()
    run = place.at(load, "Measure groove depth")
    line = place.hand.current(load)
    assert line is not None
    seq = place.shop.do(place.id, Prove(run, line.key, {"value": ["30", "3.3"]}), "AA")[0].seq
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("enter", *([key] if opened == "the form" else []))
        other = Shop(place.shop.folder, place.clock)
        right = measure_again(other.batch(place.id), seq, "3.01", "typed wrong", corrects=True)
        other.do(place.id, right, "BB")
        other.close()
        if opened == "the choice":
            app.look()
            await pilot.pause()
            await pilot.press(key)
        assert "A1" in app.screen.heading  # type: ignore[attr-defined]
        await fill(pilot, "3.02")
        await pilot.press("f2", "enter")
        await pilot.pause()
        told = "BB recorded this at another terminal: A1 corrected: 3.01 mm (first 30), typed wrong"
        assert f"{told}; yours was not recorded: 3.02" in flat(words(app))
        await pilot.press("escape", "enter")
        await pilot.pause()
        assert "what becomes of B2" in words(app)
    assert [(each.nth, each.value, each.by) for each in place.batch.out[seq].again] == [(0, 3.01, "BB")]
    assert place.batch.out[seq].left == 1


async def test_a_piece_that_another_terminal_corrected_is_not_put_aside_for_the_other_that_is_out(
    open_app: Open, place: Place
) -> None:
    load = place.load()
    run = place.at(load, "Measure groove depth")
    line = place.hand.current(load)
    assert line is not None
    seq = place.shop.do(place.id, Prove(run, line.key, {"value": ["30", "3.3"]}), "AA")[0].seq
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("enter", "4")
        assert "hold: a lead decides" in words(app)
        other = Shop(place.shop.folder, place.clock)
        right = measure_again(other.batch(place.id), seq, "3.01", "typed wrong", corrects=True)
        other.do(place.id, right, "BB")
        other.close()
        await pilot.press("enter")
        await pilot.pause()
        told = "BB recorded this at another terminal: A1 corrected: 3.01 mm (first 30), typed wrong"
        assert f"{told}; yours was not recorded: A1" in flat(words(app))
    assert place.batch.out[seq].decided == []


async def test_a_reading_of_other_pieces_is_struck_out_from_where_it_stands(open_app: Open, place: Place) -> None:
    load, run, seq = read_out(place)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("enter")
        shown = [str(one.prompt) for one in app.screen.query_one(OptionList).options]
        key = next(one[0] for one in shown if one.endswith("strike out both values of this reading and enter again"))
        await pilot.press(key, "f2", "enter")
        await pilot.pause()
        assert app.screen.asks.inputs, "it is asked for anew"  # type: ignore[attr-defined]
    assert seq in place.batch.struck


async def test_what_the_whole_load_left_open_is_decided_from_what_is_next(open_app: Open, place: Place) -> None:
    load, _, seq = read_out(place)
    place.hand.do(SetPiecesAside("hold", "doubtful", load=load, count=4))
    app = open_app("LL")
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, NextScreen)
        screen.table.move_cursor(row=next(row for row, due in enumerate(screen.due) if due.go == "out"))
        await pilot.press("enter", "4")
        await fill(pilot, "B2")
        await pilot.pause()
        assert "Suspect pieces" in words(app)
        await pilot.press("enter", "enter")
        await pilot.pause()
        assert isinstance(app.screen, NextScreen)
    assert not place.batch.out[seq].open


async def test_a_line_that_is_done_shows_the_values_that_stand_before_what_was_out(
    open_app: Open, place: Place
) -> None:
    _, run, seq = read_out(place)
    place.hand.do(measure_again(place.batch, seq, "3.05", "dirty gauge or piece"))
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        assert "✓ Measure groove depth" in words(app)
        (line,) = (row for row in words(app).splitlines() if "✓ Measure groove depth" in row)
        assert "3, 3.05 mm · AA" in line, "its head, whatever has to be cut"


async def test_the_suspect_pieces_are_named_in_the_order_in_which_they_are_held(open_app: Open, place: Place) -> None:
    """A1 was good, B2 was not: A2 and B1 were made between them, B1 last. No tool was changed."""
    _, run, seq = read_out(place)
    place.hand.do(decide_out(place.batch, seq, "", positions=("B2",)))
    app = open_app("LL")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        said = flat(words(app))
        assert "B2: groove depth 3.3, must be 2.9 to 3.1 mm (AA)" in said
        assert "2 pieces made since the last good check, not measured." in said
        assert "Made before what was out: B1, A2" in said
        assert "Made after it" not in said
        assert "F2 made before the cause came up" in said
        assert "another tool" not in said, "no reason is offered that cannot be"


async def test_the_count_shows_what_was_decided_before_it_and_leaves_it(open_app: Open, place: Place) -> None:
    load, run, seq = read_out(place)
    place.hand.do(decide_out(place.batch, seq, "deep", positions=("A1",)))
    place.shop.do(place.id, DecideBefore(seq, 0, "made with another tool"), "LL")
    place.at(load, "count")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("enter")
        assert isinstance(app.screen, CountScreen)
        assert "4 went in = 3 good (the rest) + 1 scrap: adds up" in words(app)
        assert "A1 decided on: groove depth 3.3" in flat(words(app))
        await pilot.press("left", "1")
        assert "A1 is already decided" in words(app)
        await pilot.press("enter")
        await pilot.pause()
    assert place.batch.runs[run].count is not None
    assert place.batch.places[1].where == "scrap"


async def test_a_value_ten_times_off_is_asked_about_before_it_is_recorded(open_app: Open, place: Place) -> None:
    run = place.at(place.load(), "Measure groove depth")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        before = place.batch.seq
        await fill(pilot, "30", "3.0")
        assert isinstance(app.screen, ConfirmDialog)
        assert "would be inside" in app.screen.question
        await pilot.press("escape")
        assert place.batch.seq == before, "nothing is recorded until it is sure"
        await pilot.press("enter", "enter")  # from the value in question over the other one
        await pilot.press("y")
        assert [entry.kind for entry in place.batch.entries[before:]] == ["proved"]


async def test_a_place_measured_good_is_asked_about_once(open_app: Open, place: Place) -> None:
    load, run, seq = read_out(place)
    bad = place.batch.out[seq].pieces[1]
    good = place.batch.format_slot(place.batch.loads[load], place.batch.out[seq].pieces[0])
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("enter", "1")
        await pilot.press(*["backspace"] * 4)
        await fill(pilot, good)
        await pilot.pause()
        assert f"{good} was measured good. Enter again if its value was mixed up" in words(app)
        assert place.batch.out[seq].left == 1
        await pilot.press("enter")
        await pilot.pause()
    assert place.batch.out[seq].left == 0
    assert bad not in place.batch.out[seq].named


async def test_on_a_screen_made_narrow_the_field_with_the_cursor_stays_in_sight_with_its_label(
    open_app: Open, place: Place
) -> None:
    run = place.at(place.load(), "Measure groove depth")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.resize_terminal(40, 16)
        await pilot.pause()
        field = app.focused
        assert field is not None
        assert field.region.width >= 15
        assert field.region.right <= 40
        assert app.screen.region.contains_region(field.region)
        assert "2.9 to 3.1 mm" in seen(app), "limits that have no room beside the field stand below it, whole"
