"""The station walk on screen: one line at a time, its cautions with it, one key to confirm."""

from __future__ import annotations

from textual import events, getters, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from floor.batch.command import Refused
from floor.batch.gates.commands import Prove
from floor.batch.gates.setup_sheet import build_setup_card
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.stations.qualified_people import describe_unqualified
from floor.batch.walk.clocks import find_overrun
from floor.batch.walk.lines import Line, Walk
from floor.batch.walk.recap import describe_other_person
from floor.batch.walk.standing import say_waiver
from floor.entry import Moment
from floor.papers.catalog import list_offers
from floor.papers.drifts import list_drift_warnings
from floor.screens.forms.form import Form
from floor.screens.frame.key_line import LARGE_VIEW, NEW_LOT, NOTE, TAKE_BACK
from floor.screens.frame.paper_choice import PAPERS, choose_paper, make_paper_source
from floor.screens.frame.screen import RunFrame, format_job
from floor.screens.frame.session import Session
from floor.screens.frame.troubles import Trouble, list_batch_troubles, sort_troubles
from floor.screens.walk.cached_walk import WalkOnView
from floor.screens.walk.confirm import confirm, record_proof, tell_outcome
from floor.screens.walk.large_view import LargeViewScreen
from floor.screens.walk.overtaken import Seen
from floor.screens.walk.recap_dialog import tell_absence
from floor.screens.walk.step_actions import (
    add_note,
    list_idle_actions,
    pause_run,
    show_more,
    skip_step,
    waive_gate,
)
from floor.screens.walk.step_panel import StepPanel, StepView
from floor.screens.walk.unbroken_work import describe_work_ahead
from floor.screens.widgets.diff_static import DiffStatic
from floor.screens.widgets.lines import WalkLines, count_met, draw_beside
from floor.text import format_clock, format_span

GATES_WIDTH = 43
"""Columns of text in the panel of gates, where there is room for it."""


TURN_PAGES = (
    Binding("pagedown", "turn_page(1)", show=False),
    Binding("pageup", "turn_page(-1)", show=False),
)
"""Through a step that is longer than its place."""


class WalkColumn(Vertical):
    """The step, and below it the lines of the walk."""

    def on_resize(self) -> None:
        """What stands above takes more or less room than before: the height is known only now."""
        self.query_one(StepPanel).fit_again()


