"""What the plan screen shows, as lines of text: each way to look at one plan."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from textwrap import wrap

from textual.content import Content

from floor.dataclass import dataclass
from floor.figures.schedule import PhaseKind, Saving
from floor.planning.chart import HELD, LATE, LEGEND, SIGNS, draw_chart, find_cell_start
from floor.planning.finish import find_last_finish
from floor.planning.plan import ShopPlan
from floor.planning.plan_text import (
    describe_filled_orders,
    describe_missed_deadlines,
    format_attendance_by_day,
    format_batch_lines,
    format_day_time,
    format_saving_lines,
    format_use_lines,
    list_attendance,
)
from floor.planning.unplannable import describe_obstacles
from floor.planning.whatif import describe_bottleneck
from floor.screens.plan.background_plan import Planner

LABEL = 14
"""Columns of a row's name in the chart."""
MOST_BATCHES = 3
BRIEF_BELOW = 100
"""Columns below which several batches take a line each."""
COLUMN = 52
"""Columns of a column of people's times below the chart."""
FAINT = {HELD, SIGNS[PhaseKind.WAIT]}


@dataclass(frozen=True, slots=True)
class ChartView:
    """The stretch of the chart on view."""

    start: datetime | None
    """None follows the plan's own start."""
    minutes: int
    """To a cell."""
    first: int
    """Row on top."""


def format_plan_head(
    planner: Planner, shop_plan: ShopPlan, saved: Sequence[Saving] | None, first_batch: str, width: int, fault: str = ""
) -> list[str]:
    """When each batch is through and whether its order is filled; then what it hangs on.

    Args:
        fault: why that will not be known.
    """
    order = sorted(shop_plan.plan.finish, key=lambda batch: (batch != first_batch, batch))
    lines = [part for said in describe_filled_orders(shop_plan) for part in wrap_indented(f"! {said}", width)]
    lines += [part for said in describe_missed_deadlines(shop_plan) for part in wrap_indented(f"✕ {said}", width)]
    if shop_plan.coarse:
        lines += wrap_indented("A first plan, from one order of work; a better one is being made.", width)
    brief = len(order) > 1 and width < BRIEF_BELOW
    for batch in order[:MOST_BATCHES]:
        band = planner.spread.batches.get(batch) if planner.spread else None
        found = planner.outlooks.get(batch)
        lines += format_batch_lines(shop_plan, batch, band, found, planner.first_op.get(batch, 0), width, brief)
    if len(order) > MOST_BATCHES:
        end = find_last_finish(shop_plan, planner.spread.end if planner.spread else None)
        through = f"all done {format_day_time(end, shop_plan.plan.start)}" if end else "not all of them planned"
        lines.append(f"and {len(order) - MOST_BATCHES} more, {through}")
    return [*lines, f"Bottleneck: {describe_bottleneck(shop_plan, saved, fault)}"]


def paint_chart(shop_plan: ShopPlan, window: ChartView, width: int, room: int) -> tuple[Content, int]:
    """The chart, with who is needed when below it where there is room; and the row that stands on top."""
    lines, first = format_chart(shop_plan, window, width, room)
    text, left = color_text(lines), room - len(lines) - 2
    if left > 2:
        below = ["", "", "Who is needed when", *format_attendance_columns(shop_plan, width, left - 1)]
        text = Content.assemble(text, "\n".join(below))
    return text, first


def format_chart(shop_plan: ShopPlan, window: ChartView, width: int, room: int) -> tuple[list[str], int]:
    """The chart with its axis and legend, and the row that stands on top.

    Args:
        width: columns in all.
        room: lines in all.
    """
    start = window.start or find_cell_start(shop_plan.plan.start, window.minutes)
    drawn = draw_chart(shop_plan, start, window.minutes, width - LABEL)
    *rows, people = drawn.rows
    shown = max(room - 4, 1)
    first = max(0, min(window.first, len(rows) - shown))
    more = f"↑↓ {first + 1}–{min(first + shown, len(rows))} of {len(rows)}" if len(rows) > shown else ""
    lines = [
        f"{more:<{LABEL}}{drawn.days}",
        f"{_cell(window.minutes):<{LABEL}}{drawn.hours}",
        *(f"{row.label[: LABEL - 1]:<{LABEL}}{row.cells}" for row in [*rows[first : first + shown], people]),
        LEGEND[:width],
    ]
    return lines, first


def color_text(lines: Sequence[str]) -> Content:
    """The chart's lines: what waits is faint, what is late stands out; both are told by their sign too."""
    parts: list[Content] = []
    for n, line in enumerate(lines):
        cells = line[LABEL:] if 1 < n < len(lines) - 1 else ""
        parts.append(Content.assemble(line[: len(line) - len(cells)], *(_cells(cells))))
    return Content("\n").join(parts)


def _cells(cells: str) -> list[tuple[str, str]]:
    """Stretches of cells of one style."""
    found: list[tuple[str, str]] = []
    for sign in cells:
        style = "$secondary" if sign in FAINT else "bold reverse" if sign == LATE else ""
        if found and found[-1][1] == style:
            found[-1] = (found[-1][0] + sign, style)
        else:
            found.append((sign, style))
    return found


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
    """What one more of each saves, and how much of each is in use."""
    if not shop_plan.whole:
        why = [part for said in describe_obstacles(shop_plan.obstacles) for part in wrap_indented(said, width - 2)]
        return ["What cannot be planned, and why", *(f"  {part}" for part in why)]
    if not shop_plan.plan.runs:
        return ["Nothing is left to do."]
    savings = format_saving_lines(saved or ())
    if saved is None or doing:
        savings.append(doing or "being worked out …")
    return [
        "Working hours gained by one more of each",
        *(f"  {part}" for line in savings for part in wrap_indented(line, width - 2)),
        "",
        "In use until the finish",
        *(f"  {line}" for line in format_use_lines(shop_plan)),
    ]


def wrap_indented(line: str, width: int) -> list[str]:
    """A line in as many as it takes, the others set in."""
    return wrap(line, width, subsequent_indent="  ") if len(line) > width else [line]


def _cell(minutes: int) -> str:
    """What a cell of the chart stands for."""
    return f"▏{minutes} min" if minutes < 60 else f"▏{minutes // 60} h"
