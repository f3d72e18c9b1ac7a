"""What a batch tells those after it: what its loads counted at each operation, and what its work took."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import field
from datetime import datetime
from typing import NamedTuple

from floor.batch.quality.first_counts import gather_first_counts
from floor.batch.quality.run_times import RunPart, list_part_times
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.figures.calendar import Calendar
from floor.figures.quality.share_by_load import LoadCount


class TimedPart(NamedTuple):
    """What one part of a run took; parts of one run share its number."""

    run: int
    part: RunPart
    pieces: int
    took: float
    """Seconds."""


@dataclass(frozen=True, slots=True)
class OpFacts:
    """One operation of a batch."""

    op: int
    title: str
    cycle: bool
    station: str
    """Where it is usually done, by id; and by name."""
    station_name: str
    loads: tuple[LoadCount, ...]
    """Good at the first count of each piece; held ones are in none."""
    reworked: int
    """Of these pieces, sent to rework at that count."""
    times: tuple[TimedPart, ...]

    @property
    def pieces(self) -> int:
        return sum(load.pieces for load in self.loads)


@dataclass(frozen=True, slots=True)
class BatchFacts:
    """A batch, as far as others can learn from it."""

    id: str
    first: str
    """Hash of its first entry, which tells it from another of its name."""
    part: str
    revision: str
    file: str
    opened: datetime
    last: datetime
    """When it was closed; of an open one, its last entry."""
    closed: bool
    ordered: int
    started: int
    finished: int
    late: bool
    """Whether it was entered half done: what was done before has counts and no times."""
    ops: Mapping[int, OpFacts]


@dataclass(frozen=True, slots=True)
class EarlierBatches:
    """What batches of a shop tell of a part."""

    same: tuple[BatchFacts, ...] = ()
    """Of the part."""
    others: tuple[BatchFacts, ...] = ()
    """Of other parts, done at the same stations."""
    left_out: Mapping[str, str] = field(default_factory=dict)
    """Name → why a batch cannot be read."""
    not_read: int = 0
    """Older batches of the part beyond those that were read."""


def gather_facts(batch: Batch, calendar: Calendar) -> BatchFacts:
    """The facts of a batch as it stands; runs entered late have no times."""
    times: dict[int, list[TimedPart]] = defaultdict(list)
    for run, part, pieces, took in list_part_times(batch, calendar):
        if not run.late:
            times[run.op].append(TimedPart(run.number, part, pieces, took))
    counts = gather_first_counts(batch)
    return BatchFacts(
        batch.id,
        batch.entries[0].hash,
        batch.checklist.part.number,
        batch.checklist.part.revision,
        batch.file,
        batch.opened,
        batch.closed or batch.last.at,
        batch.closed is not None,
        batch.order,
        batch.started,
        batch.total("finished"),
        batch.late is not None,
        {op: _gather_op(batch, op, counts.get(op, ()), times.get(op, ())) for op in batch.checklist.ops},
    )


def _gather_op(batch: Batch, op: int, counts: Sequence[tuple[LoadCount, int]], times: Sequence[TimedPart]) -> OpFacts:
    operation = batch.operation(op)
    station = batch.checklist.station(operation.station)
    return OpFacts(
        op,
        operation.title,
        operation.cycle,
        station.id,
        station.name,
        tuple(load for load, _ in counts),
        sum(reworked for _, reworked in counts),
        tuple(times),
    )
