"""All keys of a screen, with what each does: behind ``?`` everywhere."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen, Screen
from textual.widgets import Static

from floor.text import count_cells, wrap_text

NOT_OURS = ("app.focus_", "screen.copy_text", "app.maximize", "screen.minimize")
"""Beginnings of actions that the library gives every screen and nobody needs here."""
WIDTH = 68
"""Columns of text in the dialog, beside its edges and the bar that scrolls it."""
Row = tuple[str, str, str]
"""Key, word, and what it does in a few words more."""
IN_LISTS: Row = ("↑ ↓", "Move", "in a list or a text; PgUp PgDn Home End too")


def list_keys(screen: Screen[Any]) -> list[Row]:
    """Each key of the screen as it is shown, and what it does, those of the whole program last.

    Keys with the same word stand in one line; keys that have no meaning now are left out.
    """
    found: dict[str, tuple[list[str], Binding, bool]] = {}
    for active in screen.active_bindings.values():
        binding, app_wide = active.binding, active.node is screen.app
        if not binding.description or binding.action.startswith(NOT_OURS) or active.node not in (screen, screen.app):
            continue
        shown = screen.app.get_key_display(binding)
        keys, _, _ = found.setdefault(binding.description, ([], binding, app_wide))
        if shown not in keys:
            keys.append(shown)
    ordered = sorted(found.values(), key=lambda one: one[2])
    return [(" ".join(keys), binding.description, binding.tooltip) for keys, binding, _ in ordered]


class KeysDialog(ModalScreen[None]):
    """The keys of the screen below; any other key puts them away."""

    DEFAULT_CSS = """
    KeysDialog VerticalScroll { height: auto; max-height: 20; scrollbar-size-vertical: 1; }
    """
    AUTO_FOCUS = ""

    def __init__(self, title: str, keys: list[Row], guide: Sequence[str] = ()) -> None:
        super().__init__()
        self.guide = guide
        self.heading = title
        self.keys = keys

    def compose(self) -> ComposeResult:
        rows = self.keys if any("↑" in key for key, _, _ in self.keys) else [*self.keys, IN_LISTS]
        wide, worded = (max(count_cells(row[n]) for row in rows) for n in (0, 1))
        room = max(min(WIDTH, self.app.size.width - 8) - wide - worded - 4, 10)
        with Vertical(classes="dialog"):
            yield Static(f"Keys: {self.heading}", classes="dialog-title", markup=False)
            with VerticalScroll(can_focus=False):
                lines = [
                    Content.assemble(
                        (f"{' ' * (wide - count_cells(key))}{key}", "bold $accent"),
                        f"  {word:<{worded}}  ",
                        (f"\n{' ' * (wide + worded + 4)}".join(wrap_text(said, width=room)), "$secondary"),
                    )
                    for key, word, said in rows
                ]
                above = [*map(Content, self.guide), Content("")] if self.guide else []
                yield Static(Content("\n").join([*above, *lines]))
            yield Static("any key: back", classes="dialog-hint")

    def on_key(self, event: events.Key) -> None:
        """Arrows scroll where there are more than there is room for; every other key puts them away."""
        event.stop()
        event.prevent_default()
        box = self.query_one(VerticalScroll)
        if event.key in ("down", "up") and box.max_scroll_y:
            box.scroll_relative(y=1 if event.key == "down" else -1, animate=False)
        elif self.is_active:
            self.dismiss(None)

    def on_click(self) -> None:
        if self.is_active:
            self.dismiss(None)
