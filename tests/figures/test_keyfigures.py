"""Key figures against the formulas of ISO 22400-2, as in its published ontology (version 2.0.0)."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.errors import ImpossibleFigure
from floor.figures.key_figures import (
    FirstPassYield,
    compute_fall_off_ratio,
    compute_first_pass_yield,
    compute_quality_ratio,
    compute_rework_ratio,
    compute_rolled_throughput_yield,
    compute_scrap_ratio,
    compute_throughput_rate,
)


def test_pieces_of_an_order() -> None:
    """110 made, 101 of them good, in an order time of 525 min."""
    assert compute_quality_ratio(101, 110) == pytest.approx(0.918182, abs=1e-6)
    assert compute_throughput_rate(110, 525) == pytest.approx(0.209524, abs=1e-6)


def test_pieces_saved_by_rework_are_no_first_pass() -> None:
    """100 inspected: 90 good first time, 6 after rework, 4 scrap. FPY 0.90 and not 0.96."""
    assert compute_first_pass_yield(90, 100, identified=True) == FirstPassYield(0.90, estimate=False)
    assert compute_quality_ratio(96, 100) == 0.96
    assert compute_scrap_ratio(4, 100) == 0.04
    assert compute_rework_ratio(6, 100) == 0.06
    assert compute_fall_off_ratio(4, 125) == 0.032, "of 125 that the first operation produced"


def test_first_pass_yield_of_pieces_without_identity_is_an_estimate() -> None:
    assert compute_first_pass_yield(90, 100, identified=False).estimate


def test_rolled_throughput_from_counts() -> None:
    """1,000 labels: 950, 800, 700 pass (public help text on throughput yield): 0.70; its rounded steps give 0.70224."""
    assert compute_rolled_throughput_yield([(950, 1000), (800, 950), (700, 800)]) == pytest.approx(0.70, abs=1e-12)


def test_nothing_over_nothing_is_not_a_number() -> None:
    nothing = [
        compute_quality_ratio(0, 0),
        compute_scrap_ratio(0, 0),
        compute_rework_ratio(0, 0),
        compute_first_pass_yield(0, 0, identified=True).value,
        compute_rolled_throughput_yield([]),
        compute_rolled_throughput_yield([(9, 10), (0, 0)]),
        compute_throughput_rate(0, 0),
        compute_fall_off_ratio(0, 0),
    ]

    assert nothing == [None] * len(nothing)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (lambda: compute_quality_ratio(11, 10), "good quantity 11 above produced quantity 10: count each piece once"),
        (lambda: compute_scrap_ratio(-1, 10), "scrap quantity of -1"),
        (lambda: compute_first_pass_yield(5, 4, identified=True), "count each piece once"),
        (lambda: compute_throughput_rate(5, 0), "produced quantity of 5 with no actual order execution time"),
        (lambda: compute_throughput_rate(5, float("nan")), "give a finite figure"),
        (lambda: compute_rolled_throughput_yield([(5, 4)]), "count each piece once"),
    ],
)
def test_contradictions_are_refused_with_the_figure_named(asked: object, words: str) -> None:
    assert callable(asked)
    with pytest.raises(ImpossibleFigure, match=words):
        asked()


@settings(deadline=None)
@given(good=st.integers(0, 5000), scrap=st.integers(0, 5000), rework=st.integers(0, 5000))
def test_what_was_produced_is_good_or_scrap_or_still_in_rework(good: int, scrap: int, rework: int) -> None:
    produced = good + scrap + rework
    ratios = (
        compute_quality_ratio(good, produced),
        compute_scrap_ratio(scrap, produced),
        compute_rework_ratio(rework, produced),
    )

    if produced:
        assert sum(ratio or 0.0 for ratio in ratios) == pytest.approx(1)
    else:
        assert ratios == (None, None, None)
