"""What the last count of a run marked, once it was struck out: the next one begins with it."""

from __future__ import annotations

from floor.batch.counting.events import Counted, Mark
from floor.batch.event_base import read_if_kind
from floor.batch.run import Run
from floor.batch.state import Batch


def list_struck_marks(batch: Batch, run: Run) -> list[Mark]:
    """The marks of the count that was struck out last, where all their pieces are still to be counted in it."""
    if run.count is not None:
        return []
    for entry in reversed(batch.entries):
        if entry.seq <= run.seq:
            break
        counted = read_if_kind(entry, Counted)
        if counted is not None and counted.run == run.number:
            left = set(run.undecided)
            return [mark for mark in counted.marks if left.issuperset(mark.pieces)]
    return []
