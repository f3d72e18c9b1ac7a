"""The one kind of form: its fields one below the other, gone over by Enter; nothing is lost that was typed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import ClassVar, Protocol, runtime_checkable

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Input, Static

from floor.batch.command import Refused
from floor.batch.tag import is_tag
from floor.screens.forms.field_rows import (
    MOST_PICKS,
    TINY,
    ErrorLine,
    FieldLabel,
    FormInput,
    compute_label_room,
    has_room_beside,
    list_rows,
)
from floor.screens.forms.fields import Errors, FieldSpec, Values, describe_refusal
from floor.screens.widgets.diff_static import DiffStatic
from floor.screens.widgets.ordered_input import OrderedInput
from floor.text import join_sentences, wrap_text

SEEN_AGAIN = "Read what you entered before: Enter keeps it, typing replaces it"
NOT_FOR_A_FIELD = "No lot, gauge or person has this tag. Type the value, or Esc and scan to open it"


@runtime_checkable
class TagReader(Protocol):
    """A program that knows what tags are on."""

    def name_tagged(self, text: str, tool_at: str = "") -> str:
        """What a tag scanned into a field stands for; empty if it stands for nothing that is typed."""


class Form(Vertical):
    """Fields one below the other. Enter goes on to the next; on the last it says that all is entered.

    After a refusal Enter goes over every later field again, filled or not; where the refused one says what the others
    are of (tool, lot, gauge), over all of them.

    In a panel it is short of rows: its fields stand close, and whatever is wrong is said in one line below them.
    """

    DEFAULT_CSS = """
    Form { height: auto; }
    Form .form-fields { height: auto; }
    Form .field-error { display: none; height: auto; color: $error; text-style: bold; }
    Form .field-error.-shown { display: block; }
    Form .field-aside { width: auto; padding: 0 0 0 1; color: $secondary; }
    """

    BINDINGS: ClassVar = [
        Binding("up", "move(-1)", show=False),
        Binding("down", "move(1)", show=False),
        *(Binding(f"f{n}", f"pick({n - 2})", show=False) for n in range(2, MOST_PICKS + 2)),
    ]

    class Entered(Message):
        """All is entered: Enter on the last field."""

        def __init__(self, about: str, texts: Mapping[str, list[str]]) -> None:
            super().__init__()
            self.about = about
            """What the form that was entered is about."""
            self.texts = texts
            """By name, of each field that has it."""

        @property
        def values(self) -> Values:
            return {name: texts[0] for name, texts in self.texts.items()}

    class Mended(Message):
        """What was wrong has been typed anew."""

    def __init__(self, fields: Sequence[FieldSpec] = (), *, id: str | None = None, in_panel: bool = False) -> None:
        super().__init__(id=id)
        self.in_panel = in_panel
        self.set_class(in_panel, "-panel")
        self.about = ""
        """What is asked for, where the same form asks for one thing after the other; empty for nothing."""
        self.inputs: list[Input] = []
        self._refused: list[str] = []
        """What stood in them when something was wrong; a scanner types faster than a field reports its changes."""
        self._unseen: set[int] = set()
        """Fields that belong to what was refused; each is gone over before all is entered again."""
        self._error = ErrorLine(None if in_panel else "error-")
        self.display = not in_panel
        self._take(fields)

    def _take(self, fields: Sequence[FieldSpec]) -> None:
        self.fields = tuple(fields)
        self._labels = [FieldLabel(field.label) for field in self.fields]
        self.inputs = [self._build(field) for field in self.fields]
        self._errors = [] if self.in_panel else [ErrorLine(f"error-{field.name}") for field in self.fields]
        self._asides = [_make_asides(field.say_beside(field.value)) for field in self.fields if self.in_panel]
        self._unseen = set()

    def _build(self, field: FieldSpec) -> Input:
        made = FormInput(
            field.value,
            number=field.number,
            unit=field.unit,
            name=field.name,
            id=None if self.in_panel else f"field-{field.name}",
            compact=True,
            password=field.secret,
            select_on_focus=not self.in_panel,
        )
        made.ended = self._end
        return made

    def compose(self) -> ComposeResult:
        with Vertical(classes="form-fields"):
            yield from self._rows()
        yield self._error

    def _rows(self) -> Iterator[Static | Horizontal]:
        if self.in_panel:
            self._fit_labels()
        for n, (field, label, input) in enumerate(zip(self.fields, self._labels, self.inputs, strict=True)):
            asides = self._asides[n] if self.in_panel else ()
            yield from list_rows(field, label, input, self._errors[n : n + 1], asides)

    def _find_columns(self) -> int:
        panel = self.parent  # without columns of its own until it is laid out
        columns = panel.size.width if isinstance(panel, Vertical) else 0
        return columns or self.app.size.width

    def _compute_label_room(self) -> int:
        return compute_label_room(self.fields, self._find_columns(), self.app.size.width)

    def _fit_labels(self) -> None:
        """Show the label at the cursor whole, the others in one line each."""
        room = self._compute_label_room()
        for field, (beside, below) in zip(self.fields, self._asides, strict=True):
            beside.display = has_room_beside(field, room, self._find_columns())
            below.display = not beside.display
        for label, input in zip(self._labels, self.inputs, strict=True):
            label.fit(room, whole=input.has_focus or len(self.fields) == 1)

    def count_rows(self) -> int:
        """Rows that the fields take in a panel: a long label has several while the cursor is in its field."""
        room = self._compute_label_room()
        rows = [len(wrap_text(field.label, width=room)) for field in self.fields]
        below = sum(not has_room_beside(field, room, self._find_columns()) for field in self.fields)
        return len(rows) - 1 + max(rows) + below if rows else 0

    def ask(self, about: str, fields: Sequence[FieldSpec]) -> None:
        """Ask for something else, with the cursor in the first field that is wanted still."""
        self.clear()
        self.about = about
        self._take(fields)
        self.display = True
        self.query_one(".form-fields").mount(*self._rows())
        self.screen.call_after_refresh(self._begin)

    def clear(self) -> None:
        """Ask for nothing, out of sight."""
        self.about = ""
        self._take(())
        self.show_errors({})
        self.query_one(".form-fields").remove_children()
        self.display = False
        self.screen.set_focus(None)

    def _begin(self) -> None:
        wanted = next((input for field, input in zip(self.fields, self.inputs, strict=True) if not field.kept), None)
        if wanted is not None:
            wanted.focus()
            self._keep_in_sight(wanted)

    def on_resize(self) -> None:
        """Labels leave the fields their room on a narrower screen too, and the cursor stays in sight."""
        self.set_class(self.app.size.width < TINY, "-tiny")
        if self.in_panel:
            self._fit_labels()
        at = self._find_focused()
        if at is not None:
            self._keep_in_sight(self.inputs[at])

    def _keep_in_sight(self, field: Widget) -> None:
        self.call_after_refresh(field.scroll_visible, animate=False)  # its place is known by then

    def _find_focused(self) -> int | None:
        """The field that takes what is typed."""
        return next((n for n, input in enumerate(self.inputs) if input.has_focus), None)

    def focus_first(self) -> None:
        if self.inputs:
            self.inputs[0].focus()

    def input(self, name: str) -> Input:
        return next(input for input in self.inputs if input.name == name)

    @property
    def values(self) -> dict[str, str]:
        return {field.name: self.input(field.name).value for field in self.fields}

    # --- keys --------------------------------------------------------------------------------------------------

    def action_move(self, by: int) -> None:
        """From field to field; what is typed stays."""
        at = self._find_focused()
        if at is not None and 0 <= at + by < len(self.inputs):
            self.inputs[at + by].focus()

    @on(events.DescendantFocus)
    def gone_to(self, event: events.DescendantFocus) -> None:
        self._unseen -= {n for n, input in enumerate(self.inputs) if input is event.widget and input.has_focus}
        if self.in_panel:
            self._fit_labels()
            self._keep_in_sight(event.widget)  # its row may have grown

    def action_pick(self, n: int) -> None:
        """Put an offered phrase into the field that has the focus."""
        at = self._find_focused()
        if at is not None and n < len(self.fields[at].picks):
            input, pick = self.inputs[at], self.fields[at].picks[n]
            input.value, input.cursor_position = pick, len(pick)

    def _end(self, ended: Input, typed: str) -> None:
        """Enter: at once to the next field, for what is typed next is for it; or all is entered."""
        if ended not in self.inputs:
            return  # ended a second time while what it asked for was being recorded
        at = self.inputs.index(ended)
        if is_tag(typed) and not self.fields[at].secret:
            typed = ended.value = self._name_tagged(typed, self.fields[at].tool_at)
            if not typed:
                self._show({at: NOT_FOR_A_FIELD})
                return
        typed_in = [typed if input is ended else input.value for input in self.inputs]
        self._unseen.discard(at)
        onward = self._find_onward(at)
        if onward is not None:
            if fault := self._find_fault_now(self.fields[at], typed):
                self._show({at: fault})
            else:
                if onward < at:
                    self._say_at(onward, SEEN_AGAIN)
                self._go_on(onward)
            return
        wrong = {n: fault for n, text in enumerate(typed_in) if (fault := self.fields[n].find_fault(text))}
        if wrong:
            self._show(wrong)  # what is typed next is still text, and no key of the screen behind
            return
        texts: dict[str, list[str]] = {}
        for field, text in zip(self.fields, typed_in, strict=True):
            texts.setdefault(field.name, []).append(text)
        self.post_message(self.Entered(self.about, texts))

    def _go_on(self, onward: int) -> None:
        """To a field; what was entered before and is read again is replaced by what is typed."""
        if onward in self._unseen:
            self.inputs[onward].select_all()
        self._unseen.discard(onward)
        self.screen.set_focus(self.inputs[onward])

    def refuse_tag(self, field: Input) -> None:
        """Say at a field that a scanned tag is no value of it; what stands there stays."""
        self._show({self.inputs.index(field): NOT_FOR_A_FIELD})

    def _find_onward(self, at: int) -> int | None:
        """The field that Enter goes to; None where all is entered. Nothing that was refused goes in unseen."""
        asked = (n for n in range(at + 1, len(self.fields)) if n in self._unseen or not self._is_known(n))
        return next(asked, min(self._unseen, default=None))

    def _is_known(self, n: int) -> bool:
        return self.fields[n].known and self.inputs[n].value == self.fields[n].value

    def _name_tagged(self, text: str, tool_at: str) -> str:
        return self.app.name_tagged(text, tool_at) if isinstance(self.app, TagReader) else ""

    def find_tool_station(self, field: Input) -> str:
        """The station whose tools a field takes by their tags; empty for any other field."""
        return self.fields[self.inputs.index(field)].tool_at if field in self.inputs else ""

    def _find_fault_now(self, field: FieldSpec, typed: str) -> str:
        """What is wrong with a field that is left for the next; a value of a panel is judged with the others."""
        now = not self.in_panel or (field.needed and not typed.strip()) or len(typed) > field.longest
        return field.find_fault(typed) if now else ""

    # --- what is wrong -----------------------------------------------------------------------------------------

    @property
    def wrong(self) -> str:
        """What is said to be wrong; empty where nothing is."""
        return next((one.said for one in (*self._errors, self._error) if one.said), "")

    def show_errors(self, errors: Errors) -> None:
        """Say each error at its field and go to the first wrong one, to type it again; secrets from there on too."""
        at = {self._find(name): text for name, text in errors.items()}
        self._show({n: text for n, text in at.items() if n is not None}, at.get(None, ""))

    def show_refused(self, refused: Refused) -> None:
        """Say what the rules refuse at the field that it is about."""
        at = self._find(refused.field, refused.place)
        if at is None:
            self._show({}, describe_refusal(refused))
        else:
            self._show({at: str(refused)})

    def type_again(self, name: str, place: int) -> None:
        """Put the cursor into a field, of several that ask for the same into the one at that place."""
        at = self._find(name, place)
        if at is not None:
            self.screen.set_focus(self.inputs[at])
            self.inputs[at].select_all()

    def say_wrong(self, name: str, text: str) -> None:
        """Say at a field what is wrong with what stands in it, while it is being typed."""
        n = self._find(name)
        if n is not None:
            self._say_at(n, text)

    def _say_at(self, n: int, text: str) -> None:
        (self._error if self.in_panel else self._errors[n]).say(text)
        self._refused = [input.value for input in self.inputs]

    def _find(self, name: str, place: int = 0) -> int | None:
        """The field that asks for a value, of several the one at that place; None where none does."""
        named = [n for n, field in enumerate(self.fields) if field.name == name]
        return named[place] if place < len(named) else None

    def _show(self, wrong: Mapping[int, str], of_all: str = "") -> None:
        first = min(wrong, default=None)
        for n, line in enumerate(self._errors):
            line.say(wrong.get(n, ""))
        self._error.say(wrong[first] if self.in_panel and first is not None else of_all)
        if first is not None:
            for field, input in zip(self.fields[first:], self.inputs[first:], strict=True):
                if field.secret:
                    with self.prevent(Input.Changed):
                        input.value = ""
            other = self.fields[first].identity and self.inputs[first].value.strip()
            self._unseen = set(range(0 if other else first + 1, len(self.fields))) - {first}
            self.screen.set_focus(self.inputs[first])
        again = first if first is not None else self._find_focused()
        if again is not None and self.wrong:
            self.inputs[again].select_all()  # what is typed next takes the place of what is wrong
        self._refused = [input.value for input in self.inputs]

    @on(OrderedInput.NotInANumber)
    def letter_typed(self, event: OrderedInput.NotInANumber) -> None:
        event.stop()
        if event.field in self.inputs:
            n = self.inputs.index(event.field)
            self._say_at(n, join_sentences(f"{self.fields[n].label} {event.said}"))

    @on(Input.Changed)
    def typed(self, event: Input.Changed) -> None:
        """What is being typed again is not wrong until it is entered; what stands beside it follows."""
        if event.input not in self.inputs:
            return
        n = self.inputs.index(event.input)
        field, row = self.fields[n], event.input.parent
        if field.beside is not None and row is not None:
            for one in self._asides[n] if self._asides else row.query(".field-aside").results(Static):
                one.update(field.beside(event.value))
        if n < len(self._refused) and event.input.value != self._refused[n] and self.wrong:
            for line in (*self._errors[n : n + 1], self._error):
                line.say("")
            self.post_message(self.Mended())


def _make_asides(aside: str) -> tuple[DiffStatic, DiffStatic]:
    """What stands beside a field of a panel, or below."""
    return DiffStatic(aside, classes="field-aside", markup=False), DiffStatic(aside, classes="field-hint", markup=False)
