"""What an operation requires to be proved, how and why a step is done: one key away, and nothing is lost by looking."""

from __future__ import annotations

import pytest
from textual.widgets import Input

from floor.app import FloorApp
from floor.batch.gates.commands import Waive
from floor.batch.lifecycle.commands import OpenBatch
from floor.screens.forms.dialogs import TextDialog
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import edited
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


WHY = ("Why: a chip under the pallet tilts it", "How: wipe both faces with the palm of the hand")
MORE = f'more = ["{WHY[0]}", "{WHY[1]}"]'
PROBED = '{ gate = "probed", offset = "G54", axes = [{ name = "X", low = "-1 mm"'


@SIZES
async def test_a_step_leads_to_how_and_why_with_one_key_and_forces_it_on_nobody(
    shop: Shop, clock: ManualClock, size: tuple[int, int]
) -> None:
    """CBP-24: at a step by its letter, inside a field by a key that types nothing; another line has no such hint."""
    checklist = edited(
        ('{ do = "Clamp the pallet", ', f'{{ do = "Clamp the pallet", {MORE}, '),
        (PROBED, PROBED.replace('offset = "G54"', f'offset = "G54", {MORE}')),
    )
    id = shop.open_batch(OpenBatch("B0001", checklist, "d", "part.toml", 8, 10), by="LL").id
    place = Place(shop, id, clock)
    load = place.load()
    run = place.at(load, "Clamp the pallet")
    app = FloorApp(shop, who="AA", ticking=False)
    async with app.run_test(size=size) as pilot:
        app.go_walk(id, run)
        await pilot.pause()
        before = place.batch.seq
        hints = []
        for title, key in (
            ("Clamp the pallet", "v"),
            ("Press each corner: nothing rocks", ""),
            ("Probe G54 X Z", "ctrl+g"),
        ):
            place.at(load, title)
            app.update_screens()
            await pilot.pause()
            assert "Why: a chip" not in words(app), "nobody has to read it"
            hints.append(str(app.screen.query_one("#step-keys").content).replace("\n", "    "))  # type: ignore[attr-defined]
            if key:
                await pilot.press(key)
                assert isinstance(app.screen, TextDialog)
                assert app.screen.heading == title
                said = " ".join(words(app).split())
                assert said.index(WHY[0]) < said.index(WHY[1]) < said.index("Op 10: required checks")
                await pilot.press("escape")
        assert [hint.partition("    ")[2].rpartition("    ")[2] for hint in hints] == [
            "v: how and why", "", "Ctrl+G: how and why",
        ]  # fmt: skip
        assert {entry.by for entry in place.batch.entries[before:]} == {"AA"}, "of the work alone"


async def test_a_line_looked_at_has_its_how_and_why_too(shop: Shop, clock: ManualClock) -> None:
    checklist = edited(('{ do = "Clamp the pallet", ', f'{{ do = "Clamp the pallet", {MORE}, '))
    id = shop.open_batch(OpenBatch("B0001", checklist, "d", "part.toml", 8, 10), by="LL").id
    place = Place(shop, id, clock)
    run = place.at(place.load(), "Second look at tools and program")
    app = FloorApp(shop, who="AA", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(id, run)
        await pilot.pause()
        app.screen.set_focus(None)
        await pilot.press("down", "v")
        assert isinstance(app.screen, TextDialog)
        assert app.screen.heading == "Clamp the pallet"


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
