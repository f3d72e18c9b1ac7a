"""Finding anything by its name: typed, listed as one types, opened by Enter."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from floor.screens.frame.keys import list_keys
from floor.shop.find_named import find_named, list_named
from floor.shop.find_tagged import Place

if TYPE_CHECKING:
    from floor.screens.frame.screen import FloorScreen

Found = Place | str
"""Where something is; or the action of a key."""
MOST = 9
HINT = "Type a name or a part of it.    Esc: cancel"


class FindDialog(ModalScreen["Found | None"]):
    """A line to type in, and below it what goes by those words: things of the shop, then keys of the screen."""

    BINDINGS: ClassVar = [
        Binding("escape", "cancel", "Cancel"),
        Binding("down", "move(1)", show=False),
        Binding("up", "move(-1)", show=False),
    ]
    DEFAULT_CSS = "FindDialog OptionList { min-height: 9; }"

    def __init__(self, screen: FloorScreen) -> None:
        super().__init__()
        self.under = screen
        self.named = list_named(screen.session.shop)
        self.found: list[tuple[str, Found]] = []

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static("Find", classes="dialog-title")
            yield Input(id="find-words", compact=True)
            yield OptionList(markup=False, compact=True)
            yield Static(HINT, classes="dialog-hint")

    def on_mount(self) -> None:
        self.query_one(OptionList).can_focus = False
        self.query_one(Input).focus()

    @on(Input.Changed)
    def typed(self, event: Input.Changed) -> None:
        event.stop()
        named = [(one.text, one.place) for one in find_named(self.named, event.value, MOST)]
        self.found = [*named, *self._find_keys(event.value)][:MOST]
        shown = self.query_one(OptionList)
        shown.clear_options()
        shown.add_options([Option(text) for text, _ in self.found])
        shown.highlighted = 0 if self.found else None
        said = "Enter: open    Esc: cancel" if self.found else "Nothing here has that name.    Esc: cancel"
        self.query_one(".dialog-hint", Static).update(said if event.value.strip() else HINT)

    def _find_keys(self, words: str) -> list[tuple[str, Found]]:
        """Keys of the screen below, by what they do."""
        wanted = words.casefold().split()
        actions = {active.binding.description: active.binding.action for active in self.under.active_bindings.values()}
        rows = [
            (f"Key {row.key}: {row.word}" + (f", {row.said}" if row.said else ""), row.word)
            for row in list_keys(self.under)
        ]
        return [
            (text, actions[word])
            for text, word in rows
            if wanted and word in actions and all(one in text.casefold() for one in wanted)
        ]

    @on(Input.Submitted)
    def entered(self, event: Input.Submitted) -> None:
        event.stop()
        at = self.query_one(OptionList).highlighted
        if self.is_active and at is not None and at < len(self.found):
            self.dismiss(self.found[at][1])

    @on(OptionList.OptionSelected)
    def clicked(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        if self.is_active:
            self.dismiss(self.found[event.option_index][1])

    def action_move(self, by: int) -> None:
        shown = self.query_one(OptionList)
        if self.found:
            shown.highlighted = ((shown.highlighted or 0) + by) % len(self.found)

    def action_cancel(self) -> None:
        if self.is_active:
            self.dismiss(None)
