"""A batch that is under way already: where everything is, told row by row, then entered in one act with its opening."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import ClassVar

from textual import getters, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from floor.batch.command import Refused
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.lifecycle.enter_half_done import LOST, EnterLate
from floor.batch.lifecycle.half_done import PaperProof, PlacedPieces, format_placed_pieces, say_sum
from floor.batch.state import Batch
from floor.ledger import LedgerError
from floor.screens.batch.enter_half_done import ask_half_done_row, ask_proof, format_proof
from floor.screens.forms.dialogs import Choice, ChoiceDialog, FormDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.session import Session, Told
from floor.screens.widgets.rows import TableView
from floor.shop.second_signature import PinToken
from floor.text import format_clock, format_count
from floor.wall import describe_wrong_time, parse_typed_time

TOLD = {
    "load": "pieces on a carrier, for this operation",
    "waiting": "pieces waiting loose for it",
    "scrap": "scrap that this operation found",
    "hold": "pieces that it put on hold",
    "rework": "pieces that it sent back, loose",
    "finished": "finished pieces",
    "proof": "what the papers prove for this operation",
    "time": "as of what time, and who else saw the papers",
}
Open = Callable[[EnterLate, tuple[PinToken, ...]], None]


class HalfDoneScreen(FloorScreen):
    """Question 3: where is every piece? Under each operation stands what was told of it; only y writes."""

    GUIDE = (
        "List each piece where it is now: go to an operation; `a` adds a row.",
        "Go on until none is missing; add what the papers prove.",
        "`y` opens the batch with it; until then nothing is recorded.",
    )
    BINDINGS: ClassVar = [
        Binding("a", "add", "Add", id="told_add", tooltip="pieces, a check from the papers, the time it holds for"),
        Binding("delete", "drop", "Take out", key_display="Del", id="told_drop", tooltip="the row under the cursor"),
        Binding("y", "record", "Yes, open", id="told_record", tooltip="open the batch with this"),
    ]
    DEFAULT_CSS = """
    HalfDoneScreen #told-sum { height: auto; max-height: 6; border-top: solid $panel; padding: 0 1; }
    """

    table = getters.query_one("#told", TableView)
    total = getters.query_one("#told-sum", Static)

    def __init__(self, session: Session, command: OpenBatch, open_: Open) -> None:
        """
        Args:
            command: opens the batch, without what is told.
            open_: opens it with what is told.
        """
        super().__init__(session)
        self.command = command
        self.open_ = open_
        self.batch_ahead: Batch = command.opened(session.shop.context(command.id, session.who))
        told = session.told.get(command.digest, Told())
        self.rows: list[PlacedPieces] = list(told.rows)
        self.shown: list[PaperProof] = list(told.shown)
        self.began = session.now().at
        self.at = told.at
        """As of when, if that was entered."""
        self.second = told.second
        self.lines: list[tuple[int, PlacedPieces | PaperProof | None]] = []
        """The operation of each line of the table (0: none) and what was told there."""

    @property
    def as_of(self) -> datetime:
        return self.at or self.began

    @property
    def is_unrecorded(self) -> bool:
        return bool(self.rows or self.shown)

    def body(self) -> ComposeResult:
        yield TableView([("Op", 4), ("Where everything is", 0)], id="told")
        yield Static(id="told-sum", markup=False)

    def on_mount(self) -> None:
        self.table.focus()

    def place(self) -> str:
        part = self.command.checklist.part
        return f"Floor  Open a batch  {part.number} {part.revision}  Already under way"

    @on(TableView.RowHighlighted)
    def moved(self, event: TableView.RowHighlighted) -> None:
        event.stop()
        self.total.update("\n".join(self._said()))

    # --- what is told ------------------------------------------------------------------------------------------

    @property
    def missing(self) -> int:
        return self.command.start - sum(row.count for row in self.rows)

    def update_body(self) -> None:
        checklist, now = self.command.checklist, self.session.now().at
        self.lines, filled = [], []
        for operation in checklist.operations:
            self.lines.append((operation.op, None))
            filled.append((str(operation.op), operation.title))
            for row in self.rows:
                if row.what != "finished" and (row.found or row.op) == operation.op:
                    self.lines.append((operation.op, row))
                    filled.append(("", f"  {format_placed_pieces(checklist, row, now, op=False)}"))
            for one in self.shown:
                if one.op == operation.op:
                    self.lines.append((operation.op, one))
                    filled.append(("", f"  ✓ {format_proof(checklist, one, now)}"))
        for row in self.rows:
            if row.what == "finished":
                self.lines.append((0, row))
                filled.append(("", format_placed_pieces(checklist, row, now)))
        self.table.fill(filled)
        self.total.update("\n".join(self._said()))

    def _said(self) -> list[str]:
        """What ``y`` will record, or why it will not yet."""
        missing, started = self.missing, self.command.start
        told = f"{format_count(started, 'piece')} started, accounted for: {say_sum(self.rows)}."
        if missing:
            many = f"{missing} missing: {LOST}." if missing > 0 else f"{-missing} too many: count again."
            return [told, many, "a: add what is at the operation under the cursor. Times like 14:30; ? not known."]
        seen = f", {self.second} saw the papers" if self.second else ""
        law = "cures count from the times entered"
        law = law if self.second else "cures count from now; with a second person (a), from the times entered"
        return [
            told,
            f"y opens the batch with this, entered late by {self.session.who}, as of "
            f"{format_clock(self.as_of, self.session.now().at)}{seen}; {law}.",
            self.table.cut_off().strip() or "What is not entered is not known; you are asked at the next load.",
        ]

    def keep(self) -> None:
        self.session.told[self.command.digest] = Told(tuple(self.rows), tuple(self.shown), self.at, self.second)
        self.update_all()

    @property
    def here(self) -> tuple[int, PlacedPieces | PaperProof | None]:
        return self.lines[self.table.cursor_row] if self.lines else (0, None)

    # --- keys --------------------------------------------------------------------------------------------------

    def action_add(self) -> None:
        """What is at the operation under the cursor, what the papers prove of it, and as of when."""

        def picked(what: str | None) -> None:
            if what == "proof":
                self._prove()
            elif what == "time":
                self._ask_time()
            elif what is not None:
                self._tell(what)

        op, _ = self.here
        choices = [Choice(what, said) for what, said in TOLD.items() if op or what not in ("load", "proof")]
        title = f"Op {op} {self.command.checklist.ops[op].title}" if op else "Finished pieces"
        self.floor.push_screen(ChoiceDialog(title, choices), picked)

    def _tell(self, what: str) -> None:
        op = self.here[0] or self.command.checklist.operations[-1].op

        def told(row: PlacedPieces) -> None:
            self.rows.append(row)
            self.keep()

        ask_half_done_row(self, what, op, told)

    def _prove(self) -> None:
        op, row = self.here
        load = row if isinstance(row, PlacedPieces) and row.what == "load" else None
        loads = [one for one in self.rows if one.what == "load" and one.op == op]
        load = load or (loads[0] if loads else None)
        if not op:
            return

        def proved(one: PaperProof) -> None:
            same = [
                n
                for n, other in enumerate(self.shown)
                if (other.op, other.line, other.number) == (one.op, one.line, one.number)
            ]
            for n in reversed(same):
                del self.shown[n]
            self.shown.append(one)
            self.keep()

        ask_proof(self, op, load, proved)

    def action_drop(self) -> None:
        _, told = self.here
        if isinstance(told, PlacedPieces):
            self.rows.remove(told)
        elif isinstance(told, PaperProof):
            self.shown.remove(told)
        else:
            self.say("That is an operation, not a row. Put the cursor on a row under it", wrong=True)
            return
        op, row = self.here[0], self.table.cursor_row
        self.keep()
        if self.here[0] != op:  # what is added next is still for this operation
            self.table.move_cursor(row - 1)

    def _ask_time(self) -> None:
        now = self.session.now().at

        def attempt(values: Values) -> Errors:
            at = parse_typed_time(values["at"], now, past=True) if values["at"].strip() else None
            if at is None and values["at"].strip():
                return {"at": f"{describe_wrong_time(values['at'], now)}."}
            second = values["second"].strip().upper()
            if second:
                self.session.shop.context(self.command.id, self.session.who).need_second(
                    second, "entering from the papers"
                )
            self.at, self.second = at, second
            return {}

        fields = [
            FieldSpec("at", "As of", hint="e.g. 14:30; blank: now"),
            FieldSpec("second", "Who saw the papers", self.second, hint="blank: nobody; cures count from now"),
        ]
        self.floor.push_screen(FormDialog("As of what time?", fields, attempt), lambda _: self.keep())

    def action_record(self) -> None:
        self.run_signed_in(self._ask_signatures)

    def _ask_signatures(self) -> None:
        """Whoever else signs gives their PIN as it is entered: who saw the papers, who signed a check on them."""
        people = self.session.shop.people
        signed = {self.second, *(str(one.values.get("person", "")).strip().upper() for one in self.shown)}
        signers = sorted(signed - {"", self.session.who}) if people.has_pins else []
        tokens: list[PinToken] = []

        def attempt(values: Values) -> Errors:
            tokens.clear()
            for initials in signers:
                try:
                    tokens.append(self.session.shop.check_second(initials, values[initials]))
                except Refused as refused:
                    return {initials: str(refused)}
            return {}

        if signers:
            fields = [FieldSpec(initials, f"PIN of {initials}", secret=True) for initials in signers]
            self.ask_form("Who signs", fields, attempt, lambda: self._record(tuple(tokens)))
        else:
            self._record(())

    def _record(self, tokens: tuple[PinToken, ...]) -> None:
        late = EnterLate(tuple(self.rows), self.as_of, tuple(self.shown), self.second)
        try:
            self.open_(late, tokens)
        except Refused as refused:
            self.say_refused(refused)
        except LedgerError as error:
            self.say(str(error), wrong=True)
        else:
            self.session.told.pop(self.command.digest, None)
