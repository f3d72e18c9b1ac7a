"""The history of a batch: every entry as a line, filtered, looked into, struck out. Nothing is ever taken away."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from textual import getters
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Static

from floor.batch.command import Refused
from floor.batch.corrections.commands import StrikeOut, find_dependent_entries
from floor.batch.corrections.instead import Way, list_other_ways
from floor.batch.corrections.strike_effects import find_dependent_runs
from floor.batch.corrections.unproved_work import say_run
from floor.batch.counting.commands import HoldBack
from floor.batch.counting.correct_count import list_scrap_of
from floor.batch.describe import describe
from floor.batch.gates.open_lot import find_lot_gate
from floor.batch.search.history_filter import GROUPS, Filter, find_load_and_op, list_entry_pieces
from floor.batch.search.matching import find_matching_entries
from floor.entry import Entry
from floor.papers.catalog import list_offers
from floor.screens.batch.correct_count import ask_right_count
from floor.screens.batch.correct_lot import ask_right_lot
from floor.screens.forms.dialogs import Choice, ChoiceDialog, FormDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values, describe_refusal
from floor.screens.frame.closed_frame import ClosedFrame
from floor.screens.frame.paper_choice import PAPERS, choose_paper, make_paper_source
from floor.screens.frame.session import Session
from floor.screens.widgets.entry_lines import EntryDetail, EntryLines, list_entry_fields
from floor.text import cut, format_count

ALL = "all"
FINDS = {
    "words": "with certain words",
    "load": "of one load",
    "op": "of one operation",
    "who": "of one person",
    "kind": "of one kind",
    "all": "all of them again",
}
INSTEAD: dict[Way, str] = {
    "decide": "Or d on the batch: decide on its held pieces.",
    "correct": "Or Del, 1: its scrap was good.",
    "set aside": "Or m on the batch: set bad pieces aside.",
}


class HistoryScreen(ClosedFrame):
    """Question 9: what happened, when, by whom?"""

    DEFAULT_CSS = """
    #history { height: 1fr; }
    #history-main { width: 1fr; }
    #history-head { height: 1; color: $secondary; }
    #history-side { width: 64; height: 100%; border-left: solid $panel; padding: 0 1; }
    #history-row { height: 2; padding: 0 1; color: $accent; }
    .-wide #history-row { display: none; }
    #history-filter { height: 1; padding: 0 1; background: $surface; text-wrap: nowrap; text-overflow: ellipsis; }
    """
    GUIDE = (
        "Every entry, the newest last; nothing is ever removed.",
        "`/` shows only some. `Enter` shows one in full.",
        "`Del` strikes out a wrong one, or corrects its lot or scrap.",
    )
    BINDINGS = [
        Binding("enter", "open", "Open", id="open", show=False),
        Binding("slash", "find", "Find", key_display="/", id="find", tooltip="only some: words, load, op, who, kind"),
        Binding("t", "trace", "Trace", id="trace", tooltip="the piece of the entry"),
        Binding("delete", "strike", "Strike out", key_display="Del", id="strike", tooltip="with a reason"),
        PAPERS,
    ]
    AUTO_FOCUS = "#entries"

    lines = getters.query_one("#entries", EntryLines)
    side = getters.query_one("#history-side", Static)
    row = getters.query_one("#history-row", Static)
    found = getters.query_one("#history-filter", Static)

    def __init__(self, session: Session, batch: str) -> None:
        super().__init__(session, batch)
        self.wanted = Filter()
        self._shown: tuple[int, int, Filter] | None = None

    def body(self) -> ComposeResult:
        with Horizontal(id="history"):
            with Vertical(id="history-main"):
                head = f" {'entry':>6} {'when':<9} {'by':<4} {'load':>4} {'op':>5}  what"
                yield Static(head, id="history-head", markup=False)
                yield EntryLines(self)
                yield Static(id="history-row", markup=False)
            yield Static(id="history-side", markup=False)
        yield Static(id="history-filter", markup=False)

    def on_resize(self) -> None:
        self.call_after_refresh(self._show_side)

    def place(self) -> str:
        return f"{super().place()}  history"

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        return not (action == "strike" and self.current_batch.closed is not None)

    def update_body(self) -> None:
        batch = self.current_batch
        shown = (len(batch.entries), len(batch.struck), self.wanted)
        if shown != self._shown:
            self._shown = shown
            self.lines.show_entries(find_matching_entries(batch, self.wanted))
        self.lines.refresh()
        many = f"{len(self.lines.entries)} of {format_count(len(batch.entries), 'entry').replace('entrys', 'entries')}"
        said = self.wanted.said()
        self.found.update(f"Only {said}: {many}   /: all again" if said else f"{many}, {len(batch.struck)} struck out")
        self._show_side()

    def on_entry_lines_moved(self) -> None:
        self._show_side()

    def on_entry_lines_opened(self) -> None:
        self.action_open()

    def _show_side(self) -> None:
        entry = self.lines.entry
        self.side.display = self.has_class("-wide")
        self.row.update(describe(self.current_batch, entry) if entry is not None else "")
        if self.side.display and entry is not None:
            self.side.update(Content("\n".join(list_entry_fields(self.current_batch, entry, 60))))

    # --- filters -----------------------------------------------------------------------------------------------

    def _only(self, **changed: object) -> None:
        self.wanted = replace(self.wanted, **changed)  # type: ignore[arg-type]
        self.say("")
        self.update_all()

    def _number(self, title: str, name: str, known: list[int]) -> None:
        """Ask for one of the numbers there are; nothing typed means all."""
        shown = ", ".join(map(str, known)) if len(known) <= 20 else f"{known[0]} to {known[-1]}"

        def attempt(given: Values) -> Errors:
            text = given[name].strip()
            if text and not (text.isdecimal() and int(text) in known):
                return {name: f"{title} {text[:20]} is not in this batch; there are {shown or 'none yet'}"}
            self._only(**{name: int(text) if text else None})
            return {}

        field = FieldSpec(name, title, hint=f"{shown or 'none yet'}; blank: all")
        self.floor.push_screen(FormDialog(f"Only entries of one {title.lower()}", [field], attempt))

    def action_find(self) -> None:
        """Which entries to show."""
        goes: dict[str, Callable[[], None]] = {
            "words": self._find_words,
            "load": self._find_load,
            "op": self._find_op,
            "who": self._find_person,
            "kind": self._find_kind,
        }
        if self.wanted != Filter():
            goes["all"] = self._find_all  # last, so that no digit comes to mean another
        choices = [Choice(key, FINDS[key]) for key in goes]
        self.floor.push_screen(
            ChoiceDialog("Show which entries", choices), lambda key: goes[key]() if key is not None else None
        )

    def _find_load(self) -> None:
        self._number("Load", "load", sorted(self.current_batch.loads))

    def _find_op(self) -> None:
        self._number("Operation", "op", sorted(self.current_batch.checklist.ops))

    def _find_person(self) -> None:
        people = sorted({entry.by for entry in self.current_batch.entries})
        choices = [Choice(ALL, "everybody"), *(Choice(person, person) for person in people)]

        def picked(key: str | None) -> None:
            if key is not None:
                self._only(by="" if key == ALL else key)

        self.floor.push_screen(ChoiceDialog("Only entries of one person", choices), picked)

    def _find_kind(self) -> None:
        choices = [Choice(ALL, "everything"), *(Choice(group, group) for group in GROUPS)]

        def picked(key: str | None) -> None:
            if key is not None:
                self._only(group=None if key == ALL else key)

        self.floor.push_screen(ChoiceDialog("Only entries of one kind", choices), picked)

    def _find_words(self) -> None:
        def attempt(given: Values) -> Errors:
            self._only(says=given["text"].strip())
            return {}

        field = FieldSpec("text", "Words", self.wanted.says, hint="blank: all")
        self.floor.push_screen(FormDialog("Text contains", [field], attempt))

    def _find_all(self) -> None:
        self.wanted = Filter()
        self.say("")
        self.update_all()

    # --- one entry ---------------------------------------------------------------------------------------------

    def action_open(self) -> None:
        entry = self.lines.entry
        if entry is not None:
            self.floor.push_screen(EntryDetail(self.current_batch, entry))

    def action_trace(self) -> None:
        """The way of the piece that the entry is about, asking which where it is about several."""
        from floor.screens.batch.trace import TraceScreen

        entry = self.lines.entry
        if entry is None:
            return
        pieces = list_entry_pieces(self.current_batch, entry)
        load, _ = find_load_and_op(self.current_batch, entry)
        piece = pieces[0] if len(pieces) == 1 else None
        self.floor.go(TraceScreen(self.session, self.batch_id, piece, load=load, among=pieces))

    def action_papers(self) -> None:
        choose_paper(self, list_offers(make_paper_source(self.session, self.current_batch)))

    def action_strike(self) -> None:
        """Strike the entry out with a reason, having seen what came after it in the same run."""
        entry = self.lines.entry
        if entry is None:
            return
        batch, seq = self.current_batch, entry.seq
        gate = find_lot_gate(batch, entry)
        if gate is not None and not gate.serial:
            heading, ask = "What is wrong with this lot?", ask_right_lot
            correct = "another lot went in: enter the right one"
        elif list_scrap_of(batch, seq):
            heading, ask = "What is wrong with this scrap?", ask_right_count
            correct = "pieces were good: take them back on hold (a lead)"
        else:
            self._strike(entry)
            return
        choices = [
            Choice("correct", correct),
            Choice("strike", "hold what was made with it" if seq in batch.struck else "strike the entry out"),
        ]

        def picked(how: str | None) -> None:
            if how == "correct":
                self.run_signed_in(lambda: ask(self, self.batch_id, seq))
            elif how == "strike":
                self._strike(entry)

        self.floor.push_screen(ChoiceDialog(heading, choices, describe(batch, entry)), picked)

    def _strike(self, entry: Entry) -> None:
        if entry.seq in self.current_batch.struck and find_dependent_runs(self.current_batch, entry.seq):
            self._hold_back(entry.seq)
            return
        self.run_signed_in(lambda: self._ask_why(entry))

    def _ask_why(self, entry: Entry) -> None:
        """Ask for the reason where it may be struck out: nobody types one for nothing."""
        batch, seq = self.current_batch, entry.seq
        try:
            StrikeOut(seq).allowed(batch, self.session.context(self.batch_id))
        except Refused as refused:
            ways = list_other_ways(batch, entry) if refused.why in ("later entries", "authority") else ()
            self.say(" ".join([describe_refusal(refused), *(INSTEAD[way] for way in ways)]), wrong=True)
            return
        later = find_dependent_entries(batch, seq)
        said = {one.seq: describe(batch, one) for one in batch.entries if one.seq in later[:6]}
        text = describe(batch, entry)
        others = find_dependent_runs(batch, seq)
        if others:
            text += "\n\nOther runs went on because of it:\n"
            text += "\n".join(cut(say_run(batch, run), 62) for run in others[:6])
            text += f"\n(and {len(others) - 6} more)" if len(others) > 6 else ""
        if later:
            text += "\n\nLook at these again afterwards:\n"
            text += "\n".join(cut(f"{number}  {what}", 62) for number, what in said.items())
            text += f"\n(and {len(later) - len(said)} more)" if len(later) > len(said) else ""

        def struck() -> None:
            again = f" Look again at {', '.join(map(str, later[:12]))}" if later else ""
            self.say(f"Entry {seq} is struck out and stays readable.{again}")
            if find_dependent_runs(self.current_batch, seq):
                self._hold_back(seq)

        fields = [FieldSpec("why", "Reason", needed=True)]
        self.ask_and_give(
            self.batch_id,
            f"Strike out entry {seq}",
            fields,
            lambda given: StrikeOut(seq, given["why"]),
            lambda _: struck(),
            text,
        )

    def _hold_back(self, seq: int) -> None:
        """The runs that went on because of a struck-out entry: a lead holds what went through them, or leaves it."""
        batch = self.current_batch
        choices = [Choice(str(run.number), say_run(batch, run)) for run in find_dependent_runs(batch, seq)]

        def picked(run: str | None) -> None:
            if run is not None:
                fields = [FieldSpec("why", "Reason", f"entry {seq} was struck out")]
                number = int(run)
                self.ask_and_give(
                    self.batch_id,
                    f"Put run {run} pieces on hold",
                    fields,
                    lambda given: HoldBack(number, given["why"]),
                    held,
                    "Needs a lead.",
                )

        def held(entries: list[Entry]) -> None:
            self.say(
                f"{format_count(len(entries[0].body['pieces']), 'piece')} on hold. Del: the other runs of entry {seq}"
            )

        title = f"These runs went on because of entry {seq}. Hold their pieces?"
        later = "Esc: leave them; Del on the struck entry comes back here."
        self.floor.push_screen(ChoiceDialog(title, choices, later), picked)
