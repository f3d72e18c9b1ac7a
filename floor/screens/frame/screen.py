"""The frame that all screens share: where am I, what is out of the ordinary, the answer to the last key, the keys."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar, TypeVar, cast

from textual import events, getters
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Static

from floor.batch.command import Command, Refused
from floor.batch.load import Load
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.entry import Entry
from floor.ledger import LedgerError
from floor.screens.forms.dialogs import Drawing, FormDialog, TextDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values, describe_refusal
from floor.screens.frame.app_services import Program
from floor.screens.frame.key_guard import HELD_KEY, READ_KEY
from floor.screens.frame.key_line import KeyLine
from floor.screens.frame.session import Session
from floor.screens.frame.troubles import (
    ABNORMAL_ROWS,
    LEAST_ABNORMAL_ROWS,
    Trouble,
    format_abnormal,
    format_by_level,
    list_batch_troubles,
    list_shop_troubles,
    sort_troubles,
)
from floor.screens.widgets.diff_static import DiffStatic
from floor.shop.second_signature import PinToken
from floor.text import count_cells, cut
from floor.wall import format_local

T = TypeVar("T")

REPLY_STANDS = 6.0
"""Seconds for which the answer to a key keeps its line before news."""
TALL = 40
"""Rows from which a screen has room for large letters and for several lines of what is wrong."""
PLAN_AWAITED = "Still being planned: windows and cycles that end while nobody is in"
LEAST_ROWS = 24
"""Rows from which whose work it is keeps its line beside what is out of the ordinary."""
LEAST_OF_JOB = 3
"""Parts of it that stay, the last of them cut: part, carrier, order."""
USUAL = 80
"""Columns of a usual terminal; with fewer, as on a phone, what is not needed for the next act is left out."""
WIDE = 120
"""Columns from which a screen has room for two things side by side."""


class FloorScreen(Screen[None]):
    """A screen with the shared frame. A subclass gives its body, its place and what it shows."""

    HAS_JOB: ClassVar[bool] = False
    """Whether a line below the head says whose work it is: part, revision, carrier, order."""
    GUIDE: ClassVar[tuple[str, ...]] = ()
    """What do I do here? At most five lines, above the keys; names of keys stand between backticks."""
    BINDINGS = [
        Binding("escape", "back", "Back", id="back"),
        Binding(
            "exclamation_mark",
            "abnormal",
            "Abnormal",
            key_display="!",
            show=False,
            id="abnormal",
            tooltip="the lines at the top, all of them in full",
        ),
        Binding(
            "slash",
            "find",
            "Find",
            key_display="/",
            show=False,
            id="find_anything",
            tooltip="a batch, load, carrier, station, tool, lot, gauge, person or key",
        ),
        Binding("f1,question_mark", "all_keys", "Keys", key_display="?", id="keys", tooltip="these keys"),
        Binding(HELD_KEY, "held", show=False, system=True),
        Binding(READ_KEY, "read", show=False, system=True),
    ]
    HORIZONTAL_BREAKPOINTS = [(0, "-slim"), (USUAL, "-narrow"), (WIDE, "-wide")]

    head_left = getters.query_one("#head-left", Static)
    head_right = getters.query_one("#head-right", Static)
    strip = getters.query_one("#strip", Static)
    reply = getters.query_one("#reply", Static)

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        self.replied: float | None = None
        """When the reply on view was given, in seconds by the clock that nobody can set."""
        self.newsworthy = False
        """Whether news stands in its line."""
        self.idle: frozenset[str] = frozenset()
        """Actions that do nothing as things are."""
        self.scanned = False
        """Whether a scanned tag brought it up: the next one takes its place."""

    @property
    def floor(self) -> Program:
        return cast(Program, self.app)

    def compose(self) -> ComposeResult:
        width = self.app.size.width  # known before anything is styled, or all of it would be styled again
        slim, wide = width < USUAL, width >= WIDE
        self.update_classes({"-slim": slim, "-narrow": not slim and not wide, "-wide": wide})
        with Vertical(id="head"):
            yield DiffStatic(id="head-left", markup=False)
            yield DiffStatic(id="head-right", markup=False)
        if self.HAS_JOB:  # in the row of the strip while nothing is out of the ordinary
            yield DiffStatic(id="job", markup=False)
        yield DiffStatic(id="strip", markup=False)
        if self.floor.tour is not None:
            yield DiffStatic(id="tour", markup=False)
        yield from self.body()
        yield DiffStatic(id="reply", markup=False)
        yield KeyLine(self.is_idle)

    def _head_right(self) -> str:
        slim, now = self.app.size.width < USUAL, self.session.now().at
        who = self.session.who or ("nobody" if slim else "nobody signed in")
        parts = [self.aside(), who, format_local(now, "%H:%M" if slim else "%a %H:%M")]
        return "  ".join(part for part in parts if part)

    def body(self) -> ComposeResult:
        yield from ()

    def place(self) -> str:
        """Where the person is: shop, batch, operation, load."""
        return "Floor"

    def job(self) -> str:
        """Whose work it is, where there is a line for it; what matters least gives way first."""
        return ""

    def aside(self) -> str:
        """What stands beside it on the right: the step, the page."""
        return ""

    def abnormal(self) -> list[Trouble]:
        """What is out of the ordinary here; it stands in one fixed place, the gravest first."""
        return list_shop_troubles(self.session)

    def update_body(self) -> None:
        """Bring what is shown up to the state as it is now."""

    def is_idle(self, action: str) -> bool:
        """Whether a key would do nothing here now but say why: it does not stand in the line of keys."""
        return action in self.idle

    def leave_out(self, *idle: str) -> None:
        """Leave out of the line of keys what does nothing now."""
        if set(idle) != self.idle:
            self.idle = frozenset(idle)
            self.refresh_bindings()

    @property
    def is_unrecorded(self) -> bool:
        """Whether something was marked or typed here, outside of a form, that is lost if the program ends."""
        return False

    def gone(self) -> str:
        """What of that which is shown here is no longer there, in a sentence; empty where all of it is."""
        return ""

    def on_screen_suspend(self) -> None:
        """What was answered here is old news to who comes back from another screen; a dialog is no other screen."""
        if isinstance(self.app.screen, FloorScreen):
            self.say("")

    def on_screen_resume(self, event: events.ScreenResume) -> None:
        event.refresh_styles = False  # a screen is styled when it is mounted and when a color changes
        self.update_all()

    @property
    def stands(self) -> bool:
        """Whether it is still whole: what was worked out for it may come while the program takes it down."""
        return self.is_attached and bool(self.query("#head-left"))

    def update_all(self) -> None:
        """Frame and body, after a key, a change from another terminal, or a tick of the clock."""
        if self.floor.reopen_if_replaced():
            return
        gone = self.gone()
        if gone:
            self.floor.take_away(self, gone)
            return
        self.head_left.update(self.place())
        self.head_right.update(self._head_right())
        found = self.list_abnormal()
        rows = ABNORMAL_ROWS if self.app.size.height >= TALL else LEAST_ABNORMAL_ROWS
        texts, staying = [one.text for one in found], [one.text for one in found if one.stays]
        self.strip.update("\n".join(format_abnormal(texts, self.app.size.width - 2, rows, staying)))
        self.strip.set_class(bool(found), "-abnormal")
        if self.HAS_JOB:
            job = self.query_one("#job", Static)
            job.display = not found or self.app.size.height >= LEAST_ROWS
            job.update(self.job())
            self.strip.display = bool(found)
        self._show_news()
        self.update_body()
        self._show_tour()

    def _show_tour(self) -> None:
        """What the tour of the demo says next, once what it said was done."""
        tour, lines = self.floor.tour, self.query("#tour")
        if tour is None or not lines or self.app.screen is not self:
            return
        tour.look(type(self).__name__, self.session.shop.batches)
        lines.only_one(Static).update(tour.line)
        lines.only_one().display = not tour.is_over

    def list_abnormal(self) -> list[Trouble]:
        away = self.session.shop.away
        return sort_troubles([*([Trouble("now", away)] if away else []), *self.abnormal()])

    def update_for_others(self) -> None:
        """Update for what other terminals recorded."""
        self.update_all()

    def _show_news(self) -> None:
        """Put news into the line of replies, once the answer to the last key has stood for a while."""
        up = self.session.now().up
        if self.replied is not None and 0 <= up - self.replied < REPLY_STANDS:
            return
        news = self.floor.news.on_view(up, self.session.who)
        if news or self.newsworthy:
            self.reply.update(Content(f"! {news}") if news else "")
            self.reply.remove_class("-wrong")
            self.replied = None
        self.newsworthy = bool(news)

    def say(self, text: str, wrong: bool = False) -> None:
        """Answer the last key in the line above the keys."""
        self.reply.update(Content(f"{'✕' if wrong else '✓'} {text}") if text else "")
        self.reply.set_class(wrong, "-wrong")
        self.replied, self.newsworthy = self.session.now().up if text else None, False

    def say_refused(self, refused: Refused) -> None:
        """Say what the rules refuse; a screen with fields goes to the one that is wrong."""
        self.say(describe_refusal(refused), wrong=True)

    def clear_reply(self) -> None:
        """A key is pressed: the answer to the one before it is not about this one."""
        if self.replied is not None:
            FloorScreen.say(self, "")

    def give(
        self,
        id: str,
        command: Command,
        then: Callable[[list[Entry]], None] | None = None,
        *seconds: PinToken,
    ) -> None:
        """Carry out a command, signing in first where nobody is; a refusal is said, never raised."""

        def go() -> None:
            try:
                entries = self.session.do(id, command, *seconds)
            except Refused as refused:
                self.say_refused(refused)
                self.update_all()
            except LedgerError as error:
                if not self.floor.reopen_if_replaced():
                    self.floor.trouble(str(error))
            else:
                self.say("")
                if then is not None:
                    then(entries)
                self.update_all()

        self.run_signed_in(go)

    def run_signed_in(self, go: Callable[[], None]) -> None:
        """Go on as somebody: at once, or after signing in; not where what is shown went meanwhile."""

        def on() -> None:
            if self.gone():
                self.update_all()
            else:
                go()

        if self.session.who:
            on()
        else:
            self.floor.ask_who(on)

    def run_as_lead(self, what: str, go: Callable[[], None]) -> None:
        """Go on as a lead; who is none is told at once, not after typing."""

        def checked() -> None:
            try:
                self.session.context("").need_lead(what)
            except Refused as refused:
                self.say_refused(refused)
            else:
                go()

        self.run_signed_in(checked)

    def ask(self, dialog: Screen[T], answered: Callable[[T | None], None]) -> None:
        """Put a dialog to somebody who is signed in."""

        def go() -> None:
            self.floor.push_screen(dialog, answered)

        self.run_signed_in(go)

    def ask_form(
        self,
        title: str,
        fields: Sequence[FieldSpec],
        attempt: Callable[[Values], Errors],
        then: Callable[[], None] | None = None,
        text: str = "",
        blamed: str = "",
        drawing: Drawing | None = None,
    ) -> None:
        """Put a form to somebody who is signed in; it stays open with what was typed until the attempt takes it.

        Args:
            blamed: the field that a refusal is about which names none of them.
        """

        def tried(values: Values) -> Errors:
            try:
                return attempt(values)
            except Refused:
                if self.gone():  # and the form with it
                    self.call_later(self.update_all)
                raise

        def answered(taken: bool | None) -> None:
            if taken and then is not None:
                then()
            self.update_all()

        self.ask(FormDialog(title, fields, tried, text, blamed, drawing), answered)

    def ask_and_give(
        self,
        id: str,
        title: str,
        fields: Sequence[FieldSpec],
        command: Callable[[Values], Command],
        then: Callable[[list[Entry]], None] | None = None,
        text: str = "",
        blamed: str = "",
        drawing: Drawing | None = None,
    ) -> None:
        """Put a form to somebody, and carry out the command that it makes; what is refused is said in the form."""
        made: list[Entry] = []

        def attempt(values: Values) -> Errors:
            made.extend(self.session.do(id, command(values)))
            return {}

        def given() -> None:
            self.say("")
            if then is not None:
                then(made)

        self.ask_form(title, fields, attempt, given, text, blamed, drawing)

    def action_back(self) -> None:
        self.floor.leave(self)

    def action_held(self) -> None:
        self.say("Key repeat ignored: taken once. Press again to continue", wrong=True)

    def action_read(self) -> None:
        self.say("Scan ignored, nothing entered: open a field first", wrong=True)

    def action_abnormal(self) -> None:
        """All of it in full, the gravest first; nothing is recorded by reading."""
        found = self.list_abnormal()
        awaited = self.session.planner.is_first_awaited
        if found:
            lines = [*format_by_level(found), *(["", PLAN_AWAITED] if awaited else [])]
            self.floor.push_screen(TextDialog(f"! {len(found)} out of the ordinary", "\n".join(lines)))
        elif awaited:
            self.say(f"Nothing so far. {PLAN_AWAITED}")
        else:
            self.say("Nothing is out of the ordinary here")

    def action_find(self) -> None:
        """Anything in the shop by its name, or what a key does here."""
        self.floor.find_anything(self)

    def action_all_keys(self) -> None:
        from floor.screens.frame.keys import KeysDialog, list_keys

        self.floor.push_screen(KeysDialog(self.place(), list_keys(self), self.GUIDE))


class BatchFrame(FloorScreen):
    """A screen about one batch, or about something in it: its subject."""

    def __init__(self, session: Session, batch: str) -> None:
        super().__init__(session)
        self.batch_id = batch
        self._known: Batch | None = None
        """The batch as it was when the subject was last in it."""

    def missing(self, batch: Batch) -> str:
        """Why the subject is not in the batch as it is now, in a sentence; empty where it is there."""
        return f"Batch {batch.id} is closed: c on what is next reads it" if batch.closed is not None else ""

    def gone(self) -> str:
        """The subject may be struck out, put back or closed at any moment, also at another terminal."""
        try:
            return self.missing(self.session.batch(self.batch_id))
        except Refused as refused:
            return str(refused)

    @property
    def current_batch(self) -> Batch:
        """The batch as it is now; once the subject is gone, as it was, until this screen has gone too.

        (``batch`` is Textual's own word for something else.)
        """
        if self._known is None or not self.gone():
            self._known = self.session.batch(self.batch_id)
        return self._known

    def place(self) -> str:
        part = self.current_batch.checklist.part
        return f"{self.batch_id} {part.number} {part.revision} {part.name}"

    def abnormal(self) -> list[Trouble]:
        return list_batch_troubles(self.session, self.current_batch)


class RunFrame(BatchFrame):
    """A screen about one run."""

    HAS_JOB = True

    def __init__(self, session: Session, batch: str, run: int) -> None:
        super().__init__(session, batch)
        self.run_ = run

    def on_resize(self) -> None:
        self.call_after_refresh(self.update_all)

    @property
    def current_run(self) -> Run:
        return self.current_batch.runs[self.run_]

    def job(self) -> str:
        batch = self.current_batch
        return format_job(batch, batch.loads[self.current_run.load], self.size.width - 2)

    def missing(self, batch: Batch) -> str:
        return super().missing(batch) or describe_missing_run(batch, self.run_)


def format_job(batch: Batch, load: Load, width: int, *more: str) -> str:
    """``KB-7 A · Pallet 2 of 6 · PO 4711 · Key block``: the last ones give way where there is no room.

    Args:
        more: what stands before the part's name.
    """
    part = batch.checklist.part
    of_all = batch.format_carrier_of_all(load)
    parts = [*filter(None, (f"{part.number} {part.revision}", of_all, batch.reference, *more, part.name))]
    while len(parts) > LEAST_OF_JOB and count_cells(" · ".join(parts)) > width:
        parts.pop()
    return cut(" · ".join(parts), width)


def describe_missing_run(batch: Batch, number: int) -> str:
    """Why a run is not there any more, in a sentence; empty where it is."""
    run = batch.runs.get(number)
    if run is None:
        return f"Run {number} of {batch.id} was struck out of the record: it is no longer under way"
    if run.put_back:
        return f"{batch.format_load(run.load)} was put back from op {run.op} by {run.released_by}"
    return ""
