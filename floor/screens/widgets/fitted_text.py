"""Text that is broken into lines by hand for the room it has."""

from __future__ import annotations

from collections.abc import Callable

from textual.widgets import Static


class FittedText(Static):
    """Says when it has another room, also by a scroll bar beside it, so that it is drawn anew."""

    refit: Callable[[], None] | None = None

    def on_resize(self) -> None:
        if self.refit is not None:
            self.refit()