class WalkScreen(RunFrame):
    """Question 2: at this station, what do I do, in what order, and what stops me?"""

    GUIDE = (
        "Do what the field at the top says, then press `Enter`.",
        "A check asks for its values first; `Enter` goes from field to field.",
        "Moved, changed or stopped: `x`. You have to leave: `p`, with a reason.",
        "◊ ahead is a hold point: prove it first. `v` lists all of them.",
    )
    BINDINGS = [
        Binding("enter", "confirm", "Confirm", id="confirm", tooltip="confirm, record, count: what the line asks"),
        Binding("space", "confirm", "Confirm", show=False),
        Binding("s", "skip", "Skip", id="skip", tooltip="skip this step, with a reason"),
        Binding("w", "waive", "Waive", id="waive", tooltip="waive this gate: a lead, with a reason"),
        Binding("x", "report", "Report", id="report", tooltip="moved, tool changed, stopped, from paper"),
        NOTE,
        Binding("p", "pause", "Pause", id="pause", tooltip="leave with a reason; your place is kept"),
        TAKE_BACK,
        Binding("m", "aside", "Set aside", id="aside", tooltip="pieces missing, dropped or suspect"),
        Binding("up", "look(-1)", "Look", show=False, tooltip="at other lines; Home: the current step"),
        Binding("down", "look(1)", "Look", show=False),
        Binding("home", "look(0)", show=False),
        *TURN_PAGES,
        Binding("b", "batch", "Batch", id="batch", tooltip="the batch at a glance"),
        Binding("v", "view", "View", id="view", tooltip="required checks, met or not; how and why"),
        Binding("ctrl+g", "view", "View"),
        NEW_LOT,
        LARGE_VIEW,
        PAPERS,
    ]
    AUTO_FOCUS = ""

    lines = getters.query_one("#lines", WalkLines)
    gates = getters.query_one("#gates", Static)
    step = getters.query_one("#step", StepPanel)
    asks = getters.query_one("#asks", Form)

    def __init__(self, session: Session, batch: str, run: int) -> None:
        super().__init__(session, batch, run)
        self.on_view = WalkOnView()
        self.look: int | None = None
        self.shown = "", 0
        """The current line as it was last shown, and the newest entry by then."""
        self.is_moved_on = False
        """Whether another terminal moved the walk on: the next Enter was meant for the line before it."""
        self.was_left = False
        """Whether a dialog stood on top of this screen."""

    def body(self) -> ComposeResult:
        with Horizontal(id="walk"):
            with WalkColumn(id="walk-main"):
                yield StepPanel(id="step")
                yield WalkLines(id="lines", markup=False)
            yield DiffStatic(id="gates", markup=False)

    def on_mount(self) -> None:
        self.update_all()
        if not self.gone():
            tell_absence(self)

    def on_screen_suspend(self) -> None:
        self.was_left = isinstance(self.app.screen, ModalScreen)

    def on_screen_resume(self, event: events.ScreenResume) -> None:
        """Back from a dialog one goes on typing where the form stands open (the frame's own part comes after)."""
        if self.was_left and self.focused is None:
            self.asks.focus_first()
        self.was_left = False

    def get_walk(self) -> Walk:
        return self.on_view.judge(self.current_batch, self.current_run, self.session.now(), self.session.who)

    def get_line(self) -> Line | None:
        """The line on view."""
        walked = self.get_walk()
        return walked.current if self.look is None else walked.lines[self.look]

    def update_all(self) -> None:
        self.on_view.let_age(self.session.now())
        super().update_all()

    def update_for_others(self) -> None:
        """A line that another terminal brought up is read before Enter acts on it."""
        seen = Seen(self.shown, self.asks)
        self.update_all()
        self._say_if_overtaken(seen)

    def _say_if_overtaken(self, seen: Seen) -> bool:
        """Say what another terminal recorded at the line on view; whether one did."""
        walked = self.get_walk() if self.stands and not self.gone() else None
        if said := seen.answer(self.current_batch, walked) if walked is not None else "":
            self.is_moved_on = self.shown[0] != seen.line
            self.say(said, wrong=True)
        return bool(said)

    def place(self) -> str:
        batch, run = self.current_batch, self.current_run
        load = batch.loads[run.load]
        carrier, title = batch.format_carrier(load), batch.format_op_title(load, run.op, returns=True)
        if batch.operation(run.op).also_at:
            carrier += f" at {batch.checklist.station(run.station).name}"
        return f"{batch.id}  {carrier}  op {run.op} {title}"

    def job(self) -> str:
        batch, walked = self.current_batch, self.get_walk()
        checks = f"{count_met(walked)} checks met" if walked.gates else ""
        return format_job(batch, batch.loads[self.current_run.load], self.size.width - 2, checks)

    def aside(self) -> str:
        walked = self.get_walk()
        return f"step {walked.step}/{walked.steps}"

    def abnormal(self) -> list[Trouble]:
        return list_walk_troubles(self.session, self.current_batch, self.current_run)

    def update_body(self) -> None:
        walked, line = self.get_walk(), self.get_line()
        self.leave_out(*list_idle_actions(walked.current))
        self.shown = walked.current.key if walked.current is not None else "", self.current_batch.seq
        self.lines.show_walk(walked, self.look)
        if self.has_class("-wide"):  # else there is no room for it, and each key would pay for it
            about = build_setup_card(self.current_batch, self.current_run, line) if line is not None else None
            self.gates.update(draw_beside(about, walked, GATES_WIDTH))
        if line is None:
            self.step.show_released(self.current_batch, self.current_run)
            return
        looks = self.look is not None
        one_go = "" if looks else describe_work_ahead(self.session, self.batch_id, walked)
        view = StepView(self.current_batch, self.current_run, line, self.session.who, one_go, looks, self.session.shop)
        self.step.show_step(view)

    def say(self, text: str, wrong: bool = False) -> None:
        """While a form is open, what is wrong is said at the form."""
        at_form = wrong and bool(text) and self.asks.display
        super().say("" if at_form else text, wrong)
        self.asks.show_errors({"": text} if at_form else {})

    def say_refused(self, refused: Refused) -> None:
        seen = Seen(self.shown, self.asks)
        self.update_all()
        if self._say_if_overtaken(seen):  # recorded elsewhere in this very moment, and not seen here before
            return
        super().say_refused(refused)
        if self.asks.display:
            self.asks.show_refused(refused)

    def clear_reply(self) -> None:
        """What was wrong with a field is said until the field is typed again, unless somebody goes on elsewhere."""
        super().clear_reply()
        if self.asks.wrong and self.focused not in self.asks.inputs:
            self.asks.show_errors({})
            self.update_body()

    @on(Form.Mended)
    def typed_anew(self) -> None:
        self.say("")
        self.update_body()

    @on(Form.Entered)
    def filled(self, event: Form.Entered) -> None:
        event.stop()
        current = self.get_walk().current
        if current is None or event.about != self.asks.about:
            return  # it was ended twice, and recorded by now
        given = {name: texts if len(texts) > 1 else texts[0] for name, texts in event.texts.items()}
        record_proof(
            self, Prove(self.run_, current.key, given), lambda: tell_outcome(self, self.get_walk().line(current.key))
        )

    def action_confirm(self) -> None:
        """One key for whatever the current line is."""
        line, moved_on, self.is_moved_on = self.get_walk().current, self.is_moved_on, False
        if self.look is not None:
            self.action_look(0)
        elif moved_on and line is not None:
            self.say("Another terminal recorded here: read this line, then press Enter", wrong=True)
        elif line is None:
            self.action_back()
        elif not self.step.read_on(self.action_confirm) and not confirm(self, line):
            self.asks.focus_first()

    def action_back(self) -> None:
        """Out of a field first, so that the letters are keys again; then out of the screen."""
        if self.focused is not None:
            self.set_focus(None)
        else:
            super().action_back()

    def action_look(self, by: int) -> None:
        """Look at other lines; the place does not move."""
        walked = self.get_walk()
        start = self.look if self.look is not None else min(walked.place, len(walked.lines) - 1)
        look = max(0, min(start + by, len(walked.lines) - 1))
        self.look = look if by and look != walked.place else None
        self.update_all()

    def action_turn_page(self, way: int) -> None:
        self.step.scroll_page(way)

    def action_skip(self) -> None:
        skip_step(self, self.batch_id, self.run_, self.get_walk().current)

    def action_waive(self) -> None:
        waive_gate(self, self.batch_id, self.run_, self.get_walk().current)

    def action_report(self) -> None:
        """Something happened at the station that voids what was proved."""
        from floor.screens.walk.disturbances import ask_disturbance

        ask_disturbance(self, self.batch_id, self.current_run)

    def action_take_back(self) -> None:
        """The last act of a minute ago; before that, the start of the run where nothing has started yet."""
        from floor.screens.walk.put_back import take_back_or_put_back

        take_back_or_put_back(self, self.batch_id, self.current_run)

    def action_aside(self) -> None:
        """Pieces that are missing, dropped or doubtful leave the run before its count."""
        from floor.screens.batch.set_aside import choose_set_aside

        choose_set_aside(self, self.batch_id, self.current_run.load)

    def action_note(self) -> None:
        add_note(self, self.batch_id, self.run_)

    def action_pause(self) -> None:
        pause_run(self, self.batch_id, self.run_, self.get_walk().current)

    def action_new_lot(self) -> None:
        from floor.screens.walk.new_lot import ask_new_lot

        ask_new_lot(self, self.batch_id, self.current_run)

    def action_afar(self) -> None:
        self.floor.go(LargeViewScreen(self.session, self.batch_id, self.run_))

    def action_papers(self) -> None:
        choose_paper(self, list_offers(make_paper_source(self.session, self.current_batch), load=self.current_run.load))

    def action_view(self) -> None:
        """How and why of the step, and all that must be proved; nothing is recorded, and what was typed stays."""
        show_more(self, self.get_walk(), self.get_line())

    def action_batch(self) -> None:
        self.floor.go_batch(self.batch_id)


