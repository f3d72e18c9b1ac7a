"""Charts as lines of text: values in their order with limits, bars, a map of the places on a carrier.

The same on screen and paper, in signs that have ASCII twins. Plotting libraries for terminals draw in Braille or color,
which half of a shop's terminals show as boxes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from floor.figures.axis import Scale, find_range, format_ticks, list_ticks
from floor.text import count_cells, pad

POINT, SEVERAL, SIGNAL, BAR = "o", "│", "✕", "█"
"""One value; the spread of several that share a column; a value that is told of; a bar."""
DRAWING_LIMIT, CONTROL_LIMIT, CENTER = "=", "-", "·"
"""Lines of the drawing's limits, of those worked out from the values, and of the middle."""
BEFORE, CURVE = "+", "·"
"""A value of earlier; a line through values."""
INTERVAL, EDGES, MIDDLE = "─", ("├", "┤"), "●"
"""From one end of an interval to the other, with the value in it."""
MOST_DIGITS = 6
ROWS_PER_TICK = 3
COLUMNS_PER_TICK = 10
WIDEST_APART = 3
"""Columns from one value to the next where there is room."""


class Level(NamedTuple):
    """A line across a chart."""

    name: str
    value: float
    sign: str = CONTROL_LIMIT
    figure: str = ""
    """Its value as it is written; empty for a few digits of it."""
    own: Sequence[float | None] = ()
    """Where it differs from value to value: its height at each, None where it has none; ``value`` is the first."""


