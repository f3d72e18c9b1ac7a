"""Pieces to start and material required for an order, as text and plain data, for the command line."""

from __future__ import annotations

from typing import Any

from floor.batch.earlier import EarlierTold
from floor.checklist.blank_layout import compute_layout, describe_layout, format_blank_size
from floor.checklist.equipment import Blank
from floor.checklist.expected_yields import NO_TESTS, TestPieces
from floor.checklist.material_required import Supply
from floor.checklist.model import Checklist
from floor.papers.drawing import draw_blank
from floor.papers.earlier_batches import list_before_and_after
from floor.papers.page import Column, Paper, format_table
from floor.planning.start_plan import StartPlan, describe_blanks
from floor.text import WIDTH, cut, format_chance, format_count, format_share, with_article

MOST_ROWS = 16
"""Most rows of a drawing on paper."""


def write_start_text(
    checklist: Checklist, found: StartPlan, told: EarlierTold | None = None, tests: TestPieces = NO_TESTS
) -> str:
    """Pieces to start and material required for an order, in 80 columns.

    Args:
        told: what earlier batches tell, which the plan stands on.
    """
    quantity, exactly, part = found.quantity, found.exactly, checklist.part
    paper = Paper([f"{part.number} revision {part.revision}: {part.name}"])
    paper.title(f"To fill an order of {quantity.ordered}")
    lot = format_count(quantity.lots or 0, f"whole {found.lot}")
    rows = [
        ("fewest that keep the confidence", quantity.pieces, format_chance(quantity.probability)),
        (f"rounded up to {lot}", quantity.rounded, format_chance(quantity.rounded_probability)),
        ("if yields are exactly as estimated", exactly.pieces, format_chance(exactly.probability)),
        ("by mean yields alone (no promise)", quantity.mean_based, format_chance(quantity.mean_based_probability)),
    ]
    paper.add(format_table([Column("pieces to start"), Column("pieces", 8, True), Column("filled", 8, True)], rows))
    wanted = (
        f"{format_share(quantity.confidence, 1)} wanted; one piece in {1 / quantity.piece_yield:.2f} comes out good"
    )
    paper.say(wanted + (f"; {quantity.tests} used up as tests" if quantity.tests else ""))
    others = {quantity.pieces, quantity.rounded} - {found.pieces}
    more = f"; for {' or '.join(map(str, sorted(others)))} say --start" if others else ""
    paper.say(f"Planned below: {found.pieces} pieces started{more}")
    if told is not None:
        paper.title("How sure, without and with earlier batches")
        paper.add(
            f"  {line}"
            for line in list_before_and_after(
                checklist, told, quantity.ordered, found.pieces, quantity.confidence, WIDTH - 2, tests
            )
        )
    _loads(paper, checklist, found)
    for op, pieces in zip(checklist.route, found.reworked, strict=True):
        if pieces:
            paper.say(f"op {op}: about {pieces:.1f} to be reworked: {', '.join(_routes(checklist, op))}")
    _stock(paper, checklist, found)
    if found.supplies:
        paper.title(f"Material required for {found.pieces} pieces")
        paper.add(format_supplies(found.supplies, WIDTH))
        paper.say("As if nothing is lost on the way; waste is in it, rework is not.")
        for consumable in checklist.consumables:
            paper.say(f"{consumable.what}: {consumable.source}")
    return paper.text()


def _stock(paper: Paper, checklist: Checklist, found: StartPlan) -> None:
    blank, material = checklist.blank, checklist.part.material
    if blank is not None or material:
        paper.title("Stock")
    if blank is not None and found.stock is not None:
        paper.say(f"a blank of {format_blank_size(blank)}: {describe_layout(blank)}")
        paper.say(describe_blanks(blank, found.stock))
        if drawn := draw_blank(blank, WIDTH - 4, MOST_ROWS):
            paper.add(["", *(f"  {line}" for line in drawn)])
    if material:
        paper.say(f"material: {material}")


def _routes(checklist: Checklist, op: int) -> list[str]:
    """The reworks an operation is expected to send pieces to, with their shares."""
    named = ((checklist.rework(reason.rework), reason.share) for reason in checklist.ops[op].reasons)
    return [f"{route.name} ({format_share(share, 1)})" for route, share in named if route is not None and share]


