"""Words left on a load for whoever takes it next: a release is a small handover (HND-28)."""

from __future__ import annotations

from datetime import datetime

from floor.batch.events import Noted, RunBegun, iter_events
from floor.batch.load import Load
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.text import format_clock


@dataclass(frozen=True, slots=True)
class Word:
    seq: int
    """The note."""
    text: str
    by: str
    at: datetime
    op: int
    """The operation from which it was left."""

    def describe(self, now: datetime) -> str:
        return f"{self.by}, op {self.op}, {format_clock(self.at, now)}: {self.text}"


def list_words_left(batch: Batch, load: Load) -> list[Word]:
    """The notes passed on from a run of its pieces, until somebody starts the next run of them, having read these.

    They go with the pieces: a load that was split or joined has what was said of any of them.
    """
    if not any("next_shift" in entry.body for entry in batch.entries):
        return []  # at nearly every start; reading all its entries takes long
    begun: dict[int, frozenset[int]] = {}
    left: list[tuple[Word, set[int]]] = []
    for entry, event in iter_events(batch.entries, Noted, RunBegun):
        if entry.seq in batch.struck:
            continue
        if isinstance(event, RunBegun):
            begun[event.run] = frozenset(event.pieces)
            if not batch.runs[event.run].put_back:
                for _, pieces in left:
                    pieces.difference_update(event.pieces)
        elif isinstance(event, Noted) and event.next_shift and event.run:
            run = batch.runs[event.run]  # one entered late has no entry of its begin
            word = Word(entry.seq, event.text, entry.by, entry.time, run.op)
            left.append((word, {*begun.get(event.run, run.pieces)}))
    coming = {*batch.present(load)}
    return [word for word, pieces in left if pieces & coming]
