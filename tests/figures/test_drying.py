"""Dew points against a psychrometric library and published charts; cures that only cold and damp change."""

import math

import pint
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.figures.drying import (
    LEAST_MARGIN,
    CureRule,
    DryingStage,
    RoomReading,
    compute_cure_progress,
    compute_dew_margin,
    compute_dew_point,
    compute_vapor_pressure,
    is_stage_reached,
)
from floor.figures.errors import Impossible

HOUR = 3600.0
UNITS = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def celsius(fahrenheit: float) -> float:
    return float(UNITS.Quantity(fahrenheit, "degF").to("degC").magnitude)


@pytest.mark.parametrize(("air", "humidity", "dew"), [(25, 60, 16.70), (20, 50, 9.27), (16, 71, 10.75)])
def test_dew_points(air: float, humidity: float, dew: float) -> None:
    """psychrolib 2.5.0, `GetTDewPointFromRelHum`; charts of coating inspection round 10.75 to 11."""
    assert compute_dew_point(air, humidity) == pytest.approx(dew, abs=0.02)


@pytest.mark.parametrize(("air", "humidity", "dew"), [(70, 50, 50.5), (80, 50, 59.7), (75, 80, 68.4)])
def test_dew_points_in_fahrenheit(air: float, humidity: float, dew: float) -> None:
    """psychrolib 2.5.0; a dew-point chart for adhesives and coatings prints 50, 59 and 68 (it drops the fraction)."""
    assert compute_dew_point(celsius(air), humidity) == pytest.approx(celsius(dew), abs=0.06)
    assert math.floor(compute_dew_point(celsius(air), humidity) * 1.8 + 32) == {70: 50, 80: 59, 75: 68}[air]


def test_dew_points_beside_the_library() -> None:
    """psychrolib (ASHRAE Handbook, Hyland and Wexler's formula) over all conditions in a shop."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    for air in range(1, 51, 3):
        for humidity in range(10, 101, 5):
            dew = psychrolib.GetTDewPointFromRelHum(air, humidity / 100)
            if dew > 0:  # below, the library's is over ice
                assert compute_dew_point(air, humidity) == pytest.approx(dew, abs=0.06), (air, humidity)
            pressure = psychrolib.GetSatVapPres(air)
            assert compute_vapor_pressure(air) == pytest.approx(pressure, rel=0.004)


def test_vapor_pressure_of_water() -> None:
    """2,339.3 Pa at 20 °C, 3,169.9 at 25, 7,384.9 at 40 (steam tables, IAPWS; from memory), within 0.4 %."""
    for air, pressure in ((20, 2339.3), (25, 3169.9), (40, 7384.9)):
        assert compute_vapor_pressure(air) == pytest.approx(pressure, rel=0.004)


def test_a_worked_case_that_may_be_painted() -> None:
    """21 °C, wet bulb 17 °C (its humidity by psychrolib), surface 19 °C: dew point 14.73 °C (psychrolib; 15 by the
    chart of a training note for coating inspectors), margin 4.3 °C."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    humidity = 100 * psychrolib.GetRelHumFromTWetBulb(21, 17, 101325)

    assert compute_dew_point(21, humidity) == pytest.approx(14.73, abs=0.1)
    assert compute_dew_margin(21, humidity, 19) == pytest.approx(4.3, abs=0.1)
    assert compute_dew_margin(21, humidity, 19) > LEAST_MARGIN


def test_a_worked_case_that_may_not() -> None:
    """16 °C at 71 %, surface 13 °C: margin 2.25 °C (the same note: not allowed)."""
    assert compute_dew_margin(16, 71, 13) == pytest.approx(2.25, abs=0.02)
    assert LEAST_MARGIN == 3.0


def test_a_margin_is_a_difference() -> None:
    """3 °C of difference are 5.4 °F, never 37.4 °F (pint)."""
    assert UNITS.Quantity(3, "delta_degC").to("delta_degF").magnitude == pytest.approx(5.4)
    assert compute_dew_margin(celsius(70), 50, celsius(55.9)) == pytest.approx(3.0, abs=0.05), "5.4 °F above 50.5 °F"


