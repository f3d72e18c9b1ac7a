"""The line of keys at the foot of every screen."""

from __future__ import annotations

from textual.screen import Screen
from textual.widgets import Footer


class KeyLine(Footer):
    """The keys of the screen, laid out anew only where they are others than before.

    Textual tells of bindings with every move of the focus, and a footer that is laid out anew for each costs more
    than the rest of a key of the walk, where every line has a form of its own.
    """

    def __init__(self) -> None:
        super().__init__(show_command_palette=False)
        self._laid_out: object = None

    def bindings_changed(self, screen: Screen[object]) -> None:
        """Lay the keys out anew if they are others, or other ones are enabled."""
        keys = [(one.binding, one.enabled) for one in screen.active_bindings.values() if one.binding.show]
        if keys != self._laid_out:
            self._laid_out = keys if screen.app.app_focus else None  # without it nothing is laid out now
            super().bindings_changed(screen)
