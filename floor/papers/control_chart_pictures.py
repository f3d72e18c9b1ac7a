"""Control charts on paper: values or shares in their order, with limits as wide as each point has them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from itertools import groupby
from typing import NamedTuple

from floor.batch.quality.loss_causes import LossPath, count_pieces
from floor.batch.quality.loss_patterns import LossStudy
from floor.batch.state import Batch
from floor.figures.axis import find_range
from floor.figures.quality.control_charts import ChartPoint, ControlLimits
from floor.papers.chart_frame import (
    LOW,
    MOST_POINTS,
    TALL,
    Level,
    Plot,
    begin_drawing,
    draw_curve,
    draw_frame,
    draw_levels,
    list_drawing_limits,
    name_below,
    name_levels,
    say_unit,
    widen_range,
)
from floor.papers.losses import say_path, study_p_chart
from floor.papers.measured_values import (
    ValueStudy,
    describe_limits,
    describe_values,
    list_marked,
    mark_happenings,
    say_again,
)
from floor.papers.svg import DASHED, DOTTED, SMALL, SOLID, Drawing, Sign, Stroke
from floor.text import format_share
from floor.text_charts import Happening


def draw_values_picture(batch: Batch, study: ValueStudy) -> str:
    """Values or means with the limits; below, what shows their spread."""
    shape, charts = study.shape, study.charts
    happened, axis = mark_happenings(batch, study.points)
    signs = "; ".join(filter(None, ["black squares: out of limits, or a run rule", axis]))
    below = [describe_limits(shape), signs, *([say_again(study)] if study.again else [])]
    drawing, top = begin_drawing(batch, describe_values(study), below, TALL + LOW + 24)
    loads = [str(load) for load in study.loads]
    limits = [] if study.grouped else list_drawing_limits(shape)
    unit = say_unit(shape)
    what = f"mean{unit}" if study.grouped else f"{shape.what}{unit}"
    _draw_series(drawing, top, TALL, _Series(charts.location.points, loads, list_marked(study), happened, what, limits))
    spread = _Series(charts.spread.points, loads, study.spread_out, (), f"{study.kind.value}{unit}", least=0.0)
    plot = _draw_series(drawing, top + TALL + 6, LOW, spread)
    name_below(drawing, plot, list(enumerate(loads, 1)), "load, in the order measured")
    return drawing.write()


def draw_p_chart_picture(batch: Batch, losses: LossStudy, path: LossPath) -> str:
    found = study_p_chart(batch, path, losses.outcomes[path])
    lost, pieces = count_pieces(losses.outcomes[path])
    head = f"lost by load, {say_path(batch, path)}: {lost} of {pieces} ({format_share(lost / pieces, 1)})"
    signs = "; ".join(
        filter(None, ["limits for each load's own size; black squares: out of limits, or a run rule", found.axis])
    )
    drawing, top = begin_drawing(batch, head, [signs], TALL + 14)
    points = [_to_percent(point) for point in found.chart.points]
    names = [str(load) for load in found.loads]
    series = _Series(points, names, found.signals, found.happened, "percent lost", digits=3, least=0.0)
    plot = _draw_series(drawing, top, TALL, series)
    name_below(drawing, plot, list(enumerate(names, 1)), "load, in the order made")
    return drawing.write()


def _to_percent(point: ChartPoint) -> ChartPoint:
    value, limits = point.value, point.limits
    return ChartPoint(
        None if value is None else 100 * value,
        None
        if limits is None
        else ControlLimits(100 * limits.center, 100 * limits.lower, 100 * limits.upper, 100 * limits.sigma),
    )


class _Series(NamedTuple):
    """Points in their order, with what is drawn beside them."""

    points: Sequence[ChartPoint]
    names: Sequence[str]
    """Of the points, below the axis: their loads."""
    marked: Collection[int]
    happened: Sequence[Happening]
    unit: str
    limits: Sequence[Level] = ()
    """Of the drawing."""
    digits: int = 5
    least: float | None = None
    """Below this no value can be."""


def _draw_series(drawing: Drawing, top: float, height: float, series: _Series) -> Plot:
    """A control chart: values in their order, control limits as wide as each point has them."""
    low, high = widen_range(*find_range(_list_heights(series) or [0.0]))
    low = low if series.least is None else max(low, series.least)
    plot = draw_frame(drawing, top, height, (0.5, len(series.points) + 0.5), (low, high), series.unit)
    draw_levels(drawing, plot, series.limits)
    levels = [*series.limits, *_draw_limits(drawing, plot, series.points)]
    name_levels(drawing, plot, levels, series.digits)
    for before, signs in groupby(series.happened, key=lambda one: one.before):
        x = plot.x.place(before + 0.5)
        drawing.draw_line([(x, top), (x, top + height)], DOTTED, "happening")
        drawing.write_text(x, top - 0.8, "".join(one.sign for one in signs), SMALL, "middle")
    _draw_points(drawing, plot, series)
    return plot


def _list_heights(series: _Series) -> list[float]:
    """All that must be in sight."""
    found = [point.value for point in series.points if point.value is not None]
    limits = [point.limits for point in series.points if point.limits is not None]
    found += [end for one in limits for end in (one.lower, one.upper)]
    return found + [one.value for one in series.limits]


def _draw_points(drawing: Drawing, plot: Plot, series: _Series) -> None:
    """A line through them, broken at gaps, and their signs."""
    at = [(n, point.value) for n, point in enumerate(series.points) if point.value is not None]
    for _, run in groupby(enumerate(at), key=lambda one: one[1][0] - one[0]):
        draw_curve(drawing, plot, [(n + 1, value) for _, (n, value) in run], SOLID, "values")
    for n, value in at:
        if n in series.marked or len(series.points) <= MOST_POINTS:
            sign = Sign.SIGNAL if n in series.marked else Sign.OPEN
            drawing.draw_point(plot.x.place(n + 1), plot.y.place(value), sign, "value")


def _draw_limits(drawing: Drawing, plot: Plot, points: Sequence[ChartPoint]) -> list[Level]:
    """The control limits of each point, steps where they change; and those of the last one, to be named."""
    last = next((point.limits for point in reversed(points) if point.limits is not None), None)
    if last is None:
        return []
    found = []
    for name, stroke, kind, read in _CONTROL:
        for known, run in groupby(enumerate(points, 1), key=lambda one: one[1].limits is not None):
            if known:
                steps = [
                    (plot.x.place(n + side), plot.y.place(read(point.limits)))
                    for n, point in run
                    if point.limits is not None
                    for side in (-0.5, 0.5)
                ]
                drawing.draw_line(steps, stroke, kind)
        found.append(Level(name, read(last), stroke, kind))
    return found


_CONTROL: tuple[tuple[str, Stroke, str, Callable[[ControlLimits], float]], ...] = (
    ("UCL", DASHED, "upper", lambda one: one.upper),
    ("mean", DOTTED, "center", lambda one: one.center),
    ("LCL", DASHED, "lower", lambda one: one.lower),
)
