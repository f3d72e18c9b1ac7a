"""What the plan screen shows, as lines of text: each way to look at one plan."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from textwrap import wrap

from textual.content import Content

from floor.dataclass import dataclass
from floor.figures.schedule import PhaseKind, Saving
from floor.planning.chart import (
    CLOSED,
    HELD,
    LATE,
    LIMITS,
    SIGNS,
    Chart,
    ChartRow,
    ChartSpan,
    find_span,
    list_legend,
)
from floor.planning.finish import find_last_finish
from floor.planning.plan import ShopPlan
from floor.planning.plan_text import (
    describe_missed_deadlines,
    format_attendance_by_day,
    format_batch_lines,
    format_bottleneck_line,
    format_day_time,
    format_run_line,
    format_saving_lines,
    format_use_lines,
    list_attendance,
)
from floor.planning.time_scale import TimeScale
from floor.planning.unplannable import describe_obstacles
from floor.planning.whatif import find_bottleneck
from floor.screens.plan.background_plan import Planner
from floor.screens.widgets.cells import join_cells
from floor.text import cut, cut_name

LABEL = 15
"""Columns of a row's name in the chart, with a sign before it."""
AROUND = 5
"""Lines of the chart beside the rows of stations or carriers: axis (two), people, what is under the cursor, legend."""
HEAD_LINES = 3
COLUMN = 52
"""Columns of a column of people's times below the chart."""
BESIDE = 50
"""Columns of what limits the plan, right of them where there is room."""
WIDE = 120
BY_PEOPLE = {SIGNS[PhaseKind.SETUP], SIGNS[PhaseKind.ATTENDED]}
QUIET = {HELD, SIGNS[PhaseKind.WAIT], SIGNS[PhaseKind.CURE]}
STYLES = (
    dict.fromkeys(BY_PEOPLE, "$ruled")
    | dict.fromkeys(QUIET, "$secondary")
    | {CLOSED: "$primary", LATE: "bold $error", LIMITS: "bold $accent"}
)
"""Sign → its look; what needs a person stands out, a machine that runs alone is plain."""


@dataclass(frozen=True, slots=True)
class Cursor:
    """Where the cursor is: the row, and in it the run at an instant.

    Attributes:
        at: None is the first run there is.
        run: of several that start at that instant, this one.
    """

    row: int = 0
    at: datetime | None = None
    run: str = ""


def format_plan_head(
    planner: Planner, shop_plan: ShopPlan, saved: Sequence[Saving] | None, first_batch: str, width: int, fault: str = ""
) -> list[str]:
    """When each batch is through and whether its order is filled; then what it hangs on: three lines at most.

    Args:
        fault: why that will not be known.
    """
    order = sorted(shop_plan.plan.finish, key=lambda batch: (batch != first_batch, batch))
    last = format_bottleneck_line(shop_plan, saved, fault)
    if shop_plan.coarse:
        last = "A first plan, from one order of work; a better one is being made."
    room, brief = HEAD_LINES - 1, len(order) > 1
    lines: list[str] = []
    for batch in order[: room if len(order) <= room else room - 1]:
        band = planner.spread.batches.get(batch) if planner.spread else None
        found = planner.outlooks.get(batch)
        lines += format_batch_lines(shop_plan, batch, band, found, planner.first_op.get(batch, 0), width, brief)
    if len(order) > room:
        end = find_last_finish(shop_plan, planner.spread.end if planner.spread else None)
        through = f"all done {format_day_time(end, shop_plan.plan.start)}" if end else "not all of them planned"
        lines.append(f"and {len(order) - room + 1} more, {through}")
    return [*lines, cut(last, width)]


def format_chart(
    shop_plan: ShopPlan,
    chart: Chart,
    scale: TimeScale,
    cursor: Cursor,
    first: int,
    saved: Sequence[Saving] | None,
    doing: str,
    width: int,
    room: int,
) -> tuple[Content, int]:
    """The chart with its axis, the run under the cursor and the legend; and the row that stands on top.

    Below it, where there is room, who is needed when and what limits the plan.

    Args:
        scale: the cells on view.
        first: the row on top, unless the cursor would not be on view.
        doing: what is being worked out, for what limits the plan.
        width: columns in all.
        room: lines in all.
    """
    *rows, people = chart.rows
    shown = max(room - AROUND, 1)
    first = _clamp(first, cursor.row, len(rows), shown)
    more = f"↑↓ {first + 1}–{min(first + shown, len(rows))} of {len(rows)}" if len(rows) > shown else ""
    on = find_row(chart, cursor)
    span = find_span(on, cursor.at or shop_plan.plan.start, cursor.run)
    bottleneck = find_bottleneck(shop_plan, saved)
    legend = _fit(list_legend(chart, any(row.is_limit(bottleneck) for row in chart.rows)), width)
    lines = [
        Content(f"{more:<{LABEL}}{chart.days}"),
        Content(f"{_cell(scale.minutes):<{LABEL}}{chart.hours}"),
        *(
            color_row(row, scale, span if row is on else None, row is on, row.is_limit(bottleneck))
            for row in [*rows[first : first + shown], people]
        ),
        Content.styled(_say_under_cursor(shop_plan, on, span, width), "bold"),
        _color_legend(legend),
    ]
    left = room - len(lines) - 1
    if left > 2:
        lines += [Content(""), *map(Content, _format_below(shop_plan, saved, doing, width, left))]
    return Content("\n").join(lines), first


def find_row(chart: Chart, cursor: Cursor) -> ChartRow:
    """The row that the cursor is on; the last one where there are fewer."""
    return chart.rows[min(cursor.row, len(chart.rows) - 1)]


