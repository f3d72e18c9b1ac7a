"""The view for a screen on the shop's wall: what is late, what needs somebody now, what runs until when."""

from __future__ import annotations

from collections.abc import Sequence

from textual import events, getters
from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import Static

from floor.batch.worklist.due_task import DueTask, say_when
from floor.block_letters import count_squares, count_terminal_rows, draw_block_letters, draw_blocks, is_drawable
from floor.dataclass import dataclass
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.theme import draw_bar
from floor.screens.plan.background_plan import sort_by_plan
from floor.screens.widgets.diff_static import DiffStatic
from floor.text import cut

LOUD = "bold $hung-ink on $hung"


@dataclass(frozen=True, slots=True)
class WallGroup:
    """What stands under one head."""

    head: str
    style: str
    lines: tuple[tuple[str, str, str], ...]
    """Carrier and station, when, what: each its own size."""


def group_wall(due: Sequence[DueTask], name: dict[str, str], when: dict[str, str]) -> list[WallGroup]:
    """The tasks under their heads, in their order.

    Args:
        name: key of a task → carrier and station.
        when: key of a task → its time, short.
    """
    groups: list[WallGroup] = []
    heads = (("LATE", LOUD), ("NOW", "bold $accent"), ("RUNS", "$foreground"))
    for head, style in heads:
        lines = tuple((name[one.key], when[one.key], one.what) for one in due if _find_head(one) == head)
        if lines:
            groups.append(WallGroup(head, style, lines))
    return groups


def _find_head(due: DueTask) -> str:
    if due.urgency == "overdue" or due.over_since is not None:
        return "LATE"
    if due.urgency in ("now", "soon"):
        return "NOW"
    return "RUNS" if due.urgency == "later" and due.run is not None else ""


def draw_wall(groups: Sequence[WallGroup], width: int, height: int) -> Content:
    """The groups in so many rows: in large letters where all have room, else in bold; what has none is counted."""
    many = sum(len(group.lines) for group in groups)
    large = many * (count_terminal_rows(1) + 2) + len(groups) <= height
    rows: list[Content] = []
    left = many
    for group in groups:
        rows.append(Content.assemble((f"{group.head} {len(group.lines)}", "bold $secondary")))
        for name, when, what in group.lines:
            drawn = _draw_line(name, when, what, width, group.style, large)
            if len(rows) + len(drawn) > height - 1 and left > 1:
                return Content("\n").join([*rows, Content.assemble((f"and {left} more", "bold"))])
            rows += drawn
            left -= 1
    return Content("\n").join(rows) if rows else Content("Nothing waits, nothing runs.")


def _draw_line(name: str, when: str, what: str, width: int, style: str, large: bool) -> list[Content]:
    said = f"{name} {when}".strip()
    squares = draw_block_letters(said) if large and is_drawable(said) else ""
    if squares and count_squares(squares) <= width:
        drawn = [Content.assemble((f"{row:<{width}}", style)) for row in draw_blocks(squares, 1)]
        return [*drawn, Content(cut(what, width)), Content("")]
    gap = " " * max(width - len(said) - len(what) - 2, 2)
    return [Content.assemble((cut(f"{said}  {what}{gap}", width), style))]


class WallScreen(FloorScreen):
    """Question 1 from across the shop: what is late, what is now, what runs; any key goes back."""

    GUIDE = ("For a screen on the wall: what is late, what is now, what runs.", "It follows the record by itself.")
    DEFAULT_CSS = """
    WallScreen #wall { height: 1fr; padding: 0 1; text-wrap: nowrap; }
    WallScreen #wall-batches { height: auto; max-height: 4; padding: 0 1; border-top: solid $primary; }
    """
    AUTO_FOCUS = ""

    wall = getters.query_one("#wall", Static)
    batches = getters.query_one("#wall-batches", Static)

    def body(self) -> ComposeResult:
        yield DiffStatic(id="wall", markup=False)
        yield DiffStatic(id="wall-batches", markup=False)

    def place(self) -> str:
        return "Floor  Wall"

    def on_resize(self) -> None:
        self.call_after_refresh(self.update_all)

    def update_body(self) -> None:
        now = self.session.now()
        due, latest = sort_by_plan(self.session.planner, self.session.due(), now.at)
        name, when = {}, {}
        for one in due:
            batch = self.session.batch(one.batch)
            load = batch.loads.get(one.load) if one.load else None
            name[one.key] = " ".join(part for part in (batch.format_carrier(load) if load else "", one.where) if part)
            said = say_when(one, now.at, long=False)
            when[one.key] = latest.get(one.key, "") if said == "now" else said
        width, height = max(self.size.width - 2, 30), max(self.wall.size.height, 4)
        self.wall.update(draw_wall(group_wall(due, name, when), width, height))
        sums = [
            f"{batch.id} {batch.checklist.part.number}  {draw_bar(batch.total('finished'), batch.order, 20)} "
            f"{batch.total('finished')} of {batch.order} finished"
            for batch in self.session.shop.batches[:4]
        ]
        self.batches.update("\n".join(sums))

    def on_key(self, event: events.Key) -> None:
        event.stop()
        event.prevent_default()
        self.action_back()
