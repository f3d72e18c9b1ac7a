"""How the pieces of a checklist lie on its blanks and on the beds of its carriers."""

from __future__ import annotations

from floor.checklist.equipment import Blank
from floor.figures.layout import (
    Layout,
    LayoutBlank,
    RectangularPiece,
    RoundPiece,
    compute_clamp_zones,
    find_best_layout,
    list_layouts,
)


def compute_layout(blank: Blank) -> Layout:
    """The best layout of the pieces on a blank or bed, in millimeters.

    Raises:
        ImpossibleFit: no piece fits.
    """
    return find_best_layout(build_piece(blank), build_room(blank), blank.gap.base)


def build_room(blank: Blank) -> LayoutBlank:
    """A blank or bed with its clamp zones, in millimeters."""
    length, width = blank.length.base, blank.width.base
    zones = compute_clamp_zones(length, width, blank.clamp.base, blank.clamp_at) if blank.clamp is not None else ()
    return LayoutBlank(length, width, blank.margin.base, zones)


def build_piece(blank: Blank) -> RoundPiece | RectangularPiece:
    """The shape of its pieces, in millimeters."""
    if blank.piece_diameter is not None:
        return RoundPiece(blank.piece_diameter.base)
    length = blank.piece_length.base if blank.piece_length is not None else 0.0
    width = blank.piece_width.base if blank.piece_width is not None else length
    return RectangularPiece(length, width)


def format_blank_size(blank: Blank) -> str:
    """``9 in x 9 in``."""
    return f"{blank.length} x {blank.width}"


def describe_layout(blank: Blank) -> str:
    """How the pieces lie, and what the next best layout would hold: ``12 pieces, staggered rows (square rows: 9)``.

    Raises:
        ImpossibleFit: no piece fits.
    """
    best, shape = compute_layout(blank), build_piece(blank)
    ways = list_layouts(shape, build_room(blank), blank.gap.base)
    other = next((one for one in ways if (one.rows, one.turned) != (best.rows, best.turned)), None)
    said = f"{best.pieces} piece{'s' if best.pieces != 1 else ''}, {_way(best, shape, blank)}"
    return said if other is None else f"{said} ({_way(other, shape, blank)}: {other.pieces})"


def _way(layout: Layout, shape: RoundPiece | RectangularPiece, blank: Blank) -> str:
    if layout.rows == "spread":
        first = layout.positions[0]
        x = layout.along == "x"
        after = next(at for at in layout.positions if (at.y != first.y if x else at.x != first.x))
        up, shift = (after.y - first.y, after.x - first.x) if x else (after.x - first.x, after.y - first.y)
        each = blank.length.number / blank.length.base
        apart, over = (f"{float(size) * each:.4g}" for size in (up, shift))
        return f"staggered rows {apart} {blank.length.unit} apart, shifted {over} {blank.length.unit}"
    if isinstance(shape, RoundPiece) or shape.length == shape.width:
        return f"{layout.rows} rows"
    return "turned" if layout.turned else "lengthwise"
