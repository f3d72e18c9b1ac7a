"""The row of a field: its mark and label, where it is typed, what stands beside, what is offered and what is wrong."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from textual import events
from textual.containers import Horizontal
from textual.widgets import Input, Static

from floor.screens.forms.fields import FieldSpec
from floor.screens.widgets.diff_static import DiffStatic
from floor.screens.widgets.ordered_input import OrderedInput
from floor.text import count_cells, cut_name, wrap_text

BESIDE = 29
"""Cells of a hint that has room beside its field."""
BESIDE_SLIM, BESIDE_TINY = 22, 6
"""Cells of one that has room there in a dialog of a narrow screen, and of a phone's; a longer one stands below it."""
TINY = 54
"""Columns of a screen below which it is a phone's."""
MOST_PICKS = 8
"""Phrases offered for a field: F2 to F9."""
MOST_PASTED = 100_000
"""Characters of a paste that are looked at; more than is kept is said, so nobody misses the rest."""
SHORT_TEXT = 60
"""Characters up to which a text of a form in a panel leaves room beside its field; a longer one takes all of it."""
LABEL_ROOM = 46
"""Cells of a line of a label in a panel; at 80 columns the field and what stands beside it have theirs."""
LEAST_LABEL = 18
"""Cells that a label in a panel keeps beside long limits: its place, and what tells it from the others."""
FIELD_ROOM = 22
"""Cells that a field in a panel needs, with its mark and the edges, where the screen is narrow."""
NUMBER_ROOM = 19
"""The same for a number."""
BAND_ROOM = 17
"""Cells of the band that is drawn behind the limits of a number, with the gaps and the edge."""


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


class FieldLabel(DiffStatic):
    """What a field asks for."""

    def __init__(self, text: str) -> None:
        super().__init__(text, classes="field-label", markup=False)
        self.text = text

    def fit(self, room: int, whole: bool) -> None:
        """Keep to so many cells: whole on several lines, or cut to one, with the place of its piece."""
        rows = wrap_text(self.text, width=room) if whole else [cut_name(self.text, room - 1)]
        self.styles.width, self.styles.height = room, len(rows)
        self.update("\n".join(rows))


class ErrorLine(Static):
    """What is wrong, in words; out of sight while nothing is."""

    def __init__(self, id: str | None = None) -> None:
        super().__init__(id=id, classes="field-error", markup=False)
        self.said = ""

    def say(self, text: str) -> None:
        self.said = text
        self.update(f"✕ {text}" if text else "")
        self.set_class(bool(text), "-shown")


def list_rows(
    field: FieldSpec, label: FieldLabel, input: Input, errors: Sequence[ErrorLine], asides: Sequence[DiffStatic]
) -> Iterator[Static | Horizontal]:
    """Of a field its row, the hint that has no room in it, what is offered for it and its error.

    Args:
        asides: of a field in a panel what stands beside it, and below where there is no room; one of them is shown.
    """
    in_panel, aside = bool(asides), field.say_beside(input.value)
    fits = in_panel or len(aside) <= BESIDE
    beside = asides[0] if asides else DiffStatic(aside if fits else "", classes="field-aside", markup=False)
    row = Horizontal(FieldMarker(), label, input, beside, classes="field")
    row.set_class(field.longest > SHORT_TEXT, "-long")
    row.set_class(field.number and field.longest <= SHORT_TEXT, "-number")
    yield row
    yield from asides[1:]
    if not fits:
        yield Static(aside, classes="field-hint", markup=False)
    elif not in_panel and field.beside is None and len(aside) > BESIDE_TINY:
        below = Static(aside, classes="field-hint -below", markup=False)
        beside.add_class("-beside")
        for one in (beside, below):
            one.set_class(len(aside) > BESIDE_SLIM, "-wordy")
        yield below
    for offer, pick in enumerate(field.picks[:MOST_PICKS], start=2):
        yield Static(f"F{offer}  {pick}", classes="field-hint", markup=False)
    yield from errors


def has_room_beside(field: FieldSpec, label: int, panel: int) -> bool:
    """Whether what stands beside a field of a panel fits there in one line."""
    room = NUMBER_ROOM if field.number else FIELD_ROOM
    return field.longest > SHORT_TEXT or label + room + 1 + count_cells(field.say_beside("")) <= panel


def compute_label_room(fields: Sequence[FieldSpec], panel: int, screen: int) -> int:
    """Cells of a label in a panel: the limits beside several numbers stand in one line, at the label's expense.

    Args:
        panel, screen: columns of each.
    """
    longest = max((count_cells(field.label) for field in fields), default=0)
    room = screen - FIELD_ROOM
    if len(fields) > 1 and room > LABEL_ROOM:
        beside = max((count_cells(field.say_beside("")) for field in fields if field.number), default=0)
        room = max(panel - FIELD_ROOM - beside - BAND_ROOM, LEAST_LABEL) if beside else room
    return max(min(longest + 5, LABEL_ROOM, room), 1)
