"""Time at temperature as a gate: by readings typed in the unit of the limits, or those of a file."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import nan
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.batch.corrections.commands import StrikeOut
from floor.batch.describe import describe, list_late_proofs
from floor.batch.events import Proved
from floor.batch.gates.commands import Prove, Waive
from floor.batch.gates.describe import format_proof_remarks
from floor.batch.gates.soak_outcome import END_UNREAD, FILE_LACKS, IN_FUTURE, LACKS, Lack, read_outcome
from floor.batch.gates.soak_readings import LoggerReadings, WorkSpan, read_typed
from floor.batch.lifecycle.enter_half_done import EnterLate
from floor.batch.lifecycle.half_done import PaperProof, PlacedPieces
from floor.checklist.model import Checklist
from floor.evidence.logger_findings import LoggerFindingKind
from floor.figures.soak import SoakFindingKind
from floor.papers.closeout import write_close_out
from floor.wall import convert_to_zone
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
    assert line.verdict.clear == "keep soaking, then enter all readings again, or have a lead waive it"

    prove(bench, tray, (0, 100), *every(10, 10, 70))
    line = bench.line(tray, LINE)
    assert line.state == "done"
    assert line.evidence.startswith(f"from {since} (8 readings); 1 h 01 at temperature · AA ")
    assert "1 h 01 of 1 h 00 at temperature" in describe(bench.state, bench.state.entries[-1])


def test_a_gap_proves_nothing_and_few_readings_are_said_to_be_few() -> None:
    bench, tray = in_the_oven()
    prove(bench, tray, (0, 150), (10, 150), (60, 150), (70, 150))
    line = bench.current(tray)
    assert line.verdict is not None
    assert line.verdict.why.startswith("20 min of 1 h 00 at temperature")
    assert line.verdict.why.endswith(" (4 readings)")
    first, gap, few = line.verdict.clear.split("; ")
    assert first.startswith("keep soaking, then enter all readings again"), "while the oven runs, that comes first"
    assert gap.startswith("no readings for 50 min before ")
    assert few == "few readings at temperature: 4"


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


def test_of_two_sensors_too_hot_the_longer_one_is_told() -> None:
    """By hand: between 150 and 160 the line crosses 155 half-way; 5 min on the left, 15 on the right."""
    bench, tray = in_the_oven()
    bench.clock.forward(7200)
    left = [(0, 150.0), (25, 150.0), (30, 160.0), (35, 150.0), (90, 150.0)]
    right = [(0, 150.0), (55, 150.0), (60, 160.0), (70, 160.0), (75, 150.0), (90, 150.0)]
    bench.say(from_file(bench, tray, {"left": left, "right": right}))
    why = bench.line(tray, LINE).verdict.why  # type: ignore[union-attr]
    assert why.startswith("right above 155 degC for 15 min (and 1 other sensor), first at ")


def test_what_was_mistyped_is_struck_out() -> None:
    bench, tray = in_the_oven()
    prove(bench, tray, *every(10, 0, 30), (40, 1500), *every(10, 50, 90))
    bench.say(StrikeOut(bench.state.seq, "a digit too many"))
    prove(bench, tray, *every(10, 0, 90))
    assert bench.line(tray, LINE).state == "done"


def test_what_a_file_says_is_struck_out_by_a_lead_alone() -> None:
    bench, tray = in_the_oven()
    bench.clock.forward(7200)
    bench.say(from_file(bench, tray, {"oven": [(0, 150.0), (40, 165.0), (90, 150.0)]}))
    seq = bench.state.seq
    refused = bench.refused(StrikeOut(seq, "typing error"))
    assert (refused.why, refused.wrong) == ("authority", "striking out what a file says needs a lead")
    bench.say(StrikeOut(seq, "file of the other oven"), by="LL")
    assert bench.line(tray, LINE).verdict.status != "met"  # type: ignore[union-attr]


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
    ran = f"{start:%H:%M} to {start + timedelta(minutes=1):%H:%M}"
    assert refused.wrong == f"Readings: {start - timedelta(minutes=20):%H:%M} is outside the cycle, {ran}"
    assert refused.field == "readings"


@pytest.mark.parametrize(
    ("readings", "wrong"),
    [
        ([(0, 150), (12, 150)], "{12} is outside the cycle, {0} to {11}"),
        ([(0, 150), (600, 150)], "{600} is outside the cycle, {0} to {11}"),
        ([(8, 150), (5, 150), (10, 150)], "{8} comes before {5}"),
    ],
)
def test_a_reading_still_to_come_or_out_of_order_is_refused(readings: list[tuple[int, float]], wrong: str) -> None:
    """It is not taken for yesterday's, and no sentence says to enter what was just entered."""
    bench, tray = in_the_oven()
    start = bench.run_of(tray).started
    assert start is not None
    bench.clock.until(start + timedelta(minutes=11))
    times = {str(at): f"{start + timedelta(minutes=at):%H:%M}" for at in (0, 5, 8, 10, 11, 12, 600)}
    text = ", ".join(f"{times[str(at)]} {value}" for at, value in readings)
    refused = bench.refused(Prove(bench.run_of(tray).number, LINE, {"set_point": 150, "readings": text}))
    for at, said in times.items():
        wrong = wrong.replace(f"{{{at}}}", said)
    assert refused.wrong == f"Readings: {wrong}"


