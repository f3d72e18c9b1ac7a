"""Past handovers and the open one, read from the entries: who gave, who took, what was counted."""

from __future__ import annotations

from dataclasses import field
from datetime import datetime

from floor.batch.events import (
    KINDS,
    CarrierCounted,
    Event,
    HandoverAccepted,
    HandoverOffered,
    HandoverWithdrawn,
    Noted,
    PageRead,
    QuestionAsked,
    ReadBack,
    iter_events,
)
from floor.batch.state import Batch
from floor.dataclass import dataclass


@dataclass(slots=True)
class HandoverHistory:
    """One handover, from its offer onward."""

    seq: int
    """The entry that offered it."""
    by: str
    offered: datetime
    remarks: str
    unattended: bool
    relief: str = ""
    counted: dict[str, tuple[int, int, str]] = field(default_factory=dict)
    """Subject → (found, recorded, by whom), as counted last."""
    page_read: dict[str, datetime] = field(default_factory=dict)
    """Who read the page, and when."""
    first_read: dict[str, datetime] = field(default_factory=dict)
    """Who read the page, and when for the first time."""
    read_back: list[str] = field(default_factory=list)
    """The safety lines as read back."""
    questions: list[int] = field(default_factory=list)
    """Numbers in ``batch.questions``."""
    to: str = ""
    accepted: datetime | None = None
    signed: HandoverAccepted | None = None
    """What was signed at the acceptance."""
    ended: int = 0
    """The entry that accepted or withdrew it; 0 while it is open."""


IN_A_HANDOVER: tuple[type[Event], ...] = tuple(kind for kind in KINDS.values() if kind.GROUP == "handover")


def list_handovers(batch: Batch) -> list[HandoverHistory]:
    """All offered handovers, the oldest first; a withdrawn one ended without a taker."""
    found: list[HandoverHistory] = []
    for entry, event in iter_events(batch.entries, *IN_A_HANDOVER):
        if entry.seq in batch.struck:
            continue
        if isinstance(event, HandoverOffered):
            found.append(
                HandoverHistory(entry.seq, entry.by, entry.time, event.remarks, event.unattended, event.relief)
            )
            continue
        if not found or found[-1].ended:
            continue
        last = found[-1]
        match event:
            case CarrierCounted():
                last.counted[event.subject] = (event.found, event.expected, entry.by)
            case PageRead():
                last.page_read[entry.by] = entry.time
                last.first_read.setdefault(entry.by, entry.time)
            case ReadBack():
                last.read_back.append(event.text)
            case QuestionAsked():
                last.questions.append(entry.seq)
            case HandoverWithdrawn():
                last.ended = entry.seq
            case HandoverAccepted():
                last.to, last.accepted, last.ended, last.signed = entry.by, entry.time, entry.seq, event
    return found


def say_talk(event: HandoverAccepted) -> str:
    """How giver and taker talked: ``talked face to face``; empty where it was not asked."""
    if event.talked == "none":
        return f"without a talk: {event.why}"
    return f"talked {event.talked}" if event.talked else ""


def find_current_handover(batch: Batch) -> HandoverHistory | None:
    """The open handover, or the one that the very last entry accepted."""
    last = next(reversed(list_handovers(batch)), None)
    if last is None or (last.ended and not (last.to and last.ended == batch.seq)):
        return None
    return last


def list_next_shift_notes(batch: Batch) -> list[str]:
    """Notes for the next shift since the last handover; the page already shows them."""
    notes = iter_events(batch.entries[batch.shift_seq :], Noted)
    return [note.text for entry, note in notes if note.next_shift and entry.seq not in batch.struck]
