"""Shared cycles in the planner.

The run of the first load carries the work and places of all; the runs of the others have no length and are tied to its
end. A load formed only for the cycle takes its carrier when the cycle starts.

A cycle with a turnover is planned in equal halves. With one spindle and several pallets the next loads only when the
one before is done; what is next lists that start early, and the walk refuses it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace

from floor.batch.load import Load as LiveLoad
from floor.batch.state import Batch
from floor.checklist.operation import Operation
from floor.dataclass import dataclass
from floor.figures.schedule import (
    LoadModel,
    Obstacle,
    Phase,
    PhaseKind,
    PlannedRun,
    Precedence,
    RunModel,
    StartSpan,
    StartWindow,
)
from floor.planning.cure_windows import ANY_TIME, intersect_spans, intersect_windows
from floor.planning.durations import RunDuration, TimeFactors, compute_run_duration

NO_TIME = (Phase(PhaseKind.CURE, 0.0),)
AT_ITS_END = (StartWindow(0.0, 0.0),)


@dataclass(frozen=True, slots=True)
class SharedCycle:
    """One cycle of several loads."""

    loads: tuple[str, ...]
    """The loads by planner name; the first one's run stands for all."""
    op: int
    pieces: tuple[int, ...]
    """Of each load."""

    def parts(self, operation: Operation, pace: TimeFactors) -> RunDuration:
        """Attended work for each load, and one cycle for all their pieces."""
        each = [compute_run_duration(operation, pieces, pace) for pieces in self.pieces]
        whole = compute_run_duration(operation, sum(self.pieces), pace)
        return RunDuration(sum(one.before for one in each), whole.cycle, sum(one.after for one in each), whole.turns)


def find_shared_cycles(
    batch: Batch, ops: Iterable[int], loads: Sequence[tuple[str, LiveLoad | None, Mapping[int, int]]], together: bool
) -> dict[tuple[str, int], SharedCycle]:
    """(load, operation) → the cycle it shares with other loads.

    Args:
        loads: name, the load if formed, and operation → pieces for operations passed once.
        together: also combine loads that have not come that far yet.
    """
    found: dict[tuple[str, int], SharedCycle] = {}
    for op in ops:
        most = batch.operation(op).loads_per_cycle
        if most == 1:
            continue
        chunks, to_come = _group_by_cycle(batch, op, loads)
        if together:
            chunks += [to_come[n : n + most] for n in range(0, len(to_come), most)]
        for chunk in chunks:
            if len(chunk) > 1:
                joint = SharedCycle(tuple(name for name, _ in chunk), op, tuple(pieces for _, pieces in chunk))
                found |= {(name, op): joint for name in joint.loads}
    return found


def _group_by_cycle(
    batch: Batch, op: int, loads: Sequence[tuple[str, LiveLoad | None, Mapping[int, int]]]
) -> tuple[list[list[tuple[str, int]]], list[tuple[str, int]]]:
    """Loads with their pieces at an operation: those together in a cycle now, and those still to come there."""
    cycles: dict[int, list[tuple[str, int]]] = {}
    to_come: list[tuple[str, int]] = []
    for name, live, todo in loads:
        if op not in todo:
            continue
        run = batch.runs[live.run] if live is not None and live.run is not None else None
        if run is None or run.op != op:
            to_come.append((name, todo[op]))
        elif run.ended is None and run.count is None:
            cycles.setdefault(run.cycle, []).append((name, todo[op]))
    return [group for cycle, group in cycles.items() if cycle], to_come


@dataclass(slots=True)
class _StartConditions:
    """When a run that stands for several may start."""

    after: dict[str, tuple[StartWindow, ...]]
    """Run → the windows after its end."""
    allowed: tuple[StartSpan, ...]
    clash: bool = False
    """Whether the runs have no time in common."""

    def narrow_to(self, run: RunModel) -> None:
        """Also require what another of the runs must hit."""
        for link in run.after:
            windows = intersect_windows(self.after.get(link.run, ANY_TIME), link.windows)
            self.clash = self.clash or not windows
            self.after[link.run] = windows or ANY_TIME
        if run.allowed:
            self.allowed = intersect_spans(self.allowed, run.allowed) if self.allowed else run.allowed
            self.clash = self.clash or not self.allowed


