"""A gauge that shows another unit than the drawing: limits converted, never wider."""

from __future__ import annotations

from decimal import Decimal

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.batch.quality.measured_values import list_measured_values
from floor.checklist.gate_forms import make_number_field
from floor.checklist.loading import read_checklist
from floor.checklist.units import can_convert, convert_unit, read_measure
from tests.batch.factory import edited, edited_text, open_bench
from tests.papers.test_first_article import AT_ITS_END, FIRST, LINE

UNITS: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
SHOWN = ('high = "3.1 mm", sample = 2', 'high = "3.1 mm", gauge_unit = "in", sample = 2')


@pytest.mark.parametrize(
    ("unit", "other"), [("mm", "in"), ("in", "mm"), ("um", "in"), ("degF", "degC"), ("degC", "degF")]
)
@given(number=st.floats(-1000, 1000))
def test_conversion_is_that_of_the_units_library(unit: str, other: str, number: float) -> None:
    """Against pint, which shares no code with it."""
    theirs = UNITS.Quantity(number, unit).to(other).magnitude
    assert convert_unit(number, unit, other) == pytest.approx(theirs, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(("unit", "other"), [("mm", "g"), ("mm", "degC"), ("HRC", "mm"), ("mm", ""), ("", "in")])
def test_what_is_of_another_kind_is_refused(unit: str, other: str) -> None:
    assert not can_convert(unit, other)
    with pytest.raises(ValueError, match="cannot be shown in"):
        convert_unit(1.0, unit, other)


@given(low=st.decimals("0.01", "100", places=2), width=st.decimals("0.1", "2", places=2),
       units=st.sampled_from([("mm", "in"), ("in", "mm"), ("mm", "um"), ("degC", "degF")]))  # fmt: skip
def test_converted_limits_are_never_wider_and_lose_less_than_a_step(
    low: Decimal, width: Decimal, units: tuple[str, str]
) -> None:
    unit, other = units
    limits = read_measure(f"{low} {unit}", "any"), read_measure(f"{low + width} {unit}", "any")
    field = make_number_field("value", "depth", *limits, unit=other)
    assert field.low is not None
    assert field.high is not None
    exact = [convert_unit(one.number, unit, other) for one in limits]
    step = 10.0**-field.places
    assert exact[0] - 1e-9 <= field.low < exact[0] + step
    assert exact[1] - step < field.high <= exact[1] + 1e-9
    lost = (exact[1] - exact[0]) - (field.high - field.low)
    assert lost <= 2 * (exact[1] - exact[0]) / 50 + 1e-9
    assert not field.places or 10 * step > (exact[1] - exact[0]) / 50, "with no place to spare"
    assert float(field.said(field.low)) == pytest.approx(field.low, abs=1e-12), "what is shown is what is judged"


def test_a_depth_in_mm_by_a_caliper_in_inches() -> None:
    """By hand: 2.9 mm = 0.11417 in, 3.1 mm = 0.12205 in; in steps of 0.0001 in, 0.1142 to 0.1220."""
    bench = open_bench(lambda: edited(SHOWN))
    load = bench.form(10)
    gate = bench.until(load, "measured 1").gate
    assert gate is not None
    assert gate.asks()[0].band == "0.1142 to 0.1220 in"
    bench.prove(load, "measured 1", value=["0.1181", "0.12"])
    assert bench.line(load, "measured 1").is_satisfied
    ((shape, values),) = [one for one in list_measured_values(bench.state).items() if one[0].what == "groove depth"]
    assert (shape.unit, shape.low, shape.high) == ("mm", 2.9, 3.1), "charts are in the unit of the drawing"
    assert [one.value for one in values] == [2.99974, 3.048]
    assert [one.text for one in values] == ["", ""], "as the gauge showed it, it would read as mm"


def test_one_balloon_measured_in_two_units_is_one_characteristic() -> None:
    """The first piece by a micrometer in inches, the others in mm: one chart. 0.118 in is 2.9972 mm."""
    shown = FIRST[1].replace('gauge = "Depth gauge"', 'gauge = "Depth gauge", gauge_unit = "in"')
    bench = open_bench(lambda: edited((FIRST[0], shown), AT_ITS_END), start=4)
    load = bench.form(10)
    bench.until(load, "measured 1")
    bench.prove(load, "measured 1", value=["3.01", "3.0"])
    bench.until(load, LINE)
    bench.prove(load, LINE, **{"value 1": "0.118", "value 2": "yes", "gauge 1": "DG-1", "person": "BB"})
    (found,) = [some for shape, some in list_measured_values(bench.state).items() if shape.number == 4]
    assert [one.value for one in found] == [3.01, 3.0, 2.9972]


def test_a_value_in_the_drawings_unit_is_out() -> None:
    bench = open_bench(lambda: edited(SHOWN))
    load = bench.form(10)
    bench.until(load, "measured 1")
    bench.prove(load, "measured 1", value=["3.0", "0.12"])
    assert bench.line(load, "measured 1").verdict.decide  # type: ignore[union-attr]


@pytest.mark.parametrize(("unit", "wrong"), [("g", '"mm" cannot be shown in "g"; use in, um, m'),
                                             ("inch", '"mm" cannot be shown in "inch"')])  # fmt: skip
def test_a_unit_of_another_kind_is_refused_in_the_file(unit: str, wrong: str) -> None:
    shown = f'high = "3.1 mm", gauge_unit = "{unit}", sample = 2'
    (problem,) = read_checklist(edited_text((SHOWN[0], shown)), "part.toml").problems
    assert problem.place == "op 10, step 12 (measured), gauge_unit"
    assert wrong in str(problem)


def test_a_unit_from_a_record_that_fits_nothing_is_left_alone() -> None:
    limits = read_measure("2.9 mm", "any"), read_measure("3.1 mm", "any")
    assert make_number_field("value", "depth", *limits, unit="g") == make_number_field("value", "depth", *limits)


def test_a_press_fit_in_thousandths_of_a_millimeter_has_no_more_places_than_the_gauge() -> None:
    """By hand: 12.018 to 12.034 mm are 0.473150 to 0.473780 in; the band of 0.00063 in in steps of 0.00001 in."""
    limits = read_measure("12.018 mm", "any"), read_measure("12.034 mm", "any")
    assert make_number_field("value", "diameter", *limits, unit="in").band == "0.47315 to 0.47377 in"


def test_one_limit_has_a_place_more_than_it_states() -> None:
    """By hand: 0.05 mm are 0.0019685 in; a thousandth of a millimeter is 0.00004 in."""
    field = make_number_field("value", "run-out", None, read_measure("0.05 mm", "any"), unit="in")
    assert field.band == "at most 0.00196 in"
