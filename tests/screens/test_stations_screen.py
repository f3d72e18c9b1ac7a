"""Starting a load that two stations can do: asks which while both are free, at 80 x 24."""

from __future__ import annotations

from collections.abc import Callable

from floor.app import FloorApp
from floor.batch.lifecycle.commands import OpenBatch
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import two_mills
from tests.screens.seen import seen

Open = Callable[..., FloorApp]


async def test_it_is_asked_where_and_once_one_is_taken_it_is_not(
    open_app: Open, shop: Shop, clock: ManualClock
) -> None:
    id = shop.open_batch(OpenBatch(shop.find_next_id(), two_mills(), "digest", "part.toml", 8, 8), by="LL").id
    hand = SimulatedOperator(shop, id, "AA", clock, second="BB")
    for _ in range(2):
        hand.form(10)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        assert "MILL OR MILL 2" in seen(app)
        assert "Mill +1" in seen(app), "in the list, which has fewer columns for it"
        assert "…" not in seen(app).replace(" …", "")
        await pilot.press("enter", "y")
        assert "At which station? Op 10 Mill the groove" in seen(app)
        assert "Mill 2: to be set up" in seen(app)
        await pilot.press("escape")
        assert shop.batch(id).list_open_runs() == [], "looking at the question enters nothing"
        await pilot.press("y", "2")
        assert [run.station for run in shop.batch(id).list_open_runs()] == ["mill 2"]
        assert "Pallet 1 at Mill 2" in seen(app)
        await pilot.press("escape", "escape", "down", "enter", "y")
        assert [run.station for run in shop.batch(id).list_open_runs()] == ["mill 2", "mill"]
