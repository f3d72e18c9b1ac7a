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

from floor.batch.command import Command, Refused
from floor.batch.counting.blind_count import HIDDEN_FIGURE, find_blind_subjects, hide_piece_count
from floor.batch.events import CycleStarted
from floor.batch.gates.commands import Prove
from floor.batch.gates.setup_sheet import card
from floor.batch.gates.values import count_samples, find_values_outside
from floor.batch.walk.clocks import compute_planned_end, convert_to_present_clock, turn_due
from floor.batch.walk.commands import confirm_current_line
from floor.batch.walk.lines import Line, Walk, build_walk, say_waiver
from floor.batch.walk.recap import recap, somebody_else
from floor.checklist.basis import measured_with, source_of, sources_of
from floor.checklist.gates import FirstPiece
from floor.entry import Entry
from floor.papers.catalog import list_offers
from floor.screens.forms.dialogs import ConfirmDialog, FieldSpec, FormDialog
from floor.screens.frame.key_line import NEW_LOT
from floor.screens.frame.papers import PAPERS, choose_paper, make_paper_source
from floor.screens.frame.screen import RunFrame
from floor.screens.frame.session import Session
from floor.screens.frame.theme import MARKS, draw_signal_panel
from floor.screens.walk.gate_form import GateForm
from floor.screens.walk.large_view import AFAR, LargeViewScreen
from floor.screens.walk.step_actions import add_run_note, pause_run, skip_step, waive_gate
from floor.screens.walk.unbroken_work import describe_uninterrupted
from floor.screens.widgets.diff_static import DiffStatic
from floor.screens.widgets.lines import WalkLines, draw_card, draw_gates, format_card_brief
from floor.shop.pin_tokens import PinToken
from floor.text import cells, format_clock, format_span, join_sentences, wrapped

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

    lines = getters.query_one("#lines", WalkLines)
    gates = getters.query_one("#gates", Static)
    title_line = getters.query_one("#step-title", Static)
    detail = getters.query_one("#step-detail", Static)
    source = getters.query_one("#step-source", Static)
    card = getters.query_one("#step-card", Static)
    cautions = getters.query_one("#step-cautions", Static)
    why = getters.query_one("#step-why", Static)
    asks = getters.query_one("#asks", GateForm)
    keys = getters.query_one("#step-keys", Static)

    def __init__(self, desk: Session, batch: str, run: int) -> None:
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
                    yield DiffStatic(id="step-cautions", markup=False)
                    yield DiffStatic(id="step-title", markup=False)
                    yield DiffStatic(id="step-detail", markup=False)
                    yield DiffStatic(id="step-source", markup=False)
                    yield DiffStatic(id="step-card", markup=False)
                    yield GateForm(id="asks")
                    yield DiffStatic(id="step-why", markup=False)
                    yield DiffStatic(id="step-keys", markup=False)
                yield WalkLines(id="lines", markup=False)
            yield DiffStatic(id="gates", markup=False)

    def on_mount(self) -> None:
        self.update_all()
        away = "" if self.gone() else recap(self.current_batch, self.current_run, self.desk.now(), self.desk.who)
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

    def get_walk(self) -> Walk:
        walked = build_walk(self.current_batch, self.current_run, self.desk.now(), self.desk.who)
        return hide_piece_count(walked, find_blind_subjects(self.current_batch))

    def place(self) -> str:
        batch, run = self.current_batch, self.current_run
        part = batch.checklist.part
        load = batch.loads[run.load]
        carrier, title = batch.format_carrier(load), batch.format_op_title(load, run.op)
        if batch.operation(run.op).also_at:
            carrier += f" at {batch.checklist.station(run.station).name}"
        where = f"{carrier}  op {run.op} {title}"
        full = f"{batch.id} {part.number} {part.revision}  {where}"
        return full if cells(full) <= self.head_room() else f"{batch.id}  {where}"

    def aside(self) -> str:
        walked = self.get_walk()
        return f"step {walked.step}/{walked.steps}"

    def abnormal(self) -> list[str]:
        batch, load = self.current_batch, self.current_run.load
        mine = [say_waiver(batch, waiver, load) for waiver in batch.list_open_waivers(batch.loads[load])]
        too = somebody_else(batch, self.current_run, self.desk.now(), self.desk.who)
        return [*([too] if too else []), *mine, *super().abnormal()]

    def update_body(self) -> None:
        walked = self.get_walk()
        self.lines.show_walk(walked, self.look)
        if self.has_class("-wide"):  # else there is no room for it, and each key would pay for it
            line = walked.current if self.look is None else walked.lines[self.look]
            about = card(self.current_batch, self.current_run, line) if line is not None else None
            rows = draw_card(about, GATES_WIDTH) if about is not None else []
            self.gates.update(Content("\n").join([*rows, *draw_gates(walked, GATES_WIDTH)]))
        self._show_step(walked)

    def _show_step(self, walked: Walk) -> None:
        line = walked.current if self.look is None else walked.lines[self.look]
        if line is None:
            self._show_through()
            return
        width = max(self.size.width - (50 if self.has_class("-wide") else 4), 60)
        shown = line.cautions if not line.is_satisfied or line.kind == "caution" else ()
        self.cautions.update(Content("\n").join([draw_signal_panel(caution, width) for _, caution in shown]))
        self.cautions.display = bool(shown)
        title = line.step.title() if line.kind == "caution" and line.step else line.title
        self.title_line.update(f"{MARKS[line.state]} {title}")
        one_go = describe_uninterrupted(self.desk, self.batch_id, walked) if self.look is None else ""
        step = line.step
        about = (step.detail, measured_with(self.current_batch.checklist, step)) if step is not None else ()
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
            said = source_of(self.current_batch.checklist, line.step) if line.step is not None else ""
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
        about = None if self.has_class("-wide") else card(self.current_batch, self.current_run, line)
        self.card.display = about is not None
        if about is None:
            return
        room = max(min(STEP_ROWS - 1 - self._rows_of_step(width), CARD_ROWS), 1)
        self.card.update("\n".join(format_card_brief(about, width, room)))

    def _show_why(self, line: Line) -> None:
        """What is wrong with what was typed, until it is typed again; else what stops the line or brings it again."""
        verdict = line.verdict
        stopped = verdict is not None and (
            line.state in ("waits", "blocked") or (line.state != "ahead" and verdict.again)
        )
        why = join_sentences(verdict.why, verdict.clear) if verdict is not None and stopped else ""
        self.why.update(f"✕ {self.mistyped}" if self.mistyped else why)
        self.why.display = bool(self.mistyped or why)
        self.why.set_class(line.state == "waits" and not self.mistyped, "-waits")

    def _show_through(self) -> None:
        for widget in (self.cautions, self.why, self.detail, self.source, self.card):
            widget.display = False
        self._clear_asks()
        load = self.current_batch.loads[self.current_run.load]
        following = "its pieces have gone on" if load.dissolved else f"next: op {load.at}"
        count = self.current_run.count
        unseen = f"load {load.number}" in find_blind_subjects(self.current_batch)
        good = f"{HIDDEN_FIGURE if unseen else count.good if count else 0} good"
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
            self.asks.take_back()
            self._show_mistyped()

    def say_refused(self, refused: Refused) -> None:
        super().say_refused(refused)
        if self.mistyped:
            self.asks.take_back(refused.field, refused.place)

    def _show_mistyped(self) -> None:
        self.refused = self.asks.texts()
        self.why.update(f"✕ {self.mistyped}")
        self.why.display = True

    @on(GateForm.NotInANumber)
    def letter_typed(self, event: GateForm.NotInANumber) -> None:
        self.mistyped = event.said
        self._show_mistyped()

    def clear_reply(self) -> None:
        """What was wrong with a field is said until the field is typed again, unless somebody goes on elsewhere."""
        super().clear_reply()
        if self.mistyped and self.focused not in self.fields:
            self.mistyped = ""
            self.update_body()

    @on(GateForm.Changed)
    def typed_anew(self) -> None:
        if self.mistyped and self.refused != self.asks.texts():
            self.say("")
            self.update_body()

    # --- the form of a gate ------------------------------------------------------------------------------------

    def _show_asks(self, line: Line) -> None:
        gate = line.gate
        asks = gate.asks() if gate is not None and not (line.verdict and line.verdict.decide) else ()
        wanted = gate is not None and asks and self.look is None and line.state in ("now", "reopened")
        tried = line.verdict.proof.seq if line.verdict and line.verdict.proof else 0
        name = f"{line.key} {tried}" if wanted else ""
        if name == self.asked:
            return
        self._clear_asks()
        if gate is not None and wanted:
            proof = line.verdict.proof if line.verdict else None
            values = proof.values if proof and find_values_outside(gate.asks(), proof.values) else None
            if isinstance(gate, FirstPiece) and not gate.independent and self.desk.who:
                values = {"person": self.desk.who}  # whoever is signed in may accept it
            self.asks.ask(name, gate.asks(), count_samples(gate, len(self.current_run.undecided)), values)

    def _clear_asks(self) -> None:
        self.mistyped = ""
        self.asks.clear()

    @on(GateForm.Filled)
    def filled(self, event: GateForm.Filled) -> None:
        event.stop()
        current = self.get_walk().current
        if current is not None and event.name == self.asks.name_of:  # else it was ended twice, and recorded by now
            self._prove(current, dict(event.values))

    def _prove(self, line: Line, values: dict[str, Any]) -> None:
        person = values.get("person")
        known = self.desk.shop.people.known.get(str(person).strip().upper()) if person else None
        if known is not None and known.has_pin and known.initials != self.desk.who:
            self._with_pin(known.initials, lambda receipt: self._record(line, values, receipt))
        else:
            self._record(line, values)

    def _record(self, line: Line, values: dict[str, Any], second: PinToken | None = None) -> None:
        command = Prove(self.run_, line.key, values)
        self.give(self.batch_id, command, lambda entries: self._after_proof(line), second)

    def _after_proof(self, line: Line) -> None:
        now = self.get_walk().line(line.key)
        if now is not None and not now.is_satisfied and now.verdict is not None:
            super().say(f"Recorded; not passed: {now.verdict.why}", wrong=True)

    def _with_pin(self, initials: str, go: Callable[[PinToken], None]) -> None:
        """A second person signs with their own pin."""

        def answered(given: dict[str, str] | None) -> None:
            if given is None:
                return
            checked = self.floor.check_second(initials, given["pin"])
            if isinstance(checked, str):
                self.say(checked, wrong=True)
            else:
                go(checked)

        self.floor.push_screen(FormDialog(f"{initials} signs", [FieldSpec("pin", "PIN", secret=True)]), answered)

    # --- keys --------------------------------------------------------------------------------------------------

    def action_confirm(self) -> None:
        """One key for whatever the current line is."""
        if self.look is not None:
            self.action_look(0)
            return
        line = self.get_walk().current
        if line is None:
            self.action_back()
            return
        if line.kind == "count":
            from floor.screens.walk.count_form import CountScreen

            self.run_signed_in(lambda: self.floor.go(CountScreen(self.desk, self.batch_id, self.run_)))
            return
        if not self.desk.who:
            self.run_signed_in(self.update_all)
            return
        if line.verdict is not None and line.verdict.decide:
            from floor.screens.walk.out_of_limits import decide_out_of_limits

            decide_out_of_limits(self, self.batch_id, line.verdict.decide)
            return
        command = confirm_current_line(self.current_batch, self.current_run, self.desk.context(self.batch_id))
        if command is not None:
            self._give_once_sure(line, command)
        elif line.verdict is not None and line.verdict.change:
            from floor.screens.walk.disturbances import ask_worn_tool_changed

            ask_worn_tool_changed(self, self.batch_id, self.current_run, line.verdict.change)
        elif line.verdict is not None and line.state in ("waits", "blocked"):
            self.say(join_sentences(f"{line.title}: {line.verdict.why}", line.verdict.clear), wrong=True)
            self.floor.bell()
        else:
            self.asks.focus_first()

    def _give_once_sure(self, line: Line, command: Command) -> None:
        """What ends or stops a cycle long before its time is asked about: one key must not open a hot oven."""
        batch, run, now = self.current_batch, self.current_run, self.desk.now().at
        turn = turn_due(batch, run, line.key, self.desk.now())
        ends = turn or compute_planned_end(batch, run, self.desk.now())
        started = (
            convert_to_present_clock(batch, run.started, run.started_seq, self.desk.now()) if run.started else None
        )
        asked = line.kind == "end" or turn is not None
        if not asked or ends is None or started is None or ends - now <= EARLY * (ends - started):
            self.give(self.batch_id, command, self._confirmed)
            return

        def answered(yes: bool | None) -> None:
            if yes:
                self.give(self.batch_id, command, self._confirmed)

        left = format_span((ends - now).total_seconds())
        really = "Is it really complete?" if turn is None else "Has the program stopped for it?"
        question = f"{line.title}: planned for {format_clock(ends, now)}, {left} from now. {really}"
        self.floor.push_screen(ConfirmDialog(question), answered)

    def _confirmed(self, entries: list[Entry]) -> None:
        ends = compute_planned_end(self.current_batch, self.current_run, self.desk.now())
        if entries and entries[0].kind == CycleStarted.KIND and ends is not None and ends > entries[0].time:
            when = format_clock(ends, self.desk.now().at)
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
        walked = self.get_walk()
        if by == 0:
            self.look = None
        else:
            start = self.look if self.look is not None else min(walked.place, len(walked.lines) - 1)
            self.look = max(0, min(start + by, len(walked.lines) - 1))
            if self.look == walked.place:
                self.look = None
        self.update_all()

    def action_skip(self) -> None:
        skip_step(self, self.batch_id, self.run_, self.get_walk().current)

    def action_waive(self) -> None:
        waive_gate(self, self.batch_id, self.run_, self.get_walk().current)

    def action_disturb(self) -> None:
        """Something happened at the station that voids what was proved."""
        from floor.screens.walk.disturbances import ask_disturbance

        ask_disturbance(self, self.batch_id, self.current_run)

    def action_put_back(self) -> None:
        """What was only started is taken back; asked first where lines of it would have to be done again."""
        from floor.screens.walk.put_back import ask_put_back

        ask_put_back(self, self.batch_id, self.current_run)

    def action_aside(self) -> None:
        """Pieces that are missing, dropped or doubtful leave the run before its count."""
        from floor.screens.batch.set_aside import choose_set_aside

        choose_set_aside(self, self.batch_id, self.current_run.load)

    def action_note(self) -> None:
        add_run_note(self, self.batch_id, self.run_)

    def action_pause(self) -> None:
        pause_run(self, self.batch_id, self.run_, self.get_walk().current)

    def action_new_lot(self) -> None:
        from floor.screens.walk.new_lot import ask_new_lot

        ask_new_lot(self, self.batch_id)

    def action_afar(self) -> None:
        self.floor.go(LargeViewScreen(self.desk, self.batch_id, self.run_))

    def action_papers(self) -> None:
        choose_paper(self, list_offers(make_paper_source(self.desk, self.current_batch), load=self.current_run.load))

    def action_batch(self) -> None:
        self.floor.go_batch(self.batch_id)
