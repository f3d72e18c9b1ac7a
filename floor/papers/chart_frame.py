"""What every chart on paper has: its title and frame, both axes with their numbers, lines across with their names."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from floor.batch.quality.measured_values import MeasuredCharacteristic
from floor.batch.state import Batch
from floor.figures.axis import Scale, format_ticks, list_ticks
from floor.papers.svg import HEAVY, SMALL, SOLID, TEXT, THIN, TITLE, Drawing, Stroke, count_letters
from floor.text import cut, wrap_text

WIDTH = 180.0
"""Millimeters: within the margins of A4 and of Letter."""
LEFT, RIGHT, EDGE = 22.0, 32.0, 4.0
"""Room for the numbers of an axis, for the names of limits, and at the edge."""
TALL, LOW = 62.0, 38.0
"""Heights of a chart, and of the spread below it."""
APART = 3.4
"""Between two lines of text."""
MOST_TICKS, MOST_NAMES = 7, 14
MOST_POINTS = 150
"""Points up to which each has its sign; of more, the line and those that are told of."""
HEADROOM = 0.06
"""Room beyond the farthest value, as a share of the scale."""


class Plot(NamedTuple):
    """A frame on paper, with both its scales."""

    x: Scale
    y: Scale


def begin_drawing(batch: Batch, head: str, texts: Sequence[str], height: float) -> tuple[Drawing, float]:
    """A drawing with its title and what is said of it; and the height from which it is free."""
    part = batch.checklist.part
    heads = wrap_text(f"{batch.id}: {head}", "", "", count_letters(WIDTH - 2 * EDGE, TITLE))
    room = count_letters(WIDTH - 2 * EDGE)
    said = [line for text in (*texts, f"{part.number} revision {part.revision}, record up to entry {batch.seq}")
            for line in wrap_text(text, "", "", room)]  # fmt: skip
    top = EDGE + len(heads) * 5 + len(said) * (TEXT + 1) + 3
    drawing = Drawing(WIDTH, top + height, f"{batch.id}: {head}")
    y = EDGE + 3.0
    for line in heads:
        drawing.write_text(EDGE, y, line, TITLE, bold=True)
        y += 5
    for line in said:
        drawing.write_text(EDGE, y, line)
        y += TEXT + 1
    return drawing, top


def draw_frame(
    drawing: Drawing, top: float, height: float, x: tuple[float, float], y: tuple[float, float], unit: str
) -> Plot:
    """A frame with numbers and unit on the left."""
    plot = Plot(Scale(*x, LEFT, WIDTH - RIGHT), Scale(*y, top + height, top))
    ticks = list_ticks(*y, MOST_TICKS if height > LOW else 4)
    for value, said in zip(ticks, format_ticks(ticks), strict=True):
        at = plot.y.place(value)
        drawing.draw_line([(LEFT, at), (WIDTH - RIGHT, at)], THIN, "grid")
        drawing.write_text(LEFT - 1.5, at + 1, said, SMALL, "end")
    drawing.draw_box(LEFT, top, WIDTH - RIGHT - LEFT, height, "none", SOLID)
    name = cut(unit, count_letters(height, SMALL))
    drawing.write_text(EDGE + TEXT, top + height / 2, name, SMALL, "middle", turned=True)
    return plot


def name_below(drawing: Drawing, plot: Plot, names: Sequence[tuple[float, str]], title: str) -> None:
    """Names or numbers below a frame, as many as have room, and what they are."""
    bottom = plot.y.start
    every = -(-len(names) // MOST_NAMES)
    for at, name in names[::every]:
        x = plot.x.place(at)
        drawing.draw_line([(x, bottom), (x, bottom + 1)], SOLID)
        drawing.write_text(x, bottom + 4, name, SMALL, "middle")
    drawing.write_text((plot.x.start + plot.x.end) / 2, bottom + 8.5, title, TEXT, "middle")


def number_below(drawing: Drawing, plot: Plot, title: str) -> None:
    """Numbers of pieces."""
    ticks = list_ticks(plot.x.low, plot.x.high, MOST_NAMES, least=1)
    name_below(drawing, plot, list(zip(ticks, format_ticks(ticks), strict=True)), title)


def widen_range(low: float, high: float) -> tuple[float, float]:
    room = (high - low) * HEADROOM
    return low - room, high + room


def draw_curve(drawing: Drawing, plot: Plot, values: Sequence[tuple[float, float]], stroke: Stroke, kind: str) -> None:
    drawing.draw_line([(plot.x.place(x), plot.y.place(y)) for x, y in values], stroke, kind)


class Level(NamedTuple):
    """A line across a frame with its name beside it."""

    name: str
    value: float
    stroke: Stroke
    kind: str
    figure: str = ""
    """Its value as it is written; empty for a few digits of it."""


def list_drawing_limits(shape: MeasuredCharacteristic) -> list[Level]:
    sides = (("high", shape.high), ("low", shape.low))
    return [Level(name, value, HEAVY, "limit", shape.say_limit(value)) for name, value in sides if value is not None]


def say_unit(shape: MeasuredCharacteristic) -> str:
    return f" ({shape.unit})" if shape.unit else ""


def draw_levels(drawing: Drawing, plot: Plot, levels: Sequence[Level]) -> None:
    """From side to side."""
    for one in levels:
        draw_curve(drawing, plot, [(plot.x.low, one.value), (plot.x.high, one.value)], one.stroke, one.kind)


def name_levels(drawing: Drawing, plot: Plot, levels: Sequence[Level], digits: int) -> None:
    """Names and figures on the right, moved apart where they would lie on each other."""
    below = -1.0
    for one in sorted(levels, key=lambda level: -level.value):
        y = max(plot.y.place(one.value) + 1, below + APART)
        drawing.write_text(WIDTH - RIGHT + 1.5, y, f"{one.name} {one.figure or f'{one.value:.{digits}g}'}", SMALL)
        below = y
