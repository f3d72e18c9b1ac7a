"""The what-if table, for the screen and the command line: each change with its dates beside today's plan."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from floor.entry import Moment, format_time
from floor.figures.schedule import Bottleneck
from floor.papers.page import Column, Paper, format_table
from floor.planning.whatif import Gain, WhatIfRow, compute_gain, count_late_days
from floor.text import WIDTH, format_day, set_out, wrap_text
from floor.wall import format_local

LEAST_WIDTH = 78
"""Columns that the table needs; with fewer, each change is a paragraph."""
MEASURE = "Hours and days are working time by today's shifts. Each change alone, then all together."


def format_whatif_table(rows: Sequence[WhatIfRow], batches: Sequence[str] = (), width: int = WIDTH) -> list[str]:
    """The rows, today's first; one line per batch if there are several.

    Args:
        batches: those to show; all if none is named.
        width: columns; with fewer than the table needs, its figures stand below each change.
    """
    shown_of = batches or _batches(rows)
    if width < LEAST_WIDTH:
        return [line for row in rows for line in _list_figures(rows[0], row, shown_of, width)]
    due = _due(rows[0], shown_of[0]) if len(shown_of) == 1 else ""
    columns = [
        Column("change", width - 58),
        Column("finish", 12),
        Column("against today", 13),
        Column(f"due {due}".strip(), 14),
        Column("limited by", 11),
    ]
    lines = format_table(columns, [], "")
    for row in rows:
        lines += _row(rows[0], row, shown_of, columns, width)
    return lines


def _row(now: WhatIfRow, row: WhatIfRow, batches: Sequence[str], columns: Sequence[Column], width: int) -> list[str]:
    """A row in as many lines as it needs."""
    wide = columns[0].width
    text, *more = wrap_text(row.text, then="  ", width=wide)
    if not row.whole:
        return [f"{text:<{wide}}  cannot be planned", *more, *wrap_text(f"✕ {row.why}", "  ", "    ", width)]
    limit = format_finish_limit(row.bottleneck) if row.saved is not None else "not yet"
    if len(batches) == 1:
        return [*format_table(columns, [[text, *_figures(now, row, batches[0]), limit]], "")[1:], *more]
    cells = [[text, "", "", "", limit]]
    for batch in batches:
        due = _due(now, batch) if row is now else ""
        cells.append([f"  {batch}{f' due {due}' if due else ''}", *_figures(now, row, batch), ""])
    head, *body = format_table(columns, cells, "")[1:]
    return [head, *more, *body]


def _list_figures(now: WhatIfRow, row: WhatIfRow, batches: Sequence[str], width: int) -> list[str]:
    """A row as a paragraph: the change, then what stands under the heads of the table."""
    lines = wrap_text(row.text, then="  ", width=width)
    if not row.whole:
        return [*lines, "  cannot be planned", *wrap_text(f"✕ {row.why}", "  ", "    ", width)]
    for batch in batches:
        at, against, margin = _figures(now, row, batch)
        due = _due(now, batch) if margin else ""
        said = [batch] if len(batches) > 1 else []
        said += filter(None, (at, against, f"due {due}: {margin}" if due and row is now else margin))
        lines += [f"  {line}" for line in set_out(said, width - 2)]
    limit = format_finish_limit(row.bottleneck) if row.saved is not None else "not yet"
    return [*lines, *wrap_text(f"limited by: {limit}", "  ", width=width)] if limit else lines


def _figures(now: WhatIfRow, row: WhatIfRow, batch: str) -> list[str]:
    found = row.finish(batch)
    left = row.shop_plan is None or any(run.batch == batch for run in row.shop_plan.plan.runs)
    if not left and (found is None or found.at == found.drawn):  # nor are pieces drawn to make up for scrap
        return ["nothing left", "", ""]
    at = format_local(found.at, "%a %d %H:%M") if found is not None and found.at is not None else ""
    against = "" if row is now else format_gain(compute_gain(now, row, batch))
    return [at, against, format_due_margin(count_late_days(now, row, batch))]


def _batches(rows: Sequence[WhatIfRow]) -> list[str]:
    return sorted(next((row.shop_plan.plan.finish for row in rows if row.shop_plan is not None), {}))


def _due(row: WhatIfRow, batch: str) -> str:
    day = row.shop_plan.asked.due.get(batch) if row.shop_plan is not None else None
    return "" if row.shop_plan is None or day is None else format_day(day, row.shop_plan.plan.start)


def format_gain(found: Gain | None) -> str:
    """``16.5 h sooner``; "the same" if no working hour is gained: a move outside the shifts helps nobody."""
    if found is None:
        return ""
    if abs(found.hours) < 0.05:
        return "the same"
    hours = f"{abs(found.hours):.{0 if abs(found.hours) >= 99.95 else 1}f}"
    return f"{hours} h {'later' if found.hours < 0 else 'sooner'}"


def format_due_margin(days: int | None) -> str:
    """``✓ 1 d early``, ``✕ 2 d late``; empty without a due day."""
    if days is None:
        return ""
    if days == 0:
        return "✓ in time"
    return f"✕ {days} d late" if days > 0 else f"✓ {-days} d early"


def format_finish_limit(found: Bottleneck | None) -> str:
    """The bottleneck, in a word or two."""
    if found is None:
        return ""
    if found.kind == "route":
        return "work, cure" if found.name else "nothing"
    return {"hands": "people", "calendar": "shift hours"}.get(found.kind, found.name)


def make_whatif_data(rows: Sequence[WhatIfRow], batches: Sequence[str]) -> list[dict[str, Any]]:
    """The rows for other programs; times are UTC."""
    return [_row_json(rows[0], row, batches) for row in rows]


def _row_json(now: WhatIfRow, row: WhatIfRow, batches: Sequence[str]) -> dict[str, Any]:
    won, short = compute_gain(now, row), row.bottleneck
    those = [_batch_json(now, row, batch) for batch in batches] if row.whole else []
    return {
        "change": row.text,
        "finish": max((one["finish"] for one in those if one["finish"]), default=None),
        "cannot_be_planned_because": row.why or None,
        "sooner_working_hours": None if won is None else round(won.hours, 2),
        "sooner_working_days": None if won is None else won.days,
        "bottleneck": None if short is None else {"kind": short.kind, "name": short.name, "words": short.words},
        "batches": those,
    }


def _batch_json(now: WhatIfRow, row: WhatIfRow, batch: str) -> dict[str, Any]:
    won, days, found = compute_gain(now, row, batch), count_late_days(now, row, batch), row.finish(batch)
    return {
        "id": batch,
        "finish": format_time(found.at) if found is not None and found.at is not None else None,
        "sooner_working_hours": None if won is None else round(won.hours, 2),
        "sooner_working_days": None if won is None else won.days,
        "due_kept": None if days is None else days <= 0,
        "late_working_days": days,
    }


def write_whatif_text(rows: Sequence[WhatIfRow], now: Moment, batches: Sequence[str]) -> str:
    """The table for people, in 80 columns."""
    paper = Paper([f"What if, asked {format_local(now.at, '%a %d %b %Y %H:%M')}", ""])
    paper.add(format_whatif_table(rows, batches))
    paper.add(["", *wrap_text(MEASURE)])
    return paper.text()
