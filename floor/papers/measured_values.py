"""The measured values of a characteristic: chart, run rules and capability, as lines for screen and paper."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from enum import StrEnum
from itertools import groupby

from floor.batch.quality.happenings import HappeningKind, Point, list_happenings
from floor.batch.quality.measured_values import DIGITS, MeasuredCharacteristic, MeasuredValue
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.figures.quality.capability import FEWEST_VALUES, Capability, Index, compute_capability
from floor.figures.quality.chart_constants import LARGEST_RANGE
from floor.figures.quality.control_charts import (
    FEWEST_POINTS,
    ChartPoint,
    ControlLimits,
    ValueCharts,
    compute_deviation_charts,
    compute_individuals_charts,
    compute_range_charts,
)
from floor.figures.quality.missing import Missing
from floor.figures.quality.run_rules import NELSON_ONLY, WESTERN_ELECTRIC, Rule, RunSignal, find_run_signals
from floor.text import capitalize_first, format_count, wrap_text
from floor.text_charts import CENTER, CONTROL_LIMIT, DRAWING_LIMIT, Happening, Level, draw_values

SIGNS = {HappeningKind.SETUP: "S", HappeningKind.TOOL: "T", HappeningKind.HANDOVER: "H", HappeningKind.WAIVER: "W"}
NOTHING = "Nothing measured yet: values come from measured gates and first pieces"
NOTHING_SINCE = "Nothing measured since then"
OWN_LIMITS = "limits for each load's own size, figures for the first load"
FEWEST_ROWS, SPREAD_ROWS = 8, 5
"""Of a chart of values beside that of their spread, where both have room; of the spread."""
NO_CHANGE = "no set-up, tool change, handover or waiver between them"
MOST_LOADS = 4
"""Loads that are named at a run rule, the latest ones."""
WHY: dict[Missing, str] = {
    Missing.EMPTY: "nothing measured yet",
    Missing.TOO_FEW: "too few values",
    Missing.CONSTANT: "all values are the same",
    Missing.TWO_LEVELS: "only two different values: use a gauge with finer resolution",
    Missing.NOT_A_NUMBER: "a value is no number",
    Missing.TOO_LARGE: "a value is too large",
    Missing.NO_LIMIT: "no such limit on the drawing",
}


class ChartKind(StrEnum):
    """What a point of the chart is, told by what shows the spread beside it."""

    SINGLE = "moving range"
    """One value."""
    RANGES = "range"
    DEVIATIONS = "standard deviation"
    """The mean of a load; deviations where a load has more values than a range can use."""


@dataclass(frozen=True, slots=True)
class ValueStudy:
    """A characteristic with its charts and what they tell."""

    shape: MeasuredCharacteristic
    values: tuple[MeasuredValue, ...]
    kind: ChartKind
    points: tuple[Point, ...]
    """Where each point of the chart stands in the record."""
    loads: tuple[int, ...]
    """The load of each point."""
    charts: ValueCharts
    signals: tuple[RunSignal, ...]
    by_nelson: tuple[RunSignal, ...]
    """What only Nelson's tests find: told of, but no alarm, as so many tests find something in any long series."""
    capability: Capability

    @property
    def grouped(self) -> bool:
        """Whether a point of the chart is the mean of a load."""
        return self.kind is not ChartKind.SINGLE

    @property
    def spread_out(self) -> list[int]:
        """Points whose spread is beyond its limits."""
        return [n for n, point in enumerate(self.charts.spread.points) if point.out]

    @property
    def out(self) -> int:
        """Values out of their limits."""
        return sum(self.shape.is_out(one.value) for one in self.values)

    @property
    def again(self) -> list[MeasuredValue]:
        """Values of pieces that were measured again: the last reading of each."""
        return [one for one in self.values if one.first]

    @property
    def is_telling(self) -> bool:
        """Whether a value is out, a run rule is met, or a spread is beyond its limits."""
        return bool(self.out or self.signals or self.spread_out)


