"""Turning pieces over during a cycle, at 80 x 24: shown while the program still cuts, then done with one key."""

from __future__ import annotations

from collections.abc import Callable

from floor.app import FloorApp
from floor.batch.lifecycle.commands import OpenBatch
from floor.screens.walk.screen import WalkScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import turned
from tests.screens.seen import seen

Open = Callable[..., FloorApp]


async def test_the_turn_is_asked_about_before_its_time_and_holds_the_end(
    open_app: Open, shop: Shop, clock: ManualClock
) -> None:
    id = shop.open_batch(OpenBatch(shop.find_next_id(), turned(), "digest", "part.toml", 4, 4), by="LL").id
    hand = SimulatedOperator(shop, id, "AA", clock, second="BB")
    hand.work(hand.form(10), stop=lambda line: line.key == "turn")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(WalkScreen(app.session, id, 1))
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        assert "program stopped for it?" in seen(app)
        await pilot.press("escape")
        assert shop.batch(id).runs[1].stands is None
        clock.forward(600)
        await pilot.press("enter")
        assert shop.batch(id).runs[1].stands is not None
        assert "▶ Seated: no feeler goes in" in seen(app)
        await pilot.press("enter")
        assert "▶ Start the second side" in seen(app)
        await pilot.press("enter")
        assert shop.batch(id).runs[1].stands is None
        assert "Confirm cycle complete" in seen(app)
