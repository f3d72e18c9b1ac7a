"""The station walk on screen: one line at a time, its cautions with it, one key to confirm."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from textual import getters, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from floor.batch.command import Command
from floor.batch.counting.blind_count import UNSEEN, blind, blinded
from floor.batch.events import CycleStarted
from floor.batch.gates.judge import outside, samples
from floor.batch.gates.setup_sheet import card
from floor.batch.walk.clocks import planned_end, reading, turn_due
from floor.batch.walk.commands import Prove, confirm
from floor.batch.walk.lines import Line, Walk, say_waiver, walk
from floor.batch.walk.recap import recap, somebody_else
from floor.checklist.basis import measured_with, source_of, sources_of
from floor.checklist.gates import FirstPiece
from floor.entry import Entry
from floor.papers.catalog import offers
from floor.papers.page import wrapped
from floor.screens.forms.dialogs import Field, Form, Sure
from floor.screens.frame.key_line import NEW_LOT
from floor.screens.frame.papers import PAPERS, choose_paper, source
from floor.screens.frame.screen import RunFrame
from floor.screens.frame.session import Desk
from floor.screens.frame.theme import MARKS, signal_panel
from floor.screens.walk.gate_form import Asks
from floor.screens.walk.large_view import AFAR, AfarScreen
from floor.screens.walk.step_actions import note_on, pause, skip_step, waive_gate
from floor.screens.walk.uninterrupted import one_go_said
from floor.screens.widgets.diff_static import Shown
from floor.screens.widgets.lines import Lines, brief_rows, card_rows, gate_rows
from floor.shop.pin_tokens import Receipt
from floor.text import clock_time, sentences, span

EARLY = 0.1
"""The part of a cycle's planned length before its end at which ending it is asked about first (shop decision)."""
GATES_WIDTH = 43
"""Columns of text in the panel of gates, where there is room for it."""
STEP_ROWS = 17
"""Rows that the step may take, as the styles have it."""
CARD_ROWS = 3
"""Rows of the tool's or the set-up's card where it has no panel of its own."""


