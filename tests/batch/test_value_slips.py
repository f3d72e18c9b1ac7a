"""A value 25.4 or ten times off, or of the other sign, is questioned before it is recorded; others out are not."""

from __future__ import annotations

from typing import Any

import pytest

from floor.batch.command import Refused
from floor.batch.gates.entered_values import read_value
from floor.batch.gates.value_slips import describe_slip, find_value_slip
from floor.checklist.gate_forms import FormField, make_gauge_field

DEPTH = FormField("value", "groove depth", "number", "mm", low=2.9, high=3.1)


@pytest.mark.parametrize(
    ("typed", "factor"),
    [
        (
            "0.118",
            25.4,
        ),  # 0.118 in is 2.997 mm (1 in = 25.4 mm exactly, international yard and pound agreement of 1959)
        ("0.3", 10.0),
        ("30", 0.1),
        (["3.0", "30.5"], 0.1),
        ("0,3", 10.0),
        ("-3.05", -1.0),
        ("76.2", 1 / 25.4),
    ],
)
def test_a_value_that_another_unit_or_a_decimal_point_would_put_inside_is_found(typed: Any, factor: float) -> None:
    slip = find_value_slip((DEPTH,), {"value": typed})
    assert slip is not None
    assert slip.factor == pytest.approx(factor)
    assert slip.place == (1 if isinstance(typed, list) else 0)


@pytest.mark.parametrize("typed", ["3.0", "3.2", "2.5", "x", "", None, "29.9 in", ["3.0", "3.2"], "0"])
def test_nothing_is_asked_about_any_other_value(typed: Any) -> None:
    assert find_value_slip((DEPTH, make_gauge_field("gauge", "depth gauge")), {"value": typed, "gauge": "30"}) is None


def test_a_value_with_one_limit_is_never_asked_about() -> None:
    """Ten times too little of a thing that need only be small is no slip."""
    assert find_value_slip((DEPTH._replace(low=None),), {"value": "31"}) is None


def test_a_deviation_is_never_asked_about() -> None:
    assert find_value_slip((DEPTH._replace(low=-0.1, high=0.1),), {"value": "1"}) is None


def test_a_deviation_with_the_other_sign_is_not_asked_about() -> None:
    """Limits of -0.3 to 0 or to 0.1 mm do not say which sign is odd."""
    for high in (0.0, 0.1):
        assert find_value_slip((DEPTH._replace(low=-0.3, high=high),), {"value": "0.2"}) is None


def test_an_offset_typed_without_its_sign_is_asked_about() -> None:
    slip = find_value_slip((FormField("Z", "Z", "number", "mm", -182.0, -178.0),), {"Z": "180"})
    assert slip is not None
    assert describe_slip(slip) == "Z 180 mm is out of -182 to -178 mm. -180 mm would be inside. Did you read 180 mm?"


def test_the_question_names_value_limits_and_what_would_fit() -> None:
    slip = find_value_slip((DEPTH,), {"value": "30"})
    assert slip is not None
    said = "groove depth 30 mm is out of 2.9 to 3.1 mm. 3 mm would be inside. Did you read 30 mm?"
    assert describe_slip(slip) == said


@pytest.mark.parametrize(
    ("unit", "low", "high", "value", "said"),
    [
        ("mm", 2.9, 3.1, 0.118, "0.118 in would be inside"),
        ("in", 0.114, 0.122, 3.0, "3.0 mm would be inside"),
        ("in", 0.114, 0.122, 1.18, "0.118 in would be inside"),
        ("mm", 2.9, 3.1, 76.2, "3 mm would be inside"),
    ],
)
def test_the_unit_that_was_read_instead_is_named(unit: str, low: float, high: float, value: float, said: str) -> None:
    ask = FormField("value", "groove depth", "number", unit, low, high)
    slip = find_value_slip((ask,), {"value": str(value)})
    assert slip is not None
    assert said in describe_slip(slip)


def test_a_value_in_another_unit_is_refused_with_the_one_asked_for() -> None:
    with pytest.raises(Refused) as refused:
        read_value(DEPTH._replace(unit="in"), "3.05 mm")
    assert str(refused.value).endswith("asked for in inches, not mm. Enter it in inches.")
