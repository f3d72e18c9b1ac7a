"""Counting what came out of a run: in their places where the carrier has places, by number where it has none."""

from __future__ import annotations

from collections.abc import Callable

from textual import events, getters, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from floor.batch.counting.commands import CountRun, MarkedPieces, had_last_pass
from floor.batch.counting.struck_count import list_struck_marks
from floor.batch.events import Counted
from floor.batch.load import Load
from floor.batch.search.recent_words import list_recent_words
from floor.batch.state import Batch
from floor.checklist.operation import Reason
from floor.checklist.reason_keys import assign_reason_keys
from floor.entry import Entry
from floor.screens.forms.dialogs import ConfirmDialog, FormDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values, parse_number
from floor.screens.frame.screen import TALL, USUAL, FloorScreen, RunFrame
from floor.screens.frame.session import Session
from floor.screens.widgets.diff_static import DiffStatic
from floor.screens.widgets.place_map import Cell, PlaceMap, Places
from floor.text import count_cells, format_clock, format_count, set_out, wrap_text

SIGNS = {"scrap": "✕", "rework": "↺", "hold": "?"}
WAITS = "waits"
"""In the place of a piece that is not of this run."""
LEAVE_COUNT = "Your marks and your count are not recorded yet. Leave and lose them?"
REASONS = 30
"""Columns for the reasons beside the places."""


class ReasonList(DiffStatic):
    """The reasons with their keys; a click or a finger marks as the key does."""

    rows: tuple[Reason | None, ...] = ()
    """The reason that stands in each row."""

    def on_resize(self) -> None:
        """Beside a map of another width the reasons have other lines.

        Once this layout is over: what asks for another height within it is not given it.
        """
        self.call_after_refresh(self._wrap_anew)

    def _wrap_anew(self) -> None:
        if self.is_attached and isinstance(self.screen, CountScreen) and not self.screen.gone():
            self.screen._show_reasons()

    def on_click(self, event: events.Click) -> None:
        reason = self.rows[event.y] if event.y < len(self.rows) else None
        if reason is not None and isinstance(self.screen, CountScreen):
            self.screen.mark(reason)


