"""Handing a batch over on one screen: offer, read, count with own eyes, read back, ask, accept."""

from __future__ import annotations

from textual import events, getters
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from floor.batch.counting.blind_count import CountSubject, find_blind_subjects, find_subjects_to_count
from floor.batch.handover.commands import ReadBackLine, ReadHandoverPage
from floor.batch.handover.page import (
    PageLine,
    list_lines_to_read_back,
    list_safety_lines,
    list_subjects_to_count,
    say_difference,
)
from floor.batch.handover.risks import (
    RISKS,
    find_risks,
)
from floor.papers.catalog import list_handover_offers
from floor.screens.forms.dialogs import ConfirmDialog
from floor.screens.frame.paper_choice import PAPERS, choose_paper, make_paper_source
from floor.screens.frame.screen import BatchFrame
from floor.screens.frame.session import Session
from floor.screens.handover.counts import Counts, record_counts
from floor.screens.handover.decisions import ask_decision, list_decisions
from floor.screens.handover.forms import accept_handover, add_handover_note, ask_question, offer_handover
from floor.screens.handover.rows import draw_page, get_row_digit
from floor.screens.handover.stages import (
    AWAY,
    STEPS,
    TASKED,
    Stage,
    describe_keys,
    describe_responsible,
    find_stage,
    format_steps,
)
from floor.screens.handover.task import TaskPane
from floor.screens.widgets.fitted_text import FittedText
from floor.screens.widgets.ordered_input import OrderedInput
from floor.text import break_keys

ONLY: dict[str, tuple[Stage, ...]] = {
    "next": ("prepare", "read", "count", "accept"),
    "record_acceptance": ("accept",),
    "view": TASKED,
    "note": ("prepare", *TASKED),
}
"""Keys that have a meaning at some stages only."""
LEAVE_COUNTS = "The counts you typed are not recorded yet. Leave and lose them?"


