"""Handing a half-done batch over: offer, count, read back, ask, accept."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest
from typing import get_args

from floor.batch import events
from floor.batch.command import Context, Refused, refuse_closed_batch, require_reason, require_whole_number
from floor.batch.counting.blind_count import find_blind_subjects, list_count_subjects
from floor.batch.events import make_drafts
from floor.batch.handover.events import Relief, Talk
from floor.batch.handover.page import (
    list_lines_at,
    list_lines_to_read_back,
    list_safety_lines,
    list_subjects_to_count,
    list_unread_entries,
    say_difference,
)
from floor.batch.handover.risks import (
    RISKS,
    asks_for_talk,
    find_risks,
)
from floor.batch.handover.signed_page import sign_page
from floor.batch.open_items import OpenHandover
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Draft
from floor.text import sanitize


def _open(batch: Batch) -> OpenHandover:
    if batch.handover is None:
        raise Refused("handover", "no handover is open", "the outgoing person offers it first")
    return batch.handover


def _incoming(batch: Batch, context: Context) -> OpenHandover:
    """The open handover, for a person who may take it: not the one who offered it, unless the batch was unattended."""
    handover = _open(batch)
    if handover.by == context.by.initials and not handover.unattended:
        raise Refused(
            "authority", f"{handover.by} offers the batch and cannot take it over", "the next person signs in first"
        )
    return handover


def refuse_to_offer(batch: Batch, context: Context) -> None:
    """Whatever the page would say: the batch is closed or offered, or somebody else's to hand over."""
    refuse_closed_batch(batch)
    if batch.handover is not None:
        raise Refused("handover", f"{batch.handover.by} has offered the batch already", "accept it, or withdraw it")
    if batch.responsible != context.by.initials and not context.by.lead:
        raise Refused(
            "authority", f"{batch.responsible} is responsible for the batch", "they hand it over, or a lead does"
        )


