"""Shared cycles in the planner.

The run of the first load carries the work and places of all; the runs of the others have no length and are tied to its
end. A load formed only for the cycle takes its carrier when the cycle starts.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from floor.batch.load import Load as LiveLoad
from floor.batch.state import Batch
from floor.checklist.model import Operation
from floor.dataclass import dataclass
from floor.figures.schedule import LoadModel, Obstacle, Phase, PhaseKind, PlannedRun, Precedence, RunModel, StartWindow
from floor.planning.durations import RunDuration, TimeFactors, compute_run_duration
from floor.planning.windows import ANY_TIME, intersect_spans, intersect_windows

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
        groups: dict[int, list[tuple[str, int]]] = {}
        to_come: list[tuple[str, int]] = []
        for name, live, todo in loads:
            if op not in todo:
                continue
            run = batch.runs[live.run] if live is not None and live.run is not None else None
            if run is None or run.op != op:
                to_come.append((name, todo[op]))
            elif run.ended is None and run.count is None:
                groups.setdefault(run.cycle, []).append((name, todo[op]))
        chunks = [group for cycle, group in groups.items() if cycle]
        if together:
            chunks += [to_come[n : n + most] for n in range(0, len(to_come), most)]
        for chunk in chunks:
            if len(chunk) > 1:
                joint = SharedCycle(tuple(name for name, _ in chunk), op, tuple(pieces for _, pieces in chunk))
                found |= {(name, op): joint for name in joint.loads}
    return found


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
    leader, opening = mine[first], {}
    after = {one.run: one.windows for one in leader.after}
    allowed, clash = leader.allowed, False
    for name in others:
        load, run = by_name[name], mine[name]
        place = load.runs.index(run)
        for one in run.after:
            windows = intersect_windows(after.get(one.run, ANY_TIME), one.windows)
            clash = clash or not windows
            after[one.run] = windows or ANY_TIME
        if run.allowed:
            spans = intersect_spans(allowed, run.allowed) if allowed else run.allowed
            clash = clash or not spans
            allowed = spans
        follower = replace(
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
        before: tuple[RunModel, ...] = load.runs[:place]
        if before:
            after.setdefault(before[-1].id, ANY_TIME)
        elif not load.holds_carrier:
            opener = replace(follower, id=f"{run.id}/there", after=tuple(Precedence(one.run) for one in run.after))
            before, opening[opener.id] = (opener,), run.id
            after[opener.id] = AT_ITS_END
        by_name[name] = replace(load, runs=(*before, follower, *load.runs[place + 1 :]))
    whole = replace(
        leader,
        after=tuple(Precedence(run, windows) for run, windows in after.items()),
        allowed=allowed,
        places=sum(run.places for run in mine.values()),
        also_at=tuple((station, places * len(mine)) for station, places in leader.also_at),
    )
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
        if clash
        else []
    )
    return [by_name.get(load.id, load) for load in loads], opening, obstacles


def expand_shared_cycles(
    planned: Sequence[PlannedRun], leaders: Mapping[str, str], hidden: frozenset[str]
) -> tuple[PlannedRun, ...]:
    """The runs as people see them: each load of a cycle is at the station for all of it.

    Args:
        leaders: run without length → the run with its work. hidden: runs that only occupy a carrier.
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
