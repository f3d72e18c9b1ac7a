"""Key figures against the formulas of ISO 22400-2, as in its published ontology (hsu-aut, version 2.0.0).

The worked numbers are computed by hand from those formulas, unless a source is named.
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.figures.errors import ImpossibleFigure
from floor.figures.key_figures import (
    ALLOCATION,
    ALLOCATION_EFFICIENCY,
    AVAILABILITY,
    EFFECTIVENESS,
    FALL_OFF,
    FIRST_PASS,
    KEY_FIGURES,
    NEE,
    OEE,
    PROCESS,
    QUALITY,
    REWORK,
    SCRAP,
    SCRAP_TO_PLAN,
    SETUP,
    TECHNICAL,
    THROUGHPUT,
    UTILIZATION,
    WORKER,
    Absence,
    Amount,
    Input,
    KeyFigure,
    Unknown,
    compute_key_figure,
    compute_rolled_throughput_yield,
    compute_scrap_bound,
)

FORMULAS = {
    "quality ratio": "GQ / PQ",
    "scrap ratio": "SQ / PQ",
    "rework ratio": "RQ / PQ",
    "actual to planned scrap": "SQ / PSQ",
    "first pass yield": "GP / IP",
    "fall off ratio": "SQ / PQ of the first operation",
    "throughput rate": "PQ finished or lost / AOET",
    "availability": "APT / PBT",
    "effectiveness": "(PRU x PQ) / APT",
    "OEE index": "APT / PBT x (PRU x PQ) / APT x GQ / PQ",
    "NEE index": "AUPT / PBT x (PRU x PQ) / APT x GQ / PQ",
    "allocation efficiency": "AUBT / PBT",
    "allocation ratio": "AUBT / AOET",
    "utilization efficiency": "APT / AUBT",
    "setup ratio": "ASUT / AUPT",
    "technical efficiency": "APT / (APT + ADET)",
    "production process ratio": "APT / AOET",
}
"""By the ontology, in its order of the standard's names; OEE and NEE written out in their three parts."""

DAY: dict[Input, Amount] = {
    Input.PBT: 480.0 * 60,
    Input.APT: 390.0 * 60,
    Input.PRU: 3.0 * 110 * 60,
    Input.PQ: 110,
    Input.PQ_ENDED: 110,
    Input.GQ: 101,
    Input.ASUT: 45.0 * 60,
    Input.AUPT: 435.0 * 60,
    Input.ADET: 30.0 * 60,
    Input.AOET: 525.0 * 60,
    Input.AUBT: 465.0 * 60,
}
"""Planned 480 min, produced for 390 at 3 min a piece, 110 made, 101 good; set-up 45, delay 30, order 525."""


def share(figure: KeyFigure, amounts: dict[Input, Amount]) -> float:
    found = compute_key_figure(figure, amounts)
    assert not isinstance(found, Unknown)
    return found


def test_the_formulas_are_those_of_the_standard() -> None:
    assert {one.name: one.formula for one in KEY_FIGURES} == FORMULAS
    assert (WORKER.formula, WORKER in KEY_FIGURES) == ("APWT / APAT", False), "off: it tempts people to hide scrap"
    less = {one.name for one in KEY_FIGURES if not one.more_is_better}
    assert less == {"scrap ratio", "rework ratio", "actual to planned scrap", "fall off ratio", "setup ratio"}


def test_a_day_at_a_machine() -> None:
    """0.8125 x 0.846154 x 0.918182 = 0.63125, which must be 3 x 101 / 480."""
    assert share(AVAILABILITY, DAY) == 0.8125
    assert share(EFFECTIVENESS, DAY) == pytest.approx(0.846154, abs=1e-6)
    assert share(QUALITY, DAY) == pytest.approx(0.918182, abs=1e-6)
    assert share(OEE, DAY) == pytest.approx(3 * 101 / 480, abs=1e-12)
    assert share(NEE, DAY) == pytest.approx(0.704087, abs=1e-6)
    assert share(TECHNICAL, DAY) == pytest.approx(0.928571, abs=1e-6)
    assert 60 * share(THROUGHPUT, DAY) == pytest.approx(0.209524, abs=1e-6), "pieces a minute"


def test_no_scrap_has_a_bound_and_none_where_there_is_scrap_or_nothing() -> None:
    """None of 96: 1 - 0.05^(1/96), the exact one-sided bound (Clopper-Pearson, as in the NIST/SEMATECH e-Handbook)."""
    assert compute_scrap_bound({Input.SQ: 0, Input.PQ: 96}) == pytest.approx(1 - 0.05 ** (1 / 96))
    assert compute_scrap_bound({Input.SQ: 1, Input.PQ: 96}) is None
    assert compute_scrap_bound({Input.SQ: 0, Input.PQ: 0}) is None


def test_shares_of_the_day() -> None:
    assert share(ALLOCATION_EFFICIENCY, DAY) == 465 / 480
    assert share(ALLOCATION, DAY) == pytest.approx(465 / 525)
    assert share(UTILIZATION, DAY) == pytest.approx(390 / 465)
    assert share(SETUP, DAY) == pytest.approx(45 / 435)
    assert share(PROCESS, DAY) == pytest.approx(390 / 525)