def test_the_minute_in_which_the_cycle_started_counts() -> None:
    """Typed to the minute: 13:00 is read at any second of it, and the cycle started at 40 s past."""
    bench, tray = in_the_oven()
    start = bench.run_of(tray).started
    assert start is not None
    assert start.second
    bench.clock.until(start + timedelta(minutes=61))
    text = ", ".join(f"{start + timedelta(minutes=10 * n):%H:%M} 150" for n in range(7))
    entry = bench.prove(tray, LINE, set_point=150, readings=text)
    assert entry.body["values"]["soak"]["readings"] == 7
    assert bench.line(tray, LINE).state == "done"


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("warm", '"warm" is not a time and a temperature'),
        ("14:05", '"14:05" is not a time and a temperature'),
        ("24:00 150", '"24:00 150" is not a time of day'),
        ("14:60 150", '"14:60 150" is not a time of day'),
        ("14:05:60 150", '"14:05:60 150" is not a time of day'),
        ("14:05 150; hot", '"hot" is not a time and a temperature'),
        ("14:05 -274", '"14:05 -274" is not a temperature'),
    ],
)
def test_what_is_no_reading_is_said_with_how_to_write_it(text: str, wrong: str) -> None:
    bench, tray = in_the_oven()
    refused = bench.refused(Prove(bench.run_of(tray).number, LINE, {"set_point": 150, "readings": text}))
    assert refused.wrong == f"Readings: {wrong}"
    assert "14:05 172" in refused.remedy or "time of day" in wrong


def test_no_set_point_is_below_absolute_zero() -> None:
    bench, tray = in_the_oven()
    refused = bench.refused(Prove(bench.run_of(tray).number, LINE, {"set_point": -274, "readings": "14:05 150"}))
    assert (refused.wrong, refused.field) == ("Set point shown: -274 is not at least -273.15 degC", "set_point")


def gate() -> Any:
    return baked().ops[40].gate(LINE)


def read(text: str, start: datetime, end: datetime) -> list[tuple[datetime, float]]:
    found = read_typed(gate(), text, WorkSpan(start, end, end))
    return [(datetime.fromtimestamp(at, end.tzinfo), round(value, 6)) for at, value in found]


def test_times_are_those_of_the_cycle_also_over_midnight() -> None:
    end = MORNING.replace(hour=1, minute=30)
    assert read("23:50 148; 00:10 150,5; 1:20 151 degC", end - timedelta(hours=2), end) == [
        (end.replace(hour=23, minute=50) - timedelta(days=1), 148.0),
        (end.replace(hour=0, minute=10), 150.5),
        (end.replace(hour=1, minute=20), 151.0),
    ]


