"""Time at temperature against a worked log, and against the same log sampled very finely."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.errors import Impossible
from floor.figures.soak import (
    OverTemperature,
    Reading,
    SoakFindingKind,
    SoakRule,
    Stretch,
    TemperatureBand,
    compute_soak,
)

MINUTE = 60.0
HOUR = 3600.0


def readings(*points: tuple[float, float]) -> list[Reading]:
    """Of minutes and °C."""
    return [Reading(minute * MINUTE, temperature) for minute, temperature in points]


LOG = readings((0, 22), (10, 120), (15, 150), (20, 155), (45, 152), (50, 140))
OVEN = TemperatureBand(75, 85)


def steady(start: int, end: int, temperature: float = 80, every: int = 5) -> list[Reading]:
    return readings(*((minute, temperature) for minute in range(start, end + 1, every)))


def kinds(found: object) -> list[SoakFindingKind]:
    return [one.kind for one in found.findings]  # type: ignore[attr-defined]


@pytest.mark.parametrize(("low", "minutes"), [(150, 30.833), (153, 18.667)])
def test_a_worked_log(low: float, minutes: float) -> None:
    """Part temperatures with straight lines between: the longest unbroken time at 150 °C and more is 30.833 min, at 153
    °C 18.667 min (worked out outside the project)."""
    found = compute_soak({"part": LOG}, TemperatureBand(low), longest_gap=HOUR)

    assert found.longest / MINUTE == pytest.approx(minutes, abs=1e-3)
    assert found.total == found.longest


def test_the_ramps_do_not_count() -> None:
    """From 20 to 80 °C in 60 min, 180 min there, down in 60: 75 °C is passed 5 min before and after (by hand)."""
    found = compute_soak({"part": readings((0, 20), (60, 80), (240, 80), (300, 20))}, OVEN, longest_gap=4 * HOUR)

    assert found.total / MINUTE == pytest.approx(190)
    assert found.start == pytest.approx(55 * MINUTE)


def test_only_time_in_the_band_is_summed() -> None:
    """A door opened: 70 °C for a moment between two readings of 80 costs what lies below 75, half of each way."""
    found = compute_soak({"part": readings((0, 80), (10, 80), (20, 70), (30, 80), (40, 80))}, OVEN)

    assert [(one.start / MINUTE, one.end / MINUTE) for one in found.stretches] == [(0, 15), (25, 40)]
    assert (found.total / MINUTE, found.longest / MINUTE) == (30, 15)


def test_what_is_too_hot_does_not_count_and_is_reported_with_its_length() -> None:
    """85 °C is crossed half way to 90 and back (by hand)."""
    found = compute_soak({"part": readings((0, 80), (10, 90), (20, 95), (30, 75))}, OVEN)

    assert found.over == (OverTemperature("part", Stretch(5 * MINUTE, 25 * MINUTE), 95),)
    assert found.total / MINUTE == pytest.approx(5 + 5)


def test_over_temperature_ends_with_the_readings_and_at_too_long_a_gap() -> None:
    hot = readings((0, 90), (10, 91), (100, 95), (110, 96), (120, 75))
    found = compute_soak({"a": hot, "b": readings((0, 80), (5, 88))}, OVEN)

    assert [(one.sensor, one.stretch.start / MINUTE, one.stretch.end / MINUTE, one.peak) for one in found.over] == [
        ("a", 0, 10, 91), ("a", 100, pytest.approx(110 + 10 * 11 / 21), 96), ("b", pytest.approx(3.125), 5, 88),
    ]  # fmt: skip


def test_over_temperature_has_no_crossing_within_too_long_a_gap() -> None:
    """Where the limit was crossed is not known: only what was read is hot, though shown with no length."""
    found = compute_soak({"a": readings((0, 80), (100, 90), (200, 80))}, OVEN)

    assert found.over == (OverTemperature("a", Stretch(100 * MINUTE, 100 * MINUTE), 90),)


TWO = {"near": steady(0, 120), "far": readings((0, 60)) + steady(30, 150)}
"""The far one comes to 75 °C at 22.5 min, three quarters of the way from 60 to 80 (by hand)."""


def test_the_soak_starts_when_all_sensors_are_in_the_band() -> None:
    found = compute_soak(TWO, OVEN, longest_gap=HOUR)

    assert found.rule is SoakRule.ALL_SENSORS
    assert [(one.start / MINUTE, one.end / MINUTE) for one in found.stretches] == [(22.5, 120)]


def test_the_soak_starts_with_the_last_sensor() -> None:
    found = compute_soak(TWO, OVEN, rule=SoakRule.LAST_SENSOR, longest_gap=HOUR)
    assert [(one.start / MINUTE, one.end / MINUTE) for one in found.stretches] == [(22.5, 150)]

    cold = compute_soak({**TWO, "cold": steady(0, 150, 40)}, OVEN, rule=SoakRule.LAST_SENSOR, longest_gap=HOUR)
    assert (cold.total, cold.start) == (0, None), "one that never got there is the last"


def test_the_soak_of_one_named_sensor() -> None:
    found = compute_soak(TWO, OVEN, rule=SoakRule.CONTROL_SENSOR, control="near")
    assert found.total / MINUTE == 120
    with pytest.raises(Impossible):
        compute_soak(TWO, OVEN, rule=SoakRule.CONTROL_SENSOR)


def test_a_gap_counts_nothing_and_is_reported() -> None:
    """20 min without a reading where 15 are allowed, though 80 °C stands at both ends."""
    found = compute_soak({"part": steady(0, 60) + steady(80, 140)}, OVEN)

    assert found.total / MINUTE == 120
    assert [(one.kind, one.at / MINUTE, one.amount / MINUTE) for one in found.findings] == [
        (SoakFindingKind.GAP, 80, 20),
    ]
    assert compute_soak({"part": steady(0, 60) + steady(80, 140)}, OVEN, longest_gap=20 * MINUTE).total / MINUTE == 140


def test_clocks_that_go_forward_leave_out_an_hour() -> None:
    """Readings each 5 min, the next one 65 min later by the clock (15 U.S.C. 260a: an hour): nothing counts there."""
    found = compute_soak({"part": steady(0, 60) + steady(125, 180)}, OVEN)

    assert [(one.kind, one.amount / MINUTE) for one in found.findings] == [(SoakFindingKind.HOUR_SKIPPED, 65)]
    assert found.total / MINUTE == 115


def test_clocks_that_go_back_show_an_hour_twice_and_it_counts_once() -> None:
    """After 01:59 comes 01:00 again: 120 min by the clock, of 180 that went by."""
    found = compute_soak({"part": steady(0, 120) + steady(65, 120)}, OVEN)

    assert [(one.kind, one.amount / MINUTE) for one in found.findings] == [(SoakFindingKind.HOUR_REPEATED, 55)]
    assert found.total / MINUTE == 120


def test_readings_out_of_order_are_sorted_and_said() -> None:
    good = steady(0, 60)
    found = compute_soak({"part": [*good[:3], good[4], good[3], *good[5:]]}, OVEN)

    assert [(one.kind, one.at, one.amount) for one in found.findings] == [
        (SoakFindingKind.OUT_OF_ORDER, good[3].at, 5 * MINUTE),
    ]
    assert found.total / MINUTE == 60


def test_a_file_that_was_read_twice_counts_once() -> None:
    found = compute_soak({"part": steady(0, 60) + steady(0, 60)}, OVEN)
    assert found.total / MINUTE == 60
    assert kinds(found) == [SoakFindingKind.OUT_OF_ORDER]


def test_sparse_readings_are_reported_to_be_sparse() -> None:
    """Five readings in the soak where six are asked for (AMS 2750, process recorders; from memory)."""
    assert kinds(compute_soak({"part": steady(0, 60, every=15)}, OVEN)) == [SoakFindingKind.SPARSE]
    assert kinds(compute_soak({"part": steady(0, 75, every=15)}, OVEN)) == []
    assert kinds(compute_soak({"part": steady(0, 60, every=15)}, OVEN, fewest=5)) == []


def test_a_sensor_without_readings_proves_nothing() -> None:
    found = compute_soak({"part": steady(0, 60), "air": []}, OVEN)
    assert found.total == 0
    assert SoakFindingKind.NO_READINGS in kinds(found)
    assert compute_soak({}, OVEN).stretches == ()
    assert compute_soak({}, OVEN, rule=SoakRule.LAST_SENSOR).total == 0


def test_what_is_no_number_is_left_out_and_said() -> None:
    bad = [Reading(math.nan, 80), Reading(3 * MINUTE, math.nan), Reading(math.inf, 80)]
    found = compute_soak({"part": steady(0, 60) + bad}, OVEN)

    assert [(one.kind, one.amount) for one in found.findings] == [
        (SoakFindingKind.NO_NUMBER, 2), (SoakFindingKind.NO_TEMPERATURE, 1),
    ]  # fmt: skip
    assert found.total / MINUTE == 60


@pytest.mark.parametrize("shown", [math.nan, math.inf])
def test_a_reading_without_a_temperature_breaks_the_soak(shown: float) -> None:
    """From 20 to 30 min nobody knows how hot it was, though both readings beside it are in the band."""
    blind = [*steady(0, 20), Reading(25 * MINUTE, shown), *steady(30, 60)]
    found = compute_soak({"part": blind, "air": steady(0, 60)}, OVEN)

    assert [(one.start / MINUTE, one.end / MINUTE) for one in found.stretches] == [(0, 20), (30, 60)]
    assert [(one.kind, one.sensor, one.at / MINUTE, one.amount) for one in found.findings] == [
        (SoakFindingKind.NO_TEMPERATURE, "part", 25, 1),
    ]


@pytest.mark.parametrize("wrong", [
    lambda: TemperatureBand(80, 70), lambda: TemperatureBand(math.nan, 70), lambda: TemperatureBand(-math.inf),
    lambda: compute_soak({}, OVEN, longest_gap=0), lambda: compute_soak({}, OVEN, longest_gap=math.nan),
])  # fmt: skip
def test_nonsense_is_refused(wrong: object) -> None:
    with pytest.raises(Impossible):
        wrong()  # type: ignore[operator]


SERIES = st.lists(
    st.tuples(st.integers(1, 20), st.floats(60, 100)), min_size=2, max_size=30,
)  # fmt: skip


def series(steps: list[tuple[int, float]]) -> list[Reading]:
    at, found = 0, []
    for step, temperature in steps:
        at += step
        found.append(Reading(at * MINUTE, temperature))
    return found


@settings(deadline=None, max_examples=150)
@given(one=SERIES, other=SERIES)
def test_sums_are_those_of_very_many_looks(one: list[tuple[int, float]], other: list[tuple[int, float]]) -> None:
    """numpy's interpolation each second, gaps left out: by looking instead of by crossings."""
    sensors = {"one": series(one), "other": series(other)}
    at = np.arange(0, max(each[-1].at for each in sensors.values()), 1.0) + 0.5
    inside = np.ones_like(at, dtype=bool)
    for each in sensors.values():
        times = np.array([reading.at for reading in each])
        shown = np.interp(at, times, [reading.temperature for reading in each], left=-1, right=-1)
        gap = np.zeros_like(inside)
        for earlier, later in pairwise(times):
            gap |= (later - earlier > 15 * MINUTE) & (earlier < at) & (at < later)
        inside &= (shown >= OVEN.low) & (shown <= OVEN.high) & ~gap
    found = compute_soak(sensors, OVEN)

    assert found.total == pytest.approx(inside.sum(), abs=2 + 2 * len(found.stretches))
    assert all(earlier.end < later.start for earlier, later in pairwise(found.stretches))


