"""Cold or damp air puts off a cure that states its air; nothing brings it forward."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.batch.corrections.commands import StrikeOut
from floor.batch.describe import describe
from floor.batch.gates.room_air import ReadAir, has_cure_by_air
from floor.batch.walk.clocks import compute_window_spans, judge_clock
from floor.checklist.model import Checklist
from tests.batch.factory import Bench, edited, open_bench, part
from tests.batch.test_air_gate import PLACE

CURE = '{ id = "cure", starts = "step coat", windows = [{ earliest = "12 h" }], source = "Label: 12 h" }'
STATED = CURE.replace(" }]", ' }], temperature = "25 degC", humidity = "50 %"')
AIR = '{ gate = "air measured", low = "5 degC", high = "35 degC" },'
GATE = "cured 1"
HOUR = 3600.0


def coated(stated: str = STATED, *more: tuple[str, str]) -> Checklist:
    return edited((CURE, stated), *more)


def curing(checklist: Callable[[], Checklist] = coated) -> tuple[Bench, int]:
    """A pallet whose coat went on a moment ago."""
    bench = open_bench(checklist, start=4)
    load = bench.form(10)
    bench.through(load, 10, 20)
    return bench, load


def opens_after(bench: Bench, load: int) -> float:
    """Hours from the coat to the opening of the cure, as it is forecast now."""
    found = bench.state.checklist.clock("cure")
    assert found is not None
    pieces = bench.state.loads[load].pieces
    ripe = judge_clock(bench.state, found[1], pieces, bench.clock())
    assert ripe.since is not None
    ((opens, closes),) = compute_window_spans(bench.state, found[1], pieces, bench.clock())
    assert closes is None
    assert opens == (ripe.opens or bench.clock().at), "the plan forecasts the same"
    return (opens - ripe.since).total_seconds() / HOUR


def read_air(bench: Bench, air: float, humidity: float) -> None:
    bench.say(ReadAir(str(air), str(humidity)))


@pytest.mark.parametrize(
    ("air", "humidity", "hours"),
    [(25, 50, 12), (40, 20, 12), (15, 50, 24), (25, 67.5, 24), (15, 67.5, 48), (20, 50, 12 * 2**0.5)],
)
def test_the_time_is_longer_by_the_rule_and_never_shorter(air: float, humidity: float, hours: float) -> None:
    """25 degC (77 degF) and 50 % are the air of makers' data sheets; each 10 degC less doubles the time (rule of thumb
    of coating guides); from 50 to 85 % the rate falls in a straight line (shop decision)."""
    bench, load = curing()
    assert opens_after(bench, load) == pytest.approx(12), "nothing was read"
    read_air(bench, air, humidity)
    assert opens_after(bench, load) == pytest.approx(hours, abs=0.001)


def test_a_warm_room_again_counts_from_when_it_was_read() -> None:
    """By hand: six hours at 15 degC count three; the nine left take nine at 25. Between them the slower one counts."""
    bench, load = curing()
    read_air(bench, 15, 50)
    bench.clock.forward(6 * HOUR)
    read_air(bench, 25, 50)
    assert opens_after(bench, load) == pytest.approx(15, abs=0.02)
    bench.begin(load)
    bench.clock.until(bench.clock().at + timedelta(hours=8, minutes=50))
    assert bench.line(load, GATE).verdict.status == "wait"  # type: ignore[union-attr]
    bench.clock.until(bench.clock().at + timedelta(minutes=15))
    assert bench.line(load, GATE).state == "done"


def test_the_walk_says_why_it_waits_longer() -> None:
    bench, load = curing()
    read_air(bench, 15, 50)
    bench.begin(load)
    line = bench.line(load, GATE)
    assert line.verdict is not None
    assert line.verdict.why.startswith("cure needs 23 h 5")
    assert line.verdict.why.endswith(" more in this cold or damp air")
    read_air(bench, 9, 50)
    line = bench.line(load, GATE)
    assert line.verdict is not None
    assert line.verdict.why == "cure has stalled: the air is too cold or damp"
    assert line.verdict.clear == "warm or dry the air, then record it (x)"


def test_a_timer_that_states_no_air_follows_the_clock_alone() -> None:
    bench, load = curing(part)
    assert not has_cure_by_air(bench.state.checklist)
    read_air(bench, 5, 90)
    assert opens_after(bench, load) == pytest.approx(12)


def test_the_check_before_the_coat_is_a_reading_too_and_an_old_one_is_not() -> None:
    """59 degF are 15 degC (by the definition of the scale)."""
    gate = AIR.replace("5 degC", "41 degF").replace("35 degC", "95 degF")
    bench = open_bench(lambda: coated(STATED, (PLACE, f"{gate}\n  {PLACE}")), start=4)
    load = bench.form(10)
    bench.through(load, 10)
    read_air(bench, 9, 90)
    bench.clock.forward(13 * HOUR)
    bench.until(load, "air measured 1")
    bench.prove(load, "air measured 1", air=59, humidity=50, surface=68)
    bench.through(load, 20)
    assert opens_after(bench, load) == pytest.approx(24, abs=0.02)


def test_a_reading_that_was_wrong_is_struck_out() -> None:
    bench, load = curing()
    read_air(bench, 15, 50)
    assert describe(bench.state, bench.state.entries[-1]) == "room air 15 degC, 50 %"
    bench.say(StrikeOut(bench.state.seq, "the other thermometer"), by="LL")
    assert opens_after(bench, load) == pytest.approx(12)


@pytest.mark.parametrize(
    ("air", "humidity", "wrong"),
    [
        ("", "50", "Room air: nothing entered"),
        ("70", "50", "Room air: 70 is not -45 to 60 degC"),
        ("20", "0", "Relative humidity: 0 is not 1 to 100 %"),
        ("20 degF", "50", "Room air: degF is not degC"),
        ("20", "damp", "Relative humidity: damp is not a number"),
    ],
)
def test_air_that_cannot_be_is_refused_at_its_field(air: str, humidity: str, wrong: str) -> None:
    bench, _ = curing()
    assert bench.refused(ReadAir(air, humidity)).wrong == wrong


def test_the_air_is_read_in_the_unit_of_the_timer() -> None:
    """59 degF are 15 degC, 77 are 25 (by the definition of the scale)."""
    bench, load = curing(lambda: coated(STATED.replace("25 degC", "77 degF")))
    read_air(bench, 59, 50)
    assert bench.state.air[0].temperature == 15
    assert describe(bench.state, bench.state.entries[-1]) == "room air 59 degF, 50 %"
    assert opens_after(bench, load) == pytest.approx(24, abs=0.001)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.floats(0.1, 6), st.floats(-20, 45), st.floats(1, 100)), max_size=5), st.floats(0, 15))
def test_whatever_is_read_no_cure_opens_before_its_stated_time(
    readings: list[tuple[float, float, float]], later: float
) -> None:
    bench, load = curing(lambda: CHECKLIST)
    for hours, air, humidity in readings:
        bench.clock.forward(hours * HOUR)
        read_air(bench, air, humidity)
    bench.clock.forward(later * HOUR)
    found = bench.state.checklist.clock("cure")
    assert found is not None
    ripe = judge_clock(bench.state, found[1], bench.state.loads[load].pieces, bench.clock())
    assert ripe.since is not None
    if ripe.status == "open":
        assert bench.clock().at - ripe.since >= timedelta(hours=12)
    else:
        assert ripe.opens is not None
        assert ripe.opens - ripe.since >= timedelta(hours=12) - timedelta(milliseconds=1)


CHECKLIST = coated()