def list_walk_troubles(session: Session, batch: Batch, run: Run) -> list[Trouble]:
    """What is out of the ordinary: about the run itself before what is as grave elsewhere in its batch."""
    rest = list_batch_troubles(session, batch, batch.loads[run.load])
    return sort_troubles([*_list_run_troubles(session, batch, run), *rest])


def _list_run_troubles(session: Session, batch: Batch, run: Run) -> list[Trouble]:
    """Its cycle over, a drift, its waivers, somebody else at it."""
    waived = [say_waiver(batch, waiver, run.load) for waiver in batch.list_open_waivers(batch.loads[run.load])]
    drifting = list_drift_warnings(batch, session.find_drifts(batch), run.op)
    other = describe_other_person(batch, run, session.now(), session.who)
    unfit = describe_unqualified(batch, run.station, session.context(batch.id)) if session.who else ""
    hurts = [Trouble("now", unfit)] if unfit else []
    if late := _describe_overrun(batch, run, session.now()):
        hurts.append(Trouble("shift", late, timed=True))
    stay = [Trouble("shift", one, stays=True) for one in waived]
    return [*hurts, *(Trouble("shift", one) for one in drifting), *stay, *([Trouble("shift", other)] if other else [])]


def _describe_overrun(batch: Batch, run: Run, now: Moment) -> str:
    over = find_overrun(batch, run, now)
    if over is None:
        return ""
    late = format_span((now.at - over).total_seconds())
    return f"CYCLE OVER by {late}, planned until {format_clock(over, now.at)}: see whether it still runs"
