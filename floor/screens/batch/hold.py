"""Pieces on hold: a lead decides what becomes of them. Below, what is in rework."""

from __future__ import annotations

from typing import ClassVar

from textual import getters, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from floor.batch.command import Refused
from floor.batch.counting.commands import Dispose, TakeOff
from floor.batch.counting.conformance import list_standing_values
from floor.batch.counting.follow_up import list_follow_ups
from floor.batch.counting.holds import (
    HeldPiece,
    count_most_passes,
    list_held_pieces,
    list_pieces_in_rework,
    list_possible_reworks,
    list_scrap_on_carriers,
)
from floor.batch.counting.lying import list_what_lies
from floor.batch.describe import describe
from floor.batch.events import Concession
from floor.batch.load import Load
from floor.batch.trials.pieces import say_used_as_tests
from floor.entry import Entry
from floor.screens.batch.follow_up import choose_follow_up
from floor.screens.batch.lying import lay_out_load
from floor.screens.batch.scrap import ask_scrap
from floor.screens.forms.dialogs import Choice, ChoiceDialog, FormDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values
from floor.screens.frame.screen import USUAL, WIDE, BatchFrame
from floor.screens.frame.session import Session
from floor.screens.widgets.place_map import PlaceMap
from floor.screens.widgets.rows import TableView
from floor.text import capitalize_first, count_cells, format_clock, format_count, join_sentences

LEAST_WHY = 34
"""Columns that the words beside the drawing keep."""
PLACE = 13
"""Columns of a piece's place; where it is wide, as many as the longest has."""
COLUMNS = (("", 1), ("Piece", 5), ("Found", 7), ("Place", PLACE), ("By", 4), ("When", 11), ("Reason", 0))
PICKS = {
    "use as is": ("within the drawing when measured again", "outside the drawing; the customer accepts it"),
    "rework": ("rework restores it",),
    "scrap": ("cannot be reworked", "rework costs more than a new piece"),
    "repair": ("fit for use, not as drawn",),
    "regrade": ("meets a lower grade",),
    "return to supplier": ("the supplier's fault", "the supplier puts it right"),
}
"""Reasons offered before typing."""
BY_ROUTE = ("rework", "repair")
OF_PIECES = ("mark", "mark_all", "decide", "take_off", "follow_up")
"""What keys do with the pieces that are marked."""
ADVICE = {
    "use as is": "Outside the drawing, only the customer can accept them, not a lead.",
    "rework": "They are re-inspected before they count as good.",
    "scrap": "Mark or break the pieces now, so that they cannot come back.",
    "repair": "Repaired, they are still not as drawn: only the customer can accept them, not a lead.",
    "regrade": "They do not fill this order. Mark their new grade on the pieces now.",
    "return to supplier": "They do not fill this order. Tag them and keep them apart until they are picked up.",
}
WHERE_TO = {
    "regrade": ("New grade", ""),
    "return to supplier": ("Supplier", "and the number of the return"),
}
"""What else is asked, and its hint."""


