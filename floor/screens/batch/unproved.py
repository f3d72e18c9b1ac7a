"""Asking a lead about a proof that was struck out after pieces had gone on by it."""

from __future__ import annotations

from floor.batch.command import Command
from floor.batch.corrections.commands import SettleUnproved
from floor.batch.corrections.unproved_work import find_unproved_work, format_unproved_work, say_run
from floor.batch.counting.commands import HoldBack
from floor.batch.gates.open_lot import find_struck_lot
from floor.screens.batch.correct_lot import ask_right_lot
from floor.screens.forms.dialogs import Choice, ChoiceDialog
from floor.screens.forms.fields import FieldSpec, Values
from floor.screens.frame.screen import FloorScreen
from floor.text import capitalize_first, join_sentences


def decide_unproved(screen: FloorScreen, batch_id: str, strike: int) -> None:
    """Which runs went on by it, and what becomes of their pieces."""
    batch = screen.session.batch(batch_id)
    one = find_unproved_work(batch)[strike]
    runs = [batch.runs[number] for number in sorted(one.runs - one.held)]

    def chosen(how: str | None) -> None:
        if how is None:
            return
        if how == "correct" and lot is not None:
            ask_right_lot(screen, batch_id, lot.seq)
            return
        title = next(choice.text for choice in choices if choice.key == how)
        holds = how.startswith("hold ")

        def decision(given: Values) -> Command:
            if holds:
                return HoldBack(int(how.removeprefix("hold ")), given["why"])
            return SettleUnproved(strike, how, given["why"])  # type: ignore[arg-type]

        screen.ask_and_give(
            batch_id,
            capitalize_first(title),
            [FieldSpec("why", "Reason", needed=True)],
            decision,
            lambda _: screen.say("Held back" if holds else f"{one.title}: {how}"),
            format_unproved_work(batch, one),
        )

    lot = find_struck_lot(batch, strike)
    choices = [
        Choice("proved afterwards", "it was proved in another way")
        if lot is None
        else Choice("correct", "the lot is known: enter it"),
        Choice("use as is", "use the pieces as is"),
        *(
            Choice(f"hold {run.number}", f"hold the pieces of run {run.number} (load {run.load}, op {run.op})")
            for run in runs
        ),
    ]
    text = join_sentences(format_unproved_work(batch, one), *(say_run(batch, run) for run in runs))
    screen.ask(ChoiceDialog("Decide (lead)", choices, text, acts=True), chosen)