@pytest.mark.parametrize(
    "text", ["6:10 148,6:20 150", "6:10 148 6:20 150", "6:10 148;6:20 150", "06:10  148 degC , 6:20 150degC"]
)
def test_readings_are_told_apart_however_they_are_typed(text: str) -> None:
    assert read(text, MORNING - timedelta(hours=1), MORNING) == [
        (MORNING.replace(hour=6, minute=10), 148.0),
        (MORNING.replace(hour=6, minute=20), 150.0),
    ]


def test_times_on_both_sides_of_a_clock_change_are_hours_apart_as_they_were() -> None:
    """15 U.S.C. 260a: on 1 November 2026 clocks in Chicago go back at 02:00; 00:30 to 02:30 are three hours."""
    end = convert_to_zone(datetime(2026, 11, 1, 9, 0, tzinfo=UTC), ZoneInfo("America/Chicago"))
    early, late = read("0:30 150, 2:30 150", end - timedelta(hours=6), end)
    assert late[0] - early[0] == timedelta(hours=3)


@given(st.lists(st.tuples(st.integers(1, 700), st.floats(-50, 900)), min_size=1, max_size=8))
def test_what_is_typed_in_order_is_read_in_order(steps: list[tuple[int, float]]) -> None:
    at, times = MORNING - timedelta(minutes=sum(step for step, _ in steps)), []
    for step, value in steps:
        at += timedelta(minutes=step)
        times.append((at, round(value, 2)))
    if times[-1][0] - times[0][0] >= timedelta(hours=23):
        return
    text = ", ".join(f"{time:%H:%M} {value:.2f}" for time, value in times)
    assert read(text, times[0][0], MORNING) == times


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
    given = LoggerReadings("oven.csv", "a" * 64, sensors, (Lack("line unread", "", None, 2),))
    entry = bench.prove(tray, LINE, set_point=150, readings=given)
    soak = entry.body["values"]["soak"]
    assert soak["total"] == pytest.approx(minutes * 60)
    assert (entry.body["values"]["file"], soak["sensors"]) == ("oven.csv", ["door", "back"])
    assert "file lines not read: 2" in bench.line(tray, LINE).evidence
    assert "oven.csv aaaaaaaa)" in describe(bench.state, entry), "history and trace name the file"


@pytest.mark.parametrize(
    ("more", "named"),
    [("", True), (', by = "last sensor"', True), (', by = "control sensor", control = "door"', False)],
)
def test_the_sensor_that_holds_up_a_soak_is_named(more: str, named: bool) -> None:
    """By hand: the door reaches 145 after 18 of 20 min; it is 42 min inside by 60, the back all 60."""
    bench, tray = in_the_oven(GATE.replace('time = "1 h"', f'time = "1 h", longest_gap = "45 min"{more}'))
    bench.clock.forward(3700)
    bench.say(from_file(bench, tray, {name: readings[:4] for name, readings in SENSORS.items()}))
    line = bench.current(tray)
    assert line.verdict is not None
    assert line.verdict.why.startswith("42 min of 1 h 00 at temperature from ")
    assert ("; door shortest (42 min)" in line.verdict.why) is named
    assert line.verdict.clear.startswith("keep soaking, then enter all readings again")


def from_file(
    bench: Bench, tray: int, sensors: dict[str, list[tuple[float, float]]], *lacks: Lack, set_point: float = 150
) -> Prove:
    """The proof by a file, its times in minutes after the start."""
    start = bench.run_of(tray).started
    assert start is not None
    moved = {
        name: [((start + timedelta(minutes=at)).timestamp(), value) for at, value in readings]
        for name, readings in sensors.items()
    }
    given = LoggerReadings("oven.csv", "a" * 64, moved, lacks)
    return Prove(bench.run_of(tray).number, LINE, {"set_point": set_point, "readings": given})


