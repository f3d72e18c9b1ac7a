"""Tags from the screens: chosen by one key, readable by a scanner there, printed, saved."""

from __future__ import annotations

import io
import re
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import zxingcpp
from PIL import Image

from floor.app import FloorApp
from floor.screens.batch.screen import BatchScreen
from floor.screens.forms.dialogs import ChoiceDialog
from floor.screens.frame.paper_screen import PaperScreen
from floor.screens.frame.tag_screen import TagScreen
from floor.screens.shop.gauges import GaugesScreen
from floor.screens.shop.people import PeopleScreen
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.find_tagged import NoPlace, find_tagged
from tests.screens.conftest import Open, Picture
from tests.screens.keys import words

SIZE = (80, 24)


def letter_of(app: FloorApp, text: str) -> str:
    """The letter of the first choice with a text."""
    dialog = app.screen
    assert isinstance(dialog, ChoiceDialog), dialog
    return next(dialog.picks[n] for n, one in enumerate(dialog.choices) if text in one.text)


async def choose(pilot: Any, *texts: str) -> None:
    for text in texts:
        await pilot.press(letter_of(pilot.app, text))


def read_screen(app: FloorApp) -> list[str]:
    """What a scanner reads off the screen: each cell two halves, dark where the glyph or the background is."""
    log = app.screen.query_one("#paper")
    region, rows = log.region, []
    for y in range(region.y, region.bottom):
        upper: list[int] = []
        lower: list[int] = []
        for segment in app.screen._compositor.render_strips()[y]:
            style = segment.style
            assert style is not None
            ink = sum(style.color.get_truecolor()) // 3 if style.color else 255
            paper = sum(style.bgcolor.get_truecolor()) // 3 if style.bgcolor else 0
            for sign in segment.text:
                upper.append(ink if sign in "█▀" else paper)
                lower.append(ink if sign in "█▄" else paper)
        rows += [upper, lower]
    picture = np.kron(np.array(rows, dtype=np.uint8), np.ones((4, 4), dtype=np.uint8))
    return [one.text for one in zxingcpp.read_barcodes(picture)]


async def test_the_tag_of_the_load_is_read_off_the_screen(open_app: Open, shop: Shop, half: str) -> None:
    app = open_app("AA")
    run = shop.batch(half).list_open_runs()[0]
    before = shop.batch(half).seq
    async with app.run_test(size=(80, 40)) as pilot:
        app.push_screen(WalkScreen(app.session, half, run.number))
        await pilot.pause()
        await pilot.press("escape", "e")
        await choose(pilot, "Tags for a scanner", f"Tag: {half} load {run.load}")
        assert isinstance(app.screen, TagScreen)
        await pilot.pause()
        [text] = read_screen(app)
        assert text.startswith(f"%L%{half}%{run.load}%")
        assert not isinstance(find_tagged(shop, text), NoPlace)
    assert shop.batch(half).seq == before
    assert not (shop.folder / "papers").exists()


@pytest.mark.parametrize("size", [(80, 24), (60, 20)], ids=["80x24", "60x20"])
async def test_a_code_longer_than_its_place_opens_whole(open_app: Open, half: str, size: tuple[int, int]) -> None:
    """The tag of a box has the most words above its code; no key is needed before a scanner reads it."""
    app = open_app("AA")
    async with app.run_test(size=size) as pilot:
        app.push_screen(BatchScreen(app.session, half))
        await pilot.pause()
        await pilot.press("e")
        await choose(pilot, "Tags for a scanner", "Tag of a box")
        await pilot.pause()
        assert isinstance(app.screen, TagScreen)
        assert app.screen.paper.max_scroll_y > 0
        (read,) = read_screen(app)
        assert read.startswith("%B%")


