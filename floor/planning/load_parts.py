"""What the loads of a plan are made of: pieces that go on together, a load before its runs are laid out, and what came.

A what-if changes them; what they are in the record's terms is kept beside them.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from floor.batch.load import Load as LiveLoad
from floor.batch.state import Batch
from floor.checklist.model import Operation
from floor.figures.schedule import LoadModel, Obstacle
from floor.planning.durations import RunDuration
from floor.planning.run_deadlines import RunDeadline

Todo = Sequence[tuple[int, tuple[int, ...]]]
"""What is still to be passed: operation, pieces."""


@dataclass(frozen=True, slots=True)
class PlannedWork:
    """What a planned run is, in the record's terms."""

    batch: str
    op: int
    pieces: int
    load: int | None
    """None for a load that is not formed yet."""
    pieces_of: tuple[int, ...] = ()
    """Their numbers."""
    forms: tuple[int, str] | None = None
    """First run of a load that could be formed now: the operation and rework route of the waiting pieces."""
    cycle: str = ""
    """The run that has the work of the cycle where that takes several loads; empty for a run with work of its own."""
    hidden: bool = False
    """It only takes the carrier, until the cycle is over."""
    in_cycle: int = 0
    """Pieces of all loads in the cycle, for the run that has its work; 0 where it takes one load."""


@dataclass(frozen=True, slots=True)
class BatchChange:
    """A what-if that changes what is in work."""

    lost: frozenset[int] = frozenset()
    """Numbers of loads that are scrapped."""
    more: int = 0
    """Pieces started in addition, now."""
    longer: Mapping[str, float] = field(default_factory=dict)
    """Clock → minutes by which its cure takes longer, a running one too."""


AS_IT_IS = BatchChange()


@dataclass(frozen=True, slots=True)
class PlanNames:
    """What the planner calls things, so that its sentences are the shop's."""

    station: Mapping[str, str]
    carrier: Mapping[str, str]
    several: bool
    """Whether there are several batches, so that each name says which."""

    def operation(self, batch: str, operation: Operation) -> str:
        title = f"{operation.op} {operation.title}"
        return f"{title} of {batch}" if self.several else title

    def load(self, batch: Batch, name: str) -> str:
        return f"{name} of {batch.id}" if self.several else name


@dataclass(frozen=True, slots=True)
class PieceStream:
    """Pieces that go on together: those of one load, as far as they end up on one."""

    pieces: tuple[int, ...]
    passed: dict[int, tuple[str, RunDuration, float]]
    """Operation → the planned run that passes them, its parts, its cure at the end."""
    last: str | None
    """The run that brings them here; None where they wait now."""

    def part(self, first: int, last: int) -> PieceStream:
        return replace(self, pieces=self.pieces[first:last])


@dataclass(frozen=True, slots=True)
class LoadDraft:
    """A load before its runs are laid out."""

    name: str
    carrier: str
    ops: Sequence[int]
    """The leg that it rides."""
    todo: Todo
    """What it goes through: the operation, and the pieces that do."""
    group: Sequence[PieceStream]
    live: LiveLoad | None = None
    forms: tuple[int, str] | None = None
    rework: str = ""
    """The rework that it is loaded for."""

    @property
    def once(self) -> dict[int, int]:
        """Operation → pieces, of those it goes through once."""
        ops = [op for op, _ in self.todo]
        return {op: len(pieces) for op, pieces in self.todo if ops.count(op) == 1}


@dataclass(slots=True)
class LaidOutBatch:
    """A batch laid out for the planner."""

    loads: list[LoadModel] = field(default_factory=list)
    works: dict[str, PlannedWork] = field(default_factory=dict)
    ripens: dict[str, datetime] = field(default_factory=dict)
    """Load → when a cure that runs now is over."""
    obstacles: list[Obstacle] = field(default_factory=list)
    closing: list[RunDeadline] = field(default_factory=list)


def fill_carriers(coming: Iterable[PieceStream], capacity: int, apart: bool) -> list[list[PieceStream]]:
    """Carriers filled to their capacity; apart, none holds pieces of two loads."""
    groups: list[list[PieceStream]] = []
    room, before = 0, object()
    queue: deque[PieceStream] = deque(stream for stream in coming if stream.pieces)
    while queue:
        stream = queue.popleft()
        if not room or (apart and stream.last != before):
            groups.append([])
            room, before = capacity, stream.last
        take = min(room, len(stream.pieces))
        groups[-1].append(stream.part(0, take))
        room -= take
        if take < len(stream.pieces):
            queue.appendleft(stream.part(take, len(stream.pieces)))
    return groups