@settings(deadline=None)
@given(steps=SERIES, seed=st.randoms(use_true_random=False))
def test_order_and_repeats_never_lengthen(steps: list[tuple[int, float]], seed: object) -> None:
    good = series(steps)
    mixed = good + good[: len(good) // 2]
    seed.shuffle(mixed)  # type: ignore[attr-defined]

    assert compute_soak({"part": mixed}, OVEN).total <= compute_soak({"part": good}, OVEN).total + 1e-6
    assert compute_soak({"part": good + good}, OVEN).total == pytest.approx(compute_soak({"part": good}, OVEN).total)


def test_no_time_is_made_up_between_readings_that_a_clock_put_beside_each_other() -> None:
    """One reading, then the clock is set back by an hour and 45 min more are read: 45 min went by, not 59 (by hand)."""
    shown = readings((1, 80)) + [Reading(one.at - HOUR, 80) for one in steady(5, 50)]
    assert compute_soak({"part": shown}, OVEN).total / MINUTE == pytest.approx(45)


@settings(deadline=None, max_examples=500)
@given(steps=SERIES, hidden=st.integers(0, 29))
def test_a_repeated_hour_never_counts_more_than_went_by(steps: list[tuple[int, float]], hidden: int) -> None:
    """A clock set back by an hour after any reading, beside the true times."""
    true = series(steps)
    shown = [Reading(one.at - HOUR * (i > hidden), one.temperature) for i, one in enumerate(true)]
    wide = TemperatureBand(0, 200)  # so that every minute really counts

    assert (
        compute_soak({"part": shown}, wide).total <= compute_soak({"part": true}, wide, longest_gap=HOUR).total + 1e-6
    )


@settings(deadline=None)
@given(st.lists(st.builds(Reading, st.floats(), st.floats()), max_size=8), st.sampled_from(list(SoakRule)))
def test_any_readings_are_answered(wild: list[Reading], rule: SoakRule) -> None:
    found = compute_soak({"a": wild, "b": wild[::-1]}, OVEN, rule=rule, control="a")
    assert 0 <= found.longest <= found.total
    assert all(one.peak > OVEN.high for one in found.over)
