"""Manual work in one go: until it starts, the walk says by when it must start, at 80 x 24."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from floor.app import FloorApp
from floor.batch.lifecycle.commands import OpenBatch
from floor.screens.plan.background_plan import Planner
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.load_settings import load_settings
from floor.shop.settings import Settings, SettingsError
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import edited
from tests.screens.seen import seen

Open = Callable[..., FloorApp]
COAT = 'cycle = false\ntime = { before = "5 min" }'


async def test_the_walk_says_by_when_it_must_be_begun(
    open_app: Open, shop: Shop, clock: ManualClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Path] = []

    def read(folder: Path, now: datetime) -> Settings:
        asked.append(folder)
        return load_settings(folder, now)

    monkeypatch.setattr("floor.shop.load_settings.load_settings", read)
    checklist = edited((COAT, 'cycle = false\nin_one_go = true\ntime = { before = "45 min" }'))
    id = shop.open_batch(OpenBatch(shop.find_next_id(), checklist, "digest", "part.toml", 4, 4), by="LL").id
    hand = SimulatedOperator(shop, id, "AA", clock, second="BB")
    load = hand.form(10)
    hand.work(load)
    hand.work(load, stop=lambda line: line.key == "measured 1")
    run = shop.batch(id).loads[load].run
    assert run is not None
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(WalkScreen(app.session, id, run))
        await pilot.pause()
        assert "In one go, 45 min attended. Start it by 10:45." in seen(app)
        read = len(asked)
        for _ in range(3):
            app.screen.update_all()
        assert (read, len(asked)) == (1, 1), "the shop's hours are read once, not at every key"
        hand.work(load, stop=lambda line: line.key == "coat")
        await pilot.pause()
        app.screen.update_all()
        await pilot.pause()
        assert "In one go" not in seen(app)


def test_hours_that_are_wrong_are_not_read_at_every_key_either(
    shop: Shop, clock: ManualClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Path] = []

    def wrong(folder: Path, now: datetime) -> Settings:
        asked.append(folder)
        raise SettingsError(folder / "shop.toml", ["wrong"])

    monkeypatch.setattr("floor.shop.load_settings.load_settings", wrong)
    planner = Planner()

    assert [planner.hours(shop, clock().at) for _ in range(3)] == [None] * 3
    assert len(asked) == 1