async def test_tags_are_saved_as_pictures_by_a_key(open_app: Open, shop: Shop, half: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.push_screen(BatchScreen(app.session, half))
        await pilot.pause()
        await pilot.press("e")
        await choose(pilot, "Tags for a scanner", "Tags of pallets", "All 3")
        assert isinstance(app.screen, TagScreen)
        assert "Not saved yet" in words(app)
        await pilot.press("ctrl+s")
        for _ in range(200):
            await pilot.pause(0.05)
            if "Saved " in words(app):
                break
        assert "✓ Saved shop/papers/tag-carrier-pallet-1.svg and 5 more" in words(app)
    names = sorted(one.name for one in (shop.folder / "papers").iterdir())
    assert names == sorted(f"tag-carrier-pallet-{n}.{ending}" for n in (1, 2, 3) for ending in ("svg", "png"))


async def test_a_disk_that_refuses_is_told(open_app: Open, shop: Shop, half: str) -> None:
    (shop.folder / "papers").write_text("a file is in the way")
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.push_screen(PeopleScreen(app.session))
        await pilot.pause()
        await pilot.press("e", "1", "ctrl+s")
        for _ in range(200):
            await pilot.pause(0.05)
            if "Saving" not in words(app):
                break
        assert "✕ Not saved: " in words(app)


def name_printer(shop: Shop, to: Path, most: int = 99) -> None:
    program = to.with_suffix(".py")
    program.write_text(
        f"import sys, pathlib\nto = pathlib.Path({str(to)!r})\nto.mkdir(exist_ok=True)\nn = len(list(to.iterdir()))\n"
        f"if n == {most}: sys.exit('out of labels')\n"
        "(to / str(n)).write_bytes(sys.stdin.buffer.read())\n"
    )
    (shop.folder / "shop.toml").write_text(f'print = "false"\nprint_tags = "{sys.executable} {program}"\n')


async def test_each_tag_is_a_job_and_where_it_stopped_is_told(
    open_app: Open, shop: Shop, half: str, tmp_path: Path
) -> None:
    app = open_app("AA")
    async with app.run_test(size=SIZE) as pilot:
        app.push_screen(BatchScreen(app.session, half))
        await pilot.pause()
        for folder, most, said in (
            ("all", 99, "✓ All 3 sent to the printer."),
            ("two", 2, "✕ 2 of 3 printed. Not printed: out of labels (exit status 1)."),
        ):
            jobs = tmp_path / folder
            name_printer(shop, jobs, most)
            await pilot.press("e")
            await choose(pilot, "Tags for a scanner", "Tags of pallets", "All 3")
            await pilot.press("ctrl+p")
            for _ in range(400):
                await pilot.pause(0.05)
                if "Printing …" not in words(app):
                    break
            assert said in " ".join(words(app).split())
            texts = [decode(one.read_bytes()) for one in sorted(jobs.iterdir())]
            assert [text.split("%")[3] for text in texts] == ["1", "2", "3"][: min(most, 3)]
            await pilot.press("escape")


def decode(png: bytes) -> str:
    return str(zxingcpp.read_barcodes(np.array(Image.open(io.BytesIO(png)).convert("L")))[0].text)


async def test_badges_and_gauges_have_tags_where_they_are_listed(open_app: Open, shop: Shop) -> None:
    shop.add_gauge("DM-04", "Depth micrometer", "2026-09-01", "LL")
    app = open_app("LL")
    async with app.run_test(size=SIZE) as pilot:
        for screen, title, kind in (
            (PeopleScreen(app.session), "Tag: AA, Arne Aas", "P"),
            (GaugesScreen(app.session), "Tag: DM-04, Depth micrometer", "G"),
        ):
            app.push_screen(screen)
            await pilot.pause()
            await pilot.press("e")
            await choose(pilot, title)
            assert isinstance(app.screen, PaperScreen)
            assert re.search(rf"%{kind}%[^%]+%\w{{6}}", app.screen.text)
            await pilot.press("escape", "escape")


async def test_empty_lists_have_no_tags(open_app: Open, shop: Shop) -> None:
    app = open_app("LL")
    async with app.run_test(size=SIZE) as pilot:
        app.push_screen(GaugesScreen(app.session))
        await pilot.pause()
        await pilot.press("e")
        assert isinstance(app.screen, GaugesScreen)


def test_picture_of_a_tag(picture: Picture, open_app: Open, half: str) -> None:
    """The tag of a box, light as paper."""

    async def go(pilot: Any) -> None:
        pilot.app.push_screen(BatchScreen(pilot.app.session, half))
        await pilot.pause()
        await pilot.press("e")
        await choose(pilot, "Tags for a scanner", "Tag of a box")
        await pilot.pause()

    picture(open_app("LL"), run_before=go)