def merge_shared_cycles(
    loads: list[LoadModel], joint: SharedCycle, runs: Mapping[str, str]
) -> tuple[list[LoadModel], dict[str, str], list[Obstacle]]:
    """The loads with their shared runs merged; and runs that only occupy a carrier → the run with the work.

    Args:
        runs: load → its run of this operation.
    """
    by_name = {load.id: load for load in loads if load.id in joint.loads}
    mine = {name: next(run for run in load.runs if run.id == runs[name]) for name, load in by_name.items()}
    first, *others = joint.loads
    leader = mine[first]
    opening: dict[str, str] = {}
    start = _StartConditions({link.run: link.windows for link in leader.after}, leader.allowed)
    for name in others:
        start.narrow_to(mine[name])
        by_name[name], opener = _tie_to_leader(by_name[name], mine[name], leader, start)
        if opener:
            opening[opener] = mine[name].id
    whole = _make_leader(leader, mine.values(), start)
    load = by_name[first]
    by_name[first] = replace(load, runs=tuple(whole if run.id == leader.id else run for run in load.runs))
    obstacles = (
        [
            Obstacle(
                f"operation {leader.operation}",
                f"loads {', '.join(joint.loads)} have no common time for one cycle",
                "Run them one by one",
                leader.id,
                first,
            )
        ]
        if start.clash
        else []
    )
    return [by_name.get(load.id, load) for load in loads], opening, obstacles


def _make_leader(run: RunModel, runs: Collection[RunModel], start: _StartConditions) -> RunModel:
    """A run with the work of all of these, including its own."""
    return replace(
        run,
        after=tuple(Precedence(before, windows) for before, windows in start.after.items()),
        allowed=start.allowed,
        places=sum(one.places for one in runs),
        also_at=tuple((station, places * len(runs)) for station, places in run.also_at),
    )


def _tie_to_leader(load: LoadModel, run: RunModel, leader: RunModel, start: _StartConditions) -> tuple[LoadModel, str]:
    """A load whose work the leader does; and the run before it that only takes its carrier, if any."""
    follower, place = _make_follower(run, leader), load.runs.index(run)
    before, opened = load.runs[:place], ""
    if before:
        start.after.setdefault(before[-1].id, ANY_TIME)
    elif not load.holds_carrier:
        opener = replace(follower, id=f"{run.id}/there", after=tuple(Precedence(link.run) for link in run.after))
        before, opened = (opener,), opener.id
        start.after[opener.id] = AT_ITS_END
    return replace(load, runs=(*before, follower, *load.runs[place + 1 :])), opened


def _make_follower(run: RunModel, leader: RunModel) -> RunModel:
    """A run whose work another does: without length, and tied to the end of that one."""
    return replace(
        run,
        station=None,
        also_at=(),
        phases=NO_TIME,
        after=(Precedence(leader.id, AT_ITS_END),),
        places=1,
        setup=None,
        allowed=(),
        under_way=False,
    )


def expand_shared_cycles(
    planned: Sequence[PlannedRun], leaders: Mapping[str, str], hidden: frozenset[str]
) -> tuple[PlannedRun, ...]:
    """The runs as people see them: each load of a cycle is at the station for all of it.

    Args:
        leaders: run without length → the run with its work.
        hidden: runs that only occupy a carrier.
    """
    by_id = {run.run: run for run in planned}
    found = []
    for run in planned:
        whole = by_id.get(leaders.get(run.run, ""))
        if run.run in hidden:
            continue
        if whole is not None:
            run = replace(
                run,
                station=whole.station,
                start=whole.start,
                end=whole.end,
                held_until=whole.held_until,
                slack=whole.slack,
            )
        found.append(run)
    return tuple(sorted(found, key=lambda run: run.start.timestamp()))
