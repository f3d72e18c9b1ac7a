"""Opening a batch: choose a checklist, say how many are ordered and started; and starting more while it runs."""

from __future__ import annotations

from datetime import date
from typing import ClassVar

from textual import getters, on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Container, Vertical, VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.widgets import Input, Static

from floor.batch.commands.base import Refused
from floor.batch.commands.opening import OpenBatch, StartPieces, order_faults
from floor.batch.said import chance_said, plural
from floor.batch.starting import first_setup
from floor.checklist.expected import CONFIDENCES, chance, first_load, starts
from floor.checklist.model import Checklist
from floor.figures.errors import Impossible
from floor.figures.quantity import StartQuantity
from floor.ledger import NameTaken
from floor.screens.base import FloorScreen
from floor.screens.desk import Desk
from floor.screens.dialogs import Field
from floor.screens.fields import Entry, Errors, Fields, Values, attempted
from floor.screens.rows import Rows
from floor.shop.checklists import OWN, Offered, offered, read_again

OFFERED_AT = CONFIDENCES.index(0.95)
"""Which of the confidences the start quantity is offered at (shop decision)."""


class ChecklistsScreen(FloorScreen):
    """Which checklist? The shop's own and the shipped ones; a broken one shows what is wrong instead of opening."""

    BINDINGS: ClassVar = [
        Binding("enter", "open", "Open a batch", id="checklist_open", priority=True),
        Binding("r", "read", "Read again", id="checklist_read"),
    ]
    CSS = """
    ChecklistsScreen #checklists { height: auto; max-height: 8; }
    ChecklistsScreen #detail { height: 1fr; border-top: solid $panel; padding: 0 1; }
    ChecklistsScreen #own { height: 1; padding: 0 1; color: $secondary; text-wrap: nowrap; text-overflow: ellipsis; }
    ChecklistsScreen.-wide #two { layout: horizontal; }
    ChecklistsScreen.-wide #checklists { width: 1fr; height: 1fr; max-height: 100%; }
    ChecklistsScreen.-wide #detail { width: 62; border-top: none; border-left: solid $panel; }
    """

    table = getters.query_one("#checklists", Rows)
    detail = getters.query_one("#detail-text", Static)

    class ReadIn(Message):
        """All files are read."""

        def __init__(self, found: list[Offered]) -> None:
            super().__init__()
            self.found = found

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.found: list[Offered] = []

    def body(self) -> ComposeResult:
        with Container(id="two"):
            yield Rows(
                [("", 1), ("Part", 10), ("Rev", 4), ("Name", 0), ("Ops", 3), ("From", 7), ("", 11)], id="checklists"
            )
            with VerticalScroll(id="detail"):
                yield Static("Reading the checklists …", id="detail-text", markup=False)
        yield Static(f"Your own checklists go into {self.desk.shop.folder / OWN}", id="own", markup=False)

    def on_mount(self) -> None:
        self.table.focus()
        self.read()

    def place(self) -> str:
        return "Floor  Open a batch  Which checklist?"

    @work(thread=True, exclusive=True, group="read")
    def read(self) -> None:
        """Read all files beside the keys: the units library takes a second to load, the first time."""
        self.post_message(self.ReadIn(offered(self.desk.shop.folder)))

    @on(ReadIn)
    def read_in(self, event: ReadIn) -> None:
        event.stop()
        self.found = event.found
        self.table.fill([self._row(one) for one in self.found])
        self._show_detail()

    def _row(self, one: Offered) -> tuple[str, ...]:
        source = "shop" if one.own else "shipped"
        checklist = one.loaded.checklist
        if checklist is None:
            return "✕", "", "", one.path.name, "", source, plural(len(one.loaded.problems), "problem")
        part = checklist.part
        return "", part.number, part.revision, part.name, str(len(checklist.operations)), source, "ready"

    def _show_detail(self) -> None:
        one = self.chosen
        if one is not None:
            self.detail.update(describe_checklist(one))

    @property
    def chosen(self) -> Offered | None:
        row = self.table.cursor_row
        return self.found[row] if 0 <= row < len(self.found) else None

    @on(Rows.RowHighlighted)
    def highlighted(self, event: Rows.RowHighlighted) -> None:
        event.stop()
        self._show_detail()

    @on(Rows.RowSelected)
    def row_selected(self, event: Rows.RowSelected) -> None:
        event.stop()
        self.action_open()

    def action_open(self) -> None:
        one = self.chosen
        if one is None:
            return
        if one.loaded.checklist is None:
            self.floor.go(ProblemsScreen(self.desk, one))
        else:
            self.floor.go(OpenBatchScreen(self.desk, one, one.loaded.checklist))

    def action_read(self) -> None:
        self.read()

    def on_screen_resume(self) -> None:
        """A file may have been mended meanwhile."""
        if self.found:
            self.read()


