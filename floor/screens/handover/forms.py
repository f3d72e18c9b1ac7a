"""What is asked in dialogs while a batch is handed over: the offer, questions and answers, counts that disagreed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Final

from floor.batch.command import Refused
from floor.batch.corrections.commands import MarkNoteDone, Note
from floor.batch.corrections.put_off import list_put_off
from floor.batch.counting.blind_count import find_subjects_to_count
from floor.batch.handover.commands import (
    AcceptHandover,
    AnswerQuestion,
    AskQuestion,
    OfferHandover,
    ResolveDifference,
    WithdrawHandover,
    refuse_to_offer,
)
from floor.batch.handover.events import Relief, Talk
from floor.batch.handover.offers import list_next_shift_notes
from floor.batch.handover.page import (
    say_difference,
)
from floor.batch.handover.risks import (
    RISKS,
    asks_for_talk,
    find_risks,
)
from floor.screens.forms.dialogs import Choice, ChoiceDialog, ConfirmDialog
from floor.screens.forms.fields import Errors, FieldSpec, Values
from floor.screens.frame.screen import BatchFrame
from floor.screens.walk.step_actions import list_recent_notes
from floor.wall import WHEN, describe_wrong_time, format_local, parse_typed_time

LEFT = ("machines off, air and heat shut", "one cycle finishing, all else off", "oven on its timer, rest off")
PHONE: Final = "by phone or radio"
NO_TALK = ("they had left already", "called away", "no phone or radio here")
SETTLED = ("recounted together: the record is right", "found", "set aside as scrap in the record")
BY = "by"
"""Kept under this name beside what was typed: whose words they are."""


def offer_handover(screen: BatchFrame, typed: dict[str, str], unattended: bool = False, relief: Relief = "") -> None:
    """Offer the batch, or leave it alone; at higher risk each part of the remarks is asked for by itself, and after a
    long shift or for an injury each is needed.

    Args:
        typed: what was written into the form before; kept there until the offer stands.
    """
    batch = screen.current_batch
    session = screen.session
    if session.who:
        try:
            refuse_to_offer(batch, session.context(batch.id))
        except Refused as refused:  # before anything is typed for nothing
            screen.say_refused(refused)
            return
    if typed.get(BY, session.who) != session.who:  # one person's words are not signed by another
        typed.clear()
    risks = [*find_risks(batch, session.now(), long_shift_hours=session.shop.long_shift_hours)]
    risks += ["relief"] if relief == "illness" else []
    notes, in_full = list_next_shift_notes(batch), "relief" in risks or "long shift" in risks
    if risks:
        wanted = [("unusual", "Abnormal"), ("done", "Action taken"), ("first", "Do first")]
    else:
        wanted = [("unusual", "Remarks")]
    fields = [FieldSpec(name, label, typed.get(name, ""), needed=in_full) for name, label in wanted]
    asked = [(f"answer_{n}", one) for n, one in enumerate(session.shop.handover_questions)]
    fields += [FieldSpec(name, one, typed.get(name, ""), needed=True) for name, one in asked]
    if unattended:
        fields.append(FieldSpec("safe", "How it is left", typed.get("safe", ""), picks=LEFT))
    text = "".join(f"! {RISKS[risk]}\n" for risk in risks) + "".join(f"Already on the page: {note}\n" for note in notes)
    text += f"{batch.responsible} stays responsible until someone signs for it."

    def offer(given: Values) -> OfferHandover:
        typed.update(given, **{BY: session.who})
        said = {name: given[name] for name, _ in wanted}
        parts = said if risks else {"remarks": said["unusual"]}
        answers = tuple(given[name] for name, _ in asked)
        return OfferHandover(unattended=unattended, safe=given.get("safe", ""), relief=relief, answers=answers, **parts)

    def offered() -> None:
        typed.clear()
        screen.say(f"Offered. {screen.current_batch.responsible} stays responsible until someone signs. e: papers")

    reliefs = {"break": "Mid-shift relief: break", "illness": "Mid-shift relief: injury or illness"}
    title = "Leave the batch unattended" if unattended else reliefs.get(relief, "Offer the batch to the next person")
    screen.ask_and_give(batch.id, title, fields, offer, lambda _: offered(), text, blamed="unusual")


def withdraw_handover(screen: BatchFrame) -> None:
    def answered(yes: bool | None) -> None:
        if yes:
            screen.give(screen.batch_id, WithdrawHandover(), lambda _: screen.say("Withdrawn"))

    screen.ask(ConfirmDialog("Withdraw the handover? Counts and read-back must then be repeated."), answered)


def ask_question(screen: BatchFrame) -> None:
    screen.ask_and_give(
        screen.batch_id,
        "What do you want to know?",
        [FieldSpec("text", "Question", needed=True)],
        lambda given: AskQuestion(given["text"]),
        lambda _: screen.say("Asked; d: write the answer"),
    )


def answer_question(screen: BatchFrame) -> None:
    """Answer an open question, asking which where there are several."""
    open_ = [one for one in screen.current_batch.questions.values() if not one.answer]

    def picked(key: str | None) -> None:
        if key is not None:
            asked = screen.current_batch.questions[int(key)]
            screen.ask_and_give(
                screen.batch_id,
                asked.text,
                [FieldSpec("text", "Answer", needed=True)],
                lambda given: AnswerQuestion(asked.seq, given["text"]),
                lambda _: screen.say("Answered"),
            )

    if len(open_) == 1:
        picked(str(open_[0].seq))
    else:
        screen.ask(ChoiceDialog("Which question?", [Choice(str(one.seq), one.text) for one in open_]), picked)


def settle_difference(screen: BatchFrame) -> None:
    """Settle a count that disagreed; the rules ask for a lead."""
    hidden = find_subjects_to_count(screen.current_batch, screen.session.who)
    open_ = {str(one.seq): say_difference(one, hidden) for one in screen.current_batch.list_open_differences()}

    def picked(key: str | None) -> None:
        if key is not None:
            screen.ask_and_give(
                screen.batch_id,
                "What was found out?",
                [FieldSpec("how", "Settled", picks=SETTLED, needed=True)],
                lambda given: ResolveDifference(int(key), given["how"]),
                lambda _: screen.say("Settled"),
                open_[key],
            )

    choices = [Choice(key, text) for key, text in open_.items()]
    screen.ask(ChoiceDialog("Which count was settled?", choices, "Needs a lead."), picked)


def add_handover_note(screen: BatchFrame) -> None:
    """A note for the next shift; with an owner or a time it is work, and stays on the page until it is done."""
    now = screen.session.now().at

    def attempt(given: Values) -> Errors:
        due = parse_typed_time(given["due"], now)
        if given["due"].strip() and due is None:
            return {"due": describe_wrong_time(given["due"], now)}
        screen.session.do(screen.batch_id, Note(given["text"], next_shift=True, owner=given["owner"], due=due))
        return {}

    def noted() -> None:
        newest = screen.current_batch.seq
        puts_off = any(one.seq == newest for one in list_put_off(screen.current_batch))
        screen.say("On the page until it is marked done (d)" if puts_off else "On the page")

    when = f"optional: 14:30 or {format_local(now + timedelta(days=1), WHEN)}"
    fields = [
        FieldSpec("text", "Note", picks=list_recent_notes(screen), needed=True),
        FieldSpec("owner", "Who does it", hint="initials, optional"),
        FieldSpec("due", "By when", hint=when),
    ]
    told = "With a person or a time it stays on the page until it is marked done."
    screen.ask_form("Note for the next shift", fields, attempt, noted, told, "text")


def mark_note_done(screen: BatchFrame) -> None:
    """Say that work put off is done, asking which where there is more than one."""
    now = screen.session.now().at
    open_ = {str(one.seq): one.describe(now) for one in list_put_off(screen.current_batch)}

    def picked(key: str | None) -> None:
        if key is not None:
            screen.ask_and_give(
                screen.batch_id,
                "Done?",
                [FieldSpec("how", "What was found", hint="optional")],
                lambda given: MarkNoteDone(int(key), given["how"]),
                lambda _: screen.say("Done, and off the page"),
                open_[key],
            )

    if len(open_) == 1:
        picked(next(iter(open_)))
    else:
        screen.ask(ChoiceDialog("Which is done?", [Choice(key, text) for key, text in open_.items()]), picked)


def accept_handover(screen: BatchFrame, accepted: Callable[[], None]) -> None:
    """Sign for the batch, and that the two talked face to face; the screen asks so, and says what stands open."""
    batch = screen.current_batch
    handover = batch.handover
    assert handover is not None

    def done(before: str) -> None:
        accepted()
        screen.say(f"{screen.session.who} is now responsible (from {before}). e: papers")

    if handover.relief != "illness":
        talked: Talk = "face to face" if asks_for_talk(handover) else ""
        screen.give(batch.id, AcceptHandover(talked=talked), lambda _: done(handover.by))
        return
    fields = [FieldSpec("second", "Talked with", needed=True), FieldSpec("pin", "Their PIN", secret=True)]

    def attempt(given: Values) -> Errors:
        second = given["second"].strip().upper()
        known = screen.session.shop.people.known.get(second)
        signed = [screen.session.shop.check_second(second, given["pin"])] if known is not None and known.has_pin else []
        screen.session.do(batch.id, AcceptHandover(second), *signed)
        return {}

    title = "Talk it through before you sign"
    screen.ask_form(
        title,
        fields,
        attempt,
        lambda: done(handover.by),
        "After an injury or illness: with a lead, or if you are one, with a second person.",
        "second",
    )


def ask_how_talked(screen: BatchFrame) -> None:
    """Sign without a talk face to face: by phone or radio, or not at all, which takes a reason."""
    handover = screen.current_batch.handover
    assert handover is not None, "there is nothing to accept else"

    def signed() -> None:
        screen.say(f"{screen.session.who} is now responsible (from {handover.by}). e: papers")

    def picked(talked: str | None) -> None:
        if talked == PHONE:
            screen.give(screen.batch_id, AcceptHandover(talked=PHONE), lambda _: signed())
        elif talked is not None:
            screen.ask_and_give(
                screen.batch_id,
                f"Why did you not talk with {handover.by}?",
                [FieldSpec("why", "Reason", picks=NO_TALK, needed=True)],
                lambda given: AcceptHandover(talked="none", why=given["why"]),
                lambda _: signed(),
                "It counts as a risk of this handover.",
            )

    choices = [Choice(PHONE, "yes, by phone or radio: accept and sign"), Choice("none", "no: give a reason, then sign")]
    screen.ask(ChoiceDialog(f"Did you talk it over with {handover.by}?", choices, acts=True), picked)
