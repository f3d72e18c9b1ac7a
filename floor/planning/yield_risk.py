"""What uncertain yields may add to the plan: lost pieces, rework, and loads that make up for losses.

It goes into the problem for the band of the finish; the plan itself assumes every piece good.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from floor.batch.state import Batch
from floor.checklist.equipment import MOST_PIECES
from floor.checklist.model import Checklist
from floor.checklist.operation import Operation, Rework
from floor.entry import Moment
from floor.figures.forecast import compute_good_count_distribution
from floor.figures.schedule import BatchModel as FiguresBatch
from floor.figures.schedule import (
    LoadModel,
    MakeUpLoads,
    Phase,
    PhaseKind,
    ReworkLeg,
    ReworkPath,
    RunModel,
    RunOutcomes,
    SchedulingProblem,
    YieldBeliefs,
)
from floor.planning.batch_forecast import ForecastInputs
from floor.planning.cure_windows import compute_cure_tail
from floor.planning.durations import DurationCache, TimeFactors, compute_setup_minutes
from floor.planning.load_runs import count_places_taken
from floor.planning.loads import lay_out_batch
from floor.planning.planned_loads import PlannedWork
from floor.planning.problem import PlanningRequest, YieldRisk
from floor.planning.start_plan import build_fresh_batch

_UNLIKELY = 1e-3
"""Chance of a shortage below which it is ignored."""


def assess_yield_risk(batch: Batch, paces: Mapping[int, TimeFactors], known: ForecastInputs) -> YieldRisk:
    """A batch's yield risk, copied at one moment."""
    sent: dict[int, int] = {}
    for op, rework, _ in batch.list_waiting_pools():
        if rework:
            sent |= {piece: batch.found[piece] for piece in batch.waiting(op, rework) if piece in batch.found}
    passed: set[tuple[int, int]] = set()
    for load in batch.list_live_loads():
        if load.rework:
            sent |= {piece: batch.found[piece] for piece in batch.present(load) if piece in batch.found}
        for detour in load.detours:
            if detour.rework:
                sent |= dict.fromkeys(detour.pieces, detour.found)
        if load.run is not None and batch.runs[load.run].count is not None:
            run = batch.runs[load.run]
            passed |= {(run.op, piece) for piece in run.pieces}
    wanted = batch.order - batch.total("finished") - batch.total("hold")
    aboard = {load.number: batch.present(load) for load in batch.list_live_loads()}
    return YieldRisk(batch.checklist, paces, known, wanted, sent, frozenset(passed), aboard)


def add_yield_risk(asked: PlanningRequest, problem: SchedulingProblem) -> SchedulingProblem:
    """The problem with yield risk; unchanged if nothing is known of the yields."""
    if not asked.doubts:
        return problem
    doubts = {id: _Doubts(asked, id, doubt) for id, doubt in asked.doubts.items()}
    loads = tuple(doubts[load.batch].load(load) if load.batch in doubts else load for load in problem.loads)
    batches = tuple(doubts[batch.id].whole(batch) if batch.id in doubts else batch for batch in problem.batches)
    # If surplus occupies every carrier, starting make-up pieces requires a decision on it first.
    more = _list_carriers_to_come(doubts.values(), batches)
    carriers = {kind: max(count, 1) if kind in more else count for kind, count in problem.carriers.items()}
    return replace(problem, batches=batches, loads=loads, carriers=carriers)


def _list_carriers_to_come(doubts: Iterable[_Doubts], batches: Iterable[FiguresBatch]) -> set[str | None]:
    """Kinds of carriers that rework on loads of its own, or pieces that make up for scrap, may need."""
    paths = [path for doubt in doubts for paths in doubt.ways.values() for path in paths]
    kinds: set[str | None] = {leg.carrier for path in paths for leg in path.legs}
    return kinds | {load.carrier for batch in batches for make_up in batch.make_up for load in make_up.loads}


