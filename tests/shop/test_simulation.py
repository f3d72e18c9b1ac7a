"""The simulated operator: what it enters, how long it takes, and where it stops."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from floor.batch.counting.commands import MarkedPieces
from floor.batch.stations.commands import WearTools
from floor.shop.simulation import ManualClock
from tests.batch.factory import MORNING, Bench, edited, one_cycle, open_bench


def told(bench: Bench, first: str) -> list[tuple[float, str, object]]:
    """Seconds since the morning, kind, and line or values, from the first entry of a kind on."""
    found = [
        ((entry.time - MORNING).total_seconds(), entry.kind, entry.body.get("values") or entry.body.get("line"))
        for entry in bench.state.entries
    ]
    return found[[kind for _, kind, _ in found].index(first) :]


def test_a_clock_by_hand_moves_both_its_times_and_never_back() -> None:
    clock = ManualClock(datetime(2026, 3, 29, 1, 30, tzinfo=ZoneInfo("Europe/Vienna")))
    assert (clock().boot, clock().up) == ("hand", 1000.0)
    clock.forward(90 * 60)
    assert clock().at.isoformat() == "2026-03-29T04:00:00+02:00", "the clocks go forward at 02:00"
    assert clock().up == 1000.0 + 5400
    clock.until(clock().at - timedelta(hours=1))
    assert clock().up == 6400.0
    clock.until(clock().at + timedelta(seconds=5))
    assert clock().up == 6405.0


def test_a_line_takes_20_s_a_cycle_its_time_and_a_count_what_the_checklist_says() -> None:
    """Op 10 of the test part: 20 min of cycle, 1 min after it, values between their limits."""
    bench = open_bench()
    load = bench.form(10)

    assert bench.hand().work(load)

    assert told(bench, "run_begun") == [
        (0, "run_begun", None),
        (20, "proved", {"lot": "10-01A"}),
        (40, "proved", {"program": "KB7-10 A"}),
        (60, "proved", {"length": 4.0, "tool": 1}),
        (80, "proved", {"tool": 2}),
        (100, "proved", {"person": "BB"}),
        (120, "step_done", "load step 1"),
        (140, "proved", "confirmed 1"),
        (160, "proved", {"X": 0.0, "Z": 0.0}),
        (180, "cautions_read", "load step 2"),
        (200, "step_done", "load step 2"),
        (220, "cycle_started", None),
        (240, "step_done", "cycle step 1"),
        (220 + 1200 + 20, "cycle_ended", None),
        (1460, "step_done", "after step 1"),
        (1480, "proved", {"value": [3.0, 3.0]}),
        (1500, "proved", {"found": "as drawn", "person": "BB"}),
        (1560, "counted", None),
        (1580, "released", None),
    ]


def test_one_who_does_not_wait_stops_before_the_end_of_the_cycle_and_goes_on_at_it() -> None:
    bench = open_bench()
    load, hand = bench.form(10), bench.hand()

    assert not hand.work(load, wait=False)
    assert bench.current(load).key == "end"
    assert (bench.clock().at - MORNING).total_seconds() == 240
    bench.clock.forward(220 + 1200 - 240 - 1)
    assert not hand.work(load, wait=False)
    bench.clock.forward(1)
    assert hand.work(load, wait=False)
    assert bench.state.loads[load].run is None


def test_who_stops_before_a_line_has_not_done_it() -> None:
    bench = open_bench()
    load = bench.form(10, 2)
    assert not bench.hand().work(load, stop=lambda line: line.key == "probed 1")
    assert bench.current(load).key == "probed 1"


@pytest.mark.parametrize("given", [True, False])
def test_what_is_found_is_counted_and_the_rest_is_good(given: bool) -> None:
    bench = open_bench()
    load = bench.form(10, 3)
    marks = (MarkedPieces("deep", ("A1",)), MarkedPieces("other", ("B1",), note="odd"))
    if given:
        bench.hand().work(load, marks=marks)
    else:
        bench.hand().work(load, found=lambda run: marks if run.op == 10 else ())
    count = bench.state.runs[1].count
    assert count is not None
    assert (count.good, count.went_in, len(count.marks)) == (1, 3, 2)


def test_a_worn_tool_is_changed_in_4_min() -> None:
    bench = open_bench()
    bench.through(bench.form(10, 4), 10)
    bench.say(WearTools("mill", ((1, 3600.0),), "B0002"))
    load = bench.form(10, 4)
    bench.begin(load)
    began = bench.clock().at
    bench.until(load, "probed 1")
    [changed] = [entry for entry in bench.state.entries if entry.kind == "disturbed"]
    assert (changed.body["what"], changed.body["tool"]) == ("tool changed", 1)
    assert changed.time - began == timedelta(seconds=240)


def test_the_tray_comes_out_5_min_after_its_time_at_temperature() -> None:
    out = '  { do = "Take the tray out", at = "after", cautions = ["hot"] },'
    soak = '  { gate = "soaked", low = "145 degC", high = "155 degC", time = "1 h" },'
    bench = open_bench(lambda: edited((out, f"{soak}\n{out}")), start=4)
    bench.through(bench.form(10), 10, 20, 30)
    tray = bench.form(40)
    bench.until(tray, "soaked 1")
    started = bench.run_of(tray).started
    assert started is not None
    bench.hand().work(tray, stop=lambda line: line.key != "soaked 1")
    [proved] = [entry for entry in bench.state.entries if entry.body.get("line") == "soaked 1"]
    assert proved.time - started == timedelta(hours=1, minutes=5, seconds=20)


def test_the_loads_of_one_cycle_are_brought_to_its_start_first() -> None:
    bench = open_bench(one_cycle, start=12)
    first, second = bench.form(10), bench.form(10)
    bench.begin(second)

    bench.hand().work(first)

    walked = [
        (entry.body["run"], entry.body.get("line") or entry.kind, entry.body.get("along", []))
        for entry in bench.state.entries
        if entry.kind in ("step_done", "cycle_started", "cycle_ended", "released")
    ]
    assert walked == [
        (2, "load step 1", []),
        (2, "load step 2", []),
        (1, "load step 1", []),
        (1, "load step 2", []),
        (2, "cycle_started", [1]),
        (2, "cycle step 1", [1]),
        (2, "cycle_ended", [1]),
        (2, "after step 1", []),
        (2, "released", []),
    ]
