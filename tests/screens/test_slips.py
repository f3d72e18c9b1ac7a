"""Slips of a tired hand, and what comes of them: nothing unintended."""

from __future__ import annotations

import pytest

from floor.batch.corrections.commands import Note
from floor.batch.counting.commands import MarkedPieces
from floor.batch.gates.open_lot import OpenLot
from floor.batch.lifecycle.commands import FormLoad, OpenBatch, SetPiecesAside
from floor.batch.worklist.due_task import DueTask
from floor.screens.batch.load_pieces import ask_load
from floor.screens.batch.screen import BatchScreen
from floor.screens.forms.dialogs import ConfirmDialog, FormDialog
from floor.screens.frame.sign_in import SignInDialog
from floor.screens.shop.what_next import STEADY, NextScreen
from floor.screens.walk.count_form import CountScreen
from floor.screens.walk.screen import WalkScreen
from floor.shop.simulation import ManualClock
from tests.batch.factory import part
from tests.screens.conftest import Open
from tests.screens.keys import fill, words
from tests.screens.operator import Operator, Place, said

SIZE = (80, 24)


async def test_enter_twice_signs_nobody_in(open_app: Open, place: Place) -> None:
    """The first Enter asks who it is; the second must not be the answer."""
    app = open_app("")
    place.load()
    before = place.batch.seq
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("enter", "enter", "enter")
        assert isinstance(app.screen, SignInDialog)
        assert "Type your initials" in words(app)
        assert app.session.who == ""
        await pilot.press("down", "enter")
        assert app.session.who == "AA", "chosen by the arrow, it is an answer"
        assert isinstance(app.screen, ConfirmDialog), "and the question comes that Enter was for"
        assert place.batch.seq == before
        await pilot.press("enter", "y")
    assert place.batch.seq > before


