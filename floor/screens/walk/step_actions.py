"""What a person does at a line of the walk beside confirming it: skip, waive, note, pause."""

from __future__ import annotations

from functools import partial

from floor.batch.command import Refused
from floor.batch.corrections.commands import Note
from floor.batch.events import Noted, Waived
from floor.batch.gates.commands import Waive, require_waivable, takes_second
from floor.batch.search.recent_words import list_recent_words
from floor.batch.walk.commands import Pause, SkipStep, require_skippable
from floor.batch.walk.lines import Line, Walk
from floor.screens.forms.dialogs import Choice, ChoiceDialog, TextDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values
from floor.screens.frame.screen import FloorScreen
from floor.screens.widgets.lines import draw_more, name_more

PAUSES = ("called away", "waiting for material", "machine trouble", "end of shift", "break")
NOT_DONE = ("not needed on this load", "done already")


RELEASED = "The run is released: nothing is left to skip, waive or pause"


def list_idle_actions(line: Line | None) -> set[str]:
    """Actions of the walk that do nothing at its current line, whoever is signed in."""
    if line is None:
        return {"confirm", "skip", "waive", "pause"}
    idle = set()
    try:
        require_skippable(line)
    except Refused:
        idle.add("skip")
    if line.gate is None or line.gate.waive == "never":
        idle.add("waive")
    return idle


def skip_step(screen: FloorScreen, batch: str, run: int, line: Line | None) -> None:
    """Pass a step over, with a reason."""
    if line is None:
        screen.say(RELEASED, wrong=True)
        return
    if line.gate is not None:
        waived = "nobody may waive it" if line.gate.waive == "never" else "w waives it (lead)"
        screen.say(f"This is a required check: {waived}", wrong=True)
        return
    try:
        require_skippable(line)
    except Refused as refused:
        screen.say_refused(refused)
        return
    key, fields = line.key, [FieldSpec("why", "Reason", picks=NOT_DONE, needed=True)]
    screen.ask_and_give(batch, f"Skip: {line.title}", fields, lambda given: SkipStep(run, key, given["why"]))


def waive_gate(screen: FloorScreen, batch: str, run: int, line: Line | None) -> None:
    """Pass a gate unproved: a lead, a reason, and a second signature where the checklist asks for it."""
    if line is None:
        screen.say(RELEASED, wrong=True)
        return
    screen.run_signed_in(lambda: _ask_waiver(screen, batch, run, line))


def _ask_waiver(screen: FloorScreen, batch: str, run: int, line: Line) -> None:
    try:  # before anything is typed
        line, gate = require_waivable(line, screen.session.context(batch))
    except Refused as refused:
        screen.say_refused(refused)
        return
    recent = list_recent_words(screen.session.shop.batches, Waived, lambda one: [one.reason])
    fields = [FieldSpec("why", "Reason", picks=recent, needed=True)]
    if takes_second(gate):
        fields += [FieldSpec("second", "Second person", needed=True), FieldSpec("pin", "Their PIN", secret=True)]
    key = line.key

    def attempt(given: Values) -> Errors:
        second = given.get("second", "").strip().upper()
        checked = [screen.session.shop.check_second(second, given["pin"])] if second else []
        screen.session.do(batch, Waive(run, key, given["why"], second), *checked)
        return {}

    why = line.verdict.why if line.verdict else ""
    screen.ask_form(f"Waive: {line.title}", fields, attempt, screen.update_all, why)


def show_more(screen: FloorScreen, walked: Walk, line: Line | None) -> None:
    """How and why of a step, and all that must be proved at its operation."""
    screen.floor.push_screen(TextDialog(name_more(walked, line), partial(draw_more, walked, line)))


def list_recent_notes(screen: FloorScreen) -> tuple[str, ...]:
    """What people noted last in the shop's open batches; what Floor itself noted as abnormal is no phrase of theirs."""
    return list_recent_words(screen.session.shop.batches, Noted, lambda one: [] if one.abnormal else [one.text])


def add_note(screen: FloorScreen, batch: str, run: int | None = None) -> None:
    """A note on the batch or on a run of it: the next shift reads it, unless somebody goes down and says no.

    A word too many at a handover costs a line; one that was not passed on is missed there (HND-04).
    """

    def note(given: Values) -> Note:
        return Note(given["text"], run=run, next_shift=not given["for"].strip().casefold().startswith("n"))

    fields = [
        FieldSpec("text", "Note", picks=list_recent_notes(screen), needed=True),
        FieldSpec("for", "Pass it on? y/n", "y", hint="↓, n: for the record only", known=True),
    ]
    title = f"Note on batch {batch}" if run is None else "Note on this run"
    told = "The next shift reads it" + (", and whoever starts this load's next operation." if run is not None else ".")
    screen.ask_and_give(batch, title, fields, note, lambda _: screen.say("Noted"), told, "text")


def pause_run(screen: FloorScreen, batch: str, run: int, line: Line | None) -> None:
    """Leave with a word why; the place is kept anyway."""
    if line is None:
        screen.say(RELEASED, wrong=True)
        return

    def answered(why: str | None) -> None:
        if why is not None:
            screen.give(batch, Pause(run, why), lambda _: screen.action_back())

    at = f"You will resume at: {line.title}"
    screen.floor.push_screen(ChoiceDialog("Pause", [Choice(why, why) for why in PAUSES], at, acts=True), answered)
