"""Closed batches: kept for good, and never read to open the shop. Their list fills itself while one looks at it."""

from __future__ import annotations

from typing import ClassVar

from textual import events, getters, on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.message import Message
from textual.widgets import Static
from textual.worker import get_current_worker

from floor.batch.command import Refused
from floor.batch.state import Batch
from floor.papers.catalog import list_offers
from floor.screens.frame.paper_choice import PAPERS, choose_paper, make_paper_source
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.session import Session
from floor.screens.widgets.rows import Row, TableView
from floor.shop.closed_summaries import BatchSummary, read_summaries
from floor.text import format_count
from floor.wall import get_local_day

MOST = 60
"""Closed batches that are read for the list, from the cursor down; the others as the cursor comes to them."""


class ClosedScreen(FloorScreen):
    """The closed batches by name, the latest first. Enter reads one and shows its history."""

    GUIDE = (
        "Closed batches, read-only. `Enter` opens the history, `e` the papers,",
        "`v` what the batch says of the process, and lessons for the checklist.",
    )
    BINDINGS: ClassVar = [
        Binding("enter", "history", "History", id="closed_history", priority=True),
        Binding("v", "view", "View", id="view", tooltip="losses, values, key figures, lessons, trials"),
        PAPERS,
    ]
    DEFAULT_CSS = "ClosedScreen #none { height: 1fr; padding: 2 4; }"

    class Read(Message):
        """One more of them was read."""

        def __init__(self, glance: BatchSummary) -> None:
            super().__init__()
            self.glance = glance

    table = getters.query_one("#closed", TableView)
    none = getters.query_one("#none", Static)

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.names: list[str] = []
        self.read: dict[str, Row] = {}
        """What is shown of those that were read once: they never change again."""
        self.asked: set[str] = set()
        """Those that are read, or are being read."""

    def body(self) -> ComposeResult:
        columns = [("Batch", 7), ("Part", 12), ("Name", 0), ("Good", 10), ("Opened", 10), ("Closed", 10)]
        yield TableView(columns, id="closed")
        yield Static("No batch is closed yet.", id="none", markup=False)

    def on_mount(self) -> None:
        self.table.focus()

    def place(self) -> str:
        return f"Floor  {format_count(len(self.names), 'closed batch')}"

    def on_screen_resume(self, event: events.ScreenResume) -> None:
        """Another batch may have been closed meanwhile."""
        self.names = self.session.shop.closed()[::-1]
        self._read_on()

    def _read_on(self) -> None:
        """Have those read that are seen next and were not asked for yet."""
        at = self.table.cursor_row
        wanted = [name for name in self.names[at : at + MOST] if name not in self.asked]
        if wanted:
            self.asked.update(wanted)
            self._read(wanted)

    @work(thread=True, group="closed")
    def _read(self, names: list[str]) -> None:
        worker = get_current_worker()
        for glance in read_summaries(self.session.shop.folder, names):
            if worker.is_cancelled:
                return
            self.post_message(self.Read(glance))

    @on(Read)
    def summary_read(self, event: Read) -> None:
        event.stop()
        self._keep(event.glance)
        self.update_body()

    def _keep(self, one: BatchSummary) -> None:
        closed = f"{get_local_day(one.closed)}" if one.closed else ""
        good = f"{one.good} of {one.ordered}"
        self.read[one.id] = (one.id, one.part, one.name, good, f"{get_local_day(one.opened)}", closed)

    @on(TableView.RowHighlighted)
    def moved(self, event: TableView.RowHighlighted) -> None:
        event.stop()
        self._read_on()

    def update_body(self) -> None:
        self.table.display, self.none.display = bool(self.names), not self.names
        self.table.fill([self.read.get(name, (name, "", "", "", "", "")) for name in self.names])

    @on(TableView.RowSelected)
    def row_clicked(self, event: TableView.RowSelected) -> None:
        event.stop()
        self.action_history()

    def _chosen(self) -> Batch | None:
        """The batch under the cursor."""
        row = self.table.cursor_row
        if not 0 <= row < len(self.names):
            return None
        id = self.names[row]
        try:
            batch = self.session.batch(id)
        except Refused as refused:
            self.say_refused(refused)
            return None
        self.say("")
        return batch

    def action_history(self) -> None:
        batch = self._chosen()
        if batch is not None:
            from floor.screens.batch.history import HistoryScreen

            self.floor.go(HistoryScreen(self.session, batch.id))
            self._say_condition(batch)

    def action_papers(self) -> None:
        batch = self._chosen()
        if batch is not None:
            self.update_all()
            choose_paper(self, list_offers(make_paper_source(self.session, batch)))
            self._say_condition(batch)

    def action_view(self) -> None:
        batch = self._chosen()
        if batch is not None:
            from floor.screens.batch.process import choose_view

            choose_view(self, batch.id)
            self._say_condition(batch)

    def _say_condition(self, batch: Batch) -> None:
        condition = self.session.shop.journals.open(batch.id).condition
        if condition.kind != "fine":
            self.floor.trouble(condition.sentence)