def describe_checklist(one: Offered) -> str:
    """What a person looks at before opening a batch from it."""
    checklist = one.loaded.checklist
    if checklist is None:
        first = one.loaded.problems[0]
        return (
            f"{one.path.name} cannot be opened: {plural(len(one.loaded.problems), 'problem')}. Enter shows all.\n\n"
            f"line {first.line}, {first.place}: {first.wrong}\n    {first.right}"
        )
    part = checklist.part
    lines = [f"{part.number} revision {part.revision}, revised {part.revised}"]
    lines += [text for text in (part.purpose, part.material) if text]
    usual = f"usually {checklist.order} ordered, " if checklist.order else ""
    lines += [f"{usual}{one.name}", ""]
    for operation in checklist.operations:
        station = checklist.station(operation.station).name
        lines.append(f"{operation.op:>4}  {operation.title:<36}{station}")
    return "\n".join(lines)


class ProblemsScreen(FloorScreen):
    """Everything that is wrong in a checklist file, so that it can be mended in one go."""

    BINDINGS: ClassVar = [Binding("r", "read", "Read again", id="problems_read")]
    CSS = "ProblemsScreen #problems { height: 1fr; padding: 0 1; }"

    text = getters.query_one("#problems-text", Static)

    def __init__(self, desk: Desk, one: Offered) -> None:
        super().__init__(desk)
        self.one = one

    def body(self) -> ComposeResult:
        with VerticalScroll(id="problems"):
            yield Static(id="problems-text", markup=False)

    def on_mount(self) -> None:
        self.query_one("#problems").focus()

    def place(self) -> str:
        return f"Floor  Open a batch  {self.one.path.name}: {plural(len(self.one.loaded.problems), 'problem')}"

    def show(self) -> None:
        lines = [Content(f"{self.one.path}"), Content("")]
        for problem in self.one.loaded.problems:
            lines.append(Content.assemble(f"✕ line {problem.line}, {problem.place}: ", (problem.wrong, "bold")))
            lines.append(Content(f"    {problem.right}"))
        self.text.update(Content("\n").join(lines))

    def action_read(self) -> None:
        """Read the file again after mending it."""
        self.one = read_again(self.one)
        self.update_all()
        if self.one.loaded.checklist is not None:
            self.say("No problem is left. Esc: back to the checklists")