class CountScreen(RunFrame):
    """Good, scrap, rework and hold add up to what went in. Digits mark, 0 clears, Enter records the count."""

    GUIDE = (
        "Count the pieces yourself, then mark each one that is not good.",
        "Go to its place (arrows, `+`, `-`) and press the digit of the reason.",
        "`0` clears a mark. A piece without a mark counts as good.",
        "Once the sum matches what went in, `Enter` records the count.",
    )
    BINDINGS = [
        Binding("up", "move(-1,0)", "Move", show=False),
        Binding("down", "move(1,0)", "Move", show=False),
        Binding("left", "move(0,-1)", "Move", show=False),
        Binding("right", "move(0,1)", "Move", show=False),
        Binding("plus", "step(1)", "Next", key_display="+", show=False, tooltip="the next place with a piece"),
        Binding("minus", "step(-1)", "Before", key_display="-", show=False, tooltip="the place before it"),
        Binding("pagedown", "turn_page(1)", show=False),
        Binding("pageup", "turn_page(-1)", show=False),
        Binding("enter", "count", "Record count", id="count"),
        Binding("0,space,backspace", "unmark", "Clear mark", key_display="0", id="unmark"),
        Binding(
            "full_stop,comma",
            "type_good",
            "Good counted",
            key_display=".",
            id="good_counted",
            tooltip="your own count of the good ones, to be compared",
        ),
    ]

    box = getters.query_one("#count", Horizontal)
    places = getters.query_one("#places", Widget)
    reasons = getters.query_one("#reasons", ReasonList)
    large = getters.query_one("#count-large", Static)
    sum = getters.query_one("#count-sum", Static)

    def __init__(self, session: Session, batch: str, run: int) -> None:
        super().__init__(session, batch, run)
        carrier = self.current_batch.checklist.carrier(self.load.carrier)
        self.has_places = bool(carrier.positions)
        self.keys = assign_reason_keys(self.current_batch.checklist)
        self.rows, self.columns = carrier.rows or 0, carrier.columns or 0
        self._read_places()
        first = self.names[0] if self.names else "A1"
        self.cursor = (ord(first[0]) - 65, int(first[1:]) - 1)
        self.marks: dict[str, Reason] = {}
        """By place."""
        self.heap: dict[str, int] = {}
        """By reason, where there are no places."""
        self.notes: dict[str, str] = {}
        self.good_typed: int | None = None
        """The good ones as somebody counted them, if they did."""
        self.last: list[str] = []
        """Codes of what was marked where there are no places, the last one at the end."""
        self._mark_as_before()

    def _mark_as_before(self) -> None:
        """The marks of a count that was struck out stand again: whoever took it back corrects it."""
        batch, run = self.current_batch, self.current_run
        for mark in list_struck_marks(batch, run):
            reason = batch.find_operation(run).reason(mark.reason)
            if reason is None:
                continue
            self.notes[reason.code] = mark.note
            if self.has_places:
                self.marks |= {batch.format_slot(self.load, piece): reason for piece in mark.pieces}
            else:
                self.heap[reason.code] = len(mark.pieces)
                self.last += [reason.code] * len(mark.pieces)
        self.before = dict(self.marks), dict(self.heap)
        """What was marked when the screen opened."""

    def on_mount(self) -> None:
        if self.marked:
            self.say("Marked as in the count struck out. Correct it")
        self.watch(self.box, "show_vertical_scrollbar", self._show_sum, init=False)

    def _read_places(self) -> None:
        """Which pieces are to be counted, and what sits beside them, now: another terminal may set some aside."""
        batch, run = self.current_batch, self.current_run
        present = batch.present(self.load) if self.has_places else ()
        self.pieces = {batch.format_slot(self.load, piece): piece for piece in run.undecided if self.has_places}
        """By place."""
        self.names = list(self.pieces)
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

    def key_of(self, reason: Reason) -> str:
        return self.keys.get(reason.code, "")

    def body(self) -> ComposeResult:
        with Horizontal(id="count"):
            if self.has_places:
                yield PlaceMap("places", gives_way=False, explains=False)
            else:
                yield DiffStatic(id="places", markup=False)
            yield ReasonList(id="reasons", markup=False)
        yield DiffStatic(id="count-large", markup=False)
        yield DiffStatic(id="count-sum", markup=False)

    def place(self) -> str:
        batch, run = self.current_batch, self.current_run
        title = batch.format_op_title(self.load, run.op)
        return f"{batch.id}  op {run.op} {title}  {batch.format_carrier(self.load)}  count"

    @property
    def is_unrecorded(self) -> bool:
        return (self.marks, self.heap) != self.before or self.good_typed is not None

    @property
    def off(self) -> int:
        """How many pieces too many are counted; too few below 0."""
        return self.good + self.marked + len(self.decided) - len(self.current_run.pieces)

    @property
    def marked(self) -> int:
        return len(self.marks) if self.has_places else sum(self.heap.values())

    @property
    def good(self) -> int:
        return self.good_typed if self.good_typed is not None else len(self.current_run.undecided) - self.marked

    def update_body(self) -> None:
        self._read_places()
        self.marks = {name: reason for name, reason in self.marks.items() if name in self.names}
        self._show_reasons()
        self._show_sum()
        room = self.box.size.height + (self.large.size.height if self.large.display else 0)
        below = len(self.reasons.rows) if self.has_class("-slim") else 0
        if self.has_places:
            width = self.size.width - 2 - (REASONS if self.size.width >= USUAL else 0)
            assert isinstance(self.places, PlaceMap)
            self.places.draw(self._list_cells(), width, room - below)
            taken = self.places.get_content_height(self.size, self.size, width)
        else:
            many = format_count(len(self.current_run.pieces), "piece")
            assert isinstance(self.places, Static)
            self.places.update(f"{many} on {self.current_batch.format_carrier(self.load)}, loose")
            taken = 1
        self._show_large(room - (taken + below if below else max(taken, len(self.reasons.rows))))

    def _show_large(self, height: int) -> None:
        """The sum once more where there is room, to be read from two meters: whether it adds up, and what is left."""
        drawn = None
        if self.size.height >= TALL and height > 0:
            from floor.screens.walk.large_view import LOUD, LargeText, draw_large_lines

            lines = [LargeText(f"{len(self.current_run.pieces)} in = {self.good} good")]
            lines += [LargeText(f"+ {total} {to}") for to in SIGNS if (total := self._total(to))]
            lines += [LargeText(said, LOUD)] if (said := self._say_off()) else []
            drawn = draw_large_lines(lines, self.size.width - 2, height)
        self.large.update(drawn or "")
        self.large.display = drawn is not None

    def _list_cells(self) -> Places:
        """Of each place, what becomes of its piece, with the key of the reason."""
        cells = {name: Cell("good", look="") for name in self.names}
        cells |= {name: Cell(where) for name, where in self.sitting.items()}
        cells |= {name: Cell(WAITS) for name in self.waiting}
        cells |= {name: Cell(self._outcome(name), self.key_of(one), "loud") for name, one in self.marks.items()}
        cells |= {name: Cell(mark.to, "!", "loud") for name, mark in self.decided.items()}
        return Places(self.rows, self.columns, cells, self.here, beside=1)

    @on(PlaceMap.Pressed)
    def place_pressed(self, event: PlaceMap.Pressed) -> None:
        event.stop()
        self.cursor = (ord(event.place[0]) - 65, int(event.place[1:]) - 1)
        self.update_body()

    def _show_reasons(self) -> None:
        """What can be marked, by which key, and what was decided on before."""
        how = "Digit: mark this piece" if self.has_places else "Digit: add one piece"
        rows: list[tuple[str, Reason | None]] = [(how, None)]
        width = self.reasons.content_size.width or 80
        for reason in self.codes:
            many = self._many(reason)
            head = f" {self.key_of(reason)}  {self._find_outcome(reason, self.here):<6}  "
            said = f"{reason.text}{f'  × {many}' if many else ''}"
            rows += [(row, reason) for row in wrap_text(said, head, " " * count_cells(head), width=width)]
        again = [name for name in self.marks if self._outcome(name) != self.marks[name].to]
        if again:
            said = f"{', '.join(again)}: reworked as often as it may be; a lead decides"
            rows += [(row, None) for row in wrap_text(said, " ?  hold    ", width=width)]
        if self.waiting:
            rows += [(row, None) for row in wrap_text(f"{WAITS}: on the carrier, not of this rework", " ", " ", width)]
        rows += [(row, None) for row in self._list_decided(width)]
        self.reasons.rows = tuple(reason for _, reason in rows)
        self.reasons.update(Content("\n").join([Content(text) for text, _ in rows]))

    def _list_decided(self, width: int) -> list[str]:
        """What was out of limits and decided on before."""
        rows: list[str] = []
        for mark in dict.fromkeys(self.decided.values()):
            names = ", ".join(name for name, one in self.decided.items() if one == mark and self.has_places)
            said = f"{names or format_count(len(mark.pieces), 'piece')} decided on: {mark.note}"
            rows += wrap_text(said, f" !  {mark.to:<6}  ", width=width)
        return rows

    def _show_sum(self) -> None:
        if self.stands and not self.gone():
            self.sum.update(self._say_sum())

    def _say_sum(self) -> str:
        """What went in, where it is said to be, and whether that adds up."""
        went_in = len(self.current_run.pieces)
        state = self._say_off() or "adds up"
        parts = [f"{self.good} good ({'the rest' if self.good_typed is None else 'counted'})"]
        parts += [f"{total} {to}" for to in SIGNS if (total := self._total(to))]
        sitting = self.current_batch.format_sitting_pieces(self.load)
        said = f"{went_in} went in = {' + '.join(parts)}: {state}{f'; {sitting}' if sitting else ''}"
        return f"{said}\n{self._hint()}"

    def _say_off(self) -> str:
        """How far the sum is from what went in; empty where it adds up."""
        return f"{abs(self.off)} too {'many' if self.off > 0 else 'few'}" if self.off else ""

    def _hint(self) -> str:
        if self.off or self.good < 0:
            records = "Count again"
        else:
            marked = [f"{total} {to}" for to in SIGNS if (total := self._total(to))]
            records = f"Enter: record {' + '.join([f'{self.good} good', *marked])}"
        below = ["PgDn: more below"] if self.box.show_vertical_scrollbar else []
        if self.has_class("-slim"):  # what Enter records is in sight; what clears a mark stands in the line of keys
            return "\n".join(set_out([records, *below], self.size.width - 2))
        moves = ["+ -: next"] if self.has_places else []
        return "   ".join([records, *moves, "0: clear mark", ".: good counted", *below])

    def _outcome(self, name: str) -> str:
        """What the mark of a place makes of its piece."""
        return self._find_outcome(self.marks[name], name)

    def _find_outcome(self, reason: Reason, name: str) -> str:
        """What a reason makes of the piece in a place, if one is there: what had its last rework goes on hold."""
        piece = self.pieces.get(name)
        worn = piece is not None and had_last_pass(self.current_batch, reason, piece)
        return "hold" if worn else reason.to

    def _many(self, reason: Reason) -> int:
        if self.has_places:
            return sum(1 for one in self.marks.values() if one is reason)
        return self.heap.get(reason.code, 0)

    def _total(self, to: str) -> int:
        heaped = 0 if self.has_places else sum(self._many(reason) for reason in self.codes if reason.to == to)
        placed = sum(self._outcome(name) == to for name in self.marks)
        return heaped + placed + sum(mark.to == to for mark in self.decided.values())

    # --- keys --------------------------------------------------------------------------------------------------

    def on_key(self, event: events.Key) -> None:
        meant = next((one for one in self.codes if event.character and self.key_of(one) == event.character), None)
        if meant is not None:
            event.stop()
            self.mark(meant)

    @property
    def here(self) -> str:
        """The place under the cursor."""
        return f"{chr(65 + self.cursor[0])}{self.cursor[1] + 1}"

    def mark(self, reason: Reason) -> None:
        """Mark the piece under the cursor, or one more where there are no places."""
        before = dict(self.marks), dict(self.heap), list(self.last)
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
        elif self.good_typed is None and self.good == 0:
            self.say("All pieces are marked: 0 clears the last mark", wrong=True)
            return
        else:
            self.heap[reason.code] = self.heap.get(reason.code, 0) + 1
            self.last.append(reason.code)
        self.say("")
        if reason.needs_note and not self.notes.get(reason.code):
            self._ask_note(reason, lambda: self._as_before(*before))
        self.update_body()

    def _as_before(self, marks: dict[str, Reason], heap: dict[str, int], last: list[str]) -> None:
        """The mark was not meant: what stood in its place stands again."""
        self.marks, self.heap, self.last = marks, heap, last
        self.update_body()

    def _ask_note(self, reason: Reason, otherwise: Callable[[], None]) -> None:
        def attempt(given: Values) -> Errors:
            self.notes[reason.code] = given["note"]
            return {}

        def read_notes(event: Counted) -> list[str]:
            return [mark.note for mark in event.marks if mark.reason == reason.code]

        recent = list_recent_words(self.session.shop.batches, Counted, read_notes)
        fields = [FieldSpec("note", "Note", picks=recent, needed=True)]
        self.floor.push_screen(
            FormDialog(f"{reason.text}: what is wrong?", fields, attempt), lambda taken: None if taken else otherwise()
        )

    def action_move(self, down: int, right: int) -> None:
        if self.has_places:
            row, column = self.cursor
            self.cursor = ((row + down) % self.rows, (column + right) % self.columns)
            self.update_body()

    def action_turn_page(self, way: int) -> None:
        """Through places and reasons that are longer than the screen."""
        self.box.scroll_relative(y=way * max(self.box.size.height - 1, 1), animate=False)

    def action_step(self, way: int) -> None:
        """To the next place with a piece to count, or the one before; around the end."""
        places = [(ord(name[0]) - 65, int(name[1:]) - 1) for name in self.names]
        if places:
            beyond = [one for one in places if (one > self.cursor if way > 0 else one < self.cursor)] or places
            self.cursor = min(beyond) if way > 0 else max(beyond)
            self.update_body()

    def action_unmark(self) -> None:
        """The piece under the cursor, or the one marked last, is good after all; what was counted stays."""
        if self.has_places:
            self.marks.pop(self.here, None)
        elif self.last:
            self.heap[self.last.pop()] -= 1
        self.update_body()

    def action_type_good(self) -> None:
        """Somebody's own count of the good ones, beside the marks; empty: the rest is good again."""

        def attempt(given: Values) -> Errors:
            many = parse_number(given["good"]) if given["good"].strip() else None
            if many is not None and not isinstance(many, int):
                return {"good": "enter a whole number, or nothing: the rest is good"}
            self.good_typed = many
            return {}

        typed = "" if self.good_typed is None else str(self.good_typed)
        fields = [FieldSpec("good", "Good ones counted", typed, hint="blank: the rest", number=True)]
        self.floor.push_screen(FormDialog("Your own count", fields, attempt), lambda _: self.update_all())

    def action_back(self) -> None:
        """What is marked or counted is in no record: it is asked about before it goes."""
        leave = super().action_back
        if self.is_unrecorded:
            self.floor.push_screen(ConfirmDialog(LEAVE_COUNT, does="leave"), lambda yes: leave() if yes else None)
        else:
            leave()

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
        self.give(self.batch_id, CountRun(self.run_, self.good, tuple(marks)), self._leave_counted)

    def _leave_counted(self, entries: list[Entry]) -> None:
        """Back to the walk, and once about what was scrapped: there is nothing left to count here."""
        self.floor.leave(self)
        below = self.floor.screen
        if isinstance(below, FloorScreen):
            from floor.screens.batch.scrap import ask_scrap

            ask_scrap(below, self.batch_id, entries)
