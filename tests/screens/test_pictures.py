"""Pictures of the screens a person sees all day, three of them in color for the README: the demo at a fixed time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest

from floor.app import FloorApp
from floor.shop import Shop
from floor.shop.demo import make_demo
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.screens.conftest import Picture

Snap = Callable[..., bool]
NOW = datetime(2026, 5, 6, 10, tzinfo=timezone(timedelta(hours=2)))


@pytest.fixture
def ten_o_clock() -> ManualClock:
    return ManualClock(NOW)


@pytest.fixture
def demo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ten_o_clock: ManualClock) -> Iterator[Shop]:
    monkeypatch.chdir(tmp_path)
    shop = make_demo(Path("demo"), ten_o_clock)
    yield shop
    shop.close()


def test_what_is_next(picture: Picture, snap_compare: Snap, demo: Shop) -> None:
    """To be seen: what is under the cursor and what Enter does, large and on top; below it what is due now, then by
    time, then what waits and for what; the waived gate in the fixed line; the counts of the batch at the foot."""
    assert snap_compare(FloorApp(demo, who="TN", ticking=False))
    picture(FloorApp(demo, who="TN", ticking=False))


def test_the_batch(picture: Picture, demo: Shop) -> None:
    """To be seen: each load against each operation, done, under way, waiting and ahead told apart by their signs."""
    picture(FloorApp(demo, who="TN", ticking=False), press=["b"])


def _walk_to(kind: str, station: str) -> Callable[[Any], Any]:
    async def go(pilot: Any) -> None:
        app = pilot.app
        await pilot.pause()
        due = next(due for due in app.screen.due if due.go == kind and due.where == station)
        app.screen.table.move_cursor(app.screen.due.index(due))
        await pilot.press("enter")
        await pilot.pause()

    return go


def test_a_walk_after_its_cycle(picture: Picture, demo: Shop) -> None:
    """To be seen: the current step on top, what is done with who and when, what is ahead with its signal words."""
    app = FloorApp(demo, who="TN", ticking=False)
    picture(app, run_before=_walk_to("run", "Mill"))


def test_a_walk_with_two_cautions(picture: Picture, snap_compare: Snap, demo: Shop, ten_o_clock: ManualClock) -> None:
    """To be seen: two signal panels, whole, above the step they concern, and the lines before and after it."""
    batch = demo.batches[0]
    hand = SimulatedOperator(demo, batch.id, "RK", ten_o_clock, second="TN")
    at_router = next(run.load for run in batch.list_open_runs() if run.station == "router")
    hand.work(at_router)
    load = next(load.number for load in batch.list_live_loads() if load.at == 10)
    while hand.work(load, stop=lambda line: line.kind == "caution" and len(line.cautions) == 2):
        pass  # the next operation

    async def go(pilot: Any) -> None:
        pilot.app.go_walk(batch.id, hand.run(load).number)
        await pilot.pause()
        await pilot.pause()

    assert snap_compare(FloorApp(demo, who="RK", ticking=False), run_before=go)
    picture(FloorApp(demo, who="RK", ticking=False), run_before=go)


def test_counting_in_places(picture: Picture, snap_compare: Snap, demo: Shop) -> None:
    """To be seen: the vise from above, one piece marked as scrap by its digit, and that the count adds up."""

    async def go(pilot: Any) -> None:
        from floor.screens.walk.count_form import CountScreen

        await _walk_to("run", "Mill")(pilot)
        app, screen = pilot.app, pilot.app.screen
        app.push_screen(CountScreen(app.session, screen.batch_id, screen.run_))
        await pilot.pause()
        await pilot.press("right", "1")

    assert snap_compare(FloorApp(demo, who="TN", ticking=False), run_before=go)
    picture(FloorApp(demo, who="TN", ticking=False), run_before=go)
