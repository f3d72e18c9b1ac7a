"""Pieces to start by a checklist's own yields, beside scipy's binomial distribution."""

from __future__ import annotations

from math import prod

import pytest
from scipy.stats import binom

from floor.checklist.expected import CONFIDENCES, chance, operation_yields, starts, whole_lot
from floor.checklist.loading import load_checklist, shipped
from floor.checklist.model import Checklist


@pytest.fixture(params=shipped(), ids=lambda path: str(path.stem))
def checklist(request: pytest.FixtureRequest) -> Checklist:
    loaded = load_checklist(request.param).checklist
    assert loaded is not None
    return loaded


def test_the_yields_are_those_of_the_operations_in_order(checklist: Checklist) -> None:
    assert [one.good for one in operation_yields(checklist)] == [one.expected_yield for one in checklist.operations]


@pytest.mark.parametrize("order", [1, 40, 96, 5000])
def test_the_fewest_pieces_and_whole_loads_by_scipy(checklist: Checklist, order: int) -> None:
    """The number good of n independent pieces is binomial: scipy.stats.binom.sf(order − 1, n, p)."""
    p = prod(operation.expected_yield for operation in checklist.operations)
    load, word, _ = whole_lot(checklist)
    assert (word == "blank") == (checklist.blank is not None)
    if word == "load":
        assert load == next(one.capacity for one in checklist.carriers if one.id == checklist.operations[0].carrier)
    for confidence, found in zip(CONFIDENCES, starts(checklist, order), strict=True):
        assert binom.sf(order - 1, found.pieces, p) >= confidence > binom.sf(order - 1, found.pieces - 1, p)
        assert found.rounded % load == 0
        assert binom.sf(order - 1, found.rounded, p) >= confidence > binom.sf(order - 1, found.rounded - load, p)
        assert found.probability == pytest.approx(binom.sf(order - 1, found.pieces, p), rel=1e-9)
        assert chance(checklist, order, found.rounded) == pytest.approx(binom.sf(order - 1, found.rounded, p), rel=1e-9)


def test_the_main_demo_part_starts_116_for_96() -> None:
    checklist = load_checklist(next(path for path in shipped() if path.stem == "thermal-break-plate")).checklist
    assert checklist is not None
    p = prod(operation.expected_yield for operation in checklist.operations)
    assert binom.sf(95, 116, p) >= 0.95 > binom.sf(95, 115, p)
    assert starts(checklist, 96)[CONFIDENCES.index(0.95)].pieces == 116
