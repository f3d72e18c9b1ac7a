"""Counting what came out of a run: in their places where the carrier has places, by number where it has none."""

from __future__ import annotations

import string
from collections.abc import Callable

from textual import events, getters
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal
from textual.content import Content
from textual.geometry import Size
from textual.widget import Widget
from textual.widgets import Static

from floor.batch.counting.commands import CountRun, MarkedPieces
from floor.batch.load import Load
from floor.batch.state import Batch
from floor.checklist.operation import Reason
from floor.checklist.reason_letters import assign_reason_letters
from floor.screens.forms.dialogs import FormDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values
from floor.screens.frame.screen import RunFrame
from floor.screens.frame.session import Session
from floor.screens.widgets.diff_static import DiffStatic
from floor.text import count_cells, format_clock, format_count, wrap_text

SIGNS = {"scrap": "✕", "rework": "↺", "hold": "?"}
WAITS = "·"
"""In the place of a piece that is not of this run."""


class CarrierMap(Widget):
    """The carrier from above: a cell for each place, the piece in it, and its mark."""

    def __init__(self, screen: CountScreen) -> None:
        super().__init__(id="places")
        self.count = screen
        self.cell = 7 if screen.columns <= 5 else 5 if screen.columns <= 9 else 4
        self.step = 2 if screen.rows <= 7 else 1
        """Lines from one row of places to the next."""

    def get_content_width(self, container: Size, viewport: Size) -> int:
        return 4 + self.cell * self.count.columns

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return self.step * (self.count.rows + 1)

    def render(self) -> Content:
        count = self.count
        head = "    " + "".join(f"{column + 1:^{self.cell}}" for column in range(count.columns))
        gap = [Content("")] * (self.step - 1)
        lines = [Content.assemble((head, "$secondary")), *gap]
        for row in range(count.rows):
            cells: list[Content | tuple[str, str] | str] = [(f" {chr(65 + row)}  ", "$secondary")]
            for column in range(count.columns):
                cells.append(self._cell(row, column))
            lines += [Content.assemble(*cells), *gap]
        return Content("\n").join(lines)

    def _cell(self, row: int, column: int) -> tuple[str, str]:
        name = f"{chr(65 + row)}{column + 1}"
        here = (row, column) == self.count.cursor
        if name in self.count.decided:
            text, style = f"{SIGNS[self.count.decided[name].to]}!", "bold $error"
        elif name in self.count.sitting:
            text, style = self.count.sitting[name], "$secondary"
        elif name in self.count.waiting:
            text, style = WAITS, "$secondary"
        elif name not in self.count.names:
            text, style = "–", "$secondary"
        elif name in self.count.marks:
            reason = self.count.marks[name]
            text, style = f"{SIGNS[reason.to]}{self.count.letter(reason)}", "bold $error"
        else:
            text, style = "○", ""
        left, right = ("[", "]") if here else (" ", " ")
        shown = f"{left}{text:^{self.cell - 2}}{right}"
        return shown, ("bold $accent" if here and not style.startswith("bold") else style) or "$foreground"

    def on_click(self, event: events.Click) -> None:
        column, row = (event.x - 4) // self.cell, event.y // self.step - 1
        if 0 <= row < self.count.rows and 0 <= column < self.count.columns:
            self.count.cursor = (row, column)
            self.count.update_body()


