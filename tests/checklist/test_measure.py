"""Values with units against published conversions, and the round trip from text to frozen batch and back."""

import json
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from floor.checklist.field_types import Strict
from floor.checklist.frozen import freeze_checklist, thaw_checklist
from floor.checklist.units import (
    _ALSO,
    _COMMON,
    EXAMPLES,
    Amount,
    AnyMeasure,
    Area,
    Life,
    Measure,
    PositiveLength,
    Time,
    Unit,
    Volume,
    _by_library,
    find_temperature_scale,
    read_measure,
    to_base,
)

# NIST SP 811, appendix B.8, gives the exact factors (inch, foot, psi, degF); the rpm by definition.
PUBLISHED = [
    ("1 ft/min", "surface speed", 0.3048, 1e-9),
    ("1 in/min", "feed", 25.4, 1e-9),
    ("0.001 in", "length", 0.0254, 1e-12),
    ("1 thou", "length", 0.0254, 1e-12),
    ("1 hp", "power", 745.69987, 1e-5),
    ("1 metric_horsepower", "power", 735.49875, 1e-5),
    ("1 psi", "pressure", 6.894757, 1e-6),
    ("30 psi", "pressure", 206.84, 0.005),
    ("1 lbf*in", "torque", 0.112984829, 1e-9),
    ("68 degF", "temperature", 20.0, 1e-3),
    ("350 degF", "temperature", 176.667, 1e-3),
    ("200 degF", "temperature", 93.333, 1e-3),
    ("24 h", "time", 86400.0, 1e-9),
    ("1 turn/second", "speed", 60.0, 1e-9),
    ("180 min", "life", 10800.0, 1e-9),
    ("400 pieces", "life", 400.0, 1e-9),
    ("79 HR15N", "any", 79.0, 1e-9),
]


@pytest.mark.parametrize(("text", "dimension", "base", "within"), PUBLISHED, ids=[row[0] for row in PUBLISHED])
def test_base_value_agrees_with_the_published_factor(text: str, dimension: str, base: float, within: float) -> None:
    assert read_measure(text, dimension).base == pytest.approx(base, abs=within)


@pytest.mark.parametrize(("dimension", "text"), EXAMPLES.items())
def test_each_example_shown_to_people_is_right(dimension: str, text: str) -> None:
    assert read_measure(text, dimension).text == text


WRONG = [
    ("24", "time", '"24" has no unit'),
    ("24h", "time", '"24h" is not a number, a space and a unit'),
    ("24 in", "time", '"24 in" is not a time'),
    ("24 fortnits", "time", '"fortnits" is not a unit'),
    ("1 in//min", "feed", '"in//min" is not a unit'),
    ("1 9**9**9", "any", '"9**9**9" is not a unit'),
    ("1e300 in", "length", "not a sensible number"),
    ("inf in", "length", "not a sensible number"),
    ("5 Hz", "speed", "not a speed"),
    ("3 rad", "life", "not a life"),
    ("2 mil", "length", "is not a"),
    ("", "time", "is not a number"),
    ("1 h 30 min", "time", '"1 h 30 min" has more than one unit; write it like "90 min"'),
    ("1 h 30min", "life", 'write it like "90 min"'),
    ("1 d 12 h", "time", 'write it like "36 h"'),
]


@pytest.mark.parametrize(("text", "dimension", "said"), WRONG, ids=[row[0] for row in WRONG])
def test_what_cannot_be_read_says_why_and_shows_a_right_one(text: str, dimension: str, said: str) -> None:
    with pytest.raises(ValueError, match="write it like") as refused:
        read_measure(text, dimension)

    assert said in str(refused.value)


class Holder(Strict):
    wait: Time | None = None
    any: AnyMeasure | None = None
    life: Life | None = None


HOLDER = TypeAdapter(Holder)


@given(
    number=st.floats(0, 366, allow_nan=False).map(lambda value: round(value, 6)),
    unit=st.sampled_from(["s", "min", "h", "day"]),
)
def test_freezing_and_reading_back_changes_nothing(number: float, unit: str) -> None:
    text = json.dumps({"wait": f"{number!r} {unit}", "any": f"{-number!r} mm"})
    held = HOLDER.validate_json(text)

    again = thaw_checklist(Holder, json.loads(json.dumps(freeze_checklist(held))))

    assert again == held
    assert isinstance(again.wait, Measure)
    assert again.wait.number == number
    assert str(again.wait) == f"{number!r} {unit}"


