"""Turnovers of the past and the one that is open: who gave, who took, what was counted. Read from the entries."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from floor.batch.state import Batch


@dataclass(slots=True)
class Turnover:
    """One handover from its offer on."""

    seq: int
    """The entry that offered it."""
    by: str
    offered: datetime
    remarks: str
    unattended: bool
    counted: dict[str, tuple[int, int, str]] = field(default_factory=dict)
    """Subject → (found, recorded, by whom), as counted last."""
    page_read: dict[str, datetime] = field(default_factory=dict)
    """Who read the page, and when."""
    read_back: list[str] = field(default_factory=list)
    """The safety lines as they were read back."""
    questions: list[int] = field(default_factory=list)
    """Numbers in ``batch.questions``."""
    to: str = ""
    accepted: datetime | None = None
    ended: int = 0
    """The entry that accepted or withdrew it; 0 while it is open."""


def turnovers(batch: Batch) -> list[Turnover]:
    """All handovers that were offered, the oldest first; withdrawn ones have ended without a taker."""
    found: list[Turnover] = []
    for entry in batch.entries:
        if entry.seq in batch.struck:
            continue
        if entry.kind == "handover_offered":
            found.append(
                Turnover(entry.seq, entry.by, entry.time, entry.body["remarks"], entry.body["unattended"])
            )
            continue
        if not found or found[-1].ended:
            continue
        last = found[-1]
        if entry.kind == "carrier_counted":
            last.counted[entry.body["subject"]] = (entry.body["found"], entry.body["expected"], entry.by)
        elif entry.kind == "page_read":
            last.page_read[entry.by] = entry.time
        elif entry.kind == "read_back":
            last.read_back.append(entry.body["text"])
        elif entry.kind == "question_asked":
            last.questions.append(entry.seq)
        elif entry.kind == "handover_withdrawn":
            last.ended = entry.seq
        elif entry.kind == "handover_accepted":
            last.to, last.accepted, last.ended = entry.by, entry.time, entry.seq
    return found


def present_turnover(batch: Batch) -> Turnover | None:
    """The handover that is open, or the one that was accepted by the very last entry."""
    last = next(reversed(turnovers(batch)), None)
    if last is None or (last.ended and not (last.to and last.ended == batch.seq)):
        return None
    return last


def next_shift_notes(batch: Batch) -> list[str]:
    """Notes written for the next shift since the last handover: they are on the page already."""
    return [
        entry.body["text"]
        for entry in batch.entries
        if entry.kind == "noted"
        and entry.body.get("next_shift")
        and entry.seq > batch.shift_seq
        and entry.seq not in batch.struck
    ]