@dataclass(frozen=True, slots=True)
class OfferHandover:
    """End the shift on the page that Floor wrote: add remarks and sign.

    ``unattended``: nobody takes over now; ``safe`` then describes how the stations were left.
    """

    remarks: str = ""
    unattended: bool = False
    safe: str = ""
    relief: Relief = ""
    """In mid-shift: for a break, or, offered by a lead, for an injury or illness."""
    unusual: str = ""
    """What is abnormal, what was done about it, what comes first: the parts of the remarks where more care is taken."""
    done: str = ""
    first: str = ""
    answers: tuple[str, ...] = ()
    """To what the shop asks for, in its order."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_to_offer(batch, context)
        remarks = self._join_remarks()
        risks = find_risks(batch, context.now, long_shift_hours=context.elsewhere.long_shift_hours)
        why = "; ".join(RISKS[risk] for risk in risks)
        self._refuse_relief(why, context)
        if self.relief == "illness":
            why = "; ".join(filter(None, [RISKS["relief"], why]))
        if self.relief == "illness" or "long shift" in risks:
            self._need_each_part(why)
        if why and len(remarks) < 3:
            raise Refused(
                "handover",
                f"this handover takes more care than a routine one ({why}) and needs remarks",
                "write what is abnormal and what the next person has to do about it",
            )
        if self.unattended:
            safe = sanitize(self.safe)
            if len(safe) < 3:
                raise Refused(
                    "input",
                    "leaving it unattended needs a word on how it was left",
                    "enter what is off, shut, cooled",
                    field="safe",
                )
            remarks = f"{remarks.rstrip('.')}. Left: {safe}" if remarks else f"Left: {safe}"
        answers = self._need_answers(context.elsewhere.handover_questions)
        return make_drafts(
            events.HandoverOffered(remarks=remarks, unattended=self.unattended, relief=self.relief, answers=answers)
        )

    def _need_answers(self, questions: Sequence[str]) -> tuple[events.ShopAnswer, ...]:
        """Each question of the shop with its answer (HND-15)."""
        given = [sanitize(text) for text in self.answers]
        answers = dict(zip_longest(questions, given[: len(questions)], fillvalue=""))
        missing = next((n for n, answer in enumerate(answers.values()) if not answer), None)
        if missing is not None:
            wrong = f'no answer to "{questions[missing]}", which the shop asks at each handover'
            raise Refused("handover", wrong, 'answer it; write "none" if there is nothing', field=f"answer_{missing}")
        return tuple(events.ShopAnswer(question=question, answer=answer) for question, answer in answers.items())

    def _list_parts(self) -> list[tuple[str, str, str]]:
        """Field, label and text of each part of the remarks."""
        parts = (("unusual", "Abnormal", self.unusual), ("done", "Action taken", self.done),
                 ("first", "Do first", self.first))  # fmt: skip
        return [(field, label, sanitize(text)) for field, label, text in parts]

    def _join_remarks(self) -> str:
        """As one text, each part with what it is about."""
        parts = [f"{label}: {text}" for _, label, text in self._list_parts() if text]
        return sanitize(". ".join(filter(None, [sanitize(self.remarks), *parts])))

    def _need_each_part(self, why: str) -> None:
        """Who is tired or hurt leaves more out, so each part is asked for (HSE: long shifts lean on writing)."""
        missing = next(((field, label) for field, label, text in self._list_parts() if not text), None)
        if missing is not None:
            field, label = missing
            wrong = f"this handover takes more care than a routine one ({why}) and needs remarks in full"
            raise Refused("handover", wrong, f"{label}: enter it; none, if there is none", field=field)

    def _refuse_relief(self, why: str, context: Context) -> None:
        """
        Args:
            why: why this handover takes more care, in words; empty if it does not.
        """
        known = get_args(Relief)
        if self.relief not in known:
            wrong = f'"{sanitize(str(self.relief), 20)}" is not a kind of relief'
            raise Refused("input", wrong, f"one of: {', '.join(filter(None, known))}")
        if self.relief == "illness":
            context.need_lead("a relief for injury or illness")
        if self.relief and self.unattended:
            raise Refused("input", "a relief is for somebody who takes over now", "leave it unattended without one")
        if self.relief == "break" and why:
            wrong = f"a break needs a full handover here ({why})"
            raise Refused("handover", wrong, "offer the batch as at the end of a shift")


@dataclass(frozen=True, slots=True)
class WithdrawHandover:
    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        handover = _open(batch)
        if handover.by != context.by.initials and not context.by.lead:
            raise Refused("authority", f"{handover.by} offered it", "they withdraw it, or a lead does")
        return make_drafts(events.HandoverWithdrawn())


@dataclass(frozen=True, slots=True)
class ReadHandoverPage:
    """The incoming person has read the outgoing person's page to its end."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        handover = _incoming(batch, context)
        if context.by.initials in handover.readers and not list_unread_entries(batch, context.by.initials):
            raise Refused("not now", f"{context.by.initials} has read the page already", "go on with the count")
        return make_drafts(events.PageRead(of=handover.seq))


@dataclass(frozen=True, slots=True)
class CountSubjectPieces:
    """A count by the incoming person, before the recorded figure is shown.

    ``read_back``: keys of the safety lines about this load that stood beside the count and were read aloud there. One
    that has changed since is not read back by it.
    """

    subject: str
    found: int
    read_back: tuple[str, ...] = ()

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        _incoming(batch, context)
        subject = next((one for one in list_count_subjects(batch) if one.key == self.subject), None)
        if subject is None:
            raise Refused("unknown", f"{sanitize(self.subject, 40)} is not there to count", "choose one from the list")
        found = require_whole_number(self.found, "the count", 0)
        counted = events.CarrierCounted(
            subject=subject.key, expected=subject.expected, found=found, by_tag=subject.by_tag
        )
        said = [line for line in list_lines_at(batch, context.now, subject.key) if line.key in self.read_back]
        back = [events.ReadBack(line=line.key, text=line.text) for line in said]
        return [draft for event in (counted, *back) for draft in make_drafts(event)]


@dataclass(frozen=True, slots=True)
class ReadBackLine:
    """One safety line, repeated by the incoming person."""

    line: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        handover = _incoming(batch, context)
        lines = list_safety_lines(batch, context.now, find_blind_subjects(batch), context.by.initials)
        known = {line.key: line.text for line in lines}
        if self.line not in known:
            raise Refused("unknown", "that line is not on the page (any more)", "look at the page again")
        if self.line in handover.read_back:
            raise Refused("not now", "that line is read back already", "go on with the next")
        return make_drafts(events.ReadBack(line=self.line, text=known[self.line]))