def study_values(shape: MeasuredCharacteristic, values: Sequence[MeasuredValue]) -> ValueStudy:
    """The charts of a characteristic: of the means of loads where each load has several values, else of each value."""
    groups = [list(some) for _, some in groupby(values, key=lambda one: one.run)]
    if len(groups) > 1 and min(map(len, groups)) > 1:
        heads, numbers = [some[0] for some in groups], [[one.value for one in some] for some in groups]
        kind = ChartKind.RANGES if max(map(len, groups)) <= LARGEST_RANGE else ChartKind.DEVIATIONS
        charts = compute_range_charts(numbers) if kind is ChartKind.RANGES else compute_deviation_charts(numbers)
    else:
        kind, heads = ChartKind.SINGLE, list(values)
        charts = compute_individuals_charts([one.value for one in values])
    scores = [point.score for point in charts.location.points]
    return ValueStudy(
        shape,
        tuple(values),
        kind,
        tuple(Point(one.seq, one.setup, one.station, shape.op) for one in heads),
        tuple(one.load for one in heads),
        charts,
        tuple(find_run_signals(scores, WESTERN_ELECTRIC)),
        tuple(find_run_signals(scores, NELSON_ONLY)),
        compute_capability([one.value for one in values], shape.tolerance, charts.sigma, freedom=charts.freedom),
    )


def list_value_lines(batch: Batch, study: ValueStudy, width: int, height: int, drift: str = "") -> list[str]:
    """Chart, signals and figures in lines of at most ``width`` cells; the chart takes the rest of ``height`` rows.

    Args:
        drift: of this characteristic, in words; empty if none is established.
    """
    told = wrap_text(f"✕ {drift}", "", "  ", width) if drift else []
    below = [*told, *_list_signal_lines(study, width), *_list_figure_lines(study, width)]
    spread = _draw_spread(study, width)
    heads = wrap_text(f"{describe_values(study)}; {describe_limits(study.shape)}", "", "  ", width)
    rows = height - len(heads) - len(below) - 4
    has_room = rows - len(spread) >= FEWEST_ROWS
    happened, axis = mark_happenings(batch, study.points)
    levels = _list_levels(study)
    drawn = draw_values(
        [point.value for point in study.charts.location.points if point.value is not None],
        levels,
        sorted(list_marked(study)),
        happened,
        [str(load) for load in study.loads],
        width,
        rows - len(spread) if has_room else max(rows, 5),
    )
    own = OWN_LIMITS if any(one.own for one in levels) else ""
    legend = wrap_text("; ".join(filter(None, ["by load", own, axis or NO_CHANGE])), "", "  ", width)
    inside, after = (spread, []) if has_room else ([], spread)
    return [*heads, "", *drawn, *legend, *inside, *below, *after]


def _draw_spread(study: ValueStudy, width: int) -> list[str]:
    """What shows the spread, below an empty line; nothing while there are no limits for it."""
    points = [(n, point) for n, point in enumerate(study.charts.spread.points) if point.value is not None]
    levels = list_limit_levels([point for _, point in points])
    if not levels:
        return []
    told = set(study.spread_out)
    marked = [at for at, (n, _) in enumerate(points) if n in told]
    drawn = draw_values([point.value or 0.0 for _, point in points], levels, marked, [], [], width, SPREAD_ROWS)
    return ["", f"{capitalize_first(study.kind.value)} by load", *drawn[:-1]]


def list_limit_levels(points: Sequence[ChartPoint], sign: str = "", times: float = 1.0) -> list[Level]:
    """Control limits and center of the points that are drawn, a lower limit of 0 left out.

    Args:
        sign: of the unit, behind their names.
        times: what the values are multiplied by.
    """
    limits = [point.limits for point in points]
    found = []
    for name, line, read in _LIMITS:
        own = [None if one is None else round(times * read(one), DIGITS + 4) for one in limits]
        known = [each for each in own if each is not None]
        if known and (name != "LCL" or any(known)):
            same = len(set(known)) == 1
            found.append(Level(f"{name}{sign}", known[0], line, own=() if same else own))
    return found


