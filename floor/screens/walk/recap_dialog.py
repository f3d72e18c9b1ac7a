"""Coming back to a run after a while: where it stands, to be read before going on (CBP-43)."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from floor.batch.walk.recap import Recap, find_recap
from floor.screens.forms.dialogs import EDGES
from floor.screens.frame.screen import RunFrame
from floor.screens.widgets.diff_static import DiffStatic
from floor.text import wrap_text

WIDTH = 66
"""Columns of its text at most: it fits a dialog on 80."""


class RecapDialog(ModalScreen[None]):
    """Last step done, time away, who worked here meanwhile, what lapsed, where to go on. Nothing is recorded by it."""

    BINDINGS = [Binding("enter,escape", "close", "Go on")]

    def __init__(self, recap: Recap) -> None:
        super().__init__()
        self.recap = recap

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(f"Last entry here {self.recap.away} ago", classes="dialog-title", markup=False)
            yield DiffStatic(self._lay_out(), id="recap", markup=False)
            yield Static("Enter: go on", classes="dialog-hint")

    def _lay_out(self) -> str:
        return "\n".join(list_recap_rows(self.recap, min(self.app.size.width - EDGES, WIDTH)))

    def on_resize(self) -> None:
        self.query_one("#recap", Static).update(self._lay_out())

    def action_close(self) -> None:
        if self.is_active:
            self.dismiss(None)


def tell_absence(screen: RunFrame) -> None:
    """Tell who comes back where the run stands: as a page if its work by hand was left, else in the line of replies."""
    run, session = screen.current_run, screen.session
    recap = find_recap(screen.current_batch, run, session.now(), session.who)
    if recap is not None and recap.is_interrupted:
        screen.floor.push_screen(RecapDialog(recap))
    elif recap is not None:
        screen.say(str(recap))


def list_recap_rows(recap: Recap, width: int) -> list[str]:
    """What is known, a row or more each, the checks that lapsed one by one."""
    said = [
        ("Last:      ", recap.last or "none of this run"),
        ("Meanwhile: ", f"entries by {', '.join(recap.others)}" if recap.others else "no entries by others"),
        *(("To repeat: ", title) for title in recap.lapsed),
        ("Next:      ", recap.current),
    ]
    return [row for label, text in said for row in wrap_text(text, label, width=width)]
