"""All that a plan of the shop is made from, taken at one moment, so that it can be worked out while work goes on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from floor.batch.state import Batch
from floor.entry import Moment
from floor.figures.schedule import LARGE
from floor.planning.durations import Pace
from floor.planning.forecast import Facts, Outlook, facts, outlook
from floor.planning.plan import ShopPlan
from floor.planning.problem import Asked, Change, Crew, ask
from floor.planning.time_factors import paces
from floor.planning.yield_risk import doubt_of


@dataclass(frozen=True, slots=True)
class Taken:
    """The open batches as they stood; nothing in it changes when they do."""

    ways: tuple[Asked, ...]
    """Ways to put the pieces on carriers and into cycles: filled up first, then load by load, then one by one."""
    facts: Mapping[str, Facts]
    """By batch."""
    first_op: Mapping[str, int]
    """By batch: the operation where pieces are started."""

    @property
    def runs(self) -> int:
        """Runs to be planned, where carriers are filled up."""
        return _runs(self.ways[0])

    def like(self, shop_plan: ShopPlan) -> tuple[Asked, ...]:
        """The way in which a plan puts the pieces on carriers and into cycles."""
        planned = shop_plan.asked
        return tuple(way for way in self.ways if (way.mixed, way.together) == (planned.mixed, planned.together))


def take(batches: Sequence[Batch], now: Moment, crew: Crew) -> Taken:
    """What is known of these batches now.

    Raises:
        Impossible: a checklist's yields let nothing through.
    """
    alive = [batch for batch in batches if batch.closed is None and not batch.gone]
    known = {batch.id: paces(batch, crew.calendar) for batch in alive}
    yields = {batch.id: facts(batch, now, known[batch.id]) for batch in alive}
    doubts = {batch.id: doubt_of(batch, known[batch.id], yields[batch.id]) for batch in alive}

    ways = tuple(replace(way, doubts=doubts) for way in ways_of(alive, now, crew, known))
    return Taken(
        ways,
        yields,
        {batch.id: batch.checklist.operations[0].op for batch in alive},
    )


def ways_of(
    batches: Sequence[Batch],
    now: Moment,
    crew: Crew,
    known: Mapping[str, Mapping[int, Pace]],
    changes: Mapping[str, Change] | None = None,
) -> tuple[Asked, ...]:
    """Ways to put the pieces of these batches on carriers and into cycles, the one that fills up first.

    Args:
        known: the pace of each batch.
        changes: what-ifs, by batch.
    """

    def way(mixed: bool, together: bool) -> Asked:
        return ask(batches, now, crew, paces=known, mixed=mixed, together=together, changes=changes)

    ways = [way(True, True)]  # of a large shop only one: loads kept apart are far more, and it gains nothing by them
    for mixed, together in ((False, True), (True, False)) if _runs(ways[0]) <= LARGE else ((True, False),):
        if together or any(one.loads_per_cycle > 1 for batch in batches for one in batch.checklist.operations):
            other = way(mixed, together)
            if all(other.problem != one.problem for one in ways):
                ways.append(other)
    return tuple(ways)


def _runs(asked: Asked) -> int:
    return sum(len(load.runs) for load in asked.problem.loads)


def outlooks(taken: Taken, level: float) -> dict[str, Outlook]:
    """The outlook of each batch."""
    return {batch: outlook(known, level) for batch, known in taken.facts.items()}
