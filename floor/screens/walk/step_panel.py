"""The step on view: its cautions, what to do, the form of its gate, what is wrong, and which key does what."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from textual import getters
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from floor.batch.counting.blind_count import HIDDEN_FIGURE, find_blind_subjects
from floor.batch.gates.check_values import find_values_outside
from floor.batch.gates.gauges import find_only_serials, list_gauges_asked
from floor.batch.gates.measured_pieces import (
    choose_measured_pieces,
    find_measured_pieces,
    keep_values,
    propose_first_piece,
)
from floor.batch.gates.samples import describe_sample, find_sample_size
from floor.batch.gates.setup_sheet import build_setup_card
from floor.batch.gauge import Gauge
from floor.batch.proof import Proof
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.clock_jumps import find_latest_day
from floor.batch.walk.lines import Line
from floor.checklist.gate_forms import PLACE, FormField
from floor.checklist.gates import FirstPiece, Gate
from floor.checklist.step_references import describe_gauge, find_source, list_caution_sources
from floor.dataclass import dataclass
from floor.screens.forms.form import Form
from floor.screens.frame.theme import draw_signal_panel, find_mark
from floor.screens.walk.gate_form import list_gate_fields
from floor.screens.widgets.diff_static import DiffStatic
from floor.screens.widgets.lines import format_card_brief
from floor.shop import Shop
from floor.text import break_keys, join_sentences, wrap_text

STEP_ROWS = 17
"""Rows that the step may take with its edge, where the screen has as many."""
LEAST_LINES = 1
"""Rows that the lines of the walk keep beside it."""
CARD_ROWS = 3
"""Rows of the tool's or the set-up's card where it has no panel of its own."""
PANEL_WIDTH = 50
"""Columns that the panel of gates takes of a wide screen."""
LEAST_WIDTH = 36
RECORDS: dict[str, str] = {
    "do": "Enter: record it as done",
    "start": "Enter: asks if it is running; y records the start",
    "end": "Enter: record that it is complete",
}
"""What the key records at a line of this kind."""
READ_ON = "Enter: next page; at the end, that you have read it"
TURN_PAGE = "Enter: next page, then what it records"
"""Where the step is longer than its place: nothing is recorded unseen."""
LEAVE_A_NOTE = "n: leave a note"
"""Whoever starts its next operation reads that first."""
COUNT_WRONG = "miscount: u; later b, j, Del"
"""How a count is corrected, where one stands."""


@dataclass(frozen=True, slots=True)
class StepView:
    """What of a run is on view: the line whose turn it is, or another one that somebody only looks at."""

    batch: Batch
    run: Run
    line: Line
    who: str
    one_go: str = ""
    """What may not be interrupted, before it is begun."""
    only_looked_at: bool = False
    shop: Shop | None = None
    """Where the gauges are on record."""

    @property
    def gate_asked(self) -> Gate | None:
        """The gate whose form is open now."""
        line, gate = self.line, self.line.gate
        if gate is None or self.only_looked_at or line.state not in ("now", "reopened"):
            return None
        first = line.verdict is not None and (line.verdict.decide or line.verdict.reads)
        return gate if gate.asks() and not first else None


MOST_PUT_OFF = 5
"""So often a key waits for the layout before it is taken as things are."""


class StepPanel(Vertical):
    """One line of the walk, and the form in which its values are entered."""

    title_line = getters.query_one("#step-title", Static)
    detail = getters.query_one("#step-detail", Static)
    source = getters.query_one("#step-source", Static)
    card = getters.query_one("#step-card", Static)
    cautions = getters.query_one("#step-cautions", Static)
    why = getters.query_one("#step-why", Static)
    form = getters.query_one("#asks", Form)
    body = getters.query_one("#step-body", Vertical)
    keys = getters.query_one("#step-keys", Static)

    signer = ""
    """Who was signed in when the form was last shown."""

    view: StepView | None = None
    fitted = 0
    """Rows that the view was last fitted into."""
    begun: object = None
    """What was last scrolled to where it begins, and the size it had."""
    is_laid_out = True
    _put_off = 0
    """How often a key has waited for the layout."""
    """Whether its rows are those of the view: else what fits is known only after the next refresh."""

    def compose(self) -> ComposeResult:
        with Vertical(id="step-body"):
            yield DiffStatic(id="step-cautions", markup=False)
            yield DiffStatic(id="step-title", markup=False)
            yield DiffStatic(id="step-detail", markup=False)
            yield DiffStatic(id="step-source", markup=False)
            yield DiffStatic(id="step-card", markup=False)
            yield Form(id="asks", in_panel=True)
            yield DiffStatic(id="step-why", markup=False)
        yield DiffStatic(id="step-keys", markup=False)  # what Enter records is in sight, however long the step is

    @property
    def room(self) -> int:
        """Rows of the step without its edge."""
        whole = self.parent.size.height if isinstance(self.parent, Widget) else 0
        return min(STEP_ROWS, max(whole - LEAST_LINES, 0) or STEP_ROWS) - 1

    @property
    def has_more_below(self) -> bool:
        return self.body.scroll_y < self.body.max_scroll_y

    def read_on(self, again: Callable[[], None]) -> bool:
        """Turn a page where more of the step is below.

        Args:
            again: asked once more after the step is laid out, if this comes before.
        Returns:
            False where all of it was in sight, and the key may record something.
        """
        if self.form.display:
            return False
        if (not self.is_laid_out or self.is_outgrown) and self._put_off < MOST_PUT_OFF:
            self._put_off += 1
            self.call_after_refresh(lambda: again() if self.screen.is_current else None)
            return True
        self._put_off = 0
        if not self.has_more_below:
            return False
        self.scroll_page(1)
        return True

    @property
    def is_outgrown(self) -> bool:
        """Whether its rows have changed since they were laid out: the toolkit may call back before it has done so."""
        size, shown = self.body.size, [one for one in self.body.children if one.display]
        rows = sum(one.get_content_height(size, self.app.size, size.width - one.gutter.width) for one in shown)
        return size.width > 0 and rows != self.body.virtual_size.height

    def scroll_page(self, way: int) -> None:
        """Turn a page of a step that is longer than its place."""
        self.body.scroll_relative(y=way * max(self.body.size.height - 1, 1), animate=False, immediate=True)
        if self.view is not None:
            self._show_keys(self.view)

    @property
    def is_wide(self) -> bool:
        return self.screen.has_class("-wide")

    @property
    def columns(self) -> int:
        """How wide a row of it is, with two to spare for what is scrolled."""
        return max(self.screen.size.width - (PANEL_WIDTH if self.is_wide else 4), LEAST_WIDTH)

    def show_step(self, view: StepView) -> None:
        line, step = view.line, view.line.step
        shown = line.cautions if not line.is_satisfied or line.kind == "caution" else ()
        self.cautions.update(Content("\n").join([draw_signal_panel(caution, self.columns) for _, caution in shown]))
        self.cautions.display = bool(shown)
        title = step.title() if line.kind == "caution" and step else line.title
        self.title_line.update(f"{find_mark(line)} {title}")
        about = (step.detail, describe_gauge(view.batch.checklist, step)) if step is not None else ()
        gate = view.gate_asked
        sample = describe_sample(view.batch, view.run, line.key, gate) if gate is not None else ""
        detail = "\n".join(filter(None, (view.one_go, sample, *about)))
        self.detail.update(detail)
        self.detail.display = bool(detail)
        self._show_form(view)
        self._show_why(line)
        self._show_keys(view)
        self.view = view
        self._fit(view)
        begun = (view.run.number, line.key, line.kind, view.only_looked_at, self.screen.size)
        if begun != self.begun:
            self.begun = begun
            self._begin_laid_out()

    def _show_keys(self, view: StepView) -> None:
        line, pages = view.line, self.has_more_below and not self.form.inputs and not view.only_looked_at
        page = READ_ON if line.kind == "caution" else TURN_PAGE
        self._set_out_keys((page if pages else self._hint(line, view.only_looked_at)) + self._hint_more(line))

    def _set_out_keys(self, text: str) -> None:
        self.keys.update(break_keys(text, self.columns + 2, gap="    "))

    def _fit(self, view: StepView) -> None:
        """Keep to the room there is: what may be left out gives way, the rest is scrolled."""
        self.fitted = self.room
        self._show_card(view)
        self._show_source(view)
        self.body.styles.max_height = max(self.room - len(str(self.keys.content).split("\n")), 1)

    def fit_again(self) -> None:
        """The place of the walk became higher or lower."""
        if self.view is not None and self.fitted != self.room:
            self._fit(self.view)
            self._begin_laid_out()

    def _begin_laid_out(self) -> None:
        self.is_laid_out = False
        self.call_after_refresh(self._begin)

    def _begin(self) -> None:
        """A step that is longer than its place begins with what is to be read next."""
        self.is_laid_out = True
        if (view := self.view) is None:
            return
        if view.line.kind == "caution":
            self.body.scroll_home(animate=False, immediate=True)
        elif self.body.max_scroll_y and not self.form.inputs:  # cautions read already give way to what is to be done
            self.body.scroll_to(y=self.title_line.virtual_region.y, animate=False, immediate=True)
        self._show_keys(view)

    def show_released(self, batch: Batch, run: Run) -> None:
        """All lines are done: where the pieces go."""
        for widget in (self.cautions, self.why, self.detail, self.source, self.card):
            widget.display = False
        self.form.clear()
        self.view = self.begun = None
        load = batch.loads[run.load]
        unseen = f"load {load.number}" in find_blind_subjects(batch)
        good = run.count.good if run.count else 0
        counted = [f"{HIDDEN_FIGURE if unseen else good} good"]
        if run.count is not None and not unseen:
            counted += [f"{many} {to}" for to in ("scrap", "rework", "hold") if (many := run.count.total(to))]
        last = run.op == batch.checklist.route[-1]
        gone = f"the good ones {'are finished' if last else 'moved on'}" if good or unseen else "none moved on"
        following = gone if load.dissolved else f"next: op {load.at}"
        self.title_line.update(f"✓ Released: {', '.join(counted)}; {following}")
        self._set_out_keys(f"Enter or Esc: back    {LEAVE_A_NOTE}    {COUNT_WRONG}")

    # --- the form ----------------------------------------------------------------------------------------------

    def _show_form(self, view: StepView) -> None:
        gate, verdict = view.gate_asked, view.line.verdict
        proof = verdict.proof if verdict else None
        name = f"{view.line.key} {proof.seq if proof else 0}" if gate is not None else ""
        signer, self.signer = self.signer, view.who
        if name == self.form.about:
            if signer != view.who and gate is not None:
                self._empty_signatures(gate)
            return
        if gate is None:
            self.form.clear()
            return
        values = _find_tried(gate, proof)
        times = find_sample_size(view.batch, view.run, view.line.key, gate)
        serials, gauges = _find_gauges(view, gate)
        chosen = choose_measured_pieces(view.batch, view.run, view.line.key, gate)
        measured = find_measured_pieces(view.batch, proof.seq) if proof is not None else ()
        values = keep_values(gate, values, measured, chosen)
        load = view.batch.loads[view.run.load]
        places = [view.batch.format_slot(load, piece) for piece in chosen]
        asks = gate.asks()
        first = propose_first_piece(view.batch, view.run, view.line.key, gate) if isinstance(gate, FirstPiece) else None
        if first is not None:
            asks, serials = (FormField(PLACE, "Place of the piece"), *asks), {**serials, PLACE: first}
        self.form.ask(name, list_gate_fields(asks, times, values, serials, gauges, places, view.run.station))

    def _empty_signatures(self, gate: Gate) -> None:
        """Initials that somebody else typed are no signature of who is signed in now."""
        for ask in gate.asks():
            if ask.kind == "person":
                self.form.input(ask.name).value = ""

    # --- beside it ---------------------------------------------------------------------------------------------

    def _show_source(self, view: StepView) -> None:
        """Who says so, where all the rest of the step leaves room for it; the traveler always has it."""
        line, width = view.line, self.columns
        if line.kind == "caution":
            said = list_caution_sources(caution for _, caution in line.cautions)
        else:
            said = find_source(view.batch.checklist, line.step) if line.step is not None else ""
        rows = len(wrap_text(said, width=width)) if said else 0
        self.source.update(said)
        self.source.display = 0 < rows <= self.room - self._count_rows(width, self.card)

    def _count_rows(self, width: int, *more: Static) -> int:
        """How many rows the cautions, the form, what is wrong and these too take of the step."""
        taken = [self.cautions, self.title_line, self.detail, self.why, self.keys, *more]
        texts = [str(widget.content) for widget in taken if widget.display]
        if self.form.wrong:
            texts.append(f"✕ {self.form.wrong}")
        rows = sum(len(wrap_text(row, width=width)) for text in texts for row in text.split("\n"))
        return rows + self.form.count_rows()

    def _show_card(self, view: StepView) -> None:
        """The card in what the cautions, the form and what is wrong leave of the step; all of it in the panel."""
        about = None if self.is_wide else build_setup_card(view.batch, view.run, view.line)
        self.card.display = about is not None
        if about is None:
            return
        room = max(min(self.room - self._count_rows(self.columns), CARD_ROWS), 1)
        self.card.update("\n".join(format_card_brief(about, self.columns, room)))

    def _show_why(self, line: Line) -> None:
        """What stops the line or brings it again; what is wrong with what was typed, the form says instead."""
        verdict = line.verdict
        stopped = verdict is not None and (
            line.state in ("waits", "blocked") or (line.state != "ahead" and (verdict.again or verdict.reads))
        )
        why = join_sentences(verdict.why, verdict.clear) if verdict is not None and stopped else ""
        self.why.update(why)
        self.why.display = bool(why) and not self.form.wrong
        self.why.set_class(line.state == "waits", "-waits")

    def _hint(self, line: Line, only_looked_at: bool) -> str:
        if only_looked_at:
            return "View only.  Home: back to the current step"
        if line.kind == "caution":
            return "Enter: I have read this"
        if line.kind == "recheck":
            return "Enter: I rechecked each one"
        if line.kind == "count":
            return "Enter: open the count"
        if line.kind == "release" and line.state == "now":
            return f"Enter: record the release    {LEAVE_A_NOTE}    {COUNT_WRONG}"
        if line.state in ("waits", "blocked") or (line.verdict is not None and line.verdict.reads):
            return describe_keys_where_stopped(line)
        if line.verdict is not None and line.verdict.decide:
            return "Enter: decide on the piece    m: set pieces aside"
        if line.kind == "gate" and self.form.inputs:
            leave = "Esc: leave it" if self._hint_more(line) else "Esc: leave the field for other keys"
            return f"Enter: next field, then record    {leave}"
        return RECORDS.get(line.kind, "Enter: record it as checked")

    def _hint_more(self, line: Line) -> str:
        """That there is more to read about the step, for who wants it."""
        if line.step is None or not line.step.more:
            return ""
        return f"    {'Ctrl+G' if self.form.inputs else 'v'}: how and why"


def _find_gauges(view: StepView, gate: Gate) -> tuple[Mapping[str, str], Mapping[str, Gauge]]:
    """The serial numbers that it can only be, by form field, and the shop's register."""
    if view.shop is None or not list_gauges_asked(gate):
        return {}, {}
    gauges, today = view.shop.people.gauges, find_latest_day(view.batch, view.shop.now())
    return find_only_serials(gate, gauges, today), gauges


def describe_keys_where_stopped(line: Line) -> str:
    """What can be done at a line that waits for a clock or is blocked."""
    waive = "   w: waive (lead)" if line.gate is not None and line.gate.waive != "never" else ""
    if line.state == "waits":
        back = "   u: put it back" if line.phase == "arrive" else ""
        first = "x: record the air" if line.verdict is not None and line.verdict.air else "Nothing to do here"
        return f"{first}{back}{waive}"
    if line.verdict is not None and line.verdict.reads:
        return f"Enter: read the program file{waive}"
    tool = line.verdict.change if line.verdict is not None else None
    first = f"Enter: tool {tool} was changed" if tool else "x: report"
    return f"{first}   m: set pieces aside{waive}"


def _find_tried(gate: Gate, proof: Proof | None) -> dict[str, Any] | None:
    """What was entered and does not do. A first piece that failed is out: all of the next one is measured."""
    if proof is None or isinstance(gate, FirstPiece):
        return None
    again = find_values_outside(gate.asks(), proof.values) or any(ask.kind == "readings" for ask in gate.asks())
    return proof.values if again else None
