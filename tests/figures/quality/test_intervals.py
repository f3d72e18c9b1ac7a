"""Intervals of a share against the e-Handbook, scipy, and what they promise."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.intervals import Interval, Side, compute_exact_interval, compute_wilson_interval
from floor.figures.quality.missing import Missing

BOTH = [compute_exact_interval, compute_wilson_interval]


def test_four_of_twenty_at_90_percent() -> None:
    """NIST/SEMATECH e-Handbook 7.2.4.1; its text prints 0.400 for the upper end, its figures 0.401029."""
    found = compute_exact_interval(4, 20, 0.90)

    assert isinstance(found, Interval)
    assert (found.low, found.high) == pytest.approx((0.071354, 0.401029), abs=2e-6)


def test_lower_bound_of_26_of_200() -> None:
    """NIST/SEMATECH e-Handbook 7.2.4.1, Wilson's one-sided bound."""
    found = compute_wilson_interval(26, 200, 0.95, Side.LOWER)

    assert isinstance(found, Interval)
    assert (found.low, found.high) == (pytest.approx(0.09577, abs=1e-5), 1)


@settings(deadline=None)
@given(data=st.data(), confidence=st.floats(0.5, 0.999))
def test_both_ends_equal_scipy(data: st.DataObject, confidence: float) -> None:
    trials = data.draw(st.integers(1, 5000))
    events = data.draw(st.integers(0, trials))
    exact, wilson = (each(events, trials, confidence) for each in BOTH)
    published = stats.binomtest(events, trials)
    for found, method in ((exact, "exact"), (wilson, "wilson")):
        wanted = published.proportion_ci(confidence, method=method)
        assert isinstance(found, Interval)
        assert (found.low, found.high) == pytest.approx((wanted.low, wanted.high), abs=1e-9)


@pytest.mark.parametrize(("method", "name"), zip(BOTH, ["exact", "wilson"], strict=True))
@pytest.mark.parametrize(("side", "alternative"), [(Side.LOWER, "greater"), (Side.UPPER, "less")])
def test_one_end_equals_scipy(method, name: str, side: Side, alternative: str) -> None:
    for events, trials in ((0, 7), (3, 40), (40, 40)):
        found = method(events, trials, 0.9, side)
        wanted = stats.binomtest(events, trials, alternative=alternative).proportion_ci(0.9, method=name)
        assert (found.low, found.high) == pytest.approx((wanted.low, wanted.high), abs=1e-9)


def test_no_event_gives_an_upper_bound() -> None:
    """None of 59 shows 95 % reliability at 95 % confidence (success run, 1 - 0.05^(1/59))."""
    found = compute_exact_interval(0, 59, 0.95, Side.UPPER)

    assert found == Interval(0, pytest.approx(1 - 0.05 ** (1 / 59), abs=1e-12))
    assert found.high < 0.05


@pytest.mark.parametrize("method", BOTH)
def test_what_cannot_be_said_and_what_cannot_be(method) -> None:
    assert method(0, 0) is Missing.EMPTY
    for events, trials, confidence in ((-1, 5, 0.9), (6, 5, 0.9), (1, 5, 0.0), (1, 5, 1.0), (1, 5, float("nan"))):
        with pytest.raises(ImpossibleFigure):
            method(events, trials, confidence)


def test_exact_interval_holds_the_truth_as_often_as_it_says() -> None:
    """Counted over all outcomes, whatever the true share."""
    intervals = [compute_exact_interval(k, 12, 0.9) for k in range(13)]
    for share in (0.01, 0.08, 0.3, 0.5, 0.77):
        held = [k for k, each in enumerate(intervals) if isinstance(each, Interval) and each.low <= share <= each.high]
        assert sum(stats.binom.pmf(k, 12, share) for k in held) >= 0.9
