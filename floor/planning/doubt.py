"""What uncertain yields may bring beside the plan: rework of a run's pieces, and loads to make up for what is scrapped.

Both go into the problem, where the spread of the finish draws them; the plan itself takes every piece to come out good.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import zip_longest

from floor.checklist.model import Checklist, Operation
from floor.entry import Moment
from floor.figures.forecast import good_pieces
from floor.figures.schedule import After, Kind, Load, MakeUp, Phase, Plan, Problem, Redo, Run
from floor.planning.durations import AS_PLANNED, Pace, parts
from floor.planning.loads import Work, lay_out
from floor.planning.problem import Asked, Doubt
from floor.planning.start import fresh
from floor.planning.windows import tail

_SIZES = 4
"""So many sizes of shortage stand for all."""

_MOST = 5000
"""Pieces made up at most, as many as a batch may have."""

_UNLIKELY = 1e-3
"""Chance of a shortage below which it is left out."""


def doubtful(asked: Asked, problem: Problem, plan: Plan) -> Problem:
    """The problem with its rework and make-up loads; as it is where nothing is known of the yields.

    Args:
        plan: of the problem: make-up loads begin when the last load is through the last operation that loses pieces.
    """
    batches = tuple(
        replace(batch, make_up=tuple(_made_up(asked, plan, batch.id, asked.doubts[batch.id])))
        if batch.id in asked.doubts
        else batch
        for batch in problem.batches
    )
    loads = tuple(
        replace(load, runs=tuple(_with_rework(run, asked.works[run.id], asked.doubts[load.batch]) for run in load.runs))
        if load.batch in asked.doubts
        else load
        for load in problem.loads
    )
    # Where every carrier is under surplus now, whoever starts more to make up for scrap decides on that first.
    made_up = {load.carrier for batch in batches for one in batch.make_up for load in one.loads}
    carriers = {kind: max(count, 1) if kind in made_up else count for kind, count in problem.carriers.items()}
    return replace(problem, batches=batches, loads=loads, carriers=carriers)


def _with_rework(run: Run, work: Work, doubt: Doubt) -> Run:
    """The run with the rework that may come of it, where any is believed in."""
    if work.cycle or work.op not in doubt.checklist.route:
        return run  # what one cycle takes together, its first run has; what a rework saves is its own yield
    belief = doubt.facts.beliefs[doubt.checklist.route.index(work.op)]
    if belief.reworkable is None:
        return run
    phases, each = _second_pass(doubt.checklist, doubt.checklist.ops[work.op], doubt.paces)
    return replace(run, redo=Redo(work.in_cycle or work.pieces, belief.first, belief.reworkable, phases, each))


def _second_pass(
    checklist: Checklist, found: Operation, paces: Mapping[int, Pace]
) -> tuple[tuple[Phase, ...], tuple[float, ...]]:
    """Hands, machine and cure of a piece's way back to the operation that found it wanting; and each piece's share."""
    ways = [[op for op in checklist.way(reason.rework) if op <= found.op] for reason in found.reasons if reason.rework]
    way = max(ways, key=lambda ops: _minutes(checklist, ops), default=[found.op])
    fixed, each, cured = [0.0, 0.0], [0.0, 0.0], 0.0
    for op, following in zip_longest(way, way[1:]):
        operation = checklist.ops[op]
        pace = paces.get(operation.op, AS_PLANNED)
        none, one = parts(operation, 0, pace), parts(operation, 1, pace)
        attended = operation.time.cycle_attended
        for part, at in (("before", 0), ("cycle", 0 if attended else 1), ("after", 0)):
            fixed[at] += getattr(none, part)
            each[at] += getattr(one, part) - getattr(none, part)
        if following is not None:
            cured += tail(checklist, operation, one, following)
    spread = paces.get(found.op, AS_PLANNED)
    phases = (
        Phase(Kind.ATTENDED, fixed[0], interruptible=True, spread=spread.hand_spread),
        Phase(Kind.UNATTENDED, fixed[1], spread=spread.cycle_spread),
        Phase(Kind.CURE, cured),
    )
    return phases, (*each, 0.0)


def _minutes(checklist: Checklist, ops: Sequence[int]) -> float:
    """Of the work on one piece, and of its cures."""
    found = 0.0
    for op, following in zip_longest(ops, ops[1:]):
        one = parts(checklist.ops[op], 1)
        found += one.total + (tail(checklist, checklist.ops[op], one, following) if following is not None else 0.0)
    return found


def _made_up(asked: Asked, plan: Plan, batch: str, doubt: Doubt) -> Iterator[MakeUp]:
    """Shortages of a few sizes, each with its chance and the loads that make up for it."""
    facts = doubt.facts
    law = good_pieces(facts.finished, facts.hand, facts.beliefs)
    short = [(facts.ordered - good, chance) for good, chance in enumerate(law.chances, law.first)
             if good < facts.ordered]  # fmt: skip
    total = math.fsum(chance for _, chance in short)
    if total < _UNLIKELY:
        return
    passes = math.prod(belief.mean for belief in facts.beliefs)
    after = _counted(asked, plan, batch, doubt)
    sizes: list[list[float]] = [[0.0, 0.0] for _ in range(_SIZES)]
    seen = 0.0
    for missing, chance in short:
        size = sizes[min(_SIZES - 1, int(_SIZES * seen / total))]
        size[0] += chance
        size[1] += chance * missing
        seen += chance
    for chance, lacking in sizes:
        if chance:
            pieces = max(1, min(round(lacking / chance / passes), _MOST))
            yield MakeUp(chance, tuple(_loads(asked, batch, doubt, pieces, after)))


def _counted(asked: Asked, plan: Plan, batch: str, doubt: Doubt) -> str | None:
    """The last run of the last operation that loses pieces, as planned; None where none is to come."""
    losing = [op for op, belief in zip(doubt.checklist.route, doubt.facts.beliefs, strict=True) if belief.mean < 1]
    runs = [run for run in plan.runs if run.batch == batch and losing and asked.works[run.run].op == losing[-1]]
    return max(runs, key=lambda run: run.end.timestamp()).run if runs else None


def _loads(asked: Asked, batch: str, doubt: Doubt, pieces: int, after: str | None) -> Iterator[Load]:
    """So many pieces from the beginning of the route, their first runs after a run of the plan."""
    assert asked.names is not None, "whoever knows the yields knows the names"
    now = Moment(asked.problem.now)
    laid = lay_out(
        fresh(doubt.checklist, 1, pieces, now, batch), now, asked.names, doubt.paces, mixed=asked.mixed,
        together=asked.together,
    )  # fmt: skip

    def named(id: str) -> str:
        return f"{id}, {pieces} made up"

    for load in laid.loads:
        runs = [
            replace(run, id=named(run.id), after=tuple(replace(link, run=named(link.run)) for link in run.after))
            for run in load.runs
        ]
        if after is not None and not runs[0].after:
            runs[0] = replace(runs[0], after=(After(after),))
        yield replace(load, id=named(load.id), runs=tuple(runs))
