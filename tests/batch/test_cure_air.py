"""Cold or damp air puts off a cure that states its air; nothing brings it forward."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.batch.corrections.commands import StrikeOut
from floor.batch.describe import describe
from floor.batch.gates.room_air import ReadAir, has_cure_by_air
from floor.batch.open_items import ClockJump
from floor.batch.walk import cure_air
from floor.batch.walk.clock_jumps import compute_shift_since
from floor.batch.walk.clocks import compute_window_spans, judge_clock
from floor.batch.walk.load_clocks import list_load_clocks
from floor.batch.worklist.due_task import say_when
from floor.batch.worklist.large_view_content import build_large_view
from floor.batch.worklist.tasks import list_due_tasks
from floor.checklist.model import Checklist
from floor.checklist.operation import Clock
from floor.checklist.units import Measure
from floor.text import format_clock
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
    assert opens == ripe.opens or (ripe.opens is None and opens <= bench.clock().at), "the plan forecasts the same"
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
    assert said_at_handover(bench, load)["cure"] == ("stalled", "cure: stalled, the air is too cold or damp")


CLOSING = STATED.replace('earliest = "12 h"', 'earliest = "12 h", latest = "20 h"')


def spans(bench: Bench, load: int) -> list[tuple[float, float | None]]:
    """Hours from the coat to the opening and the closing of each window of the cure."""
    found = bench.state.checklist.clock("cure")
    assert found is not None
    pieces, now = bench.state.loads[load].pieces, bench.clock()
    since = judge_clock(bench.state, found[1], pieces, now).since
    assert since is not None
    return [
        ((opens - since).total_seconds() / HOUR, (closes - since).total_seconds() / HOUR if closes else None)
        for opens, closes in compute_window_spans(bench.state, found[1], pieces, now)
    ]


def said_at_handover(bench: Bench, load: int) -> dict[str, tuple[str, str]]:
    found = list_load_clocks(bench.state, bench.state.loads[load], bench.clock())
    return {one.name: (one.status, one.sentence) for one in found}


def test_a_window_that_closes_before_the_slowed_cure_is_over_is_said_at_once() -> None:
    """At 15 degC, 12 h take 24; the window closes after 20."""
    bench, load = curing(lambda: coated(CLOSING))
    coat = bench.clock().at
    assert said_at_handover(bench, load)["cure"][0] == "wait"
    read_air(bench, 15, 50)
    closes = f"closes {format_clock(coat + timedelta(hours=20), bench.clock().at)}"
    said = f"cure: {closes} (in 19 h 59), before it is ready"
    assert said_at_handover(bench, load)["cure"] == ("misses", said)
    (due,) = [one for one in list_due_tasks([bench.state], bench.clock()) if one.load == load]
    assert (due.urgency, due.what) == ("overdue", f"cure {closes}, before it is ready in this cold or damp air")
    assert say_when(due, bench.clock().at) == closes
    assert build_large_view(bench.state, bench.clock(), due).kind == "blocked", "not missed yet"
    assert spans(bench, load) == []

    bench.begin(load)
    line = bench.current(load)
    assert line.verdict is not None
    assert (line.key, line.state, line.verdict.why) == (GATE, "blocked", due.what)
    assert line.verdict.clear.startswith("warm or dry the air, then record it (x), or set the pieces aside (m)")
    read_air(bench, 9, 50)
    verdict = bench.current(load).verdict
    assert verdict is not None
    assert verdict.why == f"cure {closes}, but it has stalled: the air is too cold or damp"

    read_air(bench, 25, 50)
    line = bench.current(load)
    assert line.verdict is not None
    assert (line.state, line.verdict.why) == ("waits", "cure needs 11 h 59 more"), "in time again"


def test_a_cure_that_misses_its_window_waits_for_the_next() -> None:
    """At 15 degC and 67.5 % four times as long: 8 h, and 96 h for the second window."""
    windows = 'windows = [{ earliest = "2 h", latest = "6 h" }, { earliest = "24 h" }]'
    bench, load = curing(lambda: coated(STATED.replace('windows = [{ earliest = "12 h" }]', windows)))
    coat = bench.clock().at
    read_air(bench, 15, 67.5)
    bench.begin(load)
    line = bench.current(load)
    assert line.verdict is not None
    closes, opens = (format_clock(coat + timedelta(hours=hours), bench.clock().at) for hours in (6, 96))
    assert (line.state, line.verdict.why) == (
        "waits", f"cure closes {closes}, before it is ready in this cold or damp air",
    )  # fmt: skip
    assert line.verdict.clear == f"warm or dry the air, then record it (x), or wait for the next window, {opens}"
    assert [opens for opens, _ in spans(bench, load)] == [pytest.approx(96, abs=0.01)]


def test_another_window_that_closes_before_the_cure_is_over_is_said_too() -> None:
    """The recoat window of the same coat closes after 1 h (or opens after 48), its cure takes 12."""
    recoat = '  { gate = "cured", clock = "recoat", at = "arrive" },\n'
    gate = '  { gate = "cured", clock = "cure", at = "arrive" },\n'
    bench, load = curing(lambda: coated(STATED, (gate, gate + recoat)))
    closes = f"recoat closes {format_clock(bench.clock().at + timedelta(hours=1), bench.clock().at)} first"
    status, said = said_at_handover(bench, load)["cure"]
    assert status == "misses"
    assert said.endswith(f"; {closes}")
    (due,) = [one for one in list_due_tasks([bench.state], bench.clock()) if one.load == load]
    assert due.what == f"Wait for cure: {closes}"
    bench.begin(load)
    line = bench.current(load)
    assert line.verdict is not None
    assert line.verdict.why.startswith(f"{closes}; cure needs ")
    assert line.verdict.clear.endswith("; if that is too late, ask a lead now")


def test_a_window_that_was_open_stays_a_window_once_it_has_closed() -> None:
    """As without readings: the plan says since when it is too late."""
    bench, load = curing(lambda: coated(CLOSING))
    bench.clock.forward(21 * HOUR)
    assert spans(bench, load) == [(12, 20)]
    bench, load = curing(lambda: coated(CLOSING))
    read_air(bench, 20, 50)
    bench.clock.forward(21 * HOUR)
    ((opens, closes),) = spans(bench, load)
    assert opens == pytest.approx(12 * 2**0.5, abs=0.001)
    assert closes == 20


@pytest.mark.parametrize("stepped", [0, 20])
def test_a_reading_long_before_the_coat_says_nothing_of_its_air(stepped: float) -> None:
    """Also where the clock was set before both, so that it reads as many hours for all the record."""
    bench = open_bench(coated, start=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.clock.step(stepped * HOUR)
    read_air(bench, 9, 90)
    bench.clock.forward(13 * HOUR)
    bench.through(load, 20)
    assert opens_after(bench, load) == pytest.approx(12)


def test_only_readings_that_may_count_are_put_on_the_present_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """A room is read for months, and every timer on a screen is judged several times a second."""
    bench, load = curing()
    read_air(bench, 15, 50)
    first = bench.state.air[0]
    bench.state.air[:0] = [first._replace(at=first.at - timedelta(hours=hours)) for hours in range(513, 13, -1)]
    shifted: list[int] = []

    def count(jumps: Sequence[ClockJump], seq: int) -> float:
        shifted.append(seq)
        return compute_shift_since(jumps, seq)

    monkeypatch.setattr(cure_air, "compute_shift_since", count)
    assert opens_after(bench, load) == pytest.approx(24, abs=0.02)
    assert len(shifted) < 10


@pytest.mark.parametrize("stepped", [20, -6])
def test_readings_keep_their_distance_from_the_coat_when_the_clock_is_set(stepped: float) -> None:
    """By hand: four hours at 15 degC count two; the ten left take ten at 25, wherever the clock was set meanwhile."""
    bench, load = curing()
    read_air(bench, 15, 50)
    bench.clock.forward(4 * HOUR)
    read_air(bench, 25, 50)
    bench.clock.forward(HOUR)
    bench.clock.step(stepped * HOUR)
    assert opens_after(bench, load) == pytest.approx(14, abs=0.02)


def _for_the_cold(clock: Clock) -> Clock:
    return replace(clock, temperature=Measure(8.0, "degC", 8.0, "8 degC")) if clock.id == "cure" else clock


def test_a_coat_for_the_cold_cures_down_to_the_air_that_it_states() -> None:
    """One that states less than the usual 10 degC stands still only below that: `floor check` refuses it now, but a
    batch may have been opened before it did."""
    plain = coated()
    operations = tuple(replace(one, clocks=tuple(map(_for_the_cold, one.clocks))) for one in plain.operations)
    bench, load = curing(lambda: replace(plain, operations=operations))
    read_air(bench, 8, 50)
    assert opens_after(bench, load) == pytest.approx(12)
    read_air(bench, 7, 50)
    assert opens_after(bench, load) > 24


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
        ("20 degF", "50", "Room air: asked for in degC, not degF"),
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
