"""Help on each screen answers "what do I do here" in five lines, above the keys, on one page."""

from __future__ import annotations

import re

import pytest
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widgets import Input

from floor.app import FloorApp
from floor.screens.forms.dialogs import ConfirmDialog
from floor.screens.frame.keys import KeysDialog, name_key
from floor.screens.frame.screen import BatchFrame, FloorScreen, RunFrame
from floor.screens.plan.screen import PlanScreen
from floor.screens.walk.count_form import CountScreen
from floor.text import count_cells
from tests.screens.conftest import Open
from tests.screens.keys import words
from tests.screens.operator import Place
from tests.screens.test_one_meaning import all_bindings, kinds

FRAMES = {"FloorScreen", "BatchFrame", "RunFrame", "ClosedFrame", "LargeViewScreen"}
"""Not shown themselves, or left by any key."""
KEY = re.compile("`([^`]+)`")
IN_FRONT: dict[str, tuple[type, ...]] = {
    "LessonsScreen": (ConfirmDialog,),
    "OpenBatchScreen": (Input, ConfirmDialog),
    "WhatIfScreen": (Input,),
}
"""Where a field has the keys, and what the last one of them asks."""
LOOSE = re.compile(r"(?<!')\b([b-z]|Enter|Esc|Del|Space|Tab|PgUp|PgDn|Home|F\d|Ctrl\+.)\b")
"""What reads like a key; a single a is mostly a word."""


def shown_screens() -> set[type[FloorScreen]]:
    all_bindings()  # imports every screen
    return {one for one in kinds(FloorScreen) if one.__name__ not in FRAMES and one.__module__.startswith("floor.")}


def test_every_screen_says_what_to_do_in_at_most_five_lines() -> None:
    shown = shown_screens()
    assert len(shown) > 15
    for screen in shown:
        assert 1 <= len(screen.GUIDE) <= 5, screen.__name__
        assert all(count_cells(KEY.sub(r"\1", line)) <= 68 for line in screen.GUIDE), screen.__name__
    assert not any(frame.GUIDE for frame in (FloorScreen, BatchFrame, RunFrame))


def test_each_key_that_a_guide_names_is_a_key_of_that_screen_or_of_the_program(open_app: Open) -> None:
    app, named = open_app(), 0
    for screen in shown_screens():
        holders = (FloorApp, *screen.__mro__, *IN_FRONT.get(screen.__name__, ()))
        of_all = [one for kind in holders for one in vars(kind).get("BINDINGS", ())]
        bindings = [one for one in of_all if isinstance(one, Binding)]
        single = [Binding(key, one.action) for one in bindings for key in one.key.split(",")]
        keys = {name_key(app.get_key_display(one)) for one in (*bindings, *single)}
        for line in screen.GUIDE:
            found = KEY.findall(line)
            named += len(found)
            assert not set(found) - keys, f"{screen.__name__}: {line}"
            assert not LOOSE.search(KEY.sub("", line)), f"{screen.__name__}: a key without its mark: {line}"
    assert named > 25


@pytest.mark.parametrize("size", [(80, 24), (60, 20)])
async def test_it_stands_above_the_keys(open_app: Open, size: tuple[int, int]) -> None:
    app = open_app("AA")
    async with app.run_test(size=size) as pilot:
        await pilot.press("?")
        said = " ".join(words(app).split())
        assert said.index("the most pressing first") < said.index("Resume")
        assert "`" not in said


@pytest.mark.parametrize("where", ["next", "walk", "count", "batch", "history", "plan", "handover"])
async def test_guide_and_all_keys_are_on_one_page_of_a_usual_terminal(place: Place, open_app: Open, where: str) -> None:
    run = place.at(place.load(), "count")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        match where:
            case "walk":
                app.go_walk(place.id, run)
            case "count":
                app.go(CountScreen(app.session, place.id, run))
            case "batch":
                app.go_batch(place.id)
            case "history":
                app.go_batch(place.id)
                await pilot.press("j")
            case "handover":
                app.go_batch(place.id)
                await pilot.press("o")
            case "plan":
                app.go(PlanScreen(app.session))
        await pilot.pause()
        below = app.screen
        assert isinstance(below, FloorScreen)
        await pilot.press("?")
        assert isinstance(app.screen, KeysDialog)
        assert app.screen.query_one(VerticalScroll).max_scroll_y == 0
        said = words(app)
        assert all(KEY.sub(r"\1", line) in said for line in below.GUIDE)
        assert all(row.word in said for row in app.screen.keys)


async def test_a_tall_screen_says_of_every_key_what_it_does(place: Place, open_app: Open) -> None:
    app = open_app("AA")
    async with app.run_test(size=(120, 40)) as pilot:
        app.go_batch(place.id)
        await pilot.press("?")
        assert isinstance(app.screen, KeysDialog)
        assert all(row.said.split()[0] in words(app) for row in app.screen.keys if row.said)
        assert "a batch, load, carrier" in words(app)
