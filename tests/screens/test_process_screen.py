"""The pages about the process of a batch: opened from the batch, turned by arrows, read of closed batches too."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from floor.app import FloorApp
from floor.screens.batch.process import KeyFiguresScreen, LossScreen, MeasuredScreen
from floor.screens.forms.dialogs import ChoiceDialog
from floor.shop import Shop
from tests.screens.conftest import Open
from tests.screens.keys import words

Snap = Callable[..., bool]
COSTS = """[costs]
currency = "EUR"
labor_hour = 38
stations = { mill = 45, bench = 4.5 }
tools = { "mill 1" = 32 }
"""


async def test_losses_and_measured_values_are_two_keys_from_the_batch(open_app: Open, half: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v")
        assert isinstance(app.screen, ChoiceDialog)
        await pilot.press("1")
        assert isinstance(app.screen, LossScreen)
        assert "page 1 of " in words(app)
        assert "by reason, with the running share" in words(app)
        await pilot.press("escape", "v", "2")
        assert isinstance(app.screen, MeasuredScreen)
        assert "groove depth: " in words(app)


async def test_the_arrows_turn_the_pages_and_nothing_is_recorded(open_app: Open, half: str, shop: Shop) -> None:
    before = shop.batch(half).seq
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v", "1", "right")
        assert "page 2 of " in words(app)
        assert " lost (" in words(app)
        await pilot.press("left", "left")
        last = words(app).split("page ")[1].split("\n")[0]
        number, _, count = last.partition(" of ")
        assert number == count, "before the first page comes the last one"
        await pilot.press(*["right", "enter", "space", "y"] * 3, "escape")
    assert shop.batch(half).seq == before


async def test_where_nothing_is_counted_or_measured_that_is_said(open_app: Open, batch: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v", "1")
        assert "Nothing has been counted yet" in words(app)
        await pilot.press("right", "escape", "v", "2")
        assert "Nothing measured yet" in words(app)
        await pilot.press("right")
        assert "page 1 of 1" in words(app)


async def test_key_figures_of_batch_and_stations_each_with_formulas_and_inputs(open_app: Open, half: str) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v", "3")
        assert isinstance(app.screen, KeyFiguresScreen)
        assert "The whole batch (2 of 10 pieces finished or scrapped)" in words(app)
        assert "OEE index" in words(app)
        assert "worker efficiency" not in words(app), "off: nobody is ranked"
        await pilot.press("right")
        assert "APT / (APT + ADET)" in words(app)
        await pilot.press("right")
        assert "x plan" in words(app)
        await pilot.press("right")
        assert "Cost n/a, because shop.toml names no rates" in words(app)
        await pilot.press("right")
        assert "Mill, " in words(app)
        assert "because AOET is of the whole batch only" in " ".join(words(app).split())


async def test_where_the_hours_cannot_be_read_that_is_said(open_app: Open, half: str, shop: Shop) -> None:
    (shop.folder / "shop.toml").write_text("hands = 0\n", encoding="utf-8")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "v", "3")
        assert "line 1, hands: 0 is out of range" in words(app)


@pytest.mark.parametrize("size", [(80, 24), (160, 50), (60, 20)])
@pytest.mark.parametrize(
    "keys",
    [("1",), ("1", "right"), ("2",), ("3",), ("3", "right"), ("3", "right", "right"), ("3", "right", "right", "right")],
    ids=["losses", "place", "measured", "figures", "formulas", "times", "cost"],
)
def test_picture_of_the_process(
    snap_compare: Snap, open_app: Open, half: str, shop: Shop, size: tuple[int, int], keys: tuple[str, ...]
) -> None:
    (shop.folder / "shop.toml").write_text(COSTS, encoding="utf-8")
    app: FloorApp = open_app("AA")
    assert snap_compare(app, press=["b", "v", *keys], terminal_size=size)