class HandoverScreen(BatchFrame):
    """Question 8: what does the next shift have to know, and did they really take it over?"""

    DEFAULT_CSS = """
    #ho-risk { height: auto; padding: 0 1; text-style: bold; }
    #ho-who { height: auto; padding: 0 1; }
    #ho-steps { height: 1; padding: 0 1; color: $accent; }
    #ho { height: 1fr; }
    #ho-page { width: 1fr; padding: 0 1; border-top: solid $panel; scrollbar-size-vertical: 1; }
    #ho-text { height: auto; }
    #ho-keys { height: auto; padding: 0 1; color: $secondary; background: $surface; }
    """
    GUIDE = (
        "Handing over: `Enter` asks for remarks and signs; then sign out.",
        "Taking over: `Enter` turns the page. Count each place yourself, read",
        "its line aloud there; `Enter` records. `y` signs: you are responsible.",
        "`n` asks a question; `d` settles a count that does not agree.",
    )
    BINDINGS = [
        Binding("enter", "next", "Go on", id="next", show=False),
        Binding("y", "record_acceptance", "Yes, sign", id="sign", tooltip="take the batch over"),
        Binding("d", "decide", "Decide", id="decide", tooltip="answer, settle a count, withdraw, unattended, relief"),
        Binding("n", "note", "Note", id="note", tooltip="for the next shift; or a question to who hands over"),
        Binding("v", "view", "View", id="view", tooltip="the page, or back to the task"),
        PAPERS,
        Binding("pagedown", "scroll_page(1)", "Down", show=False),
        Binding("pageup", "scroll_page(-1)", "Up", show=False),
        Binding("down", "move(1)", "Down", show=False),
        Binding("up", "move(-1)", "Up", show=False),
    ]
    AUTO_FOCUS = ""

    risk = getters.query_one("#ho-risk", Static)
    who = getters.query_one("#ho-who", Static)
    steps = getters.query_one("#ho-steps", Static)
    page_box = getters.query_one("#ho-page", VerticalScroll)
    page_text = getters.query_one("#ho-text", FittedText)
    task_box = getters.query_one("#ho-task", TaskPane)
    number = getters.query_one("#ho-number", OrderedInput)
    keys = getters.query_one("#ho-keys", Static)

    def __init__(self, session: Session, batch: str) -> None:
        super().__init__(session, batch)
        self.looking = False
        """Whether the page is shown instead of the task where there is room for one only."""
        self.counting = False
        """Whether this person is at the counts still though none is left: only a key goes on from there."""
        self.counts = Counts()
        self.at_end: str | None = None
        """Who has paged through to the end of the page; empty for somebody who signs in by the next key."""
        self._shown: Stage | None = None
        self.typed: dict[str, str] = {}
        """What was written into a form that was not carried out."""

    def body(self) -> ComposeResult:
        yield Static(id="ho-risk", markup=False)
        yield Static(id="ho-who", markup=False)
        yield Static(id="ho-steps", markup=False)
        with Horizontal(id="ho"):
            with VerticalScroll(id="ho-page", can_focus=False):
                yield FittedText(id="ho-text", markup=False)
            yield TaskPane(id="ho-task")
        yield Static(id="ho-keys", markup=False)

    def on_mount(self) -> None:
        self.watch(self.page_box, "scroll_y", self._scrolled)
        self.page_text.refit, self.task_box.list_.refit = self._show_page, self._show_task
        self.number.changed, self.number.ended = self._go_on_when_full, lambda _, value: self._count_typed(value)

    def _scrolled(self) -> None:
        if self.page_box.scroll_offset.y >= self.page_box.max_scroll_y > 0:
            self.at_end = self.session.who

    def on_resize(self) -> None:
        self.call_after_refresh(self.update_all)

    # --- where we are ------------------------------------------------------------------------------------------

    @property
    def stage(self) -> Stage:
        """What this person has to do next; the record decides it."""
        return find_stage(self.current_batch, self.session.now(), self.session.who, self.counting)

    def list_to_count(self) -> list[CountSubject]:
        return list_subjects_to_count(self.current_batch, self.session.now(), self.session.who)

    def list_to_read_back(self) -> list[PageLine]:
        return list_lines_to_read_back(self.current_batch, self.session.now(), self.session.who)

    @property
    def hidden(self) -> frozenset[str]:
        return find_subjects_to_count(self.current_batch, self.session.who)

    def place(self) -> str:
        batch = self.current_batch
        return f"{batch.id} {batch.checklist.part.number} {batch.checklist.part.revision}  handover: {self.stage}"

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        stages = ONLY.get(action)
        if action == "decide":
            return bool(list_decisions(self, self.stage, self.typed))
        if action == "view" and self.has_class("-wide"):
            return False
        return stages is None or self.stage in stages

    @property
    def is_unrecorded(self) -> bool:
        return bool(self.counts.typed)

    # --- what is shown -----------------------------------------------------------------------------------------

    def update_body(self) -> None:
        batch, moment, who, stage = self.current_batch, self.session.now(), self.session.who, self.stage
        self.counts.drop_others(batch, who)
        risks = find_risks(batch, moment, who if stage in STEPS else "", self.session.shop.long_shift_hours)
        self.risk.update(f"! Extra care: {'; '.join(RISKS[risk] for risk in risks)}." if risks else "")
        self.risk.display = bool(risks)
        self.who.update(describe_responsible(batch, moment.at))
        self.steps.update(format_steps(stage))
        self.steps.display = stage in STEPS
        self.task_box.display = stage in TASKED and not self._is_looking()
        self.page_box.display = stage not in TASKED or self._is_looking() or self.has_class("-wide")
        self._show_page()
        self._show_task()
        if stage != self._shown:
            self._begin(stage)
        away = stage in TASKED and self._is_looking()
        keys = AWAY if away else describe_keys(stage, batch, moment, who, self.is_unrecorded)
        self.keys.update(break_keys(keys, self.size.width - 2))
        self.refresh_bindings()

    def _show_page(self) -> None:
        width = max((self.page_box.size.width or self.size.width) - 3, 34)
        rows = draw_page(self.current_batch, self.session.now(), self.hidden, width)
        self.page_text.update(Content("\n").join(rows))

    def _show_task(self) -> None:
        self.task_box.show(self.stage, self.current_batch, self.session.now(), self.session.who, self.counts)

    def _begin(self, stage: Stage) -> None:
        """Show a stage for the first time: the page from its top, the cursor where something is typed."""
        if stage == "read":
            self.at_end = None  # a page that has changed is read to its end again
        self._shown = stage
        self.page_box.scroll_home(animate=False)
        self.set_focus(self.number if stage == "count" and self.task_box.display else None)

    def _is_looking(self) -> bool:
        """Whether the page hides the task: there is room for one only."""
        return self.looking and not self.has_class("-wide")

    def chosen(self) -> CountSubject | None:
        return self.counts.find_chosen(self.current_batch, self.session.now(), self.session.who)

    # --- keys --------------------------------------------------------------------------------------------------

    def action_next(self) -> None:
        """One key for whatever comes next."""
        stage = self.stage
        if stage == "prepare":
            offer_handover(self, self.typed)
        elif stage == "read" and self._shown != "read":
            self.update_all()  # it changed this very moment, and nobody has seen it yet
        elif stage == "read" and self.page_box.max_scroll_y and self.at_end not in ("", self.session.who):
            self.action_scroll_page(1)
        elif stage == "read":
            self.give(self.batch_id, ReadHandoverPage())
        elif stage == "count" and not self.list_to_count() and not self.looking:
            self._go_on()
        elif stage == "count":
            self.looking = False
            self.update_body()
            self.number.focus()
        elif stage == "accept":
            self.say("y takes the batch over; Enter does not", wrong=True)

    def action_record_acceptance(self) -> None:
        accept_handover(self, self._accepted)

    def action_decide(self) -> None:
        ask_decision(self, list_decisions(self, self.stage, self.typed))

    def _go_on_when_full(self, value: str) -> None:
        """A number with as many digits as its carrier needs is whole: the next place is asked for without a key."""
        subject = self.chosen() if value else None
        if subject is not None and subject.holds and len(value) >= len(str(subject.holds)):
            self._keep_typed(subject, value)
            self.update_all()

    def _keep_typed(self, subject: CountSubject, value: str) -> None:
        self.counts.keep(self.current_batch, self.session.now(), self.session.who, subject, value)
        self.number.value = ""

    def _count_typed(self, value: str) -> None:
        """Enter in the field: record all that was typed; where nothing was, go on or say what is asked."""
        subject = self.chosen()
        if subject is None:
            return
        if value:
            self._keep_typed(subject, value)
        if self.counts.typed:
            self.run_signed_in(self._record_counts)
        elif not self.list_to_count():
            self._go_on()
        else:
            self.say(f"{subject.title}: type the number you counted, 0 for none", wrong=True)

    def _record_counts(self) -> None:
        agree = record_counts(self, self.counts)
        if agree is not None:
            self.counting = not agree
            self.update_all()

    def _go_on(self) -> None:
        """From the counts to what comes next, if none is disputed; the last answer is not about that any more."""
        disputed = self.current_batch.list_open_differences()
        if disputed:
            said = say_difference(disputed[0], find_blind_subjects(self.current_batch))
            self.say(f"{said}. Recount, or have a lead settle it (Esc, d)", wrong=True)
            return
        self.counting, self.counts.at = False, ""
        self.say("")
        self.update_all()

    def on_key(self, event: events.Key) -> None:
        """The number of the line that is to be read back, and no other."""
        if self.stage != "read back" or not (event.character or "").isdigit():
            return
        event.stop()
        lines = list_safety_lines(self.current_batch, self.session.now(), (), self.session.who)
        left = self.list_to_read_back()
        wanted = get_row_digit([line.key for line in lines].index(left[0].key))
        if event.character == wanted:
            self.give(self.batch_id, ReadBackLine(left[0].key))
        else:
            self.say(f"Line {wanted} is next: read it aloud, then press {wanted}", wrong=True)

    def action_note(self) -> None:
        """For the next shift; or, once one reads, a question to who hands over."""
        if self.stage == "prepare":
            add_handover_note(self)
        else:
            ask_question(self)

    def _accepted(self) -> None:
        self.looking = self.counting = False

    def action_papers(self) -> None:
        """The sheet, and the travelers to go on with by hand; those carry figures that are counted first."""
        to_count = self.current_batch.handover is not None and bool(self.hidden)
        choose_paper(self, list_handover_offers(make_paper_source(self.session, self.current_batch), to_count))

    def action_view(self) -> None:
        self.looking = not self.looking
        self.set_focus(None)
        self.update_all()

    def action_scroll_page(self, way: int) -> None:
        (self.page_box.scroll_page_down if way > 0 else self.page_box.scroll_page_up)(animate=False)

    def action_move(self, way: int) -> None:
        """Scroll the page, choose another place to count, or go back to the counts."""
        looking = self._is_looking()
        if self.stage in ("read back", "accept") and way < 0 and not looking:
            self.counting = True
            self.update_all()
            return
        if self.stage != "count" or looking:
            self.page_box.scroll_relative(y=way, animate=False)
            return
        chosen = self.chosen()
        if chosen is not None:
            if self.number.value:
                self._keep_typed(chosen, self.number.value)
            self.counts.move(self.current_batch, chosen, way)
            self.update_all()

    def action_back(self) -> None:
        """Out of the field first, so that the letters are keys again; then back."""
        leave = super().action_back
        if self.focused is self.number:
            self.set_focus(None)
        elif self.is_unrecorded:
            self.floor.push_screen(ConfirmDialog(LEAVE_COUNTS, does="leave"), lambda yes: leave() if yes else None)
        else:
            leave()
