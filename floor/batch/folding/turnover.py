"""Handover, settling differences, and the end of a batch here."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from floor.batch.folding.base import Inapplicable, kind, need
from floor.batch.folding.standing import untold
from floor.batch.state import Batch
from floor.batch.unsettled import Difference, Handover, Question
from floor.entry import Entry


@kind
def _handover_offered(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    need(entry, batch.handover is None, "a handover is open already")
    batch.handover = Handover(entry.seq, entry.by, at, body["remarks"], body["unattended"])


def _handover(batch: Batch, entry: Entry) -> Handover:
    if batch.handover is None:
        raise Inapplicable(entry, "no handover is open")
    return batch.handover


@kind
def _handover_withdrawn(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    _handover(batch, entry)
    batch.handover = None


@kind
def _carrier_counted(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    handover = _handover(batch, entry)
    handover.counted[body["subject"]], handover.counted_at[body["subject"]] = body["found"], at
    handover.tries[body["subject"]] += 1
    for difference in batch.differences.values():
        if difference.subject == body["subject"] and not difference.resolved and difference.seq > handover.seq:
            difference.resolved = f"counted again: {body['found']} · {entry.by}"
    if body["found"] != body["expected"]:
        batch.differences[entry.seq] = Difference(
            entry.seq, body["subject"], body["expected"], body["found"], entry.by, at
        )


@kind
def _page_read(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    _handover(batch, entry).readers[entry.by] = at


@kind
def _read_back(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    _handover(batch, entry).read_back.add(body["line"])


@kind
def _question_asked(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    batch.questions[entry.seq] = Question(entry.seq, entry.by, body["text"])


@kind
def _question_answered(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    batch.questions[body["question"]].answer = f"{body['text']} · {entry.by}"


@kind
def _handover_accepted(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    batch.handed_over_by = _handover(batch, entry).by
    batch.handover = None
    batch.responsible = entry.by
    batch.shift += 1
    batch.shift_began, batch.shift_seq = at, entry.seq
    batch.clock_told = entry.seq


@kind
def _difference_resolved(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    difference = batch.differences[body["difference"]]
    need(entry, not difference.resolved, "the difference is resolved already")
    difference.resolved = f"{body['how']} · {entry.by}"


@kind
def _batch_closed(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    need(entry, batch.closed is None, "the batch is closed already")
    batch.closed = at


@kind
def _gone_over(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    batch.gone = body["to"]


@kind
def _taken_in(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    batch.gone = ""
    batch.id = body.get("name", batch.id)
    for station in body.get("in_service", ()):  # what is out of service here is told after this
        batch.outages.pop(station, None)
    for station, tool, used in body.get("worn", ()):
        batch.tools[(station, tool)].used = used
    if body.get("untold"):
        untold(batch, entry, at)