class _Doubts:
    """Yield risk of one batch."""

    def __init__(self, asked: PlanningRequest, id: str, doubt: YieldRisk) -> None:
        assert asked.names is not None, "whoever knows the yields knows the names"
        self.asked, self.id, self.doubt, self.names = asked, id, doubt, asked.names
        self.checklist: Checklist = doubt.checklist
        self.alike = DurationCache(self.checklist.ops, doubt.paces)
        self._each: dict[tuple[int, int, int], tuple[float, ...]] = {}
        self.ways = {op: tuple(self._ways(self.checklist.ops[op])) for op in self.checklist.route}
        """Operation → routes of the pieces it sends to rework."""

    def load(self, load: LoadModel) -> LoadModel:
        """A load with its yield risk; pieces with nothing left to pass wait for the last run."""
        works = [self.asked.works[run.id] for run in load.runs]
        runs = [self.of(run, work) for run, work in zip(load.runs, works, strict=True)]
        number, fate = works[-1].load, runs[-1].fate
        if number is not None and fate is not None and works[-1].op == self.checklist.route[-1]:
            going = {piece for work in works for piece in work.pieces_of}
            waiting = sum(piece not in going for piece in self.doubt.aboard.get(number, ()))
            runs[-1] = replace(runs[-1], fate=replace(fate, waiting=waiting))
        return replace(load, runs=tuple(runs))

    def of(self, run: RunModel, work: PlannedWork, *, new: bool = False) -> RunModel:
        """The run with its yield risk.

        Args:
            new: additional pieces, of which nothing is known.
        """
        if work.hidden:
            return run
        sent, pieces, op = {} if new else self.doubt.sent, work.pieces_of, work.op
        back = [sent.get(piece, 0) for piece in pieces]
        counted = not new and all((op, piece) in self.doubt.passed for piece in pieces)
        sure = counted or all(found > op for found in back)  # a piece sent back returns at least to where it was found
        each: tuple[float, ...] = ()
        if not run.under_way and len(pieces) > 1 and not work.cycle:
            each = self.each(op, len(pieces), len(run.phases))
        return replace(
            run,
            fate=RunOutcomes(
                pieces,
                each,
                None if sure else self._yields(op),
                frozenset(piece for piece, found in zip(pieces, back, strict=True) if found == op),
                self.ways.get(op, ()),
            ),
        )

    def _yields(self, op: int) -> YieldBeliefs | None:
        if op not in self.checklist.route:
            return None  # losses on the way back are part of the saved share
        belief = self.doubt.facts.beliefs[self.checklist.route.index(op)]
        return None if belief.first.bad == 0 else YieldBeliefs(belief.first, belief.reworkable, belief.saved)

    def each(self, op: int, pieces: int, phases_of_it: int) -> tuple[float, ...]:
        """Minutes that one piece of this many adds to each phase of a run; none to a cure that follows its own."""
        key = op, pieces, phases_of_it
        if key not in self._each:
            less, more = (self.alike.phases(op, self.alike.parts(op, n)) for n in (pieces - 1, pieces))
            added = [two.minutes - one.minutes for one, two in zip(less, more, strict=True)]
            self._each[key] = (*added, *[0.0] * (phases_of_it - len(added)))
        return self._each[key]

    # --- rework

    def _ways(self, operation: Operation) -> Iterator[ReworkPath]:
        if self.doubt.facts.beliefs[self.checklist.route.index(operation.op)].reworkable is None:
            return
        known = [reason for reason in operation.reasons if reason.to == "rework"]
        told = any(reason.share for reason in known)
        for reason in known:
            rework = self.checklist.rework(reason.rework)
            share = reason.share or (0.0 if told else 1.0)
            if rework is not None and share:
                yield self._way(share, rework, operation)

    def _way(self, share: float, rework: Rework, found: Operation) -> ReworkPath:
        """The route of a rework from where it goes back: with the load up to where it was found, else to the end."""
        leg, ops = self.checklist.leg_of(found.op), self.checklist.list_way(rework.id)
        stays = self.checklist.may_ride(rework, found.op, leg.ops[0])
        if stays:
            ops = tuple(op for op in ops if op <= found.op)
        following = [*ops[1:], self.checklist.after(ops[-1]) if stays else None]
        legs: list[tuple[tuple[int, ...], list[RunModel]]] = []
        for op, after in zip(ops, following, strict=True):
            riding = leg if stays else self.checklist.leg_of(op, rework.id)
            if not legs or legs[-1][0] != riding.ops:
                legs.append((riding.ops, []))
            legs[-1][1].append(self._pass(self.checklist.ops[op], after, found.op))
        return ReworkPath(
            share,
            not stays,
            tuple(ReworkLeg(self.names.carrier[self.checklist.ops[ops[0]].carrier], tuple(runs)) for ops, runs in legs),
        )

    def _pass(self, operation: Operation, following: int | None, found: int) -> RunModel:
        """One piece, numbered 0, on its way back at an operation, and onward."""
        pace = self.alike.pace(operation.op)
        one = self.alike.parts(operation.op, 1)
        done = self.alike.phases(operation.op, one)
        cure = compute_cure_tail(self.checklist, operation, one, following)
        if cure:
            done = (*done, Phase(PhaseKind.CURE, cure))
        minutes = compute_setup_minutes(operation, pace)
        stations = [self.checklist.station(id) for id in operation.stations]
        first, *others = [(self.names.station[one.id], count_places_taken(one, operation.carrier)) for one in stations]
        return RunModel(
            f"{operation.op}",
            self.names.operation(self.id, operation),
            first[0],
            done,
            places=first[1],
            setup=Phase(PhaseKind.ATTENDED, minutes, interruptible=True, spread=pace.hand_spread) if minutes else None,
            family=f"{self.id} {operation.op}",
            also_at=tuple(others),
            fate=RunOutcomes(
                (0,),
                self.each(operation.op, 2, len(done)),
                self._yields(operation.op) if operation.op >= found else None,
                frozenset({0} if operation.op == found else ()),
            ),
        )

    # --- making up

    def whole(self, batch: FiguresBatch) -> FiguresBatch:
        """The batch with the pieces it still needs, and what would make up for a shortage."""
        passing = math.prod(belief.mean for belief in self.doubt.facts.beliefs)
        return replace(batch, wanted=max(self.doubt.wanted, 0), passing=passing, make_up=tuple(self._make_up(passing)))

    def _make_up(self, passing: float) -> Iterator[MakeUpLoads]:
        facts = self.doubt.facts
        law = compute_good_count_distribution(facts.finished, facts.hand, facts.beliefs)
        missing, chance = 0, 0.0
        for good, one in enumerate(law.chances, law.first):
            chance += one
            if chance >= _UNLIKELY:
                missing = facts.ordered - good
                break
        if missing > 0:
            for pieces in _sizes(min(math.ceil(missing / passing), MOST_PIECES)):
                yield MakeUpLoads(pieces, tuple(self._loads(pieces)))

    def _loads(self, pieces: int) -> Iterator[LoadModel]:
        """This many pieces from the start of the route."""
        now = Moment(self.asked.problem.now)
        laid = lay_out_batch(
            build_fresh_batch(self.checklist, 1, pieces, now, self.id),
            now,
            self.names,
            self.doubt.paces,
            mixed=self.asked.mixed,
            together=self.asked.together,
        )
        for load in laid.loads:
            yield replace(load, runs=tuple(self.of(run, laid.works[run.id], new=True) for run in load.runs))


def _sizes(most: int) -> Iterator[int]:
    """Every number while small, then steps of a fifth; the last is ``most`` or more."""
    at = 1
    while at < most:
        yield at
        at = max(at + 1, at * 6 // 5)
    yield at
