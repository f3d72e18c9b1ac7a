"""The line of keys at the foot of every screen."""

from __future__ import annotations

from itertools import accumulate

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.screen import Screen
from textual.widgets import Footer, Label
from textual.widgets._footer import FooterKey

NEW_LOT = Binding("i", "new_lot", "New lot", id="new_lot", show=False, tooltip="a new bottle, can, coil, bar or gauge")
AFAR = Binding("f", "afar", "Large", id="afar", tooltip="large letters, to be read from two meters")
"""The same key wherever there is such a view."""
AROUND = 3
"""Blanks around a key and its word."""
MORE = " …"


class KeyLine(Footer):
    """The keys of the screen, laid out again only where they are others than before.

    Textual tells of bindings with every move of the focus, and a footer that is laid out again for each costs more than
    the rest of a key of the walk, where every line has a form of its own.
    """

    def __init__(self) -> None:
        super().__init__(show_command_palette=False)
        self._laid_out: object = None

    def compose(self) -> ComposeResult:
        """As many keys as there is room for, none of them cut; a mark says that there are more, which ``?`` shows."""
        keys = [one for one in super().compose() if isinstance(one, FooterKey)]
        ends = list(accumulate(len(one.key_display) + len(one.description) + AROUND for one in keys))
        width = self.app.size.width
        if not ends or ends[-1] <= width:
            yield from keys
            return
        yield from (key for key, end in zip(keys, ends, strict=True) if end + len(MORE) <= width)
        yield Label(MORE)

    def on_resize(self, event: events.Resize) -> None:
        self.call_after_refresh(self.recompose)

    def bindings_changed(self, screen: Screen[object]) -> None:
        """Lay the keys out again if they are others, or other ones are enabled."""
        keys = [(one.binding, one.enabled) for one in screen.active_bindings.values() if one.binding.show]
        if keys != self._laid_out:
            self._laid_out = keys if screen.app.app_focus else None  # without it nothing is laid out now
            super().bindings_changed(screen)
