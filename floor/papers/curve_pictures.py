"""Curves on paper: how a tool wears, piece by piece, and the chance that a load is accepted."""

from __future__ import annotations

from collections.abc import Sequence

from floor.batch.quality.drifts import Wear
from floor.batch.state import Batch
from floor.figures.axis import find_range
from floor.papers.chart_frame import (
    MOST_POINTS,
    TALL,
    begin_drawing,
    draw_curve,
    draw_frame,
    draw_levels,
    list_drawing_limits,
    name_levels,
    number_below,
    say_unit,
    widen_range,
)
from floor.papers.drifts import BY_PIECES, describe_wear
from floor.papers.measured_values import describe_limits
from floor.papers.sampling import PlanInUse, say_plan_in_force
from floor.papers.svg import DASHED, SOLID, Sign

STEPS = 40
"""Points of a curve."""


def draw_wear_picture(batch: Batch, wear: Wear) -> str:
    """Values by the pieces made since the tool was new: those of tools before, those of the present one, its line."""
    shape = wear.shape
    *before, now = wear.lives
    curves = [_trace(wear, side) for side in (0, 1, -1)]
    limits, pieces = list_drawing_limits(shape), [piece for life in wear.lives for piece in life]
    heights = [*(piece.value for piece in pieces), *(one.value for one in limits)]
    low, high = widen_range(*find_range([*heights, *(y for curve in curves for _, y in curve)]))
    signs = "dashed: where 95 % of the next values lie; dots: the present tool, circles: those before"
    texts = [describe_limits(shape), describe_wear(wear), signs]
    drawing, top = begin_drawing(batch, f"op {shape.op} {shape.what} by piece of its tool", texts, TALL + 14)
    most = max(piece.count for piece in pieces)
    plot = draw_frame(drawing, top, TALL, (0.0, most * 1.03), (low, high), shape.what + say_unit(shape))
    draw_levels(drawing, plot, limits)
    name_levels(drawing, plot, limits, 5)
    for curve, stroke, kind in zip(curves, (SOLID, DASHED, DASHED), ("trend", "band", "band"), strict=True):
        draw_curve(drawing, plot, curve, stroke, kind)
    for life, sign in (*((life, Sign.OPEN) for life in before), (now, Sign.DOT)):
        for piece in life:
            drawing.draw_point(plot.x.place(piece.count), plot.y.place(piece.value), sign, "value")
    number_below(drawing, plot, BY_PIECES)
    return drawing.write()


def _trace(wear: Wear, side: int) -> list[tuple[float, float]]:
    """The line of the present life, or an edge of its band."""
    line, counts = wear.line, [piece.count for piece in wear.lives[-1]]
    first, last = min(counts), max(counts)
    at = [first + (last - first) * n / STEPS for n in range(STEPS + 1)]
    return [(x, line.find_value(x) + side * line.find_half_band(x)) for x in at]


def draw_acceptance_picture(batch: Batch, plan: PlanInUse, chances: Sequence[float]) -> str:
    """The operating characteristic: exact, as the sample is taken from just these pieces."""
    head = f"op {plan.op} {plan.gate.title()}: chance of accepting a load of {plan.capacity}"
    drawing, top = begin_drawing(batch, head, [say_plan_in_force(batch, plan)], TALL + 14)
    plot = draw_frame(drawing, top, TALL, (0.0, float(plan.capacity)), (0.0, 100.0), "chance (%)")
    at = [(plot.x.place(bad), plot.y.place(100 * chance)) for bad, chance in enumerate(chances)]
    drawing.draw_line(at, SOLID, "values")
    if len(at) <= MOST_POINTS:
        for x, y in at:
            drawing.draw_point(x, y, Sign.OPEN, "value")
    number_below(drawing, plot, "bad pieces in the load")
    return drawing.write()