def test_a_cell_that_shows_no_temperature_breaks_the_soak_and_is_said() -> None:
    """By hand: 60 min less the 10 on both sides of it."""
    bench, tray = in_the_oven()
    bench.clock.forward(3700)
    readings = [(float(at), nan if at == 30 else 150.0) for at in range(0, 61, 5)]
    entry = bench.say(from_file(bench, tray, {"door": readings}))[0]
    soak = entry.body["values"]["soak"]
    assert (soak["total"], soak["readings"]) == (pytest.approx(50 * 60), 12)
    start = bench.run_of(tray).started
    assert start is not None
    line = bench.current(tray)
    assert line.verdict is not None
    at = f"{start + timedelta(minutes=30):%H:%M}"
    assert line.verdict.clear.endswith(f"; readings without a temperature: 1, from {at} (not counted)")


CONTROLLED = GATE.replace('time = "1 h"', 'time = "1 h", by = "control sensor", control = "top"')


def test_a_control_sensor_that_was_not_read_is_named() -> None:
    bench, tray = in_the_oven(CONTROLLED)
    bench.clock.forward(600)
    refused = bench.refused(from_file(bench, tray, {"door": [(0, 150), (9, 150)]}))
    assert refused.wrong == "Readings: top is not in oven.csv"
    assert refused.remedy == "its sensors: door"


def test_what_is_typed_is_read_off_the_control_sensor() -> None:
    bench, tray = in_the_oven(CONTROLLED)
    prove(bench, tray, *every(10, 0, 60))
    assert bench.line(tray, LINE).state == "done"


def test_no_set_point_washes_away_what_was_too_hot() -> None:
    bench, tray = in_the_oven()
    prove(bench, tray, *every(10, 0, 30), (40, 160), *every(10, 50, 90), set_point=175)
    line = bench.current(tray)
    assert line.verdict is not None
    assert (line.state, line.verdict.why.partition(",")[0]) == ("blocked", "above 155 degC for 10 min")
    run = bench.run_of(tray).number
    assert bench.refused(Prove(run, LINE, {"set_point": 150, "readings": typed(bench, tray, (100, 150))})).why == "gate"


def test_more_than_a_field_takes_is_refused_not_cut() -> None:
    bench, tray = in_the_oven()
    start = bench.run_of(tray).started
    assert start is not None
    bench.clock.until(start + timedelta(hours=3))
    text = ", ".join(f"{start + timedelta(minutes=n):%H:%M} 150" for n in range(170))
    run = bench.run_of(tray).number
    refused = bench.refused(Prove(run, LINE, {"set_point": 150, "readings": text + ", 10:00 150" * 20}))
    assert refused.wrong == "Readings, or a file: more than 2000 characters"
    assert len(text) > 1800
    assert bench.prove(tray, LINE, set_point=150, readings=text).body["values"]["soak"]["readings"] == 170


def test_readings_in_the_future_are_said_to_be_left_out() -> None:
    """A logger whose clock is ahead."""
    bench, tray = in_the_oven()
    bench.clock.forward(3700)
    bench.say(from_file(bench, tray, {"door": [(at, 150) for at in range(0, 90, 5)]}))
    line = bench.line(tray, LINE)
    assert line.verdict is not None
    assert line.verdict.notes.startswith("readings in the future left out: ")
    assert line.evidence.startswith(line.verdict.notes)


def test_the_file_of_another_day_is_refused_with_both_spans() -> None:
    bench, tray = in_the_oven()
    bench.clock.forward(3700)
    start, now = bench.run_of(tray).started, bench.clock().at
    assert start is not None
    refused = bench.refused(from_file(bench, tray, {"door": [(-1500, 150), (-1440, 150)]}))
    early = [f"{start + timedelta(minutes=at):%a %H:%M}" for at in (-1500, -1440)]
    assert refused.wrong == (
        f"Readings: oven.csv has {early[0]} to {early[1]}, the cycle ran {start:%H:%M} to {now:%H:%M}"
    )


