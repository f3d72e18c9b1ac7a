"""Reporting by x that a station is out of service and back, on the batch and on a walk."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from floor.app import FloorApp
from floor.batch.gates.commands import Waive
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.stations.conditions import ReportCondition
from floor.batch.walk.commands import BeginRun
from floor.screens.batch.screen import BatchScreen
from floor.screens.frame.troubles import list_batch_troubles
from floor.screens.walk.disturbances import describe_ambiguous_time
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from floor.wall import convert_to_zone
from tests.batch.factory import part
from tests.screens.keys import fill
from tests.screens.seen import seen

Open = Callable[..., FloorApp]


def test_a_time_that_the_wall_showed_twice_is_told_apart() -> None:
    at = convert_to_zone(datetime.fromisoformat("2026-10-25T02:30+01:00"), ZoneInfo("Europe/Vienna"))

    assert describe_ambiguous_time(at) == "The clock shows 02:30 twice that night; the second is taken"
    assert "the first is taken" in describe_ambiguous_time(at - timedelta(hours=1))
    assert describe_ambiguous_time(at + timedelta(hours=1)) == ""


async def test_a_station_goes_out_of_service_and_comes_back_by_x_on_the_batch(
    open_app: Open, shop: Shop, batch: str
) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(BatchScreen(app.session, batch))
        await pilot.pause()
        await pilot.press("x", "1")
        await fill(pilot, "spindle hums", "soon")
        assert "soon is not a time" in seen(app)
        assert shop.batch(batch).outages == {}
        await pilot.press("x", "1")
        await fill(pilot, "spindle hums", "23:30")
        outage = shop.batch(batch).outages["mill"]
        assert outage.back is not None
        assert (outage.why, f"{outage.back:%H:%M}") == ("spindle hums", "23:30")
        assert "Mill is out of service since" in seen(app), "it stands in the line of what is out of the ordinary"
        await pilot.press("x", "1")
        assert "Return Mill to service?" in seen(app)
        await fill(pilot, "bearing changed")
        assert shop.batch(batch).outages == {}


async def test_an_act_from_paper_is_entered_with_its_time_and_the_next_one_is_live_again(
    open_app: Open, shop: Shop, batch: str, clock: ManualClock
) -> None:
    worker = SimulatedOperator(shop, batch, "AA", clock, second="BB")
    load = worker.form(10)
    worker.work(load, stop=lambda line: line.kind == "start")
    run = worker.run(load).number
    done = clock().at
    clock.forward(2 * 3600)
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(batch, run)
        await pilot.pause()
        await pilot.press("enter", "x", "7")  # what happened meanwhile is read first
        await fill(pilot, f"{done:%H:%M}", "", "")
        assert f"PAPER ENTRY: the next entry is timed {done:%H:%M}" in seen(app)
        await pilot.press("enter", "y")
        await pilot.pause()
        started = shop.batch(batch).runs[run].started
        assert started is not None, seen(app)
        assert f"{started:%H:%M}" == f"{done:%H:%M}"
        assert app.session.paper is None
        assert "PAPER ENTRY" not in seen(app)


async def test_whoever_signs_out_leaves_no_time_of_a_paper_to_the_next_person(
    open_app: Open, batch: str, clock: ManualClock
) -> None:
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_batch(batch)
        await pilot.pause()
        await pilot.press("x", "5")
        await fill(pilot, f"{clock().at:%H:%M}", "", "")
        assert "PAPER ENTRY: the next entry" in seen(app)
        await pilot.press("ctrl+l", "enter")
        await pilot.pause()
        assert "PAPER ENTRY" not in seen(app)


async def test_no_event_is_chosen_before_somebody_chooses_it(
    open_app: Open, shop: Shop, batch: str, clock: ManualClock
) -> None:
    """Three Enters after x wrote that the carrier was lifted; at a station without tool cards there was no list."""
    worker = SimulatedOperator(shop, batch, "AA", clock, second="BB")
    load = worker.form(10)
    worker.work(load)
    run = int(worker.do(BeginRun(load, anyway=True))[0].body["run"])
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.go_walk(batch, run)
        await pilot.pause()
        before = shop.batch(batch).seq
        await pilot.press("escape", "x", "enter", "enter", "enter")
        assert "Nothing chosen. Digit" in seen(app)
        assert shop.batch(batch).seq == before
        await pilot.press("2")
    station = shop.batch(batch).runs[run].station
    assert not shop.batch(batch).checklist.tools_at(station)
    assert shop.batch(batch).entries[-1].body["what"] == "tool changed"


async def test_enter_on_what_is_next_reports_a_worn_tool_changed(
    shop: Shop, open_app: Open, clock: ManualClock
) -> None:
    """It is work to do now, above the cures; Enter goes there, and Enter asks for this change and no other."""
    id = shop.open_batch(OpenBatch(shop.find_next_id(), part(), "digest", "part.toml", 8, 16), by="LL").id
    worker = SimulatedOperator(shop, id, "AA", clock, second="BB")
    for load in [worker.form(10) for _ in range(3)]:
        worker.work(load)
    worker.work(1)
    clock.forward(12 * 3600)
    worker.work(2)
    worker.work(1)
    load = worker.form(10)
    worker.work(load, stop=lambda line: line.key == "tool loaded 1")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        rows = seen(app).splitlines()
        change = next(n for n, row in enumerate(rows) if "▶  now" in row and "Change the tool: tool 1" in row)
        assert change < next(n for n, row in enumerate(rows) if "◔" in row)
        await pilot.press(*["down"] * (change - next(n for n, row in enumerate(rows) if "▶" in row)), "enter")
        assert "Enter: tool 1 was changed" in seen(app)
        await pilot.press("enter")
        assert "Was the worn tool changed?" in seen(app)
        await pilot.press("escape")
        assert shop.batch(id).tools["mill", 1].used
        await pilot.press("enter", "enter")
        assert "Nothing chosen" in seen(app)
        assert shop.batch(id).tools["mill", 1].used, "two Enters in a row write nothing"
        await pilot.press("1")
        assert ("mill", 1) not in shop.batch(id).tools, "the new one is loaded and measured first"
        assert worker.current(load).title == "Load and measure tool 1"  # type: ignore[union-attr]


async def test_a_guard_off_is_reported_and_cleared_by_x_on_the_batch_and_on_a_walk(
    open_app: Open, shop: Shop, batch: str, clock: ManualClock
) -> None:
    worker = SimulatedOperator(shop, batch, "AA", clock, second="BB")
    load = worker.form(10)
    worker.work(load, stop=lambda line: line.kind == "start")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(BatchScreen(app.session, batch))
        await pilot.pause()
        await pilot.press("x", "up", "enter", "enter", "2")
        await fill(pilot, "hinge broke, new one on Friday")
        assert "Mill: guard off since" in seen(app), "in the line of what is out of the ordinary"
        app.go_walk(batch, worker.run(load).number)
        await pilot.pause()
        await pilot.press("enter")
        assert "right, then clear it (x)" in seen(app)
        assert shop.batch(batch).runs[1].started is None
        await pilot.press("x", "up", "enter", "enter")
        assert "guard off cleared?" in seen(app)
        await fill(pilot, "new hinge")
        assert shop.batch(batch).conditions == {}
        await pilot.press("enter", "y")
    assert shop.batch(batch).runs[1].started is not None


async def test_what_can_hurt_comes_first_in_the_line_of_what_is_out_of_the_ordinary(
    open_app: Open, shop: Shop, batch: str, clock: ManualClock
) -> None:
    """Only the first fits where there is little room."""
    worker = SimulatedOperator(shop, batch, "AA", clock, second="BB")
    load = worker.form(10)
    worker.work(load, stop=lambda line: line.key == "probed 1")
    shop.do(batch, Waive(worker.run(load).number, "probed 1", "probe broke"), "LL")
    shop.do(batch, ReportCondition("mill", "guard off", "hinge broke"), "AA")
    app = open_app("AA")
    async with app.run_test(size=(80, 24)):
        first, *rest = [one.text for one in list_batch_troubles(app.session, shop.batch(batch))]
    assert first.startswith("Mill: guard off since")
    assert rest[0].startswith("1 gate waived")
