"""Everything a plan is made from, copied at one moment, so that planning can run while work goes on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.figures.schedule import LARGE
from floor.planning.batch_forecast import ForecastInputs, Outlook, collect_forecast_inputs, compute_outlook
from floor.planning.durations import TimeFactors
from floor.planning.pace import estimate_time_factors
from floor.planning.plan import ShopPlan
from floor.planning.problem import BatchChange, Crew, PlanningRequest, build_planning_request
from floor.planning.yield_risk import assess_yield_risk


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A copy of the open batches that does not change with them."""

    ways: tuple[PlanningRequest, ...]
    """Ways to combine pieces on carriers and in cycles: carriers filled up, then load by load, then one by one."""
    facts: Mapping[str, ForecastInputs]
    """By batch."""
    first_op: Mapping[str, int]
    """By batch: the operation where pieces are started."""

    @property
    def runs(self) -> int:
        """Number of runs to plan if carriers are filled up."""
        return _runs(self.ways[0])

    def like(self, shop_plan: ShopPlan) -> tuple[PlanningRequest, ...]:
        """The request variant that a plan used."""
        planned = shop_plan.asked
        return tuple(way for way in self.ways if (way.mixed, way.together) == (planned.mixed, planned.together))


def take_snapshot(batches: Sequence[Batch], now: Moment, crew: Crew) -> Snapshot:
    """Take a snapshot of these batches.

    Raises:
        Impossible: a checklist's yields let nothing through.
    """
    alive = [batch for batch in batches if batch.closed is None and not batch.gone]
    known = {batch.id: estimate_time_factors(batch, crew.calendar) for batch in alive}
    yields = {batch.id: collect_forecast_inputs(batch, now, known[batch.id]) for batch in alive}
    doubts = {batch.id: assess_yield_risk(batch, known[batch.id], yields[batch.id]) for batch in alive}

    ways = tuple(replace(way, doubts=doubts) for way in build_request_variants(alive, now, crew, known))
    return Snapshot(
        ways,
        yields,
        {batch.id: batch.checklist.operations[0].op for batch in alive},
    )


def build_request_variants(
    batches: Sequence[Batch],
    now: Moment,
    crew: Crew,
    known: Mapping[str, Mapping[int, TimeFactors]],
    changes: Mapping[str, BatchChange] | None = None,
) -> tuple[PlanningRequest, ...]:
    """Request variants for these batches, the one that fills carriers first.

    Args:
        known: the pace of each batch.
        changes: what-ifs, by batch.
    """

    def way(mixed: bool, together: bool) -> PlanningRequest:
        return build_planning_request(batches, now, crew, paces=known, mixed=mixed, together=together, changes=changes)

    ways = [way(True, True)]  # a large shop gets only one: keeping loads apart makes far more of them and gains nothing
    for mixed, together in ((False, True), (True, False)) if _runs(ways[0]) <= LARGE else ((True, False),):
        if together or any(one.loads_per_cycle > 1 for batch in batches for one in batch.checklist.operations):
            other = way(mixed, together)
            if all(other.problem != one.problem for one in ways):
                ways.append(other)
    return tuple(ways)


def _runs(asked: PlanningRequest) -> int:
    return sum(len(load.runs) for load in asked.problem.loads)


def compute_outlooks(taken: Snapshot, level: float) -> dict[str, Outlook]:
    """The outlook of each batch."""
    return {batch: compute_outlook(known, level) for batch, known in taken.facts.items()}