class PlotRow(str):
    """A row of a chart: text as the others, but behind its names stand signs alone, which a screen may color."""

    __slots__ = ("names",)
    names: int
    """Cells before the first sign."""

    def __new__(cls, names: str, signs: str) -> PlotRow:
        row = super().__new__(cls, names + signs)
        row.names = len(names)
        return row


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
    names: Sequence[str],
    width: int,
    height: int,
) -> list[str]:
    """Values from left to right in the order given, each level a line with its name and figure on the left.

    Where there are more values than columns, each column has the same number of them and shows the least, the
    greatest and all between. Levels that would be in one row share it: the first of them keeps its name.

    Args:
        signals: values that are drawn by the sign of a signal, by their places in the order.
        names: of the values, below the axis where there is room; empty for none.
        width: of the whole, in cells.
        height: rows of the values, without the axis.

    Returns:
        ``height`` lines, one for what happened, and one for names if there are any; none where there is no value.
    """
    if not values or height < 2:
        return []
    heights = [at for one in levels for at in (one.value, *one.own) if at is not None]
    scale = _make_scale([*values, *heights], height)
    labels = _place_labels(levels, scale)
    left = max(count_cells(text) for text, _ in labels.values()) + 1
    columns = max(width - left, 1)
    per = -(-len(values) // columns)
    apart = max(1, min(columns // len(values), WIDEST_APART))
    shown = -(-len(values) // per)
    rows = _rule_rows(levels, scale, height, (shown - 1) * apart + 1)
    told = set(signals)
    for n in range(shown):
        some = range(n * per, min((n + 1) * per, len(values)))
        _draw_steps(rows, range(n * apart, min((n + 1) * apart, len(rows[0]))), levels, some, scale)
        _draw_column(rows, n * apart, [values[one] for one in some], scale, signal=any(one in told for one in some))
    axis = [" "] * len(rows[0])
    for one in happenings:
        axis[min(one.before // per * apart, len(axis) - 1)] = one.sign
    text = [*_label_rows(rows, labels, left), " " * left + "".join(axis)]
    named = _name_columns([(n * apart, names[n * per]) for n in range(shown)], columns) if names else ""
    return [*text, " " * left + named] if names else text


def draw_scatter(
    points: Sequence[tuple[float, float]],
    before: Sequence[tuple[float, float]],
    curve: Sequence[tuple[float, float]],
    levels: Sequence[Level],
    width: int,
    height: int,
) -> list[str]:
    """Points (x, y) with numbers on both axes, those of earlier by a sign of their own, and a line through them.

    Returns:
        ``height`` lines and one for the numbers below; none where there is no point.
    """
    if not points or height < 2:
        return []
    everything = [*points, *before, *curve]
    scale = _make_scale([*(y for _, y in everything), *(one.value for one in levels)], height)
    labels = _place_labels(levels, scale)
    left = max(count_cells(text) for text, _ in labels.values()) + 1
    columns = max(width - left, 2)
    across = Scale(*find_range([0.0, *(x for x, _ in everything)]), 0, columns - 1)
    rows = _rule_rows(levels, scale, height, columns)
    for sign, some in ((CURVE, curve), (BEFORE, before), (POINT, points)):
        for x, y in some:
            rows[_find_row(y, scale)][round(across.place(x))] = sign
    ticks = list_ticks(across.low, across.high, max(columns // COLUMNS_PER_TICK, 2))
    numbers = [(round(across.place(at)), said) for at, said in zip(ticks, format_ticks(ticks), strict=True)]
    return [*_label_rows(rows, labels, left), " " * left + _name_columns(numbers, columns)]


def _make_scale(values: Sequence[float], height: int) -> Scale:
    """From values to rows, the greatest in the first."""
    return Scale(*find_range(values), height - 1, 0)


def _find_row(value: float, scale: Scale) -> int:
    return round(scale.place(value))


def _place_labels(levels: Sequence[Level], scale: Scale) -> dict[int, tuple[str, str]]:
    """Row → (name and figure, sign of its line); round numbers where there is no level."""
    found: dict[int, tuple[str, str]] = {}
    for one in levels:
        figure = one.figure or f"{one.value:.{MOST_DIGITS}g}"
        found.setdefault(_find_row(one.value, scale), (f"{one.name} {figure}", one.sign))
    ticks = list_ticks(scale.low, scale.high, max(round(scale.start) // ROWS_PER_TICK + 1, 2))
    for value, said in zip(ticks, format_ticks(ticks), strict=True):
        found.setdefault(_find_row(value, scale), (said, " "))
    return found


def _rule_rows(levels: Sequence[Level], scale: Scale, height: int, width: int) -> list[list[str]]:
    """Empty rows with the lines of the levels that are the same throughout."""
    rows = [[" "] * width for _ in range(height)]
    for one in reversed(levels):
        if not one.own:
            rows[_find_row(one.value, scale)] = [one.sign] * width
    return rows


def _draw_steps(rows: list[list[str]], columns: range, levels: Sequence[Level], values: range, scale: Scale) -> None:
    """The heights of the other levels at some values, which share these columns."""
    for one in levels:
        for height in one.own[values.start : values.stop]:
            if height is not None:
                for column in columns:
                    rows[_find_row(height, scale)][column] = one.sign


def _label_rows(rows: Sequence[Sequence[str]], labels: Mapping[int, tuple[str, str]], left: int) -> list[PlotRow]:
    """Names on the left of their column, mere numbers on its right."""
    found = []
    for n, row in enumerate(rows):
        text, sign = labels.get(n, ("", " "))
        found.append(PlotRow(f"{text:>{left - 1}} " if sign == " " else pad(text, left), "".join(row)))
    return found


def _name_columns(names: Sequence[tuple[int, str]], width: int) -> str:
    """Names below their columns, those that have room."""
    line = ""
    for at, name in names:
        at = min(at, width - count_cells(name))
        if at >= len(line) + bool(line):
            line = f"{line:<{at}}{name}"
    return line


def _draw_column(rows: list[list[str]], column: int, values: Sequence[float], scale: Scale, signal: bool) -> None:
    at = [_find_row(value, scale) for value in values]
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
        amounts: name → text, or nothing to show; a place that is not among them shows a dot.
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
