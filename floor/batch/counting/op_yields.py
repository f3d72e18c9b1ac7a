"""The outcome of the pieces at each operation, counting each piece once however often it passed (quantities of ISO
22400-2).

The standard's scrap quantity is what has to be scrapped or recycled. A piece regraded or returned to its supplier is
neither, and it is not good: so it lowers the quality ratio GQ/PQ and is in no SQ.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import field
from datetime import datetime

from floor.batch.load import LOST
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.figures.key_figures import Amount, Input

Count = tuple[int, str, Collection[int], Mapping[int, str]]
"""(operation, rework route, pieces, piece → outcome of those that are not simply good)."""


@dataclass(frozen=True, slots=True)
class OpOutcome:
    """Pieces counted at one operation.

    A piece reworked to good counts once as produced, once as reworked, once as good.
    """

    op: int
    produced: int
    good: int
    scrap: int
    rework: int
    hold: int
    """On hold from this operation now."""
    first_pass: int
    """Good at their first count, without rework, and still."""
    otherwise: int = 0
    """Regraded or returned: produced, and neither good nor scrap."""

    @property
    def amounts(self) -> dict[Input, Amount]:
        """By the symbols of the standard."""
        return {
            Input.PQ: self.produced,
            Input.GQ: self.good,
            Input.SQ: self.scrap,
            Input.RQ: self.rework,
            Input.GP: self.first_pass,
            Input.IP: self.produced,
        }


@dataclass(slots=True)
class _Counted:
    """What the counts of one operation said, one after the other."""

    pieces: set[int] = field(default_factory=set)
    last: dict[int, str] = field(default_factory=dict)
    """Piece → how it came out last, if that is not good."""
    sent: set[int] = field(default_factory=set)
    failed_first: set[int] = field(default_factory=set)
    """Not good at their first count, or counted in a rework first."""

    def add(self, pieces: Collection[int], marked: Mapping[int, str], rework: str) -> None:
        if self.last:
            for piece in pieces:
                self.last.pop(piece, None)
        for piece, to in marked.items():
            if to != "good":
                self.last[piece] = to
                if piece not in self.pieces:
                    self.failed_first.add(piece)
            if to == "rework":
                self.sent.add(piece)
        if rework:
            self.failed_first.update(piece for piece in pieces if piece not in self.pieces)
        self.pieces.update(pieces)


@dataclass(slots=True)
class PieceTally:
    """Pieces counted in some runs, each once however many operations they passed."""

    pieces: set[int] = field(default_factory=set)
    produced: defaultdict[int, set[int]] = field(default_factory=lambda: defaultdict(set))
    """Operation → pieces counted there."""
    last: dict[int, str] = field(default_factory=dict)
    """Piece → how its last count put it, if that is not good."""
    marked: set[int] = field(default_factory=set)
    """Not simply good at some count."""
    sent: set[int] = field(default_factory=set)
    """To rework, at a count."""

    def add(self, op: int, rework: str, pieces: Collection[int], marked: Mapping[int, str]) -> None:
        """One count, after those before it."""
        for piece in self.last.keys() & pieces:
            del self.last[piece]
        for piece, to in marked.items():
            if to != "good":
                self.marked.add(piece)
                self.last[piece] = to
            if to == "rework":
                self.sent.add(piece)
        if rework:  # those first seen now have had their first pass before these runs
            self.marked.update(piece for piece in pieces if piece not in self.pieces)
        self.pieces.update(pieces)
        self.produced[op].update(pieces)

    def merge(self, other: PieceTally) -> None:
        """The counts of other runs too; which of them came last is lost."""
        self.pieces |= other.pieces
        self.marked |= other.marked
        self.sent |= other.sent
        self.last.clear()
        for op, pieces in other.produced.items():
            self.produced[op] = self.produced[op] | pieces if op in self.produced else pieces

    def compute_amounts(self, batch: Batch, ends: Mapping[int, str]) -> dict[Input, Amount]:
        """By the symbols of the standard.

        Args:
            ends: piece → where it is now, of those lost, finished or on hold by these counts or a decision on them.
        """
        outcome = {piece: where for piece, where in ends.items() if piece in self.pieces and where != "finished"}
        for piece, to in self.last.items():
            if piece not in ends and (to != "hold" or batch.places[piece].rework):  # one held went on by a decision
                outcome[piece] = to
        return {
            Input.PQ: len(self.pieces),
            Input.GQ: len(self.pieces) - len(outcome),
            Input.SQ: sum(to == "scrap" for to in outcome.values()),
            Input.RQ: len(self.sent & self.pieces),
            Input.GP: len(self.pieces - self.marked - outcome.keys()),
            Input.IP: len(self.pieces),
        }


def list_op_outcomes(batch: Batch) -> list[OpOutcome]:
    """One line for each operation where something was counted, in the order of the route."""
    counted: defaultdict[int, _Counted] = defaultdict(_Counted)
    for op, rework, pieces, marked in iter_counts(batch, None):
        counted[op].add(pieces, marked, rework)
    lost: defaultdict[int, dict[int, str]] = defaultdict(dict)
    for piece, place in batch.places.items():
        if place.where in ("hold", *LOST):
            lost[place.op][piece] = place.where if place.where in ("hold", "scrap") else "otherwise"
    return [_tally(batch, op, counted[op], lost[op]) for op in batch.checklist.ops if op in counted]


def tally_counts(counts: Iterable[Count]) -> PieceTally:
    """The pieces of some counts, in their order."""
    tally = PieceTally()
    for op, rework, pieces, marked in counts:
        tally.add(op, rework, pieces, marked)
    return tally


def count_produced_first(batch: Batch) -> int:
    """Pieces that the first operation of the route has produced: those still waiting for it are no losses yet."""
    return count_produced(batch, batch.checklist.route[0])


def count_produced(batch: Batch, op: int, since: datetime | None = None) -> int:
    """Pieces that an operation has produced, each once.

    Args:
        since: only in runs begun then or later, without what was stated as counted before.
    """
    counted = [
        run.pieces
        for run in batch.runs.values()
        if run.op == op and run.count is not None and (since is None or run.begun >= since)
    ]
    told = batch.late.counted.get(op, {}) if batch.late is not None and since is None else {}
    return len({piece for pieces in (*counted, told) for piece in pieces})


def iter_stated_counts(batch: Batch) -> Iterator[Count]:
    """What somebody stated as counted before the batch was entered."""
    if batch.late is not None:
        for op, said in batch.late.counted.items():
            yield op, "", said, said


def iter_counts(batch: Batch, runs: Iterable[Run] | None) -> Iterator[Count]:
    """Of some runs; of all, and what was stated, if left out."""
    if runs is None:
        yield from iter_stated_counts(batch)
    for run in batch.runs.values() if runs is None else runs:
        if run.count is not None:
            marked = {piece: mark.to for mark in run.count.marks for piece in mark.pieces}
            yield run.op, run.rework, run.pieces, marked


def _tally(batch: Batch, op: int, counted: _Counted, lost: Mapping[int, str]) -> OpOutcome:
    """The last count's outcome of each piece, or a later decision on one held or set aside here."""
    ends = {piece: where for piece, where in lost.items() if piece in counted.pieces}
    for piece, to in counted.last.items():
        if piece not in ends:  # one held has gone on since, by a decision
            ends[piece] = to if to != "hold" else "rework" if batch.places[piece].rework else "good"
    tally = Counter(ends.values())
    return OpOutcome(
        op,
        len(counted.pieces),
        len(counted.pieces) - len(ends) + tally["good"],
        tally["scrap"],
        len(counted.sent),
        tally["hold"],
        len(counted.pieces - counted.failed_first - {piece for piece, to in ends.items() if to != "good"}),
        tally["otherwise"],
    )
