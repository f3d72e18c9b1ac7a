"""The closed batches: listed by name, read only when chosen."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from floor.app import FloorApp
from floor.batch.lifecycle.commands import CloseBatch, OpenBatch, SetPiecesAside
from floor.screens.batch.closed import ClosedScreen
from floor.screens.batch.history import HistoryScreen
from floor.screens.batch.process_pages import ProcessScreen
from floor.screens.forms.dialogs import TroubleDialog
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import part
from tests.screens.conftest import Picture
from tests.screens.keys import words

Open = Callable[..., FloorApp]


@pytest.fixture
def closed(shop: Shop) -> list[str]:
    """Two batches whose pieces were all lost, closed by the lead."""
    names = []
    for _ in range(2):
        id = shop.open_batch(OpenBatch(shop.find_next_id(), part(), "digest", "part.toml", 3, 3), by="LL").id
        shop.do(id, SetPiecesAside("scrap", "stock was cracked", op=10, count=3), "LL")
        shop.do(id, CloseBatch("stock was cracked"), "LL")
        names.append(id)
    return names


async def test_the_latest_first_and_what_each_was_without_opening_one(
    shop: Shop, closed: list[str], open_app: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    reading = shop.batch

    def batch(id: str) -> Any:
        asked.append(id)
        return reading(id)

    monkeypatch.setattr(shop, "batch", batch)
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("c", "3")
        screen = app.screen
        assert isinstance(screen, ClosedScreen)
        assert screen.names == closed[::-1]
        await screen.workers.wait_for_complete()
        await pilot.pause()
        assert asked == [], "none is opened"
        shown = ("KB-7 A", "Keeper bracket", "0 of 3", "2026-03-02", "2026-03-02")
        assert screen.table.filled == [("B0002", *shown), ("B0001", *shown)]

        await pilot.press("down", "enter")
        assert isinstance(app.screen, HistoryScreen)
        assert set(asked) == {closed[0]}

        await pilot.press("escape")
        assert app.screen is screen
        await pilot.press("escape")
        assert app.screen.__class__.__name__ == "NextScreen"


async def test_damage_is_reported_whether_the_rest_can_be_read_or_not(
    bare_shop: Shop, closed: list[str], clock: ManualClock
) -> None:
    first, second = (next(bare_shop.folder.rglob(f"{name}.json")) for name in closed)
    bare_shop.close()
    second.write_bytes(b"nothing of a record")
    raw = first.read_bytes()
    assert b"stock was cracked" in raw
    first.write_bytes(raw.replace(b"stock was cracked", b"stock was perfect"))

    shop = Shop(bare_shop.folder, clock)
    app = FloorApp(shop, who="LL", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("c", "3", "enter")
        assert isinstance(app.screen, ClosedScreen)
        assert "B0002 cannot be opened" in words(app)

        await pilot.press("down", "enter")
        assert isinstance(app.screen, TroubleDialog)
        assert "B0001" in words(app)
        await pilot.press("enter")
        assert isinstance(app.screen, HistoryScreen)
    shop.close()


async def test_none_closed_says_so(batch: str, open_app: Open) -> None:
    app = open_app("LL")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("c", "3", "enter")
        assert isinstance(app.screen, ClosedScreen)
        assert "No batch is closed yet" in words(app)


@pytest.mark.parametrize(
    ("digit", "title"), [("1", "losses"), ("2", "measured values"), ("3", "key figures"), ("4", "lessons")]
)
async def test_the_pages_about_the_process_are_of_closed_batches_too(
    closed: list[str], open_app: Open, digit: str, title: str
) -> None:
    app = open_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("c", "3", "v", digit)
        assert isinstance(app.screen, ProcessScreen)
        assert title in words(app).split("\n")[0]
        assert "it can only be read" in words(app)
        await pilot.press("right", "left", "escape")
        assert isinstance(app.screen, ClosedScreen)


def test_picture_of_the_closed_batches(picture: Picture, closed: list[str], open_app: Open) -> None:
    """Both by name, with what came of each."""

    async def looked(pilot: Any) -> None:
        await pilot.press("c", "3")
        await pilot.app.screen.workers.wait_for_complete()
        await pilot.pause()

    picture(open_app(), run_before=looked)
