"""The view for the wall: late before now before what runs, large where there is room, every line accounted for."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.app import FloorApp
from floor.batch.worklist.due_task import DueTask
from floor.screens.shop.wall import WallGroup, WallScreen, draw_wall, group_wall
from floor.screens.shop.what_next import NextScreen
from floor.text import count_cells
from tests.screens.conftest import Open
from tests.screens.keys import words
from tests.screens.operator import Place

WHO, WHEN = ["Pallet 1 Mill", "Tray 12 Oven", ""], ["07:30", "over 2 h 05", ""]
LINES = st.tuples(st.sampled_from(WHO), st.sampled_from(WHEN), st.text("abc ", max_size=60))
HEADS = st.sampled_from(["LATE", "NOW", "RUNS"])
GROUPS = st.lists(
    st.builds(WallGroup, HEADS, st.just("bold"), st.lists(LINES, min_size=1, max_size=9).map(tuple)), max_size=3
)


@given(GROUPS, st.integers(30, 200), st.integers(4, 70))
def test_it_fits_and_what_has_no_room_is_counted(groups: list[WallGroup], width: int, height: int) -> None:
    rows = draw_wall(groups, width, height).plain.split("\n")
    assert len(rows) <= height + 1
    assert all(count_cells(row) <= width for row in rows)
    more = re.search(r"^and (\d+) more$", rows[-1])
    many = sum(len(group.lines) for group in groups)
    if more is not None:
        assert 1 <= int(more[1]) <= many


def test_what_is_late_comes_first() -> None:
    def due(urgency: str, what: str, run: int | None = None) -> DueTask:
        return DueTask(urgency, None, "B1", what, "Mill", run=run)  # type: ignore[arg-type]

    tasks = [due("now", "load"), due("later", "soak", 1), due("overdue", "recoat"), due("blocked", "waits", 2)]
    name = when = {one.key: "" for one in tasks}
    groups = group_wall(tasks, name, when)
    assert [(group.head, [what for _, _, what in group.lines]) for group in groups] == [
        ("LATE", ["recoat"]), ("NOW", ["load"]), ("RUNS", ["soak"])
    ]  # fmt: skip


@pytest.mark.parametrize("size", [(80, 24), (160, 50), (60, 20), (40, 16)])
async def test_it_is_opened_by_a_key_and_left_by_any(open_app: Open, place: Place, size: tuple[int, int]) -> None:
    place.at(place.load(), "Clamp the pallet")
    app = open_app("AA")
    async with app.run_test(size=size) as pilot:
        await pilot.press("v")
        assert isinstance(app.screen, WallScreen)
        assert "NOW" in words(app)
        assert "Clamp the pallet" in words(app)
        await pilot.press("enter")
        assert isinstance(app.screen, NextScreen)


async def test_it_can_be_opened_at_once(place: Place) -> None:
    app = FloorApp(place.shop, ticking=False, wall=True)
    async with app.run_test(size=(80, 24)):
        assert isinstance(app.screen, WallScreen)