def test_an_entry_stays_small_whatever_was_read() -> None:
    """Forty sensors, each with a hundred gaps and a hundred times too hot: rows are summed up by sensor and kind."""
    bench, tray = in_the_oven(GATE.replace('time = "1 h"', 'time = "1 h", longest_gap = "5 s"'))
    bench.clock.forward(4000)
    readings: list[tuple[float, float]] = []
    for n in range(100):
        readings += [(n * 0.6, 150.0), (n * 0.6 + 0.05, 160.0), (n * 0.6 + 0.1, 150.0)]
    lacks = [Lack("no value", f"door {n}", None, 3) for n in range(40)]
    entry = bench.say(from_file(bench, tray, {f"door {n}": readings for n in range(40)}, *lacks))[0]
    assert len(json.dumps(entry.body)) < 3000
    outcome = read_outcome(entry.body["values"])
    assert outcome is not None
    assert outcome.many == 40
    assert outcome.over[0].length == pytest.approx(100 * 3, rel=0.01), "half of 6 s, a hundred times"
    assert [one.amount for one in outcome.lacks if one.kind == "no value"] == [120]
    said = describe(bench.state, entry)
    assert "(and 8 other sensors)" in said
    assert len(said) < 400


@pytest.mark.parametrize(
    "soak",
    [
        None, 7, {}, {"total": "x"},
        {"total": 1e5, "start": 1e300, "readings": 9, "sensors": ["a"], "over": [], "lacks": []},
        {"total": 1e5, "start": -(10**400), "readings": 9, "sensors": ["a"], "over": [], "lacks": []},
        {"total": 1e5, "start": float("nan"), "readings": 9, "sensors": ["a"], "over": [], "lacks": []},
        {"total": 1e5, "start": None, "readings": 9, "sensors": "a", "over": [], "lacks": []},
        {"total": 1e5, "start": None, "readings": 9, "sensors": ["a"], "over": [["a", 1e30, 1.0, 200]], "lacks": []},
        {"total": 1e5, "start": None, "readings": 9, "sensors": ["a"], "over": [["a"]], "lacks": []},
        {"total": 1e5, "start": None, "readings": 9, "sensors": ["a"], "over": [], "lacks": [["gap", "a", 1e30, 5]]},
        {"total": 1e5, "start": None, "readings": 9, "sensors": ["a"], "over": [], "lacks": [["gap", "a", None, "5"]]},
        {"total": 9, "start": None, "readings": 9, "sensors": [], "over": [], "lacks": [], "shortest": ["a"]},
        {"total": 9, "start": None, "readings": 9, "sensors": [], "over": [], "lacks": [], "shortest": ["a", 1e99]},
    ],
)  # fmt: skip
def test_what_no_readings_can_give_is_an_open_gate(soak: object) -> None:
    """A forged record: its walk, its history and what is next still open."""
    bench, tray = in_the_oven()
    prove(bench, tray, *every(10, 0, 70))
    key = next(key for key in bench.state.proofs if key.gate == "soaked")
    proof = bench.state.proofs[key]
    bench.state.proofs[key] = replace(proof, values={"set_point": 150.0, "soak": soak})
    line = bench.current(tray)
    assert (line.key, line.verdict and line.verdict.why) == (LINE, "no readings on record")
    run = bench.run_of(tray)
    event = Proved(run=run.number, op=40, line=LINE, gate="soaked", key=key, values={"set_point": 150.0, "soak": soak})
    assert format_proof_remarks(bench.state, event) == "; no readings on record ✕ not accepted"


