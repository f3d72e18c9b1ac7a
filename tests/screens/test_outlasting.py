"""Work that outlasts a window elsewhere stands below it, with a sign of its own and why."""

from __future__ import annotations

from floor.app import FloorApp
from floor.batch.lifecycle.commands import OpenBatch
from floor.planning.plan import make_plan
from floor.planning.snapshot import take_snapshot
from floor.screens.shop.what_next import NextScreen
from floor.shop import Shop
from floor.shop.simulation import ManualClock
from tests.batch.factory import edited
from tests.planning.planned import ALWAYS
from tests.planning.test_advice import LONG
from tests.screens.keys import words
from tests.screens.operator import Place
from tests.screens.painted import flat


async def test_the_line_has_a_sign_and_says_in_full_what_closes(shop: Shop, clock: ManualClock) -> None:
    id = shop.open_batch(OpenBatch("B0009", edited(LONG), "digest", "part.toml", 8, 8), "LL").id
    place = Place(shop, id, clock)
    load = place.load()
    place.through(load, 10, 20, 30)
    clock.forward(48 * 3600)
    place.through(place.hand.form(40), 40)
    place.hand.form(50)
    clock.forward(7 * 3600 + 20 * 60)
    app = FloorApp(shop, who="LL", ticking=False)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = app.screen
        assert isinstance(screen, NextScreen)
        app.session.planner.shop_plan = make_plan(take_snapshot(shop.batches, shop.now(), ALWAYS).ways, effort=50)
        screen.update_all()
        await pilot.pause()
        assert [row[0] for row in screen.table.filled] == ["▶", "!"]
        await pilot.press("down")
        await pilot.pause()
        assert "; Tote 1 closes 05:09" in flat(words(app))
