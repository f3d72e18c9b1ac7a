"""What an order takes, in words: pieces to start and how sure they fill it, loads, blanks, material required."""

from __future__ import annotations

from collections.abc import Sequence

from floor.checklist.blank_layout import describe_layout, format_blank_size
from floor.checklist.equipment import MOST_PIECES
from floor.checklist.expected_yields import (
    TestPieces,
    are_shares_known,
    compute_at_known_yields,
    estimate_fill_chance,
    find_start_unit,
)
from floor.checklist.material_required import list_supplies
from floor.checklist.model import Checklist
from floor.figures.start_at_known_yields import StartQuantity
from floor.papers.start_quantity import format_supplies
from floor.planning.start_plan import compute_blank_stock, count_leg_loads, describe_blanks, find_batch_size_error
from floor.text import capitalize_first, format_chance, format_count, format_share

OFFERED_AT = -1
"""Which of the confidences the start quantity is offered at: the highest (shop decision)."""


def choose_start(checklist: Checklist, starts: Sequence[StartQuantity]) -> int:
    """Pieces to start where nobody says any; 0 where there are no quantities, or a batch does not hold so many."""
    wanted = find_start_unit(checklist).choose(starts[OFFERED_AT]) if starts else 0
    return wanted if wanted <= MOST_PIECES else 0


def list_start_quantities(starts: Sequence[StartQuantity]) -> list[int]:
    """Pieces in the order of the keys that put them in: of each confidence any number, then whole blanks or loads."""
    return [pieces for one in starts for pieces in (one.pieces, one.rounded or 0)]


def describe_offers(expected: Checklist, starts: Sequence[StartQuantity], tests: TestPieces, pieces: int) -> list[str]:
    """Quantities to start, and the chance that the one typed gives.

    Args:
        expected: the checklist with the yields that the order is planned by.
        pieces: the quantity typed; 0 for none.
    """
    order, surest = starts[0].ordered, starts[OFFERED_AT]
    lot = find_start_unit(expected)
    beyond = find_batch_size_error(order, lot.choose(surest))
    passed = f"{100 * starts[0].piece_yield:.1f} %"
    used = f", {starts[0].tests} used up" if starts[0].tests else ""
    rows = [
        *([f"✕ {capitalize_first(str(beyond))}", ""] if beyond else []),
        f"To ship {order} at the estimated yields ({passed} pass all operations){used}:",
        f"  at least       any number           whole {lot.word}s of {lot.pieces} ({lot.of})",
    ]
    for n, one in enumerate(starts):
        some, whole = _key(2 * n, one.pieces), _key(2 * n + 1, one.rounded or 0)
        rows.append(
            f"  {format_share(one.confidence)}  {some} {one.pieces:>5}  {format_chance(one.probability):>7}"
            f"   {whole} {one.rounded:>5}  {format_chance(one.rounded_probability):>7}"
            f"  {format_count(one.lots or 0, lot.word)}"
        )
    if pieces:
        chance = format_chance(estimate_fill_chance(expected, order, pieces, tests))
        rows.append(f"Starting {pieces}: {chance} to fill the order.")
        exactly = compute_at_known_yields(expected, order, pieces, surest.confidence, tests)
        rows.append(
            f"If yields are exactly as estimated: {format_chance(exactly.chance)}; {exactly.pieces} would do for "
            f"{format_share(surest.confidence)}."
        )
    if not are_shares_known(expected):
        rows.append("Rejects with no share for rework count as lost; rework saves some of them.")
    return rows


def describe_needs(checklist: Checklist, pieces: int, columns: int) -> list[str]:
    """Loads, blanks and what is used up, for so many started."""
    rows = [f"Loads for {pieces} started"]
    for leg in count_leg_loads(checklist, pieces):
        ops = f"op {leg.first_op}" + (f" to {leg.last_op}" if leg.last_op != leg.first_op else "")
        last = f", {leg.lots.last} on the last" if leg.lots.count > 1 else ""
        rows.append(f"  {ops:<14}{format_count(leg.lots.count, leg.carrier)}{last} ({leg.there} in the shop)")
    blanks = compute_blank_stock(checklist, pieces)
    if blanks is not None and checklist.blank is not None:
        rows += [
            "",
            describe_blanks(checklist.blank, blanks),
            f"  {format_blank_size(checklist.blank)}: {describe_layout(checklist.blank)}",
        ]
    found = list_supplies(checklist, pieces)
    if found:
        rows += ["", "Material required, waste included", *format_supplies(found, columns)]
    return rows


def _key(n: int, pieces: int) -> str:
    """The key that puts an offered quantity in; blank where a batch does not hold so many."""
    return f"F{n + 2}" if pieces <= MOST_PIECES else "  "
