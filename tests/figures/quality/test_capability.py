"""Capability against published examples, and how often its intervals hold the truth."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.capability import (
    FEWEST_VALUES,
    Capability,
    CapabilityIndex,
    Index,
    ToleranceLimits,
    compute_capability,
)
from floor.figures.quality.control_charts import (
    ValueCharts,
    compute_deviation_charts,
    compute_individuals_charts,
    compute_range_charts,
)
from floor.figures.quality.missing import Missing
from tests.figures.quality.published import RINGS

VALUES = [value for group in RINGS for value in group]
LIMITS = ToleranceLimits(73.95, 74.05)


def of_rings(limits: ToleranceLimits = LIMITS) -> Capability:
    return compute_capability(VALUES, limits, compute_range_charts(RINGS).sigma)


def number(index: Index) -> CapabilityIndex:
    assert isinstance(index, CapabilityIndex)
    return index


def test_the_textbook_case() -> None:
    """NIST/SEMATECH e-Handbook 6.1.6: limits 8 and 20, mean 16, sigma 2."""
    values = [14.0, 18.0] * 12 + [16.0]
    found, lower, upper = (
        compute_capability(values, limits, 2.0)
        for limits in (ToleranceLimits(8, 20), ToleranceLimits(8, None), ToleranceLimits(None, 20))
    )

    assert (found.count, found.mean, found.sigma_overall) == (25, pytest.approx(16), pytest.approx(2))
    indices = [number(each).value for each in (found.cp, found.cpk, upper.cpk, lower.cpk, found.pp, found.ppk)]
    assert indices == pytest.approx([1.0, 0.6667, 0.6667, 1.3333, 1.0, 0.6667], abs=5e-5)


def test_rings() -> None:
    """Montgomery's piston rings as printed in the vignette of the R package qcc."""
    found, lower, upper = map(of_rings, (LIMITS, ToleranceLimits(73.95, None), ToleranceLimits(None, 74.05)))

    values = [number(each).value for each in (found.cp, lower.cpk, upper.cpk, found.cpk)]
    assert values == pytest.approx([1.703, 1.743, 1.663, 1.663], abs=6e-4)
    cp, cpk = number(found.cp), number(found.cpk)
    assert (cp.low, cp.high) == pytest.approx((1.491, 1.915), abs=6e-4)
    assert (cpk.low, cpk.high) == pytest.approx((1.448, 1.878), abs=6e-4)
    assert found.count == 125


def test_overall_indices_use_the_spread_of_all_values() -> None:
    found = of_rings()

    assert found.sigma_overall == pytest.approx(np.std(VALUES, ddof=1))
    assert number(found.pp).value == pytest.approx(0.1 / 6 / np.std(VALUES, ddof=1))
    assert number(found.ppk).value == pytest.approx((74.05 - np.mean(VALUES)) / 3 / np.std(VALUES, ddof=1))


@pytest.mark.parametrize("limits", [ToleranceLimits(73.95, None), ToleranceLimits(None, 74.05)])
def test_one_limit_has_one_index(limits: ToleranceLimits) -> None:
    found = of_rings(limits)

    assert {found.cp, found.pp} == {Missing.NO_LIMIT}
    assert isinstance(found.cpk, CapabilityIndex)
    assert isinstance(found.ppk, CapabilityIndex)


def test_no_limits_no_index() -> None:
    found = of_rings(ToleranceLimits(None, None))

    assert {found.cp, found.cpk, found.pp, found.ppk} == {Missing.NO_LIMIT}
    assert found.mean == pytest.approx(74.001176)


@pytest.mark.parametrize(("values", "missing"), [
    ([], Missing.EMPTY), (VALUES[: FEWEST_VALUES - 1], Missing.TOO_FEW), ([*VALUES, math.nan], Missing.NOT_A_NUMBER),
    ([*VALUES, 1e200], Missing.TOO_LARGE),
])  # fmt: skip
def test_too_few_or_unfit_values_have_a_reason_and_their_number(values: list[float], missing: Missing) -> None:
    """Indices from fewer than 25 values are not to be shown (a requirement of this project)."""
    found = compute_capability(values, LIMITS, 0.01)

    assert found == Capability(len(values), *[missing] * 7)


def test_25_values_are_enough() -> None:
    assert isinstance(compute_capability(VALUES[:25], LIMITS, 0.01).cpk, CapabilityIndex)


