"""The station walk on screen: one line at a time, its cautions with it, one key to confirm."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from textual import getters, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from floor.batch.clocks import planned_end, reading
from floor.batch.commands.base import Command
from floor.batch.commands.correcting import Note
from floor.batch.commands.working import Pause, Prove, SkipStep, Waive, confirm, samples
from floor.batch.recap import recap
from floor.batch.said import clock_time, sentences, span
from floor.batch.state import Run
from floor.batch.walk import Line, Walk, walk
from floor.checklist.gates import Ask
from floor.checklist.model import Do
from floor.entry import Entry
from floor.papers.choice import offers
from floor.screens.afar import AFAR, AfarScreen
from floor.screens.base import BatchFrame
from floor.screens.desk import Desk
from floor.screens.dialogs import Choice, Choose, Field, Form, Sure
from floor.screens.lines import Lines
from floor.screens.looks import MARKS, SAID, signal_panel
from floor.screens.papers import PAPERS, choose_paper, source
from floor.screens.shown import Shown
from floor.shop.receipts import Receipt

AT_WORK = timedelta(minutes=10)
"""Who made an entry within this time is taken to be at the load still (shop decision)."""
EARLY = 0.1
"""The part of a cycle's planned length before its end at which ending it is asked about first (shop decision)."""
PAUSES = ("called away", "waiting for material", "machine trouble", "end of shift", "break")


LABEL_ROOM = 56
"""Cells that the label of a field may take; at 80 columns the field still has its own beside it."""