class HoldScreen(BatchFrame):
    """What is held, where it was found, why, by whom and since when; several are marked and decided on together."""

    GUIDE = (
        "These pieces are held: a lead decides what becomes of them.",
        "Mark some with `Space` (`*`: all), then `Enter` decides on those.",
        "`h` records that they were taken off their carrier.",
    )
    BINDINGS: ClassVar = [
        Binding("space", "mark", "Mark", id="hold_mark"),
        Binding("asterisk", "mark_all", "All or none", key_display="*", id="hold_all", tooltip="mark all, or none"),
        Binding("enter", "decide", "Decide (lead)", id="hold_decide", priority=True),
        Binding("h", "take_off", "Move", id="hold_off", tooltip="taken off: the marked pieces lie apart now"),
        Binding("n", "follow_up", "Note", id="hold_note", tooltip="a cause found, or what the customer was told"),
    ]
    DEFAULT_CSS = """
    HoldScreen #said { height: auto; border-top: solid $panel; }
    HoldScreen #said Vertical { width: 1fr; height: auto; }
    HoldScreen #lying { padding: 0 1; }
    HoldScreen #why { height: auto; max-height: 8; padding: 0 1; }
    HoldScreen #rework { height: auto; max-height: 7; padding: 0 1; border-top: solid $panel; }
    HoldScreen #none { height: 1fr; padding: 2 4; }
    """

    table = getters.query_one("#held", TableView)
    why = getters.query_one("#why", Static)
    rework = getters.query_one("#rework-text", Static)
    none = getters.query_one("#none", Static)
    lying = getters.query_one("#lying", PlaceMap)

    def __init__(self, session: Session, batch: str) -> None:
        super().__init__(session, batch)
        self.held: list[HeldPiece] = []
        self.marked: set[int] = set()

    def body(self) -> ComposeResult:
        yield TableView(COLUMNS, id="held")
        yield Static("Nothing is on hold.", id="none", markup=False)
        with Horizontal(id="said"):
            with Vertical():
                yield Static(id="why", markup=False)
                with VerticalScroll(id="rework"):
                    yield Static(id="rework-text", markup=False)
            yield PlaceMap("lying")

    def on_mount(self) -> None:
        self.table.focus()

    def place(self) -> str:
        return f"{super().place()}  {format_count(len(self.current_batch.held()), 'piece')} on hold"

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Where nothing is held, nothing is marked or decided."""
        return bool(self.held) or action not in OF_PIECES

    def update_body(self) -> None:
        batch, now = self.current_batch, self.session.now().at
        before, self.held = bool(self.held), [*list_held_pieces(batch), *list_scrap_on_carriers(batch)]
        if bool(self.held) != before:
            self.refresh_bindings()
        self.marked &= {one.piece for one in self.held}
        self.table.display, self.none.display = bool(self.held), not self.held
        place = max([PLACE, *(count_cells(one.place) for one in self.held)]) if self.size.width >= WIDE else PLACE
        self.table.head([(name, place if name == "Place" else width) for name, width in COLUMNS])
        self.table.fill(
            [
                (
                    "■" if one.piece in self.marked else "",
                    str(one.piece),
                    f"op {one.op}",
                    one.place,
                    one.by,
                    format_clock(one.at, now),
                    ("scrap: " if one.scrap else "") + one.reason + (f" · rework due: {one.owes}" if one.owes else ""),
                )
                for one in self.held
            ]
        )
        lines = list_pieces_in_rework(batch) or ["nothing"]
        self.rework.update(Content("\n").join([Content("In rework"), *(Content(f"  {line}") for line in lines)]))
        self._show_why()

    def _show_why(self) -> None:
        one = self.chosen
        self.why.display = one is not None
        if one is not None:
            title = self.current_batch.operation(one.op).title
            note = f": {one.note}" if one.note else ""
            said = f"Piece {one.piece}, op {one.op} {title}, {one.place}: {one.reason}{note}"
            set_aside = f"Set aside by {one.by} {format_clock(one.at, self.session.now().at)}"
            measured = f"Measured on its load: {one.measured}" if one.measured else ""
            owes = f"Still to be reworked: {one.owes}" if one.owes else ""
            sits = "Still on its carrier: used as it is, it goes on from there" if one.sits else ""
            sits = "Still on its carrier; press h when it has been taken off" if one.scrap else sits
            told = [describe(self.current_batch, entry) for entry, _ in list_follow_ups(self.current_batch, one.piece)]
            self.why.update(join_sentences(said, set_aside, *filter(None, (sits, measured, owes, *told))))
        self._draw()

    def on_resize(self) -> None:
        self.call_after_refresh(self._draw)

    def _draw(self) -> None:
        """The carrier that the piece under the cursor still sits on, with all that are marked there."""
        batch, one, load = self.current_batch, self.chosen, self._find_load()
        title = batch.format_carrier(load) if load is not None else ""
        here = one.piece if one is not None else 0
        places = lay_out_load(batch, load, self.marked, here, title, "marked", numbers=False)
        width, height = self.size
        self.lying.draw(places, width - LEAST_WHY if width >= USUAL else 0, height // 3)

    @on(PlaceMap.Pressed)
    def place_pressed(self, event: PlaceMap.Pressed) -> None:
        """A touched piece comes under the cursor, if it is one of these."""
        event.stop()
        load = self._find_load()
        lies = list_what_lies(self.current_batch, load).get(event.place) if load is not None else None
        row = next((n for n, one in enumerate(self.held) if lies is not None and one.piece == lies.piece), None)
        if row is not None:
            self.table.move_cursor(row)

    def _find_load(self) -> Load | None:
        """The load on whose carrier the piece under the cursor still sits."""
        batch, one = self.current_batch, self.chosen
        return batch.loads.get(batch.places[one.piece].load) if one is not None and one.sits else None

    @property
    def chosen(self) -> HeldPiece | None:
        row = self.table.cursor_row
        return self.held[row] if 0 <= row < len(self.held) else None

    @property
    def selected(self) -> list[HeldPiece]:
        """The marked pieces; where none is marked, the one under the cursor."""
        marked = [one for one in self.held if one.piece in self.marked]
        return marked or ([self.chosen] if self.chosen else [])

    @property
    def undecided(self) -> list[HeldPiece]:
        return [one for one in self.selected if not one.scrap]

    @on(TableView.RowHighlighted)
    def highlighted(self, event: TableView.RowHighlighted) -> None:
        event.stop()
        self._show_why()

    @on(TableView.RowSelected)
    def row_clicked(self, event: TableView.RowSelected) -> None:
        event.stop()
        self.action_mark()

    # --- keys --------------------------------------------------------------------------------------------------

    def action_mark(self) -> None:
        one = self.chosen
        if one is not None:
            self.marked ^= {one.piece}
            self.update_body()

    def action_mark_all(self) -> None:
        self.marked = set() if self.marked else {one.piece for one in self.held if not one.scrap}
        self.update_body()

    def action_take_off(self) -> None:
        """They lie apart now; to be used, they need a carrier again."""
        pieces = tuple(one.piece for one in self.selected if one.sits)
        if not pieces:
            self.say("None of these sits on a carrier any more", wrong=True)
            return
        done = f"{format_count(len(pieces), 'piece')} taken off the carrier"
        self.give(self.batch_id, TakeOff(pieces), lambda entries: self.say(done))

    def action_follow_up(self) -> None:
        """What was found out about the marked pieces, or told the customer."""
        if self.selected:
            pieces = tuple(one.piece for one in self.selected)
            choose_follow_up(self, self.batch_id, pieces, format_places(self.selected))

    def action_decide(self) -> None:
        """What becomes of the marked pieces."""
        if self.undecided:
            self.run_signed_in(self._choose)
        elif self.selected:
            self.say("Scrap is already decided. Press h when it has been taken off its carrier", wrong=True)

    def _choose(self) -> None:
        try:
            self.session.context(self.batch_id).need_lead("a disposition")
        except Refused as refused:
            self.say_refused(refused)
            return
        meant = self.undecided
        pieces = tuple(one.piece for one in meant)
        owing = ", ".join(dict.fromkeys(one.owes for one in meant if one.owes))
        choices = [Choice("use as is", "use as is" + (f", without the rework: {owing}" if owing else ""))]
        routes = self._routes(pieces)

        def by_route(how: str) -> list[Choice]:
            if len(routes) == 1:
                return [Choice(f"{how} {routes[0].key}", f"{how}: {routes[0].text}")]
            return [Choice(how, f"{how}: choose one of {len(routes)} ways")] if routes else []

        choices += [*by_route("rework"), Choice("scrap", "scrap"), *by_route("repair")]
        choices += [Choice(how, how) for how in WHERE_TO]

        def answered(decision: str | None) -> None:
            if decision in BY_ROUTE:
                title = f"{capitalize_first(decision)} {format_count(len(pieces), 'piece')}"
                ways = [Choice(f"{decision} {route.key}", route.text) for route in routes]
                which = ChoiceDialog(title, ways, format_places(meant), acts=True)
                self.floor.push_screen(which, answered)
            elif decision is not None:
                self._ask_reason(meant, decision)

        title = f"Decide on {format_count(len(pieces), 'piece')}"
        self.floor.push_screen(ChoiceDialog(title, choices, format_places(meant), acts=True), answered)

    def _routes(self, pieces: tuple[int, ...]) -> list[Choice]:
        choices = []
        for route in list_possible_reworks(self.current_batch, pieces):
            passes = count_most_passes(self.current_batch, pieces, route)
            before = f", {passes} of {route.passes} passes behind it" if passes else ""
            choices.append(Choice(route.id, f"{route.name}, back to op {route.back_to}{before}"))
        return choices

    def _ask_reason(self, meant: list[HeldPiece], choice: str) -> None:
        way, _, rework = choice.partition(" ")
        decision, rework = (way, rework) if way in BY_ROUTE else (choice, "")
        pieces = tuple(one.piece for one in meant)
        as_is = decision == "use as is"
        made: list[Entry] = []
        waives = as_is and any(one.owes for one in meant)  # the choice said so
        out = list_standing_values(self.current_batch, pieces[0]) if as_is and len(pieces) == 1 else []
        again = [
            FieldSpec(f"measured-{n}", f"Measured again: {one.ask.short or one.ask.label}", hint=one.ask.band)
            for n, one in enumerate(out, 1)
        ]

        def attempt(values: Values) -> Errors:
            measured, to = tuple(values[one.name] for one in again), values.get("to", "")
            by, on, number = (values.get(one, "") for one in ("granted_by", "granted_on", "number"))
            granted = Concession(by=by, on=on, number=number)
            dispose = Dispose(pieces, decision, values["why"], rework, waives, granted, measured, to)  # type: ignore[arg-type]
            made.extend(self.session.do(self.batch_id, dispose))
            return {}

        def answered(taken: bool | None) -> None:
            if taken:
                self.marked.clear()
                self.say(f"{format_count(len(pieces), 'piece')}: {decision}")
                if decision == "scrap":
                    ask_scrap(self, self.batch_id, made)
            self.update_all()

        route = self.current_batch.checklist.rework(rework) if rework else None
        name = route.name if route else capitalize_first(decision)
        title = f"{'Repair: ' if decision == 'repair' else ''}{name}: {format_count(len(pieces), 'piece')}"
        fields = _list_fields(decision)
        fields[1:1] = again
        tests = say_used_as_tests(self.current_batch, pieces) if decision == "scrap" else ""
        text = "\n".join(filter(None, (format_places(meant), ADVICE[decision], tests)))
        self.floor.push_screen(FormDialog(title, fields, attempt, text), answered)


def _list_fields(decision: str) -> list[FieldSpec]:
    """What a decision asks for."""
    fields = [FieldSpec("why", "Reason", picks=PICKS[decision], needed=True)]
    if decision in ("use as is", "repair"):
        hint = "blank: as drawn" if decision == "use as is" else ""
        fields += [
            FieldSpec("granted_by", "Customer's concession: who gave it", hint=hint),
            FieldSpec("granted_on", "Day it was given", hint="YYYY-MM-DD"),
            FieldSpec("number", "Its number", hint="blank if it has none"),
        ]
    if decision in WHERE_TO:
        label, hint = WHERE_TO[decision]
        fields.append(FieldSpec("to", label, hint=hint, needed=True))
    return fields


def format_places(pieces: list[HeldPiece], most: int = 8) -> str:
    """The pieces by their places, shortened where there are many."""
    named = [f"{one.place} (piece {one.piece})" for one in pieces[:most]]
    more = f" and {len(pieces) - most} more" if len(pieces) > most else ""
    return ", ".join(named) + more