_LIMITS: tuple[tuple[str, str, Callable[[ControlLimits], float]], ...] = (
    ("UCL", CONTROL_LIMIT, lambda one: one.upper),
    ("mean", CENTER, lambda one: one.center),
    ("LCL", CONTROL_LIMIT, lambda one: one.lower),
)


def mark_happenings(batch: Batch, points: Sequence[Point]) -> tuple[list[Happening], str]:
    """What happened between the points of a chart, as letters on its axis; and what the letters mean."""
    happened = [Happening(one.before, SIGNS[one.kind]) for one in list_happenings(batch, points)]
    seen = {one.sign for one in happened}
    return happened, "  ".join(f"{sign} {kind.value}" for kind, sign in SIGNS.items() if sign in seen)


def describe_values(study: ValueStudy) -> str:
    """``op 10 bore (4): 30 values on 3 loads, means of loads``."""
    shape, loads = study.shape, len({one.load for one in study.values})
    number = f" ({shape.number})" if shape.number is not None else ""
    each = "means of loads" if study.grouped else "single values"
    many = f"{format_count(len(study.values), 'value')} on {format_count(loads, 'load')}"
    return f"op {shape.op} {shape.what}{number}: {many}, {each}"


def describe_limits(shape: MeasuredCharacteristic) -> str:
    """``limits 2.9 to 3.1 mm``."""
    unit = f" {shape.unit}" if shape.unit else ""
    if shape.low is not None and shape.low == shape.high:
        return f"exactly {shape.say_limit(shape.low)}{unit}"
    if shape.low is not None and shape.high is not None:
        return f"limits {shape.say_limit(shape.low)} to {shape.say_limit(shape.high)}{unit}"
    if shape.low is not None:
        return f"at least {shape.say_limit(shape.low)}{unit}"
    return f"at most {shape.say_limit(shape.high)}{unit}" if shape.high is not None else f"no limits, in {shape.unit}"


def _list_levels(study: ValueStudy) -> list[Level]:
    """The limits of the drawing before those of the chart: where they share a row, the drawing's stay.

    A mean may lie within the limits of the drawing while its pieces do not, so beside means they would mislead.
    """
    shape = study.shape
    asked = (("high", shape.high), ("low", shape.low))
    drawing = [Level(name, value, DRAWING_LIMIT, shape.say_limit(value)) for name, value in asked if value is not None]
    drawing = [] if study.grouped else drawing
    return [*drawing, *list_limit_levels([one for one in study.charts.location.points if one.value is not None])]


def list_marked(study: ValueStudy) -> set[int]:
    """Points of the chart that complete a run rule or, where they are single values, are out of limits."""
    out = set() if study.grouped else {n for n, one in enumerate(study.values) if study.shape.is_out(one.value)}
    return out | {one.index for one in study.signals}


def _list_signal_lines(study: ValueStudy, width: int) -> list[str]:
    lines = []
    if study.out:
        out = [one for one in study.values if study.shape.is_out(one.value)]
        which = ", ".join(map(_say_where, out[-MOST_LOADS:]))
        lines.append(f"✕ {study.out} of {len(study.values)} out of limits: {which}")
    lines += list_rules("✕", study.loads, study.signals)
    if study.spread_out:
        lines.append(f"✕ {study.kind.value} beyond its limits: {_name_loads(study.loads, study.spread_out)}")
    missing = study.charts.location.missing
    if not study.signals and missing is None:
        lines.append("✓ No run rule met (Western Electric, four rules)")
    elif missing is not None:
        lines.append(f"No control limits: {_say_few_points(study) if missing is Missing.TOO_FEW else WHY[missing]}")
    lines += list_rules("· Nelson's tests add", study.loads, study.by_nelson)
    if study.again:
        lines.append(f"· {say_again(study)}")
    return [line for text in lines for line in wrap_text(text, "", "  ", width)]


