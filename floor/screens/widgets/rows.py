"""A table of plain lines whose cursor stays where it is when they change, and that fits the width there is.

Drawn line by line as plain segments: a key or a tick costs what the lines on screen cost, at any length.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import ClassVar

from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.binding import Binding, BindingType
from textual.geometry import Region, Size
from textual.message import Message
from textual.reactive import reactive
from textual.scroll_view import ScrollView
from textual.strip import Strip

from floor.text import cut_name

Row = tuple[str, ...]
CHOSEN = "▸"
"""Before the row under the cursor, which its colors alone would not tell everywhere."""
LEAST_WIDTH = 10
ENOUGH = 40
"""Columns of text that say what there is to do; only above that nothing gives way for it (shop decision)."""


class TableView(ScrollView, can_focus=True):
    """Rows under headed columns. A column of width 0 takes the room that the others leave."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", "Up", show=False),
        Binding("down", "move(1)", "Down", show=False),
        Binding("pageup", "page(-1)", "Page up", show=False),
        Binding("pagedown", "page(1)", "Page down", show=False),
        Binding("home", "move(-1000000)", "First", show=False),
        Binding("end", "move(1000000)", "Last", show=False),
        Binding("enter", "select", "Open", show=False),
    ]
    COMPONENT_CLASSES: ClassVar[set[str]] = {"rows--head", "rows--cursor"}
    DEFAULT_CSS = """
    TableView {
        height: 1fr;
        overflow-x: auto;
        overflow-y: auto;
        background: $background;
        & > .rows--head { color: $secondary; }
        & > .rows--cursor { background: $block-cursor-background; color: $block-cursor-foreground; text-style: bold; }
    }
    """

    cursor_row = reactive(0, repaint=False)

    class RowHighlighted(Message):
        """The cursor came to a row."""

        def __init__(self, rows: TableView, cursor_row: int) -> None:
            super().__init__()
            self.rows = rows
            self.cursor_row = cursor_row

        @property
        def control(self) -> TableView:
            return self.rows

    class RowSelected(RowHighlighted):
        """A row was chosen, by Enter or by a click on the row under the cursor."""

    def __init__(
        self,
        columns: Sequence[tuple[str, int]],
        id: str,
        gap: int = 2,
        fixed: int = 0,
        gives_way: Mapping[str, int] | None = None,
    ) -> None:
        """A list under these heads, each with its width.

        Args:
            fixed: how many columns on the left stay where they are when the others are scrolled sideways.
            gives_way: columns that become narrower where the one of width 0 has too little room, and their least
                widths: first all to the longest that stands in them, then one after the other.
        """
        super().__init__(id=id)
        self.headed = tuple(columns)
        self.gap = gap
        self.fixed = fixed
        self.gives_way = gives_way or {}
        self.measured: tuple[int, list[int]] | None = None
        """The room there was, and the width of each column in it."""
        self.filled: list[Row] = []
        self.owed = 0
        """Moves of the cursor that were asked for before there was a row."""

    def head(self, columns: Sequence[tuple[str, int]]) -> None:
        """Other columns from now on; the rows come with the next `fill`."""
        if tuple(columns) != self.headed:
            self.headed = tuple(columns)
            self.filled = []
            self.measured = None

    def fill(self, rows: Sequence[Row]) -> None:
        """Show these rows; only the lines that differ are drawn again, and the cursor stays."""
        rows, before = list(rows), self.filled
        if rows == before:
            return
        widths = self.widths()
        self.filled, self.measured = rows, None
        if len(rows) == len(before) and self.widths() == widths:
            for y, (row, was) in enumerate(zip(rows, before, strict=True)):
                if row != was:
                    self._redraw(y)
            return
        self.virtual_size = Size(self._whole_width(), len(rows) + 1)
        self.cursor_row = max(min(self.cursor_row + (self.owed if rows else 0), len(rows) - 1), 0)
        self.owed = 0 if rows else self.owed
        self.refresh()

    def move_cursor(self, row: int) -> None:
        self.cursor_row = max(min(row, len(self.filled) - 1), 0)

    def widths(self) -> list[int]:
        """The width of each column at the present size."""
        width = self.scrollable_content_region.width
        if self.measured is None or self.measured[0] != width:
            self.measured = width, self._widths(width - len(self.headed) * self.gap - 1)
        return self.measured[1]

    def _widths(self, width: int) -> list[int]:
        given = [one for _, one in self.headed]
        if 0 not in given:
            return given
        longest = [max(map(cell_len, cells)) for cells in zip(*self.filled, strict=True)] or given
        wanted = min(longest[given.index(0)], ENOUGH)
        yielding = [(self._column(name), least) for name, least in self.gives_way.items() if self._column(name) >= 0]
        for leasts in ([longest[n] for n, _ in yielding], [0] * len(yielding)):
            for (n, least), long in zip(yielding, leasts, strict=True):
                short = wanted - (width - sum(given))
                if short > 0:
                    given[n] = max(given[n] - short, min(given[n], max(long or least, cell_len(self.headed[n][0]))))
        given[given.index(0)] = max(width - sum(given), LEAST_WIDTH)
        return given

    def _column(self, name: str) -> int:
        return next((n for n, (head, _) in enumerate(self.headed) if head == name), -1)

    def cut_off(self) -> str:
        """In full, what of the row under the cursor is cut; empty where nothing is."""
        if not 0 <= self.cursor_row < len(self.filled):
            return ""
        cells = zip(self.filled[self.cursor_row], self.widths(), strict=True)
        return "  ".join(text for text, width in cells if cell_len(text) > width)

    def _whole_width(self) -> int:
        return sum(width + self.gap for width in self.widths()) + 1

    def render_line(self, y: int) -> Strip:
        scroll_x, scroll_y = self.scroll_offset
        width = max(self.size.width, 1)
        base = self.rich_style
        if y == 0:  # the heads stay on top
            style = self.get_component_rich_style("rows--head")
            return self._line(tuple(name for name, _ in self.headed), style, scroll_x, " ")
        number = y - 1 + scroll_y
        if number >= len(self.filled):
            return Strip.blank(width, base)
        chosen = number == self.cursor_row
        style = self.get_component_rich_style("rows--cursor") if chosen else base
        return self._line(self.filled[number], style, scroll_x, CHOSEN if chosen else " ")

    def _line(self, row: Row, style: Style, scroll_x: int, mark: str) -> Strip:
        cells = []
        for text, width, (_, asked) in zip(row, self.widths(), self.headed, strict=True):
            cells.append(set_cell_size(fit_cell(text, width, number=bool(asked)), width) + " " * self.gap)
        width = max(self.size.width, 1)
        line = Strip([Segment(mark + "".join(cells), style)])
        if not scroll_x or not self.fixed:
            return line.crop_extend(scroll_x, scroll_x + width, style)
        stays = min(1 + sum(one + self.gap for one in self.widths()[: self.fixed]), width)
        moved = line.crop_extend(scroll_x + stays, scroll_x + width, style)
        return Strip.join([line.crop(0, stays), moved])

    def _redraw(self, row: int) -> None:
        self.refresh(Region(0, row + 1 - self.scroll_offset.y, self.size.width, 1))

    def watch_cursor_row(self, before: int, now: int) -> None:
        self._redraw(before)
        self._redraw(now)
        top, height = self.scroll_offset.y, max(self.size.height - 1, 1)
        if now < top:
            self.scroll_to(y=now, animate=False)
        elif now >= top + height:
            self.scroll_to(y=now - height + 1, animate=False)
        self.post_message(self.RowHighlighted(self, now))

    def on_resize(self) -> None:
        self.virtual_size = Size(self._whole_width(), len(self.filled) + 1)
        self.refresh()

    def on_click(self, event: events.Click) -> None:
        row = event.y - 1 + self.scroll_offset.y
        if event.y == 0 or row >= len(self.filled):
            return
        if row == self.cursor_row:
            self.action_select()
        else:
            self.move_cursor(row)

    def action_move(self, by: int) -> None:
        if not self.filled:
            self.owed = max(self.owed + by, 0)
        self.move_cursor(self.cursor_row + by)

    def action_page(self, by: int) -> None:
        self.move_cursor(self.cursor_row + by * max(self.size.height - 2, 1))

    def action_select(self) -> None:
        if self.filled:
            self.post_message(self.RowSelected(self, self.cursor_row))


class Shortened(str):
    """The text of a cell, with a short form for a column that is too narrow for it."""

    short: str

    def __new__(cls, text: str, short: str) -> Shortened:
        made = super().__new__(cls, text)
        made.short = short
        return made


def fit_cell(text: str, width: int, number: bool = True) -> str:
    """A text cut to this many columns, or its short form; of a name its number, its place, or how many more there
    are, stays.

    Args:
        number: whether it is a name.
    """
    if isinstance(text, Shortened) and cell_len(text) > width:
        text = text.short
    if cell_len(text) <= width:
        return text
    return cut_name(text, width) if number else set_cell_size(text, width - 1).rstrip() + "…"
