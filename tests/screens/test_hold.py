"""Deciding on held pieces by the documented keys, asserted on the record."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from floor.app import FloorApp
from floor.batch.counting.commands import MarkedPieces
from floor.batch.gates.commands import Prove
from floor.batch.gates.decide_out_of_limits import DecideBefore
from floor.batch.handover.commands import OfferHandover
from floor.batch.lifecycle.commands import OpenBatch, SetPiecesAside
from floor.batch.state import Batch
from floor.screens.batch.hold import HoldScreen
from floor.screens.forms.dialogs import ChoiceDialog, FormDialog
from floor.screens.widgets.place_map import HEAD
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import decide_out, part
from tests.screens.conftest import Picture
from tests.screens.keys import fill, words
from tests.screens.seen import seen

Open = Callable[..., FloorApp]


@pytest.fixture
def held(shop: Shop, batch: str, clock: ManualClock) -> str:
    """One piece held from its pallet after coating, two loose ones that never were milled, one in rework."""
    hand = SimulatedOperator(shop, batch, "AA", clock, second="BB")
    load = hand.form(10)
    hand.work(load)
    hand.work(load, marks=(MarkedPieces("thin", positions=("A2",)),))
    hand.do(SetPiecesAside("hold", "dropped on the floor, corner [bent]", load=load, positions=("A1",)))
    hand.do(SetPiecesAside("hold", "not found", op=10, count=2))
    return batch


def disposed(batch: Batch) -> list[dict[str, Any]]:
    """What was decided, as the record has it."""
    return [entry.body for entry in batch.entries if entry.kind == "disposed"]


async def test_the_one_under_the_cursor_is_used_as_it_is(shop: Shop, held: str, open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d")
        assert isinstance(app.screen, HoldScreen)
        assert "corner [bent]" in words(app)
        await pilot.press("enter", "1")
        await fill(pilot, "measured again", "", "", "")
        assert isinstance(app.screen, HoldScreen)
        assert "1 piece: use as is" in words(app)
    batch = shop.batch(held)
    where = "Pallet 1 A1 (piece 1), op 30: dropped on the floor, corner [bent]"
    assert disposed(batch) == [
        {"pieces": [1], "decision": "use as is", "reason": "measured again", "where": where, "own_way": True}
    ]
    assert batch.total("hold") == 2


async def test_a_piece_that_was_out_of_limits_is_measured_again(
    shop: Shop, batch: str, clock: ManualClock, open_app: Open
) -> None:
    hand, lead = (SimulatedOperator(shop, batch, who, clock, second="BB") for who in ("AA", "LL"))
    load = hand.form(10)
    hand.work(load, stop=lambda line: line.key == "measured 1")
    hand.do(Prove(hand.run(load).number, "measured 1", {"value": [3.0, 3.12]}))
    out = shop.batch(batch).seq
    hand.do(decide_out(hand.batch, out, positions=("A2",)))
    lead.do(DecideBefore(out, 0, "each measured since"))
    hand.work(load)
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d")
        await pilot.press("enter", "1")
        assert "Measured again: groove depth" in words(app)
        await fill(pilot, "chip under the gauge", "3.2", "", "", "")
        assert "Still out of limits" in words(app)
    assert disposed(shop.batch(batch)) == []
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d")
        await pilot.press("enter", "1")
        await fill(pilot, "chip under the gauge", "3.05", "", "", "")
        assert "1 piece: use as is" in words(app)
    (kept,) = disposed(shop.batch(batch))
    assert [one["value"] for one in kept["measured"]] == [3.05]


async def test_scrap_that_still_sits_is_listed_and_taken_off_and_not_decided_on(
    shop: Shop, held: str, open_app: Open
) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d", "enter", "3")
        await fill(pilot, "bent")
        await pilot.press("1")
        screen = app.screen
        assert isinstance(screen, HoldScreen)
        assert [one.piece for one in screen.held] == [9, 10, 1]
        assert "scrap: dropped on" in seen(app)
        await pilot.press("down", "down", "enter")
        assert "Scrap is already decided. Press h when it has been taken off its carrier" in words(app)
        await pilot.press("h")
        assert "1 piece taken off the carrier" in words(app)
        assert [one.piece for one in screen.held] == [9, 10]
    assert not shop.batch(held).places[1].sits


async def test_several_are_marked_and_scrapped_together(shop: Shop, held: str, open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d", "down", "space", "down", "space", "enter")
        assert "loose (piece 9), loose (piece 10)" in words(app)  # the review line
        await pilot.press("3")
        assert "Mark or break the pieces now" in words(app)
        await pilot.press("f2", "enter")
    batch = shop.batch(held)
    assert disposed(batch) == [{"pieces": [9, 10], "decision": "scrap", "reason": "cannot be reworked"}]
    assert (batch.total("hold"), batch.total("scrap")) == (1, 2)


async def test_marking_all_leaves_only_the_routes_that_all_can_take(shop: Shop, held: str, open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d", "enter")
        assert isinstance(app.screen, ChoiceDialog)
        assert [choice.key for choice in app.screen.choices] == [
            "use as is", "rework", "scrap", "repair", "regrade", "return to supplier",
        ]  # fmt: skip
        await pilot.press("2")
        assert isinstance(app.screen, ChoiceDialog)
        assert [choice.key for choice in app.screen.choices] == ["rework touch up", "rework regroove"]
        await pilot.press("escape", "enter")
        assert isinstance(app.screen, ChoiceDialog)
        await pilot.press("escape", "asterisk", "enter")
        assert isinstance(app.screen, ChoiceDialog)
        assert [choice.key for choice in app.screen.choices] == [
            "use as is", "rework regroove", "scrap", "repair regroove", "regrade", "return to supplier",
        ]  # fmt: skip

        await pilot.press("2")
        await fill(pilot, "deepen")
        assert "3 pieces wait for op 10 Mill the groove: Cut the groove again" in words(app)
        assert "Nothing is on hold" in words(app)
    assert disposed(shop.batch(held)) == [
        {"pieces": [1, 9, 10], "decision": "rework", "rework": "regroove", "reason": "deepen"}
    ]


async def test_a_digit_means_the_same_for_every_piece(shop: Shop, held: str, open_app: Open) -> None:
    """HMI-04: 1 to 6 stay with their decision; the same digit stands at it for each piece."""
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d")
        for _ in shop.batch(held).held():
            await pilot.press("enter")
            screen = app.screen
            assert isinstance(screen, ChoiceDialog)
            digits = dict(zip([choice.key.split()[0] for choice in screen.choices], screen.picks, strict=True))
            assert digits == {"use": "1", "rework": "2", "scrap": "3", "repair": "4", "regrade": "5", "return": "6"}
            await pilot.press("7", "u", "r", "s")
            assert app.screen is screen, "no other key answers"
            await pilot.press("escape", "down")


async def test_a_piece_is_repaired_by_the_customers_word_another_regraded_a_third_returned(
    shop: Shop, held: str, open_app: Open
) -> None:
    """REC-16: each decision asks for what it needs, and says what becomes of the piece."""
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d", "enter", "4", "2")
        assert "Repair: Cut the groove again: 1 piece" in words(app)
        assert "only the customer can accept them" in words(app)
        await fill(pilot, "deepen", "Ms Vance", "2026-02-27", "26-114")
        assert "1 piece: repair" in words(app)
        await pilot.press("enter", "5")
        await fill(pilot, "thin coat", "B stock")
        assert "1 piece: regrade" in words(app)
        await pilot.press("enter", "6")
        await fill(pilot, "wrong alloy", "Bar Mill Inc., 26-81")
        assert "Nothing is on hold" in words(app)
    batch = shop.batch(held)
    assert [(one["decision"], one.get("granted"), one.get("to")) for one in disposed(batch)] == [
        ("repair", {"by": "Ms Vance", "on": "2026-02-27", "number": "26-114"}, None),
        ("regrade", None, "B stock"),
        ("return to supplier", None, "Bar Mill Inc., 26-81"),
    ]
    assert (batch.total("regraded"), batch.total("returned")) == (1, 1)


async def test_a_cause_found_is_noted_on_the_marked_pieces_by_anybody(shop: Shop, held: str, open_app: Open) -> None:
    """REC-06: who looked, and when; it stands below the list from then on."""
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d", "down", "space", "down", "space", "n", "1")
        await fill(pilot, "two heats in one rack", "Ms Lee", "")  # the day stands there
        assert "2 pieces: cause found" in words(app)
        assert "Cause found: two heats in one rack (Ms Lee 2026-03-02); pieces 9-10" in words(app)
    assert shop.batch(held).entries[-1].body["pieces"] == [9, 10]


async def test_the_list_says_what_was_measured_and_who_set_the_piece_aside(
    shop: Shop, batch: str, clock: ManualClock, open_app: Open
) -> None:
    hand = SimulatedOperator(shop, batch, "AA", clock, second="BB")
    load = hand.form(10)
    hand.work(load, stop=lambda line: line.title == "Measure groove depth")
    line = hand.current(load)
    assert line is not None
    shop.do(batch, Prove(hand.run(load).number, line.key, {"value": [3.3, 3.0]}), "BB")
    hand.do(SetPiecesAside("hold", "too deep", load=load, positions=("A1",)))
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d")
        assert "Measured on its load: groove depth 3.3, must be 2.9 to 3.1 mm (BB)." in words(app)
        assert "Set aside by AA" in words(app)


async def test_a_decision_takes_a_reason_and_escape_takes_nothing(shop: Shop, held: str, open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d", "enter", "1", "enter")
        assert isinstance(app.screen, FormDialog)
        assert "Reason: may not stay empty" in words(app)
        await pilot.press("escape")
        assert isinstance(app.screen, HoldScreen)

        await pilot.press("enter", "escape")
        assert isinstance(app.screen, HoldScreen)
    assert disposed(shop.batch(held)) == []


async def test_an_operator_is_told_at_once_that_it_takes_a_lead(shop: Shop, held: str, open_app: Open) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d", "enter")
        assert isinstance(app.screen, HoldScreen)
        assert "A disposition needs a lead. Ask LL. Ctrl+L: the lead signs in" in words(app)


async def test_pieces_decided_on_at_another_terminal_are_refused_in_words(
    shop: Shop, held: str, open_app: Open, clock: ManualClock
) -> None:
    from floor.batch.counting.commands import Dispose

    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d", "enter", "3")
        shop.do(held, Dispose((1,), "scrap", "broken meanwhile"), "LL")
        await pilot.press("f2", "enter")
        assert "Not all of these are held pieces" in words(app)
        await pilot.press("escape")
        screen = app.screen
        assert isinstance(screen, HoldScreen)
        assert [one.piece for one in screen.held if not one.scrap] == [9, 10]
    assert len(disposed(shop.batch(held))) == 1


async def test_marks_and_cursor_stay_when_the_clock_moves(held: str, open_app: Open, clock: ManualClock) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d", "down", "space")
        clock.forward(36_000)
        app.advance_clocks()
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, HoldScreen)
        assert screen.marked == {9}
        assert screen.table.cursor_row == 1

        await pilot.press("space")
        assert screen.marked == set()


async def test_the_carrier_is_drawn_as_it_lies_with_the_one_under_the_cursor_and_the_marked_ones(
    shop: Shop, held: str, open_app: Open
) -> None:
    shop.do(held, SetPiecesAside("hold", "suspect", load=1, positions=("B1",)), "AA")
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d")
        drawn = " ".join(seen(app).split())
        assert "A [ hold ] rework" in drawn
        assert "B hold waits" in drawn
        await pilot.press("space", "end", "space")
        drawn = " ".join(seen(app).split())
        assert "A hold■ rework" in drawn
        assert "B [ hold■ ] waits" in drawn
        await pilot.press("up")
        assert "hold■" not in seen(app), "a loose piece lies on no carrier"


async def test_a_touched_place_brings_its_piece_under_the_cursor(shop: Shop, held: str, open_app: Open) -> None:
    shop.do(held, SetPiecesAside("hold", "suspect", load=1, positions=("B1",)), "AA")
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d")
        screen = app.screen
        assert isinstance(screen, HoldScreen)
        cell = screen.lying.cell
        await pilot.click(screen.lying, offset=(HEAD + cell // 2, 1 + 2 * screen.lying.step))
        assert screen.chosen is not None
        assert screen.chosen.piece == 3
        await pilot.click(screen.lying, offset=(HEAD + cell + cell // 2, 1 + screen.lying.step))
        assert screen.chosen.piece == 3, "A2 is not held"


async def test_on_a_small_screen_the_list_stands_alone(held: str, open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(60, 20)) as pilot:
        await pilot.press("b", "d")
        screen = app.screen
        assert isinstance(screen, HoldScreen)
        assert not screen.lying.display
        await pilot.resize_terminal(80, 24)
        await pilot.pause()
        assert screen.lying.display
        await pilot.resize_terminal(60, 20)
        await pilot.pause()
        assert not screen.lying.display


async def test_what_is_to_be_counted_blind_is_not_drawn(shop: Shop, held: str, open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d")
        assert "[ hold ]" in " ".join(seen(app).split())
        shop.do(held, OfferHandover(), "LL")
        app.screen.update_all()  # type: ignore[attr-defined]
        await pilot.pause()
        assert "[ hold ]" not in " ".join(seen(app).split())


async def test_nothing_held_says_so(batch: str, open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d", "space", "asterisk", "enter")
        assert isinstance(app.screen, HoldScreen)
        assert "Nothing is on hold" in words(app)


def test_picture_of_the_held_pieces(picture: Picture, held: str, open_app: Open) -> None:
    """Two of three marked by a sign, the one under the cursor with its reason and on its pallet, what is in rework."""
    picture(open_app(), press=["b", "d", "down", "space", "up", "space"])


def test_picture_of_deciding(picture: Picture, held: str, open_app: Open) -> None:
    """The pieces meant and what can be done with them."""
    picture(open_app(), press=["b", "d", "enter"])


def test_picture_of_the_reason(picture: Picture, held: str, open_app: Open) -> None:
    """Scrapping: the review line, what to do with the pieces, picked phrases, and that a reason is missing."""
    picture(open_app(), press=["b", "d", "enter", "3", "enter"])


@pytest.mark.parametrize(("width", "shown"), [(80, "Fixture… 1 A2"), (160, "Fixture pallet of cast iron 1 A2")])
async def test_the_place_of_a_held_piece_is_read_at_any_width(
    shop: Shop, clock: ManualClock, width: int, shown: str
) -> None:
    plain = part()
    carriers = tuple(replace(one, name=f"Fixture {one.name.lower()} of cast iron") for one in plain.carriers)
    id = shop.open_batch(OpenBatch("B0001", replace(plain, carriers=carriers), "d", "part.toml", 8, 12), by="LL").id
    hand = SimulatedOperator(shop, id, "AA", clock, second="BB")
    load = hand.form(10)
    hand.work(load)
    hand.do(SetPiecesAside("hold", "a corner is bent", load=load, positions=("A2",)))
    app = FloorApp(shop, who="LL", ticking=False)
    async with app.run_test(size=(width, 24)) as pilot:
        await pilot.press("b", "d")
        assert shown in seen(app)


async def test_where_good_pieces_are_scrapped_it_is_told_that_they_count_as_used_in_tests(
    shop: Shop, clock: ManualClock, open_app: Open
) -> None:
    """Set aside, or decided on while held; and told no longer once none is wanted."""
    opening = OpenBatch(shop.find_next_id(), part(), "digest", "part.toml", 4, 8, tests={10: 1})
    id = shop.open_batch(opening, "LL").id
    hand = SimulatedOperator(shop, id, "AA", clock, second="BB")
    load = hand.form(10)
    hand.work(load)
    hand.do(SetPiecesAside("hold", "doubtful", load=load, positions=("A1",)))
    told = "count as used in tests, even by accident (1 still wanted of op 10)"
    app = open_app("LL")
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.press("b", "m")
        assert told in " ".join(words(app).split())
        await pilot.press("escape", "d", "enter", "3")
        assert told in " ".join(words(app).split())
        await fill(pilot, "torn in the pull test")
        await pilot.press("2", "escape", "m")
        assert "Set pieces aside" in words(app)
        assert "counts as used" not in words(app)