@pytest.mark.parametrize("kind", ["{x}", "{sensor}", "of a newer kind", "\x1b[2J"])
def test_what_readings_lack_of_a_kind_that_nobody_knows_is_shown(kind: str) -> None:
    bench, tray = in_the_oven()
    prove(bench, tray, *every(10, 0, 70))
    key = next(key for key in bench.state.proofs if key.gate == "soaked")
    soak = {"total": 1e5, "start": None, "readings": 9, "sensors": ["a"], "over": [], "lacks": [[kind, "a", None, 5]]}
    run = bench.run_of(tray)
    event = Proved(run=run.number, op=40, line=LINE, gate="soaked", key=key, values={"set_point": 150.0, "soak": soak})
    said = format_proof_remarks(bench.state, event)
    assert kind.strip("\x1b") in said
    assert "\x1b" not in said


def test_everything_that_readings_can_lack_has_words() -> None:
    refused = {"empty", "too large", "not text", "line too long", "no readings"}
    assert set(FILE_LACKS) == {str(kind) for kind in LoggerFindingKind} - refused
    assert set(LACKS) == {str(kind) for kind in SoakFindingKind} | {IN_FUTURE, END_UNREAD}


AFTER = GATE.replace('gate = "soaked"', 'gate = "soaked", at = "after"')
BAKE_AGAIN = (
    (
        '[[reworks]]\nid = "regroove"\n',
        '[[reworks]]\nid = "bake"\nname = "Bake again"\nback_to = 40\n\n[[reworks]]\nid = "regroove"\n',
    ),
    (
        '  { code = "bent", text = "Bent" },\n',
        '  { code = "bent", text = "Bent" },\n  { code = "raw", text = "Raw", to = "rework", rework = "bake" },\n',
    ),
)


def test_readings_of_a_cycle_that_is_over_are_those_of_its_time() -> None:
    """Entered the next morning: half past twelve is yesterday's, not today's."""
    bench, tray = in_the_oven(AFTER)
    run = bench.run_of(tray)
    assert run.started is not None
    assert run.ended is not None
    bench.clock.until(run.started + timedelta(hours=26))
    text = ", ".join(f"{run.started + timedelta(minutes=n):%H:%M} 150" for n in range(0, 61, 10))
    bench.prove(tray, LINE, set_point=150, readings=text)
    assert bench.line(tray, LINE).state == "done"


def test_a_cycle_that_went_on_after_the_last_reading_says_what_nobody_read() -> None:
    """AMS 2750 has the whole cycle recorded, not the soak alone (from memory)."""
    bench, tray = in_the_oven(GATE.replace('time = "1 h"', 'time = "1 h", longest_gap = "45 min"'))
    prove(bench, tray, *every(10, 0, 70))
    assert bench.line(tray, LINE).evidence.startswith("from "), "it is read up to now"
    bench.until(tray, "count")
    assert bench.line(tray, LINE).evidence.startswith("from "), "within the longest gap"

    bench, tray = in_the_oven()
    prove(bench, tray, *every(10, 0, 70))
    last = bench.clock().at
    bench.clock.forward(3 * 3600)
    bench.until(tray, "count")
    line, said = bench.line(tray, LINE), f"no readings after {last:%H:%M}: the last 3 h 00 of the cycle unread"
    assert line.state == "done"
    assert line.evidence.startswith(said)
    assert line.verdict is not None
    assert "of the cycle unread" in " ".join(write_close_out(bench.state, bench.clock(), "h" * 64).split())

    proof = line.verdict.proof
    assert proof is not None
    bench.say(StrikeOut(proof.seq, "read on to the end"))
    readings = ", ".join(f"{last + timedelta(minutes=at):%H:%M} 150" for at in range(-70, 181, 10))
    bench.prove(tray, LINE, set_point=150, readings=readings)
    assert bench.line(tray, LINE).state == "done"
    assert "unread" not in bench.line(tray, LINE).evidence + write_close_out(bench.state, bench.clock(), "h" * 64)


