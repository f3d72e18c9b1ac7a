"""Which checklist to open a batch from, what is wrong in one; and starting more pieces while a batch runs."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from typing import ClassVar

from textual import events, getters, on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Container, VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.widgets import Static

from floor.batch.command import Refused
from floor.batch.lifecycle.commands import StartPieces
from floor.batch.state import Batch
from floor.batch.stations.standing_setup import describe_first_setup
from floor.ledger import LedgerError
from floor.screens.forms.dialogs import COLUMNS, ConfirmDialog, FormDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values, parse_number
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.session import Session
from floor.screens.widgets.rows import TableView
from floor.shop.checklists import OWN, ChecklistFile, list_checklists, reread_checklist
from floor.shop.shop_record import fold_part_number
from floor.text import format_clock, format_count


class ChecklistsScreen(FloorScreen):
    """Which checklist? The shop's own and the shipped ones; a broken one shows what is wrong instead of opening."""

    GUIDE = (
        "Choose the checklist of the part. `Enter` opens its order form.",
        "One marked ✕ has errors: `Enter` lists them.",
    )
    BINDINGS: ClassVar = [
        Binding("enter", "open", "Open a batch", id="checklist_open", priority=True),
        Binding("d", "decide", "Decide", id="checklist_decide", tooltip="approve this checklist for work (a lead)"),
        Binding("ctrl+r", "read", "Read again", id="checklist_read"),
    ]
    DEFAULT_CSS = """
    ChecklistsScreen #checklists { height: auto; max-height: 8; }
    ChecklistsScreen #detail { height: 1fr; border-top: solid $panel; padding: 0 1; }
    ChecklistsScreen #own { height: 1; padding: 0 1; color: $secondary; text-wrap: nowrap; text-overflow: ellipsis; }
    ChecklistsScreen.-wide #two { layout: horizontal; }
    ChecklistsScreen.-wide #checklists { width: 1fr; height: 1fr; max-height: 100%; }
    ChecklistsScreen.-wide #detail { width: 62; border-top: none; border-left: solid $panel; }
    """

    table = getters.query_one("#checklists", TableView)
    detail = getters.query_one("#detail-text", Static)

    class ReadIn(Message):
        """All files are read."""

        def __init__(self, found: list[ChecklistFile]) -> None:
            super().__init__()
            self.found = found

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.found: list[ChecklistFile] = []
        self.seen = False
        """Whether the list is on the screen: an Enter typed before that chooses nothing from it."""

    def body(self) -> ComposeResult:
        with Container(id="two"):
            yield TableView(
                [("", 1), ("Part", 10), ("Rev", 4), ("Name", 0), ("Ops", 3), ("From", 7), ("", 11)], id="checklists"
            )
            with VerticalScroll(id="detail"):
                yield Static("Reading the checklists …", id="detail-text", markup=False)
        yield Static(f"Your own checklists go into {self.session.shop.folder / OWN}", id="own", markup=False)

    def on_mount(self) -> None:
        self.table.focus()
        self.read()

    def place(self) -> str:
        return "Floor  Open a batch  Which checklist?"

    @work(thread=True, exclusive=True, group="read")
    def read(self) -> None:
        """Read all files beside the keys: the units library takes a second to load, the first time."""
        self.post_message(self.ReadIn(list_checklists(self.session.shop.folder)))

    @on(ReadIn)
    def checklists_read(self, event: ReadIn) -> None:
        event.stop()
        self.found = event.found
        self.table.fill([self._row(one) for one in self.found])
        self._show_detail()
        self.call_after_refresh(self._has_been_shown)

    def _has_been_shown(self) -> None:
        self.seen = True
        self.clear_reply()  # that it was not there yet

    def _row(self, one: ChecklistFile) -> tuple[str, ...]:
        source = "shop" if one.own else "shipped"
        checklist = one.loaded.checklist
        if checklist is None:
            return "✕", "", "", one.path.name, "", source, format_count(len(one.loaded.problems), "problem")
        part, approvals = checklist.part, self.session.shop.approvals
        approved = approvals.find(part.number, one.digest) is not None
        state = "approved" if approved else "unapproved" if approvals.are_used else "ready"
        return "", part.number, part.revision, part.name, str(len(checklist.operations)), source, state

    def _show_detail(self) -> None:
        one = self.chosen
        if one is not None:
            said = self._say_approval(one)
            self.detail.update(f"{said}\n{describe_checklist(one)}" if said else describe_checklist(one))

    def _say_approval(self, one: ChecklistFile) -> str:
        """Who approved it and when, or who may open it all the same; empty while the shop approves none."""
        approvals, shop = self.session.shop.approvals, self.session.shop
        if one.loaded.checklist is None or not (approvals.are_used or shop.approved_checklists_only):
            return ""
        part = one.loaded.checklist.part
        known = approvals.find(part.number, one.digest)
        if known is not None:
            return f"Approved by {known.by} {format_clock(known.at, self.session.now().at)}"
        other = approvals.of_parts.get(fold_part_number(part.number))
        of = f"; another file is approved, revision {other.revision}" if other is not None else ""
        who = "Nobody" if shop.approved_checklists_only else "Only a lead"
        return f"NOT APPROVED{of}. {who} may open it. d: approve it"

    @property
    def chosen(self) -> ChecklistFile | None:
        row = self.table.cursor_row
        return self.found[row] if 0 <= row < len(self.found) else None

    @on(TableView.RowHighlighted)
    def highlighted(self, event: TableView.RowHighlighted) -> None:
        event.stop()
        self._show_detail()

    @on(TableView.RowSelected)
    def row_selected(self, event: TableView.RowSelected) -> None:
        event.stop()
        self.action_open()

    def action_open(self) -> None:
        one = self.chosen
        if one is None or not self.seen:
            self.say("The checklists are still being read. Choose once they are listed", wrong=True)
        else:
            self.open_file(one)

    def open_file(self, one: ChecklistFile) -> None:
        """A batch from it, or what is wrong in it."""
        if one.loaded.checklist is None:
            self.floor.go(ProblemsScreen(self.session, one, self.open_file))
        else:
            # It brings the figures of a start, which nobody needs sooner.
            from floor.screens.shop.order_form import OpenBatchScreen

            self.floor.go(OpenBatchScreen(self.session, one, one.loaded.checklist, self))

    def action_decide(self) -> None:
        """A lead approves the content of the file under the cursor; what is shown is what is approved."""
        one = self.chosen
        if one is None or not self.seen or one.loaded.checklist is None:
            self.say("Choose a checklist without errors", wrong=True)
            return
        part, digest = one.loaded.checklist.part, one.digest[:12]
        question = f"Approve {part.number} revision {part.revision} of {part.revised}, {one.name} ({digest}), for work?"

        def answered(yes: bool | None) -> None:
            if yes:
                self._approve(one)

        self.ask(ConfirmDialog(question), answered)

    def _approve(self, one: ChecklistFile) -> None:
        try:
            self.session.shop.approve_checklist(one, self.session.who)
        except Refused as refused:
            self.say_refused(refused)
        except LedgerError as error:
            self.floor.trouble(str(error))
        else:
            self.say(f"{one.name} approved")
            self.table.fill([self._row(each) for each in self.found])
            self._show_detail()

    def action_read(self) -> None:
        self.read()

    def on_screen_resume(self, event: events.ScreenResume) -> None:
        """A file may have been mended meanwhile."""
        if self.found:
            self.read()