@given(air=st.floats(-20, 60), humidity=st.floats(1, 100))
def test_a_dew_point_gives_the_humidity_back(air: float, humidity: float) -> None:
    dew = compute_dew_point(air, humidity)

    assert dew <= air + 1e-9
    if dew >= -45:
        assert 100 * compute_vapor_pressure(dew) / compute_vapor_pressure(air) == pytest.approx(humidity)


@pytest.mark.parametrize("wrong", [
    lambda: compute_dew_point(20, 0), lambda: compute_dew_point(20, 100.1), lambda: compute_dew_point(61, 50),
    lambda: compute_dew_point(math.nan, 50),
    lambda: CureRule(stops_at=30), lambda: CureRule(stops_humid=40), lambda: CureRule(halved_by=0),
    lambda: compute_cure_progress([], 5, 4), lambda: compute_cure_progress([], math.nan, 4),
])  # fmt: skip
def test_nonsense_is_refused(wrong: object) -> None:
    with pytest.raises(Impossible):
        wrong()  # type: ignore[operator]


def room(*hours: tuple[float, float, float]) -> list[RoomReading]:
    """Of hours, °C and percent."""
    return [RoomReading(hour * HOUR, temperature, humidity) for hour, temperature, humidity in hours]


RULE = CureRule()


def test_at_standard_conditions_time_counts_in_full() -> None:
    """77 °F and 50 %, the conditions of the times on paint makers' data sheets."""
    found = compute_cure_progress(room((0, 25, 50)), 0, 24 * HOUR)
    assert (found.counted, found.rate) == (24 * HOUR, 1.0)
    assert [found.estimate_end(hours * HOUR) / HOUR for hours in (0, 12, 24, 30)] == [0, 12, 24, 30]


def test_ten_degrees_colder_takes_twice_as_long() -> None:
    """The rule of thumb of coating guides: at 10 °C twice the time of 20 °C."""
    rule = CureRule(standard_temperature=20)
    found = compute_cure_progress(room((0, 10, 50)), 0, 24 * HOUR, rule)

    assert found.counted == pytest.approx(12 * HOUR)
    assert found.estimate_end(24 * HOUR) == pytest.approx(48 * HOUR)
    assert compute_cure_progress(room((0, 9.9, 50)), 0, 24 * HOUR, rule).estimate_end(24 * HOUR) == math.inf


def test_damp_air_slows_and_stops() -> None:
    """Halfway from 50 to 85 % counts half (our choice), 85 % nothing (the limit of ISO 12944-7, as quoted)."""
    assert RULE.find_rate(25, 67.5) == pytest.approx(0.5)
    assert RULE.find_rate(25, 85) == 0
    assert RULE.find_rate(15, 67.5) == pytest.approx(0.25), "cold and damp both"


def test_heat_and_dry_air_shorten_nothing() -> None:
    assert RULE.find_rate(60, 5) == RULE.find_rate(25, 50) == 1.0
    assert RULE.find_rate(1e6, 0) == 1.0


def test_between_readings_the_slower_one_counts() -> None:
    """15 °C at first, 25 from 6 h on: half of 6 h, then all of 2 (by hand)."""
    found = compute_cure_progress(room((6, 25, 50), (0, 15, 50)), 0, 8 * HOUR)

    assert found.counted == pytest.approx(5 * HOUR)
    assert found.rate == 1.0


def test_a_time_that_is_over_ended_when_it_did() -> None:
    """15 °C for 6 h are worth 3, then all counts (by hand): 2 h were over at 4, 4 h at 7, and 10 h will be at 13."""
    found = compute_cure_progress(room((0, 15, 50), (6, 25, 50)), 0, 8 * HOUR)
    assert [found.estimate_end(hours * HOUR) / HOUR for hours in (2, 3, 4, 10)] == pytest.approx([4, 6, 7, 13])


