"""How a task is drawn: its row in the list, the field of the one under the cursor; and a batch in one row below."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import NamedTuple

from textual.content import Content

from floor.batch.counting.blind_count import find_blind_subjects, format_total
from floor.batch.load import LOST, Where
from floor.batch.state import Batch
from floor.batch.worklist.due_task import Destination, DueTask, Urgency
from floor.screens.frame.theme import draw_bar
from floor.screens.widgets.rows import Shortened
from floor.text import count_cells, format_day, set_out, wrap_cut

COLUMNS = (("", 1), ("When", 12), ("Load", 10), ("What", 0), ("Where", 13), ("Batch", 6))
"""The last one only where there are several batches."""
GIVES_WAY: Mapping[str, int] = {"When": 12, "Batch": 6, "Where": 7, "Load": 10}
"""What to do is read before where and on what: names are shortened for it, times and batches are not."""
LOAD_FROM = 54
"""Columns from which a slim list has one for the load; with fewer it leads what is to be done."""
LONGEST_LOAD = 18
"""Columns that the names of loads may take; their numbers stand at the end and are not cut off."""
ASIDE: tuple[Where, ...] = (*LOST, "hold", "spare", "stopped", "trial")
SIGNS: dict[Urgency, str] = {"overdue": "✕", "now": "▶", "soon": "▶", "later": "◔", "blocked": "·"}
ENTERS: dict[Destination, str] = {
    "run": "open the walk",
    "begin": "look at what starts; y there starts it",
    "form": "asks whether they are loaded; y records it",
    "hold": "open the held pieces",
    "handover": "open the handover",
    "difference": "open the handover, to count again",
    "unproved": "asks what becomes of it",
    "out": "asks what becomes of it",
    "gauge": "asks what becomes of what it measured",
    "settle": "open the batch",
    "close": "asks whether to close it",
    "surplus": "asks what becomes of the rest",
}
"""What Enter does; none of it records anything by itself."""
LARGE_LINES = SENTENCE_LINES = 2

Row = tuple[str, ...]


class Task(NamedTuple):
    """What is due, in its batch, and when in words."""

    due: DueTask
    batch: Batch
    when: str


class Table(NamedTuple):
    """Columns with their widths, and rows."""

    columns: list[tuple[str, int]]
    rows: list[Row]


def set_out_tasks(tasks: Sequence[Task], width: int, slim: bool, several: bool) -> Table:
    """The list as it has room.

    Args:
        width: columns of the screen.
        slim: without where it is done.
        several: with the batch.
    """
    loads = width >= LOAD_FROM
    shown = [0, 1, *([2] if loads else []), 3] if slim else range(6 if several else 5)
    rows = [_draw_row(task) for task in tasks]
    if not loads:
        rows = [_lead_with_load(row) for row in rows]
    load = min(max([count_cells(row[2]) for row in rows] + [10]), LONGEST_LOAD)
    columns = [(name, load if name == "Load" else many) for name, many in (COLUMNS[n] for n in shown)]
    return Table(columns, [tuple(row[n] for n in shown) for row in rows])


def _draw_row(task: Task) -> Row:
    due, batch, when = task
    load = batch.loads.get(due.load) if due.load else None
    carrier = batch.format_carrier(load) if load else ""
    carrier += " W" if load and batch.list_open_waivers(load) else ""
    where = Shortened(due.where, due.short_where or due.where)
    sign = "!" if due.outlasts else SIGNS[due.urgency]
    return (sign, when, carrier, Shortened(due.sentence, due.short_sentence), where, due.batch)


def _lead_with_load(row: Row) -> Row:
    """For a list without room for a column of loads: ``Pallet 1: Confirm cycle complete``."""
    sign, when, load, what, *rest = row
    if not load:
        return row
    short = what.short if isinstance(what, Shortened) else what
    return sign, when, load, Shortened(f"{load}: {what}", f"{load}: {short}"), *rest


def draw_field(task: Task, width: int, large: bool) -> Content:
    """What is under the cursor in its place, and what Enter does.

    Args:
        large: what to do in block letters too.
    """
    due, batch, when = task
    load = batch.loads.get(due.load) if due.load else None
    where = " · ".join(part for part in (batch.format_carrier(load) if load else "", due.where) if part).upper()
    gap = " " * max(width - count_cells(where) - count_cells(when), 2)
    rows = [Content.assemble((f"{where}{gap}{when}", "bold"))]
    rows += _draw_large(due.what, width) if large else []
    rows += [Content.assemble((row, "bold")) for row in wrap_cut(due.sentence, SENTENCE_LINES, width=width)]
    rows.append(Content(f"Enter: {ENTERS[due.go]}"))
    return Content("\n").join(rows)


def _draw_large(text: str, width: int) -> list[Content]:
    from floor.block_letters import draw_block_letters, draw_blocks, is_drawable, wrap_squares

    if not is_drawable(text):
        return []
    lines = wrap_squares(draw_block_letters(text), width, LARGE_LINES)
    return [Content(row) for line in lines for row in (*draw_blocks(line, 1), "")]


def summarize_batch(batch: Batch, today: date, width: int) -> list[str]:
    """How far a batch is, and what was set aside."""
    finished, order = batch.total("finished"), batch.order
    parts = [f"{batch.id} {batch.checklist.part.number} {batch.checklist.part.revision}"]
    filled = "✓ FILLED " if finished >= order else ""
    parts.append(f"{filled}{draw_bar(finished, order, 12)} {finished} of {order} finished")
    parts.append(f"{batch.started} started")
    hidden = find_blind_subjects(batch)
    parts += [f"{format_total(batch, where, hidden)} {where}" for where in ASIDE if batch.total(where)]
    if batch.due:
        parts.append(f"due {format_day(batch.due, today)}")
    parts.append(f"{batch.responsible} is responsible")
    return set_out(parts, width, gap="  ")
