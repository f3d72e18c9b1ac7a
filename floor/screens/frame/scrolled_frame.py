"""The frame of a screen that is one long text, scrolled by the keys that a reader tries first."""

from __future__ import annotations

from typing import ClassVar

from textual import getters
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Static

from floor.screens.forms.dialogs import SCROLLING
from floor.screens.frame.closed_frame import ClosedFrame

NARROWEST = 34
"""Columns that a text is laid out for, however narrow the screen."""


class ScrolledFrame(ClosedFrame):
    """A text of a batch, open or closed; left and right stay free for what stands beside it."""

    DEFAULT_CSS = """
    #scrolled { height: 1fr; padding: 0 1; scrollbar-size-vertical: 1; }
    #scrolled-text { height: auto; }
    """
    GUIDE: ClassVar[tuple[str, ...]] = ("Arrows, `PgUp` and `PgDn` scroll.",)
    BINDINGS = [*SCROLLING]

    box = getters.query_one("#scrolled", VerticalScroll)
    text = getters.query_one("#scrolled-text", Static)

    def body(self) -> ComposeResult:
        with VerticalScroll(id="scrolled", can_focus=False):  # so that left and right are not its keys
            yield Static(id="scrolled-text", markup=False)

    def on_mount(self) -> None:
        self.update_all()

    def on_resize(self) -> None:
        self.call_after_refresh(self.update_all)

    def find_width(self, widest: int) -> int:
        """Columns for a line of the text, at most so many."""
        return min(max((self.box.size.width or self.size.width) - 3, NARROWEST), widest)

    def action_scroll(self, way: str) -> None:
        getattr(self.box, f"scroll_{way}")(animate=False)
