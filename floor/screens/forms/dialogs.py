"""Dialogs: a question, a choice, a form. Escape and silence mean no."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Any, ClassVar, NamedTuple

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.screen import ModalScreen, Screen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from floor.batch.command import Refused
from floor.checklist.model import Caution
from floor.dataclass import dataclass
from floor.screens.forms.field_rows import FormInput
from floor.screens.forms.fields import Errors, FieldSpec, Values, collect_errors
from floor.screens.forms.form import Form
from floor.screens.frame.key_guard import GAP
from floor.screens.frame.run_in_thread import Ahead, NotReady
from floor.screens.frame.theme import draw_signal_panel
from floor.screens.widgets.diff_static import DiffStatic
from floor.screens.widgets.place_map import PlaceMap, Places, draw_side_by_side
from floor.text import wrap_text

COLUMNS = 64
"""Inside a dialog of 70 with its border and padding."""
EDGES = 8
"""Columns that a dialog takes of a narrow screen: edges, padding, and what it leaves free."""
SCROLL_BAR = 2
WIDEST = 118
"""Columns of a dialog with a drawing, at most."""
BESIDE_DRAWN = 5
"""Columns of its edge and padding."""
MOST_DRAWN = 2
"""Carriers beside each other in a dialog."""
DRAWN_FROM = 80
"""Columns of a screen from which carriers are drawn in a dialog."""
NOTHING_CHOSEN = "Nothing chosen. Digit, or ↑ ↓ and Enter    Esc: cancel"


def find_text_width(columns: int) -> int:
    """Columns for a line of a text that may have to be scrolled."""
    return min(columns - EDGES, COLUMNS) - SCROLL_BAR


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


SCROLLING = (
    Binding("down", "scroll('down')", "Down", show=False),
    Binding("up", "scroll('up')", "Up", show=False),
    Binding("pagedown", "scroll('page_down')", "Down", show=False),
    Binding("pageup", "scroll('page_up')", "Up", show=False),
    Binding("home", "scroll('home')", "Top", show=False),
    Binding("end", "scroll('end')", "End", show=False),
)
"""Keys of a text that may be longer than its box; `action_scroll` says which box."""


LaidOut = Callable[[int], "str | Content"]
"""A text for so many columns."""


class TextDialog(ModalScreen[None]):
    """Something to be read in full, scrolled where it is long; any key of going back puts it away."""

    BINDINGS = [
        Binding("enter,escape,exclamation_mark", "close", "Back"),
        *SCROLLING,
    ]

    def __init__(self, title: str, text: str | LaidOut) -> None:
        super().__init__()
        self.heading = title
        self.text = text

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(self.heading, classes="dialog-title", markup=False)
            yield DiffStatic(self._lay_out(), id="text", markup=False)
            yield Static("Esc: back", classes="dialog-hint")

    def _lay_out(self) -> str | Content:
        return self.text if isinstance(self.text, str) else self.text(find_text_width(self.app.size.width))

    def on_resize(self) -> None:
        self.query_one("#text", Static).update(self._lay_out())

    def action_scroll(self, way: str) -> None:
        getattr(self.query_one(".dialog"), f"scroll_{way}")(animate=False)

    def action_close(self) -> None:
        if self.is_active:
            self.dismiss(None)


class AnswerText(Static):
    """An answer with its keys; a click or a finger gives it as the key does."""

    def __init__(self, text: str, yes: bool) -> None:
        super().__init__(text, classes="answer", markup=False)
        self.yes = yes

    def on_click(self, event: events.Click) -> None:
        if isinstance(self.screen, ConfirmDialog):
            self.screen.answer_click(self.yes, event.time)


class ConfirmDialog(ModalScreen[bool]):
    """Yes or no, with no as the answer to everything but its keys: ``y`` begins, loads, ends, and so does ``+``, for
    those with only a numeric keypad. Enter never does, nor a digit, as labels begin with them.
    """

    BINDINGS = [Binding("y,plus", "answer(True)", "Yes"), Binding("escape,minus", "answer(False)", "No")]

    def __init__(
        self, question: str, cautions: Sequence[Caution] = (), does: str = "yes", places: Places | None = None
    ) -> None:
        """
        Args:
            cautions: to be read with the question, above it.
            does: what the key does, in a word or two.
            places: a carrier drawn below it.
        """
        super().__init__()
        self.question = question
        self.does = does
        self.cautions = tuple(cautions)
        self.places = places
        self.opened = 0.0
        """When it came up, in seconds by the clock that nobody can set."""

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            for panel in self._draw_panels():
                yield DiffStatic(panel, classes="dialog-caution", markup=False)
            yield Static(self.question, markup=False)
            yield PlaceMap("drawn-0")
            with Horizontal(classes="dialog-hint answers"):
                yield AnswerText(f"y or +: {self.does}", True)
                yield AnswerText("Esc or -: no", False)

    def _draw_panels(self) -> list[Content]:
        return [draw_signal_panel(one, min(COLUMNS, self.app.size.width - EDGES)) for one in self.cautions]

    def on_mount(self, event: events.Mount) -> None:
        self.opened = event.time
        self._draw()

    def on_resize(self) -> None:
        self.call_after_refresh(self._draw)

    def _draw(self) -> None:
        for shown, panel in zip(self.query(".dialog-caution").results(Static), self._draw_panels(), strict=True):
            shown.update(panel)
        width, height = self.app.size
        room = min(width * 96 // 100 - BESIDE_DRAWN, COLUMNS) if width >= DRAWN_FROM else 0
        self.query_one(PlaceMap).draw(self.places, room, height // 3)

    def answer_click(self, yes: bool, time: float) -> None:
        """Not by the second click of two that were meant for what brought the question up."""
        if time - self.opened >= GAP:
            self.action_answer(yes)

    def action_answer(self, yes: bool) -> None:
        if self.is_active:
            self.dismiss(yes)


class Drawing(NamedTuple):
    """Carriers drawn above the fields of a form, with the pieces that what is typed means."""

    draw: Callable[[Values], Sequence[Places]]
    listed: str = ""
    """The same in words, where there is no room to draw."""


class FormDialog(ModalScreen[bool]):
    """A form that stays open until what was typed is taken: True then, False on Escape."""

    BINDINGS: ClassVar = [Binding("escape", "cancel", "Cancel")]
    HINT = "Enter: next, then done    Esc: cancel"

    def __init__(
        self,
        title: str,
        fields: Sequence[FieldSpec],
        attempt: Callable[[Values], Errors],
        text: str = "",
        blamed: str = "",
        drawing: Drawing | None = None,
    ) -> None:
        """
        Args:
            attempt: carries out what was typed; the errors, or nothing when it was taken. What it raises of
                refusals and errors of the record is shown too. If it raises `NotReady`, it is tried again then.
            blamed: the field that a refusal is about which names none of them.
        """
        super().__init__()
        self.heading = title
        self.fields = tuple(fields)
        self.attempt = attempt
        self.blamed = blamed
        self.text = text
        self.drawing = drawing

    def compose(self) -> ComposeResult:
        draws = self.drawing is not None and self.app.size.width >= DRAWN_FROM  # or it would scroll for a moment
        with Vertical(classes="dialog -drawn" if draws else "dialog"):
            yield Static(self.heading, classes="dialog-title", markup=False)
            if self.drawing is not None:
                with Horizontal(id="drawn"):
                    yield from (PlaceMap(f"drawn-{n}") for n in range(MOST_DRAWN))
                yield Static(self.drawing.listed, id="listed", markup=False)
            if self.text:
                yield Static(self.text, markup=False)
            yield Form(self.fields)
            yield Static(self.HINT, id="form-hint", classes="dialog-hint")

    def on_mount(self) -> None:
        self.query_one(Form).focus_first()
        self._draw()

    def on_resize(self) -> None:
        self.call_after_refresh(self._draw)

    @on(Input.Changed)
    def typed(self) -> None:
        self._draw()

    def _draw(self) -> None:
        """The carriers, with what is typed so far; in words where there is no room."""
        if self.drawing is None or not self.is_mounted:
            return
        width, height = self.app.size
        room = min(width * 96 // 100, WIDEST) - BESIDE_DRAWN
        maps = list(self.query(PlaceMap))
        places: Sequence[Places] = ()
        if width >= DRAWN_FROM:
            with suppress(Refused):  # the batch was closed at another terminal
                places = self.drawing.draw(self.query_one(Form).values)[: len(maps)]
        shown = draw_side_by_side(maps, places, room, height // 3)
        self.query_one("#drawn").display = shown
        self.query_one("#listed").display = not shown and bool(self.drawing.listed)
        self.query_one(".dialog").set_class(shown, "-drawn")

    @on(Form.Entered)
    def entered(self, event: Form.Entered) -> None:
        event.stop()
        self._try(event.values)

    async def _wait(self, ahead: Ahead[Any], values: Values) -> None:
        """Nothing is typed meanwhile, so that what is recorded is what stands there."""
        form, hint = self.query_one(Form), self.query_one("#form-hint", Static)
        form.disabled = True
        hint.update("Looking it up…    Esc: cancel")
        await ahead.wait()
        form.disabled = False
        form.focus_first()
        hint.update(self.HINT)
        self._try(values)

    def _try(self, values: Values) -> None:
        if not self.is_active:  # canceled, or another dialog stands before it: what was typed stays
            return
        try:
            errors = collect_errors(self.attempt, values, self.blamed)
        except NotReady as later:
            self.run_worker(self._wait(later.ahead, values))
            return
        if errors:
            self.query_one(Form).show_errors(errors)
        else:
            self.dismiss(True)

    def action_cancel(self) -> None:
        if self.is_active:
            self.dismiss(False)


@dataclass(frozen=True, slots=True)
class Choice:
    key: str
    """What is answered."""
    text: str
    pick: str = ""
    """The key that always means this one; without, or where another one has it, the next that is free."""


def rewrite_options(listed: OptionList, written: Sequence[str]) -> None:
    """Give each line of a list its text for the width there is now."""
    for n, text in enumerate(written):
        if listed.get_option_at_index(n).prompt != text:
            listed.replace_option_prompt_at_index(n, text)


class ChoiceDialog(ModalScreen[str | None]):
    """One of a few: by its digit, by cursor and Enter, or by mouse.

    Where the choice is an act on the record, Enter alone chooses nothing: no line is marked until somebody marks it.
    It goes on without an answer where one may come later.
    """

    BINDINGS: ClassVar = [Binding("escape", "cancel", "Cancel")]
    KEYS = "123456789abcdefghijklmnopqrstuvwxyz"
    HINT = "digit, or ↑ ↓ and Enter    Esc: cancel"

    def __init__(
        self, title: str, choices: Sequence[Choice], text: str = "", *, acts: bool = False, later: str = ""
    ) -> None:
        """
        Args:
            acts: whether a choice decides on pieces or goes on the record at once.
            later: what Enter alone says then, as Esc does, where the answer may wait.
        """
        super().__init__()
        self.heading = title
        self.text = text
        self.acts = acts
        self.later = later
        self.choices = tuple(choices)[: len(self.KEYS)]
        picks = self._assign_picks()
        order = sorted(range(len(picks)), key=lambda n: self.KEYS.index(picks[n]))  # read as it is picked
        self.choices = tuple(self.choices[n] for n in order)
        self.picks = [picks[n] for n in order]

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Static(self.heading, classes="dialog-title", markup=False)
            if self.text:
                yield Static(self.text, markup=False)
            yield OptionList(
                *(Option(self._write(n), id=str(n)) for n in range(len(self.choices))),
                markup=False,
                compact=True,
            )
            hint = f"digit, or ↑ ↓ and Enter    Enter alone or Esc: {self.later}" if self.later else self.HINT
            yield Static(hint, classes="dialog-hint", markup=False)

    def _write(self, n: int) -> str:
        """A choice behind its key, also where it takes several lines."""
        room = min(COLUMNS, self.app.size.width - EDGES) - SCROLL_BAR
        return "\n".join(wrap_text(self.choices[n].text, f"{self.picks[n]}  ", width=room))

    def on_resize(self) -> None:
        """Each choice stays readable, and the cursor where it is."""
        rewrite_options(self.query_one(OptionList), [self._write(n) for n in range(len(self.choices))])

    def _assign_picks(self) -> list[str]:
        picks: list[str] = []
        kept = {choice.pick for choice in self.choices}
        for choice in self.choices:
            free = (one for one in self.KEYS if one not in picks and one not in kept)
            picks.append(choice.pick if choice.pick and choice.pick not in picks else next(free))
        return picks

    def on_mount(self) -> None:
        if self.acts:
            self.query_one(OptionList).highlighted = None

    def on_key(self, event: events.Key) -> None:
        if event.key in self.picks:
            event.stop()
            self._answer(self.picks.index(event.key))
        elif event.key == "enter" and self.query_one(OptionList).highlighted is None:
            event.stop()
            if self.later:
                self.action_cancel()
            else:
                self.query_one(".dialog-hint", Static).update(NOTHING_CHOSEN)

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


def is_anything_typed(screen: Screen[Any]) -> bool:
    """Whether a field of a form there holds what somebody typed; what was proposed in it is not typed."""
    return any(box.value.strip() not in ("", box.given) for box in screen.query(FormInput))
