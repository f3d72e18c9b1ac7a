"""A proof struck out after its load went on is listed as due, and a lead decides on it there."""

from __future__ import annotations

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.corrections.unproved_work import find_open_unproved_work
from floor.screens.shop.what_next import NextScreen
from tests.screens.conftest import Open
from tests.screens.keys import fill, words
from tests.screens.operator import Place


@pytest.mark.parametrize(("digit", "held"), [("2", 0), ("3", 4)])
async def test_a_lead_decides_from_what_is_next(open_app: Open, place: Place, digit: str, held: int) -> None:
    place.through(place.load(), 10)
    probed = next(entry for entry in place.batch.entries if entry.body.get("line") == "probed 1")
    place.shop.do(place.id, StrikeOut(probed.seq, "typed wrong"), "LL")
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, NextScreen)
        assert "Lead decision needed: Probe" in words(app)
        screen.table.move_cursor(row=next(row for row, due in enumerate(screen.due) if due.go == "unproved"))
        await pilot.press("enter", digit)
        await pilot.pause()
        await fill(pilot, "measured all four since")
        await pilot.pause()
        assert not find_open_unproved_work(place.batch)
        assert len(place.batch.held()) == held
        assert "Lead decision needed: Probe" not in words(app)


async def test_d_on_the_batch_goes_to_what_is_to_be_decided(open_app: Open, place: Place) -> None:
    place.through(place.load(), 10)
    probed = next(entry for entry in place.batch.entries if entry.body.get("line") == "probed 1")
    place.shop.do(place.id, StrikeOut(probed.seq, "typed wrong"), "LL")
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "k")
        assert "d: decide on it" in words(app)
        await pilot.press("d", "2")
        await fill(pilot, "measured all four since")
        await pilot.pause()
        assert not find_open_unproved_work(place.batch)


@pytest.mark.parametrize("right", ["E-201", ""], ids=["another", "the one struck out"])
async def test_a_lot_that_was_struck_out_is_entered_as_a_lot(open_app: Open, place: Place, right: str) -> None:
    place.through(place.load(), 10, 20)
    seq = place.batch.lot_entries["lacquer"][0]
    was = place.batch.entries[seq - 1].body["values"]
    lot, use_by = (right, "2027-01-31") if right else (was["lot"], was["use_by"])
    place.shop.do(place.id, StrikeOut(seq, "another can"), "LL")
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, NextScreen)
        screen.table.move_cursor(row=next(row for row, due in enumerate(screen.due) if due.go == "unproved"))
        await pilot.press("enter", "1")
        await pilot.pause()
        await fill(pilot, lot, use_by, "it is on the can")
        await pilot.pause()
        assert not find_open_unproved_work(place.batch)
        assert {run.lots["lacquer"] for run in place.batch.runs.values() if run.lots and run.op == 20} == {lot}
        assert f"Lacquer: lot {lot}, corrected in entry {place.batch.seq}" in words(app)
