"""What happened at a station between one value or load and the next, to be marked on a chart."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from enum import StrEnum
from typing import NamedTuple

from floor.batch.events import HandoverAccepted
from floor.batch.quality.tool_age import list_tool_changes
from floor.batch.state import Batch


class HappeningKind(StrEnum):
    """What may change a process."""

    SETUP = "set-up"
    TOOL = "tool change"
    HANDOVER = "handover"
    WAIVER = "waiver"


class Point(NamedTuple):
    """Where a value or load stands in the record."""

    seq: int
    setup: int
    station: str
    op: int


class Happening(NamedTuple):
    """Something that happened before a point of a chart."""

    before: int
    """The point, by its place in the order."""
    kind: HappeningKind


def list_happenings(batch: Batch, points: Sequence[Point]) -> list[Happening]:
    """What happened before each point but the first, at its station and operation, in the order of the points."""
    marks = sorted(
        [
            *((one.seq, HappeningKind.TOOL, one.station) for one in list_tool_changes(batch)),
            *((seq, HappeningKind.HANDOVER, "") for seq in list_accepted_handovers(batch)),
            *((seq, HappeningKind.WAIVER, one.op) for seq, one in batch.waivers.items()),
        ],
        key=lambda mark: mark[0],
    )
    seqs = [seq for seq, _, _ in marks]
    found = []
    for n in range(1, len(points)):
        last, here = points[n - 1], points[n]
        between = marks[bisect_left(seqs, last.seq + 1) : bisect_left(seqs, here.seq)]
        kinds = {kind for _, kind, where in between if where in ("", here.station, here.op)}
        if here.setup != last.setup:
            kinds.add(HappeningKind.SETUP)
        found += [Happening(n, kind) for kind in HappeningKind if kind in kinds]
    return found


def list_accepted_handovers(batch: Batch) -> list[int]:
    """Their entries; an acceptance is never struck out."""
    return [entry.seq for entry in batch.list_entries(HandoverAccepted.KIND)]