def describe_checklist(one: ChecklistFile) -> str:
    """What a person looks at before opening a batch from it."""
    checklist = one.loaded.checklist
    if checklist is None:
        first = one.loaded.problems[0]
        return (
            f"{one.path.name}: {format_count(len(one.loaded.problems), 'error')}. Enter: list\n\n"
            f"line {first.line}, {first.place}: {first.wrong}\n    {first.right}"
            + "".join(f"\n\n{said}" for said in _warned(one))
        )
    part = checklist.part
    lines = [f"{part.number} revision {part.revision}, revised {part.revised}"]
    drawing = f"drawing {part.drawing}" if part.drawing else ""
    lines += [text for text in (drawing, part.purpose, part.material) if text]
    usual = f"usually {checklist.order} ordered, " if checklist.order else ""
    lines += [f"{usual}{one.name}", *_warned(one), ""]
    for operation in checklist.operations:
        station = " or ".join(checklist.station(one).name for one in operation.stations)
        only = " (rework)" if operation.rework_only else ""
        lines.append(f"{operation.op:>4}  {operation.title + only:<36}{station}")
    return "\n".join(lines)


def _warned(one: ChecklistFile) -> list[str]:
    """What a careful shop would have otherwise in a checklist that can be used all the same."""
    return [f"Warning, line {at.line}, {at.place}: {at.wrong}; {at.right}" for at in one.loaded.warnings]


