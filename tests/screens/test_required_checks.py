"""What an operation requires to be proved, on one page: one key away on any screen, and nothing is lost by looking."""

from __future__ import annotations

import pytest
from textual.widgets import Input

from floor.app import FloorApp
from floor.batch.gates.commands import Waive
from floor.screens.forms.dialogs import TextDialog
from floor.screens.walk.screen import WalkScreen
from tests.screens.keys import words
from tests.screens.operator import Place

SIZES = pytest.mark.parametrize("size", [(80, 24), (60, 20), (40, 16)], ids="{0[0]}x{0[1]}".format)


@SIZES
async def test_one_key_lists_each_check_as_met_waived_or_not_with_its_evidence(
    place: Place, size: tuple[int, int]
) -> None:
    run = place.at(place.load(), "Second look at tools and program")
    place.shop.do(place.id, Waive(run, "signed 1", "nobody else is in"), "LL")
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=size) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, WalkScreen)
        walked = screen.get_walk()
        await pilot.press("v")
        assert isinstance(app.screen, TextDialog)
        said = " ".join(words(app).split())
        assert said.startswith(f"Op 10: required checks, 4 of {len(walked.gates)} met, 1 waived ")
        at = 0
        for line in walked.gates:
            at = said.index(line.title, at)
        for found in (
            "✓ Load and measure tool 1 met: tool 1, length 4",
            "waived by LL: nobody else is in",
            "◊ Probe G54 X Z not met",
        ):
            assert found in said, said
        box = app.screen.query_one(".dialog")
        await pilot.press("end")
        assert box.scroll_y == box.max_scroll_y, "and all of it can be read"
        assert max(map(len, words(app).splitlines()[2:])) <= box.content_size.width
        await pilot.press("escape")
        assert app.screen is screen
        assert screen.get_walk().place == walked.place


async def test_from_inside_a_field_too_and_what_was_typed_stays(place: Place) -> None:
    run = place.at(place.load(), "Probe G54 X Z")
    app = FloorApp(place.shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        screen, before = app.screen, place.batch.seq
        await pilot.press("0", ".", "5", "ctrl+g")
        assert isinstance(app.screen, TextDialog)
        await pilot.press("enter")
        assert app.screen is screen
        assert isinstance(app.focused, Input)
        assert app.focused.value == "0.5"
        assert place.batch.seq == before


async def test_what_is_out_of_the_ordinary_can_be_read_to_its_end(place: Place) -> None:
    """On a small screen it is longer than the page."""
    app = FloorApp(place.shop, who="LL", ticking=False)
    async with app.run_test(size=(60, 20)) as pilot:
        app.push_screen(TextDialog("All of it", "\n".join(f"Line {number}" for number in range(60))))
        await pilot.pause()
        box = app.screen.query_one(".dialog")
        assert box.max_scroll_y > 0
        for key, wanted in (("down", 1), ("up", 0), ("end", box.max_scroll_y), ("home", 0)):
            await pilot.press(key)
            assert box.scroll_y == wanted, key
        await pilot.press("pagedown")
        assert box.scroll_y > 1