def _clamp(first: int, row: int, rows: int, shown: int) -> int:
    """The row on top, so that the one of the cursor is on view; the people's, below all others, always is."""
    if row < rows:
        first = max(min(first, row), row - shown + 1)
    return max(0, min(first, rows - shown))


def _fit(parts: Sequence[str], width: int) -> list[str]:
    """As many parts as fit side by side."""
    found: list[str] = []
    for part in parts:
        found += [part] if len("  ".join([*found, part])) <= width else []
    return found


def _color_legend(parts: Sequence[str]) -> Content:
    """Each sign as it looks in the chart, with what it means."""
    signs = [Content.assemble((part[0], STYLES.get(part[0], "")), (part[1:], "$secondary")) for part in parts]
    return Content("  ").join(signs)


def _say_under_cursor(shop_plan: ShopPlan, row: ChartRow, span: ChartSpan | None, width: int) -> str:
    """What the row does not say of the run: its carrier, its station, or both."""
    if span is None:
        return f"{row.label}: nothing is planned"
    run, carrier = span.run, shop_plan.carrier(span.run)
    if row.kind == "hands":
        where = " · ".join(part for part in (run.station, carrier) if part)
        return format_run_line(shop_plan, run, where, width, (span.start, span.end))
    return format_run_line(shop_plan, run, carrier if row.kind == "station" else run.station or "", width)


def color_row(row: ChartRow, scale: TimeScale, span: ChartSpan | None, is_on: bool, is_limit: bool) -> Content:
    """A row with its name: what waits is quiet, what is late and the run under the cursor stand out."""
    label = (LIMITS if is_limit else " ") + cut_name(row.label, LABEL - 2)
    style = "bold reverse" if is_on else "bold $accent" if is_limit else ""
    cells = scale.cover(span.start.timestamp(), span.end.timestamp()) if span is not None else range(0)
    looks = ((sign, STYLES.get(sign, "") + (" reverse" if n in cells else "")) for n, sign in enumerate(row.cells))
    return Content.assemble((label, style), " " * (LABEL - len(label)), *join_cells(looks))


def _format_below(shop_plan: ShopPlan, saved: Sequence[Saving] | None, doing: str, width: int, room: int) -> list[str]:
    """Who is needed when; where it is wide, with what limits the plan beside it."""
    if width < WIDE:
        return ["Who is needed when", *format_attendance_columns(shop_plan, width, room - 1)]
    left = ["Who is needed when", *format_attendance_columns(shop_plan, width - BESIDE, room - 1)]
    right = format_limits(shop_plan, saved, doing, BESIDE)[:room]
    count = max(len(left), len(right))
    left, right = [*left, *[""] * (count - len(left))], [*right, *[""] * (count - len(right))]
    return [f"{one[: width - BESIDE]:<{width - BESIDE}}{two}" for one, two in zip(left, right, strict=True)]


def format_attendance_days(shop_plan: ShopPlan, width: int) -> list[str]:
    """Who is needed when, day by day."""
    found = list_attendance(shop_plan)
    if not found:
        return ["Nobody is needed: no attended work is planned."]
    several = any(max(one.people) > 1 for one in found)
    return format_attendance_by_day(found, shop_plan, several, width)


def format_attendance_columns(shop_plan: ShopPlan, width: int, rows: int) -> list[str]:
    """The same below a chart: in full where that fits, else shorter and side by side, as far as it goes."""
    full = format_attendance_days(shop_plan, width)
    if len(full) <= rows:
        return full
    lines, count = format_attendance_days(shop_plan, COLUMN - 2), max(width // COLUMN, 1)
    columns = [lines[n * rows : (n + 1) * rows] for n in range(count)]
    return [
        "".join(f"{column[n] if n < len(column) else '':<{COLUMN}}" for column in columns).rstrip()
        for n in range(min(rows, len(lines)))
    ]


def format_limits(shop_plan: ShopPlan, saved: Sequence[Saving] | None, doing: str, width: int) -> list[str]:
    """What the plan cannot keep, what one more of each saves, and how much of each is in use."""
    missed = [part for said in describe_missed_deadlines(shop_plan) for part in wrap_indented(f"✕ {said}", width)]
    if not shop_plan.whole:
        why = [part for said in describe_obstacles(shop_plan.obstacles) for part in wrap_indented(said, width - 2)]
        return [*missed, "What cannot be planned, and why", *(f"  {part}" for part in why)]
    if not shop_plan.plan.runs:
        return [*missed, "Nothing is left to do."]
    found = find_bottleneck(shop_plan, saved)
    return [
        *missed,
        *([*wrap_indented(f"Bottleneck: {found.words}", width), ""] if found is not None else []),
        *_format_savings(saved, doing, width),
        "",
        "In use until the finish",
        *(f"  {line}" for line in format_use_lines(shop_plan)),
    ]


def _format_savings(saved: Sequence[Saving] | None, doing: str, width: int) -> list[str]:
    lines = format_saving_lines(saved or ())
    if saved is None or doing:
        lines.append(doing or "being worked out …")
    parts = [part for line in lines for part in wrap_indented(line, width - 2)]
    return ["Working hours gained by one more of each", *(f"  {part}" for part in parts)]


def wrap_indented(line: str, width: int) -> list[str]:
    """A line in as many as it takes, the others set in."""
    return wrap(line, width, subsequent_indent="  ") if len(line) > width else [line]


def _cell(minutes: int) -> str:
    """What a cell of the chart stands for."""
    return f"▏{minutes} min" if minutes < 60 else f"▏{minutes // 60} h"
