"""Pieces that cannot go on are left out of the plan; the others go on without them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from floor.dataclass import dataclass
from floor.figures.schedule import LoadModel, Obstacle, RunModel, SchedulingProblem
from floor.planning.planned_loads import PlannedWork
from floor.text import format_count


def drop_loads_with_pieces(
    problem: SchedulingProblem, works: Mapping[str, PlannedWork], loads: set[str]
) -> tuple[SchedulingProblem, dict[str, PlannedWork]]:
    """The problem without some loads and their pieces, and its other runs.

    A later load that would have taken these pieces goes on with the rest, in the time planned for all. Work before a
    dropped load is still done. A carrier under a dropped load counts as free, because somebody has to decide on that
    load first.
    """
    out = [load for load in problem.loads if load.id in loads]
    stuck = {(load.batch, piece) for load in out for run in load.runs for piece in works[run.id].pieces_of}
    later = _find_loads_behind(problem, loads)
    left: dict[str, PlannedWork] = {}
    for load in problem.loads:
        if load.id not in loads:
            without = stuck if load.id in later else set()
            left |= {run.id: work for run in load.runs if (work := _drop_pieces(works[run.id], without)).pieces_of}
    problem = _hand_on_cycles(problem, left)
    kept = (_keep_runs(load, left) for load in problem.loads if load.id not in loads)
    return replace(problem, loads=tuple(load for load in kept if load.runs)), left


def _drop_pieces(work: PlannedWork, stuck: set[tuple[str, int]]) -> PlannedWork:
    """A run's work without those of its pieces that are stuck."""
    pieces = tuple(piece for piece in work.pieces_of if (work.batch, piece) not in stuck)
    return work if len(pieces) == work.pieces else replace(work, pieces=len(pieces), pieces_of=pieces)


def _hand_on_cycles(problem: SchedulingProblem, left: dict[str, PlannedWork]) -> SchedulingProblem:
    """If the load whose run carried a shared cycle's work is dropped, the next one in it carries the same work."""
    heirs: dict[str, str] = {}
    for id, work in left.items():
        if work.cycle and work.cycle not in left and not work.hidden:
            heirs.setdefault(work.cycle, id)
    if not heirs:
        return problem
    for id, work in left.items():
        if work.cycle in heirs:
            left[id] = replace(work, cycle="" if heirs[work.cycle] == id else heirs[work.cycle])
    runs = {run.id: run for load in problem.loads for run in load.runs}
    of = {heir: runs[leader] for leader, heir in heirs.items()}

    def handed(run: RunModel) -> RunModel:
        run = replace(of[run.id], id=run.id) if run.id in of else run
        return replace(run, after=tuple(replace(link, run=heirs.get(link.run, link.run)) for link in run.after))

    loads = tuple(replace(load, runs=tuple(map(handed, load.runs))) for load in problem.loads)
    return replace(problem, loads=loads)


def _find_loads_behind(problem: SchedulingProblem, loads: set[str]) -> set[str]:
    """Loads that wait for these, directly or indirectly."""
    found = set(loads)
    while True:
        runs = {run.id for load in problem.loads if load.id in found for run in load.runs}
        more = {
            load.id
            for load in problem.loads
            if load.id not in found and any(link.run in runs for run in load.runs for link in run.after)
        }
        if not more:
            return found
        found |= more


def _keep_runs(load: LoadModel, left: Mapping[str, PlannedWork]) -> LoadModel:
    if all(run.id in left and all(link.run in left for link in run.after) for run in load.runs):
        return load
    return replace(
        load,
        runs=tuple(
            replace(run, after=tuple(link for link in run.after if link.run in left))
            for run in load.runs
            if run.id in left
        ),
    )


@dataclass(frozen=True, slots=True)
class UnplannedPieces:
    """The part of a batch that is not in the plan; the batch has no finish, as it would be that of a smaller order."""

    pieces: int
    op: int
    """The first operation that some of them do not reach."""
    why: tuple[Obstacle, ...]
    """The first one to fix comes first."""
    others: bool
    """Whether other pieces of the batch finish in the plan."""

    @property
    def short(self) -> str:
        """``finish unknown: 24 pieces are not planned from op 50 on``."""
        are = "is" if self.pieces == 1 else "are"
        return f"finish unknown: {format_count(self.pieces, 'piece')} {are} not planned from op {self.op} on"

    def __str__(self) -> str:
        if not self.why:
            return self.short
        more = len(describe_obstacles(self.why)) - 1
        said = f"{self.short}, because of {self.why[0].where}: {self.why[0].wrong}. {self.why[0].remedy}."
        return f"{said} {format_count(more, 'further reason')}." if more else said


def find_unplanned_pieces(
    asked: SchedulingProblem, kept: SchedulingProblem, works: Mapping[str, PlannedWork], obstacles: tuple[Obstacle, ...]
) -> dict[str, UnplannedPieces]:
    """Per batch, what is not in the plan; no entry for a fully planned batch."""
    there = {load.id for load in kept.loads}
    unplanned: dict[str, UnplannedPieces] = {}
    for batch in asked.batches:
        loads = [load for load in asked.loads if load.batch == batch.id]
        out = [load for load in loads if load.id not in there]
        if out:
            through = [load for load in kept.loads if load.batch == batch.id]
            last_op = max(works[run.id].op for load in loads for run in load.runs)
            unplanned[batch.id] = _sum_up_unplanned(out, through, last_op, works, obstacles)
    return unplanned


def _sum_up_unplanned(
    out: Sequence[LoadModel],
    kept: Sequence[LoadModel],
    last_op: int,
    works: Mapping[str, PlannedWork],
    obstacles: tuple[Obstacle, ...],
) -> UnplannedPieces:
    """Of one batch: the loads that are left out, and those that are planned."""
    runs = [works[run.id] for load in out for run in load.runs]
    ids = {load.id for load in out}
    return UnplannedPieces(
        len({piece for work in runs for piece in work.pieces_of}),
        min(work.op for work in runs),
        tuple(obstacle for obstacle in obstacles if obstacle.load in ids),
        any(works[load.runs[-1].id].op == last_op for load in kept),
    )


def describe_obstacles(obstacles: tuple[Obstacle, ...]) -> list[str]:
    """Each obstacle in a sentence or two, once for all the loads it blocks.

    The same reason at several operations is reported once.
    """
    loads: dict[tuple[str, str], list[Obstacle]] = {}
    for one in obstacles:
        loads.setdefault((one.where, one.remedy), []).append(one)
    same: dict[tuple[str, str], list[list[Obstacle]]] = {}
    for these in loads.values():
        same.setdefault((_less_numbers(these[0].wrong), these[0].remedy), []).append(these)
    said = []
    for groups in same.values():
        first = groups[0][0]
        more = len({one.load for these in groups for one in these}) - 1
        wheres = (
            f"{first.where} and {format_count(len(groups) - 1, 'other operation')}" if len(groups) > 1 else first.where
        )
        tail = f" (and {format_count(more, 'more load')})" if more > 0 else ""
        said.append(f"{wheres}: {first.wrong}{tail}. {first.remedy}.")
    return said


def _less_numbers(text: str) -> str:
    return "".join(letter for letter in text if not letter.isdigit() and letter != ".")
