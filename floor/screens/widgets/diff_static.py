"""Text that is laid out and drawn again only when it has changed: a tick of the clock costs what it changes."""

from __future__ import annotations

from textual.content import Content
from textual.visual import VisualType
from textual.widgets import Static


class DiffStatic(Static):
    """A `Static` that may be updated at every tick."""

    def update(self, content: VisualType = "", *, layout: bool = True) -> None:
        if not _same(content, self.content):
            super().update(content, layout=layout)


def _same(new: VisualType, old: VisualType) -> bool:
    if isinstance(new, Content) and isinstance(old, Content):
        return new.plain == old.plain and new.spans == old.spans  # == compares the text alone
    return isinstance(new, str) and isinstance(old, str) and new == old