class CountScreen(RunFrame):
    """Good, scrap, rework and hold add up to what went in. A letter marks; Enter counts."""

    BINDINGS = [
        Binding("up", "move(-1,0)", "Move", show=False),
        Binding("down", "move(1,0)", "Move", show=False),
        Binding("left", "move(0,-1)", "Move", show=False),
        Binding("right", "move(0,1)", "Move", show=False),
        Binding("space", "unmark", "Clear mark", id="unmark"),
        Binding("backspace", "erase", "Erase", show=False, tooltip="the last digit of the good count"),
        Binding("enter", "count", "Count", id="count"),
    ]

    places = getters.query_one("#places", Widget)
    reasons = getters.query_one("#reasons", Static)
    sum = getters.query_one("#count-sum", Static)

    def __init__(self, session: Session, batch: str, run: int) -> None:
        super().__init__(session, batch, run)
        carrier = self.current_batch.checklist.carrier(self.load.carrier)
        self.has_places = bool(carrier.positions)
        self.letters = assign_reason_letters(self.current_batch.checklist)
        self.rows, self.columns = carrier.rows or 0, carrier.columns or 0
        self._read_places()
        first = self.names[0] if self.names else "A1"
        self.cursor = (ord(first[0]) - 65, int(first[1:]) - 1)
        self.marks: dict[str, Reason] = {}
        """By place."""
        self.heap: dict[str, int] = {}
        """By reason, where there are no places."""
        self.notes: dict[str, str] = {}
        self.good_typed = ""
        self.last: str = ""

    def _read_places(self) -> None:
        """Which pieces are to be counted, and what sits beside them, now: another terminal may set some aside."""
        batch, run = self.current_batch, self.current_run
        present = batch.present(self.load) if self.has_places else ()
        self.names = [batch.format_slot(self.load, piece) for piece in run.undecided] if self.has_places else []
        self.decided = {
            batch.format_slot(self.load, piece) or str(piece): mark
            for piece, mark in run.decided.items()
            if piece in run.pieces
        }
        """By place: what was out of limits and decided on before; the count says it and does not change it."""
        self.sitting: dict[str, str] = {
            batch.format_slot(self.load, piece): batch.places[piece].where for piece in batch.sitting(self.load)
        }
        """Held and scrapped pieces that are still on the carrier, by place."""
        self.waiting = {batch.format_slot(self.load, piece) for piece in present if piece not in run.pieces}
        """Places of the others, which wait for the pieces of this run."""

    def missing(self, batch: Batch) -> str:
        """Counted at another terminal meanwhile, there is nothing left to count here."""
        there = super().missing(batch)
        count = batch.runs[self.run_].count if not there else None
        if count is None:
            return there
        load = batch.format_load(batch.runs[self.run_].load)
        return f"{load} was counted by {count.by} at {format_clock(count.at, self.session.now().at)}"

    @property
    def load(self) -> Load:
        return self.current_batch.loads[self.current_run.load]

    @property
    def codes(self) -> tuple[Reason, ...]:
        return self.current_batch.find_operation(self.current_run).reasons

    def letter(self, reason: Reason) -> str:
        return self.letters.get(reason.code, "")

    def body(self) -> ComposeResult:
        with Horizontal(id="count"):
            yield CarrierMap(self) if self.has_places else DiffStatic(id="places", markup=False)
            yield DiffStatic(id="reasons", markup=False)
        yield DiffStatic(id="count-sum", markup=False)

    def place(self) -> str:
        batch, run = self.current_batch, self.current_run
        part = batch.checklist.part
        where = f"op {run.op} {batch.format_op_title(self.load, run.op)}  {batch.format_carrier(self.load)}  count"
        full = f"{batch.id} {part.number} {part.revision}  {where}"
        return full if count_cells(full) <= self.head_room() else f"{batch.id}  {where}"

    def on_resize(self) -> None:
        self.call_after_refresh(self.update_all)

    @property
    def is_unrecorded(self) -> bool:
        return bool(self.marked or self.good_typed)

    @property
    def marked(self) -> int:
        return len(self.marks) if self.has_places else sum(self.heap.values())

    @property
    def good(self) -> int:
        return int(self.good_typed) if self.good_typed else len(self.current_run.undecided) - self.marked

    def update_body(self) -> None:
        self._read_places()
        self.marks = {name: reason for name, reason in self.marks.items() if name in self.names}
        self.reasons.update(Content("\n").join(self._list_reasons()))
        self.sum.update(self._say_sum())
        if self.has_places:
            self.places.refresh()
        else:
            many = format_count(len(self.current_run.pieces), "piece")
            self.query_one("#places", Static).update(f"{many} on {self.current_batch.format_carrier(self.load)}, loose")

    def _list_reasons(self) -> list[Content]:
        """What can be marked, by which letter, and what was decided on before."""
        how = "Press a letter to mark this piece" if self.has_places else "Each press adds one piece"
        rows = [Content.assemble((how, "$secondary"))]
        width = self.reasons.content_size.width or 80
        for reason in self.codes:
            many = self._many(reason)
            sign = f"{SIGNS[reason.to]} {reason.to}"
            said = f"{reason.text}{f'  × {many}' if many else ''}"
            rows += [Content(row) for row in wrap_text(said, f" {self.letter(reason)}  {sign:<9} ", width=width)]
        if self.waiting:
            said = "waits: on the carrier, not of this rework"
            rows += [Content(row) for row in wrap_text(said, f" {WAITS}  ", width=width)]
        for mark in dict.fromkeys(self.decided.values()):
            names = ", ".join(name for name, one in self.decided.items() if one == mark and self.has_places)
            said = f"{names or format_count(len(mark.pieces), 'piece')} decided on: {mark.note}"
            rows += [Content(row) for row in wrap_text(said, f" !  {SIGNS[mark.to]} {mark.to:<7} ", width=width)]
        return rows

    def _say_sum(self) -> str:
        """What went in, where it is said to be, and whether that adds up."""
        went_in = len(self.current_run.pieces)
        off = self.good + self.marked + len(self.decided) - went_in
        state = "adds up" if off == 0 else f"{abs(off)} too {'many' if off > 0 else 'few'}"
        parts = [f"{self.good} good ({'typed' if self.good_typed else 'the rest'})"]
        parts += [f"{total} {to}" for to in SIGNS if (total := self._total(to))]
        sitting = self.current_batch.format_sitting_pieces(self.load)
        said = f"{went_in} went in = {' + '.join(parts)}: {state}{f'; {sitting}' if sitting else ''}"
        return f"{said}\n0-9, Backspace: type the good count   Space: clear mark"

    def _many(self, reason: Reason) -> int:
        if self.has_places:
            return sum(1 for one in self.marks.values() if one is reason)
        return self.heap.get(reason.code, 0)

    def _total(self, to: str) -> int:
        return sum(self._many(reason) for reason in self.codes if reason.to == to) + sum(
            mark.to == to for mark in self.decided.values()
        )

    # --- keys --------------------------------------------------------------------------------------------------

    def on_key(self, event: events.Key) -> None:
        if event.character and event.character in string.digits:
            event.stop()
            self.good_typed = (self.good_typed + event.character)[-4:].lstrip("0") or "0"
            self.update_body()
        else:
            meant = next((one for one in self.codes if event.character and self.letter(one) == event.character), None)
            if meant is not None:
                event.stop()
                self._mark(meant)

    @property
    def here(self) -> str:
        """The place under the cursor."""
        return f"{chr(65 + self.cursor[0])}{self.cursor[1] + 1}"

    def _mark(self, reason: Reason) -> None:
        before = dict(self.marks), dict(self.heap), self.last
        if self.has_places:
            if self.here not in self.names:
                done = f"{self.here} is already decided" if self.here in self.decided else ""
                if self.here in self.sitting:
                    done = f"The piece in {self.here} is {self.sitting[self.here]}, still on the carrier"
                if self.here in self.waiting:
                    done = f"The piece in {self.here} waits; it is counted with the others later"
                self.say(done or f"No piece in {self.here}", wrong=True)
                return
            self.marks[self.here] = reason
        else:
            self.heap[reason.code] = self.heap.get(reason.code, 0) + 1
            self.last = reason.code
        self.say("")
        if reason.needs_note and not self.notes.get(reason.code):
            self._ask_note(reason, lambda: self._as_before(*before))
        self.update_body()

    def _as_before(self, marks: dict[str, Reason], heap: dict[str, int], last: str) -> None:
        """The mark was not meant: what stood in its place stands again."""
        self.marks, self.heap, self.last = marks, heap, last
        self.update_body()

    def _ask_note(self, reason: Reason, otherwise: Callable[[], None]) -> None:
        def attempt(given: Values) -> Errors:
            self.notes[reason.code] = given["note"]
            return {}

        fields = [FieldSpec("note", "Note", needed=True)]
        self.floor.push_screen(
            FormDialog(f"{reason.text}: what is wrong?", fields, attempt), lambda taken: None if taken else otherwise()
        )

    def action_move(self, down: int, right: int) -> None:
        if self.has_places:
            row, column = self.cursor
            self.cursor = ((row + down) % self.rows, (column + right) % self.columns)
            self.update_body()

    def action_unmark(self) -> None:
        """The piece under the cursor, or the one marked last, is good after all; what was typed stays."""
        if self.has_places:
            self.marks.pop(self.here, None)
        elif self.heap.get(self.last):
            self.heap[self.last] -= 1
        self.update_body()

    def action_erase(self) -> None:
        """Take back a digit, and nothing else; without any the rest is good again."""
        self.good_typed = self.good_typed[:-1]
        self.update_body()

    def action_count(self) -> None:
        marks = []
        for reason in self.codes:
            note = self.notes.get(reason.code, "")
            if self.has_places:
                positions = tuple(name for name in self.names if self.marks.get(name) is reason)
                if positions:
                    marks.append(MarkedPieces(reason.code, positions=positions, note=note))
            elif self.heap.get(reason.code):
                marks.append(MarkedPieces(reason.code, count=self.heap[reason.code], note=note))
        self.give(self.batch_id, CountRun(self.run_, self.good, tuple(marks)), lambda _: self.floor.leave(self))
