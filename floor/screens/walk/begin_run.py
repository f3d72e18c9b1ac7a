"""Beginning a load's next run: what it is, and what it still waits for, is seen first; ``y`` begins it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from textual import getters
from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from floor.batch.command import Refused, require_reason
from floor.batch.counting.blind_count import format_unless_blind
from floor.batch.events import RunBegun
from floor.batch.load import Load
from floor.batch.search.recent_words import list_recent_words
from floor.batch.state import Batch
from floor.batch.stations.station_choice import list_station_refusals, open_stations
from floor.batch.walk.commands import BeginRun
from floor.batch.walk.next_run import Arrival, judge_arrival_gates, list_unmet_arrival_gates
from floor.batch.walk.words_left import Word, list_words_left
from floor.screens.forms.dialogs import Choice, ChoiceDialog, ConfirmDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values
from floor.screens.frame.screen import BatchFrame, format_job
from floor.screens.frame.session import Session
from floor.screens.frame.theme import HOLD_POINT, MARKS
from floor.text import join_sentences, wrap_text

SIGNS = {"wait": MARKS["waits"], "blocked": MARKS["blocked"], "met": MARKS["done"], "ask": HOLD_POINT}
EXCEPTION = "A handover is open and not accepted. Starting now is an exception and is recorded."


def start_run(screen: BeginScreen, batch_id: str, load: int, anyway: bool = False, read: tuple[int, ...] = ()) -> None:
    """Begin it; while a handover is open only with a stated reason.

    Args:
        read: the notes left on the load that stood on the screen.
    """

    def give(exception: str = "") -> None:
        batch = screen.session.batch(batch_id)
        of = batch.loads[load]
        free = open_stations(batch, of, screen.session.context(batch_id)) if of.at is not None else []
        if of.at is not None and screen.session.paper is not None:  # what was free then the act itself finds out
            free = list(batch.list_stations_for(of.at))
        if len(free) < 2:
            go(exception)
            return
        choices = [Choice(one, _said(batch, of, one)) for one in free]
        screen.ask(
            ChoiceDialog(f"At which station? Op {of.at} {batch.operation(of.at or 0).title}", choices, acts=True),
            lambda station: go(exception, station) if station is not None else None,
        )

    def go(exception: str, station: str = "") -> None:
        command = BeginRun(load, exception, anyway, station, read=read)
        screen.give(batch_id, command, lambda made: walk(int(made[0].body["run"])))

    def walk(run: int) -> None:
        screen.floor.leave(screen)
        screen.floor.go_walk(batch_id, run)

    if screen.session.batch(batch_id).handover is None:
        give()
        return
    reasons: list[str] = []

    def attempt(given: Values) -> Errors:
        reasons.append(require_reason(given["why"], "starting before the handover is accepted"))
        return {}

    recent = list_recent_words(screen.session.shop.batches, RunBegun, lambda one: [one.exception])
    fields = [FieldSpec("why", "Reason", picks=recent, needed=True)]
    screen.ask_form("Start before handover is accepted", fields, attempt, lambda: give(reasons[0]), EXCEPTION)


def _said(batch: Batch, load: Load, station: str) -> str:
    """The station, and whether it stands set up for the load's operation."""
    setup = batch.find_setup(station)
    ready = "set up for it" if setup is not None and setup.op == load.at else "to be set up"
    return f"{batch.checklist.station(station).name}: {ready}"


def _draw_refusals(refusals: Sequence[Refused], width: int) -> Iterator[Content]:
    """Why no station takes it now, each after an empty line."""
    for refused in refusals:
        yield Content("")
        for row in wrap_text(str(refused), f"{SIGNS['blocked']} ", "  ", width=width):
            yield Content.assemble((row, "bold"))


