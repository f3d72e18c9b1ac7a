"""What loads counted of the pieces that came to an operation for the first time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from floor.batch.state import Batch
from floor.figures.quality.share_by_load import LoadCount


class FirstCount(NamedTuple):
    """What one load counted of the pieces that came to an operation for the first time."""

    load: LoadCount
    reworked: int


def gather_first_counts(batch: Batch) -> Mapping[int, Sequence[FirstCount]]:
    """Operation → what its loads counted at the first count of each piece; held ones are left out."""
    seen: dict[int, set[int]] = defaultdict(set)
    found: dict[int, list[FirstCount]] = defaultdict(list)
    for op, said in (batch.late.counted if batch.late is not None else {}).items():
        seen[op].update(said)
        _add_load(found[op], len(said), [to for to in said.values() if to != "good"])
    for run in batch.runs.values():
        if run.count is not None:
            known = seen[run.op]
            before = len(known)
            marks = [mark.to for mark in run.count.marks for piece in mark.pieces if piece not in known]
            known.update(run.pieces)
            _add_load(found[run.op], len(known) - before, marks)
    return found


def _add_load(loads: list[FirstCount], pieces: int, marks: Sequence[str]) -> None:
    """A load of so many pieces, and what became of those that are not simply good."""
    decided = pieces - marks.count("hold")
    if decided:
        loads.append(FirstCount(LoadCount(pieces - len(marks), decided), marks.count("rework")))