async def test_what_is_next_stands_still_while_somebody_aims(
    open_app: Open, place: Place, clock: ManualClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The plan is ready a second after the screen; it must not pull the row from under the cursor."""
    place.load()
    place.load()
    app = open_app("AA")

    def turned(planner: object, dues: list[DueTask], now: object) -> tuple[list[DueTask], dict[str, str]]:
        return dues[::-1], {}

    async with app.run_test(size=SIZE) as pilot:
        screen = app.screen
        assert isinstance(screen, NextScreen)
        order = [due.key for due in screen.due]
        assert len(order) >= 2
        await pilot.press("down")
        aimed = screen.chosen()
        assert aimed is not None
        monkeypatch.setattr("floor.screens.shop.what_next.sort_by_plan", turned)
        screen.update_all()
        await pilot.pause()
        assert [due.key for due in screen.due] == order
        assert screen.chosen() == aimed
        clock.forward(STEADY)
        screen.update_all()
        await pilot.pause()
        assert [due.key for due in screen.due] == order[::-1], "then it is the plan's again"
        assert screen.chosen() == aimed, "and the cursor stays with what it stood at"


async def test_what_the_last_carrier_was_taken_from_stands_below_what_is_due_now(
    open_app: Open, place: Place, clock: ManualClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before the next plan too; and that one waits with its order until whoever loaded has gone on from there."""
    place.load()
    place.shop.open_batch(OpenBatch("B0002", part(), "digest", "part.toml", 20, 20), by="LL")
    place.shop.do("B0002", FormLoad(10), "LL")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        screen = app.screen
        assert isinstance(screen, NextScreen)
        loaded = screen.chosen()
        assert loaded is not None
        assert loaded.loading is not None

        await pilot.press("down", "up")
        clock.forward(STEADY - 1)
        await pilot.press("enter")
        assert isinstance(app.screen, ConfirmDialog)
        await pilot.press("y")
        assert [due.urgency for due in screen.due] == ["now"] * 3 + ["blocked"] * 2
        assert [due.key for due in screen.due][2:4] == ["B0001 begin 2 10 ", loaded.key]
        assert screen.chosen() == screen.due[3], "the cursor stays with what it stood at"

        clock.forward(STEADY - 1)
        monkeypatch.setattr("floor.screens.shop.what_next.sort_by_plan", lambda planner, dues, now: (dues[::-1], {}))
        screen.update_all()
        await pilot.pause()
        await pilot.press("up", "enter", "y")
        assert isinstance(app.screen, WalkScreen)
        assert app.screen.current_run.load == 2, "the load that was just made up"


@pytest.mark.parametrize(("count", "said_why"), [(2, True), (4, False)])
async def test_a_load_smaller_than_fits_says_why(open_app: Open, place: Place, count: int, said_why: bool) -> None:
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        assert isinstance(app.screen, NextScreen)
        ask_load(app.screen, place.id, FormLoad(10, count=count), lambda _: None)
        await pilot.pause()
        assert ("The plan starts with 2, as in the earliest finish it found; 4 fit" in words(app)) is said_why


async def test_what_y_records_is_what_the_question_named_or_nothing(open_app: Open, place: Place) -> None:
    """Another terminal takes the pallet between the question and its answer."""
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("enter")
        assert isinstance(app.screen, ConfirmDialog)
        assert "Load 4 of 10 pieces on Pallet 1 for op 10 Mill the groove?" in words(app)
        place.shop.do(place.id, FormLoad(10, count=2), "BB")
        await pilot.press("y")
        assert "Pallet 1 is not free" in said(app)
        assert [(load.carrier_number, load.pieces) for load in place.batch.list_live_loads()] == [(1, (1, 2))]
        await pilot.press("enter")
        assert "on Pallet 2" in words(app), "the next question is about what is free now"


async def test_a_cycle_is_started_only_when_that_is_confirmed(open_app: Open, place: Place) -> None:
    """The question says what y will record; Enter again, another letter and Esc are no answer to it."""
    run = place.at(place.load(), "start")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        before = place.batch.seq
        for no in ("enter", "n", "escape"):
            if not isinstance(app.screen, ConfirmDialog):
                await pilot.press("enter")
            assert "Is the cycle of op 10 running at Mill? Pallet 1 (load 1), 4 pieces." in words(app)
            await pilot.press(no)
            assert place.batch.seq == before, no
        await pilot.press("enter", "y")
        assert place.batch.entries[-1].kind == "cycle_started"


async def test_a_batch_is_closed_only_when_that_is_confirmed(open_app: Open, place: Place) -> None:
    place.shop.do(place.id, SetPiecesAside("scrap", "stock was cracked", op=10, count=2), "LL")
    place.hand.second = "LL"
    operator = Operator(open_app("AA"), place.clock, second="LL")
    app = operator.app
    async with app.run_test(size=SIZE) as pilot:
        await operator.work_on(lambda state: state.total("finished") == 8, place.id)
        await operator.back()
        await pilot.press("enter")
        assert isinstance(app.screen, ConfirmDialog)
        assert "8 of 8 finished, 2 scrap" in words(app)
        await pilot.press("enter", "escape")
        assert place.shop.closed() == []
        await pilot.press("enter", "y")
        assert place.shop.closed() == [place.id]
        assert isinstance(app.screen, NextScreen)
        assert "closed batches: 1" in words(app), "it is not an empty shop"


async def test_a_key_that_is_nearly_a_digit_is_none(open_app: Open, place: Place) -> None:
    """² has a key of its own on some keyboards; Python calls it a digit and cannot read it as a number."""
    run = place.at(place.load(), "count")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("enter", "1", "superscript_two", "²", "٣")
        screen = app.screen
        assert isinstance(screen, CountScreen)
        assert {reason.code for reason in screen.marks.values()} == {"deep"}, "the mark stays"


async def test_what_was_typed_to_set_pieces_aside_stays_until_it_is_right(open_app: Open, place: Place) -> None:
    load = place.load()
    run = place.at(load, "do")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("m")
        await fill(pilot, "", "", "dropped on the floor", "")
        assert isinstance(app.screen, FormDialog)
        assert "enter which places" in words(app)
        await fill(pilot, "Z9", "", "", "")
        assert "o piece sits in Z9" in words(app)
        assert place.batch.total("hold") == 0

        fields = app.screen.query("Input")
        assert [field.value for field in fields] == ["Z9", "hold", "dropped on the floor", "no"]  # type: ignore[attr-defined]
        for field, value in zip(fields, ("A1", "shelf", "dropped on the floor", "no"), strict=True):
            field.value = value  # type: ignore[attr-defined]
        assert app.focused is fields[0], "the cursor is at what is refused"
        await pilot.press("enter", "enter", "enter", "enter")
        assert "enter hold or scrap" in words(app), "an s alone does not scrap a piece"
        fields[1].value = "scrap"  # type: ignore[attr-defined]
        await pilot.press("enter", "enter", "enter", "escape")
        assert isinstance(app.screen, WalkScreen), words(app)
        assert "Set aside as scrap" in words(app)
    assert place.batch.total("scrap") == 1


async def test_loose_pieces_in_rework_are_set_aside_too(open_app: Open, place: Place) -> None:
    place.through(place.load(), 10, 20, 30)
    place.through(place.hand.form(40), 40)
    place.hand.work(place.hand.form(50), marks=(MarkedPieces("scratch", count=1),))
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_batch(place.id)
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, BatchScreen)
        screen.table.move_cursor(screen.rows.index(("pool", 20, "touch up")))
        await pilot.press("m")
        assert "1 piece · waiting for op 20, rework" in words(app)
        await fill(pilot, "1", "hold", "dropped on the floor")
        assert "Set aside as hold" in words(app)
    assert place.batch.total("hold") == 1