class BeginScreen(BatchFrame):
    """Question 1, of one load: what comes next, what does it wait for, and until when? ``y`` begins it."""

    HAS_JOB = True
    GUIDE = (
        "What this load does next, and what it waits for.",
        "Nothing is recorded yet. `y` starts it and takes the station.",
        "Anything that must cure or clear first is listed with its time.",
        "A station in use is listed with what is on it.",
    )
    BINDINGS = [
        Binding(
            "y,plus",
            "begin",
            "Yes, start",
            key_display="y/+",
            id="begin",
            tooltip="start this op; asked again while it has to wait",
        ),
        Binding("enter", "look", show=False),
        Binding("m", "aside", "Set aside", id="aside", tooltip="pieces missing, dropped or suspect"),
        Binding("b", "batch", "Batch", id="batch", tooltip="the batch at a glance"),
    ]
    DEFAULT_CSS = """
    BeginScreen #waits { height: 1fr; padding: 1 2; }
    BeginScreen #waits-keys { height: auto; padding: 0 1; color: $accent; }
    """
    AUTO_FOCUS = ""

    text = getters.query_one("#waits", Static)
    keys = getters.query_one("#waits-keys", Static)

    def __init__(self, session: Session, batch: str, load: int) -> None:
        super().__init__(session, batch)
        self.load = load
        self.op = session.batch(batch).loads[load].at
        """The operation that it waits for; started, it is at another one."""
        self.words: list[Word] = []
        """What was left with the load, as it stands on view."""

    def body(self) -> ComposeResult:
        yield Static(id="waits", markup=False)
        yield Static(id="waits-keys", markup=False)

    @property
    def current_load(self) -> Load:
        return self.current_batch.loads[self.load]

    def missing(self, batch: Batch) -> str:
        load = batch.loads.get(self.load)
        if load is None or load.dissolved is not None:
            return super().missing(batch) or f"Load {self.load} is no longer there"
        if load.run is not None and load.at == self.op:
            return f"{batch.format_load(self.load)} was started by {batch.runs[load.run].by}"
        return super().missing(batch) or ("" if load.at == self.op else f"{batch.format_load(self.load)} has gone on")

    def place(self) -> str:
        batch, load = self.current_batch, self.current_load
        assert load.at is not None, "one past its leg is gone"
        return f"{batch.id}  {batch.format_carrier(load)}  op {load.at} {batch.format_op_title(load, load.at)}"

    def job(self) -> str:
        return format_job(self.current_batch, self.current_load, self.size.width - 2)

    def aside(self) -> str:
        return "not started"

    def list_waits(self) -> list[Arrival]:
        return list_unmet_arrival_gates(self.current_batch, self.current_load, self.session.now())

    def list_refusals(self) -> list[Refused]:
        """Why no station takes it now; what was free at the time of a paper, its act finds out."""
        if self.session.paper is not None:
            return []
        return list_station_refusals(self.current_batch, self.current_load, self.session.context(self.batch_id))

    def update_body(self) -> None:
        batch, load = self.current_batch, self.current_load
        assert load.at is not None
        names = " or ".join(batch.checklist.station(one).name for one in batch.list_stations_for(load.at))
        waits, width = self.list_waits(), max(self.size.width - 6, 30)
        pieces = format_unless_blind(batch, f"load {self.load}", len(batch.find_next_pieces(load)))
        head = f"{batch.format_load(self.load)}, {pieces}: next op {load.at} {batch.operation(load.at).title}"
        rows = [Content.assemble((row, "bold")) for row in wrap_text(f"{head}, at {names}", width=width)]
        refusals = self.list_refusals()
        self.leave_out(*(["begin"] if refusals else []))
        rows += _draw_refusals(refusals, width)
        self.words = list_words_left(batch, load)
        for word in self.words:
            wrapped = wrap_text(word.describe(self.session.now().at), "! ", "  ", width=width)
            rows += [Content(""), *(Content.assemble((row, "bold $accent")) for row in wrapped)]
        for one in judge_arrival_gates(batch, load, self.session.now()):
            said = join_sentences(one.sentence, one.verdict.clear) if one.unmet else one.gate.title()
            rows.append(Content(""))
            rows += [
                Content.assemble((row, "bold" if one.unmet else "$secondary"))
                for row in wrap_text(said, f"{SIGNS[one.verdict.status]} ", "  ", width=width)
            ]
        self.text.update(Content("\n").join(rows))
        begins = f"start op {load.at} now and wait there" if waits else f"start op {load.at}"
        read = f"I have read the note{'s' if len(self.words) > 1 else ''}; " if self.words else ""
        takes = f"y or +: {read}{begins}; it takes {names}    " if not refusals else ""
        self.keys.update(f"{takes}Esc: back, nothing is recorded")

    def action_look(self) -> None:
        """Enter opened this; it begins nothing."""
        waits, refusals = self.list_waits(), self.list_refusals()
        if waits or refusals:
            said = join_sentences(waits[0].sentence, waits[0].verdict.clear) if waits else str(refusals[0])
            self.say(said, wrong=True)
            self.floor.bell()
        else:
            self.say(f"Not started. y or +: start op {self.current_load.at}", wrong=True)

    def action_begin(self) -> None:
        waits = self.list_waits()
        if not waits:
            start_run(self, self.batch_id, self.load, read=self._list_read())
            return
        question = f"{join_sentences(waits[0].sentence)} Start all the same and wait there?"
        self.ask(ConfirmDialog(question, does="start"), lambda yes: self._begin_anyway() if yes else None)

    def _begin_anyway(self) -> None:
        start_run(self, self.batch_id, self.load, anyway=True, read=self._list_read())

    def _list_read(self) -> tuple[int, ...]:
        return tuple(word.seq for word in self.words)

    def action_aside(self) -> None:
        from floor.screens.batch.set_aside import choose_set_aside

        choose_set_aside(self, self.batch_id, self.load)

    def action_batch(self) -> None:
        self.floor.go_batch(self.batch_id)
