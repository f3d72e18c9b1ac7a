"""What handovers took and what they let through, measured from the record (HND-27).

A screen alone need not improve a handover: Jiang et al. 2017, J Biomed Inform 69 (from memory). So it is measured.
"""

from __future__ import annotations

from itertools import zip_longest

from floor.batch.events import StruckOut, iter_events
from floor.batch.handover.offers import HandoverHistory, list_handovers
from floor.batch.state import Batch
from floor.dataclass import dataclass


@dataclass(frozen=True, slots=True)
class HandoverMeasure:
    """One accepted handover."""

    seq: int
    giver: str
    taker: str
    minutes: float
    """From the taker's first reading of the page to the signature."""
    counted: int
    disputed: int
    """Counts that did not agree at first."""
    read_back: int
    questions: int
    struck: int
    """Entries made before it that were struck out in the shift after it: what it let through."""


def measure_handovers(batch: Batch) -> list[HandoverMeasure]:
    """The accepted handovers of a batch, the oldest first."""
    taken = [one for one in list_handovers(batch) if one.accepted is not None]
    return [_measure(batch, one, after) for one, after in zip_longest(taken, taken[1:])]


def _measure(batch: Batch, one: HandoverHistory, after: HandoverHistory | None) -> HandoverMeasure:
    assert one.accepted is not None, "only accepted ones are measured"
    began = one.first_read.get(one.to, one.offered)
    strikes = iter_events(batch.entries[one.ended : after.ended if after is not None else None], StruckOut)
    differences = [two for two in batch.differences.values() if one.seq < two.seq < one.ended]
    return HandoverMeasure(
        one.seq,
        one.by,
        one.to,
        (one.accepted - began).total_seconds() / 60,
        len(one.counted),
        len({two.subject for two in differences}),  # one place typed wrong twice is one
        len(one.read_back),
        len(one.questions),
        sum(event.seq <= one.ended for entry, event in strikes if entry.seq not in batch.struck),
    )
