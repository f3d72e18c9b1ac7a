"""A handover, in words."""

from __future__ import annotations

from floor.batch.counting.blind_count import find_blind_subjects
from floor.batch.describe_registry import describes
from floor.batch.events import (
    CarrierCounted,
    DifferenceResolved,
    HandoverAccepted,
    HandoverOffered,
    HandoverWithdrawn,
    PageRead,
    QuestionAnswered,
    QuestionAsked,
    ReadBack,
)
from floor.batch.handover.offers import say_talk
from floor.batch.load import format_heap
from floor.batch.state import Batch
from floor.text import format_answered


@describes(HandoverOffered)
def _handover_offered(batch: Batch, event: HandoverOffered) -> str:
    reliefs = {"break": "relief for a break offered", "illness": "relief for injury or illness offered"}
    said = "left unattended" if event.unattended else reliefs.get(event.relief, "handover offered")
    answers = [format_answered(one.question, one.answer) for one in event.answers]
    told = "; ".join(filter(None, [event.remarks, *answers]))
    return said + (f": {told}" if told else "")


@describes(HandoverWithdrawn)
def _handover_withdrawn(batch: Batch, event: HandoverWithdrawn) -> str:
    return "handover withdrawn"


@describes(CarrierCounted)
def _carrier_counted(batch: Batch, event: CarrierCounted) -> str:
    return f"{format_heap(event.subject)}: counted {event.found}" + (
        ", to be counted again" if event.subject in find_blind_subjects(batch) else f", recorded {event.expected}"
    )


@describes(PageRead)
def _page_read(batch: Batch, event: PageRead) -> str:
    return "handover page read"


@describes(ReadBack)
def _read_back(batch: Batch, event: ReadBack) -> str:
    return f"read back: {event.text}"


@describes(QuestionAsked)
def _question_asked(batch: Batch, event: QuestionAsked) -> str:
    return f"asked: {event.text}"


@describes(QuestionAnswered)
def _question_answered(batch: Batch, event: QuestionAnswered) -> str:
    return f"answered: {event.text}"


@describes(HandoverAccepted)
def _handover_accepted(batch: Batch, event: HandoverAccepted) -> str:
    through = f", talked through with {event.supervisor}" if event.supervisor else ""
    counted = ", without counts" if event.depth == "short" else ""
    return f"taken over from {event.giver}{counted}{through}" + (f", {said}" if (said := say_talk(event)) else "")


@describes(DifferenceResolved)
def _difference_resolved(batch: Batch, event: DifferenceResolved) -> str:
    return f"difference {event.difference} resolved: {event.how}"
