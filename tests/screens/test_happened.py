"""Saying by x that a station is out of service and back, on the batch and on a walk."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from floor.app import FloorApp
from floor.screens.batch import BatchScreen
from floor.screens.happened import when
from floor.shop import Shop
from floor.shop.hand import Hand, HandClock
from tests.screens.keys import fill
from tests.screens.seen import seen

Open = Callable[..., FloorApp]


@pytest.mark.parametrize(
    ("typed", "past", "meant"),
    [
        ("14:30", False, "02 14:30"),
        ("7:00", False, "03 07:00"),
        ("7:00", True, "02 07:00"),
        ("14:30", True, "01 14:30"),
        ("2026-03-05 09:00", False, "05 09:00"),
        ("2026-03-05 09:00", True, "05 09:00"),
        ("soon", False, None),
        ("", True, None),
    ],
)
def test_a_time_of_day_is_the_next_or_the_last_and_one_with_its_date_is_that_one(
    typed: str, past: bool, meant: str | None
) -> None:
    found = when(typed, datetime(2026, 3, 2, 10, 0, tzinfo=UTC), past=past)
    assert (f"{found:%d %H:%M}" if found else None) == meant


async def test_a_station_goes_out_of_service_and_comes_back_by_x_on_the_batch(
    open_app: Open, shop: Shop, batch: str
) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(BatchScreen(app.desk, batch))
        await pilot.pause()
        await pilot.press("x", "a")
        await fill(pilot, "spindle hums", "soon")
        assert "soon is not a time" in seen(app)
        assert shop.batch(batch).outages == {}
        await pilot.press("x", "a")
        await fill(pilot, "spindle hums", "23:30")
        outage = shop.batch(batch).outages["mill"]
        assert outage.back is not None
        assert (outage.why, f"{outage.back:%H:%M}") == ("spindle hums", "23:30")
        assert "Mill is out of service since" in seen(app), "it stands in the line of what is out of the ordinary"
        await pilot.press("x", "a")
        assert "Mill is back in service?" in seen(app)
        await fill(pilot, "bearing changed")
        assert shop.batch(batch).outages == {}


async def test_an_act_from_paper_is_entered_with_its_time_and_the_next_one_is_live_again(
    open_app: Open, shop: Shop, batch: str, clock: HandClock
) -> None:
    worker = Hand(shop, batch, "AA", clock, second="BB")
    load = worker.form(10)
    worker.work(load, stop=lambda line: line.kind == "start")
    run = worker.run(load).number
    done = clock().at
    clock.forward(2 * 3600)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(batch, run)
        await pilot.pause()
        await pilot.press("x", "g")
        await fill(pilot, f"{done:%H:%M}", "", "")
        assert f"From paper: what is entered next was done {done:%H:%M}" in seen(app)
        await pilot.press("enter")
        await pilot.pause()
        started = shop.batch(batch).runs[run].started
        assert started is not None, seen(app)
        assert f"{started:%H:%M}" == f"{done:%H:%M}"
        assert app.desk.paper is None
        assert "From paper" not in seen(app)


async def test_whoever_signs_out_leaves_no_time_of_a_paper_to_the_next_person(
    open_app: Open, batch: str, clock: HandClock
) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_batch(batch)
        await pilot.pause()
        await pilot.press("x", "e")
        await fill(pilot, f"{clock().at:%H:%M}", "", "")
        assert "From paper: what is entered next" in seen(app)
        await pilot.press("ctrl+l", "y")
        await pilot.pause()
        assert "From paper" not in seen(app)
