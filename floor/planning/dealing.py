"""Pieces that wait together dealt to the planned loads in the order in which these are loaded.

Whoever loads a carrier takes what has waited longest. The plan names its loads before it knows which comes first, so
their pieces are named again when it does: what is loaded then has the place in the order of work that the plan gave it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from floor.figures.schedule import Plan, Problem, Span
from floor.planning.loads import Work

Pool = tuple[str, int]
"""Batch and operation of pieces that wait."""


def dealt(works: Mapping[str, Work], problem: Problem, made: Plan) -> dict[str, Work]:
    """The works of a plan with the pieces that its loads get when carriers are loaded in its order.

    What goes back for rework keeps its pieces, as they were found at different operations; so does what waits where
    some of it is not in the plan.
    """
    waiting: dict[Pool, list[int]] = {}
    for work in works.values():  # laid out in the order in which pieces wait
        if work.forms is not None and not work.forms[1]:
            waiting.setdefault((work.batch, work.forms[0]), []).extend(work.pieces_of)
    loaded: dict[Pool, list[int]] = {pool: [] for pool in waiting}
    for run in made.runs:  # in order of start
        work = works[run.run]
        if work.forms is not None and not work.forms[1]:
            loaded[work.batch, work.forms[0]] += work.pieces_of
    allowed = {run.id: run.allowed for load in problem.loads for run in load.runs}
    found = dict(works)
    for (batch, op), pieces in loaded.items():
        theirs = {
            id: work for id, work in works.items() if work.batch == batch and not set(pieces).isdisjoint(work.pieces_of)
        }
        if len(pieces) == len(waiting[batch, op]) and _alike(theirs, allowed):
            dealt_to = dict(zip(pieces, waiting[batch, op], strict=True))
            for id in theirs:
                named = tuple(dealt_to.get(piece, piece) for piece in found[id].pieces_of)
                found[id] = replace(found[id], pieces_of=named)
    return found


def _alike(works: Mapping[str, Work], allowed: Mapping[str, Sequence[Span]]) -> bool:
    """Whether the record lets one piece start when it lets another, at every operation."""
    at: dict[int, set[tuple[Span, ...]]] = {}
    for id, work in works.items():
        if id in allowed:
            at.setdefault(work.op, set()).add(tuple(allowed[id]))
    return all(len(spans) == 1 for spans in at.values())
