"""Opening a batch: how many are ordered and started, and what that takes: loads, blanks, time, material required."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from functools import partial
from typing import ClassVar

from textual import events, getters, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Container, Vertical, VerticalScroll
from textual.widgets import Input, Static

from floor.batch.lifecycle.commands import order_faults
from floor.checklist.blank_layout import format_blank_size
from floor.checklist.equipment import MOST_PIECES
from floor.checklist.expected_yields import (
    CONFIDENCES,
    compute_start_quantities,
    list_confidence_levels,
    read_test_pieces,
)
from floor.checklist.model import Checklist
from floor.figures.errors import Impossible
from floor.figures.start_at_known_yields import StartQuantity
from floor.papers.drawing import draw_blank
from floor.screens.forms.fields import Errors, FieldSpec, Values, collect_errors, parse_number
from floor.screens.forms.form import Form
from floor.screens.frame.screen import FloorScreen
from floor.screens.frame.session import Session
from floor.screens.plan.finish_preview import FinishPreview
from floor.screens.shop.earlier_start import EarlierStart
from floor.screens.shop.open_order import OrderOpening
from floor.screens.shop.order_entry import (
    Order,
    find_date_fault,
    find_order_faults,
    find_tests_fault,
    read_day,
    read_order,
)
from floor.screens.shop.start_advice import (
    OFFERED_AT,
    choose_start,
    describe_needs,
    describe_offers,
    list_start_quantities,
)
from floor.shop.checklists import ChecklistFile
from floor.shop.load_settings import load_settings
from floor.shop.settings import SettingsError


class OpenBatchScreen(FloorScreen):
    """Question 5: how many must I start, on how many loads, and what limits me?"""

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
        self.one = one
        self.checklist = checklist
        self.wanted: tuple[float, ...] = CONFIDENCES
        with suppress(SettingsError):  # said where the plan is made
            self.wanted = list_confidence_levels(load_settings(session.shop.folder, session.now().at).fill_level)
        self.starts: tuple[StartQuantity, ...] = ()
        self.given = ""
        """The start quantity that was put in, as long as nobody typed another."""
        self.earlier = EarlierStart(self, checklist, one.name, self._recompute)
        self.opening = OrderOpening(self, one, checklist, self.earlier, before)

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
        self._put_in(str(choose_start(self.checklist, self.starts) or ""))
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
        return {} if find_tests_fault(self.checklist, text) else read_test_pieces(text)

    @on(Input.Blurred, "#field-due")
    def due_left(self, event: Input.Blurred) -> None:
        """What is no date is said once its field is left: half a date is none either."""
        event.stop()
        if no_date := find_date_fault(event.value):
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
        return find_order_faults(self.checklist, values, self.session.now().at.date())

    def _show_advice(self) -> None:
        if not self.starts:
            self._show_nothing("Enter how many good pieces are ordered.")
            return
        order = self.starts[0].ordered
        started = parse_number(self.form.input("start").value)
        needed = order + sum(self._tests.values())
        pieces = started if isinstance(started, int) and needed <= started <= MOST_PIECES else 0
        offers = describe_offers(self.earlier.expected, self.starts, self._tests, pieces)
        compared = self.earlier.compare(order, pieces, self.wanted[OFFERED_AT], self._tests)
        self.offers.update("\n".join([*offers, *compared, ""]))
        due = read_day(self.form.input("due").value)
        past = order_faults(order, order, due, self.session.now().at.date()).get("due")
        if past is not None:
            self.form.say_wrong("due", str(past))
        self.promise.earlier, self.promise.tests = self.earlier.told, self._tests
        self.promise.ask(order, pieces, due if past is None else None)
        no_number = not isinstance(started, int) and bool(self.form.input("start").value.strip())
        ready = pieces or (0 if no_number else choose_start(self.checklist, self.starts))
        self.ready.update("\n".join(self._needs(ready)) if ready else "")
        if self.checklist.blank is not None and self.has_class("-wide"):
            sketch = draw_blank(self.checklist.blank, 72, max(self.size.height - 22, 8))
            title = f"A blank of {format_blank_size(self.checklist.blank)}, seen from above"
            self.blank.update("\n".join([title, *sketch] if sketch else []))

    def _needs(self, pieces: int) -> list[str]:
        room = self.size.width - (84 if self.has_class("-wide") else 6)
        return describe_needs(self.checklist, pieces, max(min(room, 78), 60))

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
        offered = list_start_quantities(self.starts)
        if n < len(offered):
            if offered[n] > MOST_PIECES:
                most = f"One batch holds at most {MOST_PIECES} pieces, not {offered[n]}. Start fewer."
                self.form.say_wrong("start", most)
            else:
                self.given = self.form.input("start").value = str(offered[n])

    # --- opening -----------------------------------------------------------------------------------------------

    @on(Form.Entered)
    def entered(self, event: Form.Entered) -> None:
        event.stop()
        self.run_signed_in(lambda: self.earlier.do_after(self._ask))

    def _ask(self) -> None:
        if self.is_active:
            values = self.form.values
            go = partial(self._attempt, values, self.opening.open)
            self._attempt(values, lambda order: self.opening.ask(order, go))

    def action_under_way(self) -> None:
        self.run_signed_in(lambda: self.earlier.do_after(self._enter_half_done))

    def _enter_half_done(self) -> None:
        values = self.form.values

        def go(order: Order) -> None:
            self.session.typed[self.one.digest] = values
            self.opening.enter_half_done(order)

        self._attempt(values, go)

    def _attempt(self, values: Values, go: Callable[[Order], None]) -> None:
        """Do something with the order that was typed, or say at its fields what is wrong with it."""
        self.form.show_errors(collect_errors(lambda typed: self._try(typed, go), values))

    def _try(self, values: Values, go: Callable[[Order], None]) -> Errors:
        errors = self._find_faults(values)
        if not errors:
            go(read_order(values))
        return errors
