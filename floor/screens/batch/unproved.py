"""Asking a lead about a proof that was struck out after pieces had gone on by it."""

from __future__ import annotations

from floor.batch.corrections.commands import SettleUnproved
from floor.batch.corrections.impact import find_unproved_work, format_unproved_work, say_run
from floor.batch.counting.commands import HoldBack
from floor.screens.forms.dialogs import Choice, ChoiceDialog, FieldSpec, FormDialog
from floor.screens.frame.screen import FloorScreen
from floor.text import capitalize_first, join_sentences


def decide_unproved(screen: FloorScreen, batch_id: str, strike: int) -> None:
    """Which runs went on by it, and what becomes of their pieces."""
    batch = screen.session.batch(batch_id)
    one = find_unproved_work(batch)[strike]
    runs = [batch.runs[number] for number in sorted(one.runs - one.held)]

    def chosen(how: str | None) -> None:
        if how is not None:
            title = next(choice.text for choice in choices if choice.key == how)
            form = FormDialog(
                capitalize_first(title),
                [FieldSpec("why", "Reason", needed=True)],
                format_unproved_work(batch, one),
            )
            screen.ask(form, lambda given: None if given is None else answered(how, given["why"]))

    def answered(how: str, why: str) -> None:
        if how.startswith("hold "):
            screen.give(batch_id, HoldBack(int(how.removeprefix("hold ")), why), lambda _: screen.say("Held back"))
        else:
            command = SettleUnproved(strike, how, why)  # type: ignore[arg-type]
            screen.give(batch_id, command, lambda _: screen.say(f"{one.title}: {how}"))

    choices = [
        Choice("proved afterwards", "it was proved in another way"),
        Choice("use as is", "use the pieces as is"),
        *(
            Choice(f"hold {run.number}", f"hold the pieces of run {run.number} (load {run.load}, op {run.op})")
            for run in runs
        ),
    ]
    text = join_sentences(format_unproved_work(batch, one), *(say_run(batch, run) for run in runs))
    screen.ask(ChoiceDialog("Decide (lead)", choices, text), chosen)