@dataclass(frozen=True, slots=True)
class AskQuestion:
    text: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        _open(batch)
        text = sanitize(self.text)
        if not text:
            raise Refused("input", "an empty question", "write what you want to know")
        return make_drafts(events.QuestionAsked(text=text))


@dataclass(frozen=True, slots=True)
class AnswerQuestion:
    question: int
    text: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        question = batch.questions.get(self.question)
        if question is None or question.answer:
            raise Refused("unknown", "there is no such open question", "choose one from the list")
        text = sanitize(self.text)
        if not text:
            raise Refused("input", "an empty answer", "write the answer")
        return make_drafts(events.QuestionAnswered(question=self.question, text=text))


@dataclass(frozen=True, slots=True)
class AcceptHandover:
    """Take the batch over by name: page read by the same person as it is now, everything counted and no count disputed,
    every safety line read back. How much that is, `find_depth` says."""

    supervisor: str = ""
    """Who supervises and talked it through with the taker, after an injury or illness."""
    talked: Talk = ""
    """How giver and taker talked it over; asked unless nobody was there, or the talk was with the supervisor."""
    why: str = ""
    """Why they did not talk: it counts as a risk."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        handover = _incoming(batch, context)
        if context.by.initials not in handover.readers:
            who = context.by.initials
            raise Refused("handover", f"{who} has not read the page yet", "read it to its end first, then take over")
        unread = list_unread_entries(batch, context.by.initials)
        if unread:
            others = ", ".join(sorted({entry.by for entry in unread}))
            wrong = f"the page has changed since {context.by.initials} read it: entries by {others}"
            raise Refused("handover", wrong, "read it again, then take over")
        left = [subject.title for subject in list_subjects_to_count(batch, context.now, context.by.initials)]
        if left:
            raise Refused("handover", f"not counted yet: {', '.join(left)}", "count each with your own eyes")
        disputed = batch.list_open_differences()
        if disputed:
            wrong = f"a count does not match: {say_difference(disputed[0], find_blind_subjects(batch))}"
            remedy = "recount, set aside what is missing, or have a lead settle it"
            raise Refused("handover", wrong, remedy)
        silent = list_lines_to_read_back(batch, context.now, context.by.initials)
        if silent:
            raise Refused("handover", f"not read back yet: {silent[0].text}", "read back each safety line")
        supervisor = self._need_supervisor(context) if handover.relief == "illness" else ""
        return make_drafts(
            sign_page(
                batch,
                handover,
                context.now,
                context.by.initials,
                supervisor=supervisor,
                long_shift_hours=context.elsewhere.long_shift_hours,
                talked=self.talked,
                why=self._need_talk(handover),
            )
        )

    def _need_talk(self, handover: OpenHandover) -> str:
        """Why the two did not talk; refused until it is said how they did, or why not (HND-02)."""
        if self.talked == "none":
            return require_reason(self.why, "taking over without a talk")
        if not self.talked and asks_for_talk(handover):
            wrong = f"nobody has said whether you talked it over with {handover.by}"
            raise Refused("handover", wrong, "enter how you talked; or that you did not, with a reason", field="talked")
        return ""

    def _need_supervisor(self, context: Context) -> str:
        """The lead with whom it was talked through; for a lead who takes over, any second person."""
        who = context.need_second(self.supervisor, "taking over after an injury or illness")
        if who not in context.leads and context.by.initials not in context.leads:
            leads = ", ".join(sorted(context.leads))
            raise Refused("authority", f"{who} is no lead", f"talk it through with {leads}", field="second")
        return who


@dataclass(frozen=True, slots=True)
class ResolveDifference:
    """Settle a count that disagreed, with what was found.

    Pieces that are truly gone are set aside first. A miscount is simply counted again until the handover is accepted.
    """

    difference: int
    how: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        difference = batch.differences.get(self.difference)
        if difference is None or difference.resolved:
            raise Refused("unknown", "there is no such open difference", "choose one from the list")
        context.need_lead("resolving a difference")
        return make_drafts(
            events.DifferenceResolved(difference=self.difference, how=require_reason(self.how, "resolving it", "how"))
        )
