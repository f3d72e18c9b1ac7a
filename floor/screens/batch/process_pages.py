"""The frame of pages about the process of a batch, one at a time."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING, ClassVar

from textual import getters
from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content

from floor.batch.command import Refused
from floor.batch.search.history_filter import Filter
from floor.batch.search.typed_criteria import TypedCriteria
from floor.papers.catalog import list_offers
from floor.screens.forms.dialogs import FormDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values
from floor.screens.frame.paper_choice import PAPERS, choose_paper, make_paper_source
from floor.screens.frame.scrolled_frame import ScrolledFrame
from floor.screens.widgets.cells import join_cells
from floor.screens.widgets.diff_static import DiffStatic
from floor.text import wrap_text
from floor.text_charts import CENTER, CONTROL_LIMIT, DRAWING_LIMIT, SIGNAL, PlotRow
from floor.wall import WHEN, format_local

if TYPE_CHECKING:
    from floor.batch.state import Batch

WIDEST = 158
LEAST, MOST = 12, 28
"""Rows of a page, where the screen is lower or higher."""

SIGNS = {SIGNAL: "bold $error", DRAWING_LIMIT: "$ruled", CONTROL_LIMIT: "$ruled", CENTER: "$secondary"}
"""Of a chart → their looks: what is told of, and the lines it is told by."""

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

    def make_shown_pages(self, batch: Batch) -> list[Page]:
        """Those of the subject, or one that says why there are none."""
        return self.make_pages(batch)

    def find_known(self, batch: Batch) -> object:
        """What the pages are made of: something else whenever it has changed."""
        return batch.seq

    def say_span(self) -> str:
        """Which part of the batch the pages are of; empty for all of it."""
        return ""

    def list_pages(self) -> tuple[Page, ...]:
        """Made anew where something has changed since."""
        batch = self.current_batch
        known = self.find_known(batch)
        if self._made != known:
            self._pages, self._made = tuple(self.make_shown_pages(batch)), known
            self.refresh_bindings()
        return self._pages

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """A single page is not turned."""
        return action != "step" or len(self._pages) > 1

    def update_body(self) -> None:
        pages = self.list_pages()
        at = min(self.at, len(pages) - 1)
        width = self.find_width(WIDEST)
        height = min(max(self.box.size.height, LEAST), MOST)
        shown = (at, self._made, width, height)
        if shown == self._shown:
            return
        self._shown = shown
        self.page.update(f"page {at + 1} of {len(pages)}{self.say_span()}")
        self.text.update(Content("\n").join(map(_color_line, pages[at](width, height))))

    def action_step(self, way: int) -> None:
        self.at = (self.at + way) % len(self.list_pages())
        self.update_all()
        self.box.scroll_home(animate=False)


def _color_line(line: str) -> Content:
    """A line as it is; of a chart, each sign in its color."""
    if not isinstance(line, PlotRow):
        return Content(line)
    signs = ((sign, SIGNS.get(sign, "")) for sign in line[line.names :])
    return Content.assemble(line[: line.names], *join_cells(signs))


class SpanScreen(ProcessScreen):
    """Pages about the process of a batch, all of it or only since some time; they go on paper too."""

    BINDINGS = [
        Binding("slash", "find", "Find", key_display="/", id="find", tooltip="only since a time, like 14:30 or today"),
        PAPERS,
    ]
    since: datetime | None = None

    def find_known(self, batch: Batch) -> object:
        return batch.seq, self.since

    def make_shown_pages(self, batch: Batch) -> list[Page]:
        from floor.papers.nothing_since import say_nothing_since

        nothing = say_nothing_since(batch, self.since)
        return [lambda width, height: wrap_text(nothing, "", "  ", width)] if nothing else self.make_pages(batch)

    def say_span(self) -> str:
        said = Filter(since=self.since).said()
        return f"   Only {said}   /: all again" if said else ""

    def since_the_start(self, page: Page) -> Page:
        """A page that is of the whole batch whatever the span, which it says."""
        if self.since is None:
            return page
        return lambda width, height: ["Of the whole batch", "", *page(width, height - 2)]

    def action_find(self) -> None:
        """Which part of the batch to show."""

        def attempt(values: Values) -> Errors:
            wanted = values["since"].strip()
            try:
                since = TypedCriteria(since=wanted).read(self.session.now().at).since
            except Refused as refused:
                return {"since": str(refused)}
            self.since, self.at = since, 0
            return {}

        typed = format_local(self.since, WHEN) if self.since is not None else ""
        field = FieldSpec("since", "Since", typed, hint="14:30, today, 2026-03-02; blank: all")
        self.floor.push_screen(FormDialog("Only since", [field], attempt), lambda _: self.update_all())

    def action_papers(self) -> None:
        """The figures of what is shown first, then the papers of the batch."""
        from floor.papers.figures_paper import make_figures_offer
        from floor.shop.load_settings import load_settings
        from floor.shop.settings import SettingsError

        source = make_paper_source(self.session, self.current_batch)
        offers = list_offers(source)
        try:
            settings = load_settings(self.session.shop.folder, self.session.now().at)
        except SettingsError as error:
            self.say(str(error), wrong=True)
        else:
            offers.insert(0, make_figures_offer(source, settings.calendar, self.since, settings.costs))
        choose_paper(self, offers)
