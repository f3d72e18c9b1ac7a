"""A stopped cycle is reported by x on the walk; what is void comes up again, then the start."""

from __future__ import annotations

from datetime import timedelta

from floor.batch.walk.stop_cycle import STOPS
from floor.screens.forms.dialogs import ChoiceDialog
from floor.shop.simulation import ManualClock
from tests.screens.conftest import Open
from tests.screens.keys import fill, words
from tests.screens.operator import Place


async def test_a_tool_that_broke_a_while_ago(open_app: Open, place: Place, clock: ManualClock) -> None:
    load = place.load()
    run = place.at(load, "end", wait=False)
    clock.forward(600)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(place.id, run)
        await pilot.pause()
        await pilot.press("x")
        await pilot.pause()
        assert isinstance(app.screen, ChoiceDialog)
        keys = [choice.key for choice in app.screen.choices]
        assert {f"stop {why}" for why in STOPS} <= set(keys)
        await pilot.press(app.screen.picks[keys.index("stop tool broke")])
        await pilot.pause()
        await fill(pilot, f"{clock().at - timedelta(minutes=5):%H:%M}", "1", "in the third slot")
        await pilot.pause()
        stopped = place.batch.runs[run].stopped
        assert stopped is not None
        assert stopped.at == (clock().at - timedelta(minutes=5)).replace(second=0)
        assert place.current(load) == "Load and measure tool 1"
        assert "T1" in words(app) or "tool 1" in words(app)
        place.at(load, "start")
        app.screen.update_all()  # type: ignore[attr-defined]
        await pilot.pause()
        await pilot.press("x")
        await pilot.pause()
        assert isinstance(app.screen, ChoiceDialog)
        await pilot.press(app.screen.picks[[choice.key for choice in app.screen.choices].index("anew")], "y")
        await pilot.pause()
        assert place.batch.runs[run].running
        assert place.batch.runs[run].started == clock().at
