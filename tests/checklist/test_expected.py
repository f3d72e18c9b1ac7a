"""Pieces to start by a checklist's own yields, against scipy's binomial and beta-binomial distributions."""

from __future__ import annotations

from math import prod

import numpy as np
import pytest
from scipy.stats import betabinom, binom

from floor.checklist.expected_yields import (
    CONFIDENCES,
    compute_at_known_yields,
    compute_start_quantities,
    estimate_fill_chance,
    find_start_unit,
    list_operation_yields,
    read_test_pieces,
)
from floor.checklist.loading import list_shipped_checklists, load_checklist
from floor.checklist.model import Checklist


@pytest.fixture(params=list_shipped_checklists(), ids=lambda path: str(path.stem))
def checklist(request: pytest.FixtureRequest) -> Checklist:
    loaded = load_checklist(request.param).checklist
    assert loaded is not None
    return loaded


def test_the_yields_are_those_of_the_operations_in_order(checklist: Checklist) -> None:
    assert [one.good for one in list_operation_yields(checklist)] == [
        one.expected_yield for one in checklist.operations
    ]


def filled(checklist: Checklist, order: int, started: int) -> float:
    """P(good ≥ order) by scipy: the count is passed through one beta-binomial after another.

    A yield estimated at y that weighs w pieces is Beta(y·w, (1 − y)·w).
    """
    row = np.zeros(started + 1)
    row[started] = 1
    for operation in checklist.operations:
        good = operation.expected_yield * operation.yield_weight
        bad = operation.yield_weight - good
        if bad > 0:
            row = sum(
                weight * np.pad(betabinom.pmf(np.arange(pieces + 1), pieces, good, bad), (0, started - pieces))
                for pieces, weight in enumerate(row)
                if weight > 1e-14
            )
    return float(row[order:].sum())


@pytest.mark.parametrize("order", [1, 40, 96])
def test_the_fewest_pieces_and_whole_lots_by_scipy(checklist: Checklist, order: int) -> None:
    load, word, _, _ = find_start_unit(checklist)
    assert (word == "blank") == (checklist.blank is not None)
    if word == "load":
        assert load == next(one.capacity for one in checklist.carriers if one.id == checklist.operations[0].carrier)
    for confidence, found in zip(CONFIDENCES, compute_start_quantities(checklist, order), strict=True):
        reached = filled(checklist, order, found.pieces)
        assert reached >= confidence > filled(checklist, order, found.pieces - 1)
        assert found.probability == pytest.approx(reached, abs=1e-9)
        assert found.rounded == -(-found.pieces // load) * load
        whole = filled(checklist, order, found.rounded)
        assert found.rounded_probability == pytest.approx(whole, abs=1e-9)
        assert estimate_fill_chance(checklist, order, found.rounded) == pytest.approx(whole, abs=1e-9)


@pytest.mark.parametrize("order", [1, 96, 5000])
def test_if_the_yields_are_exact_the_number_good_is_binomial(checklist: Checklist, order: int) -> None:
    """scipy.stats.binom.sf(order − 1, n, p)."""
    p = prod(operation.expected_yield for operation in checklist.operations)
    started = compute_start_quantities(checklist, order)[0].pieces

    found = compute_at_known_yields(checklist, order, started, 0.95)

    assert binom.sf(order - 1, found.pieces, p) >= 0.95 > binom.sf(order - 1, found.pieces - 1, p)
    assert found.chance == pytest.approx(binom.sf(order - 1, started, p), rel=1e-9)


def test_the_main_demo_part_starts_126_for_96_and_116_if_its_yields_are_exact() -> None:
    checklist = load_checklist(
        next(path for path in list_shipped_checklists() if path.stem == "thermal-break-plate")
    ).checklist
    assert checklist is not None
    p = prod(operation.expected_yield for operation in checklist.operations)
    assert binom.sf(95, 116, p) >= 0.95 > binom.sf(95, 115, p)
    assert filled(checklist, 96, 126) >= 0.95 > filled(checklist, 96, 125)
    assert compute_start_quantities(checklist, 96)[CONFIDENCES.index(0.95)].pieces == 126
    assert compute_at_known_yields(checklist, 96, 126, 0.95).pieces == 116


def test_pieces_used_up_are_started_on_top(checklist: Checklist) -> None:
    op = checklist.route[1]
    for plain, more in zip(
        compute_start_quantities(checklist, 40), compute_start_quantities(checklist, 40, tests={op: 6}), strict=True
    ):
        assert (plain.tests, more.tests) == (0, 6)
        assert more.pieces >= plain.pieces + 6
        assert estimate_fill_chance(checklist, 40, more.pieces, {op: 6}) == pytest.approx(more.probability, abs=1e-9)
    assert estimate_fill_chance(checklist, 40, 45, {op: 6}) == 0.0
    assert compute_at_known_yields(checklist, 40, 60, 0.95, {op: 6}).pieces >= 46


@pytest.mark.parametrize(("text", "found"), [("", {}), ("20=9", {20: 9}), ("20=9, 30=2 20=1", {20: 10, 30: 2})])
def test_test_pieces_are_read(text: str, found: dict[int, int]) -> None:
    assert read_test_pieces(text) == found


@pytest.mark.parametrize("text", ["9", "few", "20=", "=9", "20=9=1", "20=-1"])
def test_what_names_no_test_pieces_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="write it like 30=2"):
        read_test_pieces(text)
