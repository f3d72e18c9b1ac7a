"""Before a batch exists: pieces to start, layout, loads, against scipy and plain geometry."""

from __future__ import annotations

import re
from dataclasses import replace
from math import floor, sqrt
from pathlib import Path

import pytest
from scipy.stats import binom

from floor.checklist.equipment import Blank
from floor.checklist.loading import list_shipped_checklists, load_checklist
from floor.checklist.units import read_measure
from floor.entry import Moment
from floor.figures.errors import Impossible
from floor.planning.batch_forecast import collect_forecast_inputs, compute_outlook
from floor.planning.start_plan import build_fresh_batch, compute_blank_stock, describe_blanks, plan_start
from tests.planning.planned import MORNING, planned, potted


def test_the_fewest_pieces_against_the_binomial_if_the_yields_are_exact() -> None:
    """Of n pieces each is good with 0.98 · 0.97 (scipy). Yields that are only estimated ask for more."""
    found = plan_start(potted(), 120, 0.95)

    assert binom.sf(119, found.exactly.pieces, 0.98 * 0.97) >= 0.95
    assert binom.sf(119, found.exactly.pieces - 1, 0.98 * 0.97) < 0.95
    assert found.exactly.probability == pytest.approx(binom.sf(119, found.exactly.pieces, 0.98 * 0.97))
    assert found.quantity.pieces > found.exactly.pieces


@pytest.mark.parametrize("file", list_shipped_checklists(), ids=lambda path: str(path.stem))
@pytest.mark.parametrize("confidence", [0.9, 0.95])
def test_a_batch_opened_with_what_is_offered_is_not_told_to_start_more(file: Path, confidence: float) -> None:
    """The chance stated before opening is that of the forecast a moment later, and it asks for no more pieces."""
    checklist = load_checklist(file).checklist
    assert checklist is not None
    order = checklist.order or 20
    offered = plan_start(checklist, order, confidence).quantity

    for pieces, stated in ((offered.pieces, offered.probability), (offered.rounded, offered.rounded_probability)):
        found = compute_outlook(
            collect_forecast_inputs(build_fresh_batch(checklist, order, pieces, Moment(MORNING)), Moment(MORNING)),
            confidence,
        )
        assert found.forecast.probability == pytest.approx(stated, abs=1e-9)
        assert found.top_up is None
    fewer = compute_outlook(
        collect_forecast_inputs(
            build_fresh_batch(checklist, order, offered.pieces - 1, Moment(MORNING)), Moment(MORNING)
        ),
        confidence,
    )
    assert fewer.top_up is not None
    assert fewer.top_up.pieces == 1


def test_round_plates_lie_staggered_where_that_holds_more() -> None:
    """2 in round, 0.2 in apart, on 9 × 9 in less 0.4 in all round: 3 by 3 square, or 4 staggered rows of 3."""
    across = 9 - 2 * 0.4
    square = floor((across + 0.2) / 2.2) ** 2
    rows = 1 + floor((across - 2) / (2.2 * sqrt(3) / 2))
    assert (square, rows, floor((across - 1.1 + 0.2) / 2.2)) == (9, 4, 3)

    stock = plan_start(potted(), 120, 0.95).stock
    assert stock is not None
    layout = stock.layout

    assert (layout.rows, layout.pieces) == ("staggered", 12)


