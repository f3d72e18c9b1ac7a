"""One batch as loads still to run: those on carriers now, and those yet to be formed.

Pieces flow along the legs, those furthest along first. Every piece in work is assumed good: future scrap and rework
belong to the forecast.

Reworked pieces are loaded alone until they rejoin the others, even where they could fill up a carrier. Loose pieces
that did an operation before its turn are planned for it once more. A load that a filled order no longer needs returns
its carrier when its run ends.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from floor.batch.counting.surplus import find_last_op_wanted
from floor.batch.load import Detour
from floor.batch.load import Load as LiveLoad
from floor.batch.state import Batch
from floor.entry import Moment
from floor.figures.schedule import LoadModel, RunModel
from floor.planning.cure_windows import (
    find_first_opening,
    must_keep_loads_apart,
)
from floor.planning.curing import lengthen_cures
from floor.planning.durations import (
    DurationCache,
    TimeFactors,
)
from floor.planning.load_runs import RunLayout
from floor.planning.planned_loads import (
    AS_IT_IS,
    BatchChange,
    LaidOutBatch,
    LoadDraft,
    PieceStream,
    PlanNames,
    PlannedWork,
    Todo,
    fill_carriers,
)
from floor.planning.shared_cycles import SharedCycle, find_shared_cycles, merge_shared_cycles


def lay_out_batch(
    batch: Batch,
    now: Moment,
    names: PlanNames,
    paces: Mapping[int, TimeFactors],
    *,
    mixed: bool = True,
    together: bool = True,
    change: BatchChange = AS_IT_IS,
) -> LaidOutBatch:
    """The loads of one batch.

    Args:
        mixed: fill each carrier with whatever comes next; otherwise pieces of different loads stay apart.
        together: put as many loads into one cycle as it may take; otherwise each has its own.
    """
    return _BatchLayout(batch, now, names, paces, mixed, together, change).walk()


class _BatchLayout:
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
        self.mixed, self.together, self.change = mixed, together, change
        self.arriving: dict[tuple[int, str], list[PieceStream]] = {}
        """(operation, rework) → the pieces that will wait there."""
        self.joints: dict[tuple[str, int], SharedCycle] = {}
        """(load, operation) → its shared cycle."""
        self.until = find_last_op_wanted(batch)
        """The last planned operation, if the order is filled."""
        self.laid = LaidOutBatch()
        durations = DurationCache(batch.checklist.ops, paces)
        self.runs = RunLayout(batch, now, names, durations, self.laid)

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
        """Lay out pieces on rework legs that start between two operations."""
        for op, rework in self._own_legs():
            if before < op <= last:
                ops = self.batch.checklist.leg_of(op, rework).ops
                drafts = [self._live_load(live, ops) for live in self._live((op,), rework)]
                self._lay(drafts + self._form(op, ops, self._coming(op, rework), False, rework), ops)

    def _own_legs(self) -> list[tuple[int, str]]:
        """(operation, rework) wherever pieces apart from the route may be loaded, in route order."""
        checklist = self.batch.checklist
        own = [one.id for one in checklist.reworks if checklist.own_way(one.id)]
        return sorted((op, id) for id in own for op in checklist.list_way(id) if checklist.is_apart(id, op))

    def _pools(self) -> list[tuple[int, str]]:
        """(operation, rework) of pieces that wait, or will, to be loaded for a leg of the route."""
        known = {(op, rework) for op, rework, _ in self.batch.list_waiting_pools()} | self.arriving.keys()
        return sorted((op, rework) for op, rework in known if not self.batch.checklist.own_way(rework))

    def _coming(self, op: int, rework: str) -> list[PieceStream]:
        """What waits for an operation, now and later."""
        pieces = self._first(op) if not rework else tuple(self.batch.waiting(op, rework))
        return [*([PieceStream(pieces, {}, None)] if pieces else []), *self.arriving.pop((op, rework), [])]

    def _lay(self, drafts: Sequence[LoadDraft], ops: Sequence[int]) -> None:
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
        """Loads that were loaded for one of these, the furthest along first.

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
        """Pieces that wait for the leg's first operation; at the start of the route, also additional ones."""
        waiting = self.batch.waiting(op)
        if op == self.batch.checklist.operations[0].op:
            waiting += range(self.batch.started + 1, self.batch.started + 1 + self.change.more)
        return tuple(waiting)

    # --- loads -------------------------------------------------------------------------------------------------

    def _live_load(self, live: LiveLoad, ops: Sequence[int]) -> LoadDraft:
        present = self.batch.present(live)
        todo: list[tuple[int, tuple[int, ...]]] = []
        for detour in reversed(live.detours):
            todo += self._detour(live, detour)
        if present:  # otherwise all are on hold, with nothing to pass until a lead decides
            todo += self._together(live, present, ops)
        made_up = [one for detour in live.behind for one in self._detour(live, detour)]
        if live.run is not None and todo:
            under_way = self.batch.runs[live.run].pieces
            todo[0] = todo[0][0], tuple(piece for piece in present if piece in under_way)
            todo[1:1] = made_up  # as soon as it is released
        name = self.names.load(self.batch, str(live.number))
        begun = 1 if live.run is not None else 0
        streams = [PieceStream(present, {}, None)]
        return LoadDraft(name, live.carrier, ops, self._wanted(todo, begun), streams, live=live, rework=live.rework)

    def _together(self, live: LiveLoad, present: tuple[int, ...], ops: Sequence[int]) -> Todo:
        """What all of a load pass together from its next operation on, one before its turn first."""
        if live.next_op is None:
            return []
        early = self.batch.early
        left = [
            (op, tuple(piece for piece in present if piece not in early.get(op, ())))
            for op in ops
            if op >= live.next_op and op != live.ahead
        ]
        first = [(live.ahead, present)] if live.ahead is not None else []
        return [*first, *((op, pieces) for op, pieces in left if pieces)]

    def _after(self, op: int, draft: LoadDraft) -> int | None:
        return self.batch.checklist.after(op, draft.rework if op in draft.ops else "")

    def _detour(self, live: LiveLoad, detour: Detour) -> Todo:
        off = tuple(piece for piece in self.batch.present(live) if piece in detour.pieces)
        if not off or detour.at is None:
            return []
        return [(op, off) for op in self.batch.list_detour_ops(live, detour) if op >= detour.at]

    def _wanted(self, todo: Todo, begun: int = 0) -> Todo:
        """For a filled order: only what is under way or permitted to go on."""
        if self.until is None:
            return todo
        return [*todo[:begun], *(one for one in todo[begun:] if one[0] <= self.until)]

    def _form(
        self, op: int, ops: Sequence[int], coming: Sequence[PieceStream], apart: bool, rework: str
    ) -> list[LoadDraft]:
        """Fill carriers with what comes to an operation, in order of arrival."""
        kind = self.batch.checklist.carrier(self.batch.operation(op).carrier)
        groups = fill_carriers(coming, kind.capacity, apart)
        todo = [one for one in ops if one >= op]
        drafts: list[LoadDraft] = []
        for n, group in enumerate(groups, 1):
            pieces = tuple(piece for stream in group for piece in stream.pieces)
            route = f" ({rework})" if rework else ""
            name = self.names.load(self.batch, f"{kind.name} {n} of {len(groups)} from op {op}{route}")
            here = all(stream.last is None for stream in group)
            wanted = self._wanted([(one, pieces) for one in todo])
            pool = (op, rework) if here else None
            drafts.append(LoadDraft(name, kind.id, ops, wanted, group, forms=pool, rework=rework))
        return drafts

    def _load(self, draft: LoadDraft) -> list[PieceStream]:
        """Lay out a load with its runs; return what leaves it."""
        name, live, group = draft.name, draft.live, draft.group
        runs: list[RunModel] = []
        for op, pieces in draft.todo:
            run_id = f"{self.batch.id}/{name}/{op}/{len(runs)}"
            under_way = live is not None and live.run is not None and not runs
            among = set(pieces)
            inside = [(stream, tuple(piece for piece in stream.pieces if piece in among)) for stream in group]
            ahead = draft.todo[len(runs) + 1 : len(runs) + 2]
            following = ahead[0][0] if ahead and ahead[0][1] == pieces else self._after(op, draft)
            run, each, cure = self.runs.lay_run(
                run_id,
                op,
                inside,
                name,
                live if under_way else None,
                bool(runs),
                following,
                self.joints.get((name, op)),
            )
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
                PieceStream(stream.pieces, stream.passed | done if there else stream.passed, run_id)
                for stream, there in inside
            ]
        if runs:
            self._add_load(draft, runs)
        return list(group)

    def _add_load(self, draft: LoadDraft, runs: Sequence[RunModel]) -> None:
        carrier, is_live = self.names.carrier[draft.carrier], draft.live is not None
        self.laid.loads.append(LoadModel(draft.name, self.batch.id, tuple(runs), carrier, is_live))
        opens = find_first_opening(runs[0].allowed)
        if is_live and opens is not None:
            self.laid.ripens[draft.name] = opens
