"""Small dialogs: one question, one typed answer. Escape and silence mean no."""

from __future__ import annotations

from collections.abc import Sequence

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from floor.dataclass import dataclass
from floor.screens.widgets.ordered_input import OrderedInput
from floor.text import LONGEST_TEXT


class TroubleDialog(ModalScreen[None]):
    """Something went wrong that must be read: what, what was kept, what to do."""

    BINDINGS = [Binding("enter,escape", "close", "Understood")]

    def __init__(self, text: str, title: str = "Not done") -> None:
        super().__init__()
        self.text = text
        self.heading = title

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(f"✕ {self.heading}", classes="dialog-title", markup=False)
            yield Static(self.text, markup=False)
            yield Static("Enter: understood", classes="dialog-hint")

    def action_close(self) -> None:
        if self.is_active:
            self.dismiss(None)


class ConfirmDialog(ModalScreen[bool]):
    """Yes or no, with no as the answer to everything but the one key."""

    BINDINGS = [Binding("y", "answer(True)", "Yes"), Binding("n,escape", "answer(False)", "No")]

    def __init__(self, question: str) -> None:
        super().__init__()
        self.question = question

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(self.question, markup=False)
            yield Static("y: yes    n or Esc: no", classes="dialog-hint")

    def action_answer(self, yes: bool) -> None:
        if self.is_active:
            self.dismiss(yes)


@dataclass(frozen=True, slots=True)
class FieldSpec:
    """One line of a form."""

    name: str
    label: str
    value: str = ""
    hint: str = ""
    secret: bool = False
    picks: tuple[str, ...] = ()
    """Phrases offered before typing: F2, F3 … put one in."""
    needed: bool = False
    """Whether it may not stay empty."""
    number: bool = False
    """Whether it takes a number and no letters."""


MOST_PASTED = 100_000
"""Characters of a paste that are looked at; more than is kept is said, so nobody misses the rest."""


class PasteInput(OrderedInput):
    """A field that takes all lines of what is pasted, one behind the other."""

    def _on_paste(self, event: events.Paste) -> None:
        event.prevent_default()
        event.stop()
        line = " ".join(event.text[:MOST_PASTED].split())
        if self.selection.is_empty:
            self.insert_text_at_cursor(line)
        else:
            self.replace(line, *self.selection)


class FieldMarker(Static):
    """Stands before the field that takes what is typed, and before no other (the styles hide it)."""

    def __init__(self) -> None:
        super().__init__("▸", classes="field-mark", markup=False)


class FormDialog(ModalScreen[dict[str, str] | None]):
    """A few fields, one after the other; Enter on the last one answers."""

    DEFAULT_CSS = "Form #form-wrong { color: $error; text-style: bold; height: auto; }"

    BINDINGS = [
        Binding("escape", "cancel", "Cancel"),
        Binding("up", "app.focus_previous", show=False),
        Binding("down", "app.focus_next", show=False),
        *(Binding(f"f{n}", f"pick({n - 2})", show=False, priority=True) for n in range(2, 10)),
    ]

    def __init__(self, title: str, fields: Sequence[FieldSpec], text: str = "") -> None:
        super().__init__()
        self.heading = title
        self.text = text
        self.fields = tuple(fields)

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(self.heading, classes="dialog-title", markup=False)
            if self.text:
                yield Static(self.text, markup=False)
            for field in self.fields:
                with Horizontal(classes="field"):
                    yield FieldMarker()
                    yield Static(field.label, classes="field-label", markup=False)
                    yield PasteInput(field.value, id=f"field-{field.name}", compact=True, password=field.secret)
                if field.hint:
                    yield Static(field.hint, classes="field-hint", markup=False)
                for n, pick in enumerate(field.picks[:8]):
                    yield Static(f"F{n + 2}  {pick}", classes="field-hint", markup=False)
            yield Static(id="form-wrong", markup=False)
            yield Static("Enter: next, then done    Esc: cancel", classes="dialog-hint")

    def on_mount(self) -> None:
        self.query(Input).first().focus()

    def action_pick(self, n: int) -> None:
        """Put an offered phrase into the field that has the focus."""
        focused = self.focused
        if isinstance(focused, Input) and focused.id:
            field = next(field for field in self.fields if f"field-{field.name}" == focused.id)
            if n < len(field.picks):
                focused.value = field.picks[n]
                focused.cursor_position = len(focused.value)

    @on(Input.Changed)
    def typed_anew(self) -> None:
        self.query_one("#form-wrong", Static).update("")

    @on(Input.Submitted)
    def next_or_done(self, event: Input.Submitted) -> None:
        event.stop()
        inputs = list(self.query(Input))
        place = inputs.index(event.input)
        field = self.fields[place]
        wrong, over = "", len(event.value) - LONGEST_TEXT
        if field.needed and not event.value.strip():
            wrong = f"✕ {field.label}: may not stay empty"
        elif over > 0:
            wrong = f"✕ {field.label}: {over} characters more than the {LONGEST_TEXT} that are kept. Shorten it."
        self.query_one("#form-wrong", Static).update(wrong)
        if wrong:
            return  # what is typed next is still text, and no key of the screen behind
        if place + 1 < len(inputs):
            inputs[place + 1].focus()
        elif self.is_active:
            self.dismiss({field.name: self.query_one(f"#field-{field.name}", Input).value for field in self.fields})

    def action_cancel(self) -> None:
        if self.is_active:
            self.dismiss(None)


@dataclass(frozen=True, slots=True)
class Choice:
    key: str
    """What is answered."""
    text: str
    letter: str = ""
    """The letter that always means this one; the next of the alphabet where there is none."""


class ChoiceDialog(ModalScreen[str | None]):
    """One of a few: by its letter, by cursor and Enter, or by mouse."""

    BINDINGS = [Binding("escape", "cancel", "Cancel")]
    LETTERS = "abcdefghijklmnopqrstuvwxyz"

    def __init__(self, title: str, choices: Sequence[Choice], text: str = "") -> None:
        super().__init__()
        self.heading = title
        self.text = text
        self.choices = tuple(choices)[: len(self.LETTERS)]
        self.letters = [choice.letter or self.LETTERS[n] for n, choice in enumerate(self.choices)]

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(self.heading, classes="dialog-title", markup=False)
            if self.text:
                yield Static(self.text, markup=False)
            yield OptionList(
                *(Option(f"{self.letters[n]}  {choice.text}", id=str(n)) for n, choice in enumerate(self.choices)),
                markup=False,
                compact=True,
            )
            yield Static("letter, or ↑ ↓ and Enter    Esc: cancel", classes="dialog-hint")

    def on_key(self, event: events.Key) -> None:
        if event.key in self.letters:
            event.stop()
            self._answer(self.letters.index(event.key))

    @on(OptionList.OptionSelected)
    def chosen(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self._answer(event.option_index)

    def _answer(self, n: int) -> None:
        if self.is_active:
            self.dismiss(self.choices[n].key)

    def action_cancel(self) -> None:
        if self.is_active:
            self.dismiss(None)
