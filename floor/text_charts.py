"""Charts as lines of text: values in their order with limits, bars, a map of the places on a carrier.

The same on screen and paper, in signs that have ASCII twins. Plotting libraries for terminals draw in Braille or color,
which half of a shop's terminals show as boxes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from floor.text import count_cells, pad

POINT, SEVERAL, SIGNAL, BAR = "o", "│", "✕", "█"
"""One value; the spread of several that share a column; a value that is told of; a bar."""
INTERVAL, EDGES, MIDDLE = "─", ("├", "┤"), "●"
"""From one end of an interval to the other, with the value in it."""
MOST_DIGITS = 6
WIDEST_APART = 3
"""Columns from one value to the next where there is room."""


class Level(NamedTuple):
    """A line across a chart."""

    name: str
    value: float
    sign: str = "-"
    figure: str = ""
    """Its value as it is written; empty for a few digits of it."""


class Happening(NamedTuple):
    """What happened before a value, as one letter on the axis."""

    before: int
    """The value, by its place in the order."""
    sign: str


def draw_values(
    values: Sequence[float],
    levels: Sequence[Level],
    signals: Sequence[int],
    happenings: Sequence[Happening],
    width: int,
    height: int,
) -> list[str]:
    """Values from left to right in the order given, each level a line with its name and figure on the left.

    Where there are more values than columns, each column has the same number of them and shows the least, the
    greatest and all between. Levels that would be in one row share it: the first of them keeps its name.

    Args:
        signals: values that are drawn by the sign of a signal, by their places in the order.
        width: of the whole, in cells.
        height: rows of the values, without the axis.

    Returns:
        ``height`` lines and one for the axis; none where there is no value.
    """
    if not values or height < 2:
        return []
    low, high = _find_range(values, levels)
    labels = _place_labels(levels, low, high, height)
    left = max((count_cells(text) for text, _ in labels.values()), default=0) + 1
    columns = max(width - left, 1)
    per = -(-len(values) // columns)
    apart = max(1, min(columns // len(values), WIDEST_APART))
    shown = -(-len(values) // per)
    rows = [[" "] * ((shown - 1) * apart + 1) for _ in range(height)]
    for row, (_, sign) in labels.items():
        rows[row] = [sign] * len(rows[row])
    told = set(signals)
    for n in range(shown):
        some = range(n * per, min((n + 1) * per, len(values)))
        _draw_column(rows, n * apart, [values[one] for one in some], low, high, signal=any(one in told for one in some))
    axis = [" "] * len(rows[0])
    for one in happenings:
        axis[min(one.before // per * apart, len(axis) - 1)] = one.sign
    text = [pad(labels[n][0] if n in labels else "", left) + "".join(row) for n, row in enumerate(rows)]
    return [*text, " " * left + "".join(axis)]


def _find_range(values: Sequence[float], levels: Sequence[Level]) -> tuple[float, float]:
    all_ = [*values, *(one.value for one in levels)]
    low, high = min(all_), max(all_)
    if low == high:
        spread = abs(low) * 0.01 or 1.0
        return low - spread, high + spread
    return low, high


def _find_row(value: float, low: float, high: float, height: int) -> int:
    return round((high - value) / (high - low) * (height - 1))


def _place_labels(levels: Sequence[Level], low: float, high: float, height: int) -> dict[int, tuple[str, str]]:
    """Row → (name and figure, sign of its line)."""
    found: dict[int, tuple[str, str]] = {}
    for one in levels:
        row = _find_row(one.value, low, high, height)
        found.setdefault(row, (f"{one.name} {one.figure or f'{one.value:.{MOST_DIGITS}g}'}", one.sign))
    return found


def _draw_column(
    rows: list[list[str]], column: int, values: Sequence[float], low: float, high: float, signal: bool
) -> None:
    at = [_find_row(value, low, high, len(rows)) for value in values]
    for row in range(min(at), max(at) + 1):
        rows[row][column] = SEVERAL
    sign = SIGNAL if signal else POINT
    rows[min(at)][column] = rows[max(at)][column] = sign


def draw_bars(rows: Sequence[tuple[str, float, str]], width: int) -> list[str]:
    """A line for each (name, amount, figures): the name, a bar as long as the amount is, the figures."""
    if not rows:
        return []
    names = min(max(count_cells(name) for name, _, _ in rows), width // 2)
    figures = max(count_cells(text) for _, _, text in rows)
    room = max(width - names - figures - 2, 1)
    most = max(amount for _, amount, _ in rows)
    lines = []
    for name, amount, text in rows:
        long = max(round(room * amount / most), 1 if amount else 0) if most else 0
        lines.append(f"{pad(name, names)} {pad(BAR * long, room)} {text}")
    return lines


def draw_places(positions: Sequence[str], columns: int, amounts: Mapping[str, str]) -> list[str]:
    """The places of a carrier as they lie, each with its name and what is said of it.

    Args:
        positions: their names, row by row.
        amounts: name → text; a place without one shows a dot.
    """
    cells = [f"{place} {amounts.get(place, '·')}" for place in positions]
    wide = max(map(count_cells, cells), default=0) + 2
    return [
        "".join(pad(cell, wide) for cell in cells[start : start + columns]).rstrip()
        for start in range(0, len(cells), columns)
    ]


def draw_interval(middle: float, ends: tuple[float, float] | None, low: float, high: float, width: int) -> str:
    """A value with its interval on a scale from ``low`` to ``high``; the value alone without an interval."""
    if width < 3 or high <= low:
        return ""
    row = [" "] * width
    start, end = (_find_column(one, low, high, width) for one in ends or (middle, middle))
    for column in range(start, end + 1):
        row[column] = INTERVAL
    row[start], row[end] = EDGES
    row[_find_column(middle, low, high, width)] = MIDDLE
    return "".join(row).rstrip()


def _find_column(value: float, low: float, high: float, width: int) -> int:
    share = min(max((value - low) / (high - low), 0.0), 1.0)
    return round(share * (width - 1))
