"""What a batch tells those after it: what its loads counted at each operation, what its work took, and how the lots
of its sampling plans came out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from datetime import datetime
from typing import NamedTuple

from floor.batch.earlier import EarlierLots
from floor.batch.gates.samples import iter_sampled_gates, list_first_samples
from floor.batch.quality.first_counts import gather_first_counts
from floor.batch.quality.run_times import RunPart, list_part_times
from floor.batch.run import SampleResult
from floor.batch.state import Batch
from floor.checklist.gates import ByPlan, Measured
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


class JudgedLot(NamedTuple):
    """A load judged by its first sample, and when."""

    at: datetime
    taken: SampleResult


@dataclass(frozen=True, slots=True)
class PlanFacts:
    """The lots of one sampling plan of a batch, the oldest first."""

    op: int
    what: WhatIsSampled
    lots: tuple[JudgedLot, ...]
    before: EarlierLots | None
    """Where the series stood when the batch was opened."""


class WhatIsSampled(NamedTuple):
    """What tells one sampling plan from another: its lots go on only where all of it is the same."""

    what: str
    sample: ByPlan
    limits: tuple[tuple[str, float | None, float | None, str], ...]
    """Of each value asked for: what it is called, low, high, unit."""


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
    plans: tuple[PlanFacts, ...] = ()
    """Its sampling plans, in the order of the route."""


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
        tuple(_gather_plans(batch)),
    )


def find_what_is_sampled(gate: Measured, sample: ByPlan) -> WhatIsSampled:
    limits = ((ask.label, ask.low, ask.high, ask.unit) for ask in gate.asks() if ask.kind != "gauge")
    return WhatIsSampled(gate.what, sample, tuple(limits))


def _gather_plans(batch: Batch) -> Iterator[PlanFacts]:
    for op, line, gate, sample in iter_sampled_gates(batch.checklist):
        runs = [run for run in batch.runs.values() if run.op == op]
        lots = (JudgedLot(batch.entries[one.seq - 1].time, one) for one in list_first_samples(runs, line))
        before = batch.lots_before.get((op, line))
        yield PlanFacts(op, find_what_is_sampled(gate, sample), tuple(lots), before)


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