async def test_finished_pieces_are_set_aside_from_their_row(open_app: Open, place: Place) -> None:
    place.through(place.load(), 10, 20, 30)
    place.through(place.hand.form(40), 40)
    place.through(place.hand.form(50), 50)
    finished = place.batch.total("finished")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_batch(place.id)
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, BatchScreen)
        screen.table.move_cursor(screen.rows.index(("finished", 0, "")))
        for key in ("enter", "h"):
            await pilot.press(key)
            assert "These are finished; m: set bad ones" in words(app)
        await pilot.press("m")
        assert f"{finished} pieces · finished" in words(app)
        await fill(pilot, "1", "hold", "label doubtful")
        assert "Set aside as hold" in words(app)
    assert (place.batch.total("finished"), place.batch.total("hold")) == (finished - 1, 1)


async def test_a_value_that_was_not_read_so_is_typed_again_in_its_field(open_app: Open, place: Place) -> None:
    run = place.at(place.load(), "Measure groove depth")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        before = place.batch.seq
        await pilot.press("3", "0", "enter", "3", "enter")
        assert isinstance(app.screen, ConfirmDialog)
        await pilot.press("escape")
        screen = app.screen
        assert isinstance(screen, WalkScreen)
        assert app.focused is screen.asks.inputs[0], "not where the last one was typed"
        await pilot.press("3", "enter", "enter")
        await pilot.pause()
    assert place.batch.entries[before].body["values"] == {"value": [3, 3]}


async def test_enter_records_once_a_date_in_the_last_field_is_right(open_app: Open, place: Place) -> None:
    load = place.load()
    place.through(load, 10)
    run = place.at(load, "Record the lot of lacquer")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await fill(pilot, "H-9", "2020-01-31")
        await pilot.pause()
        assert "use one that is still good, and enter its lot number too" in words(app).lower()
        await fill(pilot, "2027-01-31")
        await pilot.pause()
    lot = place.batch.lots["lacquer"]
    assert (lot.lot, str(lot.use_by)) == ("H-9", "2027-01-31")


async def test_a_lot_a_letter_away_from_the_last_one_is_asked_about_once(
    open_app: Open, place: Place, clock: ManualClock
) -> None:
    """A key too many before the number made another lot of it, unasked."""
    load = place.load()
    place.through(load, 10)
    run = place.at(load, "Record the lot of lacquer")
    place.shop.do(place.id, OpenLot("lacquer", "E-200", clock().at.date().isoformat()), "AA")
    clock.forward(24 * 3600)  # past its date: the walk asks for another one
    before = place.batch.seq
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("enter")  # read what was done before the break
        await pilot.pause()
        await fill(pilot, "yE-200", "2027-01-31")
        await pilot.pause()
        assert isinstance(app.screen, ConfirmDialog), words(app)
        assert app.screen.question == "Is yE-200 a different lot from E-200, which was recorded last?"
        await pilot.press("enter")
        assert place.batch.seq == before, "Enter answers nothing"
        await pilot.press("y")
        await pilot.pause()
    assert place.batch.lots["lacquer"].lot == "yE-200"


async def test_what_is_taken_back_is_told_to_its_end_where_two_lines_hold_it(open_app: Open, place: Place) -> None:
    place.clock.forward(70)
    place.shop.do(place.id, Note(f"{'a long story about chips ' * 3}and the coolant"), "AA")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("b", "u")
        assert said(app).endswith("and the coolant")
