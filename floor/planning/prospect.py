"""All that a plan of the shop is made from, taken at one moment, so that it can be worked out while work goes on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from floor.batch.state import Batch
from floor.entry import Moment
from floor.planning.durations import Pace
from floor.planning.outlook import Facts, Outlook, facts, outlook
from floor.planning.pace import paces
from floor.planning.problem import Asked, Change, Crew, Doubt, ask

MOST_RUNS = 2000
"""Runs above which only one way is planned: loads kept apart are far more, and large plans gain nothing by it."""


@dataclass(frozen=True, slots=True)
class Taken:
    """The open batches as they stood; nothing in it changes when they do."""

    ways: tuple[Asked, ...]
    """Ways to put the pieces on carriers and into cycles: filled up first, then load by load, then one by one."""
    facts: Mapping[str, Facts]
    """By batch."""
    first_op: Mapping[str, int]
    """By batch: the operation where pieces are started."""


def take(batches: Sequence[Batch], now: Moment, crew: Crew) -> Taken:
    """What is known of these batches now.

    Raises:
        Impossible: a checklist's yields let nothing through.
    """
    alive = [batch for batch in batches if batch.closed is None and not batch.gone]
    known = {batch.id: paces(batch, crew.calendar) for batch in alive}
    yields = {batch.id: facts(batch, now, known[batch.id]) for batch in alive}
    doubts = {batch.id: Doubt(batch.checklist, known[batch.id], yields[batch.id]) for batch in alive}

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

    ways = [way(True, True)]
    many = sum(len(load.runs) for load in ways[0].problem.loads) > MOST_RUNS
    for mixed, together in ((False, True), (True, False)) if not many else ((True, False),):
        if together or any(one.loads_per_cycle > 1 for batch in batches for one in batch.checklist.operations):
            other = way(mixed, together)
            if all(other.problem != one.problem for one in ways):
                ways.append(other)
    return tuple(ways)


def outlooks(taken: Taken, level: float) -> dict[str, Outlook]:
    """The outlook of each batch."""
    return {batch: outlook(known, level) for batch, known in taken.facts.items()}