def test_blanks_and_loads_follow_from_the_pieces() -> None:
    found = plan_start(potted(), 120, 0.95)

    assert found.lot == "blank"
    assert found.stock is not None
    assert found.quantity.rounded % 12 == 0
    assert found.stock.blanks.count == found.quantity.rounded // 12 == found.quantity.lots
    pallets, totes = found.loads
    assert (pallets.carrier, pallets.first_op, pallets.last_op, pallets.there) == ("Pallet", 10, 30, 2)
    assert pallets.lots.count == -(-found.quantity.rounded // 13)
    assert totes.lots.count == -(-found.quantity.rounded // 60)
    assert found.leaving[-1] == pytest.approx(found.quantity.rounded * 0.98 * 0.97)


def test_pieces_are_planned_in_whole_blanks_but_not_in_whole_loads_and_as_many_as_somebody_says() -> None:
    """Eight pins: eleven on a peg tray of fifty, and not fifty; lids by twelve from a blank."""
    pin = load_checklist(next(file for file in list_shipped_checklists() if file.stem == "metering-pin")).checklist
    assert pin is not None

    few, said, lids = plan_start(pin, 8, 0.95), plan_start(pin, 8, 0.95, pieces=20), plan_start(potted(), 20, 0.95)

    assert few.lot == "load"
    assert few.pieces == few.quantity.pieces < few.quantity.rounded
    assert (few.loads[0].lots.count, few.loads[0].lots.last) == (1, few.pieces)
    assert said.pieces == said.loads[0].lots.last == 20
    assert lids.pieces == lids.quantity.rounded == 24


def test_a_saw_cuts_no_more_pieces_from_a_bar_than_are_wanted() -> None:
    """A bar of 3000 mm less 5 mm at each end: 63 cuts of 45 mm with 2.5 mm of kerf between."""
    assert floor((3000 - 2 * 5 + 2.5) / (45 + 2.5)) == 63
    bar = Blank(
        **{name: read_measure(f"{size} mm", "length") for name, size in
           {"length": 3000, "width": 40, "piece_length": 45, "piece_width": 30, "gap": 2.5, "margin": 5}.items()}
    )  # fmt: skip
    whole, sawn = (plan_start(replace(potted(), blank=one), 20, 0.95) for one in (bar, replace(bar, part_used=True)))

    assert (whole.pieces, whole.quantity.pieces) == (63, sawn.pieces)
    assert sawn.pieces < sawn.quantity.rounded == 63, "a whole bar is still offered"
    assert whole.stock is not None
    assert sawn.stock is not None
    assert describe_blanks(bar, whole.stock) == "1 blank to cut, 63 pieces on the last"
    left = f"1 blank to cut, {sawn.pieces} pieces from the last, with room for {63 - sawn.pieces} more left over"
    assert describe_blanks(replace(bar, part_used=True), sawn.stock) == left
    full = compute_blank_stock(replace(potted(), blank=replace(bar, part_used=True)), 126)
    assert full is not None
    assert describe_blanks(replace(bar, part_used=True), full) == "2 blanks to cut, 63 pieces on the last"
    assert sum(one.lots.last + (one.lots.count - 1) * 13 for one in sawn.loads[:1]) == sawn.pieces


def test_test_pieces_are_started_in_addition() -> None:
    without, with_two = plan_start(potted(), 50, 0.9), plan_start(potted(), 50, 0.9, {30: 2})
    assert without.quantity.tests == 0
    assert with_two.quantity.tests == 2
    assert without.quantity.pieces + 2 <= with_two.quantity.pieces <= without.quantity.pieces + 4


@pytest.mark.parametrize(
    ("order", "confidence", "tests", "named"),
    [(0, 0.9, {}, "order"), (10, 1.0, {}, "confidence"), (10, 0.0, {}, "confidence"), (10, 0.9, {15: 1}, "op 15")],
)
def test_an_impossible_order_is_refused_with_what_would_do(
    order: int, confidence: float, tests: dict[int, int], named: str
) -> None:
    with pytest.raises(Impossible) as refused:
        plan_start(potted(), order, confidence, tests)
    assert named in refused.value.problem
    assert refused.value.remedy


def test_a_confidence_is_told_as_it_is_written_and_an_order_too_large_in_as_many_batches_as_it_takes() -> None:
    with pytest.raises(Impossible) as certain:
        plan_start(potted(), 10, 1.0)
    assert certain.value.problem == "a confidence of 100 %"
    with pytest.raises(Impossible, match="119 pieces cannot fill an order of 120"):
        plan_start(potted(), 120, 0.9, pieces=119)
    assert plan_start(potted(), 120, 0.9, pieces=120).pieces == 120
    with pytest.raises(Impossible) as large:
        plan_start(potted(), 20_000, 0.9)
    found = re.fullmatch(r"order fewer, or split it into (\d) or more batches of (\d+)", large.value.remedy)
    assert found is not None, large.value.remedy
    assert int(found[1]) >= 5
    assert plan_start(potted(), int(found[2]), 0.9).pieces <= 5000


def test_every_shipped_checklist_can_be_started_and_planned() -> None:
    for file in list_shipped_checklists():
        checklist = load_checklist(file).checklist
        assert checklist is not None
        found = plan_start(checklist, checklist.order or 20, 0.9)
        plan = planned(build_fresh_batch(checklist, checklist.order or 20, found.quantity.rounded, Moment(MORNING)))
        assert not plan.obstacles, f"{file.name}: {plan.obstacles[:1]}"
        assert plan.plan.end > plan.plan.start
