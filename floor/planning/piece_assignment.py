"""Deal waiting pieces to the planned loads in their loading order.

An operator loads what has waited longest. The plan assigns pieces before it knows which load comes first, so they are
dealt again afterwards; then a load that is really formed keeps its place in the order of work.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import chain

from floor.figures.schedule import Plan, SchedulingProblem, StartSpan
from floor.planning.planned_loads import PlannedWork

Pool = tuple[str, int]
"""Batch, and operation at which its pieces wait."""


def assign_pieces(works: Mapping[str, PlannedWork], problem: SchedulingProblem, made: Plan) -> dict[str, PlannedWork]:
    """The works of a plan with the pieces its loads get if carriers are loaded in its order.

    Loads in rework keep their pieces, which were found at different operations. So does a pool with loads missing from
    the plan.
    """
    waiting = _pools(works.values())  # laid out in the order in which pieces wait
    loaded = _pools(works[run.run] for run in made.runs)  # in order of start
    allowed = {run.id: run.allowed for load in problem.loads for run in load.runs}
    found = dict(works)
    for (batch, op), loads in loaded.items():
        if len(loads) != len(waiting[batch, op]) or loads == waiting[batch, op]:
            continue
        pieces = [*chain.from_iterable(loads)]
        dealt_to = dict(zip(pieces, chain.from_iterable(waiting[batch, op]), strict=True))
        theirs = {
            id: work
            for id, work in works.items()
            if work.batch == batch and any(piece in dealt_to for piece in work.pieces_of)
        }
        if _alike(theirs, allowed):
            for id in theirs:
                named = tuple(dealt_to.get(piece, piece) for piece in found[id].pieces_of)
                found[id] = replace(found[id], pieces_of=named)
    return found


def map_interchangeable_pieces(
    works: Mapping[str, PlannedWork], before: Mapping[str, PlannedWork]
) -> dict[tuple[str, int], int]:
    """(batch, piece) → the piece in its place in the earlier plan, for loads that can still be formed as planned.

    Such a load equals an earlier one with as many pieces from the same pool, none loaded since.
    """
    found: dict[tuple[str, int], int] = {}
    planned = _pools(before.values())
    for pool, loads in _pools(works.values()).items():
        waiting = {*chain.from_iterable(loads)}
        left = [those for those in planned.get(pool, ()) if waiting.issuperset(those)]
        for pieces in loads:
            same = next((those for those in left if len(those) == len(pieces)), None)
            if same is not None:
                left.remove(same)
                found |= {(pool[0], piece): other for piece, other in zip(pieces, same, strict=True)}
    return found


def _pools(works: Iterable[PlannedWork]) -> dict[Pool, list[tuple[int, ...]]]:
    """Pool → pieces of each of its loads that can be formed now, without loads in rework."""
    found: dict[Pool, list[tuple[int, ...]]] = {}
    for work in works:
        if work.forms is not None and not work.forms[1]:
            found.setdefault((work.batch, work.forms[0]), []).append(work.pieces_of)
    return found


def _alike(works: Mapping[str, PlannedWork], allowed: Mapping[str, Sequence[StartSpan]]) -> bool:
    """Whether the record lets all of them start at the same times at every operation."""
    at: dict[int, set[tuple[StartSpan, ...]]] = {}
    for id, work in works.items():
        if id in allowed:
            at.setdefault(work.op, set()).add(tuple(allowed[id]))
    return all(len(spans) == 1 for spans in at.values())