class WalkScreen(BatchFrame):
    """Question 2: at this station, what do I do, in what order, and what stops me?"""

    BINDINGS = [
        Binding("enter", "confirm", "Confirm", id="confirm", tooltip="confirm, record, count: what the line asks"),
        Binding("space", "confirm", "Confirm", show=False),
        Binding("s", "skip", "Skip", id="skip", tooltip="skip this step, with a reason"),
        Binding("w", "waive", "Waive", id="waive", tooltip="waive this gate: a lead, with a reason"),
        Binding("x", "disturb", "Changed", id="disturb", tooltip="lifted, tool changed, new zero, power lost"),
        Binding("n", "note", "Note", id="note", tooltip="a note, also for the next shift"),
        Binding("p", "pause", "Pause", id="pause", tooltip="leave with a word why; the place is kept anyway"),
        Binding("m", "aside", "Set aside", id="aside", tooltip="pieces missing, dropped or doubtful"),
        Binding("up", "look(-1)", "Look back", show=False, tooltip="at lines that are done; the place stays"),
        Binding("down", "look(1)", "Look ahead", show=False, tooltip="at lines to come; the place stays"),
        Binding("home", "look(0)", "To the place", show=False, tooltip="back to the line that is now"),
        Binding("b", "batch", "Batch", id="batch", tooltip="the batch at a glance"),
        AFAR,
        PAPERS,
    ]

    AUTO_FOCUS = ""

    lines = getters.query_one("#lines", Lines)
    gates = getters.query_one("#gates", Static)
    title_line = getters.query_one("#step-title", Static)
    detail = getters.query_one("#step-detail", Static)
    cautions = getters.query_one("#step-cautions", Static)
    why = getters.query_one("#step-why", Static)
    asks = getters.query_one("#asks", VerticalScroll)
    keys = getters.query_one("#step-keys", Static)

    def __init__(self, desk: Desk, batch: str, run: int) -> None:
        super().__init__(desk, batch)
        self.run_ = run
        self.look: int | None = None
        self.asked = ""
        """The line and try whose form is on screen."""
        self.fields: list[Input] = []
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
                    yield VerticalScroll(id="asks", can_focus=False)
                    yield Shown(id="step-why", markup=False)
                    yield Shown(id="step-keys", markup=False)
                yield Lines(id="lines", markup=False)
            yield Shown(id="gates", markup=False)

    def on_mount(self) -> None:
        self.update_all()
        away = recap(self.the_batch, self.the_run, self.desk.now(), self.desk.who)
        if away:
            self.say(away)

    def on_screen_suspend(self) -> None:
        self.was_left = isinstance(self.app.screen, ModalScreen)

    def on_screen_resume(self) -> None:
        """Back from a dialog one goes on typing where the form stands open (the frame's own part comes after)."""
        if self.was_left and self.focused is None:
            self._focus_first()
        self.was_left = False

    def on_resize(self) -> None:
        self.call_after_refresh(self.show)

    @property
    def the_run(self) -> Run:
        return self.the_batch.runs[self.run_]

    def walked(self) -> Walk:
        return walk(self.the_batch, self.the_run, self.desk.now(), self.desk.who)

    def place(self) -> str:
        batch, run = self.the_batch, self.the_run
        part = batch.checklist.part
        carrier = batch.carrier_name(batch.loads[run.load])
        return f"{batch.id} {part.number} {part.revision}  {carrier}  op {run.op} {batch.operation(run.op).title}"

    def aside(self) -> str:
        walked = self.walked()
        return f"step {min(walked.steps_done + 1, walked.steps)} of {walked.steps}"

    def abnormal(self) -> list[str]:
        waivers = self.the_batch.open_waivers(self.the_batch.loads[self.the_run.load])
        mine = [f"Waived on this load: {w.title} (op {w.op}, {w.by}: {w.reason})" for w in waivers]
        return [*self._somebody_else(), *mine, *super().abnormal()]

    def _somebody_else(self) -> list[str]:
        """Who else is at this load just now: two people at one walk must know of each other."""
        run, now = self.the_run, self.desk.now().at
        if run.released or run.touched is None or not self.desk.who or run.touched_by == self.desk.who:
            return []
        if now - run.touched > AT_WORK:
            return []
        return [f"{run.touched_by} is at this load too: last entry {clock_time(run.touched, now)}"]

    def show(self) -> None:
        walked = self.walked()
        self.lines.show_walk(walked, self.look)
        self._show_gates(walked)
        self._show_step(walked)

    def _show_gates(self, walked: Walk) -> None:
        rows = [Content.assemble((f"Op {walked.operation.op}: what must be proved", "bold"))]
        for line in walked.gates:
            met = "met" if line.state == "done" else SAID[line.state].lower() or "not met"
            why = line.evidence or (line.verdict.why if line.verdict else "")
            rows.append(Content(f"{MARKS[line.state]} {line.title}"))
            rows.append(Content.assemble((f"    {met}: {why}" if why else f"    {met}", "$secondary")))
        self.gates.update(Content("\n").join(rows))

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
        detail = getattr(line.step, "detail", "")
        self.detail.update(detail)
        self.detail.display = bool(detail)
        self._show_asks(line)
        self._show_why(line)
        self.keys.update(self._hint(line))

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
        for widget in (self.cautions, self.why, self.detail):
            widget.display = False
        self._clear_asks()
        batch, load = self.the_batch, self.the_batch.loads[self.the_run.load]
        following = "its pieces have gone on" if load.dissolved else f"next: op {load.at}"
        count = self.the_run.count
        self.title_line.update(f"✓ Released: {count.good if count else 0} good; {following}")
        self.keys.update("Enter or Esc: back to what is next" if not load.dissolved else f"Esc: back · {batch.id}")

    def _hint(self, line: Line) -> str:
        if self.look is not None:
            return "Looking only; Home: back to the place"
        if line.kind == "caution":
            return "Enter: read and understood"
        if line.kind == "count":
            return "Enter: count"
        if line.state == "waits":
            return "It ripens by itself; w: waive (lead)"
        if line.state == "blocked":
            return "x: say what was changed   m: set pieces aside   w: waive (lead)"
        if line.kind == "gate" and self.asks.display:
            return "Enter: next field, then record    Esc: leave the field (then w, n, x)"
        return "Enter: done" if line.kind == "do" else "Enter: confirm"

    def say(self, text: str, wrong: bool = False) -> None:
        """While a form is open, what is wrong is said at the form."""
        at_form = wrong and bool(text) and self.asks.display
        self.mistyped = text if at_form else ""
        super().say("" if at_form else text, wrong)
        if self.mistyped:
            self.refused = [field.value for field in self.fields]
            wrong_one = next((field for field in self.fields if text.casefold().startswith(self._label(field))), None)
            if wrong_one is not None:
                wrong_one.focus()
            self.why.update(f"✕ {text}")
            self.why.display = True

    def _label(self, field: Input) -> str:
        """What a refusal calls the field, in lower case."""
        row = field.parent
        assert row is not None
        return str(row.query_one(".ask-label", Static).content).casefold()

    @on(Input.Changed)
    def typed_anew(self, event: Input.Changed) -> None:
        event.stop()
        if self.mistyped and self.refused != [field.value for field in self.fields]:
            self.say("")
            self.show()

    # --- the form of a gate ------------------------------------------------------------------------------------

    def _show_asks(self, line: Line) -> None:
        gate: Any = line.step
        wanted = self.look is None and line.kind == "gate" and line.state in ("now", "reopened") and gate.asks()
        tried = line.verdict.proof.seq if line.verdict and line.verdict.proof else 0
        name = f"{line.key} {tried}" if wanted else ""
        if name == self.asked:
            return
        self._clear_asks()
        self.asked = name
        if not wanted:
            return
        count = samples(gate, len(self.the_run.pieces))
        rows = []
        room = min(max(len(ask.label) for ask in gate.asks()) + 5, LABEL_ROOM)
        for ask in gate.asks():
            for n in range(count):
                field = Input(ask.default, name=f"{ask.name}|{n}", compact=True, max_length=60, select_on_focus=False)
                self.fields.append(field)
                rows.append(self._ask_row(ask, f"{ask.label} {n + 1}" if count > 1 else ask.label, field, room))
        self.asks.display = True
        self.asks.mount(*rows)
        self.call_after_refresh(self._focus_first)

    def _ask_row(self, ask: Ask, label: str, field: Input, room: int) -> Horizontal:
        named = Static(label, classes="ask-label", markup=False)
        named.styles.width = room
        return Horizontal(
            named,
            field,
            Static(ask.band or ask.unit, classes="ask-band", markup=False),
            classes="ask",
        )

    def _focus_first(self) -> None:
        if self.fields:
            self.fields[0].focus()

    def _clear_asks(self) -> None:
        self.asked = ""
        self.mistyped = ""
        self.fields = []
        self.asks.remove_children()
        self.asks.display = False
        self.set_focus(None)

    @on(Input.Submitted)
    def field_done(self, event: Input.Submitted) -> None:
        event.stop()
        place = self.fields.index(event.input)
        if place + 1 < len(self.fields):
            self.fields[place + 1].focus()
            return
        values: dict[str, Any] = {}
        for field in self.fields:
            name, _, _ = (field.name or "").partition("|")
            values.setdefault(name, []).append(field.value)
        current = self.walked().current
        if current is not None:
            self._prove(current, {name: many if len(many) > 1 else many[0] for name, many in values.items()})

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
            super().say(f"Recorded, and it does not do: {now.verdict.why}", wrong=True)

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

        self.floor.push_screen(Form(f"{initials} signs", [Field("pin", "Pin", secret=True)]), answered)

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
            from floor.screens.count import CountScreen

            self.signed_in(lambda: self.floor.go(CountScreen(self.desk, self.batch_id, self.run_)))
            return
        if not self.desk.who:
            self.signed_in(self.update_all)
            return
        command = confirm(self.the_batch, self.the_run, self.desk.context(self.batch_id))
        if command is not None:
            self._give_once_sure(line, command)
        elif line.verdict is not None and line.state in ("waits", "blocked"):
            self.say(sentences(f"{line.title}: {line.verdict.why}", line.verdict.clear), wrong=True)
            self.floor.bell()
        else:
            self._focus_first()

    def _give_once_sure(self, line: Line, command: Command) -> None:
        """A cycle that ends long before its time is asked about: one key must not open a hot oven by mistake."""
        batch, run, now = self.the_batch, self.the_run, self.desk.now().at
        ends = planned_end(batch, run, self.desk.now())
        started = reading(batch, run.started, run.started_seq, self.desk.now()) if run.started else None
        if line.kind != "end" or ends is None or started is None or ends - now <= EARLY * (ends - started):
            self.give(self.batch_id, command, self._confirmed)
            return

        def answered(yes: bool | None) -> None:
            if yes:
                self.give(self.batch_id, command, self._confirmed)

        left = span((ends - now).total_seconds())
        question = f"{line.title}: planned for {clock_time(ends, now)}, {left} from now. Has it really ended?"
        self.floor.push_screen(Sure(question), answered)

    def _confirmed(self, entries: list[Entry]) -> None:
        ends = planned_end(self.the_batch, self.the_run, self.desk.now())
        if entries and entries[0].kind == "cycle_started" and ends is not None and ends > entries[0].time:
            when = clock_time(ends, self.desk.now().at)
            self.say(f"Running; ends about {when}. Esc: something else meanwhile")

    def action_back(self) -> None:
        """Out of a field first, so that the letters are keys again; then out of the screen."""
        if self.focused is not None:
            self.set_focus(None)
        else:
            super().action_back()

    def action_look(self, by: int) -> None:
        """Look at other lines; the place does not move. In a form, from field to field: what is typed stays."""
        if by and isinstance(self.focused, Input) and self.focused in self.fields:
            place = self.fields.index(self.focused) + by
            if 0 <= place < len(self.fields):
                self.fields[place].focus()
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
        line = self.walked().current
        if line is None or not isinstance(line.step, Do) or line.kind != "do":
            self.say("Only a step is skipped; a gate is waived (w)", wrong=True)
            return
        key = line.key
        self._reason(
            f"Skip: {line.title}",
            ("not needed on this load", "done already"),
            lambda why: SkipStep(self.run_, key, why),
        )

    def action_waive(self) -> None:
        line = self.walked().current
        if line is None or line.kind != "gate":
            self.say("Only a gate is waived", wrong=True)
            return
        gate: Any = line.step
        if gate.waive == "never":
            self.say(f"{line.title}: the checklist allows no waiver", wrong=True)
            return
        fields = [Field("why", "Reason", needed=True)]
        if gate.waive == "lead and second":
            fields += [Field("second", "Second person", needed=True), Field("pin", "Their pin", secret=True)]
        key = line.key

        def answered(given: dict[str, str] | None) -> None:
            if given is None:
                return
            second = given.get("second", "").strip().upper()
            checked = self.floor.check_second(second, given.get("pin", "")) if second else None
            if isinstance(checked, str):
                self.say(checked, wrong=True)
                return
            self.give(self.batch_id, Waive(self.run_, key, given["why"], second), second=checked)

        why = line.verdict.why if line.verdict else ""
        self.ask(Form(f"Waive: {line.title}", fields, why), answered)

    def action_disturb(self) -> None:
        """Something happened at the station that voids what was proved."""
        from floor.screens.happened import what_happened

        what_happened(self, self.batch_id, self.the_run)

    def action_aside(self) -> None:
        """Pieces that are missing, dropped or doubtful leave the run before its count."""
        from floor.screens.aside import set_aside

        set_aside(self, self.batch_id, self.the_run.load)

    def action_note(self) -> None:
        def answered(given: dict[str, str] | None) -> None:
            if given and given["text"].strip():
                shift = given["for"].strip().casefold().startswith("y")
                self.give(
                    self.batch_id, Note(given["text"], run=self.run_, next_shift=shift), lambda _: self.say("Noted")
                )

        fields = [Field("text", "Note", needed=True), Field("for", "For the next shift? y/n", "n")]
        self.floor.push_screen(Form("Note on this run", fields), answered)

    def action_pause(self) -> None:
        """Leave with a word why; the place is kept anyway."""

        def answered(why: str | None) -> None:
            if why is not None:
                self.give(self.batch_id, Pause(self.run_, why), lambda _: self.action_back())

        line = self.walked().current
        at = f"You come back to: {line.title}" if line else ""
        self.floor.push_screen(Choose("Pause", [Choice(why, why) for why in PAUSES], at), answered)

    def action_afar(self) -> None:
        self.floor.go(AfarScreen(self.desk, self.batch_id, self.run_))

    def action_papers(self) -> None:
        choose_paper(self, offers(source(self.desk, self.the_batch), load=self.the_run.load))

    def action_batch(self) -> None:
        self.floor.go_batch(self.batch_id)

    def _reason(self, title: str, picks: tuple[str, ...], make: Any) -> None:
        def answered(given: dict[str, str] | None) -> None:
            if given is not None:
                self.give(self.batch_id, make(given["why"]))

        self.floor.push_screen(Form(title, [Field("why", "Reason", picks=picks, needed=True)]), answered)
