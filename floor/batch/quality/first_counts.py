"""What loads counted of the pieces that came to an operation for the first time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from floor.batch.counting.holds import find_decision
from floor.batch.state import Batch
from floor.figures.quality.share_by_load import LoadCount


class FirstCount(NamedTuple):
    """What one load counted of the pieces that came to an operation for the first time."""

    load: LoadCount
    reworked: int


def gather_first_counts(batch: Batch) -> Mapping[int, Sequence[FirstCount]]:
    """Operation → what its loads counted at the first count of each piece; one held counts by what was decided on it,
    as in the forecast, and is left out until then.
    """
    seen: dict[int, set[int]] = defaultdict(set)
    found: dict[int, list[FirstCount]] = defaultdict(list)
    for op, said in (batch.late.counted if batch.late is not None else {}).items():
        seen[op].update(said)
        _add_load(found[op], len(said), [_settle(batch, op, piece, to) for piece, to in said.items()])
    for run in batch.runs.values():
        if run.count is not None:
            known = seen[run.op]
            before = len(known)
            marks = [
                _settle(batch, run.op, piece, mark.to)
                for mark in run.count.marks
                for piece in mark.pieces
                if piece not in known
            ]
            known.update(run.pieces)
            _add_load(found[run.op], len(known) - before, marks)
    return found


def _settle(batch: Batch, op: int, piece: int, to: str) -> str:
    return find_decision(batch, op, piece) if to == "hold" else to


def _add_load(loads: list[FirstCount], pieces: int, marks: Sequence[str]) -> None:
    """A load of so many pieces, and what became of those that were marked; empty of those still held."""
    decided = pieces - marks.count("")
    if decided:
        good = pieces - len(marks) + marks.count("good")
        loads.append(FirstCount(LoadCount(good, decided), marks.count("rework")))
