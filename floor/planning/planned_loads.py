"""What a plan's loads are made of: pieces that go on together, a load before its runs are laid out, and the result.

A what-if changes them; their meaning in the record is kept beside them.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field, replace
from datetime import datetime

from floor.batch.load import Load as LiveLoad
from floor.batch.state import Batch
from floor.checklist.operation import Operation
from floor.dataclass import dataclass
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
    """For the first run of a load that can be formed now: operation and rework route of the waiting pieces."""
    cycle: str = ""
    """For a shared cycle, the run that carries its work; empty for a run with work of its own."""
    hidden: bool = False
    """Whether it only occupies the carrier until the cycle is over."""
    in_cycle: int = 0
    """For the run with a shared cycle's work, the pieces of all its loads; 0 otherwise."""


@dataclass(frozen=True, slots=True)
class BatchChange:
    """A what-if that changes a batch's pieces or cures."""

    lost: frozenset[int] = frozenset()
    """Numbers of loads that are scrapped."""
    more: int = 0
    """Additional pieces started now."""
    longer: Mapping[str, float] = field(default_factory=dict)
    """Timer → extra minutes of its cure, also if running."""


AS_IT_IS = BatchChange()


@dataclass(frozen=True, slots=True)
class PlanNames:
    """The shop's names for things, for the planner's sentences."""

    station: Mapping[str, str]
    carrier: Mapping[str, str]
    several: bool
    """Whether there are several batches, so that names include the batch."""

    def operation(self, batch: str, operation: Operation) -> str:
        title = f"{operation.op} {operation.title}"
        return f"{title} of {batch}" if self.several else title

    def load(self, batch: Batch, name: str) -> str:
        return f"{name} of {batch.id}" if self.several else name


@dataclass(frozen=True, slots=True)
class PieceStream:
    """Pieces that go on together: those of one load that stay on one."""

    pieces: tuple[int, ...]
    passed: dict[int, tuple[str, RunDuration, float]]
    """Operation → the planned run, its parts, its final cure."""
    last: str | None
    """The run that brings them here; None if they wait now."""

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
    """(operation, pieces) that it goes through."""
    group: Sequence[PieceStream]
    live: LiveLoad | None = None
    forms: tuple[int, str] | None = None
    rework: str = ""
    """The rework it is loaded for."""

    @property
    def once(self) -> dict[int, int]:
        """Operation → pieces, for operations it passes once."""
        ops = [op for op, _ in self.todo]
        return {op: len(pieces) for op, pieces in self.todo if ops.count(op) == 1}


@dataclass(slots=True)
class LaidOutBatch:
    """A batch laid out for the planner."""

    loads: list[LoadModel] = field(default_factory=list)
    works: dict[str, PlannedWork] = field(default_factory=dict)
    ripens: dict[str, datetime] = field(default_factory=dict)
    """Load → end of a cure running now."""
    obstacles: list[Obstacle] = field(default_factory=list)
    closing: list[RunDeadline] = field(default_factory=list)

    def add(self, other: LaidOutBatch) -> None:
        """Take in another batch."""
        self.loads += other.loads
        self.works |= other.works
        self.ripens |= other.ripens
        self.obstacles += other.obstacles
        self.closing += other.closing


def fill_carriers(coming: Iterable[PieceStream], capacity: int, apart: bool) -> list[list[PieceStream]]:
    """Fill carriers to capacity; with ``apart``, none holds pieces of two loads."""
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
