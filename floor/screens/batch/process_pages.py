"""The frame of pages about the process of a batch, one at a time."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable
from typing import TYPE_CHECKING, ClassVar

from textual import getters
from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content

from floor.screens.frame.scrolled_frame import ScrolledFrame
from floor.screens.widgets.diff_static import DiffStatic

if TYPE_CHECKING:
    from floor.batch.state import Batch

WIDEST = 158
LEAST, MOST = 12, 28
"""Rows of a page, where the screen is lower or higher."""

Page = Callable[[int, int], list[str]]
"""Lines of a page for so many columns and rows."""


class ProcessScreen(ScrolledFrame):
    """Pages about the process of a batch, one at a time; left and right for the others."""

    DEFAULT_CSS = """
    #page { height: 1; padding: 0 1; color: $secondary; }
    ProcessScreen #scrolled-text { text-wrap: nowrap; }
    """
    BINDINGS = [
        Binding("left", "step(-1)", "Page before", id="before"),
        Binding("right", "step(1)", "Next page", id="after"),
    ]
    GUIDE: ClassVar[tuple[str, ...]] = ("Pages about the process; `←` and `→` turn them.",)
    SUBJECT = ""

    page = getters.query_one("#page", DiffStatic)
    at = 0
    """Which page is shown."""
    _shown: tuple[object, ...] = ()
    _pages: tuple[Page, ...] = ()
    _made: object = None
    """What was known when the pages were made."""

    def body(self) -> ComposeResult:
        yield DiffStatic(id="page", markup=False)
        yield from super().body()

    def place(self) -> str:
        return f"{super().place()}  {self.SUBJECT}"

    @abstractmethod
    def make_pages(self, batch: Batch) -> list[Page]:
        """One page at least."""

    def find_known(self, batch: Batch) -> object:
        """What the pages are made of: something else whenever it has changed."""
        return batch.seq

    def list_pages(self) -> tuple[Page, ...]:
        """Made anew where something has changed since."""
        batch = self.current_batch
        known = self.find_known(batch)
        if self._made != known:
            self._pages, self._made = tuple(self.make_pages(batch)), known
        return self._pages

    def update_body(self) -> None:
        pages = self.list_pages()
        at = min(self.at, len(pages) - 1)
        width = self.find_width(WIDEST)
        height = min(max(self.box.size.height, LEAST), MOST)
        shown = (at, self._made, width, height)
        if shown == self._shown:
            return
        self._shown = shown
        self.page.update(f"page {at + 1} of {len(pages)}")
        self.text.update(Content("\n").join([Content(line) for line in pages[at](width, height)]))

    def action_step(self, way: int) -> None:
        self.at = (self.at + way) % len(self.list_pages())
        self.update_all()
        self.box.scroll_home(animate=False)