def _loads(paper: Paper, checklist: Checklist, found: StartPlan) -> None:
    paper.title(f"Loads of {found.pieces} pieces")
    loads = [
        (
            f"op {one.first_op}" + (f" to {one.last_op}" if one.last_op != one.first_op else ""),
            one.carrier,
            one.lots.count,
            one.lots.last,
            one.there,
        )
        for one in found.loads
    ]
    paper.add(
        format_table(
            [
                Column("leg"),
                Column("carrier", 14),
                Column("loads", 6, True),
                Column("in the last", 11, True),
                Column("in the shop", 11, True),
            ],
            loads,
        )
    )
    for carrier in checklist.carriers:
        if carrier.bed is not None:
            sized = f"{with_article(carrier.name)} of {format_blank_size(carrier.bed)}"
            fits = f"{sized} has room for {describe_layout(carrier.bed)}"
            paper.say(f"{fits}; {carrier.capacity} ride on it")


def format_supplies(supplies: tuple[Supply, ...], width: int, indent: str = "  ") -> list[str]:
    """Two lines each: what, how much and in what packages; then what that was computed from.

    Args:
        width: total columns, 50 or more.
    """
    name = width - len(indent) - 28
    lines = []
    for one in supplies:
        lines.append(f"{indent}{cut(one.what, name):<{name}}  {one.needed:>11}  {one.to_have:>13}")
        ops = ", ".join(map(str, one.ops))
        lines.append(cut(f"{indent}    op {ops}: {one.how}", width))
    return lines


def make_start_data(checklist: Checklist, found: StartPlan, told: EarlierTold | None = None) -> dict[str, Any]:
    """The same as plain data."""
    quantity, stock = found.quantity, found.stock
    return {
        "part": checklist.part.number,
        "revision": checklist.part.revision,
        "order": quantity.ordered,
        "confidence": quantity.confidence,
        "piece_yield": round(quantity.piece_yield, 6),
        "start": {"pieces": quantity.pieces, "probability": round(quantity.probability, 6)},
        "start_rounded": {
            "pieces": quantity.rounded,
            "probability": round(quantity.rounded_probability, 6),
            "lot": found.lot,
            "lots": quantity.lots,
        },
        "planned_pieces": found.pieces,
        "if_yields_exact": {
            "pieces": found.exactly.pieces,
            "probability": round(found.exactly.probability, 6),
        },
        "mean_based": {"pieces": quantity.mean_based, "probability": round(quantity.mean_based_probability, 6)},
        "test_pieces": quantity.tests,
        "earlier_batches": list(told.batches) if told is not None else [],
        "loads": [
            {
                "first_op": one.first_op,
                "last_op": one.last_op,
                "carrier": one.carrier,
                "loads": one.lots.count,
                "in_the_last": one.lots.last,
                "in_the_shop": one.there,
            }
            for one in found.loads
        ],
        "beds": [
            {"carrier": carrier.name, "capacity": carrier.capacity, **_layout(carrier.bed)}
            for carrier in checklist.carriers
            if carrier.bed is not None
        ],
        "stock": {
            "pieces_per_blank": stock.layout.pieces,
            "rows": stock.layout.rows,
            "turned": stock.layout.turned,
            "blanks": stock.blanks.count,
            "on_the_last": stock.blanks.last,
        }
        if stock
        else None,
        "shelf": [
            {
                "what": one.what,
                "ops": list(one.ops),
                "needed": round(one.amount, 6),
                "unit": one.unit or "pieces",
                "packages": one.packages,
                "package": one.package or None,
                "reckoned": one.how,
            }
            for one in found.supplies
        ],
        "leaving_each_operation": {
            str(op): round(pieces, 2) for op, pieces in zip(checklist.route, found.leaving, strict=True)
        },
        "sent_to_rework": {
            str(op): round(pieces, 2) for op, pieces in zip(checklist.route, found.reworked, strict=True) if pieces
        },
    }


def _layout(bed: Blank) -> dict[str, Any]:
    layout = compute_layout(bed)
    return {"room_for": layout.pieces, "rows": layout.rows, "turned": layout.turned}
