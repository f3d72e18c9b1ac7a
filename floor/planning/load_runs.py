"""The runs of one load as the planner sees them: how long, where, and the earliest start by plan and record."""

from __future__ import annotations

from collections.abc import Sequence

from floor.batch.load import Load as LiveLoad
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.clocks import find_pieces_to_cure
from floor.batch.walk.clocks_before_next_run import find_clock_gates
from floor.batch.walk.shared_cycles import find_runs_in_cycle
from floor.batch.walk.station_walk import build_walk
from floor.checklist.equipment import Station
from floor.checklist.operation import Operation
from floor.entry import Moment
from floor.figures.schedule import Obstacle, Phase, PhaseKind, Precedence, RunModel, StartSpan, StartWindow
from floor.planning.cure_windows import (
    ANY_TIME,
    compute_cure_tail,
    compute_overshoot,
    find_recorded_spans,
    intersect_spans,
    intersect_windows,
    list_windows_after_end,
)
from floor.planning.durations import DurationCache, RunDuration, compute_remaining_phases, compute_setup_minutes
from floor.planning.planned_loads import LaidOutBatch, PieceStream, PlanNames
from floor.planning.run_deadlines import find_run_deadlines, is_clock_started_in
from floor.planning.shared_cycles import SharedCycle


class RunLayout:
    """Lays out one run after another of one batch; obstacles and deadlines go into `laid`."""

    def __init__(
        self, batch: Batch, now: Moment, names: PlanNames, durations: DurationCache, laid: LaidOutBatch
    ) -> None:
        self.batch, self.now, self.names, self.durations, self.laid = batch, now, names, durations, laid

    def lay_run(
        self,
        run_id: str,
        op: int,
        inside: Sequence[tuple[PieceStream, tuple[int, ...]]],
        load: str,
        live: LiveLoad | None,
        follows: bool,
        following: int | None,
        joint: SharedCycle | None,
    ) -> tuple[RunModel, RunDuration, float]:
        """A run of a load as the planner has it, how long it takes, and its cure at the end.

        Args:
            inside: each stream that comes here, and those of its pieces that pass this operation.
            live: the load, if this run is under way.
            follows: whether another run of the load comes before it.
            following: the operation after it; None if none.
            joint: the cycle that it shares with other loads.
        """
        operation = self.batch.operation(op)
        pace = self.durations.pace(op)
        count = sum(len(pieces) for _, pieces in inside)
        each = joint.parts(operation, pace) if joint is not None else self.durations.parts(op, count)
        cure = compute_cure_tail(self.batch.checklist, operation, each, following)
        if live is not None and live.run is not None:
            begun = self.batch.runs[live.run]
            if any(is_clock_started_in(self.batch, begun, clock) for clock in operation.clocks if clock.per == "piece"):
                cure = 0.0
            self.laid.closing += find_run_deadlines(self.batch, begun, run_id, self.now)
            return self._model_run_under_way(run_id, operation, begun, joint, cure), each, cure
        after, allowed = self._find_prerequisites(op, inside, load, run_id)
        if not follows:
            have = {link.run for link in after}
            brought = dict.fromkeys(stream.last for stream, _ in inside)
            after += [Precedence(last) for last in brought if last is not None and last not in have]
        phases = _with(self.durations.phases(op, each), cure)
        return self._model_run_ahead(run_id, operation, phases, after, allowed, joint is not None), each, cure

    def _model_run_under_way(
        self, run_id: str, operation: Operation, begun: Run, joint: SharedCycle | None, cure: float
    ) -> RunModel:
        shared = joint.loads if joint is not None else ()
        together = [
            run
            for run in find_runs_in_cycle(self.batch, begun)
            if run is begun or self.names.load(self.batch, str(run.load)) in shared
        ]
        left = compute_remaining_phases(
            self.batch,
            [build_walk(self.batch, run, self.now) for run in together],
            self.now.at,
            self.durations.pace(operation.op),
        )
        return RunModel(
            run_id,
            self.names.operation(self.batch.id, operation),
            self.names.station[begun.station],
            _with(left, cure),
            (),
            self.batch.checklist.station(begun.station).places_of(operation.carrier),
            family=f"{self.batch.id} {operation.op}",
            under_way=True,
        )

    def _model_run_ahead(
        self,
        run_id: str,
        operation: Operation,
        phases: tuple[Phase, ...],
        after: Sequence[Precedence],
        allowed: tuple[StartSpan, ...],
        shared: bool,
    ) -> RunModel:
        pace = self.durations.pace(operation.op)
        minutes = compute_setup_minutes(operation, pace)
        made_ready = Phase(PhaseKind.ATTENDED, minutes, interruptible=True, spread=pace.hand_spread, stands=False)
        places, *others = (
            count_places_taken(self.batch.checklist.station(station), operation.carrier, shared)
            for station in operation.stations
        )
        also_at = zip((self.names.station[station] for station in operation.also_at), others, strict=True)
        return RunModel(
            run_id,
            self.names.operation(self.batch.id, operation),
            self.names.station[operation.station],
            phases,
            tuple(after),
            places,
            made_ready if minutes else None,
            f"{self.batch.id} {operation.op}",
            allowed,
            also_at=tuple(also_at),
        )

    def _find_prerequisites(
        self, op: int, inside: Sequence[tuple[PieceStream, tuple[int, ...]]], load: str, run_id: str
    ) -> tuple[list[Precedence], tuple[StartSpan, ...]]:
        """Windows counted from planned runs and from the record."""
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
                one = self.durations.parts(source.op, 1)
                fixed = fixed or compute_overshoot(source, clock, one, 0.0) > 0
                windows[before] = found or ANY_TIME
            known = self._spans(clock.id, tuple(recorded)) if recorded else None
            if known is not None:
                allowed = intersect_spans(allowed, known) if allowed else known
                faults = faults or not allowed
            if faults:
                where = f"operation {self.names.operation(self.batch.id, operation)}"
                wrong, remedy = _describe_missed_window(source.op, clock.id, missed, fixed)
                if known == ():
                    wrong = f"{clock.id} closes before it is ready"
                    remedy = "Warm or dry the air if a cure is slow, then record it, or set pieces aside"
                self.laid.obstacles.append(Obstacle(where, f"for load {load}, {wrong}", remedy, run_id, load))
        return [Precedence(run, found) for run, found in windows.items()], allowed

    def _spans(self, clock_id: str, pieces: tuple[int, ...]) -> tuple[StartSpan, ...] | None:
        """When the record lets these pieces start; None if their timer is not running."""
        found = self.batch.checklist.clock(clock_id)
        assert found is not None
        clock = found[1]
        started = self.batch.piece_clocks.get(clock_id, {}) if clock.per == "piece" else self.batch.batch_clocks
        if not (any(piece in started for piece in pieces) if clock.per == "piece" else clock_id in started):
            return None
        return find_recorded_spans(self.batch, clock, pieces, self.now)

    def _clock_runs_before(self, run_id: str, clock_id: str, pieces: Sequence[int]) -> bool:
        """Whether the planned run is under way and has already started this timer."""
        work = self.laid.works[run_id]
        live = self.batch.loads[work.load] if work.load is not None else None
        if live is None or live.run is None or self.batch.runs[live.run].op != work.op:
            return False
        begun = self.batch.runs[live.run].begun
        started = self.batch.piece_clocks.get(clock_id, {})
        return all(piece in started and started[piece][0] >= begun for piece in pieces)


def _describe_missed_window(op: int, clock: str, minutes: float, fixed: bool) -> tuple[str, str]:
    """What is wrong with a window that closes too early, and what would fix it.

    Args:
        op: where its clock starts.
        minutes: how long it closes before the work there is over; 0 if another window is in the way.
        fixed: whether even one piece takes too long.
    """
    late = "before another window that it must hit opens"
    late = f"{minutes:.3g} min before the work at op {op} is over" if minutes else late
    smaller = "Shorten" if fixed else "Make the load smaller, shorten"
    return f"the window of {clock} closes {late}", f"{smaller} op {op}, or widen the window of {clock}"


def count_places_taken(station: Station, carrier: str, shared: bool = False) -> int:
    """Places that a run takes; all of them if only one cycle can run, because the next waits for the spindle anyway.

    Args:
        shared: whether its cycle takes other loads too.
    """
    alone = station.most_cycles == 1 and not shared
    return station.runs_at_once if alone else station.places_of(carrier)


def _with(each: tuple[Phase, ...], cure: float) -> tuple[Phase, ...]:
    return (*each, Phase(PhaseKind.CURE, cure)) if cure else each
