"""Intervals of a share against the e-Handbook, scipy, and what they promise."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from floor.figures.errors import ImpossibleFigure
from floor.figures.quality.intervals import Interval, compute_exact_interval, compute_upper_bound
from floor.figures.quality.missing import Missing


def test_four_of_twenty_at_90_percent() -> None:
    """NIST/SEMATECH e-Handbook 7.2.4.1; its text prints 0.400 for the upper end, its figures 0.401029."""
    found = compute_exact_interval(4, 20, 0.90)

    assert isinstance(found, Interval)
    assert (found.low, found.high) == pytest.approx((0.071354, 0.401029), abs=2e-6)


@settings(deadline=None)
@given(data=st.data(), confidence=st.floats(0.5, 0.999))
def test_both_ends_equal_scipy(data: st.DataObject, confidence: float) -> None:
    trials = data.draw(st.integers(1, 5000))
    events = data.draw(st.integers(0, trials))
    found = compute_exact_interval(events, trials, confidence)
    wanted = stats.binomtest(events, trials).proportion_ci(confidence, method="exact")
    assert isinstance(found, Interval)
    assert (found.low, found.high) == pytest.approx((wanted.low, wanted.high), abs=1e-9)


def test_upper_bound_equals_scipy() -> None:
    for events, trials in ((0, 7), (3, 40), (40, 40)):
        wanted = stats.binomtest(events, trials, alternative="less").proportion_ci(0.9, method="exact")
        assert compute_upper_bound(events, trials, 0.9) == pytest.approx(wanted.high, abs=1e-9)


def test_no_event_gives_an_upper_bound() -> None:
    """None of 59 shows 95 % reliability at 95 % confidence (success run, 1 - 0.05^(1/59))."""
    found = compute_upper_bound(0, 59)

    assert isinstance(found, float)
    assert found == pytest.approx(1 - 0.05 ** (1 / 59), abs=1e-12)
    assert found < 0.05


@pytest.mark.parametrize("method", [compute_exact_interval, compute_upper_bound])
def test_what_cannot_be_said_and_what_cannot_be(method) -> None:
    assert method(0, 0) is Missing.EMPTY
    for events, trials in ((-1, 5), (6, 5)):
        with pytest.raises(ImpossibleFigure):
            method(events, trials, 0.9)
    for confidence in (0.0, 1.0, -0.5, float("nan")):
        with pytest.raises(ImpossibleFigure):
            method(1, 5, confidence)


def test_exact_interval_holds_the_truth_as_often_as_it_says() -> None:
    """Counted over all outcomes, whatever the true share."""
    intervals = [compute_exact_interval(k, 12, 0.9) for k in range(13)]
    for share in (0.01, 0.08, 0.3, 0.5, 0.77):
        held = [k for k, each in enumerate(intervals) if isinstance(each, Interval) and each.low <= share <= each.high]
        assert sum(stats.binom.pmf(k, 12, share) for k in held) >= 0.9