@pytest.mark.parametrize("wait", ["999999999 h", "367 day"])
def test_more_than_a_shop_has_is_a_slip_of_the_key(wait: str) -> None:
    with pytest.raises(ValidationError, match="is more than a year; write it like"):
        HOLDER.validate_json(json.dumps({"wait": wait}))


def test_a_time_frozen_before_there_was_a_bound_is_read_as_the_bound() -> None:
    """So that the batch can be opened and its clocks stay within the calendar; the text stands as it was."""
    again = thaw_checklist(Holder, {"wait": [999999999.0, "h", 999999999 * 3600.0, "999999999 h"]})
    assert isinstance(again.wait, Measure)
    assert timedelta(seconds=again.wait.base) == timedelta(days=366)
    assert str(again.wait) == "999999999 h"


@given(number=st.floats(0.001, 1e6), units=st.sampled_from([("in", "mm", 25.4), ("ft", "in", 12.0), ("m", "mm", 1e3)]))
def test_two_units_of_one_length_have_one_base(number: float, units: tuple[str, str, float]) -> None:
    large, small, factor = units

    one = read_measure(f"{number!r} {large}", "length").base
    other = read_measure(f"{number * factor!r} {small}", "length").base

    assert one == pytest.approx(other, rel=1e-9, abs=1e-8)


@given(text=st.text(max_size=30), dimension=st.sampled_from(sorted(EXAMPLES)))
def test_any_text_is_read_or_refused_in_words(text: str, dimension: str) -> None:
    try:
        said = read_measure(text, dimension).text
    except ValueError as refused:
        said = str(refused)

    assert said == text.strip() or "write it like" in said


@given(
    number=st.one_of(st.integers(0, 5000).map(float), st.decimals(0, 1000, places=3).map(float), st.floats(0, 1e6)),
    unit=st.sampled_from(sorted(_COMMON)),
)
def test_a_common_unit_is_read_as_the_library_reads_it(number: float, unit: str) -> None:
    kind, _ = _COMMON[unit]
    for dimension in (kind, "any", *(wider for wider, narrower in _ALSO.items() if kind in narrower)):
        text = f"{number!r} {unit}"
        assert read_measure(text, dimension) == _by_library(number, unit, dimension, text)


