"""Entries as a list of any length, and one of them with all its fields."""

from __future__ import annotations

import json

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.screen import ModalScreen
from textual.widget import Widget
from textual.widgets import Static

from floor.batch.describe import describe, describe_parts
from floor.batch.search.history_filter import find_load_and_op
from floor.batch.state import Batch
from floor.entry import Entry
from floor.screens.forms.dialogs import find_text_width
from floor.screens.frame.closed_frame import ClosedFrame
from floor.screens.widgets.diff_static import DiffStatic
from floor.text import count_cells, cut, format_clock, wrap_text
from floor.wall import format_local

STRUCK = "✕ STRUCK OUT "


class EntryLines(Widget, can_focus=True):
    """Entries as lines, newest last. Only the lines on screen are made, so that 100,000 are no slower than ten."""

    DEFAULT_CSS = "EntryLines { height: 1fr; }"
    BINDINGS = [
        Binding("up", "move(-1)", show=False),
        Binding("down", "move(1)", show=False),
        Binding("pageup", "page(-1)", show=False),
        Binding("pagedown", "page(1)", show=False),
        Binding("home", "to(0)", show=False),
        Binding("end", "to(-1)", show=False),
    ]

    class Moved(Message):
        """The cursor is on another entry."""

    class Opened(Message):
        """The entry under the cursor was clicked again."""

    def __init__(self, screen: ClosedFrame) -> None:
        super().__init__(id="entries")
        self.history = screen
        self.entries: list[Entry] = []
        self.cursor = 0
        self.top = 0

    @property
    def entry(self) -> Entry | None:
        return self.entries[self.cursor] if self.entries else None

    def show_entries(self, entries: list[Entry]) -> None:
        """Show these; the cursor stays on its entry, or on the last one if it was there."""
        before, last = self.entry, self.cursor >= len(self.entries) - 1
        self.entries = entries
        seqs = {entry.seq: n for n, entry in enumerate(entries)} if before and not last else {}
        self.cursor = seqs.get(before.seq, len(entries) - 1) if before and not last else len(entries) - 1
        self.cursor = max(self.cursor, 0)
        self._scroll()

    def _scroll(self) -> None:
        height = max(self.size.height, 1)
        self.top = min(max(self.top, self.cursor - height + 1, 0), self.cursor)
        self.top = max(min(self.top, len(self.entries) - height), 0)
        self.refresh()

    def on_resize(self) -> None:
        self._scroll()

    def render(self) -> Content:
        if not self.entries:
            return Content("  no matching entries")
        shown = self.entries[self.top : self.top + max(self.size.height, 1)]
        return Content("\n").join([self._row(entry, n == self.cursor) for n, entry in enumerate(shown, self.top)])

    def _row(self, entry: Entry, here: bool) -> Content:
        batch = self.history.current_batch
        load, op = find_load_and_op(batch, entry)
        when = format_clock(entry.time, self.history.session.now().at)
        said = describe_parts(batch, entry)
        struck = said.struck is not None
        what = (STRUCK if struck else "") + said.here
        lead = f"{'>' if here else ' '}{entry.seq:>6} {when:<9} {cut(entry.by, 4):<4} {load or '':>4} {op or '':>5}  "
        text = lead + cut(what, max(self.size.width - count_cells(lead), 10))
        text += " " * (self.size.width - count_cells(text))
        if here:
            return Content.assemble((text, "bold $block-cursor-foreground on $block-cursor-background"))
        return Content.assemble((text, "$secondary")) if struck else Content(text)

    def action_move(self, way: int) -> None:
        self.action_to(min(max(self.cursor + way, 0), max(len(self.entries) - 1, 0)))

    def action_page(self, way: int) -> None:
        self.action_move(way * max(self.size.height - 1, 1))

    def action_to(self, place: int) -> None:
        self.cursor = place if place >= 0 else max(len(self.entries) - 1, 0)
        self._scroll()
        self.post_message(self.Moved())

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        event.stop()
        self.action_move(3)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        event.stop()
        self.action_move(-3)

    def on_click(self, event: events.Click) -> None:
        place = self.top + event.y
        if place < len(self.entries):
            again = place == self.cursor
            self.action_to(place)
            if again:
                self.post_message(self.Opened())


def list_entry_fields(batch: Batch, entry: Entry, width: int) -> list[str]:
    """All that is in an entry, field by field, its hash too."""
    lines = wrap_text(describe(batch, entry), width=width) + [""]
    rows = [
        ("entry", str(entry.seq)),
        ("kind", entry.kind.replace("_", " ")),
        ("when", f"{format_local(entry.time, '%Y-%m-%d %H:%M:%S %z')} (UTC {entry.at})"),
        ("by", entry.by),
        ("machine", f"start {entry.boot or 'not known'}, up {entry.up:.0f} s"),
    ]
    if entry.seq in batch.struck:
        by = next(one for one in batch.entries if one.seq == batch.struck[entry.seq])
        rows.append(("struck out", f"by entry {by.seq}, {by.by}: {by.body['reason']}"))
    for name, value in entry.body.items():
        # The frozen checklist is a file of its own: its first letters are enough here.
        text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
        rows.append((name.replace("_", " "), text if len(text) <= 1500 else f"{text[:200]} … ({len(text)} letters)"))
    rows += [("hash", entry.hash), ("before it", entry.prev)]
    for name, text in rows:
        lines += wrap_text(text, f"{cut(name, 10):<11}", width=width)
    return lines


class EntryDetail(ModalScreen[None]):
    """One entry with all its fields."""

    BINDINGS = [Binding("enter,escape", "close", "Close")]
    DEFAULT_CSS = """
    #detail { height: auto; max-height: 90%; }
    #detail-scroll { height: auto; max-height: 70vh; }
    """

    def __init__(self, batch: Batch, entry: Entry) -> None:
        super().__init__()
        self.about = batch, entry

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog", id="detail"):
            with VerticalScroll(id="detail-scroll"):
                yield DiffStatic(self._lay_out(), id="fields")
            yield Static("↑ ↓: scroll    Enter or Esc: close", classes="dialog-hint")

    def _lay_out(self) -> Content:
        return Content("\n".join(list_entry_fields(*self.about, find_text_width(self.app.size.width))))

    def on_resize(self) -> None:
        self.query_one("#fields", Static).update(self._lay_out())

    def action_close(self) -> None:
        if self.is_active:
            self.dismiss(None)
