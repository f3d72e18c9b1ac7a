"""A whole load with one hand on the numeric keypad, or on the mouse: from What next to its release."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import OptionList

from floor.app import FloorApp
from floor.batch.counting.scrap import list_open_scrap
from floor.batch.lifecycle.commands import OpenBatch
from floor.screens.forms.dialogs import AnswerText, ChoiceDialog, ConfirmDialog
from floor.screens.frame.key_guard import GAP
from floor.screens.frame.key_line import KeyLine
from floor.screens.shop.what_next import NextScreen
from floor.screens.walk.begin_run import BeginScreen
from floor.screens.walk.count_form import CountScreen
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import edited
from tests.screens.conftest import Open
from tests.screens.keys import words
from tests.screens.operator import Place

SIZE = (80, 24)
LOOKED_AT = (
    '{ gate = "measured", what = "oven temperature", at = "load", per = "load", low = "145 degC", high = "155 degC" }',
    '{ gate = "confirmed", do = "The oven shows 150", at = "load" }',
)
"""An edit of the test part: no value to type. A mouse types none, and a finger has the keyboard of its tablet."""


async def work_the_load(
    app: FloorApp, pilot: Pilot[Any], place: Place, open_first: Callable[[], Awaitable[None]],
    yes: Callable[[], Awaitable[None]], enter: Callable[[], Awaitable[None]],
    fill: Callable[[str], Awaitable[None]], mark_first: Callable[[], Awaitable[None]],
    choose_first: Callable[[], Awaitable[None]],
) -> None:  # fmt: skip
    """Load a tray, start the run, walk, count one piece burnt, mark it, release: by nothing but these acts."""
    for _ in range(60):
        await pilot.pause()
        screen, at = app.screen, place.batch.seq
        place.clock.forward(20)
        if isinstance(screen, ConfirmDialog):
            await enter()
            assert app.screen is screen, "Enter answers no question"
            await yes()
            assert place.batch.seq > at, words(app)
        elif isinstance(screen, BeginScreen):
            await yes()
            assert app.screen is not screen, words(app)
        elif isinstance(screen, CountScreen):
            await mark_first()
            await enter()
        elif isinstance(screen, ChoiceDialog):
            await choose_first()
            assert place.batch.seq > at, words(app)
        elif isinstance(screen, NextScreen):
            await open_first()
        else:
            assert isinstance(screen, WalkScreen)
            line = screen.get_walk().current
            if line is None:
                return
            if line.kind == "end":
                place.clock.forward(90 * 60)
                app.advance_clocks()
            if screen.asks.inputs:
                await fill("150")
            else:
                await enter()
    raise AssertionError(f"the load is not released:\n{words(app)}")


def check_released(place: Place) -> None:
    (run,) = [one for one in place.batch.runs.values() if one.op == 40]
    assert run.released
    assert run.count is not None
    assert [(mark.reason, len(mark.pieces)) for mark in run.count.marks] == [("burnt", 1)]
    assert not list_open_scrap(place.batch), "it was marked"


def wait_for_the_oven(shop: Shop, clock: ManualClock, *edits: tuple[str, str]) -> Place:
    """A small order whose pieces all wait for a tray."""
    id = shop.open_batch(OpenBatch("B0001", edited(*edits), "digest", "part.toml", 4, 4), by="LL").id
    place = Place(shop, id, clock)
    place.through(place.load(), 10, 20, 30)
    clock.forward(49 * 3600)  # until the recoat window is open
    return place


async def test_the_numeric_keypad_alone_does_a_whole_load(shop: Shop, clock: ManualClock, open_app: Open) -> None:
    place = wait_for_the_oven(shop, clock)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:

        def keys(*pressed: str) -> Callable[[], Awaitable[None]]:
            return lambda: pilot.press(*pressed)

        async def fill(value: str) -> None:
            await pilot.press(*value, "enter")

        await work_the_load(app, pilot, place, keys("enter"), keys("+"), keys("enter"), fill, keys("1"), keys("1"))
    check_released(place)


async def test_the_mouse_alone_does_a_whole_load(shop: Shop, clock: ManualClock, open_app: Open) -> None:
    place = wait_for_the_oven(shop, clock, LOOKED_AT)
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:

        async def click_key(action: str) -> None:
            line = app.screen.query_one(KeyLine)
            at = next(n for n in range(SIZE[0]) if (key := line.find_key_at(n)) and key.action == action)
            await pilot.click(KeyLine, offset=(at + 1, 0))

        async def open_first() -> None:
            await pilot.click("#due", offset=(10, 1))

        async def yes() -> None:
            if isinstance(app.screen, ConfirmDialog):
                app.screen.opened -= GAP  # nobody waits here as long as it takes to read
                await pilot.click(app.screen.query(AnswerText).first())
            else:
                await click_key("begin")

        async def enter() -> None:
            if not isinstance(app.screen, ConfirmDialog):
                await click_key("count" if isinstance(app.screen, CountScreen) else "confirm")

        async def fill(value: str) -> None:
            raise AssertionError("nothing is typed")

        async def mark_first() -> None:
            await pilot.click("#reasons", offset=(5, 1))

        async def choose_first() -> None:
            await pilot.click(OptionList, offset=(5, 0))

        await work_the_load(app, pilot, place, open_first, yes, enter, fill, mark_first, choose_first)
    check_released(place)


@pytest.mark.parametrize(("key", "answer"), [("y", True), ("+", True), ("-", False), ("escape", False)])
async def test_a_question_is_answered_by_its_keys(open_app: Open, key: str, answer: bool) -> None:
    answers: list[bool | None] = []
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.push_screen(ConfirmDialog("Sure?"), answers.append)
        await pilot.press("enter", "space", *"0123456789", ".")
        assert answers == [], "Enter and digits are no answer: a label begins with them"
        await pilot.press(key)
        assert answers == [answer]


@pytest.mark.parametrize("yes", [True, False])
async def test_a_question_is_answered_by_a_click_on_the_answer(open_app: Open, yes: bool) -> None:
    answers: list[bool | None] = []
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.push_screen(asked := ConfirmDialog("Sure?"), answers.append)
        await pilot.pause()
        answer = next(one for one in asked.query(AnswerText) if one.yes is yes)
        await pilot.click(answer)
        assert answers == [], "the second click of two brought the question up"
        asked.opened -= GAP
        await pilot.click(answer)
        assert answers == [yes]
