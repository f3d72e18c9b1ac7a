"""Help on each screen answers "what do I do here" in five lines, above the keys."""

from __future__ import annotations

import pytest

from floor.screens.frame.screen import BatchFrame, FloorScreen, RunFrame
from floor.text import count_cells
from tests.screens.conftest import Open
from tests.screens.keys import words
from tests.screens.test_one_meaning import all_bindings, kinds

FRAMES = {"FloorScreen", "BatchFrame", "RunFrame", "ClosedFrame", "LargeViewScreen"}
"""Not shown themselves, or left by any key."""


def test_every_screen_says_what_to_do_in_at_most_five_lines() -> None:
    all_bindings()  # imports every screen
    shown = {one for one in kinds(FloorScreen) if one.__name__ not in FRAMES and one.__module__.startswith("floor.")}
    assert len(shown) > 15
    for screen in shown:
        assert 1 <= len(screen.GUIDE) <= 5, screen.__name__  # type: ignore[attr-defined]
        assert all(count_cells(line) <= 70 for line in screen.GUIDE), screen.__name__  # type: ignore[attr-defined]
    assert not any(frame.GUIDE for frame in (FloorScreen, BatchFrame, RunFrame))


@pytest.mark.parametrize("size", [(80, 24), (60, 20)])
async def test_it_stands_above_the_keys(open_app: Open, size: tuple[int, int]) -> None:
    app = open_app("AA")
    async with app.run_test(size=size) as pilot:
        await pilot.press("?")
        said = words(app)
        assert said.index("the most pressing first") < said.index("Open")
