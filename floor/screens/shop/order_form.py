"""Opening a batch: how many are ordered and started, and what that takes: loads, blanks, time, material required."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import date
from functools import partial
from typing import ClassVar

from textual import events, getters, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Container, Vertical, VerticalScroll
from textual.widgets import Input, Static

from floor.batch.lifecycle.commands import Before, OpenBatch, order_faults
from floor.batch.lifecycle.enter_half_done import EnterLate
from floor.batch.trials.pieces import format_test_pieces
from floor.checklist.blank_layout import describe_layout, format_blank_size
from floor.checklist.equipment import MOST_PIECES
from floor.checklist.expected_yields import (
    CONFIDENCES,
    are_shares_known,
    compute_at_known_yields,
    compute_start_quantities,
    estimate_fill_chance,
    find_start_unit,
    list_confidence_levels,
    list_operation_yields,
    read_test_pieces,
)
from floor.checklist.material_required import list_supplies
from floor.checklist.model import Checklist
from floor.checklist.weakening import Weakening, describe_weakening
from floor.figures.errors import Impossible
from floor.figures.start_at_known_yields import StartQuantity
from floor.ledger import NameTaken
from floor.papers.drawing import draw_blank
from floor.papers.start_quantity import format_supplies
from floor.planning.start_plan import compute_blank_stock, count_leg_loads, describe_blanks, find_batch_size_error
from floor.screens.forms.dialogs import ConfirmDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values, collect_errors, parse_number
from floor.screens.forms.form import Form
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.session import Session
from floor.screens.plan.finish_preview import FinishPreview
from floor.screens.shop.earlier_start import EarlierStart
from floor.shop.checklists import ChecklistFile
from floor.shop.load_settings import load_settings
from floor.shop.second_signature import PinToken
from floor.shop.settings import SettingsError
from floor.shop.weaker_checklist import find_weaker
from floor.text import capitalize_first, format_chance, format_count, format_share, join_sentences

Open = Callable[[int, int, date | None, str], None]
"""What is done with a valid order: ordered, started, due, reference."""

MOST_LOST = 8
"""Points of a weaker checklist that its form lists; the record has them all."""
OFFERED_AT = -1
"""Which of the confidences the start quantity is offered at: the highest (shop decision)."""


class OpenBatchScreen(FloorScreen):
    """Question 5: how many must I start, on how many loads, and what limits me?

    The checklist is frozen into the batch as it was read.
    """

    GUIDE = (
        "Type how many are ordered and when they are due.",
        "Floor works out how many to start, so that enough come out good.",
        "`Enter` goes to the next field; at the last one it asks, and `y` opens.",
    )
    BINDINGS: ClassVar = [
        Binding("pagedown", "scroll(1)", "More below", key_display="PgDn", id="order_down", priority=True),
        Binding(
            "f9",
            "under_way",
            "Already under way",
            id="order_under_way",
            priority=True,
            tooltip="the batch is half done: enter where everything is, then open it",
        ),
        Binding("pageup", "scroll(-1)", "More above", show=False, id="order_up", priority=True),
        *(
            Binding(f"f{n + 2}", f"take({n})", show=False, id=f"take_{n}", priority=True)
            for n in range(2 * len(CONFIDENCES))
        ),
    ]
    DEFAULT_CSS = """
    OpenBatchScreen #form { height: auto; padding: 0 1; }
    OpenBatchScreen #blank { display: none; margin-top: 2; }
    OpenBatchScreen #advice { height: 1fr; border-top: solid $panel; padding: 0 1; }
    OpenBatchScreen #promise { margin-bottom: 1; }
    OpenBatchScreen.-wide #two { layout: horizontal; }
    OpenBatchScreen.-wide #form { width: 78; height: 100%; padding: 1 1 0 1; }
    OpenBatchScreen.-wide #blank { display: block; }
    OpenBatchScreen.-wide #advice { width: 1fr; border-top: none; border-left: solid $panel; }
    OpenBatchScreen.-wide #advice { padding: 1 1 0 1; }
    """

    form = getters.query_one("#fields", Form)
    offers = getters.query_one("#offers", Static)
    promise = getters.query_one("#promise", FinishPreview)
    ready = getters.query_one("#ready", Static)
    blank = getters.query_one("#blank", Static)

    def __init__(
        self, session: Session, one: ChecklistFile, checklist: Checklist, before: FloorScreen | None = None
    ) -> None:
        """
        Args:
            before: the screen that it was chosen on, which goes once the batch is open.
        """
        super().__init__(session)
        self.before = before
        self.one = one
        self.checklist = checklist
        self.wanted: tuple[float, ...] = CONFIDENCES
        with suppress(SettingsError):  # said where the plan is made
            self.wanted = list_confidence_levels(load_settings(session.shop.folder, session.now().at).fill_level)
        self.starts: tuple[StartQuantity, ...] = ()
        self.given = ""
        """The start quantity that was put in, as long as nobody typed another."""
        self.earlier = EarlierStart(self, checklist, one.name, self._recompute)
        self.weaker_why = ("", "")
        """Which lead opens a checklist that protects less than the last one of the part, and why."""

    def body(self) -> ComposeResult:
        typed = {"order": str(self.checklist.order or ""), **self.session.typed.get(self.one.digest, {})}
        fields = [
            FieldSpec("order", "Ordered, good pieces", hint=f"1 to {MOST_PIECES}", number=True),
            FieldSpec("start", "Pieces to start", hint="at least as many as ordered", number=True),
            FieldSpec("due", "Due date", hint="YYYY-MM-DD (optional)"),
            FieldSpec("reference", "Reference", hint="PO or job number (optional)"),
            FieldSpec("tests", "Used in tests, trials", hint="↓, optional: 20=9 at op 20", known=True),
        ]
        fields = [
            replace(one, value=typed.get(one.name, ""), check=partial(self._find_fault, one.name)) for one in fields
        ]
        with Container(id="two"):
            with Vertical(id="form"):
                yield Form(fields, id="fields")
                hint = "Enter: next; on the last, open it    F9: it is under way already    Esc: back"
                yield Static(hint, classes="dialog-hint")
                yield Static(id="blank", markup=False)
            with VerticalScroll(id="advice", can_focus=False):
                yield Static(id="offers", markup=False)
                yield FinishPreview(self.session, self.checklist, id="promise")
                yield Static(id="ready", markup=False)

    def on_mount(self) -> None:
        self.form.input("order").focus()
        self.earlier.read()

    def on_resize(self, event: events.Resize) -> None:
        self.call_after_refresh(self._show_advice)

    def place(self) -> str:
        part = self.checklist.part
        return f"Floor  Open a batch  {part.number} {part.revision} {part.name}"

    # --- the figures -------------------------------------------------------------------------------------------

    @on(Input.Changed, "#field-order")
    @on(Input.Changed, "#field-tests")
    def order_changed(self, event: Input.Changed) -> None:
        """Offer a start quantity for the order, unless somebody typed one."""
        event.stop()
        self._recompute()

    def _recompute(self) -> None:
        self.starts = ()
        order = parse_number(self.form.input("order").value)
        if isinstance(order, int) and 1 <= order <= MOST_PIECES:
            try:
                self.starts = compute_start_quantities(self.earlier.expected, order, self.wanted, self._tests)
            except Impossible as impossible:
                self._put_in("")
                self._show_nothing(str(impossible))
                return
        self._put_in(str(self._offered or ""))
        self._show_advice()

    def _put_in(self, offered: str) -> None:
        """Put in what is offered now, also nothing, unless somebody typed a quantity."""
        start = self.form.input("start")
        if start.value == self.given:
            self.given = start.value = offered

    def _show_nothing(self, why: str) -> None:
        self.offers.update(why)
        self.promise.ask(0, 0, None)
        self.ready.update("")

    @on(Input.Changed, "#field-start")
    @on(Input.Changed, "#field-due")
    def start_changed(self, event: Input.Changed) -> None:
        event.stop()
        self._show_advice()

    @property
    def _tests(self) -> dict[int, int]:
        """Pieces to be used up, by operation; none while that cannot be read or done, which its field says."""
        text = self.form.input("tests").value
        return {} if self._find_wrong_tests(text) else read_test_pieces(text)

    @property
    def _offered(self) -> int:
        """Pieces to start that are put in where nobody types any; 0 where a batch does not hold them."""
        wanted = find_start_unit(self.checklist).choose(self.starts[OFFERED_AT]) if self.starts else 0
        return wanted if wanted <= MOST_PIECES else 0

    @on(Input.Blurred, "#field-due")
    def due_left(self, event: Input.Blurred) -> None:
        """What is no date is said once its field is left: half a date is none either."""
        event.stop()
        if no_date := _no_date(event.value):
            self.form.say_wrong("due", no_date)

    @on(Input.Blurred, "#field-start")
    def start_left(self, event: Input.Blurred) -> None:
        event.stop()
        if self.starts and event.value.strip() and (fault := self._find_fault("start", event.value)):
            self.form.say_wrong("start", fault)

    def _find_fault(self, name: str, text: str) -> str:
        """What is wrong with one field, as the others stand; empty where nothing is."""
        return self._find_faults(self.form.values | {name: text}).get(name, "")

    def _find_faults(self, values: Values) -> dict[str, str]:
        no_date = _no_date(values["due"])
        order, start, due = parse_number(values["order"]), parse_number(values["start"]), _day(values["due"])
        faults = order_faults(order, start, due, self.session.now().at.date())
        wrong = self._find_wrong_tests(values["tests"])
        return (
            ({"due": no_date} if no_date else {})
            | ({"tests": wrong} if wrong else {})
            | {field: str(fault) for field, fault in faults.items()}
        )

    def _find_wrong_tests(self, text: str) -> str:
        """Why what is used up cannot be read or done; empty if it can."""
        try:
            list_operation_yields(self.checklist, read_test_pieces(text))
        except (Impossible, ValueError) as error:
            return join_sentences(str(error))
        return ""

    def _show_advice(self) -> None:
        if not self.starts:
            self._show_nothing("Enter how many good pieces are ordered.")
            return
        order = self.starts[0].ordered
        started = parse_number(self.form.input("start").value)
        pieces = started if isinstance(started, int) and order <= started <= MOST_PIECES else 0
        self.offers.update("\n".join(self._offers(order, pieces)))
        due = _day(self.form.input("due").value)
        past = order_faults(order, order, due, self.session.now().at.date()).get("due")
        if past is not None:
            self.form.say_wrong("due", str(past))
        self.promise.earlier, self.promise.tests = self.earlier.told, self._tests
        self.promise.ask(order, pieces, due if past is None else None)
        no_number = not isinstance(started, int) and bool(self.form.input("start").value.strip())
        ready = pieces or (0 if no_number else self._offered)
        self.ready.update("\n".join(self._ready(ready)) if ready else "")
        if self.checklist.blank is not None and self.has_class("-wide"):
            sketch = draw_blank(self.checklist.blank, 72, max(self.size.height - 22, 8))
            title = f"A blank of {format_blank_size(self.checklist.blank)}, seen from above"
            self.blank.update("\n".join([title, *sketch] if sketch else []))

    def _offers(self, order: int, pieces: int) -> list[str]:
        """Quantities to start, and the chance that the one typed gives."""
        lot = find_start_unit(self.checklist)
        beyond = find_batch_size_error(order, lot.choose(self.starts[OFFERED_AT]))
        passed = f"{100 * self.starts[0].piece_yield:.1f} %"
        used = f", {self.starts[0].tests} used up" if self.starts[0].tests else ""
        rows = [
            *([f"✕ {capitalize_first(str(beyond))}", ""] if beyond else []),
            f"To ship {order} at the estimated yields ({passed} pass all operations){used}:",
            f"  at least       any number           whole {lot.word}s of {lot.pieces} ({lot.of})",
        ]
        for n, one in enumerate(self.starts):
            some, whole = _key(2 * n, one.pieces), _key(2 * n + 1, one.rounded or 0)
            rows.append(
                f"  {format_share(one.confidence)}  {some} {one.pieces:>5}  {format_chance(one.probability):>7}"
                f"   {whole} {one.rounded:>5}  {format_chance(one.rounded_probability):>7}"
                f"  {format_count(one.lots or 0, lot.word)}"
            )
        if pieces:
            chance = format_chance(estimate_fill_chance(self.earlier.expected, order, pieces, self._tests))
            rows.append(f"Starting {pieces}: {chance} to fill the order.")
            wanted = self.wanted[OFFERED_AT]
            exactly = compute_at_known_yields(self.earlier.expected, order, pieces, wanted, self._tests)
            rows.append(
                f"If yields are exactly as estimated: {format_chance(exactly.chance)}; {exactly.pieces} would do for "
                f"{format_share(wanted)}."
            )
        if not are_shares_known(self.checklist):
            rows.append("Rejects with no share for rework count as lost; rework saves some of them.")
        return [*rows, *self.earlier.compare(order, pieces, self.wanted[OFFERED_AT], self._tests), ""]

    def _ready(self, pieces: int) -> list[str]:
        """Loads, blanks and what is used up, for so many started."""
        rows = [f"Loads for {pieces} started"]
        for leg in count_leg_loads(self.checklist, pieces):
            ops = f"op {leg.first_op}" + (f" to {leg.last_op}" if leg.last_op != leg.first_op else "")
            last = f", {leg.lots.last} on the last" if leg.lots.count > 1 else ""
            rows.append(f"  {ops:<14}{format_count(leg.lots.count, leg.carrier)}{last} ({leg.there} in the shop)")
        blanks = compute_blank_stock(self.checklist, pieces)
        if blanks is not None and self.checklist.blank is not None:
            rows += ["", describe_blanks(self.checklist.blank, blanks)]
            rows.append(f"  {format_blank_size(self.checklist.blank)}: {describe_layout(self.checklist.blank)}")
        found = list_supplies(self.checklist, pieces)
        if found:
            room = self.size.width - (84 if self.has_class("-wide") else 6)
            columns = max(min(room, 78), 60)
            rows += ["", "Material required, waste included", *format_supplies(found, columns)]
        return rows

    # --- keys --------------------------------------------------------------------------------------------------

    def action_back(self) -> None:
        """Leave; what was typed stands there again the next time."""
        values = self.form.values
        if values["start"] == self.given:
            values["start"] = ""  # it was offered and not typed
        self.session.typed[self.one.digest] = values
        super().action_back()

    def action_scroll(self, way: int) -> None:
        advice = self.query_one("#advice", VerticalScroll)
        advice.scroll_relative(y=way * max(advice.size.height - 1, 1), animate=False)

    def action_take(self, n: int) -> None:
        """Put one of the offered quantities in."""
        if n // 2 < len(self.starts):
            one = self.starts[n // 2]
            pieces = (one.rounded or 0) if n % 2 else one.pieces
            if pieces > MOST_PIECES:
                most = f"One batch holds at most {MOST_PIECES} pieces, not {pieces}. Start fewer."
                self.form.say_wrong("start", most)
            else:
                self.given = self.form.input("start").value = str(pieces)

    # --- opening -----------------------------------------------------------------------------------------------

    @on(Form.Entered)
    def entered(self, event: Form.Entered) -> None:
        event.stop()
        self.run_signed_in(lambda: self.earlier.do_after(lambda: self._try(self.form.values)))

    def _try(self, values: Values) -> None:
        if self.is_active:
            self.form.show_errors(collect_errors(lambda typed: self._open(typed, self._ask_first(typed)), values))

    def _ask_first(self, values: Values) -> Open:
        """Say what is about to be opened: Enter in a field that may stay empty opens no batch by itself."""

        def ask(order: int, start: int, due: date | None, reference: str) -> None:
            said = [f"{order} ordered", f"{start} to start"]
            said += [f"due {due}"] if due is not None else []
            said += [f"reference {reference.strip()}"] if reference.strip() else []
            said += [format_test_pieces(self._tests)] if self._tests else []
            part = self.checklist.part
            question = f"Open a batch of {part.number} {part.revision}? {', '.join(said)}."

            def go() -> None:
                self.form.show_errors(collect_errors(self._open, values))

            before = find_weaker(self.session.shop, self.checklist)
            if before is not None:
                self._ask_why_weaker(before, self._command(order, start, due, reference), question, go)
            else:
                self.floor.push_screen(ConfirmDialog(question), lambda yes: go() if yes else None)

        return ask

    def _ask_why_weaker(self, before: Before, command: OpenBatch, question: str, go: Callable[[], None]) -> None:
        """What this checklist lacks of the last one of the part: a lead says why it is opened all the same."""

        def attempt(given: Values) -> Errors:
            context = self.session.shop.context(command.id, self.session.who)
            replace(command, before=before, weaker_why=given["why"]).decide_new(context)
            self.weaker_why = (self.session.who, given["why"])
            return {}

        lost = [f"This checklist protects less than that of {before.batch}:", *_list_lost(before.lost)]
        lost += [f"All in all since {before.strongest}:", *_list_lost(before.earlier)] if before.earlier else []
        text = "\n".join([*lost, question])
        self.ask_form("A weaker checklist", [FieldSpec("why", "Why (a lead)", needed=True)], attempt, go, text, "why")

    def action_under_way(self) -> None:
        def go() -> None:
            self.form.show_errors(collect_errors(self._under_way, self.form.values))

        self.run_signed_in(lambda: self.earlier.do_after(go))

    def _under_way(self, values: Values) -> Errors:
        from floor.screens.batch.half_done import HalfDoneScreen  # most batches are opened new

        def go(order: int, start: int, due: date | None, reference: str) -> None:
            self.session.typed[self.one.digest] = dict(values)
            command = self._command(order, start, due, reference)

            def tell() -> None:
                def open_(late: EnterLate, tokens: tuple[PinToken, ...]) -> None:
                    self._opened(order, start, due, reference, late, tokens)

                self.floor.go(HalfDoneScreen(self.session, command, open_))

            before = find_weaker(self.session.shop, self.checklist)
            if before is not None:
                self._ask_why_weaker(before, command, "It is under way already.", tell)
            else:
                tell()

        return self._open(values, go)

    def _open(self, values: Values, go: Open | None = None) -> Errors:
        errors = self._find_faults(values)
        if not errors:
            order, start, due = int(values["order"]), int(values["start"]), _day(values["due"])
            (go or self._opened)(order, start, due, values["reference"])
        return errors

    def _command(
        self, order: int, start: int, due: date | None, reference: str, late: EnterLate | None = None
    ) -> OpenBatch:
        id = self.session.shop.find_next_id()
        lead, why = self.weaker_why
        return OpenBatch(
            id,
            self.checklist,
            self.one.digest,
            self.one.name,
            order,
            start,
            due,
            reference,
            late,
            weaker_why=why if lead == self.session.who else "",
            earlier=self.earlier.told,
            tests=self._tests,
        )

    def _opened(
        self,
        order: int,
        start: int,
        due: date | None,
        reference: str,
        late: EnterLate | None = None,
        tokens: tuple[PinToken, ...] = (),
    ) -> None:
        while True:
            command = self._command(order, start, due, reference, late)
            try:
                self.session.shop.open_batch(command, self.session.who, *tokens)
                break
            except NameTaken:  # another terminal opened a batch this very moment
                continue
        id = command.id
        self.session.typed.pop(self.one.digest, None)
        told = self.floor.screen
        if late is not None and isinstance(told, FloorScreen):
            self.floor.leave(told)
        self.floor.leave(self)
        if self.before is not None:
            self.floor.leave(self.before)
        self.floor.go_batch(id)


def _key(n: int, pieces: int) -> str:
    """The key that puts an offered quantity in; blank where a batch does not hold so many."""
    return f"F{n + 2}" if pieces <= MOST_PIECES else "  "


def _day(text: str) -> date | None:
    """The day that was typed; None for anything else."""
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        return None


def _no_date(text: str) -> str:
    """Why a due date cannot be read; empty where it can, or there is none."""
    text = text.strip()
    if not text or _day(text) is not None:
        return ""
    return f"{text[:20]} is not a date. Write it like 2027-01-31, or leave it empty."


def _list_lost(lost: Sequence[Weakening]) -> list[str]:
    """What a weaker checklist lacks, in words; of many the first ones."""
    said = [describe_weakening(*one) for one in lost[:MOST_LOST]]
    return said + ([f"and {len(lost) - MOST_LOST} more"] if len(lost) > MOST_LOST else [])