class WalkScreen(RunFrame):
    """Question 2: at this station, what do I do, in what order, and what stops me?"""

    BINDINGS = [
        Binding("enter", "confirm", "Confirm", id="confirm", tooltip="confirm, record, count: what the line asks"),
        Binding("space", "confirm", "Confirm", show=False),
        Binding("s", "skip", "Skip", id="skip", tooltip="skip this step, with a reason"),
        Binding("w", "waive", "Waive", id="waive", tooltip="waive this gate: a lead, with a reason"),
        Binding("x", "disturb", "Event", id="disturb", tooltip="report: moved, tool changed, zero set, stopped"),
        Binding("n", "note", "Note", id="note", tooltip="a note, also for the next shift"),
        Binding("p", "pause", "Pause", id="pause", tooltip="leave with a reason; your place is kept"),
        Binding("u", "put_back", "Put back", id="put_back", show=False, tooltip="only started: free the station"),
        Binding("m", "aside", "Set aside", id="aside", tooltip="pieces missing, dropped or suspect"),
        Binding("up", "look(-1)", "Look back", show=False, tooltip="at lines that are done; your place is kept"),
        Binding("down", "look(1)", "Look ahead", show=False, tooltip="at lines to come; your place is kept"),
        Binding("home", "look(0)", "Current step", show=False, tooltip="back to the current step"),
        Binding("b", "batch", "Batch", id="batch", tooltip="the batch at a glance"),
        NEW_LOT,
        AFAR,
        PAPERS,
    ]

    AUTO_FOCUS = ""

    lines = getters.query_one("#lines", Lines)
    gates = getters.query_one("#gates", Static)
    title_line = getters.query_one("#step-title", Static)
    detail = getters.query_one("#step-detail", Static)
    source = getters.query_one("#step-source", Static)
    card = getters.query_one("#step-card", Static)
    cautions = getters.query_one("#step-cautions", Static)
    why = getters.query_one("#step-why", Static)
    asks = getters.query_one("#asks", Asks)
    keys = getters.query_one("#step-keys", Static)

    def __init__(self, desk: Desk, batch: str, run: int) -> None:
        super().__init__(desk, batch, run)
        self.look: int | None = None
        self.was_left = False
        """Whether a dialog stood on top of this screen."""
        self.mistyped = ""
        """What is wrong with what stands in the form."""
        self.refused: list[str] = []
        """What stood in it then; a scanner types faster than a field reports its changes."""

    def body(self) -> ComposeResult:
        with Horizontal(id="walk"):
            with Vertical(id="walk-main"):
                with Vertical(id="step"):
                    yield Shown(id="step-cautions", markup=False)
                    yield Shown(id="step-title", markup=False)
                    yield Shown(id="step-detail", markup=False)
                    yield Shown(id="step-source", markup=False)
                    yield Shown(id="step-card", markup=False)
                    yield Asks(id="asks")
                    yield Shown(id="step-why", markup=False)
                    yield Shown(id="step-keys", markup=False)
                yield Lines(id="lines", markup=False)
            yield Shown(id="gates", markup=False)

    def on_mount(self) -> None:
        self.update_all()
        away = "" if self.gone() else recap(self.the_batch, self.the_run, self.desk.now(), self.desk.who)
        if away:
            self.say(away)

    def on_screen_suspend(self) -> None:
        self.was_left = isinstance(self.app.screen, ModalScreen)

    def on_screen_resume(self) -> None:
        """Back from a dialog one goes on typing where the form stands open (the frame's own part comes after)."""
        if self.was_left and self.focused is None:
            self.asks.focus_first()
        self.was_left = False

    def on_resize(self) -> None:
        self.call_after_refresh(self.update_all)

    @property
    def asked(self) -> str:
        """The line and try whose form is on screen."""
        return self.asks.name_of

    @property
    def fields(self) -> list[Input]:
        return self.asks.fields

    def walked(self) -> Walk:
        walked = walk(self.the_batch, self.the_run, self.desk.now(), self.desk.who)
        return blinded(walked, blind(self.the_batch))

    def place(self) -> str:
        batch, run = self.the_batch, self.the_run
        part = batch.checklist.part
        load = batch.loads[run.load]
        carrier, title = batch.carrier_name(load), batch.title_of(load, run.op)
        if batch.operation(run.op).also_at:
            carrier += f" at {batch.checklist.station(run.station).name}"
        return f"{batch.id} {part.number} {part.revision}  {carrier}  op {run.op} {title}"

    def aside(self) -> str:
        walked = self.walked()
        return f"step {walked.step} of {walked.steps}"

    def abnormal(self) -> list[str]:
        batch, load = self.the_batch, self.the_run.load
        mine = [say_waiver(batch, waiver, load) for waiver in batch.open_waivers(batch.loads[load])]
        too = somebody_else(batch, self.the_run, self.desk.now(), self.desk.who)
        return [*([too] if too else []), *mine, *super().abnormal()]


    def show(self) -> None:
        walked = self.walked()
        self.lines.show_walk(walked, self.look)
        if self.has_class("-wide"):  # else there is no room for it, and each key would pay for it
            line = walked.current if self.look is None else walked.lines[self.look]
            about = card(self.the_batch, self.the_run, line) if line is not None else None
            rows = card_rows(about, GATES_WIDTH) if about is not None else []
            self.gates.update(Content("\n").join([*rows, *gate_rows(walked, GATES_WIDTH)]))
        self._show_step(walked)

    def _show_step(self, walked: Walk) -> None:
        line = walked.current if self.look is None else walked.lines[self.look]
        if line is None:
            self._show_through()
            return
        width = max(self.size.width - (50 if self.has_class("-wide") else 4), 60)
        shown = line.cautions if not line.satisfied or line.kind == "caution" else ()
        self.cautions.update(Content("\n").join([signal_panel(caution, width) for _, caution in shown]))
        self.cautions.display = bool(shown)
        title = line.step.title() if line.kind == "caution" and line.step else line.title
        self.title_line.update(f"{MARKS[line.state]} {title}")
        one_go = one_go_said(self.desk, self.batch_id, walked) if self.look is None else ""
        step = line.step
        about = (step.detail, measured_with(self.the_batch.checklist, step)) if step is not None else ()
        detail = "\n".join(filter(None, (one_go, *about)))
        self.detail.update(detail)
        self.detail.display = bool(detail)
        self._show_asks(line)
        self._show_why(line)
        self.keys.update(self._hint(line))
        self._show_card(line, width)
        self._show_source(line, width)

    def _show_source(self, line: Line, width: int) -> None:
        """Who says so, where all the rest of the step leaves room for it; the travelling copy always has it."""
        if line.kind == "caution":
            said = sources_of(caution for _, caution in line.cautions)
        else:
            said = source_of(self.the_batch.checklist, line.step) if line.step is not None else ""
        rows = len(wrapped(said, width=width)) if said else 0
        self.source.update(said)
        self.source.display = 0 < rows <= STEP_ROWS - 1 - self._rows_of_step(width, self.card)

    def _rows_of_step(self, width: int, *more: Static) -> int:
        """How many rows the cautions, the form, what is wrong and these too take of the step."""
        taken = [self.cautions, self.title_line, self.detail, self.why, self.keys, *more]
        texts = [str(widget.content) for widget in taken if widget.display]
        return sum(len(wrapped(row, width=width)) for text in texts for row in text.split("\n")) + len(self.fields)

    def _show_card(self, line: Line, width: int) -> None:
        """The card in what the cautions, the form and what is wrong leave of the step; all of it in the panel."""
        about = None if self.has_class("-wide") else card(self.the_batch, self.the_run, line)
        self.card.display = about is not None
        if about is None:
            return
        room = max(min(STEP_ROWS - 1 - self._rows_of_step(width), CARD_ROWS), 1)
        self.card.update("\n".join(brief_rows(about, width, room)))

    def _show_why(self, line: Line) -> None:
        """What is wrong with what was typed, until it is typed anew; else what stops the line or brings it again."""
        verdict = line.verdict
        stopped = verdict is not None and (
            line.state in ("waits", "blocked") or (line.state != "ahead" and verdict.again)
        )
        why = sentences(verdict.why, verdict.clear) if verdict is not None and stopped else ""
        self.why.update(f"✕ {self.mistyped}" if self.mistyped else why)
        self.why.display = bool(self.mistyped or why)
        self.why.set_class(line.state == "waits" and not self.mistyped, "-waits")

    def _show_through(self) -> None:
        for widget in (self.cautions, self.why, self.detail, self.source, self.card):
            widget.display = False
        self._clear_asks()
        load = self.the_batch.loads[self.the_run.load]
        following = "its pieces have gone on" if load.dissolved else f"next: op {load.at}"
        count = self.the_run.count
        unseen = f"load {load.number}" in blind(self.the_batch)
        good = f"{UNSEEN if unseen else count.good if count else 0} good"
        self.title_line.update(f"✓ Released: {good}; {following}")
        self.keys.update("Enter or Esc: back")

    def _hint(self, line: Line) -> str:
        if self.look is not None:
            return "View only.  Home: back to the current step"
        if line.kind == "caution":
            return "Enter: I have read this"
        if line.kind == "count":
            return "Enter: count"
        if line.state == "waits":
            back = "   u: put it back" if line.phase == "arrive" else ""
            return f"Nothing to do here{back}   w: waive (lead)"
        if line.verdict is not None and line.verdict.change and line.state == "blocked":
            return f"Enter: tool {line.verdict.change} was changed   m: set pieces aside   w: waive (lead)"
        if line.state == "blocked":
            return "x: report event   m: set pieces aside   w: waive (lead)"
        if line.verdict is not None and line.verdict.decide:
            return "Enter: name the piece and decide on it    m: set pieces aside"
        if line.kind == "gate" and self.asks.display:
            return "Enter: next field, then record    Esc: leave the field for other keys"
        return "Enter: done" if line.kind == "do" else "Enter: confirm"

    def say(self, text: str, wrong: bool = False) -> None:
        """While a form is open, what is wrong is said at the form."""
        at_form = wrong and bool(text) and self.asks.display
        self.mistyped = text if at_form else ""
        super().say("" if at_form else text, wrong)
        if self.mistyped:
            self.asks.take_back(text)
            self._show_mistyped()

    def _show_mistyped(self) -> None:
        self.refused = self.asks.texts()
        self.why.update(f"✕ {self.mistyped}")
        self.why.display = True

    @on(Asks.NotInANumber)
    def letter_typed(self, event: Asks.NotInANumber) -> None:
        self.mistyped = event.said
        self._show_mistyped()

    def forget_reply(self) -> None:
        """What was wrong with a field is said until the field is typed anew, unless somebody goes on elsewhere."""
        super().forget_reply()
        if self.mistyped and self.focused not in self.fields:
            self.mistyped = ""
            self.show()

    @on(Asks.Changed)
    def typed_anew(self) -> None:
        if self.mistyped and self.refused != self.asks.texts():
            self.say("")
            self.show()

    # --- the form of a gate ------------------------------------------------------------------------------------

    def _show_asks(self, line: Line) -> None:
        gate: Any = line.step
        asked = line.kind == "gate" and not (line.verdict and line.verdict.decide) and gate.asks()
        wanted = self.look is None and line.state in ("now", "reopened") and asked
        tried = line.verdict.proof.seq if line.verdict and line.verdict.proof else 0
        name = f"{line.key} {tried}" if wanted else ""
        if name == self.asked:
            return
        self._clear_asks()
        if wanted:
            proof = line.verdict.proof if line.verdict else None
            values = proof.values if proof and outside(gate.asks(), proof.values) else None
            if isinstance(gate, FirstPiece) and not gate.independent and self.desk.who:
                values = {"person": self.desk.who}  # whoever is signed in may accept it
            self.asks.ask(name, gate.asks(), samples(gate, len(self.the_run.undecided)), values)

    def _clear_asks(self) -> None:
        self.mistyped = ""
        self.asks.clear()

    @on(Asks.Filled)
    def filled(self, event: Asks.Filled) -> None:
        event.stop()
        current = self.walked().current
        if current is not None and event.name == self.asks.name_of:  # else it was ended twice, and recorded by now
            self._prove(current, dict(event.values))

    def _prove(self, line: Line, values: dict[str, Any]) -> None:
        person = values.get("person")
        known = self.desk.shop.people.known.get(str(person).strip().upper()) if person else None
        if known is not None and known.has_pin and known.initials != self.desk.who:
            self._with_pin(known.initials, lambda receipt: self._record(line, values, receipt))
        else:
            self._record(line, values)

    def _record(self, line: Line, values: dict[str, Any], second: Receipt | None = None) -> None:
        command = Prove(self.run_, line.key, values)
        self.give(self.batch_id, command, lambda entries: self._after_proof(line), second)

    def _after_proof(self, line: Line) -> None:
        now = self.walked().line(line.key)
        if now is not None and not now.satisfied and now.verdict is not None:
            super().say(f"Recorded; not passed: {now.verdict.why}", wrong=True)

    def _with_pin(self, initials: str, go: Callable[[Receipt], None]) -> None:
        """A second person signs with their own pin."""

        def answered(given: dict[str, str] | None) -> None:
            if given is None:
                return
            checked = self.floor.check_second(initials, given["pin"])
            if isinstance(checked, str):
                self.say(checked, wrong=True)
            else:
                go(checked)

        self.floor.push_screen(Form(f"{initials} signs", [Field("pin", "PIN", secret=True)]), answered)

    # --- keys --------------------------------------------------------------------------------------------------

    def action_confirm(self) -> None:
        """One key for whatever the current line is."""
        if self.look is not None:
            self.action_look(0)
            return
        line = self.walked().current
        if line is None:
            self.action_back()
            return
        if line.kind == "count":
            from floor.screens.walk.count_form import CountScreen

            self.signed_in(lambda: self.floor.go(CountScreen(self.desk, self.batch_id, self.run_)))
            return
        if not self.desk.who:
            self.signed_in(self.update_all)
            return
        if line.verdict is not None and line.verdict.decide:
            from floor.screens.walk.out_of_limits import decide_out

            decide_out(self, self.batch_id, line.verdict.decide)
            return
        command = confirm(self.the_batch, self.the_run, self.desk.context(self.batch_id))
        if command is not None:
            self._give_once_sure(line, command)
        elif line.verdict is not None and line.verdict.change:
            from floor.screens.walk.disturbances import worn_tool_changed

            worn_tool_changed(self, self.batch_id, self.the_run, line.verdict.change)
        elif line.verdict is not None and line.state in ("waits", "blocked"):
            self.say(sentences(f"{line.title}: {line.verdict.why}", line.verdict.clear), wrong=True)
            self.floor.bell()
        else:
            self.asks.focus_first()

    def _give_once_sure(self, line: Line, command: Command) -> None:
        """What ends or stops a cycle long before its time is asked about: one key must not open a hot oven."""
        batch, run, now = self.the_batch, self.the_run, self.desk.now().at
        turn = turn_due(batch, run, line.key, self.desk.now())
        ends = turn or planned_end(batch, run, self.desk.now())
        started = reading(batch, run.started, run.started_seq, self.desk.now()) if run.started else None
        asked = line.kind == "end" or turn is not None
        if not asked or ends is None or started is None or ends - now <= EARLY * (ends - started):
            self.give(self.batch_id, command, self._confirmed)
            return

        def answered(yes: bool | None) -> None:
            if yes:
                self.give(self.batch_id, command, self._confirmed)

        left = span((ends - now).total_seconds())
        really = "Is it really complete?" if turn is None else "Has the program stopped for it?"
        question = f"{line.title}: planned for {clock_time(ends, now)}, {left} from now. {really}"
        self.floor.push_screen(Sure(question), answered)

    def _confirmed(self, entries: list[Entry]) -> None:
        ends = planned_end(self.the_batch, self.the_run, self.desk.now())
        if entries and entries[0].kind == CycleStarted.KIND and ends is not None and ends > entries[0].time:
            when = clock_time(ends, self.desk.now().at)
            self.say(f"Cycle running until about {when}. Esc: other work")

    def action_back(self) -> None:
        """Out of a field first, so that the letters are keys again; then out of the screen."""
        if self.focused is not None:
            self.set_focus(None)
        else:
            super().action_back()

    def action_look(self, by: int) -> None:
        """Look at other lines; the place does not move. In a form, from field to field: what is typed stays."""
        if by and self.asks.move(by):
            return
        walked = self.walked()
        if by == 0:
            self.look = None
        else:
            start = self.look if self.look is not None else min(walked.place, len(walked.lines) - 1)
            self.look = max(0, min(start + by, len(walked.lines) - 1))
            if self.look == walked.place:
                self.look = None
        self.update_all()

    def action_skip(self) -> None:
        skip_step(self, self.batch_id, self.run_, self.walked().current)

    def action_waive(self) -> None:
        waive_gate(self, self.batch_id, self.run_, self.walked().current)

    def action_disturb(self) -> None:
        """Something happened at the station that voids what was proved."""
        from floor.screens.walk.disturbances import what_happened

        what_happened(self, self.batch_id, self.the_run)

    def action_put_back(self) -> None:
        """What was only begun is taken back; asked first where lines of it would have to be done again."""
        from floor.screens.walk.put_back import put_back

        put_back(self, self.batch_id, self.the_run)

    def action_aside(self) -> None:
        """Pieces that are missing, dropped or doubtful leave the run before its count."""
        from floor.screens.batch.set_aside import set_aside

        set_aside(self, self.batch_id, self.the_run.load)

    def action_note(self) -> None:
        note_on(self, self.batch_id, self.run_)

    def action_pause(self) -> None:
        pause(self, self.batch_id, self.run_, self.walked().current)

    def action_new_lot(self) -> None:
        from floor.screens.walk.new_lot import open_lot

        open_lot(self, self.batch_id)

    def action_afar(self) -> None:
        self.floor.go(AfarScreen(self.desk, self.batch_id, self.run_))

    def action_papers(self) -> None:
        choose_paper(self, offers(source(self.desk, self.the_batch), load=self.the_run.load))

    def action_batch(self) -> None:
        self.floor.go_batch(self.batch_id)