class OpenBatchScreen(FloorScreen):
    """How many are ordered, how many started, due when. The checklist is frozen into the batch as it was read."""

    BINDINGS: ClassVar = [
        *(
            Binding(f"f{n + 2}", f"take({n})", show=False, id=f"take_{n}", priority=True)
            for n in range(2 * len(CONFIDENCES))
        )
    ]
    CSS = """
    OpenBatchScreen #form { height: auto; padding: 0 1; }
    OpenBatchScreen #form Input { width: 20; }
    OpenBatchScreen #advice { height: 1fr; border-top: solid $panel; padding: 0 1; margin-top: 1; }
    OpenBatchScreen.-wide #two { layout: horizontal; }
    OpenBatchScreen.-wide #form { width: 80; }
    OpenBatchScreen.-wide #advice { width: 1fr; border-top: none; border-left: solid $panel; margin-top: 1; }
    """

    form = getters.query_one("#fields", Fields)
    advice = getters.query_one("#advice", Static)

    def __init__(self, desk: Desk, one: Offered, checklist: Checklist) -> None:
        super().__init__(desk)
        self.one = one
        self.checklist = checklist
        self.starts: tuple[StartQuantity, ...] = ()
        self.given = ""
        """The start quantity that was put in, as long as nobody typed another."""

    def body(self) -> ComposeResult:
        order = str(self.checklist.order or "")
        fields = [
            Field("order", "Ordered, good pieces", order, hint="1 to 5000"),
            Field("start", "Pieces to start", hint="at least as many as ordered"),
            Field("due", "Due date", hint="year-month-day, or nothing"),
            Field("reference", "Reference", hint="order number, or nothing"),
        ]
        with Container(id="two"):
            with Vertical(id="form"):
                yield Fields(fields, id="fields")
                yield Static("Enter: next, then open the batch    Esc: back", classes="dialog-hint")
            yield Static(id="advice", markup=False)

    def on_mount(self) -> None:
        self.form.input("order").focus()

    def place(self) -> str:
        part = self.checklist.part
        return f"Floor  Open a batch  {part.number} {part.revision} {part.name}"

    # --- the figures -------------------------------------------------------------------------------------------

    @on(Input.Changed, "#field-order")
    def order_changed(self, event: Input.Changed) -> None:
        """Offer a start quantity for the order, unless somebody typed one."""
        event.stop()
        self.starts = ()
        order = whole_number(event.value)
        start = self.form.input("start")
        if isinstance(order, int) and 1 <= order <= 5000:
            try:
                self.starts = starts(self.checklist, order)
            except Impossible as impossible:
                self.advice.update(str(impossible))
                return
            if start.value == self.given:
                self.given = start.value = str(self.starts[OFFERED_AT].pieces)
        self._show_advice()

    @on(Input.Changed, "#field-start")
    def start_changed(self, event: Input.Changed) -> None:
        event.stop()
        self._show_advice()

    def _show_advice(self) -> None:
        if not self.starts:
            self.advice.update("Enter how many good pieces are ordered.")
            return
        order, load = self.starts[0].ordered, first_load(self.checklist)
        carrier = self.checklist.carrier(self.checklist.operations[0].carrier).name
        rows = [
            f"To fill the order of {order}, by the checklist's estimated yields",
            f"({100 * self.starts[0].piece_yield:.1f} % of the pieces pass every operation):",
            "",
            f"  at least       any number           whole loads of {load} ({carrier})",
        ]
        for n, one in enumerate(self.starts):
            loads = plural(one.lots or 0, "load")
            rows.append(
                f"  {one.confidence:.0%}   F{2 * n + 2} {one.pieces:>5}  {chance_said(one.probability):>7}"
                f"   F{2 * n + 3} {one.rounded:>5}  {chance_said(one.rounded_probability):>7}  {loads}"
            )
        started = whole_number(self.form.input("start").value)
        rows.append("")
        if isinstance(started, int) and order <= started <= 5000:
            rows.append(f"Starting {started}: {chance_said(chance(self.checklist, order, started))} to fill the order.")
        rows.append("Rejects count as lost here; what rework saves comes on top.")
        self.advice.update("\n".join(rows))

    def action_take(self, n: int) -> None:
        """Put one of the offered quantities in."""
        if n // 2 < len(self.starts):
            one = self.starts[n // 2]
            self.given = self.form.input("start").value = str(one.rounded if n % 2 else one.pieces)

    # --- opening -----------------------------------------------------------------------------------------------

    @on(Fields.Entered)
    def entered(self, event: Fields.Entered) -> None:
        event.stop()
        self.signed_in(lambda: self._try(event.values))

    def _try(self, values: Values) -> None:
        if self.is_active:
            self.form.show_errors(attempted(self._open, values))

    def _open(self, values: Values) -> Errors:
        order, start = whole_number(values["order"]), whole_number(values["start"])
        errors: dict[str, str] = {}
        due: date | None = None
        if text := values["due"].strip():
            try:
                due = date.fromisoformat(text)
            except ValueError:
                errors["due"] = f"{text[:20]} is not a date. Write it year-month-day, 2027-01-31."
        faults = order_faults(order, start, due, self.desk.now().at.date())
        errors |= {field: str(fault) for field, fault in faults.items()}
        if not errors:
            assert isinstance(order, int)
            assert isinstance(start, int)
            self._opened(order, start, due, values["reference"])
        return errors

    def _opened(self, order: int, start: int, due: date | None, reference: str) -> None:
        shop = self.desk.shop
        while True:
            id = shop.next_id()
            command = OpenBatch(id, self.checklist, self.one.digest, self.one.name, order, start, due, reference)
            try:
                shop.open_batch(command, by=self.desk.who)
                break
            except NameTaken:  # another terminal opened a batch this very moment
                continue
        self.floor.leave(self)
        if isinstance(self.floor.screen, ChecklistsScreen):
            self.floor.leave(self.floor.screen)
        self.floor.go_batch(id)


def whole_number(text: str) -> int | str:
    """The number that was typed, or what was typed instead."""
    text = text.strip()
    return int(text) if text.isdecimal() else text or "empty"


def start_more(screen: FloorScreen, id: str) -> None:
    """Ask how many more pieces to start in a batch, saying whether the first operation's set-up stands."""
    batch = screen.desk.batch(id)
    _, said = first_setup(batch, screen.desk.now())
    totals = f"{batch.total('finished')} finished, {batch.total('scrap')} scrap"
    text = f"{batch.order} ordered, {batch.started} started, {totals}.\n{said}"

    def attempt(values: Values) -> Errors:
        try:
            screen.desk.do(id, StartPieces(whole_number(values["count"])))  # type: ignore[arg-type]
        except Refused as refused:
            return {"count": str(refused)}
        return {}

    def answered(taken: bool | None) -> None:
        if taken:
            screen.say(f"{screen.desk.batch(id).started} pieces are started now")
        screen.update_all()

    screen.ask(Entry("Start more pieces", [Field("count", "Pieces to start")], attempt, text), answered)
