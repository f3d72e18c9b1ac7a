"""Layout: how many pieces lie on a blank or carrier, and where.

Exact: sizes become fractions of the decimals as written, so 24 in less two 0.1 in margins holds ten 2.2 in pieces, not
nine by binary rounding. Any one unit of length works; positions come back in it.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from floor.dataclass import dataclass
from floor.figures.errors import ImpossibleFit
from floor.figures.layout_rows import (
    Point,
    UsableArea,
    count_pieces_along,
    place_spread_rows,
    place_square_rows,
    place_staggered_rows,
)

Size = int | float | str | Decimal | Fraction
"""A length. A float stands for the shortest decimal that reads back as it: 0.1 is one tenth."""


def to_exact_fraction(size: Size) -> Fraction:
    """The fraction meant by a written size: 2.2 is 11/5.

    Raises:
        ImpossibleFit: not a finite number.
    """
    try:
        return Fraction(repr(size)) if isinstance(size, float) else Fraction(size)
    except (ValueError, OverflowError):
        raise ImpossibleFit(f"a size of {size}", "give a finite number") from None


@dataclass(frozen=True, slots=True)
class RoundPiece:
    """A round piece."""

    diameter: Size


@dataclass(frozen=True, slots=True)
class RectangularPiece:
    """A rectangular piece, or the rectangle around one."""

    length: Size
    width: Size


@dataclass(frozen=True, slots=True)
class ClampZone:
    """A rectangle kept clear for a clamp, cutter path included; from its lower left corner."""

    x: Size
    y: Size
    length: Size
    width: Size


@dataclass(frozen=True, slots=True)
class LayoutBlank:
    """A strip, sheet or carrier: length along x, width along y, the origin at its lower left corner."""

    length: Size
    width: Size
    margin: Size = 0
    """Kept free along each edge."""
    zones: tuple[ClampZone, ...] = ()


Clamps = Literal["both ends", "one end", "both sides", "one side", "all round"]
"""Where clamp strips lie: ends across the length (the first at x = 0), sides along it (the first at y = 0)."""


def compute_clamp_zones(length: Size, width: Size, clamp: Size, at: Clamps) -> tuple[ClampZone, ...]:
    """The strips of a blank that clamps take, each as wide as `clamp`, counted from the edge."""
    far_x, far_y = (
        to_exact_fraction(length) - to_exact_fraction(clamp),
        to_exact_fraction(width) - to_exact_fraction(clamp),
    )
    ends = (ClampZone(0, 0, clamp, width), ClampZone(far_x, 0, clamp, width))
    sides = (ClampZone(0, 0, length, clamp), ClampZone(0, far_y, length, clamp))
    strips = {"both ends": ends, "one end": ends[:1], "both sides": sides, "one side": sides[:1]}
    return strips.get(at, ends + sides)


_AXES: tuple[Literal["x", "y"], ...] = ("x", "y")


@dataclass(frozen=True, slots=True)
class Position:
    """Center of a piece."""

    x: Fraction
    y: Fraction


Rows = Literal["square", "staggered", "spread"]
"""Spread rows are staggered rows as far apart as there is room, not at the closest pitch."""


@dataclass(frozen=True, slots=True)
class Layout:
    """One way to lay pieces out."""

    rows: Rows
    along: Literal["x", "y"]
    """Direction the rows run in."""
    turned: bool
    """Whether a rectangular piece lies with its length along y."""
    positions: tuple[Position, ...]
    """Row by row."""

    @property
    def pieces(self) -> int:
        return len(self.positions)


def count_pieces_in_length(length: Size, piece: Size, gap: Size = 0, margin: Size = 0) -> int:
    """Pieces along one direction: ⌊(length − 2·margin + gap) / (piece + gap)⌋, never below 0.

    ``gap`` is cutter width and web between pieces; the last piece needs none after it.

    Raises:
        ImpossibleFit: a length or piece that is not above 0, a gap or margin below 0.
    """
    length, piece, gap, margin = (to_exact_fraction(size) for size in (length, piece, gap, margin))
    _above_nothing("blank", length)
    _check(piece, gap)
    _not_below("margin", margin)
    return count_pieces_along(length - 2 * margin, piece, gap)


def list_layouts(piece: RoundPiece | RectangularPiece, blank: LayoutBlank, gap: Size = 0) -> tuple[Layout, ...]:
    """Every layout considered, empty ones included; most pieces first.

    Square rows of round or rectangular pieces and staggered rows of round ones, along x and along y, rectangular
    pieces lengthwise and turned; spread rows only where they hold more than any other. Rows start at clamps along an
    edge and part around others. The blank and its zones are never turned.

    Raises:
        ImpossibleFit: a size that is not above 0, a gap or margin below 0.
    """
    gap = to_exact_fraction(gap)
    found: list[Layout] = []
    for axis in _AXES:
        room = _room(blank, swapped=axis == "y")
        for turned, rows, points in _ways(piece, room, gap, axis):
            placed = tuple(Position(y, x) if axis == "y" else Position(x, y) for x, y in points)
            found.append(Layout(rows, axis, turned, placed))
    plain = max(way.pieces for way in found if way.rows != "spread")
    kept = [way for way in found if way.rows != "spread" or way.pieces > plain]
    return tuple(sorted(kept, key=lambda layout: -layout.pieces))


def _ways(
    piece: RoundPiece | RectangularPiece, room: UsableArea, gap: Fraction, axis: Literal["x", "y"]
) -> Iterator[tuple[bool, Rows, list[Point]]]:
    """Ways to lay pieces in rows: whether they are turned, the kind of rows, the centers."""
    if isinstance(piece, RoundPiece):
        diameter = to_exact_fraction(piece.diameter)
        _check(diameter, gap)
        straight, nested = place_square_rows(room, diameter, diameter, gap), place_staggered_rows(room, diameter, gap)
        yield False, "square", straight
        yield False, "staggered", nested
        yield False, "spread", place_spread_rows(room, diameter, gap, max(len(straight), len(nested)))
        return
    length, width = to_exact_fraction(piece.length), to_exact_fraction(piece.width)
    _check(min(length, width), gap)
    for turned in (False, True) if length != width else (False,):
        x, y = (length, width) if turned == (axis == "y") else (width, length)
        yield turned, "square", place_square_rows(room, x, y, gap)


def find_best_layout(piece: RoundPiece | RectangularPiece, blank: LayoutBlank, gap: Size = 0) -> Layout:
    """The layout that holds most pieces; of equals the simplest: square before staggered, rows along x, unturned.

    Raises:
        ImpossibleFit: a size out of range, or no piece fits.
    """
    best = list_layouts(piece, blank, gap)[0]
    if best.pieces:
        return best
    size = f"{piece.diameter} round" if isinstance(piece, RoundPiece) else f"{piece.length} × {piece.width}"
    clear = " and its clamp zones" if blank.zones else ""
    raise ImpossibleFit(
        f"not one piece of {size} fits a blank of {blank.length} × {blank.width}, margin {blank.margin}{clear}",
        "take a larger blank or carrier, a smaller margin, or move the clamps",
    )


def _room(blank: LayoutBlank, swapped: bool) -> UsableArea:
    """A blank in fractions, its x along the rows."""
    length, width, margin = (
        to_exact_fraction(blank.length),
        to_exact_fraction(blank.width),
        to_exact_fraction(blank.margin),
    )
    for side in (length, width):
        _above_nothing("blank", side)
    _not_below("margin", margin)
    zones = []
    for zone in blank.zones:
        x, y, across, up = (
            to_exact_fraction(zone.x),
            to_exact_fraction(zone.y),
            to_exact_fraction(zone.length),
            to_exact_fraction(zone.width),
        )
        if across <= 0 or up <= 0:
            raise ImpossibleFit(f"a clamp zone of {zone.length} × {zone.width}", "give both sides above 0")
        zones.append((y, x, y + up, x + across) if swapped else (x, y, x + across, y + up))
    return UsableArea.of(*((width, length) if swapped else (length, width)), margin, tuple(zones))


def _check(piece: Fraction, gap: Fraction) -> None:
    _above_nothing("piece", piece)
    _not_below("gap", gap)


def _above_nothing(what: str, size: Fraction) -> None:
    if size <= 0:
        raise ImpossibleFit(f"a {what} of {float(size):g}", "give a size above 0")


def _not_below(what: str, size: Fraction) -> None:
    if size < 0:
        raise ImpossibleFit(f"a {what} of {float(size):g}", "give 0 or more")
