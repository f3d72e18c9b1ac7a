"""A table of plain text whose cursor stays where it is when the rows change, and that fits the width there is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import events
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.coordinate import Coordinate
from textual.widgets import DataTable

Row = tuple[str, ...]
LEAST_WIDTH = 10


class Rows(DataTable[Content]):
    """Rows under headed columns. A column of width 0 takes the room that the others leave."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("home", "scroll_top", "First", show=False),
        Binding("end", "scroll_bottom", "Last", show=False),
    ]

    def __init__(self, columns: Sequence[tuple[str, int]], id: str, gap: int = 2) -> None:
        super().__init__(id=id, cursor_type="row", zebra_stripes=False, header_height=1, cell_padding=gap // 2)
        self.headed = tuple(columns)
        self.filled: list[Row] = []
        self._widths: list[int] = []

    def on_resize(self, event: events.Resize) -> None:
        room = event.size.width - sum(width + 2 * self.cell_padding for _, width in self.headed)
        self._widths = [width or max(room, LEAST_WIDTH) for _, width in self.headed]
        at = self.cursor_row
        self.clear(columns=True)
        for (name, _), width in zip(self.headed, self._widths, strict=True):
            self.add_column(name, width=width)
        rows, self.filled = self.filled, []
        self.fill(rows)
        self.move_cursor(row=at)

    def fill(self, rows: Sequence[Row]) -> None:
        """Show these rows; only the cells that differ change, so that cursor and scroll stay."""
        rows, before = list(rows), self.filled
        self.filled = rows
        if not self._widths:
            return  # not laid out yet: the first resize fills it
        if len(rows) == len(before):
            for y, (row, old) in enumerate(zip(rows, before, strict=True)):
                for x, (cell, was) in enumerate(zip(row, old, strict=True)):
                    if cell != was:
                        self.update_cell_at(Coordinate(y, x), self._cell(x, cell))
            return
        at = self.cursor_row
        self.clear()
        for row in rows:
            self.add_row(*(self._cell(x, cell) for x, cell in enumerate(row)))
        self.move_cursor(row=min(at, max(len(rows) - 1, 0)))

    def _cell(self, x: int, text: str) -> Content:
        return Content(text).truncate(self._widths[x], ellipsis=True)
