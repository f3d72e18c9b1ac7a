"""One batch as the loads that are still to be run: those on their carriers now, and those yet to be formed.

Pieces flow along the legs in the order in which they stand, those furthest on first. Every piece in work is taken to
come out good: scrap and rework to come are left to the forecast.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from floor.batch.counting.surplus import wanted_until
from floor.batch.load import Detour
from floor.batch.load import Load as LiveLoad
from floor.batch.state import Batch
from floor.batch.walk.clocks import find_pieces_to_cure
from floor.batch.walk.cycles import find_runs_in_cycle
from floor.batch.walk.lines import build_walk
from floor.checklist.model import Operation, Station
from floor.entry import Moment
from floor.figures.schedule import LoadModel, Obstacle, Phase, PhaseKind, Precedence, RunModel, StartSpan, StartWindow
from floor.planning.curing import lengthen_cures
from floor.planning.durations import (
    DurationCache,
    RunDuration,
    TimeFactors,
    compute_remaining_phases,
    compute_setup_minutes,
)
from floor.planning.run_deadlines import RunDeadline, find_run_deadlines, is_clock_started_in
from floor.planning.shared_cycles import SharedCycle, find_shared_cycles, merge_shared_cycles
from floor.planning.windows import (
    ANY_TIME,
    compute_cure_tail,
    compute_overshoot,
    find_clock_gates,
    find_first_opening,
    find_recorded_spans,
    intersect_spans,
    intersect_windows,
    list_windows_after_end,
    must_keep_loads_apart,
)

Todo = Sequence[tuple[int, tuple[int, ...]]]
"""What is still to be passed: operation, pieces."""


@dataclass(frozen=True, slots=True)
class PlannedWork:
    """What a planned run is, in the record's terms."""

    batch: str
    op: int
    pieces: int
    load: int | None
    """None for a load that is not formed yet."""
    pieces_of: tuple[int, ...] = ()
    """Their numbers."""
    forms: tuple[int, str] | None = None
    """First run of a load that could be formed now: the operation and rework route of the waiting pieces."""
    cycle: str = ""
    """The run that has the work of the cycle where that takes several loads; empty for a run with work of its own."""
    hidden: bool = False
    """It only takes the carrier, until the cycle is over."""
    in_cycle: int = 0
    """Pieces of all loads in the cycle, for the run that has its work; 0 where it takes one load."""


@dataclass(frozen=True, slots=True)
class BatchChange:
    """A what-if that changes what is in work."""

    lost: frozenset[int] = frozenset()
    """Numbers of loads that are scrapped."""
    more: int = 0
    """Pieces started in addition, now."""
    longer: Mapping[str, float] = field(default_factory=dict)
    """Clock → minutes by which its cure takes longer, a running one too."""


@dataclass(frozen=True, slots=True)
class PlanNames:
    """What the planner calls things, so that its sentences are the shop's."""

    station: Mapping[str, str]
    carrier: Mapping[str, str]
    several: bool
    """Whether there are several batches, so that each name says which."""

    def operation(self, batch: str, operation: Operation) -> str:
        title = f"{operation.op} {operation.title}"
        return f"{title} of {batch}" if self.several else title

    def load(self, batch: Batch, name: str) -> str:
        return f"{name} of {batch.id}" if self.several else name


@dataclass(frozen=True, slots=True)
class _Stream:
    """Pieces that go on together: those of one load, as far as they end up on one."""

    pieces: tuple[int, ...]
    passed: dict[int, tuple[str, RunDuration, float]]
    """Operation → the planned run that passes them, its parts, its cure at the end."""
    last: str | None
    """The run that brings them here; None where they wait now."""

    def part(self, first: int, last: int) -> _Stream:
        return replace(self, pieces=self.pieces[first:last])


@dataclass(frozen=True, slots=True)
class _Draft:
    """A load before its runs are laid out."""

    name: str
    carrier: str
    ops: Sequence[int]
    """The leg that it rides."""
    todo: Todo
    """What it goes through: the operation, and the pieces that do."""
    group: Sequence[_Stream]
    live: LiveLoad | None = None
    forms: tuple[int, str] | None = None
    rework: str = ""
    """The rework that it is loaded for."""

    @property
    def once(self) -> dict[int, int]:
        """Operation → pieces, of those it goes through once."""
        ops = [op for op, _ in self.todo]
        return {op: len(pieces) for op, pieces in self.todo if ops.count(op) == 1}


