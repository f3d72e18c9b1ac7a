"""Temperature scales beside a units library."""

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.figures.temperature import SCALES

UNITS = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@given(st.sampled_from(sorted(SCALES)), st.floats(-400, 3000))
def test_a_value_there_and_back_agrees_with_the_library(unit: str, value: float) -> None:
    scale = SCALES[unit]
    celsius = UNITS.Quantity(value, unit).to("degC").magnitude
    assert scale.to_celsius(value) == pytest.approx(celsius, abs=1e-9)
    assert scale.from_celsius(celsius) == pytest.approx(value, abs=1e-9)


def test_a_difference_has_no_zero() -> None:
    """3 °C of difference are 5.4 °F and 3 K (pint)."""
    for unit, wanted in (("degF", "delta_degF"), ("degC", "delta_degC"), ("kelvin", "kelvin")):
        difference = UNITS.Quantity(3, "delta_degC").to(wanted).magnitude
        assert SCALES[unit].from_celsius_difference(3) == pytest.approx(difference)