class ProblemsScreen(FloorScreen):
    """Everything that is wrong in a checklist file, so that it can be mended in one go."""

    GUIDE = ("All that is wrong in the file. Fix it; `Ctrl+R` reads it again.", "Then `Enter` opens a batch from it.")
    BINDINGS: ClassVar = [
        Binding("ctrl+r", "read", "Read again", id="problems_read"),
        Binding("enter", "open", "Open", id="problems_open", tooltip="a batch from it, once nothing is wrong"),
    ]
    DEFAULT_CSS = "ProblemsScreen #problems { height: 1fr; padding: 0 1; }"

    text = getters.query_one("#problems-text", Static)

    def __init__(self, session: Session, one: ChecklistFile, opens: Callable[[ChecklistFile], None]) -> None:
        super().__init__(session)
        self.one = one
        self.opens = opens

    def body(self) -> ComposeResult:
        with VerticalScroll(id="problems"):
            yield Static(id="problems-text", markup=False)

    def on_mount(self) -> None:
        self.query_one("#problems").focus()

    def place(self) -> str:
        return f"Floor  Open a batch  {self.one.path.name}: {format_count(len(self.one.loaded.problems), 'problem')}"

    def update_body(self) -> None:
        lines = [Content(f"{self.one.path}"), Content("")]
        for problem in self.one.loaded.problems:
            lines.append(Content.assemble(f"✕ line {problem.line}, {problem.place}: ", (problem.wrong, "bold")))
            lines.append(Content(f"    {problem.right}"))
        self.text.update(Content("\n").join(lines))

    def action_read(self) -> None:
        """Read the file again after mending it."""
        self.one = reread_checklist(self.one)
        self.update_all()
        if self.one.loaded.checklist is not None:
            self.say("No problem left. Enter opens a batch")

    def action_open(self) -> None:
        if self.one.loaded.checklist is None:
            self.say("Fix the file, then Ctrl+R reads it again", wrong=True)
        else:
            self.floor.leave(self)
            self.opens(self.one)


def _list_sureness(session: Session, batch: Batch) -> list[str]:
    """How sure the order is as it stands, without and with the earlier batches that it is planned by."""
    if batch.earlier is None:
        return []
    from floor.checklist.expected_yields import list_confidence_levels
    from floor.papers.earlier_batches import list_more_lines
    from floor.shop.load_settings import load_settings
    from floor.shop.settings import SettingsError

    with suppress(SettingsError):  # said where the plan is made
        now = session.now()
        level = list_confidence_levels(load_settings(session.shop.folder, now.at).fill_level)[-1]
        return ["", *list_more_lines(batch, now, level, COLUMNS)]
    return []


def ask_start_more(screen: FloorScreen, id: str) -> None:
    """Ask how many more pieces to start in a batch, saying whether the first operation's set-up stands."""
    batch = screen.session.batch(id)
    _, said = describe_first_setup(batch, screen.session.now())
    totals = f"{batch.total('finished')} finished, {batch.total('scrap')} scrap"
    text = "\n".join(
        [f"{batch.order} ordered, {batch.started} started, {totals}.", said, *_list_sureness(screen.session, batch)]
    )

    def attempt(values: Values) -> Errors:
        screen.session.do(id, StartPieces(parse_number(values["count"])))  # type: ignore[arg-type]
        return {}

    def answered(taken: bool | None) -> None:
        if taken:
            screen.say(f"{screen.session.batch(id).started} pieces are started now")
        screen.update_all()

    screen.ask(
        FormDialog("Start more pieces", [FieldSpec("count", "Pieces to start", number=True)], attempt, text), answered
    )
