"""The tour of the demo: done by the keys that it names, and in nobody's way."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

import floor.screens.batch.process
import floor.screens.batch.screen
import floor.screens.plan.screen
import floor.screens.shop.what_next
import floor.screens.walk.count_form
import floor.screens.walk.screen
from floor.app import FloorApp
from floor.batch.event_base import KINDS
from floor.batch.events import Counted
from floor.screens.frame.tour import BACK, BEFORE, STEPS, Tour, TourStep
from floor.shop import Shop
from floor.shop.demo import DAY, make_demo
from tests.screens.conftest import MORNING, Picture
from tests.screens.keys import words

MODULES = (
    floor.screens.batch.process, floor.screens.batch.screen, floor.screens.plan.screen, floor.screens.shop.what_next,
    floor.screens.walk.count_form, floor.screens.walk.screen,
)  # fmt: skip


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    from floor.shop.simulation import ManualClock

    folder = tmp_path_factory.mktemp("tour") / "demo"
    make_demo(folder, ManualClock(MORNING)).close()
    return folder


@pytest.fixture
def shop(made: Path, tmp_path: Path) -> Iterator[Shop]:
    from floor.shop.simulation import ManualClock

    folder = tmp_path / "demo"
    shutil.copytree(made, folder)
    opened = Shop(folder, ManualClock(MORNING))
    yield opened
    opened.close()


@dataclass(frozen=True)
class Noted:
    kind: str


@dataclass(frozen=True)
class Recorded:
    """As much of a batch as a tour looks at."""

    id: str
    entries: list[Any]


def test_each_step_names_a_screen_or_a_kind_of_entry_that_there_is() -> None:
    screens = {name for module in MODULES for name in vars(module)}
    assert all(step.screen in screens or step.entry in KINDS.values() for step in STEPS[:-1])
    assert (STEPS[-1].screen, STEPS[-1].entry) == ("", None)
    assert {step.on for step in STEPS} <= {"", *BACK}
    assert set(BACK) <= screens
    assert set(BEFORE) == set(BACK) - {"NextScreen"}


async def test_the_whole_tour_by_the_keys_that_it_names(shop: Shop) -> None:
    tour = Tour()
    app = FloorApp(shop, DAY, ticking=False, tour=tour)
    async with app.run_test(size=(80, 24)) as pilot:

        async def press(at: int, *keys: str) -> None:
            """Press the keys of the present step; the next one then stands on the screen."""
            assert tour.at == at
            assert STEPS[at].text in words(app)
            for key in keys:
                await pilot.press(key)
                await pilot.pause()
            assert tour.at == at + 1, words(app)
            assert STEPS[at + 1].text in words(app)

        await press(0, "enter")
        await press(1, "enter")
        while tour.at == 2:
            await pilot.press("enter")
            await pilot.pause()
        await press(3, "2", "enter", "1")
        await press(4, "enter")
        await press(5, "escape")
        await press(6, "b")
        await press(7, "v", "1")
        await press(8, "escape", "escape")
        await press(9, "g")
        assert "F12: close" in words(app)
        await pilot.press("f12")
        assert tour.is_over
        assert not app.screen.query_one("#tour").display


async def test_who_went_elsewhere_is_told_the_way_back(shop: Shop) -> None:
    tour = Tour()
    app = FloorApp(shop, DAY, ticking=False, tour=tour)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("enter", "enter", "escape")
        await pilot.pause()
        assert BACK["WalkScreen"] in words(app)
        await pilot.press("g")
        await pilot.pause()
        assert BACK["NextScreen"] in words(app), "by way of what next"
        await pilot.press("escape", "enter")
        await pilot.pause()
        assert STEPS[2].text in words(app), "the load that one was at"


async def test_a_step_is_skipped_and_the_tour_ended_at_once(shop: Shop) -> None:
    tour = Tour()
    app = FloorApp(shop, DAY, ticking=False, tour=tour)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("f10")
        assert "2/11" in words(app)
        await pilot.press("f12")
        assert "/11" not in words(app)
        assert len(shop.batch("B0001").entries) == shop.batch("B0001").seq, "it enters nothing"


async def test_a_skipped_step_tells_the_key_for_where_one_is_and_no_number_jumps_without_a_word(shop: Shop) -> None:
    tour = Tour()
    app = FloorApp(shop, DAY, ticking=False, tour=tour)
    async with app.run_test(size=(80, 24)) as pilot:
        told = []
        for _ in range(7):
            await pilot.press("f10")
            await pilot.pause()
            told.append(tour.line.rpartition("  [")[0])
        assert told == [
            f"2/11  {BACK['WalkScreen']}",
            f"3/11  {BACK['WalkScreen']}",
            f"4/11  {BACK['WalkScreen']}",
            f"5/11  {BACK['WalkScreen']}",
            f"7/11  (6: done already.) {STEPS[6].text}",
            f"8/11  {BACK['BatchScreen']}",
            f"10/11  (9: done already.) {STEPS[9].text}",
        ]


def test_the_count_is_shown_the_way_to_from_the_walk() -> None:
    tour = Tour()
    tour.at, tour.screen = 3, "WalkScreen"
    assert BACK["CountScreen"] in tour.line
    tour.screen = "CountScreen"
    assert STEPS[3].text in tour.line


async def test_without_a_tour_its_keys_do_nothing(shop: Shop) -> None:
    app = FloorApp(shop, DAY, ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("f10", "f12")
        assert not app.screen.query("#tour")


def test_who_goes_on_without_a_step_is_not_held_up() -> None:
    tour = Tour((TourStep("", "open", "Walk"), TourStep("", "count", entry=Counted), TourStep("", "end")))
    batch = Recorded("B0001", [Noted("counted")])
    tour.look("Next", [batch])  # type: ignore[list-item]
    assert tour.at == 0, "what was there before is nobody's step"
    batch.entries.append(Noted("counted"))
    tour.look("Next", [batch])  # type: ignore[list-item]
    assert tour.at == 2
    assert "(2: done already.) end" in tour.line
    tour.end()
    tour.look("Walk", [batch])  # type: ignore[list-item]
    assert tour.line == ""


@pytest.mark.parametrize("n", range(len(STEPS)))
def test_each_step_fits_two_lines_of_80_columns(n: int) -> None:
    tour = Tour()
    tour.at, tour.screen = n, STEPS[n].on
    assert len(tour.line) <= 2 * 76


def test_picture_of_the_tour(shop: Shop, picture: Picture) -> None:
    picture(FloorApp(shop, DAY, ticking=False, tour=Tour()))
