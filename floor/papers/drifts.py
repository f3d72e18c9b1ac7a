"""A drift in words, for the walk and the charts."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from floor.batch.state import Batch
from floor.figures.quality.missing import Missing
from floor.text import format_count, wrap_text
from floor.text_charts import DRAWING_LIMIT, Level, draw_scatter

if TYPE_CHECKING:
    from floor.batch.quality.drifts import Drifting, Wear

BY_PIECES = "pieces since the tool, or without one the set-up, was new"


def describe_drift(one: Drifting) -> str:
    """``groove depth drifts up: about 40 more pieces, at least 22 to its limit 3.1 mm``."""
    drifts = f"{one.shape.what} drifts {'up' if one.drift.slope > 0 else 'down'}"
    left, limit = one.to_limit, one.shape.high if one.drift.slope > 0 else one.shape.low
    if limit is None or left is None and not one.is_near:
        return drifts
    said = f"{limit:.6g} {one.shape.unit}".strip()
    if left is None:
        return f"{drifts}: the whole last load lies within a quarter of the tolerance of its limit {said}"
    return f"{drifts}: about {format_count(left.about, 'more piece')}, at least {left.at_least} to its limit {said}"


def list_drift_warnings(batch: Batch, drifts: list[Drifting], op: int) -> list[str]:
    """The drifts of an operation that reach their limit before its last piece is made, the nearest first; before them
    those of which only that is known that they are near it.
    """
    if not drifts:
        return []
    from floor.batch.quality.drifts import count_pieces_to_come  # the first screen asks nothing

    to_come = count_pieces_to_come(batch, op)
    left = [(_count_left(one), one) for one in drifts if one.shape.op == op]
    near = sorted(((pieces, one) for pieces, one in left if pieces < to_come), key=lambda one: one[0])
    return [describe_drift(one) for _, one in near]


def _count_left(one: Drifting) -> float:
    if one.to_limit is not None:
        return one.to_limit.about
    return 0 if one.is_near else math.inf


def describe_wear(wear: Wear) -> str:
    """How fast it changes, how sure that is, and how far from the line a value may lie."""
    shape, line, known = wear.shape, wear.line, wear.line.slope_interval
    change = f"{100 * line.slope:+.3g} {shape.unit}".strip()
    half = f"{line.factor:.2g} {shape.unit}".strip()
    sure = "too few loads for an interval"
    if not isinstance(known, Missing):
        sure = f"95 % sure: {100 * known.low:+.3g} to {100 * known.high:+.3g}"
    shown = "" if line.is_shown else "No wear shown: "
    return (
        f"{shown}{change} in 100 pieces ({sure}), by the medians of loads; 95 % of values within {half} of it, "
        "more at its ends"
    )


def list_wear_lines(wear: Wear, width: int, height: int) -> list[str]:
    """A characteristic by the pieces that its tools have cut."""
    shape, line = wear.shape, wear.line
    *before, now = [[(float(one.count), one.value) for one in life] for life in wear.lives]
    first, last = (pick(x for x, _ in now) for pick in (min, max))
    curve = [(x, line.find_value(x)) for x in (first + (last - first) * n / width for n in range(width + 1))]
    sides = (("high", shape.high), ("low", shape.low))
    levels = [Level(name, value, DRAWING_LIMIT, shape.say_limit(value)) for name, value in sides if value is not None]
    heads = wrap_text(f"op {shape.op} {shape.what} by the {BY_PIECES}", "", "  ", width)
    heads += wrap_text(describe_wear(wear), "", "  ", width)
    below = ["o the present one  + those before" if before else "o values"]
    rows = max(height - len(heads) - len(below) - 2, 5)
    return [
        *heads,
        "",
        *draw_scatter(now, [one for life in before for one in life], curve, levels, width, rows),
        *below,
    ]
