"""Time at temperature as a gate: by readings typed in the unit of the limits, or those of a file."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.batch.corrections.commands import StrikeOut
from floor.batch.describe import describe
from floor.batch.gates.commands import Prove, Waive
from floor.batch.gates.soak_readings import read_typed
from floor.checklist.model import Checklist
from floor.entry import Moment
from tests.batch.factory import MORNING, Bench, edited, open_bench

LINE = "soaked 1"
OUT = '  { do = "Take the tray out", at = "after", cautions = ["hot"] },'
GATE = '  { gate = "soaked", low = "145 degC", high = "155 degC", time = "1 h" },\n'


def baked(gate: str = GATE) -> Checklist:
    return edited((OUT, gate + OUT))


def in_the_oven(gate: str = GATE) -> tuple[Bench, int]:
    """A tray whose bake began at the given moment of the clock."""
    bench = open_bench(lambda: baked(gate), start=4)
    bench.through(bench.form(10), 10, 20, 30)
    tray = bench.form(40)
    bench.until(tray, LINE)
    return bench, tray


def typed(bench: Bench, tray: int, *readings: tuple[int, float]) -> str:
    """Readings as typed: minutes after the start and degC."""
    start = bench.run_of(tray).started
    assert start is not None
    said = [f"{start + timedelta(minutes=minutes):%H:%M:%S} {value:g}" for minutes, value in readings]
    bench.clock.until(start + timedelta(minutes=readings[-1][0], seconds=1))
    return ", ".join(said)


def prove(bench: Bench, tray: int, *readings: tuple[int, float], set_point: float = 150) -> None:
    bench.prove(tray, LINE, set_point=set_point, readings=typed(bench, tray, *readings))


def every(minutes: int, first: int, last: int, value: float = 150.0) -> list[tuple[int, float]]:
    return [(at, value) for at in range(first, last + 1, minutes)]


def test_the_ramp_does_not_count_and_the_soak_is_met_once_long_enough() -> None:
    """By hand: 100 degC at 0 min and 150 at 10 reach 145 at 9 min; from there to 60 min are 51 of 60 min."""
    bench, tray = in_the_oven()
    prove(bench, tray, (0, 100), *every(10, 10, 60))
    line = bench.current(tray)
    assert line.key == LINE
    assert line.verdict is not None
    start = bench.run_of(tray).started
    assert start is not None
    since = f"{start + timedelta(minutes=9):%H:%M}"
    assert line.verdict.why == f"51 min of 1 h 00 at temperature from {since} (7 readings)"
    assert line.verdict.clear == "keep soaking, then enter all readings again"

    prove(bench, tray, (0, 100), *every(10, 10, 70))
    line = bench.line(tray, LINE)
    assert line.state == "done"
    assert line.evidence.startswith(f"1 h 01 of 1 h 00 at temperature from {since} (8 readings) · AA ")
    assert "1 h 01 of 1 h 00 at temperature" in describe(bench.state, bench.state.entries[-1])


def test_a_gap_proves_nothing_and_few_readings_are_said_to_be_few() -> None:
    bench, tray = in_the_oven()
    prove(bench, tray, (0, 150), (10, 150), (60, 150), (70, 150))
    line = bench.current(tray)
    assert line.verdict is not None
    assert line.verdict.why.startswith("20 min of 1 h 00 at temperature")
    assert "no readings for 50 min before " in line.verdict.why
    assert line.verdict.why.endswith("sparse: readings at temperature: 4")


def test_what_was_too_hot_stands_until_a_lead_decides_whatever_is_read_next() -> None:
    """By hand: between 150 and 160 the line crosses 155 half-way, twice: 5 + 5 min above."""
    bench, tray = in_the_oven()
    prove(bench, tray, *every(10, 0, 30), (40, 160), *every(10, 50, 90))
    line = bench.current(tray)
    assert line.verdict is not None
    assert (line.state, line.verdict.why.partition(",")[0]) == ("blocked", "above 155 degC for 10 min")
    assert line.verdict.why.endswith("highest 160 degC")
    run = bench.run_of(tray).number
    refused = bench.refused(Prove(run, LINE, {"set_point": 150, "readings": typed(bench, tray, *every(10, 0, 100))}))
    assert refused.why == "gate"
    assert "✕ not accepted" in describe(bench.state, bench.state.entries[-1])
    bench.say(Waive(run, LINE, "5 degC over for ten minutes: the data sheet allows 170"), by="LL")
    assert bench.line(tray, LINE).state == "waived"


def test_what_was_mistyped_is_struck_out() -> None:
    bench, tray = in_the_oven()
    prove(bench, tray, *every(10, 0, 30), (40, 1500), *every(10, 50, 90))
    bench.say(StrikeOut(bench.state.seq, "a digit too many"))
    prove(bench, tray, *every(10, 0, 90))
    assert bench.line(tray, LINE).state == "done"


def test_the_record_keeps_tenths_of_a_second() -> None:
    """By hand: 145 degC is reached 2/7 of the first ten minutes after 143, 155 is left 3/7 of ten minutes after 152 and
    reached again 4/7 of ten minutes after 159: inside for 428.571 + 600 + 257.143 and 257.143 s, above for 685.714 s.
    """
    bench, tray = in_the_oven()
    prove(bench, tray, (0, 143), (10, 150), (20, 152), (30, 159), (40, 152))
    soak = bench.state.entries[-1].body["values"]["soak"]
    ((_, _, length, peak),) = soak["over"]
    assert (soak["total"], length, peak) == (1542.9, 685.7, 159.0)


def test_a_set_point_beside_the_limits_is_set_right() -> None:
    bench, tray = in_the_oven()
    prove(bench, tray, *every(10, 0, 70), set_point=175)
    line = bench.current(tray)
    assert line.verdict is not None
    assert line.verdict.why == "Set point shown 175, must be 145 to 155 degC"


def test_readings_from_before_the_cycle_belong_to_another_load() -> None:
    bench, tray = in_the_oven()
    start = bench.run_of(tray).started
    assert start is not None
    bench.clock.until(start + timedelta(minutes=1))
    early = f"{start - timedelta(minutes=90):%H:%M} 150, {start - timedelta(minutes=20):%H:%M} 150"
    refused = bench.refused(Prove(bench.run_of(tray).number, LINE, {"set_point": 150, "readings": early}))
    assert refused.wrong == "Readings: no reading since the cycle started"
    assert refused.field == "readings"


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("warm", '"warm" is not a time and a temperature'),
        ("14:05", '"14:05" is not a time and a temperature'),
        ("24:00 150", '"24:00 150" is not a time of day'),
        ("14:60 150", '"14:60 150" is not a time of day'),
        ("14:05:60 150", '"14:05:60 150" is not a time of day'),
        ("14:05 150; hot", '"hot" is not a time and a temperature'),
    ],
)
def test_what_is_no_reading_is_said_with_how_to_write_it(text: str, wrong: str) -> None:
    bench, tray = in_the_oven()
    refused = bench.refused(Prove(bench.run_of(tray).number, LINE, {"set_point": 150, "readings": text}))
    assert refused.wrong == f"Readings: {wrong}"
    assert "14:05 172" in refused.remedy or "time of day" in wrong


def gate() -> Any:
    return baked().ops[40].gate(LINE)


def read(text: str, now: datetime) -> list[tuple[datetime, float]]:
    found = read_typed(gate(), text, Moment(now))
    return [(datetime.fromtimestamp(at, now.tzinfo), round(value, 6)) for at, value in found]


def test_times_are_the_latest_gone_by_also_over_midnight() -> None:
    now = MORNING.replace(hour=1, minute=30)
    assert read("23:50 148; 00:10 150,5; 1:20 151 degC", now) == [
        (now.replace(hour=23, minute=50) - timedelta(days=1), 148.0),
        (now.replace(hour=0, minute=10), 150.5),
        (now.replace(hour=1, minute=20), 151.0),
    ]


@given(st.lists(st.tuples(st.integers(1, 700), st.floats(-50, 900)), min_size=1, max_size=8))
def test_what_is_typed_in_order_is_read_in_order(steps: list[tuple[int, float]]) -> None:
    at, times = MORNING - timedelta(minutes=sum(step for step, _ in steps)), []
    for step, value in steps:
        at += timedelta(minutes=step)
        times.append((at, round(value, 2)))
    if times[-1][0] - times[0][0] >= timedelta(hours=23):
        return
    assert read(", ".join(f"{time:%H:%M} {value:.2f}" for time, value in times), MORNING) == times


SENSORS = {
    "door": [(0, 100.0), (20, 150.0), (40, 150.0), (60, 150.0), (100, 150.0)],
    "back": [(0, 150.0), (20, 150.0), (40, 150.0), (60, 150.0), (100, 150.0)],
}


@pytest.mark.parametrize(
    ("more", "minutes"),
    [("", 82), (', by = "last sensor"', 82), (', by = "control sensor", control = "back"', 100)],
)
def test_the_rule_says_whose_temperature_counts(more: str, minutes: int) -> None:
    """By hand: the door reaches 145 after 18 of 20 min, so all sensors are inside for 100 - 18 = 82 min."""
    bench, tray = in_the_oven(GATE.replace('time = "1 h"', f'time = "1 h", longest_gap = "45 min"{more}'))
    start = bench.run_of(tray).started
    assert start is not None
    bench.clock.until(start + timedelta(minutes=101))
    sensors = {
        name: [((start + timedelta(minutes=at)).timestamp(), value) for at, value in readings]
        for name, readings in SENSORS.items()
    }
    given = {"file": "oven.csv", "sha256": "a" * 64, "sensors": sensors, "lacks": [["line unread", "", None, 2]]}
    entry = bench.prove(tray, LINE, set_point=150, readings=given)
    soak = entry.body["values"]["soak"]
    assert soak["total"] == pytest.approx(minutes * 60)
    assert (entry.body["values"]["file"], soak["sensors"]) == ("oven.csv", ["door", "back"])
    assert "file lines not read: 2" in bench.line(tray, LINE).evidence


def test_a_control_sensor_that_was_not_read_is_named() -> None:
    bench, tray = in_the_oven(GATE.replace('time = "1 h"', 'time = "1 h", by = "control sensor", control = "top"'))
    bench.clock.forward(600)
    refused = bench.refused(
        Prove(bench.run_of(tray).number, LINE, {"set_point": 150, "readings": typed(bench, tray, (0, 150), (11, 150))})
    )
    assert refused.wrong == "Readings: top is not in it"
    assert refused.remedy == "its sensors are typed"