@dataclass(slots=True)
class LaidOutBatch:
    """A batch laid out for the planner."""

    loads: list[LoadModel] = field(default_factory=list)
    works: dict[str, PlannedWork] = field(default_factory=dict)
    ripens: dict[str, datetime] = field(default_factory=dict)
    """Load → when a cure that runs now is over."""
    obstacles: list[Obstacle] = field(default_factory=list)
    closing: list[RunDeadline] = field(default_factory=list)


def lay_out_batch(
    batch: Batch,
    now: Moment,
    names: PlanNames,
    paces: Mapping[int, TimeFactors],
    *,
    mixed: bool = True,
    together: bool = True,
    change: BatchChange = BatchChange(),
) -> LaidOutBatch:
    """The loads of one batch.

    Args:
        mixed: fill each carrier with whatever comes next; otherwise pieces of one load stay apart from another's.
        together: put as many loads into one cycle as it may take; otherwise each has its own.
    """
    return _Way(batch, now, names, paces, mixed, together, change).walk()


class _Way:
    def __init__(
        self,
        batch: Batch,
        now: Moment,
        names: PlanNames,
        paces: Mapping[int, TimeFactors],
        mixed: bool,
        together: bool,
        change: BatchChange,
    ) -> None:
        if change.longer:
            batch = replace(batch, checklist=lengthen_cures(batch.checklist, change.longer))
        self.batch, self.now, self.names = batch, now, names
        self.alike = DurationCache(batch.checklist.ops, paces)
        self.mixed, self.together, self.change = mixed, together, change
        self.arriving: dict[tuple[int, str], list[_Stream]] = {}
        """(operation, rework) → the pieces that will wait there."""
        self.joints: dict[tuple[str, int], SharedCycle] = {}
        """(load, operation) → the cycle that it shares with others."""
        self.until = wanted_until(batch)
        """The last operation at which anything is planned, where the order is filled."""
        self.laid = LaidOutBatch()

    def walk(self) -> LaidOutBatch:
        before = 0
        for leg in self.batch.checklist.legs:
            apart = not self.mixed or must_keep_loads_apart(self.batch.checklist, leg.ops)
            self._reworked_apart(before, leg.ops[-1])
            before = leg.ops[-1]
            drafts = [self._live_load(live, leg.ops) for live in self._live(leg.ops, "")]
            for op, rework in self._pools():
                if op in leg.ops and (op, rework) != (leg.ops[0], ""):
                    drafts += self._form(op, leg.ops, self._coming(op, rework), False, rework)
            drafts += self._form(leg.ops[0], leg.ops, self._coming(leg.ops[0], ""), apart, "")
            self._lay(drafts, leg.ops)
        return self.laid

    def _reworked_apart(self, before: int, last: int) -> None:
        """Lay out what is on legs of a rework with a way of its own that are boarded between two operations."""
        for op, rework in self._own_legs():
            if before < op <= last:
                ops = self.batch.checklist.leg_of(op, rework).ops
                drafts = [self._live_load(live, ops) for live in self._live((op,), rework)]
                self._lay(drafts + self._form(op, ops, self._coming(op, rework), False, rework), ops)

    def _own_legs(self) -> list[tuple[int, str]]:
        """(operation, rework) of each place where pieces may be loaded that keep apart from the route, in its order."""
        checklist = self.batch.checklist
        own = [one.id for one in checklist.reworks if checklist.own_way(one.id)]
        return sorted((op, id) for id in own for op in checklist.list_way(id) if checklist.is_apart(id, op))

    def _pools(self) -> list[tuple[int, str]]:
        """(operation, rework) of pieces that wait, or will, where they are loaded for a leg of the route."""
        known = {(op, rework) for op, rework, _ in self.batch.list_waiting_pools()} | self.arriving.keys()
        return sorted((op, rework) for op, rework in known if not self.batch.checklist.own_way(rework))

    def _coming(self, op: int, rework: str) -> list[_Stream]:
        """What waits for an operation now, and what will."""
        pieces = self._first(op) if not rework else tuple(self.batch.waiting(op, rework))
        return [*([_Stream(pieces, {}, None)] if pieces else []), *self.arriving.pop((op, rework), [])]

    def _lay(self, drafts: Sequence[_Draft], ops: Sequence[int]) -> None:
        """The loads of a leg with their runs."""
        known = [(draft.name, draft.live, draft.once) for draft in drafts]
        self.joints = find_shared_cycles(self.batch, ops, known, self.together)
        checklist = self.batch.checklist
        for draft in drafts:
            leaving, following = self._load(draft), checklist.after(draft.ops[-1], draft.rework)
            if following is not None:
                rework = draft.rework if checklist.is_apart(draft.rework, following) else ""
                self.arriving.setdefault((following, rework), []).extend(leaving)
        for joint in dict.fromkeys(self.joints.values()):
            self._join(joint)

    def _join(self, joint: SharedCycle) -> None:
        works = self.laid.works
        mine = {
            load.id: run.id
            for load in self.laid.loads
            if load.id in joint.loads
            for run in load.runs
            if works[run.id].op == joint.op
        }
        leader = mine[joint.loads[0]]
        self.laid.loads, opening, obstacles = merge_shared_cycles(self.laid.loads, joint, mine)
        self.laid.obstacles += obstacles
        works[leader] = replace(works[leader], in_cycle=sum(joint.pieces))
        for run in mine.values():
            if run != leader:
                works[run] = replace(works[run], cycle=leader)
        for opener, run in opening.items():
            works[opener] = replace(works[run], hidden=True)
        self.laid.closing = [replace(one, run=leader) if one.run in mine.values() else one for one in self.laid.closing]

    def _live(self, ops: Sequence[int], own: str) -> list[LiveLoad]:
        """Loads that were loaded for one of these, those furthest on first.

        Args:
            own: the rework with legs of its own that they are on.
        """
        riding = [
            load
            for load in self.batch.list_live_loads()
            if load.first_op in ops
            and load.number not in self.change.lost
            and own == (load.rework if self.batch.checklist.own_way(load.rework) else "")
        ]
        return sorted(riding, key=lambda load: (-(load.next_op or ops[-1] + 1), load.number))

    def _first(self, op: int) -> tuple[int, ...]:
        """Pieces that wait for the leg's first operation; at the route's beginning with those started in addition."""
        waiting = self.batch.waiting(op)
        if op == self.batch.checklist.operations[0].op:
            last = max(self.batch.places, default=0)
            waiting += range(last + 1, last + 1 + self.change.more)
        return tuple(waiting)

    # --- loads -------------------------------------------------------------------------------------------------

    def _live_load(self, live: LiveLoad, ops: Sequence[int]) -> _Draft:
        present = self.batch.present(live)
        todo: list[tuple[int, tuple[int, ...]]] = []
        for detour in reversed(live.detours):
            todo += self._detour(live, detour)
        if live.next_op is not None and present:  # without: all on hold, nothing to pass until a lead decides
            todo += [(op, present) for op in ops if op >= live.next_op]
        made_up = [one for detour in live.behind for one in self._detour(live, detour)]
        if live.run is not None and todo:
            under_way = self.batch.runs[live.run].pieces
            todo[0] = todo[0][0], tuple(piece for piece in present if piece in under_way)
            todo[1:1] = made_up  # as soon as it is released
        name = self.names.load(self.batch, str(live.number))
        begun = 1 if live.run is not None else 0
        streams = [_Stream(present, {}, None)]
        return _Draft(name, live.carrier, ops, self._wanted(todo, begun), streams, live=live, rework=live.rework)

    def _after(self, op: int, draft: _Draft) -> int | None:
        return self.batch.checklist.after(op, draft.rework if op in draft.ops else "")

    def _detour(self, live: LiveLoad, detour: Detour) -> Todo:
        off = tuple(piece for piece in self.batch.present(live) if piece in detour.pieces)
        if not off or detour.at is None:
            return []
        return [(op, off) for op in self.batch.detour_ops(live, detour) if op >= detour.at]

    def _wanted(self, todo: Todo, begun: int = 0) -> Todo:
        """Of a filled order only what is under way, and what is to go on."""
        if self.until is None:
            return todo
        return [*todo[:begun], *(one for one in todo[begun:] if one[0] <= self.until)]

    def _form(self, op: int, ops: Sequence[int], coming: Sequence[_Stream], apart: bool, rework: str) -> list[_Draft]:
        """Fill carriers with what comes to an operation, in its order."""
        kind = self.batch.checklist.carrier(self.batch.operation(op).carrier)
        groups = _filled(coming, kind.capacity, apart)
        todo = [one for one in ops if one >= op]
        drafts: list[_Draft] = []
        for n, group in enumerate(groups, 1):
            pieces = tuple(piece for stream in group for piece in stream.pieces)
            route = f" ({rework})" if rework else ""
            name = self.names.load(self.batch, f"{kind.name} {n} of {len(groups)} from op {op}{route}")
            here = all(stream.last is None for stream in group)
            wanted = self._wanted([(one, pieces) for one in todo])
            pool = (op, rework) if here else None
            drafts.append(_Draft(name, kind.id, ops, wanted, group, forms=pool, rework=rework))
        return drafts

    def _load(self, draft: _Draft) -> list[_Stream]:
        """A load with its runs; what leaves it."""
        name, live, group = draft.name, draft.live, draft.group
        runs: list[RunModel] = []
        for op, pieces in draft.todo:
            run_id = f"{self.batch.id}/{name}/{op}/{len(runs)}"
            under_way = live is not None and live.run is not None and not runs
            among = set(pieces)
            inside = [(stream, tuple(piece for piece in stream.pieces if piece in among)) for stream in group]
            ahead = draft.todo[len(runs) + 1 : len(runs) + 2]
            following = ahead[0][0] if ahead and ahead[0][1] == pieces else self._after(op, draft)
            run, each, cure = self._run(run_id, op, inside, name, live if under_way else None, bool(runs), following)
            runs.append(run)
            self.laid.works[run_id] = PlannedWork(
                self.batch.id,
                op,
                len(pieces),
                live.number if live else None,
                pieces,
                draft.forms if len(runs) == 1 else None,
            )
            done = {op: (run_id, each, cure)}
            group = [
                _Stream(stream.pieces, stream.passed | done if there else stream.passed, run_id)
                for stream, there in inside
            ]
        if runs:
            self.laid.loads.append(
                LoadModel(name, self.batch.id, tuple(runs), self.names.carrier[draft.carrier], live is not None)
            )
            opens = find_first_opening(runs[0].allowed)
            if live is not None and opens is not None:
                self.laid.ripens[name] = opens
        return list(group)

    # --- runs --------------------------------------------------------------------------------------------------

    def _run(
        self,
        run_id: str,
        op: int,
        inside: Sequence[tuple[_Stream, tuple[int, ...]]],
        load: str,
        live: LiveLoad | None,
        follows: bool,
        following: int | None,
    ) -> tuple[RunModel, RunDuration, float]:
        operation = self.batch.operation(op)
        pace = self.alike.pace(op)
        count = sum(len(pieces) for _, pieces in inside)
        joint = self.joints.get((load, op))
        each = joint.parts(operation, pace) if joint is not None else self.alike.parts(op, count)
        title = self.names.operation(self.batch.id, self.batch.operation(op))
        station = self.names.station[operation.station]
        family = f"{self.batch.id} {op}"
        places, *others = (
            count_places_taken(self.batch.checklist.station(one), operation.carrier, joint is not None)
            for one in operation.stations
        )
        also_at = tuple((self.names.station[one], many) for one, many in zip(operation.also_at, others, strict=True))
        cure = compute_cure_tail(self.batch.checklist, operation, each, following)
        if live is not None and live.run is not None:
            begun = self.batch.runs[live.run]
            station, at = self.names.station[begun.station], self.batch.checklist.station(begun.station)
            places = at.places_of(operation.carrier)
            shared = joint.loads if joint is not None else ()
            here = [
                one
                for one in find_runs_in_cycle(self.batch, begun)
                if one is begun or self.names.load(self.batch, str(one.load)) in shared
            ]
            left = compute_remaining_phases(
                self.batch, [build_walk(self.batch, one, self.now) for one in here], self.now.at, pace
            )
            if any(is_clock_started_in(self.batch, begun, clock) for clock in operation.clocks if clock.per == "piece"):
                cure = 0.0
            self.laid.closing += find_run_deadlines(self.batch, begun, run_id, self.now)
            return (
                RunModel(run_id, title, station, _with(left, cure), (), places, family=family, under_way=True),
                each,
                cure,
            )
        minutes = compute_setup_minutes(operation, pace)
        made_ready = Phase(PhaseKind.ATTENDED, minutes, interruptible=True, spread=pace.hand_spread, stands=False)
        setup = made_ready if minutes else None
        after, allowed = self._prerequisites(op, inside, load, run_id)
        if not follows:
            have = {one.run for one in after}
            brought = dict.fromkeys(stream.last for stream, _ in inside)
            after += [Precedence(last) for last in brought if last is not None and last not in have]
        done = _with(self.alike.phases(op, each), cure)
        run = RunModel(run_id, title, station, done, tuple(after), places, setup, family, allowed, also_at=also_at)
        return run, each, cure

    def _prerequisites(
        self, op: int, inside: Sequence[tuple[_Stream, tuple[int, ...]]], load: str, run_id: str
    ) -> tuple[list[Precedence], tuple[StartSpan, ...]]:
        """Windows counted from planned runs, and from what the record has."""
        windows: dict[str, tuple[StartWindow, ...]] = {}
        allowed: tuple[StartSpan, ...] = ()
        operation = self.batch.operation(op)
        for source, clock, gate in find_clock_gates(self.batch.checklist, operation):
            recorded: list[int] = []
            faults = fixed = False
            missed = 0.0
            for stream, pieces in inside:
                planned = stream.passed.get(source.op)
                if planned is None or self._clock_runs_before(planned[0], clock.id, pieces):
                    recorded += find_pieces_to_cure(self.batch, gate, op, pieces)
                    continue
                before, each, cure = planned
                found = intersect_windows(
                    windows.get(before, ANY_TIME), list_windows_after_end(source, clock, each, cure)
                )
                faults = faults or not found
                missed = max(missed, compute_overshoot(source, clock, each, cure))
                one = self.alike.parts(source.op, 1)
                fixed = fixed or compute_overshoot(source, clock, one, 0.0) > 0
                windows[before] = found or ANY_TIME
            known = self._spans(clock.id, tuple(recorded)) if recorded else None
            if known is not None:
                allowed = intersect_spans(allowed, known) if allowed else known
                faults = faults or not allowed
            if faults:
                where = f"operation {self.names.operation(self.batch.id, self.batch.operation(op))}"
                late = "before another window that it must hit opens"
                if missed:
                    late = f"{missed:.3g} min before the work at op {source.op} is over"
                wrong = f"for load {load}, the window of {clock.id} closes {late}"
                smaller = "" if fixed else "Make the load smaller, "
                remedy = f"{smaller}shorten op {source.op}, or widen the window of {clock.id}"
                self.laid.obstacles.append(Obstacle(where, wrong, remedy[0].upper() + remedy[1:], run_id, load))
        return [Precedence(run, found) for run, found in windows.items()], allowed

    def _spans(self, clock_id: str, pieces: tuple[int, ...]) -> tuple[StartSpan, ...] | None:
        """When the record lets these pieces start; None where their clock does not run."""
        found = self.batch.checklist.clock(clock_id)
        assert found is not None
        clock = found[1]
        started = self.batch.piece_clocks.get(clock_id, {}) if clock.per == "piece" else self.batch.batch_clocks
        if not (any(piece in started for piece in pieces) if clock.per == "piece" else clock_id in started):
            return None
        return find_recorded_spans(self.batch, clock, pieces, self.now)

    def _clock_runs_before(self, run_id: str, clock_id: str, pieces: Sequence[int]) -> bool:
        """Whether the planned run is under way and has started this clock already."""
        work = self.laid.works[run_id]
        live = self.batch.loads[work.load] if work.load is not None else None
        if live is None or live.run is None or self.batch.runs[live.run].op != work.op:
            return False
        begun = self.batch.runs[live.run].begun
        started = self.batch.piece_clocks.get(clock_id, {})
        return all(piece in started and started[piece][0] >= begun for piece in pieces)


def count_places_taken(station: Station, carrier: str, shared: bool = False) -> int:
    """Places that a run takes; all where only one cycle can run, as the next one waits for the spindle anyway.

    Args:
        shared: whether its cycle takes other loads too.
    """
    alone = station.most_cycles == 1 and not shared
    return station.runs_at_once if alone else station.places_of(carrier)


def _with(each: tuple[Phase, ...], cure: float) -> tuple[Phase, ...]:
    return (*each, Phase(PhaseKind.CURE, cure)) if cure else each


def _filled(coming: Iterable[_Stream], capacity: int, apart: bool) -> list[list[_Stream]]:
    """Carriers filled to their capacity; apart, none holds pieces of two loads."""
    groups: list[list[_Stream]] = []
    room, before = 0, object()
    queue: deque[_Stream] = deque(stream for stream in coming if stream.pieces)
    while queue:
        stream = queue.popleft()
        if not room or (apart and stream.last != before):
            groups.append([])
            room, before = capacity, stream.last
        take = min(room, len(stream.pieces))
        groups[-1].append(stream.part(0, take))
        room -= take
        if take < len(stream.pieces):
            queue.appendleft(stream.part(take, len(stream.pieces)))
    return groups
