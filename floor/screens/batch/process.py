"""Is the process drifting? The measured values of a batch, a chart for each characteristic."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual import getters
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from floor.screens.frame.closed_frame import ClosedFrame
from floor.screens.widgets.diff_static import DiffStatic
from floor.text import cut

if TYPE_CHECKING:
    from floor.papers.measured_values import ValueStudy

WIDEST = 158
LEAST, MOST = 12, 28
"""Rows of a chart with its figures, where the screen is lower or higher."""


class MeasuredScreen(ClosedFrame):
    """Question 7: is the process drifting? One characteristic at a time; left and right for the others."""

    DEFAULT_CSS = """
    #subject { height: 1; padding: 0 1; color: $accent; text-style: bold; }
    #chart { height: 1fr; padding: 0 1; scrollbar-size-vertical: 1; }
    #chart-text { height: auto; text-wrap: nowrap; }
    """
    GUIDE = (
        "Each point is a value, or the mean of a load, in the order measured.",
        "`✕`: out of limits, or a run that chance hardly makes.",
        "`left` and `right` show the other characteristics.",
    )
    BINDINGS = [
        Binding("left", "step(-1)", "One before", id="before"),
        Binding("right", "step(1)", "Next one", id="after"),
        Binding("down", "scroll('down')", "Down", show=False),
        Binding("up", "scroll('up')", "Up", show=False),
        Binding("pagedown", "scroll('page_down')", "Down", show=False),
        Binding("pageup", "scroll('page_up')", "Up", show=False),
    ]

    subject = getters.query_one("#subject", DiffStatic)
    box = getters.query_one("#chart", VerticalScroll)
    text = getters.query_one("#chart-text", Static)
    at = 0
    """Which of the characteristics is shown."""
    _shown: tuple[object, ...] = ()
    _studies: tuple[ValueStudy, ...] = ()
    _studied: int | None = None
    """The entry up to which they were studied."""

    def body(self) -> ComposeResult:
        yield DiffStatic(id="subject", markup=False)
        with VerticalScroll(id="chart", can_focus=False):  # so that left and right are not its keys
            yield Static(id="chart-text", markup=False)

    def on_mount(self) -> None:
        self.update_all()

    def on_resize(self) -> None:
        self.call_after_refresh(self.update_all)

    def place(self) -> str:
        return f"{super().place()}  measured"

    def list_studies(self) -> tuple[ValueStudy, ...]:
        """Those of the pieces first, what tells something at the head; readings of stations last."""
        from floor.batch.quality.measured_values import list_measured_values
        from floor.papers.measured_values import study_values

        batch = self.current_batch
        if self._studied != batch.seq:
            found = [study_values(shape, values) for shape, values in list_measured_values(batch).items()]
            self._studies = tuple(sorted(found, key=lambda one: (not one.shape.of_piece, not one.is_telling)))
            self._studied = batch.seq
        return self._studies

    def update_body(self) -> None:
        from floor.papers.measured_values import list_value_lines

        studies = self.list_studies()
        if not studies:
            self.subject.update("")
            self.text.update("Nothing was measured yet: values come from the walk's measured gates and first pieces")
            return
        at = self.at % len(studies)
        width = min(max((self.box.size.width or self.size.width) - 3, 34), WIDEST)
        height = min(max(self.box.size.height, LEAST), MOST)
        shown = (at, self.current_batch.seq, width, height)
        if shown == self._shown:
            return
        self._shown = shown
        self.subject.update(cut(f"{at + 1} of {len(studies)}", width))
        lines = list_value_lines(self.current_batch, studies[at], width, height)
        self.text.update(Content("\n").join([Content(line) for line in lines]))

    def action_step(self, way: int) -> None:
        if self.list_studies():
            self.at = (self.at + way) % len(self.list_studies())
            self.update_all()
            self.box.scroll_home(animate=False)

    def action_scroll(self, way: str) -> None:
        getattr(self.box, f"scroll_{way}")(animate=False)
