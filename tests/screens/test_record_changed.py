"""Open screens while their record is changed, moved away or read-only."""

from __future__ import annotations

from pathlib import Path

import pytest

from floor.app import AGAIN, FloorApp
from floor.batch.corrections.commands import Note
from floor.ledger import Replaced
from floor.ledger.backup import restore_folder
from floor.screens.batch.screen import BatchScreen
from floor.screens.forms.dialogs import TroubleDialog
from floor.screens.forms.fields import Errors, Values, collect_errors
from floor.screens.frame.sign_in import SignInDialog
from floor.screens.frame.too_small import TooSmall
from floor.screens.shop.what_next import NextScreen
from floor.shop.maintenance import make_backup
from tests.screens.keys import words
from tests.screens.operator import Operator, Place

SIZE = (80, 24)


@pytest.fixture
def app(place: Place) -> FloorApp:
    return FloorApp(place.shop, who="LL", ticking=False)


@pytest.fixture
def keys(app: FloorApp, place: Place) -> Operator:
    return Operator(app, place.clock, "BB")


@pytest.mark.parametrize("noticed", ["by a key", "by looking"])
@pytest.mark.parametrize("where", ["walk", "batch"])
async def test_a_screen_of_what_is_no_longer_there_is_not_left_standing(
    place: Place, app: FloorApp, keys: Operator, where: str, noticed: str
) -> None:
    copy = make_backup(place.shop)
    run = place.at(place.load(), "Clamp the pallet")
    async with app.run_test(size=SIZE):
        if where == "walk":
            app.go_walk(place.id, run)
            await keys.line()
        else:
            app.go_batch(place.id)
            await keys.until(lambda: isinstance(app.screen, BatchScreen) and app.screen.is_mounted, "the batch")
        restore_folder(copy, place.shop.folder / "record")
        if noticed == "by looking":
            app.look()
        elif where == "walk":
            keys.send("enter")
        else:
            app.screen.give(place.id, Note("x"))
        await keys.until(lambda: not app.is_running, "the end")
    assert app.return_value == AGAIN

    again = FloorApp(place.shop, who="LL", ticking=False)
    keys = Operator(again, place.clock, "BB")
    async with again.run_test(size=SIZE):
        await keys.until(lambda: isinstance(again.screen, TroubleDialog), "what happened")
        assert "was replaced by another" in words(again)
        assert place.batch.loads == {}


async def test_a_record_out_of_reach_is_reported_in_the_fixed_line(place: Place, app: FloorApp, keys: Operator) -> None:
    record = place.shop.folder / "record"
    async with app.run_test(size=SIZE):
        await keys.back()
        record.rename(aside := Path("aside"))
        app.look()
        assert isinstance(app.screen, NextScreen)
        assert "out of reach" in str(app.screen.strip.render())
        aside.rename(record)
        app.look()
        assert "out of reach" not in str(app.screen.strip.render())


async def test_a_batch_that_cannot_be_read_stands_in_the_fixed_line(
    place: Place, app: FloorApp, keys: Operator
) -> None:
    async with app.run_test(size=SIZE):
        await keys.back()
        (place.shop.folder / "record" / "B0007.json").mkdir()
        app.look()
        assert "B0007" in str(app.screen.strip.render())


async def test_a_pin_that_cannot_be_checked_for_the_disk_is_an_answer(
    place: Place, app: FloorApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(initials: str, pin: str) -> None:
        raise Replaced("The disk is full.")

    monkeypatch.setattr(place.shop, "_check_pin", full)

    def sign(values: Values) -> Errors:
        place.shop.check_second("BB", values["pin"])
        return {}

    assert collect_errors(sign, {"pin": "0000", "why": "no time"}) == {"": "The disk is full."}


async def test_too_small_is_not_left_standing_beneath_a_dialog(place: Place, app: FloorApp, keys: Operator) -> None:
    app.session.who = ""
    async with app.run_test(size=SIZE) as pilot:
        await keys.back()
        await pilot.resize_terminal(60, 15)
        assert isinstance(app.screen, TooSmall)
        keys.send("ctrl+l")
        await keys.until(lambda: isinstance(app.screen, SignInDialog), "who")
        await pilot.resize_terminal(*SIZE)
        keys.send("escape")
        await keys.until(lambda: isinstance(app.screen, NextScreen), "the opening screen")
