"""A filled order by the documented keys: shown first on every screen, decided from the list, spares taken back."""

from __future__ import annotations

from floor.app import FloorApp
from floor.batch.lifecycle.commands import StartPieces
from floor.screens.batch.screen import BatchScreen
from floor.screens.forms.dialogs import ChoiceDialog
from floor.screens.shop.what_next import NextScreen
from tests.screens.keys import fill, words
from tests.screens.operator import Place


def fill_order(place: Place) -> None:
    """Eight ordered and through; four started in addition wait for the first operation."""
    for _ in range(2):
        load = place.load()
        place.through(load, 10, 20)
        place.hand.clock.forward(12 * 3600)
        place.through(load, 30)
    place.hand.clock.forward(48 * 3600)
    for op in (40, 50):
        while place.batch.waiting(op):
            place.through(place.hand.form(op), op)
    place.hand.do(StartPieces(2))
    assert place.batch.total("finished") == 8


async def test_the_list_says_it_first_and_the_rest_is_kept_and_taken_back(place: Place) -> None:
    fill_order(place)
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        assert isinstance(app.screen, NextScreen)
        assert app.screen.due[0].go == "surplus"
        assert "! B0001: ORDER FILLED: 8 of 8 good; 4 pieces in process are not needed" in words(app)
        await pilot.press("enter")
        assert isinstance(app.screen, ChoiceDialog)
        await pilot.press("4")
        assert "needs a lead" in words(app), "before a reason is typed"
        await pilot.press("enter", "3")
        await fill(pilot, "for the next order")
        assert place.batch.total("spare") == 4
        assert [due.go for due in app.screen.due] == ["close"]

        await pilot.press("b", "d", "2")
        assert isinstance(app.screen, ChoiceDialog)
        assert [choice.text for choice in app.screen.choices] == ["take back 4 spares before op 10"]
        await pilot.press("1", "1", "enter")
        await fill(pilot, "one came back")
        assert (place.batch.total("spare"), place.batch.waiting(10)) == (3, [9])


async def test_going_on_up_to_an_operation_is_asked_for_by_its_number(place: Place) -> None:
    fill_order(place)
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("enter", "2", "2", "5", "enter")
        await fill(pilot, "to free the pallet")
        assert "There is no op 25 in the route" in words(app)
        await pilot.press("escape", "enter", "2", "2", "0", "enter")
        await fill(pilot, "to free the pallet")
        assert place.batch.goes_on is not None
        assert place.batch.goes_on.until == 20
        assert [due.go for due in app.screen.due] == ["form"]  # type: ignore[attr-defined]


async def test_the_batch_asks_for_no_work_that_the_order_does_not_need(place: Place) -> None:
    fill_order(place)
    place.hand.form(10, 2)
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b")
        assert isinstance(app.screen, BatchScreen)
        done = "m: set aside"  # finished pieces
        assert [row[-1] for row in app.screen.table.filled] == ["not needed: d decides"] * 2 + [done]
        await pilot.press("d", "1")
        await fill(pilot, "the customer takes them")
        assert [row[-1] for row in app.screen.table.filled] == ["Mill the groove", "to load on a Pallet", done]
