"""All that a plan of the shop is made from, taken at one moment, so that it can be worked out while work goes on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from floor.batch.state import Batch
from floor.entry import Moment
from floor.planning.outlook import Facts, Outlook, facts, outlook
from floor.planning.pace import paces
from floor.planning.problem import Asked, Change, Crew, Doubt, ask

MOST_RUNS = 2000
"""Runs above which only one way is planned: loads kept apart are far more, and large plans gain nothing by it."""


@dataclass(frozen=True, slots=True)
class Taken:
    """The open batches as they stood; nothing in it changes when they do."""

    ways: tuple[Asked, ...]
    """Ways to put the pieces on carriers: filled up first, then load by load."""
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

    def way(mixed: bool) -> Asked:
        return replace(ask(alive, now, crew, paces=known, mixed=mixed), doubts=doubts)

    filled = way(True)
    many = sum(len(load.runs) for load in filled.problem.loads) > MOST_RUNS
    apart = filled if many else way(False)
    return Taken(
        (filled, apart) if apart.problem != filled.problem else (filled,),
        yields,
        {batch.id: batch.checklist.operations[0].op for batch in alive},
    )


def ask_again(
    batches: Sequence[Batch], now: Moment, crew: Crew, changes: Mapping[str, Change], mixed: bool
) -> Asked:
    """The present state changed by what-ifs, its pieces put on carriers as in the plan."""
    known = {batch.id: paces(batch, crew.calendar) for batch in batches}
    return ask(batches, now, crew, paces=known, mixed=mixed, changes=changes)


def outlooks(taken: Taken, level: float) -> dict[str, Outlook]:
    """The outlook of each batch."""
    return {batch: outlook(known, level) for batch, known in taken.facts.items()}
