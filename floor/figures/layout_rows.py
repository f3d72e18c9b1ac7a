"""Centers of pieces in rows along x, in an area with clamps, in exact fractions.

Three ways: square rows, staggered rows at the closest pitch, and spread rows. Spread rows are staggered too, but with
pieces farther apart or a shift of less than half a pitch, as far as the length has room: then rows are closer
together, or none is a piece short.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from fractions import Fraction

from floor.dataclass import dataclass

Point = tuple[Fraction, Fraction]
Box = tuple[Fraction, Fraction, Fraction, Fraction]
"""Left, bottom, right, top."""

_FINE = 10**9


@dataclass(frozen=True, slots=True)
class UsableArea:
    """Where pieces may lie: a rectangle less what clamps take."""

    left: Fraction
    bottom: Fraction
    right: Fraction
    top: Fraction
    zones: tuple[Box, ...]

    @classmethod
    def of(cls, length: Fraction, width: Fraction, margin: Fraction, zones: tuple[Box, ...]) -> UsableArea:
        """What the margins leave. A clamp along a whole edge moves that edge in, and rows start there."""
        edges = margin, margin, length - margin, width - margin
        # A clamp may span the whole width only once another has moved an edge.
        while (moved := _move_edges(edges, zones)) != edges:
            edges = moved
        left, bottom, right, top = edges
        rest = tuple(z for z in zones if z[0] < right and z[2] > left and z[1] < top and z[3] > bottom)
        return cls(left, bottom, right, top, rest)


def _move_edges(edges: Box, zones: Iterable[Box]) -> Box:
    """The edges of an area, each moved in by clamps along its whole length."""
    left, bottom, right, top = edges
    for start, low, end, high in zones:
        if low <= bottom and high >= top:
            left = max(left, end) if start <= left else left
            right = min(right, start) if end >= right else right
        if start <= left and end >= right:
            bottom = max(bottom, high) if low <= bottom else bottom
            top = min(top, low) if high >= top else top
    return left, bottom, right, top


def place_square_rows(room: UsableArea, length: Fraction, width: Fraction, gap: Fraction) -> list[Point]:
    """Straight rows, each as low as it goes: on the lower edge, a clamp or the row below. Keeps the rows that hold
        most.

    Pieces part around clamps.
    """
    highest = room.top - width
    heights = sorted(
        {
            floor + n * (width + gap)
            for floor in (room.bottom, *(top for _, _, _, top in room.zones))
            if room.bottom <= floor <= highest
            for n in range(math.floor((highest - floor) / (width + gap)) + 1)
        }
    )
    best: list[tuple[int, int | None, list[Fraction]]] = [(0, None, [])]
    """From the top down: pieces from here up, where to go on from the row laid, and that row."""
    above = 0
    rows: dict[tuple[tuple[Fraction, Fraction], ...], list[Fraction]] = {}
    for n, bottom in enumerate(reversed(heights)):
        while heights[len(heights) - 1 - above] >= bottom + width + gap:
            above += 1
        free = tuple(_free(room, bottom, bottom + width))
        if free not in rows:
            rows[free] = _row(free, length, gap)
        row = rows[free]
        holds = best[above][0] + len(row)
        best.append((holds, above, row) if holds >= best[n][0] else (best[n][0], None, []))
    points: list[Point] = []
    at = len(heights)
    while at:
        _, above_it, row = best[at]
        middle = heights[len(heights) - at] + width / 2
        points += [(x, middle) for x in row]
        at = at - 1 if above_it is None else above_it
    return points


def _row(free: Iterable[tuple[Fraction, Fraction]], length: Fraction, gap: Fraction) -> list[Fraction]:
    """The centers along a row with these stretches free."""
    row: list[Fraction] = []
    for left, right in free:
        if row:  # a clamp narrower than the gap does not bring two pieces closer
            left = max(left, row[-1] + length / 2 + gap)
        row += [left + length / 2 + n * (length + gap) for n in range(count_pieces_along(right - left, length, gap))]
    return row


def _free(room: UsableArea, bottom: Fraction, top: Fraction) -> Iterator[tuple[Fraction, Fraction]]:
    """Stretches of x free of clamps between two heights."""
    left = room.left
    for start, _, end, _ in sorted(z for z in room.zones if z[1] < top and z[3] > bottom):
        if start > left:
            yield left, min(start, room.right)
        left = max(left, end)
    if left < room.right:
        yield left, room.right


def place_staggered_rows(room: UsableArea, diameter: Fraction, gap: Fraction) -> list[Point]:
    """Rows shifted by half a pitch, each nested in the one below; pieces a clamp would touch are left out.

    If clamps take corners or the middle, rows start at whichever clamp edge leaves most, with a long or a short row.
    """
    pitch = diameter + gap
    rise = compute_square_root(3 * pitch * pitch / 4)
    if not room.zones:
        return _rows(room, diameter, rise, pitch, pitch / 2)
    lefts = {room.left, *(right for _, _, right, _ in room.zones)}
    floors = {room.bottom, *(top for _, _, _, top in room.zones)}
    best: list[Point] = []
    for left, floor, short in itertools.product(sorted(lefts), sorted(floors), (False, True)):
        below = math.floor((floor - room.bottom) / rise)
        shift = pitch / 2 if short != (below % 2 == 1) else Fraction(0)
        found = _lattice(room, diameter, pitch, rise, left + shift, floor - below * rise)
        best = max(best, found, key=len)
    return best


def _lattice(
    room: UsableArea, diameter: Fraction, pitch: Fraction, rise: Fraction, left: Fraction, bottom: Fraction
) -> list[Point]:
    """The pieces of an endless pattern that lie in the area, given where one of its lowest row may start."""
    points: list[Point] = []
    radius, row, y = diameter / 2, 0, bottom + diameter / 2
    while y + radius <= room.top:
        start = left + (pitch / 2 if row % 2 else 0)
        start -= math.floor((start - room.left) / pitch) * pitch
        for n in range(count_pieces_along(room.right - start, diameter, pitch - diameter)):
            x = start + radius + n * pitch
            if not any(_touches(x, y, radius, zone) for zone in room.zones):
                points.append((x, y))
        row, y = row + 1, y + rise
    return points


def place_spread_rows(room: UsableArea, diameter: Fraction, gap: Fraction, more_than: int) -> list[Point]:
    """The best staggered rows with wider spacing or a smaller shift, if they hold more than so many pieces.

    None if clamps divide the area.
    """
    pitch, length, most = (
        diameter + gap,
        room.right - room.left,
        count_pieces_along(room.right - room.left, diameter, gap),
    )
    if room.zones or not most or room.top - room.bottom < diameter:
        return []
    ways: list[tuple[int, Fraction, Fraction, Fraction]] = []
    spare = length - diameter
    for pieces in range(most, 0, -1):
        apart = spare / (pieces - Fraction(1, 2))
        equal = (apart, apart / 2) if apart >= pitch else (pitch, spare - (pieces - 1) * pitch)
        tries = [equal] if pieces == 1 else [equal, (spare / (pieces - 1), spare / (pieces - 1) / 2)]
        for step, shift in tries:
            # The next row but one is straight above, so half a pitch is the least rise.
            rise = max(compute_square_root(max(Fraction(0), pitch * pitch - shift * shift)), pitch / 2)
            ways.append((_held(room, diameter, rise, step, shift), rise, step, shift))
        if apart > 2 * pitch:
            break  # rows are as close as they go; fewer pieces per row gain nothing
    held, rise, step, shift = max(ways, key=lambda way: way[0])
    return _rows(room, diameter, rise, step, shift) if held > more_than else []


def _held(room: UsableArea, diameter: Fraction, rise: Fraction, step: Fraction, shift: Fraction) -> int:
    rows = _high(room, diameter, rise)
    even, odd = (
        count_pieces_along(room.right - room.left - start, diameter, step - diameter) for start in (Fraction(0), shift)
    )
    return (rows + 1) // 2 * even + rows // 2 * odd


def _rows(room: UsableArea, diameter: Fraction, rise: Fraction, step: Fraction, shift: Fraction) -> list[Point]:
    """Every other row starts at the left edge, the rows between one shift farther on."""
    both: list[list[Fraction]] = []
    for left in (room.left, room.left + shift):
        count = count_pieces_along(room.right - left, diameter, step - diameter)
        both.append([left + diameter / 2 + n * step for n in range(count)])
    found: list[Point] = []
    for row in range(_high(room, diameter, rise)):
        y = room.bottom + diameter / 2 + row * rise
        found += [(x, y) for x in both[row % 2]]
    return found


def _high(room: UsableArea, diameter: Fraction, rise: Fraction) -> int:
    spare = room.top - room.bottom - diameter
    return math.floor(spare / rise) + 1 if spare >= 0 else 0


def count_pieces_along(inside: Fraction, piece: Fraction, gap: Fraction) -> int:
    """Pieces along a stretch, with no gap after the last."""
    return max(0, math.floor((inside + gap) / (piece + gap))) if inside > 0 else 0


def compute_square_root(square: Fraction) -> Fraction:
    """The square root; if irrational, rounded up to a billionth so that no gap is ever short."""
    top, bottom = math.isqrt(square.numerator), math.isqrt(square.denominator)
    if top * top == square.numerator and bottom * bottom == square.denominator:
        return Fraction(top, bottom)
    return Fraction(math.isqrt(math.ceil(square * _FINE * _FINE) - 1) + 1, _FINE)


def _touches(x: Fraction, y: Fraction, radius: Fraction, zone: Box) -> bool:
    left, bottom, right, top = zone
    across, up = x - min(max(x, left), right), y - min(max(y, bottom), top)
    return across * across + up * up < radius * radius