def test_constant_values_have_no_index() -> None:
    found = compute_capability([74.0] * 30, LIMITS, 0.0)

    assert {found.cp, found.cpk, found.pp, found.ppk} == {Missing.CONSTANT}
    assert (found.sigma_within, found.sigma_overall, found.mean) == (0, 0, 74)


def test_two_different_values_have_no_index() -> None:
    found = compute_capability([74.0, 74.0, 74.01] * 11, LIMITS, 0.004)

    assert {found.cp, found.cpk, found.pp, found.ppk} == {Missing.TWO_LEVELS}
    assert (found.count, found.mean) == (33, pytest.approx(74 + 0.01 / 3))
    assert isinstance(compute_capability([74.0, 74.0, 74.01] * 11 + [74.02], LIMITS, 0.004).cp, CapabilityIndex)


def test_an_unknown_sigma_gives_its_reason() -> None:
    found = compute_capability(VALUES, LIMITS, Missing.TOO_FEW)

    assert {found.cp, found.cpk} == {Missing.TOO_FEW}
    assert isinstance(found.pp, CapabilityIndex)


def test_intervals_hold_the_truth_about_as_often_as_they_say() -> None:
    """Overall indices of 800 normal samples of 40, at 90 %; Cpk's formula is an approximation."""
    limits, runs = ToleranceLimits(-4, 4.5), 800
    held = {"pp": 0, "ppk": 0}
    true = {"pp": 8.5 / 6, "ppk": 4 / 3}
    for sample in np.random.default_rng(5).standard_normal((runs, 40)):
        found = compute_capability(list(sample), limits, float(np.std(sample, ddof=1)), 0.9)
        for name in held:
            index = number(getattr(found, name))
            held[name] += index.low <= true[name] <= index.high
    assert {name: count / runs for name, count in held.items()} == pytest.approx(dict.fromkeys(held, 0.9), abs=0.03)


def hold(samples: np.ndarray, compute: Callable[[np.ndarray], ValueCharts], true: float) -> tuple[float, float]:
    """How often the intervals of Cp and Cpk from the sigma of a chart hold the truth, limits either way alike."""
    held = [0, 0]
    for sample in samples:
        charts = compute(sample)
        assert isinstance(charts.freedom, float)
        limits = ToleranceLimits(-3 * true, 3 * true)
        found = compute_capability(sample.tolist(), limits, charts.sigma, freedom=charts.freedom)
        for n, each in enumerate((found.cp, found.cpk)):
            held[n] += number(each).low <= true <= number(each).high
    return held[0] / len(samples), held[1] / len(samples)


@pytest.mark.parametrize(("count", "size"), [(25, 1), (100, 1), (26, 2), (80, 4), (150, 30)])
def test_intervals_of_a_sigma_within_loads_hold_the_truth_as_often_as_they_say(count: int, size: int) -> None:
    """700 normal samples each, at 95 %: a sample standard deviation's freedom would hold 81 to 91 % with ranges."""

    def compute(sample: np.ndarray) -> ValueCharts:
        if size == 1:
            return compute_individuals_charts(sample.tolist())
        return (compute_range_charts if size <= 25 else compute_deviation_charts)(sample.reshape(-1, size).tolist())

    samples = np.random.default_rng(13).standard_normal((700, count))
    assert hold(samples, compute, 4 / 3) == pytest.approx((0.95, 0.95), abs=0.025)


def test_a_sigma_known_less_well_has_a_wider_interval_around_the_same_index() -> None:
    few, many, alone = (
        number(compute_capability(VALUES, LIMITS, 0.01, freedom=freedom).cp) for freedom in (20.0, 200.0, None)
    )

    assert few.value == many.value == alone.value
    assert few.low < many.low < few.value < many.high < few.high
    with pytest.raises(ImpossibleFigure, match="freedom"):
        compute_capability(VALUES, LIMITS, 0.01, freedom=0.0)


@pytest.mark.parametrize(("lower", "upper"), [(2, 1), (1, 1), (math.nan, 2), (None, math.inf)])
def test_limits_that_cannot_be(lower: float | None, upper: float | None) -> None:
    with pytest.raises(ImpossibleFigure, match="limits"):
        ToleranceLimits(lower, upper)


def test_arguments_that_cannot_be() -> None:
    for sigma, confidence in ((-1.0, 0.95), (math.nan, 0.95), (1.0, 1.0)):
        with pytest.raises(ImpossibleFigure):
            compute_capability(VALUES, LIMITS, sigma, confidence)
