"""A blank or bed seen from above, drawn in characters."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.blank_layout import build_piece, build_room, compute_layout
from floor.checklist.equipment import Blank
from floor.figures.layout import Layout, RectangularPiece, RoundPiece, to_exact_fraction


def draw_blank(blank: Blank, columns: int, most_rows: int = 24) -> list[str]:
    """A blank or bed seen from above, to scale: pieces shaded and numbered in order, clamps hatched. Nothing where a
    piece is too small for that, as on a long bar.

    Characters count as twice as tall as wide.

    Args:
        columns: total width wanted; less if it would get taller than ``most_rows``.

    Raises:
        ImpossibleFit: no piece fits.
    """
    layout, shape, inside = compute_layout(blank), build_piece(blank), build_room(blank)
    length, width = float(to_exact_fraction(inside.length)), float(to_exact_fraction(inside.width))
    wide = max(min(columns - 2, int(2 * (most_rows - 2) * length / width)), 2)
    cell = length / wide
    high = max(1, round(width / (2 * cell)))
    rows = [["."] * wide for _ in range(high)]
    for zone in inside.zones:
        x, y, across, up = (float(to_exact_fraction(side)) for side in (zone.x, zone.y, zone.length, zone.width))
        _shade(rows, cell, x, y, across, up, "/")
    for n, (at, x, y, across, up) in enumerate(_boxes(layout, shape)):
        if not _shade(rows, cell, x, y, across, up, "▒░"[at % 2], round_=isinstance(shape, RoundPiece)):
            return []
        _number(rows, cell, x + across / 2, y + up / 2, str(n + 1), across)
    text = ["".join(row).replace(".", " ") for row in reversed(rows)]
    return [f"┌{'─' * wide}┐", *(f"│{row}│" for row in text), f"└{'─' * wide}┘"]


def _boxes(layout: Layout, shape: RoundPiece | RectangularPiece) -> Iterator[tuple[int, float, float, float, float]]:
    """The rectangle around each piece from its lower left corner, with a number different from its neighbors'."""
    if isinstance(shape, RoundPiece):
        across = up = float(to_exact_fraction(shape.diameter))
    else:
        across, up = float(to_exact_fraction(shape.length)), float(to_exact_fraction(shape.width))
        if layout.turned:
            across, up = up, across
    lines = sorted({at.x if layout.along == "y" else at.y for at in layout.positions})
    before: dict[int, int] = {}
    for at in layout.positions:
        line = lines.index(at.x if layout.along == "y" else at.y)
        place = before[line] = before.get(line, -1) + 1
        yield line + place, float(at.x) - across / 2, float(at.y) - up / 2, across, up


def _shade(
    rows: list[list[str]], cell: float, x: float, y: float, across: float, up: float, sign: str, round_: bool = False
) -> bool:
    """Fill the cells whose center is in a rectangle, or in the circle inside it; whether any is."""
    filled = False
    for n, row in enumerate(rows):
        for m in range(len(row)):
            dx, dy = ((m + 0.5) * cell - x) / across - 0.5, ((2 * n + 1) * cell - y) / up - 0.5
            if (dx * dx + dy * dy <= 0.25) if round_ else (abs(dx) <= 0.5 and abs(dy) <= 0.5):
                row[m], filled = sign, True
    return filled


def _number(rows: list[list[str]], cell: float, x: float, y: float, text: str, across: float) -> None:
    """Write a piece's number at its center, if there is room."""
    if across / cell < len(text) + 1:
        return
    row, first = rows[min(int(y / (2 * cell)), len(rows) - 1)], int(x / cell - (len(text) - 1) / 2)
    for n, letter in enumerate(text, first):
        if 0 <= n < len(row):
            row[n] = letter
