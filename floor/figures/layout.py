"""Layout: how many pieces lie on a blank or carrier, and where.

Exact: sizes become fractions of the decimals a person wrote, so that 24 in less two margins of 0.1 in holds
ten pieces of 2.2 in and not, by binary rounding, nine. Any one unit of length serves; positions come back in it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from floor.figures.errors import ImpossibleFit

Size = int | float | str | Decimal | Fraction
"""A length. A float stands for the shortest decimal that reads back as it: 0.1 is one tenth."""

_FINE = 10**9


def exact(size: Size) -> Fraction:
    """The fraction meant by a written size: 2.2 is 11/5.

    Raises:
        ImpossibleFit: not a finite number.
    """
    try:
        return Fraction(repr(size)) if isinstance(size, float) else Fraction(size)
    except (ValueError, OverflowError):
        raise ImpossibleFit(f"a size of {size}", "give a finite number") from None


@dataclass(frozen=True, slots=True)
class Round:
    """A round piece."""

    diameter: Size


@dataclass(frozen=True, slots=True)
class Rectangle:
    """A rectangular piece, or the rectangle around one."""

    length: Size
    width: Size


@dataclass(frozen=True, slots=True)
class Zone:
    """A rectangle kept clear for a clamp, cutter path included; from its lower left corner."""

    x: Size
    y: Size
    length: Size
    width: Size


@dataclass(frozen=True, slots=True)
class Blank:
    """A strip, sheet or carrier: length along x, width along y, the origin at its lower left corner."""

    length: Size
    width: Size
    margin: Size = 0
    """Kept free along each edge."""
    zones: tuple[Zone, ...] = ()


Clamps = Literal["both ends", "one end", "both sides", "one side", "all round"]
"""Where clamp strips lie: ends across the length (the first at x = 0), sides along it (the first at y = 0)."""


def clamp_zones(length: Size, width: Size, clamp: Size, at: Clamps) -> tuple[Zone, ...]:
    """The strips of a blank that clamps take, each as wide as `clamp`, counted from the edge."""
    far_x, far_y = exact(length) - exact(clamp), exact(width) - exact(clamp)
    ends = (Zone(0, 0, clamp, width), Zone(far_x, 0, clamp, width))
    sides = (Zone(0, 0, length, clamp), Zone(0, far_y, length, clamp))
    strips = {"both ends": ends, "one end": ends[:1], "both sides": sides, "one side": sides[:1]}
    return strips.get(at, ends + sides)


@dataclass(frozen=True, slots=True)
class Position:
    """Centre of a piece."""

    x: Fraction
    y: Fraction


@dataclass(frozen=True, slots=True)
class Layout:
    """One way to lay pieces out."""

    rows: Literal["square", "staggered"]
    along: Literal["x", "y"]
    """Direction the rows run in."""
    turned: bool
    """Whether a rectangular piece lies with its length along y."""
    positions: tuple[Position, ...]
    """Row by row."""

    @property
    def pieces(self) -> int:
        return len(self.positions)


def fit(length: Size, piece: Size, gap: Size = 0, margin: Size = 0) -> int:
    """Pieces along one direction: ⌊(length − 2·margin + gap) / (piece + gap)⌋, never below 0.

    ``gap`` is cutter width and web between pieces; the last piece needs none after it.

    Raises:
        ImpossibleFit: a length or piece that is not above 0, a gap or margin below 0.
    """
    length, piece, gap, margin = (exact(size) for size in (length, piece, gap, margin))
    _check(length, piece, gap, margin)
    return _fit(length - 2 * margin, piece, gap)


def unused(length: Size, piece: Size, gap: Size = 0, margin: Size = 0) -> Fraction:
    """Length left over between the margins when `fit` pieces lie there; all of it where none fits."""
    inside = exact(length) - 2 * exact(margin)
    pieces = fit(length, piece, gap, margin)
    return inside - pieces * exact(piece) - max(0, pieces - 1) * exact(gap)


def layouts(piece: Round | Rectangle, blank: Blank, gap: Size = 0) -> tuple[Layout, ...]:
    """Every layout considered, also those that hold nothing; most pieces first.

    Square rows of round or rectangular pieces and staggered rows of round ones, along x and along y, rectangular
    pieces lengthwise and turned. Rows part around clamp zones. A blank and its zones are never turned.

    Raises:
        ImpossibleFit: a size that is not above 0, a gap or margin below 0.
    """
    gap = exact(gap)
    found: list[Layout] = []
    for along in ("x", "y"):
        room = _Room.of(blank, swapped=along == "y")
        if isinstance(piece, Round):
            diameter = exact(piece.diameter)
            _check(room.length, diameter, gap, room.margin)
            shapes = [(False, "square", _square(room, diameter, diameter, gap))]
            shapes.append((False, "staggered", _staggered(room, diameter, gap)))
        else:
            length, width = exact(piece.length), exact(piece.width)
            _check(room.length, min(length, width), gap, room.margin)
            shapes = []
            for turned in (False, True) if length != width else (False,):
                x, y = (length, width) if turned == (along == "y") else (width, length)
                shapes.append((turned, "square", _square(room, x, y, gap)))
        for turned, rows, points in shapes:
            placed = tuple(Position(y, x) if along == "y" else Position(x, y) for x, y in points)
            found.append(Layout("square" if rows == "square" else "staggered", along, turned, placed))
    return tuple(sorted(found, key=lambda layout: -layout.pieces))


def lay_out(piece: Round | Rectangle, blank: Blank, gap: Size = 0) -> Layout:
    """The layout that holds most pieces; of equals the plainest: square before staggered, rows along x, unturned.

    Raises:
        ImpossibleFit: a size out of range, or not one piece fits.
    """
    best = layouts(piece, blank, gap)[0]
    if best.pieces:
        return best
    size = f"{piece.diameter} round" if isinstance(piece, Round) else f"{piece.length} × {piece.width}"
    clear = " and its clamp zones" if blank.zones else ""
    raise ImpossibleFit(
        f"not one piece of {size} fits a blank of {blank.length} × {blank.width}, margin {blank.margin}{clear}",
        "take a larger blank or carrier, a smaller margin, or move the clamps",
    )


@dataclass(frozen=True, slots=True)
class _Room:
    """A blank in fractions, its x along the rows."""

    length: Fraction
    width: Fraction
    margin: Fraction
    zones: tuple[tuple[Fraction, Fraction, Fraction, Fraction], ...]
    """Left, bottom, right, top."""

    @classmethod
    def of(cls, blank: Blank, swapped: bool) -> _Room:
        length, width, margin = exact(blank.length), exact(blank.width), exact(blank.margin)
        _check(length, width, Fraction(0), margin)
        zones = []
        for zone in blank.zones:
            x, y, across, up = exact(zone.x), exact(zone.y), exact(zone.length), exact(zone.width)
            if across <= 0 or up <= 0:
                raise ImpossibleFit(f"a clamp zone of {zone.length} × {zone.width}", "give both sides above 0")
            zones.append((y, x, y + up, x + across) if swapped else (x, y, x + across, y + up))
        return cls(width, length, margin, tuple(zones)) if swapped else cls(length, width, margin, tuple(zones))


def _square(room: _Room, length: Fraction, width: Fraction, gap: Fraction) -> list[tuple[Fraction, Fraction]]:
    """Rows upward from the lower margin; a row that clamps leave no room for starts again above the nearest clamp."""
    points: list[tuple[Fraction, Fraction]] = []
    bottom = room.margin
    while bottom + width <= room.width - room.margin:
        row: list[tuple[Fraction, Fraction]] = []
        for left, right in _free(room, bottom, bottom + width):
            if row:  # a clamp that is narrower than the gap does not bring two pieces together
                left = max(left, row[-1][0] + length / 2 + gap)
            count = _fit(right - left, length, gap)
            row += [(left + length / 2 + n * (length + gap), bottom + width / 2) for n in range(count)]
        points += row
        above = [top for _, low, _, top in room.zones if low < bottom + width and top > bottom]
        bottom = bottom + width + gap if row or not above else min(above)
    return points


def _free(room: _Room, bottom: Fraction, top: Fraction) -> Iterator[tuple[Fraction, Fraction]]:
    """Stretches of x between the margins that no clamp zone crosses between two heights."""
    left = room.margin
    for start, _, end, _ in sorted(z for z in room.zones if z[1] < top and z[3] > bottom):
        if start > left:
            yield left, min(start, room.length - room.margin)
        left = max(left, end)
    if left < room.length - room.margin:
        yield left, room.length - room.margin


def _staggered(room: _Room, diameter: Fraction, gap: Fraction) -> list[tuple[Fraction, Fraction]]:
    """Rows shifted by half a pitch, each nested in the one below; pieces that a clamp would touch are left out.

    The rise between rows is pitch·√3/2, rounded up to a billionth of the unit so that the gap is never short.
    """
    pitch = diameter + gap
    squared = 3 * (pitch * _FINE) ** 2 / 4
    rise = Fraction(math.isqrt(math.ceil(squared) - 1) + 1, _FINE)
    points: list[tuple[Fraction, Fraction]] = []
    row, y = 0, room.margin + diameter / 2
    while y + diameter / 2 <= room.width - room.margin:
        start = room.margin + (pitch / 2 if row % 2 else 0)
        for n in range(_fit(room.length - room.margin - start, diameter, gap)):
            x = start + diameter / 2 + n * pitch
            if not any(_touches(x, y, diameter / 2, zone) for zone in room.zones):
                points.append((x, y))
        row, y = row + 1, y + rise
    return points


def _touches(x: Fraction, y: Fraction, radius: Fraction, zone: tuple[Fraction, Fraction, Fraction, Fraction]) -> bool:
    left, bottom, right, top = zone
    across, up = x - min(max(x, left), right), y - min(max(y, bottom), top)
    return across * across + up * up < radius * radius


def _fit(inside: Fraction, piece: Fraction, gap: Fraction) -> int:
    return max(0, math.floor((inside + gap) / (piece + gap))) if inside > 0 else 0


def _check(length: Fraction, piece: Fraction, gap: Fraction, margin: Fraction) -> None:
    for what, size in (("blank", length), ("piece", piece)):
        if size <= 0:
            raise ImpossibleFit(f"a {what} of {float(size):g}", "give a size above 0")
    for what, size in (("gap", gap), ("margin", margin)):
        if size < 0:
            raise ImpossibleFit(f"a {what} of {float(size):g}", "give 0 or more")
