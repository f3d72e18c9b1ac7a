"""Fields to type in, each with its error in words below it, and a dialog that stays open until they are right."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.message import Message
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from floor.batch.command import Refused
from floor.ledger import LedgerError
from floor.screens.forms.dialogs import FieldMarker, FieldSpec
from floor.screens.widgets.ordered_input import OrderedInput

Values = Mapping[str, str]
"""What was typed, by the names of the fields."""
Errors = Mapping[str, str]
"""What is wrong, by the names of the fields; under the empty name what concerns no single one."""


class FieldGroup(Vertical):
    """Fields one below the other. Enter goes on to the next; on the last it says that all is entered."""

    DEFAULT_CSS = """
    FieldGroup { height: auto; }
    FieldGroup .field-error { display: none; color: $error; text-style: bold; }
    FieldGroup .field-error.-shown { display: block; }
    FieldGroup .field-aside { width: auto; padding: 0 0 0 1; color: $secondary; }
    """

    BINDINGS: ClassVar = [
        Binding("up", "app.focus_previous", show=False),
        Binding("down", "app.focus_next", show=False),
        *(Binding(f"f{n}", f"pick({n - 2})", show=False) for n in range(2, 10)),
    ]

    class Entered(Message):
        """All is entered: Enter on the last field."""

        def __init__(self, values: Values) -> None:
            super().__init__()
            self.values = values

    def __init__(self, fields: Sequence[FieldSpec], id: str | None = None) -> None:
        super().__init__(id=id)
        self.fields = tuple(fields)

    def compose(self) -> ComposeResult:
        for field in self.fields:
            with Horizontal(classes="field"):
                yield FieldMarker()
                yield Static(field.label, classes="field-label", markup=False)
                yield OrderedInput(
                    field.value,
                    number=field.number,
                    id=f"field-{field.name}",
                    compact=True,
                    password=field.secret,
                    max_length=120,
                )
                yield Static(field.hint, classes="field-aside", markup=False)
            for n, pick in enumerate(field.picks):
                yield Static(f"F{n + 2}  {pick}", classes="field-hint", markup=False)
            yield Static(id=f"error-{field.name}", classes="field-error", markup=False)
        yield Static(id="error-", classes="field-error", markup=False)

    def input(self, name: str) -> Input:
        return self.query_one(f"#field-{name}", Input)

    @property
    def values(self) -> dict[str, str]:
        return {field.name: self.input(field.name).value for field in self.fields}

    def show_errors(self, errors: Errors) -> None:
        """Put each error below its field and go to the first wrong one, to type it again; secrets from there on too."""
        for name in (*(field.name for field in self.fields), ""):
            said = self.query_one(f"#error-{name}", Static)
            said.update(f"✕ {errors[name]}" if name in errors else "")
            said.set_class(name in errors, "-shown")
        wrong = [field.name for field in self.fields if field.name in errors]
        if not wrong:
            return
        place = [field.name for field in self.fields].index(wrong[0])
        for field in self.fields[place:]:
            if field.secret:
                with self.prevent(Input.Changed):
                    self.input(field.name).value = ""
        self.input(wrong[0]).focus()
        self.input(wrong[0]).select_all()  # what is typed next takes the place of what is wrong

    def action_pick(self, n: int) -> None:
        """Put an offered phrase into the field that has the focus."""
        for field in self.fields:
            input = self.input(field.name)
            if input.has_focus and n < len(field.picks):
                input.value = field.picks[n]
                input.cursor_position = len(input.value)

    @on(OrderedInput.NotInANumber)
    def letter(self, event: OrderedInput.NotInANumber) -> None:
        event.stop()
        field = next(field for field in self.fields if self.input(field.name) is event.field)
        self.say_wrong(field.name, f"{field.label} {event.said}")

    def say_wrong(self, name: str, text: str) -> None:
        """Say below a field what is wrong with what stands in it, while it is being typed."""
        said = self.query_one(f"#error-{name}", Static)
        said.update(f"✕ {text}")
        said.add_class("-shown")

    @on(Input.Changed)
    def mended(self, event: Input.Changed) -> None:
        """What is being typed again is not wrong until it is entered."""
        self.query_one(f"#{(event.input.id or '').replace('field-', 'error-', 1)}").remove_class("-shown")

    @on(Input.Submitted)
    def next_or_done(self, event: Input.Submitted) -> None:
        event.stop()
        inputs = list(self.query(Input))
        place = inputs.index(event.input)
        if place + 1 < len(inputs):
            inputs[place + 1].focus()
        else:
            self.post_message(self.Entered(self.values))


class FieldsDialog(ModalScreen[bool]):
    """A dialog of fields that is done only when what was typed was taken; True then, False on Escape."""

    BINDINGS: ClassVar = [Binding("escape", "cancel", "Cancel")]

    def __init__(
        self, title: str, fields: Sequence[FieldSpec], attempt: Callable[[Values], Errors], text: str = ""
    ) -> None:
        """
        Args:
            attempt: carries out what was typed; the errors, or nothing when it was taken. What it raises of
                refusals and errors of the record is shown too.
        """
        super().__init__()
        self.heading = title
        self.fields = tuple(fields)
        self.attempt = attempt
        self.text = text

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(self.heading, classes="dialog-title", markup=False)
            if self.text:
                yield Static(self.text, markup=False)
            yield FieldGroup(self.fields)
            yield Static("Enter: next, then done    Esc: cancel", classes="dialog-hint")

    def on_mount(self) -> None:
        self.query(Input).first().focus()

    @on(FieldGroup.Entered)
    def entered(self, event: FieldGroup.Entered) -> None:
        event.stop()
        if not self.is_active:
            return
        errors = collect_errors(self.attempt, event.values)
        if errors:
            self.query_one(FieldGroup).show_errors(errors)
        else:
            self.dismiss(True)

    def action_cancel(self) -> None:
        if self.is_active:
            self.dismiss(False)


def collect_errors(attempt: Callable[[Values], Errors], values: Values) -> Errors:
    """The errors of an attempt, with a refusal or an error of the record as one that concerns no single field."""
    try:
        return attempt(values)
    except (Refused, LedgerError) as error:
        return {"": str(error)}


def parse_number(text: str) -> int | str:
    """The number that was typed, or what was typed instead."""
    text = text.strip()
    return int(text) if text.isdecimal() else text or "empty"