def test_a_common_unit_does_not_load_the_units_library(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("floor.checklist.units._registry", lambda: pytest.fail("begun"))
    assert read_measure("90 min", "time").base == 5400.0


@pytest.mark.parametrize(("text", "dimension"), [("5 min", "length"), ("5 mm", "speed"), ("5 pieces", "time")])
def test_a_common_unit_of_something_else_is_refused(text: str, dimension: str) -> None:
    with pytest.raises(ValueError, match=f'"{text}" is not a {dimension}'):
        read_measure(text, dimension)


BOUNDS = [
    # dimension, the most that is taken, one that is too much, and what is said of it
    ("time", "366 d", "366.1 d", "is more than a year"),
    ("length", "1000 m", "1000.1 m", "is more than a kilometer"),
    ("temperature", "3000 degC", "3001 degC", "is more than 3000 degC"),
    ("speed", "1000000 rpm", "1000001 rpm", "is more than 1000000 rpm"),
    ("feed", "1000000 mm/min", "1000001 mm/min", "is more than 1000000 mm/min"),
    ("surface speed", "100000 m/min", "100001 m/min", "is more than 100000 m/min"),
    ("power", "10000 kW", "10001 kW", "is more than 10000 kW"),
    ("mass", "100000 kg", "100001 kg", "is more than 100 t"),
    ("volume", "1000000 L", "1000001 L", "is more than 1000 m**3"),
]


@pytest.mark.parametrize(("dimension", "most", "more", "said"), BOUNDS)
def test_a_value_is_taken_up_to_its_bound(dimension: str, most: str, more: str, said: str) -> None:
    unit = Unit(dimension)
    assert str(unit.read(most)) == most
    with pytest.raises(ValueError, match="write it like") as refused:
        unit.read(more)
    assert str(refused.value) == f'"{more}" {said}; write it like "{EXAMPLES[dimension]}"'


def test_every_unit_of_a_kind_comes_to_the_same_base() -> None:
    """Water boils at 212 °F, 100 °C (NIST SP 811); 1 in is 25.4 mm."""
    for unit, number, base in (
        ("degF", 212, ("temperature", 100.0)), ("degC", 100, ("temperature", 100.0)), ("in", 2, ("length", 50.8)),
    ):  # fmt: skip
        assert to_base(read_measure(f"{number} {unit}", "any")) == base


def test_a_package_holds_something() -> None:
    for kind, none in ((Volume, "0 L"), (Amount, "0 g"), (PositiveLength, "0 mm"), (Area, "0 in**2")):
        with pytest.raises(ValidationError, match="must be more than 0"):
            TypeAdapter(kind).validate_python(none)


def test_a_value_is_taken_from_its_least_on() -> None:
    assert Unit("length").read("0 mm").base == 0
    assert Unit("length", above=True).read("0.001 mm").base == 0.001
    assert Unit("length", None).read("-5 mm").base == -5
    assert Unit("temperature", None).read("-40 degC").base == -40
    for unit, stated, said in (
        (Unit("length"), "-0.001 mm", '"-0.001 mm" may not be less than 0'),
        (Unit("length", above=True), "0 mm", '"0 mm" must be more than 0'),
        (Unit("length", above=True), "-1 mm", '"-1 mm" may not be less than 0'),
        (Unit("length", 2.0), "1.9 mm", '"1.9 mm" may not be less than 2'),
        (Unit("length"), 5, "the value has no quotes and no unit"),
        (Unit("share"), "five %", '"five %" is not a number, a space and a unit'),
        (Unit("length"), "1e12 mm", '"1e12 mm" is not a sensible number'),
        (Unit("length", None), "-1e12 mm", '"-1e12 mm" is not a sensible number'),
        (Unit("length"), "nan mm", '"nan mm" is not a sensible number'),
        (Unit("length"), "5", '"5" has no unit'),
        (Unit("length"), "5 9**9", '"9**9" is not a unit'),
        (Unit("length"), "5 flurb", '"flurb" is not a unit'),
        (Unit("length"), "5 kg", '"5 kg" is not a length'),
        (Unit("area"), "5 kg", '"5 kg" is not an area'),
        (Unit("amount"), "5 mm", '"5 mm" is not a mass or a volume'),
        (Unit("speed"), "5 Hz", '"5 Hz" is not a speed'),
    ):
        with pytest.raises(ValueError, match="write it like") as refused:
            unit.read(stated)
        assert str(refused.value) == f'{said}; write it like "{EXAMPLES[unit.dimension]}"'


@pytest.mark.parametrize(
    ("text", "dimension", "base"),
    [
        ("2 h", "life", 7200),
        ("40 pieces", "life", 40),
        ("3 pcs", "life", 3),
        ("2 kg", "amount", 2000),
        ("2 L", "amount", 2000),
        ("1 oz", "amount", 28.349523125),
        ("1 in**3", "amount", 16.387064),
        ("5 psi", "any", 5),
        ("5 mm", "any", 5),
        ("1 in", "length", 25.4),
    ],
)
def test_a_value_has_the_base_of_what_it_is_of(text: str, dimension: str, base: float) -> None:
    """Ounce and inch by NIST SP 811, appendix B.8 (from memory)."""
    measure = read_measure(f" {text} ", dimension)
    assert (measure.base, measure.text, str(measure)) == (base, text, text)
    assert f"{measure.number:g} {measure.unit}" == text


@pytest.mark.parametrize("unit", ["degC", "degF", "K", "kelvin", "degR"])
def test_a_temperature_scale_agrees_with_the_library(unit: str) -> None:
    for value in (-40.0, 0.0, 175.0, 350.0):
        base = _by_library(value, unit, "temperature", "").base
        assert read_measure(f"{value} {unit}", "temperature").base == pytest.approx(base, abs=1e-8)
        assert find_temperature_scale(unit).to_celsius(value) == pytest.approx(base, abs=1e-5)


def test_degrees_fahrenheit_need_no_units_library(monkeypatch: pytest.MonkeyPatch) -> None:
    """It takes half a second to load, and an air check judges its readings at every key."""
    monkeypatch.setattr("floor.checklist.units._by_library", None)
    assert read_measure("212 degF", "temperature").base == 100.0
    assert read_measure("212 degF", "any").base == 212.0
    assert find_temperature_scale("degF").to_celsius(32) == 0.0
