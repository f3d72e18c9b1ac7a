"""One key finds anything by its name: what it is on opens, a key of the screen is pressed."""

from __future__ import annotations

import pytest

from floor.batch.state import Batch
from floor.screens.batch.screen import BatchScreen
from floor.screens.frame.find import FindDialog
from floor.screens.plan.screen import PlanScreen
from floor.screens.shop.what_next import NextScreen
from floor.screens.walk.begin_run import BeginScreen
from floor.screens.walk.screen import WalkScreen
from floor.shop import find_tagged
from floor.shop.find_named import find_named, list_named
from floor.shop.find_tagged import BatchPlace, PersonPlace, RunPlace, ToolPlace, WaitingPlace
from tests.screens.conftest import Open
from tests.screens.keys import words
from tests.screens.operator import Place


def test_each_kind_of_thing_goes_by_its_words(place: Place) -> None:
    walked, waiting = place.load(), place.load()
    run = place.at(walked, "Clamp the pallet")
    batch, named = place.batch, list_named(place.shop)

    def first(text: str) -> object:
        return find_named(named, text)[0].place

    assert first(place.id.lower()) == BatchPlace(place.id, closed=False)
    assert first("pallet 1 op") == RunPlace(place.id, run)
    assert first("mill pallet") == RunPlace(place.id, run), "by its station too"
    assert first(f"pallet 2 {place.id}") == WaitingPlace(place.id, waiting)
    assert isinstance(first(f"tool {batch.checklist.tools[0].number}"), ToolPlace)
    assert first("sign in bb") == PersonPlace("BB")
    assert find_named(named, "no such thing") == []
    assert find_named(named, "  ") == [], "nothing typed finds nothing"
    assert len(find_named(named, "pallet", most=1)) == 1


@pytest.mark.parametrize(
    ("typed", "screen"),
    [("pallet 1 op", WalkScreen), ("pallet 2", BeginScreen), ("B0001", BatchScreen), ("finish dates", PlanScreen)],
)
async def test_what_is_found_opens(open_app: Open, place: Place, typed: str, screen: type) -> None:
    place.at(place.load(), "Clamp the pallet")
    place.load()
    before, app = place.batch.seq, open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("/", *("space" if one == " " else one for one in typed), "enter")
        await pilot.pause()
        assert isinstance(app.screen, screen), words(app)
    assert place.batch.seq == before, "nothing is recorded by finding"


async def test_the_records_are_read_once_however_much_is_typed(
    open_app: Open, place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Batch] = []

    def list_lots(batch: Batch) -> list[tuple[str, str]]:
        asked.append(batch)
        return []

    monkeypatch.setattr(find_tagged, "list_recorded_lots", list_lots)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("/", *"zzz")
    assert len(asked) == 1


async def test_the_cursor_chooses_and_escape_leaves(open_app: Open, place: Place) -> None:
    place.load()
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("/", *"zz")
        assert "Nothing here has that name" in words(app)
        await pilot.press("enter")
        assert isinstance(app.screen, FindDialog)
        await pilot.press("escape")
        assert isinstance(app.screen, NextScreen)
        await pilot.press("/", *"pallet", "down", "up", "enter")
        assert isinstance(app.screen, BeginScreen)
