"""One kind of form: a field for each description, its error in words, and nothing lost that was typed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import ClassVar, NamedTuple, Protocol, runtime_checkable

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.message import Message
from textual.widgets import Input, Static

from floor.batch.command import Refused
from floor.batch.tag import is_tag
from floor.dataclass import dataclass
from floor.ledger import LedgerError
from floor.screens.widgets.diff_static import DiffStatic
from floor.screens.widgets.ordered_input import OrderedInput
from floor.text import LONGEST_TEXT, count_cells, cut_name, format_count, join_sentences, wrap_text

BESIDE = 29
"""Cells of a hint that has room beside its field."""
MOST_PICKS = 8
"""Phrases offered for a field: F2 to F9."""
MOST_PASTED = 100_000
"""Characters of a paste that are looked at; more than is kept is said, so nobody misses the rest."""
LABEL_ROOM = 46
"""Cells of a line of a label in a panel; at 80 columns the field and what stands beside it have theirs."""
LEAST_LABEL = 18
"""Cells that a label in a panel keeps beside long limits: its place, and what tells it from the others."""
FIELD_ROOM = 22
"""Cells that a field in a panel needs, with its mark and the edges, where the screen is narrow."""
BAND_ROOM = 17
"""Cells of the band that is drawn behind the limits of a number, with the gaps and the edge."""

SHORT_TEXT = 60
"""Characters up to which a text of a form in a panel leaves room beside its field; a longer one takes all of it."""

NOT_FOR_A_FIELD = "No lot, gauge or person has this tag. Type the value, or Esc and scan to open it"

Values = Mapping[str, str]
"""What was typed, by the names of the fields."""
Errors = Mapping[str, str]
"""What is wrong, by the names of the fields; under the empty name what concerns no single one."""


@dataclass(frozen=True, slots=True)
class FieldSpec:
    """One field of a form."""

    name: str
    """Unique in a dialog; several fields of a panel may ask for the same value of several pieces."""
    label: str
    value: str = ""
    hint: str = ""
    secret: bool = False
    picks: tuple[str, ...] = ()
    """Phrases offered before typing: F2, F3 … put one in."""
    needed: bool = False
    """Whether Enter goes no further while it is empty."""
    number: bool = False
    """Whether it takes a number and no letters but those of its unit: a scanned lot would pass as a reading."""
    unit: str = ""
    """The unit of the number, which may be typed behind it."""
    kept: bool = False
    """Whether what stands in it is right already: the cursor does not begin there."""
    known: bool = False
    """Whether it can be nothing else: Enter passes it by, unless something else was typed or is wrong."""
    identity: bool = False
    """Whether it says what the other values are of: where it is wrong, they are gone over too."""
    beside: Callable[[str], str] | None = None
    """What stands beside it of what is typed in it; without, its hint."""
    check: Callable[[str], str] | None = None
    """What is wrong with a text, empty where nothing is; asked before anything is carried out."""
    longest: int = LONGEST_TEXT
    """Characters that are kept."""

    def find_fault(self, typed: str) -> str:
        """What is wrong with a text that no rule has to be asked about; empty where nothing is."""
        over = len(typed) - self.longest
        if self.needed and not typed.strip():
            return f"{self.label}: may not stay empty"
        if over > 0:
            too_many = format_count(over, "character")
            return f"{self.label}: {too_many} more than the {self.longest} that are kept. Shorten it."
        return self.check(typed) if self.check is not None else ""


class Typed(NamedTuple):
    """What somebody typed in a field, and which one."""

    name: str
    label: str
    text: str


@runtime_checkable
class TagReader(Protocol):
    """A program that knows what tags are on."""

    def name_tagged(self, text: str) -> str:
        """What a tag scanned into a field stands for; empty if it stands for nothing that is typed."""


class FormInput(OrderedInput):
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


class ErrorLine(Static):
    """What is wrong, in words; out of sight while nothing is."""

    def __init__(self, id: str | None = None) -> None:
        super().__init__(id=id, classes="field-error", markup=False)
        self.said = ""

    def say(self, text: str) -> None:
        self.said = text
        self.update(f"✕ {text}" if text else "")
        self.set_class(bool(text), "-shown")


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
        self.inputs = [self._build(field) for field in self.fields]
        self._errors = [] if self.in_panel else [ErrorLine(f"error-{field.name}") for field in self.fields]
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
        """Of each field its row, the hint that has no room in it, what is offered for it and its error."""
        room = self._label_room()
        for n, (field, input) in enumerate(zip(self.fields, self.inputs, strict=True)):
            label = DiffStatic(field.label, classes="field-label", markup=False)
            if self.in_panel:
                self._fit_label(n, label, room)
            aside = _say_beside(field, input.value)
            fits = self.in_panel or len(aside) <= BESIDE
            beside = DiffStatic(aside if fits else "", classes="field-aside", markup=False)
            row = Horizontal(FieldMarker(), label, input, beside, classes="field")
            row.set_class(field.longest > SHORT_TEXT, "-long")
            row.set_class(field.number and field.longest <= SHORT_TEXT, "-number")
            yield row
            if not fits:
                yield Static(aside, classes="field-hint", markup=False)
            for offer, pick in enumerate(field.picks[:MOST_PICKS], start=2):
                yield Static(f"F{offer}  {pick}", classes="field-hint", markup=False)
            yield from self._errors[n : n + 1]

    def _label_room(self) -> int:
        """Cells of a label in a panel: the limits beside several numbers stand in one line, at the label's expense."""
        longest = max((count_cells(field.label) for field in self.fields), default=0)
        room = self.app.size.width - FIELD_ROOM
        if len(self.fields) > 1 and room > LABEL_ROOM:
            beside = max((count_cells(_say_beside(field, "")) for field in self.fields if field.number), default=0)
            room = max(self._width() - FIELD_ROOM - beside - BAND_ROOM, LEAST_LABEL) if beside else room
        return max(min(longest + 5, LABEL_ROOM, room), 1)

    def _width(self) -> int:
        """Columns of the panel, as they are once it is laid out."""
        panel = self.parent
        return panel.size.width if isinstance(panel, Vertical) and panel.size.width else self.app.size.width

    def _fit_label(self, n: int, label: Static, room: int) -> None:
        """A label in a panel: whole at the cursor, in one line elsewhere, with the place of its piece."""
        text = self.fields[n].label
        rows = (
            wrap_text(text, width=room)
            if self.inputs[n].has_focus or len(self.fields) == 1
            else [cut_name(text, room - 1)]
        )
        label.styles.width, label.styles.height = room, len(rows)
        label.update("\n".join(rows))

    def _fit_labels(self) -> None:
        room = self._label_room()
        for n, label in enumerate(self.query(".field-label").results(Static)):
            if n < len(self.fields):
                self._fit_label(n, label, room)

    def count_rows(self) -> int:
        """Rows that the fields take in a panel: a long label has several while the cursor is in its field."""
        rows = [len(wrap_text(field.label, width=self._label_room())) for field in self.fields]
        return len(rows) - 1 + max(rows) if rows else 0

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
            self.call_after_refresh(wanted.scroll_visible, animate=False)  # its place is known by then

    def on_resize(self) -> None:
        """Labels leave the fields their room on a narrower screen too, and the cursor stays in sight."""
        if not self.in_panel:
            return
        self._fit_labels()
        focused = next((input for input in self.inputs if input.has_focus), None)
        if focused is not None:
            self.call_after_refresh(focused.scroll_visible, animate=False)

    def focus_first(self) -> None:
        if self.inputs:
            self.inputs[0].focus()

    def input(self, name: str) -> Input:
        return next(input for input in self.inputs if input.name == name)

    @property
    def values(self) -> dict[str, str]:
        return {field.name: self.input(field.name).value for field in self.fields}

    def list_typed(self) -> list[Typed]:
        """What somebody typed, in the order of the fields; what was proposed is not typed, and no secret is kept."""
        return [
            Typed(field.name, field.label, input.value)
            for field, input in zip(self.fields, self.inputs, strict=True)
            if input.value.strip() not in ("", field.value) and not field.secret
        ]

    def put_back(self, typed: Sequence[Typed]) -> int:
        """Put what was typed before into the fields that ask for it still and are empty; into how many."""
        empty = {
            (field.name, field.label): input
            for field, input in zip(self.fields, self.inputs, strict=True)
            if not input.value
        }
        found = [(empty[one[:2]], one.text) for one in typed if one[:2] in empty]
        for input, text in found:
            input.value = text
        return len(found)

    # --- keys --------------------------------------------------------------------------------------------------

    def action_move(self, by: int) -> None:
        """From field to field; what is typed stays."""
        at = next((n for n, input in enumerate(self.inputs) if input.has_focus), None)
        if at is not None and 0 <= at + by < len(self.inputs):
            self.inputs[at + by].focus()

    @on(events.DescendantFocus)
    def gone_to(self, event: events.DescendantFocus) -> None:
        self._unseen -= {n for n, input in enumerate(self.inputs) if input is event.widget and input.has_focus}
        if self.in_panel:
            self._fit_labels()
            self.call_after_refresh(event.widget.scroll_visible, animate=False)  # its row may have grown

    def action_pick(self, n: int) -> None:
        """Put an offered phrase into the field that has the focus."""
        for field, input in zip(self.fields, self.inputs, strict=True):
            if input.has_focus and n < len(field.picks):
                input.value = field.picks[n]
                input.cursor_position = len(input.value)

    def _end(self, ended: Input, typed: str) -> None:
        """Enter: at once to the next field, for what is typed next is for it; or all is entered."""
        if ended not in self.inputs:
            return  # ended a second time while what it asked for was being recorded
        at = self.inputs.index(ended)
        if is_tag(typed) and not self.fields[at].secret:
            typed = ended.value = self._name_tagged(typed)
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
                self._unseen.discard(onward)
                self.screen.set_focus(self.inputs[onward])
            return
        wrong = {n: fault for n, text in enumerate(typed_in) if (fault := self.fields[n].find_fault(text))}
        if wrong:
            self._show(wrong)  # what is typed next is still text, and no key of the screen behind
            return
        texts: dict[str, list[str]] = {}
        for field, text in zip(self.fields, typed_in, strict=True):
            texts.setdefault(field.name, []).append(text)
        self.post_message(self.Entered(self.about, texts))

    def refuse_tag(self, field: Input) -> None:
        """Say at a field that a scanned tag is no value of it; what stands there stays."""
        self._show({self.inputs.index(field): NOT_FOR_A_FIELD})

    def _find_onward(self, at: int) -> int | None:
        """The field that Enter goes to; None where all is entered. Nothing that was refused goes in unseen."""
        asked = (n for n in range(at + 1, len(self.fields)) if n in self._unseen or not self._is_known(n))
        return next(asked, min(self._unseen, default=None))

    def _is_known(self, n: int) -> bool:
        return self.fields[n].known and self.inputs[n].value == self.fields[n].value

    def _name_tagged(self, text: str) -> str:
        return self.app.name_tagged(text) if isinstance(self.app, TagReader) else ""

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
        again = self.inputs[first] if first is not None else next((one for one in self.inputs if one.has_focus), None)
        if again is not None and self.wrong:
            again.select_all()  # what is typed next takes the place of what is wrong
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
            row.query_one(".field-aside", Static).update(field.beside(event.value))
        if n < len(self._refused) and event.input.value != self._refused[n] and self.wrong:
            for line in (*self._errors[n : n + 1], self._error):
                line.say("")
            self.post_message(self.Mended())


def _say_beside(field: FieldSpec, typed: str) -> str:
    return field.hint if field.beside is None else field.beside(typed)


def describe_refusal(refused: Refused, in_dialog: bool = False) -> str:
    """What is refused, and where a lead is needed the key by which one comes: only a signature has a field."""
    key = "Ctrl+L: the lead signs in" if refused.why == "authority" and not refused.field else ""
    return join_sentences(str(refused), f"Esc, then {key}" if key and in_dialog else key) if key else str(refused)


def collect_errors(attempt: Callable[[Values], Errors], values: Values, blamed: str = "") -> Errors:
    """The errors of an attempt, and its refusal at the field that it names.

    Args:
        blamed: the field that a refusal is about which names none of them; a form of one field needs none.
    """
    try:
        return attempt(values)
    except Refused as refused:
        only = next(iter(values)) if len(values) == 1 else blamed
        return {refused.field if refused.field in values else only: describe_refusal(refused, in_dialog=True)}
    except LedgerError as error:
        return {"": str(error)}


def parse_number(text: str) -> int | str:
    """The number that was typed, or what was typed instead."""
    text = text.strip()
    return int(text) if text.isdecimal() else text or "empty"