def _say_where(one: MeasuredValue) -> str:
    return f"load {one.load} {one.place}".strip()


def say_again(study: ValueStudy) -> str:
    """Which readings the chart uses where pieces were measured again, and what was read first.

    ``2 measured again, the last reading counts: load 3 A1 3.05 (first 3.2), load 4 B2 3.1 (first 3.14)``
    """
    again = study.again
    which = [f"{_say_where(one)} {_say_value(one)} (first {one.first})" for one in again[-MOST_LOADS:]]
    before = ", and before" if len(again) > MOST_LOADS else ""
    return f"{len(again)} measured again, the last reading counts: {', '.join(which)}{before}"


def list_again_lines(studies: Iterable[ValueStudy], width: int) -> list[str]:
    """The same of each characteristic whose chart is not there to say it."""
    told = (
        f"op {one.shape.op} {one.shape.what}: {say_again(one)}" for one in studies if one.again and not one.is_telling
    )
    return [line for text in told for line in wrap_text(text, "", "  ", width)]


def _say_value(one: MeasuredValue) -> str:
    return one.text or f"{one.value:.{DIGITS}g}"


def _say_few_points(study: ValueStudy) -> str:
    """How many there are, and how many limits take."""
    return f"{format_count(len(study.loads), 'load' if study.grouped else 'value')} so far, from {FEWEST_POINTS} on"


def list_rules(before: str, loads: Sequence[int], signals: Sequence[RunSignal]) -> list[str]:
    """A line for each rule that is met, with its loads."""
    at: dict[Rule, list[int]] = {}
    for one in signals:
        at.setdefault(one.rule, []).append(one.index)
    return [f"{before} {rule.value}: {_name_loads(loads, points)}" for rule, points in at.items()]


def _name_loads(loads: Sequence[int], points: Iterable[int]) -> str:
    """``load 3, 7``, the latest ones."""
    at = list(dict.fromkeys(loads[n] for n in points))
    return f"load {', '.join(map(str, at[-MOST_LOADS:]))}" + (", and before" if len(at) > MOST_LOADS else "")


def _list_figure_lines(study: ValueStudy, width: int) -> list[str]:
    found = study.capability
    if isinstance(found.mean, Missing):
        few = found.mean is Missing.TOO_FEW
        why = f"Cpk from {FEWEST_VALUES} values on; {len(study.values)} so far" if few else f"No Cpk: {WHY[found.mean]}"
        return wrap_text(why, "", "  ", width)
    indices = (("Cp", found.cp), ("Cpk", found.cpk), ("Pp", found.pp), ("Ppk", found.ppk))
    same = len({index for _, index in indices}) == 1
    if same and isinstance(found.cp, Missing):
        said = [f"no {', '.join(name for name, _ in indices)}: {say_why_no_index(found.cp, study)}"]
    else:
        said = [f"{name} {_say_index(index, study)}" for name, index in indices]
    ends = (pick(study.values, key=lambda one: one.value) for pick in (min, max))
    low, high = map(_say_value, ends)
    many = f"{found.count} values" + (f", {len(study.again)} of them measured again" if study.again else "")
    sure = "" if same else ", intervals 95 %"
    text = f"{low} to {high}, mean {found.mean:.{DIGITS}g}; {', '.join(said)}; from {many}{sure}"
    return wrap_text(text, "", "  ", width)


def _say_index(index: Index, study: ValueStudy) -> str:
    if isinstance(index, Missing):
        return f"n/a ({say_why_no_index(index, study)})"
    return f"{index.value:.2f} ({index.low:.2f} to {index.high:.2f})"


def say_why_no_index(index: Missing, study: ValueStudy) -> str:
    """Where there are values enough, a spread within loads still takes loads enough."""
    few_loads = index is Missing.TOO_FEW and len(study.values) >= FEWEST_VALUES
    return _say_few_points(study) if few_loads else WHY[index]
