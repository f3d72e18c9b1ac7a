"""How the pieces of a checklist lie on its blanks and on the beds of its carriers."""

from __future__ import annotations

from floor.checklist.model import Blank
from floor.figures.layout import Blank as Room
from floor.figures.layout import Layout, Rectangle, Round, clamp_zones, lay_out


def lay(blank: Blank) -> Layout:
    """The best layout of the pieces on a blank or bed, in millimetres.

    Raises:
        ImpossibleFit: no piece fits.
    """
    return lay_out(piece(blank), room(blank), blank.gap.base)


def room(blank: Blank) -> Room:
    """A blank or bed with the zones that its clamps take, in millimetres."""
    length, width = blank.length.base, blank.width.base
    zones = clamp_zones(length, width, blank.clamp.base, blank.clamp_at) if blank.clamp is not None else ()
    return Room(length, width, blank.margin.base, zones)


def piece(blank: Blank) -> Round | Rectangle:
    """The shape of the pieces that lie there, in millimetres."""
    if blank.piece_diameter is not None:
        return Round(blank.piece_diameter.base)
    length = blank.piece_length.base if blank.piece_length is not None else 0.0
    width = blank.piece_width.base if blank.piece_width is not None else length
    return Rectangle(length, width)


def size(blank: Blank) -> str:
    """``9 in x 9 in``."""
    return f"{blank.length} x {blank.width}"


def lying(blank: Blank, layout: Layout) -> str:
    """``16 pieces, staggered rows, turned``, as the checklist's sizes allow."""
    parts = [f"{layout.pieces} piece{'s' if layout.pieces != 1 else ''}", f"{layout.rows} rows"]
    return ", ".join(parts + (["turned"] if layout.turned else []))
