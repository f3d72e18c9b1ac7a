"""The form of a gate: a field for each value it asks for, its limits beside it, and where the value lies in them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from textual import on
from textual.containers import Horizontal, VerticalScroll
from textual.message import Message
from textual.widgets import Input, Static

from floor.batch.gates.values import is_same_text
from floor.checklist.gates import FormField
from floor.screens.forms.dialogs import FieldMarker
from floor.screens.frame.theme import draw_band
from floor.screens.widgets.diff_static import DiffStatic
from floor.screens.widgets.ordered_input import OrderedInput
from floor.text import join_sentences

LABEL_ROOM = 56
"""Cells that the label of a field may take; at 80 columns the field still has its own beside it."""


class GateForm(VerticalScroll, can_focus=False):
    """The fields of one gate; empty while nothing is asked."""

    class Filled(Message):
        """The last field was ended with Enter."""

        def __init__(self, name: str, values: Mapping[str, Any]) -> None:
            super().__init__()
            self.name = name
            """Which gate, and which try of it, these answer."""
            self.values = values
            """By name; a list where a value is asked for several pieces."""

    class NotInANumber(Message):
        """A letter was typed where a number is asked for."""

        def __init__(self, said: str) -> None:
            super().__init__()
            self.said = said

    class Changed(Message):
        """Something else stands in a field."""

    def __init__(self, id: str) -> None:
        super().__init__(id=id)
        self.name_of = ""
        """Which gate, and which try of it, is asked for."""
        self.fields: list[Input] = []
        self.kept: list[Input] = []
        """Those of them where what was entered before stands; Enter passes them by."""
        self._asked: list[FormField] = []
        """Of each field."""
        self.display = False

    def ask(self, name: str, asks: tuple[FormField, ...], times: int, tried: Mapping[str, Any] | None = None) -> None:
        """Ask for the values of a gate.

        Args:
            times: for how many pieces.
            tried: what was entered and does not do; what of it lies within its limits stands there again. Also
                what is known beforehand.
        """
        self.clear()
        self.name_of = name
        room = min(max(len(ask.label) for ask in asks) + 5, LABEL_ROOM)
        rows = []
        for ask in asks:
            kept = _kept(ask, tried or {}, times)
            for n in range(times):
                field = OrderedInput(
                    kept[n] or ask.default,
                    number=ask.kind in ("number", "whole"),
                    name=ask.name,
                    compact=True,
                    max_length=60,
                    select_on_focus=False,
                )
                field.ended = self._field_done
                self.fields.append(field)
                if kept[n]:
                    self.kept.append(field)
                self._asked.append(ask)
                label = f"{ask.label} {n + 1}" if times > 1 else ask.label
                rows.append(_row(ask, label, field, room))
        self.display = True
        self.mount(*rows)
        self.screen.call_after_refresh(self._begin)

    def clear(self) -> None:
        self.name_of = ""
        self.fields, self.kept, self._asked = [], [], []
        self.remove_children()
        self.display = False
        self.screen.set_focus(None)

    def _begin(self) -> None:
        """At the first field whose value is wanted still."""
        wanted = next((field for field in self.fields if field not in self.kept), None)
        if wanted is not None:
            wanted.focus()

    def focus_first(self) -> None:
        if self.fields:
            self.fields[0].focus()

    def take_back(self, name: str = "", place: int = 0) -> None:
        """Go to the field that is refused, else stay; what is typed next takes the place of what stands there.

        Args:
            name: of the value that is asked for.
            place: of several fields for it, which one.
        """
        named = [field for field in self.fields if field.name == name]
        refused = named[place : place + 1] or [field for field in self.fields if field is self.screen.focused]
        for field in refused:
            field.focus()
            field.select_all()

    def move(self, by: int) -> bool:
        """From field to field; whether the cursor is in one of them at all."""
        focused = self.screen.focused
        if not isinstance(focused, Input) or focused not in self.fields:
            return False
        place = self.fields.index(focused) + by
        if 0 <= place < len(self.fields):
            self.fields[place].focus()
        return True

    def texts(self) -> list[str]:
        """What stands in the fields."""
        return [field.value for field in self.fields]

    @on(Input.Changed)
    def typed(self, event: Input.Changed) -> None:
        """Show where the value lies between its limits, while it is typed."""
        event.stop()
        if event.input in self.fields:
            ask, row = self._asked[self.fields.index(event.input)], event.input.parent
            if row is not None:
                row.query_one(".ask-band", Static).update(_band(ask, event.value))
        self.post_message(self.Changed())

    @on(OrderedInput.NotInANumber)
    def letter(self, event: OrderedInput.NotInANumber) -> None:
        event.stop()
        if event.field in self.fields:
            label = self._asked[self.fields.index(event.field)].label
            self.post_message(self.NotInANumber(join_sentences(f"{label} {event.said}")))

    def _field_done(self, ended: Input, value: str) -> None:
        if ended not in self.fields:
            return  # ended a second time while what it asked for was being recorded
        place = self.fields.index(ended)
        onward = next((field for field in self.fields[place + 1 :] if field not in self.kept), None)
        if onward is not None:
            self.screen.set_focus(onward)  # at once: what is typed next is for it
            return
        values: dict[str, list[str]] = {}
        for field in self.fields:  # the last one as it was when Enter was pressed
            values.setdefault(field.name or "", []).append(value if field is ended else field.value)
        given = {name: many if len(many) > 1 else many[0] for name, many in values.items()}
        self.post_message(self.Filled(self.name_of, given))


def _kept(ask: FormField, tried: Mapping[str, Any], times: int) -> list[str]:
    """For each piece what was entered of it within its limits; empty where it has to be measured."""
    entered = tried.get(ask.name)
    values = entered if isinstance(entered, list) else [entered]
    good = [
        ("" if ask.only and not is_same_text(one, ask.only) else one)
        if isinstance(one, str)
        else f"{one:.10g}"
        if _within(ask, one)
        else ""
        for one in values
    ]
    if len(good) != times:  # a piece was set aside meanwhile: which value was whose is not known by its place
        good = [one for one in good if one]
    return [*good, *[""] * times][:times]


def _within(ask: FormField, value: Any) -> bool:
    inside = isinstance(value, int | float) and (ask.low is None or value >= ask.low)
    return inside and (ask.high is None or value <= ask.high)


def _row(ask: FormField, label: str, field: Input, room: int) -> Horizontal:
    named = Static(label, classes="ask-label", markup=False)
    named.styles.width = room
    band = DiffStatic(_band(ask, field.value), classes="ask-band", markup=False)
    return Horizontal(FieldMarker(), named, field, band, classes="ask")


def _band(ask: FormField, typed: str) -> str:
    """The limits in words, and where the value lies in them once it is a number."""
    said = ask.band or ask.unit
    try:
        value = float(typed.replace(",", "."))
    except ValueError:
        return said
    shown = draw_band(value, ask.low, ask.high)
    return f"{said}  {shown}" if shown else said
