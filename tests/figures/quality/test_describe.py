"""Descriptions against certified values, Pareto, and slips of the unit."""

import math
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.describe_values import Description, describe_values, find_slip_factor
from floor.figures.quality.missing import Missing
from floor.figures.quality.pareto import ParetoRow, rank_reasons

MICHELSON = """
.85 .74 .90 1.07 .93 .85 .95 .98 .98 .88 1.00 .98 .93 .65 .76 .81 1.00 1.00 .96 .96 .96 .94 .96 .94 .88 .80 .85 .88 .90
.84 .83 .79 .81 .88 .88 .83 .80 .79 .76 .80 .88 .88 .88 .86 .72 .72 .62 .86 .97 .95 .88 .91 .85 .87 .84 .84 .85 .84 .84
.84 .89 .81 .81 .82 .80 .77 .76 .74 .75 .76 .91 .92 .89 .86 .88 .72 .84 .85 .85 .78 .89 .84 .78 .81 .76 .81 .79 .81 .82
.85 .87 .87 .81 .74 .81 .94 .95 .80 .81 .87
"""


def alternate(middle: float, step: float, pairs: int) -> list[float]:
    return [middle, *[middle - step, middle + step] * pairs]


@pytest.mark.parametrize(("values", "mean", "deviation", "digits"), [
    ([10000001.0, 10000003.0, 10000002.0], 10000002, 1, 15),
    (alternate(1.2, 0.1, 500), 1.2, 0.1, 14),
    (alternate(1000000.2, 0.1, 500), 1000000.2, 0.1, 9),
    (alternate(10000000.2, 0.1, 500), 10000000.2, 0.1, 8),
], ids=["NumAcc1", "NumAcc2", "NumAcc3", "NumAcc4"])  # fmt: skip
def test_numerical_accuracy(values: list[float], mean: float, deviation: float, digits: int) -> None:
    """NIST Statistical Reference Datasets, NumAcc1 to NumAcc4: mean and deviation certified as exactly these (data by
    their rule, from memory). A float holds only so many digits of the differences of the last two."""
    found = describe_values(values)

    assert found.mean == pytest.approx(mean, rel=1e-15)
    assert found.deviation == pytest.approx(deviation, rel=10.0**-digits)


def test_speed_of_light() -> None:
    """NIST Statistical Reference Datasets, Michelson: 100 values (data and certified figures from memory; that they fit
    to twelve digits shows that they were remembered right)."""
    found = describe_values([299 + float(value) for value in MICHELSON.split()])

    assert found.count == 100
    assert found.mean == pytest.approx(299.8524, rel=1e-14)
    assert found.deviation == pytest.approx(0.0790105478190518, rel=1e-12)


@given(st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=50))
def test_values_as_the_exact_fractions_of_the_standard_library(values: list[float]) -> None:
    found = describe_values(values)

    assert found.deviation == pytest.approx(statistics.stdev(values), rel=1e-9, abs=1e-150)
    assert (found.median, found.least, found.greatest) == (statistics.median(values), min(values), max(values))


@pytest.mark.parametrize(("values", "missing"), [
    ([], Missing.EMPTY), ([1.0, math.nan], Missing.NOT_A_NUMBER), ([1.0, -math.inf], Missing.NOT_A_NUMBER),
    ([1.0, 1e300], Missing.TOO_LARGE),
])  # fmt: skip
def test_a_reason_in_the_place_of_numbers(values: list[float], missing: Missing) -> None:
    assert describe_values(values) == Description(len(values), *[missing] * 5)


def test_one_value_and_equal_values() -> None:
    assert describe_values([2.5]) == Description(1, 2.5, 2.5, Missing.TOO_FEW, 2.5, 2.5)
    assert describe_values([0.1] * 7).deviation == 0
    assert describe_values([1.0, 2.0]).deviation == pytest.approx(math.sqrt(0.5))


def test_pareto() -> None:
    """Shares of 20: 10, 5, 5 by name, none left out but those that never occurred."""
    assert rank_reasons({"fill": 5, "chip": 5, "burr": 10, "none": 0}) == [
        ParetoRow("burr", 10, 0.5, 0.5),
        ParetoRow("chip", 5, 0.25, 0.75),
        ParetoRow("fill", 5, 0.25, 1.0),
    ]
    assert rank_reasons({}) == rank_reasons({"burr": 0}) == []
    with pytest.raises(ImpossibleFigure, match="burr"):
        rank_reasons({"chip": 1, "burr": -1})


@given(st.dictionaries(st.sampled_from("abcdefgh"), st.integers(0, 10**9)))
def test_shares_add_up(counts: dict[str, int]) -> None:
    rows = rank_reasons(counts)

    assert [row.count for row in rows] == sorted((row.count for row in rows), reverse=True)
    if rows:
        assert rows[-1].running_share == 1
        assert sum(row.share for row in rows) == pytest.approx(1)


@pytest.mark.parametrize(("value", "low", "high", "factor"), [
    (0.250, 6.3, 6.4, 25.4),
    (6.35, 0.249, 0.251, 1 / 25.4),
    (63.5, 6.3, 6.4, 0.1),
    (0.635, 6.3, 6.4, 10),
    (-0.250, -6.4, -6.3, 25.4),
    (6.35, 6.3, 6.4, None),
    (6.3, 6.3, 6.4, None),
    (7.0, 6.3, 6.4, None),
    (0.0, 6.3, 6.4, None),
    (math.nan, 6.3, 6.4, None),
    (math.inf, 6.3, 6.4, None),
    (0.1, 0.8, 4.0, 25.4),
    (0.15, 0.8, 4.0, 10),
    (180, -182, -178, -1),
    (-6.35, 6.3, 6.4, -1),
    (-1800, -182, -178, 0.1),
    (1800, -182, -178, None),
])  # fmt: skip
def test_slips_of_unit_decimal_point_and_sign(value: float, low: float, high: float, factor: float | None) -> None:
    """An inch is 25.4 mm (international yard and pound agreement of 1959)."""
    assert find_slip_factor(value, low, high) == factor


def test_limits_that_cannot_be() -> None:
    for low, high in ((2, 1), (math.nan, 1), (0, math.inf)):
        with pytest.raises(ImpossibleFigure):
            find_slip_factor(1.0, low, high)
