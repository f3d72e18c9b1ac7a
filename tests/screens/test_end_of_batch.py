"""The end of a batch: what is next says it can be closed, or what keeps it open and which key settles that."""

from __future__ import annotations

import pytest

from floor.app import FloorApp
from floor.batch.gates.commands import Waive
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.screens.batch.screen import BatchScreen
from floor.screens.forms.dialogs import FormDialog
from floor.screens.shop.what_next import NextScreen
from tests.screens.keys import fill, words
from tests.screens.operator import Place


@pytest.fixture
def done(place: Place) -> Place:
    """Every piece is accounted for, and a gate is still waived."""
    load = place.load()
    run = place.at(load, "Measure groove depth")
    line = place.hand.current(load)
    assert line is not None
    place.shop.do(place.id, Waive(run, line.key, "gauge is away"), "LL")
    place.through(load, 10)
    on = place.batch.loads[load]
    names = tuple(place.batch.format_slot(on, piece) for piece in place.batch.present(on))
    place.hand.do(SetPiecesAside("scrap", "dropped", load=load, positions=names))
    place.hand.do(SetPiecesAside("scrap", "dropped", op=10, count=len(place.batch.waiting(10))))
    return place


async def test_what_is_left_is_on_the_list_and_named_with_its_key(done: Place) -> None:
    app = FloorApp(done.shop, who="LL", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = app.screen
        assert isinstance(screen, NextScreen)
        assert [due.sentence for due in screen.due] == [
            "Resolve, then close the batch: waiver open: Measure groove depth"
        ]
        await pilot.press("enter")
        assert isinstance(app.screen, BatchScreen)
        assert "d: 1 open waiver" in words(app)
        await pilot.press("k")
        assert "waiver open: Measure groove depth    d: waivers" in words(app)

        await pilot.press("d", "2", "1")
        await fill(pilot, "measured on Monday, all in")
        assert "k: close the batch" in words(app)
        await pilot.press("escape")
        assert [due.go for due in screen.due] == ["close"]
        assert "Close the batch" in screen.due[0].sentence


async def test_closing_from_the_list_is_asked_about_and_leaves_no_empty_table(done: Place) -> None:
    app = FloorApp(done.shop, who="LL", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d", "2", "1")
        await fill(pilot, "measured")
        await pilot.press("escape", "enter")
        assert isinstance(app.screen, FormDialog)
        assert "0 of 8 finished, 10 scrap? Still open: 10 pieces of scrap not on record as marked" in words(app)
        await pilot.press("escape")
        assert done.batch.closed is None
        await pilot.press("enter", "enter")
        assert isinstance(app.screen, FormDialog), "a batch that is short is closed with a reason"
        await fill(pilot, "the floor was wet")
        assert app.session.shop.closed() == [done.id]
        assert "No batch is open" in words(app)
        assert "c   closed batches: 1" in words(app)


async def test_closing_from_the_batch_is_no_trouble(done: Place) -> None:
    app = FloorApp(done.shop, who="LL", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "d", "2", "1")
        await fill(pilot, "measured")
        await pilot.press("k")
        await fill(pilot, "the floor was wet")
        await pilot.pause()
        assert isinstance(app.screen, NextScreen)
        assert f"✓ Batch {done.id} is closed. c: closed batches" in words(app)
