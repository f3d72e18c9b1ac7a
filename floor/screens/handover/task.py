"""What the taker of a batch has to do, beside the page: count, read back, sign."""

from __future__ import annotations

from textual import getters
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widgets import Static

from floor.batch.handover.page import list_lines_at
from floor.batch.state import Batch
from floor.entry import Moment
from floor.screens.handover.counts import Counts
from floor.screens.handover.rows import clip_rows, draw_acceptance, draw_counts, draw_read_back
from floor.screens.handover.stages import Stage
from floor.screens.widgets.fitted_text import FittedText
from floor.screens.widgets.ordered_input import OrderedInput


class TaskPane(Vertical):
    """The task of a stage, and the field for a count."""

    DEFAULT_CSS = """
    TaskPane { width: 1fr; border-top: solid $primary; background: $surface; padding: 0 1; }
    #ho-list { height: 1fr; }
    #ho-entry { height: 1; margin-bottom: 1; }
    #ho-label { width: auto; text-style: bold; padding-right: 1; }
    #ho-number { width: 12; background: $panel; }
    """

    list_ = getters.query_one("#ho-list", FittedText)
    entry = getters.query_one("#ho-entry", Horizontal)
    label = getters.query_one("#ho-label", Static)

    def compose(self) -> ComposeResult:
        with Horizontal(id="ho-entry"):
            yield Static(id="ho-label", markup=False)
            yield OrderedInput(id="ho-number", number=True, compact=True, restrict=r"[0-9]*", max_length=4)
        yield FittedText(id="ho-list", markup=False)

    def show(self, stage: Stage, batch: Batch, now: Moment, who: str, counts: Counts) -> None:
        self.entry.display = stage == "count"
        width, room = max(self.size.width - 2, 34), max(self.list_.size.height, 6)
        if stage == "count":
            chosen = counts.find_chosen(batch, now, who)
            self.label.update(f"{chosen.title}: counted" if chosen else "")
            said = list_lines_at(batch, now, chosen.key, who) if chosen else []
            self.list_.update(clip_rows(*draw_counts(batch, chosen, said, counts.typed, width), room))
        elif stage == "read back":
            self.list_.update(clip_rows(*draw_read_back(batch, now, who, width), room))
        elif stage == "accept":
            rows = draw_acceptance(batch, who, width)
            self.list_.update(clip_rows(rows, len(rows), room))