def test_of_several_sensors_the_one_that_fell_silent_first_is_named() -> None:
    bench, tray = in_the_oven()
    bench.clock.forward(200 * 60)
    bench.say(from_file(bench, tray, {"door": every(5, 0, 200), "core": every(5, 0, 70)}))
    assert "unread" not in bench.line(tray, LINE).evidence, "the oven still runs"
    bench.until(tray, "count")
    assert bench.line(tray, LINE).evidence.startswith("core: no readings after ")


def test_a_soak_too_short_once_the_cycle_is_over_names_the_ways_on() -> None:
    bench, tray = in_the_oven(AFTER)
    run = bench.run_of(tray)
    assert run.started is not None
    text = ", ".join(f"{run.started + timedelta(minutes=n):%H:%M} 150" for n in range(0, 31, 10))
    bench.prove(tray, LINE, set_point=150, readings=text)
    line = bench.current(tray)
    assert line.verdict is not None
    assert line.verdict.clear == (
        "set the pieces aside (m), or have a lead waive it; if readings are missing, enter them all"
    )
    bench.say(Waive(run.number, LINE, "the data sheet allows half an hour"), by="LL")
    assert bench.line(tray, LINE).state == "waived"


def test_the_rework_that_bakes_again_is_named_where_there_is_one() -> None:
    bench = open_bench(lambda: edited((OUT, AFTER + OUT), *BAKE_AGAIN), start=4)
    bench.through(bench.form(10), 10, 20, 30)
    tray = bench.form(40)
    bench.until(tray, LINE)
    bench.prove(tray, LINE, set_point=150, readings=f"{bench.run_of(tray).started:%H:%M} 150")
    line = bench.current(tray)
    assert line.verdict is not None
    assert line.verdict.clear.startswith("set the pieces aside (m) for rework (Bake again), or have a lead waive it")


def test_a_batch_entered_half_done_asks_for_the_readings_of_a_soak_and_takes_them() -> None:
    """A proof without readings, as an earlier version entered it, is an open gate; typed ones count from the start."""
    bench = open_bench(lambda: baked(AFTER), start=4)
    bench.clock.forward(7200)
    now = bench.clock().at
    began, ended = now - timedelta(minutes=100), now - timedelta(minutes=20)
    row = PlacedPieces("load", 4, 40, 1, stands="over", began=began, ended=ended)
    readings = ", ".join(f"{began + timedelta(minutes=n):%H:%M} 150" for n in range(0, 71, 10))
    proof = PaperProof(40, LINE, {"set_point": 150, "readings": readings}, "AA", now, 1)

    refused = bench.refused(
        EnterLate((row,), now, (replace(proof, values={"set_point": 150, "readings": "as drawn"}),)), "LL"
    )
    assert refused.wrong == 'Readings: "as drawn" is not a time and a temperature'
    unknown = replace(row, began=None)
    assert bench.refused(EnterLate((unknown,), now, (proof,)), "LL").wrong == (
        "Readings: the start of the cycle is not known"
    )

    entry = bench.say(EnterLate((row,), now, (proof,)), "LL")[0]
    assert "; 1 h 10 at temperature · " in bench.line(1, LINE).evidence
    assert "1 h 10 of 1 h 00 at temperature" in list_late_proofs(bench.state, now)[0]

    bench.state.proofs = {
        key: replace(one, values={"set_point": 150.0, "readings": "as drawn"})
        for key, one in bench.state.proofs.items()
    }
    assert entry.kind == "entered_late"
    line = bench.current(1)
    assert (line.key, line.verdict and line.verdict.why) == (LINE, "no readings on record")


@pytest.mark.parametrize("gate", [GATE, AFTER.replace("155", "150.5"), GATE.replace('"1 h"', '"80 min"'), CONTROLLED])
def test_the_simulated_operator_reads_the_oven(gate: str) -> None:
    bench, tray = in_the_oven(gate)
    run = bench.run_of(tray)
    bench.through(tray, 40)
    assert run.released is not None
    assert not bench.state.waivers
