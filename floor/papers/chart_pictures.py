"""The charts of a batch as pictures for paper: what the process pages show, to scale and with numbers on both axes."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence
from functools import partial
from itertools import groupby
from typing import NamedTuple

from floor.batch.quality.drifts import Wear, list_wear
from floor.batch.quality.loss_causes import LossPath, RunOutcome, count_pieces
from floor.batch.quality.loss_patterns import LossStudy, study_losses
from floor.batch.quality.measured_values import MeasuredCharacteristic, list_measured_values
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.figures.axis import Scale, find_range, format_ticks, list_ticks
from floor.figures.quality.control_charts import ChartPoint, ControlLimits
from floor.figures.quality.pareto import ParetoRow
from floor.papers.drifts import BY_PIECES, describe_wear
from floor.papers.losses import rank_losses, say_path, study_p_chart
from floor.papers.measured_values import (
    ValueStudy,
    describe_limits,
    describe_values,
    list_marked,
    mark_happenings,
    study_values,
)
from floor.papers.sampling import PlanInUse, list_chances, list_plans, say_plan_in_force
from floor.papers.svg import (
    DASHED,
    DOTTED,
    HEAVY,
    SMALL,
    SOLID,
    TEXT,
    THIN,
    TITLE,
    Drawing,
    Sign,
    Stroke,
    count_letters,
)
from floor.text import cut, format_count, format_share, wrap_text
from floor.text_charts import Happening

WIDTH = 180.0
"""Millimeters: within the margins of A4 and of Letter."""
LEFT, RIGHT, EDGE = 22.0, 32.0, 4.0
"""Room for the numbers of an axis, for the names of limits, and at the edge."""
TALL, LOW = 62.0, 38.0
"""Heights of a chart, and of the spread below it."""
ROW = 6.0
APART = 3.4
"""Between two lines of text."""
MOST_TICKS, MOST_NAMES = 7, 14
MOST_POINTS = 150
"""Points up to which each has its sign; of more, the line and those that are told of."""
HEADROOM = 0.06
"""Room beyond the farthest value, as a share of the scale."""
MOST_REASONS = 15


@dataclass(frozen=True, slots=True)
class ChartPicture:
    """One chart, drawn when it is asked for."""

    stem: str
    """Of its file, numbered in the order of the pages on screen."""
    title: str
    draw: Callable[[], str]


def list_chart_pictures(batch: Batch) -> list[ChartPicture]:
    """Every chart that the record has something for."""
    return [
        ChartPicture(f"chart-{n:02d}-{_make_slug(title)}", title, draw)
        for n, (title, draw) in enumerate(_iter_charts(batch), 1)
    ]


_Chart = tuple[str, Callable[[], str]]


def _iter_charts(batch: Batch) -> Iterator[_Chart]:
    rows = rank_losses(batch)
    if rows:
        yield "reasons", partial(_draw_pareto, batch, rows)
    losses = study_losses(batch)
    for path, runs in losses.outcomes.items():
        if count_pieces(runs)[1]:
            name = f"op {path.caused}" + (f" found at op {path.found}" if path.found != path.caused else "")
            yield f"lost by load {name}", partial(_draw_p_chart, batch, losses, path)
            if _has_map(batch, path):
                yield f"places {name}", partial(_draw_places, batch, path, runs)
    for shape, values in list_measured_values(batch).items():
        yield f"values op {shape.op} {shape.what}", partial(draw_values_picture, batch, study_values(shape, values))
    for wear in list_wear(batch):
        yield f"wear op {wear.shape.op} {wear.shape.what}", partial(draw_wear_picture, batch, wear)
    for plan in list_plans(batch):
        chances = list_chances(batch, plan)
        if chances:
            yield f"sampling op {plan.op} {plan.gate.title()}", partial(_draw_acceptance, batch, plan, chances)


def _make_slug(text: str) -> str:
    """What a file may be called on any system."""
    plain = unicodedata.normalize("NFKD", text.lower()).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:48].strip("-")


# --- axes ------------------------------------------------------------------------------------------------------------


class _Plot(NamedTuple):
    """A frame on paper, with both its scales."""

    x: Scale
    y: Scale


def _begin(batch: Batch, head: str, texts: Sequence[str], height: float) -> tuple[Drawing, float]:
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


def _frame(
    drawing: Drawing, top: float, height: float, x: tuple[float, float], y: tuple[float, float], unit: str
) -> _Plot:
    """A frame with numbers and unit on the left."""
    plot = _Plot(Scale(*x, LEFT, WIDTH - RIGHT), Scale(*y, top + height, top))
    ticks = list_ticks(*y, MOST_TICKS if height > LOW else 4)
    for value, said in zip(ticks, format_ticks(ticks), strict=True):
        at = plot.y.place(value)
        drawing.draw_line([(LEFT, at), (WIDTH - RIGHT, at)], THIN, "grid")
        drawing.write_text(LEFT - 1.5, at + 1, said, SMALL, "end")
    drawing.draw_box(LEFT, top, WIDTH - RIGHT - LEFT, height, "none", SOLID)
    name = cut(unit, count_letters(height, SMALL))
    drawing.write_text(EDGE + TEXT, top + height / 2, name, SMALL, "middle", turned=True)
    return plot


def _name_below(drawing: Drawing, plot: _Plot, names: Sequence[tuple[float, str]], title: str) -> None:
    """Names or numbers below a frame, as many as have room, and what they are."""
    bottom = plot.y.start
    every = -(-len(names) // MOST_NAMES)
    for at, name in names[::every]:
        x = plot.x.place(at)
        drawing.draw_line([(x, bottom), (x, bottom + 1)], SOLID)
        drawing.write_text(x, bottom + 4, name, SMALL, "middle")
    drawing.write_text((plot.x.start + plot.x.end) / 2, bottom + 8.5, title, TEXT, "middle")


def _number_below(drawing: Drawing, plot: _Plot, title: str) -> None:
    """Numbers of pieces."""
    ticks = list_ticks(plot.x.low, plot.x.high, MOST_NAMES, least=1)
    _name_below(drawing, plot, list(zip(ticks, format_ticks(ticks), strict=True)), title)


def _widen(low: float, high: float) -> tuple[float, float]:
    room = (high - low) * HEADROOM
    return low - room, high + room


# --- control charts --------------------------------------------------------------------------------------------------


class _Level(NamedTuple):
    """A line across a frame with its name beside it."""

    name: str
    value: float
    stroke: Stroke
    kind: str
    figure: str = ""
    """Its value as it is written; empty for a few digits of it."""


class _Series(NamedTuple):
    """Points in their order, with what is drawn beside them."""

    points: Sequence[ChartPoint]
    names: Sequence[str]
    """Of the points, below the axis: their loads."""
    marked: Collection[int]
    happened: Sequence[Happening]
    unit: str
    limits: Sequence[_Level] = ()
    """Of the drawing."""
    digits: int = 5
    least: float | None = None
    """Below this no value can be."""


def _draw_series(drawing: Drawing, top: float, height: float, series: _Series) -> _Plot:
    """A control chart: values in their order, control limits as wide as each point has them."""
    low, high = _widen(*find_range(_list_heights(series) or [0.0]))
    low = low if series.least is None else max(low, series.least)
    plot = _frame(drawing, top, height, (0.5, len(series.points) + 0.5), (low, high), series.unit)
    _draw_levels(drawing, plot, series.limits)
    levels = [*series.limits, *_draw_limits(drawing, plot, series.points)]
    _name_levels(drawing, plot, levels, series.digits)
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


def _draw_points(drawing: Drawing, plot: _Plot, series: _Series) -> None:
    """A line through them, broken at gaps, and their signs."""
    at = [(n, point.value) for n, point in enumerate(series.points) if point.value is not None]
    for _, run in groupby(enumerate(at), key=lambda one: one[1][0] - one[0]):
        _draw_curve(drawing, plot, [(n + 1, value) for _, (n, value) in run], SOLID, "values")
    for n, value in at:
        if n in series.marked or len(series.points) <= MOST_POINTS:
            sign = Sign.SIGNAL if n in series.marked else Sign.OPEN
            drawing.draw_point(plot.x.place(n + 1), plot.y.place(value), sign, "value")


def _draw_curve(
    drawing: Drawing, plot: _Plot, values: Sequence[tuple[float, float]], stroke: Stroke, kind: str
) -> None:
    drawing.draw_line([(plot.x.place(x), plot.y.place(y)) for x, y in values], stroke, kind)


def _say_unit(shape: MeasuredCharacteristic) -> str:
    return f" ({shape.unit})" if shape.unit else ""


def _draw_levels(drawing: Drawing, plot: _Plot, levels: Sequence[_Level]) -> None:
    """From side to side."""
    for one in levels:
        _draw_curve(drawing, plot, [(plot.x.low, one.value), (plot.x.high, one.value)], one.stroke, one.kind)


def _list_drawing_limits(shape: MeasuredCharacteristic) -> list[_Level]:
    sides = (("high", shape.high), ("low", shape.low))
    return [_Level(name, value, HEAVY, "limit", shape.say_limit(value)) for name, value in sides if value is not None]


def _draw_limits(drawing: Drawing, plot: _Plot, points: Sequence[ChartPoint]) -> list[_Level]:
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
        found.append(_Level(name, read(last), stroke, kind))
    return found


_CONTROL: tuple[tuple[str, Stroke, str, Callable[[ControlLimits], float]], ...] = (
    ("UCL", DASHED, "upper", lambda one: one.upper),
    ("mean", DOTTED, "center", lambda one: one.center),
    ("LCL", DASHED, "lower", lambda one: one.lower),
)


def _name_levels(drawing: Drawing, plot: _Plot, levels: Sequence[_Level], digits: int) -> None:
    """Names and figures on the right, moved apart where they would lie on each other."""
    below = -1.0
    for one in sorted(levels, key=lambda level: -level.value):
        y = max(plot.y.place(one.value) + 1, below + APART)
        drawing.write_text(WIDTH - RIGHT + 1.5, y, f"{one.name} {one.figure or f'{one.value:.{digits}g}'}", SMALL)
        below = y


def draw_values_picture(batch: Batch, study: ValueStudy) -> str:
    """Values or means with the limits; below, what shows their spread."""
    shape, charts = study.shape, study.charts
    happened, axis = mark_happenings(batch, study.points)
    signs = "; ".join(filter(None, ["black squares: out of limits, or a run rule", axis]))
    drawing, top = _begin(batch, describe_values(study), [describe_limits(shape), signs], TALL + LOW + 24)
    loads = [str(load) for load in study.loads]
    limits = [] if study.grouped else _list_drawing_limits(shape)
    unit = _say_unit(shape)
    what = f"mean{unit}" if study.grouped else f"{shape.what}{unit}"
    _draw_series(drawing, top, TALL, _Series(charts.location.points, loads, list_marked(study), happened, what, limits))
    spread = _Series(charts.spread.points, loads, study.spread_out, (), f"{study.kind.value}{unit}", least=0.0)
    plot = _draw_series(drawing, top + TALL + 6, LOW, spread)
    _name_below(drawing, plot, list(enumerate(loads, 1)), "load, in the order measured")
    return drawing.write()


def _draw_p_chart(batch: Batch, losses: LossStudy, path: LossPath) -> str:
    found = study_p_chart(batch, path, losses.outcomes[path])
    lost, pieces = count_pieces(losses.outcomes[path])
    head = f"lost by load, {say_path(batch, path)}: {lost} of {pieces} ({format_share(lost / pieces, 1)})"
    signs = "; ".join(
        filter(None, ["limits for each load's own size; black squares: out of limits, or a run rule", found.axis])
    )
    drawing, top = _begin(batch, head, [signs], TALL + 14)
    points = [_to_percent(point) for point in found.chart.points]
    names = [str(load) for load in found.loads]
    series = _Series(points, names, found.signals, found.happened, "percent lost", digits=3, least=0.0)
    plot = _draw_series(drawing, top, TALL, series)
    _name_below(drawing, plot, list(enumerate(names, 1)), "load, in the order made")
    return drawing.write()


def _to_percent(point: ChartPoint) -> ChartPoint:
    value, limits = point.value, point.limits
    return ChartPoint(
        None if value is None else 100 * value,
        None
        if limits is None
        else ControlLimits(100 * limits.center, 100 * limits.lower, 100 * limits.upper, 100 * limits.sigma),
    )


# --- losses ----------------------------------------------------------------------------------------------------------

NAMES = 66.0
"""Room for the reasons."""


def _draw_pareto(batch: Batch, ranked: Sequence[ParetoRow]) -> str:
    """Bars of pieces, and the running share as a line on the same scale: its end is all of them."""
    rows, total = ranked[:MOST_REASONS], sum(row.count for row in ranked)
    more = len(ranked) - len(rows)
    texts = [f"and {format_count(more, 'more reason')}"] if more else []
    texts.append("bars: pieces; line: share of this reason and all above it")
    head = f"scrap and rework by reason, {format_count(total, 'piece')}"
    drawing, top = _begin(batch, head, texts, len(rows) * ROW + 18)
    top += 6
    x = Scale(0, total, EDGE + NAMES, WIDTH - EDGE - 14)
    bottom = top + len(rows) * ROW
    shares = [0, 20, 40, 60, 80, 100]
    for share in shares:
        at = x.place(total * share / 100)
        drawing.draw_line([(at, top), (at, bottom)], THIN, "grid")
        drawing.write_text(at, top - 1.2, f"{share} %", SMALL, "middle")
    for value in list_ticks(0, total, MOST_TICKS, least=1):
        drawing.draw_line([(x.place(value), bottom), (x.place(value), bottom + 1)], SOLID)
        drawing.write_text(x.place(value), bottom + 4, f"{value:.0f}", SMALL, "middle")
    drawing.write_text((x.start + x.end) / 2, bottom + 8.5, "pieces", TEXT, "middle")
    running = []
    for n, row in enumerate(rows):
        y = top + n * ROW
        drawing.write_text(x.start - 1.5, y + 4, cut(row.reason, count_letters(NAMES - 2)), TEXT, "end")
        drawing.draw_box(x.start, y + 1, x.place(row.count) - x.start, ROW - 2, "#bbb", SOLID, "bar")
        running.append((x.place(row.running_share * total), y + ROW / 2))
        drawing.write_text(x.end + 1.5, y + 4, f"{row.count}, {100 * row.running_share:.0f} %", SMALL)
    drawing.draw_line(running, SOLID, "running")
    for at, y in running:
        drawing.draw_point(at, y, Sign.DOT, "share")
    drawing.draw_box(x.start, top, x.end - x.start, bottom - top, "none", SOLID)
    return drawing.write()


def _has_map(batch: Batch, path: LossPath) -> bool:
    carrier = batch.checklist.carrier(batch.operation(path.caused).carrier)
    return bool(carrier.positions and carrier.columns)


def _draw_places(batch: Batch, path: LossPath, runs: Sequence[RunOutcome]) -> str:
    """The carrier as it lies, each place with how many of its pieces were lost."""
    carrier = batch.checklist.carrier(batch.operation(path.caused).carrier)
    assert carrier.columns, "a map is drawn of what has rows and columns"
    made = Counter(one.place for run in runs for one in run.pieces)
    lost = Counter(one.place for run in runs for one in run.pieces if one.spoiled is not None)
    columns, rows = carrier.columns, -(-len(carrier.positions) // carrier.columns)
    side, high = min((WIDTH - 2 * EDGE) / columns, 34.0), 14.0
    head = f"lost by place on the {carrier.name.lower()}, {say_path(batch, path)}"
    drawing, top = _begin(batch, head, ["lost of all made there; the darker, the greater the share"], rows * high + 6)
    most = max((lost[place] / made[place] for place in carrier.positions if made[place]), default=0.0)
    for n, place in enumerate(carrier.positions):
        x, y = EDGE + n % columns * side, top + n // columns * high
        share = lost[place] / made[place] / most if most and made[place] else 0.0
        drawing.draw_box(x, y, side, high, _shade(share), SOLID, "place")
        drawing.write_text(x + 1.2, y + 3.6, place, SMALL)
        said = f"{lost[place]} of {made[place]}" if made[place] else "none made"
        drawing.write_text(x + side / 2, y + 9.8, said, TEXT, "middle", bold=bool(lost[place]))
    return drawing.write()


def _shade(share: float) -> str:
    """White to a gray on which black can still be read."""
    level = 255 - round(105 * share)
    return f"#{level:02x}{level:02x}{level:02x}"


# --- wear and sampling -----------------------------------------------------------------------------------------------

STEPS = 40
"""Points of a curve."""


def draw_wear_picture(batch: Batch, wear: Wear) -> str:
    """Values by the pieces made since the tool was new: those of tools before, those of the present one, its line."""
    shape = wear.shape
    *before, now = wear.lives
    curves = [_trace(wear, side) for side in (0, 1, -1)]
    limits, pieces = _list_drawing_limits(shape), [piece for life in wear.lives for piece in life]
    heights = [*(piece.value for piece in pieces), *(one.value for one in limits)]
    low, high = _widen(*find_range([*heights, *(y for curve in curves for _, y in curve)]))
    signs = "dashed: where 95 % of the next values lie; dots: the present tool, circles: those before"
    texts = [describe_limits(shape), describe_wear(wear), signs]
    drawing, top = _begin(batch, f"op {shape.op} {shape.what} by piece of its tool", texts, TALL + 14)
    most = max(piece.count for piece in pieces)
    plot = _frame(drawing, top, TALL, (0.0, most * 1.03), (low, high), shape.what + _say_unit(shape))
    _draw_levels(drawing, plot, limits)
    _name_levels(drawing, plot, limits, 5)
    for curve, stroke, kind in zip(curves, (SOLID, DASHED, DASHED), ("trend", "band", "band"), strict=True):
        _draw_curve(drawing, plot, curve, stroke, kind)
    for life, sign in (*((life, Sign.OPEN) for life in before), (now, Sign.DOT)):
        for piece in life:
            drawing.draw_point(plot.x.place(piece.count), plot.y.place(piece.value), sign, "value")
    _number_below(drawing, plot, BY_PIECES)
    return drawing.write()


def _trace(wear: Wear, side: int) -> list[tuple[float, float]]:
    """The line of the present life, or an edge of its band."""
    line, counts = wear.line, [piece.count for piece in wear.lives[-1]]
    first, last = min(counts), max(counts)
    at = [first + (last - first) * n / STEPS for n in range(STEPS + 1)]
    return [(x, line.find_value(x) + side * line.find_half_band(x)) for x in at]


def _draw_acceptance(batch: Batch, plan: PlanInUse, chances: Sequence[float]) -> str:
    """The operating characteristic: exact, as the sample is taken from just these pieces."""
    head = f"op {plan.op} {plan.gate.title()}: chance of accepting a load of {plan.capacity}"
    drawing, top = _begin(batch, head, [say_plan_in_force(batch, plan)], TALL + 14)
    plot = _frame(drawing, top, TALL, (0.0, float(plan.capacity)), (0.0, 100.0), "chance (%)")
    at = [(plot.x.place(bad), plot.y.place(100 * chance)) for bad, chance in enumerate(chances)]
    drawing.draw_line(at, SOLID, "values")
    if len(at) <= MOST_POINTS:
        for x, y in at:
            drawing.draw_point(x, y, Sign.OPEN, "value")
    _number_below(drawing, plot, "bad pieces in the load")
    return drawing.write()