def test_what_is_faster_than_planned_is_not_clipped() -> None:
    """The standard remarks that effectiveness may pass 100 %: 2.5 min planned, 200 made in 400 min of 440."""
    quick: dict[Input, Amount] = {Input.PBT: 440, Input.APT: 400, Input.PRU: 500, Input.PQ: 200, Input.GQ: 198}

    assert share(EFFECTIVENESS, quick) == 1.25
    assert share(OEE, quick) == pytest.approx(1.125, abs=1e-12)


def test_pieces_saved_by_rework_are_no_first_pass() -> None:
    """100 inspected: 90 good first time, 6 after rework, 4 scrap. First pass 0.90 and not 0.96."""
    made: dict[Input, Amount] = {Input.PQ: 100, Input.GQ: 96, Input.SQ: 4, Input.RQ: 6, Input.GP: 90, Input.IP: 100}

    assert share(FIRST_PASS, made) == 0.90
    assert share(QUALITY, made) == 0.96
    assert share(SCRAP, made) == 0.04
    assert share(REWORK, made) == 0.06
    assert share(FALL_OFF, made | {Input.PQ_FIRST: 125}) == 0.032, "of 125 that the first operation produced"


def test_scrap_against_plan_may_pass_one_and_is_no_figure_where_none_was_planned() -> None:
    assert share(SCRAP_TO_PLAN, {Input.SQ: 6, Input.PSQ: 4.0}) == 1.5
    assert compute_key_figure(SCRAP_TO_PLAN, {Input.SQ: 6, Input.PSQ: 0}) == Unknown(Absence.NOTHING, Input.PSQ)


def test_rolled_throughput_from_counts() -> None:
    """1,000 labels: 950, 800, 700 pass (public help text on throughput yield): 0.70; its rounded steps give 0.70224."""
    assert compute_rolled_throughput_yield([(950, 1000), (800, 950), (700, 800)]) == pytest.approx(0.70, abs=1e-12)
    assert compute_rolled_throughput_yield([]) is None
    assert compute_rolled_throughput_yield([(9, 10), (0, 0)]) is None


def test_nothing_over_nothing_is_not_a_number() -> None:
    nothing: dict[Input, Amount] = dict.fromkeys(Input, 0)

    for figure in KEY_FIGURES:
        assert compute_key_figure(figure, nothing) == Unknown(Absence.NOTHING, figure.ratios[0].under[0]), figure.name


def test_a_missing_input_is_named_with_its_reason() -> None:
    assert compute_key_figure(WORKER, {Input.APWT: 60, Input.APAT: Absence.ATTENDANCE}) == Unknown(
        Absence.ATTENDANCE, Input.APAT
    )
    assert compute_key_figure(OEE, DAY | {Input.PRU: Absence.NO_PLAN}) == Unknown(Absence.NO_PLAN, Input.PRU)


@pytest.mark.parametrize(
    ("figure", "amounts", "words"),
    [
        (QUALITY, {Input.GQ: 11, Input.PQ: 10}, "GQ 11 above PQ 10: count each piece once"),
        (SCRAP, {Input.SQ: -1, Input.PQ: 10}, "SQ of -1"),
        (FIRST_PASS, {Input.GP: 5, Input.IP: 4}, "count each piece once"),
        (THROUGHPUT, {Input.PQ_ENDED: 5, Input.AOET: float("nan")}, "give a finite figure"),
    ],
)
def test_contradictions_are_refused_with_the_input_named(
    figure: KeyFigure, amounts: dict[Input, Amount], words: str
) -> None:
    with pytest.raises(ImpossibleFigure, match=words):
        compute_key_figure(figure, amounts)


@settings(deadline=None)
@given(good=st.integers(0, 5000), scrap=st.integers(0, 5000), rework=st.integers(0, 5000))
def test_what_was_produced_is_good_or_scrap_or_still_in_rework(good: int, scrap: int, rework: int) -> None:
    produced = good + scrap + rework
    amounts: dict[Input, Amount] = {Input.PQ: produced, Input.GQ: good, Input.SQ: scrap, Input.RQ: rework}
    ratios = [compute_key_figure(figure, amounts) for figure in (QUALITY, SCRAP, REWORK)]

    if produced:
        assert sum(ratio for ratio in ratios if not isinstance(ratio, Unknown)) == pytest.approx(1)
    else:
        assert ratios == [Unknown(Absence.NOTHING, Input.PQ)] * 3


TIME = st.floats(1, 1e7)


@settings(deadline=None)
@given(TIME, TIME, TIME, TIME, st.integers(1, 5000), st.data())
def test_the_index_is_the_product_of_its_parts(
    planned: float, produced: float, setup: float, busy: float, made: int, data: st.DataObject
) -> None:
    good = data.draw(st.integers(0, made))
    amounts: dict[Input, Amount] = {
        Input.PBT: busy,
        Input.APT: produced,
        Input.AUPT: produced + setup,
        Input.PRU: planned,
        Input.PQ: made,
        Input.GQ: good,
    }

    parts = share(AVAILABILITY, amounts) * share(EFFECTIVENESS, amounts) * share(QUALITY, amounts)
    assert share(OEE, amounts) == pytest.approx(parts)
    assert share(OEE, amounts) == pytest.approx(planned / busy * good / made), "APT cancels"
    assert share(NEE, amounts) >= share(OEE, amounts), "set-up is no loss there"