def test_what_was_over_before_a_cure_stalled_stays_over() -> None:
    found = compute_cure_progress(room((0, 25, 50), (4, 25, 50), (4, 5, 50)), 0, 8 * HOUR)
    assert [found.estimate_end(hours * HOUR) / HOUR for hours in (4, 4.01)] == [4, math.inf]


def test_readings_before_the_coat_tell_the_air_it_was_put_on_in() -> None:
    found = compute_cure_progress(room((-3, 15, 50), (-1, 25, 50), (2, 25, 50)), 0, 4 * HOUR)
    assert found.counted == 4 * HOUR


def test_a_reading_of_this_moment_tells_the_rate() -> None:
    found = compute_cure_progress(room((0, 25, 50), (4, 15, 50)), 0, 4 * HOUR)
    assert (found.counted, found.rate) == (pytest.approx(2 * HOUR), pytest.approx(0.5))


def test_without_readings_the_stated_time_stands() -> None:
    found = compute_cure_progress([], 0, 4 * HOUR)
    assert (found.counted, found.rate, found.estimate_end(6 * HOUR)) == (4 * HOUR, 1.0, 6 * HOUR)


def test_what_no_air_can_be_counts_nothing() -> None:
    assert compute_cure_progress(room((0, math.nan, 50)), 0, HOUR).counted == 0
    assert compute_cure_progress(room((0, 25, math.nan)), 0, HOUR).counted == 0
    assert compute_cure_progress(room((0, 25, -1)), 0, HOUR).counted == 0
    assert compute_cure_progress([RoomReading(math.nan, 0, 0)], 0, HOUR).counted == HOUR, "a reading of no time is none"


AIRS = st.lists(
    st.builds(RoomReading, st.floats(-5 * HOUR, 30 * HOUR), st.floats(-10, 60), st.floats(0, 100)), max_size=10
)


@given(readings=AIRS, now=st.floats(0, 24 * HOUR), later=st.floats(0, 10 * HOUR))
def test_nothing_shortens_a_cure(readings: list[RoomReading], now: float, later: float) -> None:
    found = compute_cure_progress(readings, 0, now)
    assert 0 <= found.counted <= now
    assert found.estimate_end(24 * HOUR) >= 24 * HOUR - 1e-6
    known = [one for one in readings if one.at <= now]
    after = compute_cure_progress(known, 0, now + later)
    assert after.counted - compute_cure_progress(known, 0, now).counted <= later + 1e-6


@given(readings=AIRS, which=st.integers(0, 9), colder=st.floats(0, 20), damper=st.floats(0, 40))
def test_cold_and_damp_only_lengthen(readings: list[RoomReading], which: int, colder: float, damper: float) -> None:
    worse = [
        RoomReading(one.at, one.temperature - colder, min(one.humidity + damper, 100)) if i == which else one
        for i, one in enumerate(readings)
    ]
    counted = compute_cure_progress(readings, 0, 24 * HOUR).counted
    assert compute_cure_progress(worse, 0, 24 * HOUR).counted <= counted + 1e-6


def test_the_stages_are_those_of_the_standard() -> None:
    """Eight stages of ASTM D1640, dry-to-touch between tack-free and dry-hard (a public glossary that quotes it)."""
    names = [stage.value for stage in DryingStage]
    assert len(names) == 8
    assert names[names.index("tack-free") + 1 :][:2] == ["dry-to-touch", "dry-hard"]
    assert set(names) >= {"set-to-touch", "dust-free", "dry-through", "dry-to-recoat", "print-free"}


def test_a_later_stage_includes_the_ones_before_it() -> None:
    assert is_stage_reached("dry-hard", "dry-hard")
    assert is_stage_reached("dry-hard", "dry-through")
    assert not is_stage_reached("dry-hard", "dry-to-touch")
    assert not is_stage_reached("dry-hard", "dry-to-recoat"), "it stands by itself"
    assert not is_stage_reached("dry-to-recoat", "dry-through")
    assert is_stage_reached("dry-to-recoat", "dry-to-recoat")
    assert not is_stage_reached("dry-hard", "none")
    assert not is_stage_reached("none", "none")
