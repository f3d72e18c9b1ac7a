"""Folding of handovers and settled differences."""

from __future__ import annotations

from datetime import datetime

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
from floor.batch.fold_registry import Inapplicable, handles, require
from floor.batch.open_items import CountDifference, HandoverQuestion, OpenHandover
from floor.batch.state import Batch
from floor.entry import Entry


@handles(HandoverOffered)
def _handover_offered(batch: Batch, entry: Entry, event: HandoverOffered, at: datetime) -> None:
    require(entry, batch.handover is None, "a handover is open already")
    answers = tuple((one.question, one.answer) for one in event.answers)
    batch.handover = OpenHandover(
        entry.seq, entry.by, at, event.remarks, event.unattended, relief=event.relief, answers=answers
    )


def _handover(batch: Batch, entry: Entry) -> OpenHandover:
    if batch.handover is None:
        raise Inapplicable(entry, "no handover is open")
    return batch.handover


@handles(HandoverWithdrawn)
def _handover_withdrawn(batch: Batch, entry: Entry, event: HandoverWithdrawn, at: datetime) -> None:
    _handover(batch, entry)
    batch.handover = None


@handles(CarrierCounted)
def _carrier_counted(batch: Batch, entry: Entry, event: CarrierCounted, at: datetime) -> None:
    handover = _handover(batch, entry)
    handover.counted[event.subject], handover.counted_at[event.subject] = event.found, at
    handover.tries[event.subject] += 1
    for difference in batch.differences.values():
        if difference.subject == event.subject and not difference.resolved and difference.seq > handover.seq:
            difference.resolved = f"counted again: {event.found} · {entry.by}"
    if event.found != event.expected:
        batch.differences[entry.seq] = CountDifference(
            entry.seq, event.subject, event.expected, event.found, entry.by, at
        )


@handles(PageRead)
def _page_read(batch: Batch, entry: Entry, event: PageRead, at: datetime) -> None:
    _handover(batch, entry).readers[entry.by] = entry.seq


@handles(ReadBack)
def _read_back(batch: Batch, entry: Entry, event: ReadBack, at: datetime) -> None:
    _handover(batch, entry).read_back.add(event.line)


@handles(QuestionAsked)
def _question_asked(batch: Batch, entry: Entry, event: QuestionAsked, at: datetime) -> None:
    batch.questions[entry.seq] = HandoverQuestion(entry.seq, entry.by, event.text)


@handles(QuestionAnswered)
def _question_answered(batch: Batch, entry: Entry, event: QuestionAnswered, at: datetime) -> None:
    batch.questions[event.question].answer = f"{event.text} · {entry.by}"


@handles(HandoverAccepted)
def _handover_accepted(batch: Batch, entry: Entry, event: HandoverAccepted, at: datetime) -> None:
    batch.handed_over_by = _handover(batch, entry).by
    batch.handover = None
    batch.responsible = entry.by
    batch.shift += 1
    batch.shift_began, batch.shift_seq = at, entry.seq
    batch.clock_told = entry.seq


@handles(DifferenceResolved)
def _difference_resolved(batch: Batch, entry: Entry, event: DifferenceResolved, at: datetime) -> None:
    difference = batch.differences[event.difference]
    require(entry, not difference.resolved, "the difference is resolved already")
    difference.resolved = f"{event.how} · {entry.by}"
