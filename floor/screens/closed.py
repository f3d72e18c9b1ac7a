"""Closed batches: kept for good, read only when one is chosen."""

from __future__ import annotations

from typing import ClassVar

from textual import getters, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from floor.batch.commands.base import Refused
from floor.batch.said import plural
from floor.batch.state import Batch
from floor.papers.choice import offers
from floor.screens.base import FloorScreen
from floor.screens.desk import Desk
from floor.screens.papers import PAPERS, choose_paper, source
from floor.screens.rows import Row, Rows


class ClosedScreen(FloorScreen):
    """The closed batches by name, the latest first. Enter reads one and shows its history."""

    BINDINGS: ClassVar = [Binding("enter", "history", "History", id="closed_history", priority=True), PAPERS]
    CSS = "ClosedScreen #none { height: 1fr; padding: 2 4; }"

    table = getters.query_one("#closed", Rows)
    none = getters.query_one("#none", Static)

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.names: list[str] = []
        self.read: dict[str, Row] = {}
        """What is shown of those that were read once: they never change again."""

    def body(self) -> ComposeResult:
        columns = [("Batch", 7), ("Part", 12), ("Name", 0), ("Good", 10), ("Opened", 10), ("Closed", 10)]
        yield Rows(columns, id="closed")
        yield Static("No batch is closed yet.", id="none", markup=False)

    def on_mount(self) -> None:
        self.table.focus()

    def place(self) -> str:
        return f"Floor  {plural(len(self.names), 'closed batch')}"

    def on_screen_resume(self) -> None:
        """Another batch may have been closed meanwhile."""
        self.names = self.desk.shop.closed()[::-1]

    def show(self) -> None:
        self.table.display, self.none.display = bool(self.names), not self.names
        self.table.fill([self.read.get(name, (name, "", "", "", "", "")) for name in self.names])

    @on(Rows.RowSelected)
    def row_clicked(self, event: Rows.RowSelected) -> None:
        event.stop()
        self.action_history()

    def _chosen(self) -> Batch | None:
        """The batch under the cursor, read now if it was not yet; what is shown of it is filled in."""
        row = self.table.cursor_row
        if not 0 <= row < len(self.names):
            return None
        id = self.names[row]
        try:
            batch = self.desk.batch(id)
        except Refused as refused:
            self.say(str(refused), wrong=True)
            return None
        part = batch.checklist.part
        good = f"{batch.total('finished')} of {batch.order}"
        closed = f"{batch.closed:%Y-%m-%d}" if batch.closed else ""
        self.read[id] = (id, f"{part.number} {part.revision}", part.name, good, f"{batch.opened:%Y-%m-%d}", closed)
        self.say("")
        return batch

    def action_history(self) -> None:
        batch = self._chosen()
        if batch is not None:
            from floor.screens.history import HistoryScreen

            self.floor.go(HistoryScreen(self.desk, batch.id))
            self._say_condition(batch)

    def action_papers(self) -> None:
        batch = self._chosen()
        if batch is not None:
            self.update_all()
            choose_paper(self, offers(source(self.desk, batch)))
            self._say_condition(batch)

    def _say_condition(self, batch: Batch) -> None:
        condition = self.desk.shop.shelf.open(batch.id).condition
        if condition.kind != "fine":
            self.floor.trouble(condition.sentence)
