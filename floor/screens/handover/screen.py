"""Handing a batch over on one screen: offer, read, count with own eyes, read back, ask, accept."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from textual import events, getters
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from floor.batch.counting.blind_count import (
    CountSubject,
    find_blind_subjects,
    find_subjects_to_count,
    list_count_subjects,
)
from floor.batch.handover.commands import (
    CountSubjectPieces,
    ReadBackLine,
    ReadHandoverPage,
)
from floor.batch.handover.page import (
    RISKS,
    PageLine,
    find_risks,
    list_lines_at,
    list_lines_to_read_back,
    list_safety_lines,
    list_subjects_to_count,
    list_unread_entries,
    say_difference,
)
from floor.batch.open_items import OpenHandover
from floor.entry import Entry
from floor.papers.catalog import list_handover_offers
from floor.screens.forms.dialogs import Choice, ChoiceDialog, ConfirmDialog
from floor.screens.frame.paper_choice import PAPERS, choose_paper, make_paper_source
from floor.screens.frame.screen import BatchFrame
from floor.screens.frame.session import Session
from floor.screens.handover.forms import (
    accept_handover,
    add_handover_note,
    answer_question,
    ask_question,
    offer_handover,
    settle_difference,
    withdraw_handover,
)
from floor.screens.handover.rows import (
    TypedCounts,
    clip_rows,
    draw_acceptance,
    draw_counts,
    draw_page,
    draw_read_back,
    get_row_digit,
)
from floor.screens.widgets.ordered_input import OrderedInput
from floor.text import format_clock, format_count

Stage = Literal["prepare", "offered", "read", "count", "read back", "accept"]

STEPS: dict[Stage, str] = {"read": "Read", "count": "Count", "read back": "Read back", "accept": "Ask and accept"}
TASKED: tuple[Stage, ...] = ("count", "read back", "accept")
"""Where the taker has something to do beside the page."""
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
    #ho-risk { height: auto; max-height: 2; padding: 0 1; text-style: bold; }
    #ho-who { height: 1; padding: 0 1; text-wrap: nowrap; text-overflow: ellipsis; }
    #ho-steps { height: 1; padding: 0 1; color: $accent; }
    #ho { height: 1fr; }
    #ho-page { width: 1fr; padding: 0 1; border-top: solid $panel; scrollbar-size-vertical: 1; }
    #ho-text { height: auto; }
    #ho-task { width: 1fr; border-top: solid $primary; background: $surface; padding: 0 1; }
    #ho-list { height: 1fr; }
    #ho-entry { height: 1; margin-bottom: 1; }
    #ho-label { width: auto; text-style: bold; padding-right: 1; }
    #ho-number { width: 12; background: $panel; }
    #ho-keys { height: 1; padding: 0 1; color: $secondary; background: $surface; }
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
    page_text = getters.query_one("#ho-text", Static)
    task_box = getters.query_one("#ho-task", Vertical)
    list_ = getters.query_one("#ho-list", Static)
    entry = getters.query_one("#ho-entry", Horizontal)
    label = getters.query_one("#ho-label", Static)
    number = getters.query_one("#ho-number", OrderedInput)
    keys = getters.query_one("#ho-keys", Static)

    def __init__(self, session: Session, batch: str) -> None:
        super().__init__(session, batch)
        self.at: str = ""
        """Key of the subject chosen for counting, where it is not simply the next."""
        self.looking = False
        """Whether the page is shown instead of the task where there is room for one only."""
        self.counting = False
        """Whether this person is at the counts still though none is left: only a key goes on from there."""
        self.counts: TypedCounts = {}
        """Counts typed and not recorded, by subject."""
        self.counts_by = ""
        """Who typed them: nobody else records them."""
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
                yield Static(id="ho-text", markup=False)
            with Vertical(id="ho-task"):
                with Horizontal(id="ho-entry"):
                    yield Static(id="ho-label", markup=False)
                    yield OrderedInput(id="ho-number", number=True, compact=True, restrict=r"[0-9]*", max_length=4)
                yield Static(id="ho-list", markup=False)
        yield Static(id="ho-keys", markup=False)

    def on_mount(self) -> None:
        self.watch(self.page_box, "scroll_y", self._scrolled)
        self.number.changed, self.number.ended = self._go_on_when_full, lambda _, value: self._count_typed(value)

    def _scrolled(self) -> None:
        if self.page_box.scroll_offset.y >= self.page_box.max_scroll_y > 0:
            self.at_end = self.session.who

    def on_resize(self) -> None:
        self.call_after_refresh(self.update_all)

    # --- where we are ------------------------------------------------------------------------------------------

    @property
    def handover(self) -> OpenHandover | None:
        return self.current_batch.handover

    @property
    def stage(self) -> Stage:
        """What this person has to do next; the record decides it."""
        handover = self.handover
        if handover is None:
            return "prepare"
        if self.session.who == handover.by and not handover.unattended:
            return "offered"
        if self.session.who not in handover.readers or self.list_unread():
            return "read"
        if self.counting or self.list_to_count() or self.current_batch.list_open_differences():
            return "count"
        return "read back" if self.list_to_read_back() else "accept"

    def list_to_count(self) -> list[CountSubject]:
        return list_subjects_to_count(self.current_batch, self.session.now(), self.session.who)

    def list_to_read_back(self) -> list[PageLine]:
        return list_lines_to_read_back(self.current_batch, self.session.now(), self.session.who)

    def list_unread(self) -> list[Entry]:
        return list_unread_entries(self.current_batch, self.session.who)

    @property
    def hidden(self) -> frozenset[str]:
        return find_subjects_to_count(self.current_batch, self.session.who)

    def place(self) -> str:
        batch = self.current_batch
        return f"{batch.id} {batch.checklist.part.number} {batch.checklist.part.revision}  handover: {self.stage}"

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        stages = ONLY.get(action)
        if action == "decide":
            return bool(self._decisions())
        if action == "view" and self.has_class("-wide"):
            return False
        return stages is None or self.stage in stages

    @property
    def is_unrecorded(self) -> bool:
        return bool(self.counts)

    # --- what is shown -----------------------------------------------------------------------------------------

    def update_body(self) -> None:
        self._drop_counts()
        stage = self.stage
        taker = self.session.who if stage in ("read", "count", "read back", "accept") else ""
        hours = self.session.shop.long_shift_hours
        risks = find_risks(self.current_batch, self.session.now(), taker, hours)
        self.risk.update(f"! Extra care: {'; '.join(RISKS[risk] for risk in risks)}." if risks else "")
        self.risk.display = bool(risks)
        self.who.update(self._who())
        self.steps.update(self._steps(stage))
        self.steps.display = stage in STEPS
        tasked, wide = stage in ("count", "read back", "accept"), self.has_class("-wide")
        self.task_box.display = tasked and (wide or not self.looking)
        self.page_box.display = not tasked or wide or self.looking
        self._show_page()
        self._show_task(stage)
        self.keys.update(self._hint(stage))
        self.refresh_bindings()

    def _drop_counts(self) -> None:
        """What somebody else typed, or of a place that is there no more, is nobody's count."""
        there = {subject.key for subject in list_count_subjects(self.current_batch)}
        mine = self.counts_by == self.session.who
        self.counts = {key: count for key, count in self.counts.items() if mine and key in there}
        self.counts_by = self.session.who

    def _who(self) -> str:
        batch, handover, now = self.current_batch, self.handover, self.session.now().at
        if handover is None:
            since = f" since {format_clock(batch.shift_began, now)}" if batch.shift_began else ""
            return f"{batch.responsible} has been responsible{since}. No handover is open."
        what = "Left unattended" if handover.unattended else "Offered"
        by = "" if handover.by == batch.responsible else f" by {handover.by}"
        said = f"{batch.responsible} is responsible until someone signs for it."
        return f"{said} {what} {format_clock(handover.at, now)}{by}."

    def _steps(self, stage: Stage) -> str:
        names = list(STEPS)
        at = names.index(stage) if stage in STEPS else -1
        signs = ["✓" if n < at else "▶" if n == at else "·" for n in range(len(names))]
        return "   ".join(f"{sign} {STEPS[name]}" for sign, name in zip(signs, names, strict=True))

    def _show_page(self) -> None:
        width = max((self.page_box.size.width or self.size.width) - 3, 34)
        rows = draw_page(self.current_batch, self.session.now(), self.hidden, width)
        self.page_text.update(Content("\n").join(rows))

    def _show_task(self, stage: Stage) -> None:
        self.entry.display = stage == "count"
        width, batch = max(self.task_box.size.width - 2, 34), self.current_batch
        if stage == "count":
            chosen = self.chosen()
            self.label.update(f"{chosen.title}: counted" if chosen else "")
            said = list_lines_at(batch, self.session.now(), chosen.key, self.session.who) if chosen else []
            self.list_.update(clip_rows(*draw_counts(batch, chosen, said, self.counts, width), self._room()))
        elif stage == "read back":
            self.list_.update(
                clip_rows(*draw_read_back(batch, self.session.now(), self.session.who, width), self._room())
            )
        elif stage == "accept":
            rows = draw_acceptance(batch, self.session.who, width)
            self.list_.update(clip_rows(rows, len(rows), self._room()))
        if stage != self._shown:
            if stage == "read":
                self.at_end = None  # a page that has changed is read to its end again
            self._shown = stage
            self.page_box.scroll_home(animate=False)
            self.call_after_refresh(self.update_body)  # the task has its size only once it is laid out
            self.set_focus(self.number if stage == "count" and self.task_box.display else None)

    def chosen(self) -> CountSubject | None:
        """The subject whose number is asked for: the one moved to, else the first that is left, else the last."""
        known = {subject.key: subject for subject in list_count_subjects(self.current_batch)}
        left = [subject for subject in self.list_to_count() if subject.key not in self.counts]
        disputed = [known[one.subject] for one in self.current_batch.list_open_differences() if one.subject in known]
        rest = list(known.values())[::-1]
        return known.get(self.at) or next(iter(left or (disputed if not self.counts else []) or rest), None)

    def _room(self) -> int:
        return max(self.list_.size.height, 6)

    def _hint(self, stage: Stage) -> str:
        if self.looking and not self.has_class("-wide") and stage in ("count", "read back", "accept"):
            return "v: back to the task   PgUp PgDn: scroll"
        if stage == "count" and self.counts:
            return "Enter: record what you typed   ↑ ↓: another place   Esc: leave the field"
        if stage == "count" and self.current_batch.list_open_differences() and not self.list_to_count():
            return "A count does not match: type it again, Enter   Esc, d: have a lead settle it"
        if stage == "count" and not self.list_to_count():
            return "All counted. Enter: go on to read back   ↑ ↓: count a place again"
        if stage == "read" and (unread := self.list_unread()):
            others = ", ".join(sorted({entry.by for entry in unread}))
            return f"The page has changed since you read it ({others}). Enter: next page, to the end"
        return {
            "prepare": "Enter: add remarks and sign   d: unattended, or a relief   ↑ ↓ PgUp PgDn: scroll",
            "offered": "Ctrl+L: the next person signs in and takes over   d: withdraw",
            "read": "Enter: next page; at the end, that you have read it   ↑ ↓ PgUp PgDn: scroll",
            "count": "Type the number and Enter   ↑ ↓: another place   Esc: leave the field",
            "read back": "Read the line aloud, then press its number   ↑: back to the counts",
            "accept": "y: accept and sign   ↑: back to the counts",
        }[stage]

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

    def _decisions(self) -> dict[str, Callable[[], None]]:
        """What can be decided at this stage, by what it is."""
        found: dict[str, Callable[[], None]] = {}
        batch = self.current_batch
        if batch.list_open_differences():
            found["settle a disputed count (a lead)"] = lambda: settle_difference(self)
        if any(not question.answer for question in batch.questions.values()):
            found["answer a question"] = lambda: answer_question(self)
        if self.stage == "prepare":
            found["leave the batch unattended"] = lambda: offer_handover(self, self.typed, unattended=True)
            found["relief for a break"] = lambda: offer_handover(self, self.typed, relief="break")
            found["relief for injury or illness (a lead)"] = lambda: offer_handover(self, self.typed, relief="illness")
        if self.stage == "offered":
            found["withdraw the handover"] = lambda: withdraw_handover(self)
        return found

    def action_decide(self) -> None:
        """The one thing there is to decide, or which of them."""
        found = self._decisions()
        if len(found) == 1:
            next(iter(found.values()))()
        elif found:
            choices = [Choice(key, key) for key in found]
            self.floor.push_screen(ChoiceDialog("Decide", choices), lambda key: found[key]() if key else None)

    def _go_on_when_full(self, value: str) -> None:
        """A number with as many digits as its carrier needs is whole: the next place is asked for without a key."""
        subject = self.chosen() if value else None
        if subject is not None and subject.holds and len(value) >= len(str(subject.holds)):
            self._keep_typed(subject, value)
            self.update_all()

    def _keep_typed(self, subject: CountSubject, value: str) -> None:
        """Keep a number as the count of this place; Enter records it."""
        lines = list_lines_at(self.current_batch, self.session.now(), subject.key, self.session.who)
        self.counts[subject.key] = int(value), tuple(line.key for line in lines)
        self.at = self.number.value = ""

    def _count_typed(self, value: str) -> None:
        """Enter in the field: record all that was typed; where nothing was, go on or say what is asked."""
        subject = self.chosen()
        if subject is None:
            return
        if value:
            self._keep_typed(subject, value)
        if self.counts:
            self.run_signed_in(self._record_counts)
        elif not self.list_to_count():
            self._go_on()
        else:
            self.say(f"{subject.title}: type the number you counted, 0 for none", wrong=True)

    def _record_counts(self) -> None:
        """Record all that was typed, and say the first that does not agree."""
        titles = {one.key: one.title for one in list_count_subjects(self.current_batch)}
        made: list[Entry] = []
        for key, (found, lines) in list(self.counts.items()):
            before = len(made)
            self.give(self.batch_id, CountSubjectPieces(key, found, lines), made.extend)
            if len(made) == before:
                return  # refused, or not written: said already, and what was typed stays
            del self.counts[key]
        counted = [entry.body for entry in made if "found" in entry.body]
        wrong = next((body for body in counted if body["found"] != body["expected"]), None)
        self.counting, self.at = wrong is not None, ""
        if wrong is not None:
            self._say_mismatch(titles[wrong["subject"]], wrong["subject"], wrong["found"], wrong["expected"])
        elif len(counted) == 1:
            self.say(f"{titles[counted[0]['subject']]}: {counted[0]['found']}, agrees with the record")
        else:
            self.say(f"{format_count(len(counted), 'place')} counted, all agree with the record")
        self.update_all()

    def _say_mismatch(self, title: str, key: str, found: int, expected: int) -> None:
        if key in find_blind_subjects(self.current_batch):
            self.say(f"{title}: counts do not match; recount (↑)", wrong=True)
        else:
            told = f"{title}: counted {found}, recorded {expected}"
            self.say(f"{told}. Recount (↑), or have a lead settle it (Esc, d)", wrong=True)

    def _go_on(self) -> None:
        """From the counts to what comes next, if none is disputed; the last answer is not about that any more."""
        disputed = self.current_batch.list_open_differences()
        if disputed:
            said = say_difference(disputed[0], find_blind_subjects(self.current_batch))
            self.say(f"{said}. Recount, or have a lead settle it (Esc, d)", wrong=True)
            return
        self.counting, self.at = False, ""
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
        to_count = self.handover is not None and bool(self.hidden)
        choose_paper(self, list_handover_offers(make_paper_source(self.session, self.current_batch), to_count))

    def action_view(self) -> None:
        self.looking = not self.looking
        self.set_focus(None)
        self.update_all()

    def action_scroll_page(self, way: int) -> None:
        (self.page_box.scroll_page_down if way > 0 else self.page_box.scroll_page_up)(animate=False)

    def action_move(self, way: int) -> None:
        """Scroll the page, choose another place to count, or go back to the counts."""
        looking = self.looking and not self.has_class("-wide")
        if self.stage in ("read back", "accept") and way < 0 and not looking:
            self.counting = True
            self.update_all()
            return
        if self.stage != "count" or looking:
            self.page_box.scroll_relative(y=way, animate=False)
            return
        keys = [subject.key for subject in list_count_subjects(self.current_batch)]
        chosen = self.chosen()
        if chosen is not None:
            if self.number.value:
                self._keep_typed(chosen, self.number.value)
            self.at = keys[(keys.index(chosen.key) + way) % len(keys)]
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
