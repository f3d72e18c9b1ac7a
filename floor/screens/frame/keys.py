"""All keys of a screen, with what each does: behind ``?`` everywhere."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen, Screen
from textual.widgets import Static

from floor.text import count_cells, set_out, wrap_text

NOT_OURS = ("app.focus_", "screen.copy_text", "app.maximize", "screen.minimize")
"""Beginnings of actions that the library gives every screen and nobody needs here."""
EVERYWHERE = {"back", "abnormal", "find_anything", "keys"}
"""Names of the frame's own keys, the same on all screens."""
NAMES = {"⏎": "Enter", "esc": "Esc", "space": "Space", "pgup": "PgUp", "pgdn": "PgDn", "home": "Home", "end": "End"}
"""Keys as their caps and the README have them; the line at the foot has less room."""
WIDTH = 68
"""Columns of text in the dialog, beside its edges and the bar that scrolls it."""
EDGES = 4
"""Rows of the dialog beside the text: edges, title, hint."""


class Row(NamedTuple):
    """A line of the keys."""

    key: str
    word: str
    said: str
    """What it does in a few words more."""
    everywhere: bool = False
    """Whether all screens have it."""


IN_LISTS = Row("↑ ↓", "Move", "in a list or a text; PgUp PgDn Home End too", True)


def list_keys(screen: Screen[Any]) -> list[Row]:
    """Each key of the screen by its name, and what it does, those of all screens last.

    Keys with the same word stand in one line; keys that have no meaning now are left out.
    """
    found: dict[str, tuple[list[str], Binding, bool]] = {}
    for active in screen.active_bindings.values():
        binding = active.binding
        if not binding.description or binding.action.startswith(NOT_OURS) or active.node not in (screen, screen.app):
            continue
        key, everywhere = name_key(screen.app.get_key_display(binding)), binding.id in EVERYWHERE
        keys, _, _ = found.setdefault(binding.description, ([], binding, everywhere or active.node is screen.app))
        if key not in keys:
            keys.append(key)
    rows = [Row(" ".join(keys), one.description, one.tooltip, everywhere) for keys, one, everywhere in found.values()]
    return sorted(rows, key=lambda row: row.everywhere)


def name_key(shown: str) -> str:
    """A key as its cap has it: `Ctrl+Q` for `^q`."""
    if shown.startswith("^"):
        return f"Ctrl+{shown[1:].upper()}"
    return NAMES.get(shown, shown.upper() if shown[0] == "f" and shown[1:].isdecimal() else shown)


class KeysDialog(ModalScreen[None]):
    """What to do on the screen below, and its keys; any other key puts them away."""

    DEFAULT_CSS = """
    KeysDialog VerticalScroll { height: auto; scrollbar-size-vertical: 1; }
    """
    AUTO_FOCUS = ""

    def __init__(self, title: str, keys: list[Row], guide: Sequence[str] = ()) -> None:
        super().__init__()
        self.guide = guide
        self.heading = title
        self.keys = keys

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(f"Keys: {self.heading}", classes="dialog-title", markup=False)
            with VerticalScroll(can_focus=False):
                yield Static(id="keys")
            yield Static("any key: back", classes="dialog-hint")

    def on_mount(self) -> None:
        self._fit()

    def on_resize(self) -> None:
        self._fit()

    def _fit(self) -> None:
        """Draw them for the screen as large as it is now."""
        self.query_one(VerticalScroll).styles.max_height = max(self.app.size.height - EDGES, 1)
        self.query_one("#keys", Static).update(Content("\n").join(self._draw()))

    def _draw(self) -> list[Content]:
        """Guide and keys on one page: where the rows are few, the keys of all screens share theirs."""
        width, height = min(WIDTH, self.app.size.width - 8), self.app.size.height - EDGES
        rows = self.keys if any("↑" in row.key for row in self.keys) else [*self.keys, IN_LISTS]
        guide = [line for text in self.guide for line in _draw_guide(text, width)]
        lines = _draw_rows(rows, width)
        if len(guide) + 1 + len(lines) > height:
            shared = [f"{row.key} {row.word}" for row in rows if row.everywhere]
            lines = _draw_rows([row for row in rows if not row.everywhere], width)
            lines += [Content.styled(line, "$secondary") for line in set_out(shared, width, gap="  ")]
        gap = [Content("")] if guide and len(guide) + 1 + len(lines) <= height else []
        return [*guide, *gap, *lines]

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


def _draw_guide(text: str, width: int) -> list[Content]:
    """A line of a guide, its keys as bold as those of the list."""
    parts = text.split("`")
    return Content.assemble(*((part, "bold $accent" if n % 2 else "") for n, part in enumerate(parts))).wrap(width)


def _draw_rows(rows: Sequence[Row], width: int) -> list[Content]:
    """A line for each key, or several where what it does is long."""
    wide, worded = max(count_cells(row.key) for row in rows), max(count_cells(row.word) for row in rows)
    room = max(width - wide - worded - 4, 10)
    indent = " " * (wide + worded + 4)
    return [
        line
        for row in rows
        for line in Content.assemble(
            (f"{' ' * (wide - count_cells(row.key))}{row.key}", "bold $accent"),
            f"  {row.word:<{worded}}  ",
            (f"\n{indent}".join(wrap_text(row.said, width=room)), "$secondary"),
        ).split("\n")
    ]
