"""Key figures beside the formulas of ISO 22400-2, as its published ontology (version 2.0.0) states them."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.errors import ImpossibleFigure
from floor.figures.keyfigures import (
    FirstPassYield,
    availability,
    effectiveness,
    first_pass_yield,
    net_equipment_effectiveness,
    overall_equipment_effectiveness,
    quality_ratio,
    rework_ratio,
    rolled_throughput_yield,
    scrap_ratio,
    technical_efficiency,
    throughput,
    worker_efficiency,
)


def test_a_shift_of_480_minutes() -> None:
    """PBT 480, APT 390, 3 min a piece, 110 made, 101 good: OEE must equal 3 · 101 / 480."""
    parts = availability(390, 480), effectiveness(3, 110, 390), quality_ratio(101, 110)

    assert parts == pytest.approx((0.8125, 0.846154, 0.918182), abs=1e-6)
    assert overall_equipment_effectiveness(*parts) == pytest.approx(0.63125, abs=1e-12) == 3 * 101 / 480


def test_the_same_shift_with_set_up_delay_and_order_time() -> None:
    """Set-up 45 (AUPT 435), delay 30, order time 525 min."""
    net = net_equipment_effectiveness(435, 480, effectiveness(3, 110, 390), quality_ratio(101, 110))

    assert net == pytest.approx(0.704087, abs=1e-6)
    assert technical_efficiency(390, 30) == pytest.approx(0.928571, abs=1e-6)
    assert throughput(110, 525) == pytest.approx(0.209524, abs=1e-6)


def test_pieces_saved_by_rework_are_no_first_pass() -> None:
    """100 inspected: 90 good first time, 6 after rework, 4 scrap. FPY 0.90 and not 0.96."""
    assert first_pass_yield(90, 100, identified=True) == FirstPassYield(0.90, estimate=False)
    assert quality_ratio(96, 100) == 0.96
    assert scrap_ratio(4, 100) == 0.04
    assert rework_ratio(6, 100) == 0.06


def test_first_pass_yield_of_pieces_without_identity_is_an_estimate() -> None:
    assert first_pass_yield(90, 100, identified=False).estimate


def test_rolled_throughput_from_counts() -> None:
    """1,000 labels: 950, 800, 700 pass (public help text on throughput yield): 0.70; its rounded steps give 0.70224."""
    assert rolled_throughput_yield([(950, 1000), (800, 950), (700, 800)]) == pytest.approx(0.70, abs=1e-12)


def test_more_than_planned_is_shown_as_it_is() -> None:
    """2.5 min planned, 200 made in 400 of 440 min, 198 good: effectiveness 1.25, OEE 1.125 (the standard's remark)."""
    fast = effectiveness(2.5, 200, 400)

    assert fast == 1.25
    oee = overall_equipment_effectiveness(availability(400, 440), fast, quality_ratio(198, 200))
    assert oee == pytest.approx(1.125, abs=1e-12)


def test_worker_efficiency() -> None:
    assert worker_efficiency(6, 8) == 0.75


def test_nothing_over_nothing_is_not_a_number() -> None:
    nothing = [
        availability(0, 0),
        effectiveness(3, 0, 0),
        quality_ratio(0, 0),
        scrap_ratio(0, 0),
        rework_ratio(0, 0),
        first_pass_yield(0, 0, identified=True).value,
        rolled_throughput_yield([]),
        rolled_throughput_yield([(9, 10), (0, 0)]),
        technical_efficiency(0, 0),
        throughput(0, 0),
        worker_efficiency(0, 0),
        overall_equipment_effectiveness(0.9, None, 1.0),
        net_equipment_effectiveness(0, 0, 1.0, 1.0),
    ]

    assert nothing == [None] * len(nothing)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (lambda: quality_ratio(11, 10), "good quantity 11 above produced quantity 10: count each piece once"),
        (lambda: scrap_ratio(-1, 10), "scrap quantity of -1"),
        (lambda: first_pass_yield(5, 4, identified=True), "count each piece once"),
        (lambda: availability(10, 0), "actual production time of 10 with no planned busy time"),
        (lambda: effectiveness(3, 5, 0), "record the actual production time"),
        (lambda: technical_efficiency(10, -5), "actual unit delay time of -5"),
        (lambda: throughput(5, float("nan")), "give a finite figure"),
        (lambda: rolled_throughput_yield([(5, 4)]), "count each piece once"),
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
    ratios = quality_ratio(good, produced), scrap_ratio(scrap, produced), rework_ratio(rework, produced)

    if produced:
        assert sum(ratio or 0.0 for ratio in ratios) == pytest.approx(1)
    else:
        assert ratios == (None, None, None)
