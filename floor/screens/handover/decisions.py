"""What can be decided while a batch is handed over: to settle, answer, leave unattended, relieve, withdraw."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from floor.batch.corrections.put_off import list_put_off
from floor.batch.handover.risks import asks_for_talk
from floor.screens.forms.dialogs import Choice, ChoiceDialog
from floor.screens.frame.screen import BatchFrame
from floor.screens.handover.forms import (
    answer_question,
    ask_how_talked,
    mark_note_done,
    offer_handover,
    settle_difference,
    withdraw_handover,
)
from floor.screens.handover.stages import Stage

DECISIONS = {
    "unattended": "leave the batch unattended",
    "break": "mid-shift relief: break",
    "illness": "mid-shift relief: injury or illness (a lead)",
    "settle": "settle a disputed count (a lead)",
    "answer": "answer a question",
    "done": "mark as done what was put off",
    "talk": "accept without a talk face to face",
    "withdraw": "withdraw the handover",
}
"""What can be decided at all, in words; each keeps the digit of its turn, whatever else can be decided beside it."""


def list_decisions(screen: BatchFrame, stage: Stage, typed: dict[str, str]) -> Mapping[str, Callable[[], None]]:
    """What can be decided at this stage, by its key among all decisions."""
    found: dict[str, Callable[[], None]] = {}
    batch = screen.current_batch
    if batch.list_open_differences():
        found["settle"] = lambda: settle_difference(screen)
    if any(not question.answer for question in batch.questions.values()):
        found["answer"] = lambda: answer_question(screen)
    if list_put_off(batch):
        found["done"] = lambda: mark_note_done(screen)
    if stage == "accept" and batch.handover is not None and asks_for_talk(batch.handover):
        found["talk"] = lambda: ask_how_talked(screen)
    if stage == "prepare":
        found["unattended"] = lambda: offer_handover(screen, typed, unattended=True)
        found["break"] = lambda: offer_handover(screen, typed, relief="break")
        found["illness"] = lambda: offer_handover(screen, typed, relief="illness")
    if stage == "offered":
        found["withdraw"] = lambda: withdraw_handover(screen)
    return found


def ask_decision(screen: BatchFrame, found: Mapping[str, Callable[[], None]]) -> None:
    """The one thing there is to decide, or which of them."""
    if len(found) == 1:
        next(iter(found.values()))()
    elif found:
        digits = dict(zip(DECISIONS, ChoiceDialog.KEYS, strict=False))
        choices = [Choice(key, DECISIONS[key], digits[key]) for key in found]
        screen.floor.push_screen(ChoiceDialog("Decide", choices), lambda key: found[key]() if key else None)
