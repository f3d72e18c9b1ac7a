"""The line of keys at the foot of every screen."""

from __future__ import annotations

from collections.abc import Callable
from itertools import accumulate
from typing import NamedTuple

from textual import events
from textual.binding import Binding
from textual.content import Content
from textual.screen import Screen

from floor.screens.widgets.diff_static import DiffStatic
from floor.text import count_cells

TAKE_BACK = Binding(
    "u", "take_back", "Take back", id="take_back", show=False, tooltip="your last entry, within a minute"
)
NOTE = Binding("n", "note", "Note", id="note", tooltip="a note, also for the next shift")
NEW_LOT = Binding("i", "new_lot", "New lot", id="new_lot", show=False, tooltip="a new bottle, can, coil, bar or gauge")
LARGE_VIEW = Binding("f", "afar", "Large", id="afar", tooltip="large letters, to be read from two meters")
"""The same key wherever there is such a view."""
MORE = " …"


class Key(NamedTuple):
    """One key of the line."""

    key: str
    shown: str
    """The key as a person reads it."""
    does: str
    action: str
    enabled: bool
    tooltip: str

    @property
    def columns(self) -> int:
        """Columns with a blank before the key, one after it, and one after what it does."""
        return count_cells(self.shown) + count_cells(self.does) + 3


class KeyLine(DiffStatic):
    """The keys of the screen in one row of text, none of them cut.

    A widget for each key, as Textual's footer has it, costs a third of opening a screen.
    """

    ALLOW_SELECT = False
    DEFAULT_CSS = """
    KeyLine {
        dock: bottom;
        height: 1;
        text-wrap: nowrap;
        color: $footer-foreground;
        background: $footer-background;
    }
    """

    def __init__(self, is_idle: Callable[[str], bool]) -> None:
        """
        Args:
            is_idle: whether an action does nothing as things are; its key is left out, and says why when it is pressed.
        """
        super().__init__(markup=False)
        self.is_idle = is_idle
        self.keys: list[Key] = []
        """Those there is room for; `MORE` says that there are others, which ``?`` shows."""

    def on_mount(self) -> None:
        self.screen.bindings_updated_signal.subscribe(self, self.show_keys)
        self.show_keys(self.screen)

    def on_resize(self) -> None:
        self.show_keys(self.screen)

    def show_keys(self, screen: Screen[object]) -> None:
        """Show what the keys of a screen do now; one that does nothing now is dim."""
        if not self.is_attached or screen is not self.screen:
            return
        keys: dict[str, Key] = {}
        for _, binding, enabled, tooltip in screen.active_bindings.values():
            if binding.show and not self.is_idle(binding.action):
                shown = self.app.get_key_display(binding)
                one = Key(binding.key, shown, binding.description, binding.action, enabled, tooltip)
                keys.setdefault(binding.action, one)
        found = list(keys.values())
        ends = list(accumulate(one.columns for one in found))
        width = self.app.size.width
        fits = not ends or ends[-1] <= width
        room = width if fits else width - len(MORE)
        self.keys = [one for one, end in zip(found, ends, strict=True) if end <= room]
        self.update(Content.assemble(*map(_draw_key, self.keys), "" if fits else MORE))

    def find_key_at(self, column: int) -> Key | None:
        """The key that stands at a column of the line."""
        ends = accumulate(one.columns for one in self.keys)
        return next((one for one, end in zip(self.keys, ends, strict=True) if column < end), None)

    def on_mouse_move(self, event: events.MouseMove) -> None:
        found = self.find_key_at(event.x)
        self.tooltip = found.tooltip or None if found else None

    def on_mouse_down(self, event: events.MouseDown) -> None:
        found = self.find_key_at(event.x)
        if found is not None and found.enabled:
            self.app.simulate_key(found.key)
        elif found is not None:
            self.app.bell()


def _draw_key(one: Key) -> Content:
    key, does = ("key", "description") if one.enabled else ("off", "off")
    return Content.assemble(
        (f" {one.shown} ", f"bold $footer-{key}-foreground"), (f"{one.does} ", f"$footer-{does}-foreground")
    )
