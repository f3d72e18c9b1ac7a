"""A scenario: everything a plan is made from, so that a what-if is planned exactly as a shop that has it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import field, replace
from datetime import datetime

from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.figures.schedule import SchedulingProblem, add_places, take_station_down
from floor.figures.workdays import find_due_moment
from floor.planning.batch_forecast import collect_forecast_inputs
from floor.planning.curing import lengthen_cures
from floor.planning.durations import TimeFactors
from floor.planning.pace import estimate_time_factors
from floor.planning.plan import ShopPlan
from floor.planning.planned_loads import BatchChange
from floor.planning.problem import Crew, PlanningRequest, YieldRisk
from floor.planning.snapshot import build_request_variants
from floor.planning.yield_risk import assess_yield_risk

AHEAD = 10.0
"""Weight of an hour of a batch that goes first against one of the next: with much more, the plan would give days of the
others for its last hour, which no shop does.
"""


@dataclass(frozen=True, slots=True)
class Scenario:
    """The open batches, who is in, and the assumed changes."""

    batches: tuple[Batch, ...]
    crew: Crew
    changes: Mapping[str, BatchChange] = field(default_factory=dict)
    """Per batch: assumed changes to its pieces and cures."""
    places: Mapping[str, int] = field(default_factory=dict)
    """Station name → additional places."""
    down: Mapping[str, datetime] = field(default_factory=dict)
    """Station name → it starts nothing before this."""
    first: tuple[str, ...] = ()
    """Batches that go before all others, in their order."""

    def more_carriers(self, kind: str, count: int) -> Scenario:
        """With this many more carriers of a kind, or fewer if negative."""
        return replace(self, batches=tuple(_with_carriers(batch, kind, count) for batch in self.batches))

    def changed(self, batch: str, change: BatchChange) -> Scenario:
        """With one more change to a batch."""
        old = self.changes.get(batch, BatchChange())
        longer = {id: old.longer.get(id, 0.0) + change.longer.get(id, 0.0) for id in {*old.longer, *change.longer}}
        both = BatchChange(old.lost | change.lost, old.more + change.more, longer)
        return replace(self, changes={**self.changes, batch: both})

    def ways(self, now: Moment, known: Mapping[str, Mapping[int, TimeFactors]]) -> tuple[PlanningRequest, ...]:
        """The planner's requests.

        Args:
            known: the pace of each batch, unaffected by the changes.

        Raises:
            Impossible: a checklist's yields let nothing through.
        """
        found = build_request_variants(self.batches, now, self.crew, known, self.changes)
        doubts = {batch.id: self._doubt(batch, now, known[batch.id]) for batch in self.batches}
        return tuple(replace(way, problem=self._supposed(way.problem), doubts=doubts) for way in found)

    def _doubt(self, batch: Batch, now: Moment, pace: Mapping[int, TimeFactors]) -> YieldRisk:
        """A batch's yield risk; pieces made again for a scrapped load may be lost too."""
        known, change = collect_forecast_inputs(batch, now, pace), self.changes.get(batch.id, BatchChange())
        more = change.more - sum(len(batch.present(batch.loads[number])) for number in change.lost)
        first, *others = known.hand
        hand = (replace(first, waiting=first.waiting + more), *others)
        cured = replace(batch, checklist=lengthen_cures(batch.checklist, change.longer))
        return assess_yield_risk(cured, pace, replace(known, hand=hand))

    def _supposed(self, problem: SchedulingProblem) -> SchedulingProblem:
        for station, count in self.places.items():
            problem = add_places(problem, station, count)
        for station, until in self.down.items():
            problem = take_station_down(problem, station, until)
        if not self.first:
            return problem
        weights = {batch: AHEAD ** (len(self.first) - n) for n, batch in enumerate(self.first)}
        return replace(
            problem,
            batches=tuple(
                replace(one, due=problem.now, weight=weights[one.id]) if one.id in weights else one
                for one in problem.batches
            ),
        )


def build_scenario(batches: Sequence[Batch], crew: Crew) -> Scenario:
    """The shop as it is."""
    return Scenario(tuple(batch for batch in batches if batch.closed is None and not batch.gone), crew)


def estimate_scenario_time_factors(case: Scenario) -> dict[str, dict[int, TimeFactors]]:
    """The pace of each batch."""
    return {batch.id: dict(estimate_time_factors(batch, case.crew.calendar)) for batch in case.batches}


def restore_due_days(shop_plan: ShopPlan) -> ShopPlan:
    """The plan with the real due days: batches that go first were planned as due at once."""
    calendar, days = shop_plan.problem.calendar, shop_plan.asked.due
    batches = tuple(
        replace(one, due=find_due_moment(calendar, days[one.id]) if one.id in days else None, weight=1.0)
        for one in shop_plan.problem.batches
    )
    return replace(shop_plan, problem=replace(shop_plan.problem, batches=batches))


def _with_carriers(batch: Batch, kind: str, count: int) -> Batch:
    carriers = tuple(
        replace(one, count=one.count + count) if one.id == kind else one for one in batch.checklist.carriers
    )
    return replace(batch, checklist=replace(batch.checklist, carriers=carriers))


Supposing = Callable[[Scenario], Scenario]
"""Makes one scenario from another."""
