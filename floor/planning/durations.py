"""How long the parts of a run take: the checklist's times at this shop's pace."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import NamedTuple

from floor.batch.proof import Setup
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.lines import Walk
from floor.batch.walk.shared_cycles import count_pieces_in_cycle, count_turns_left, cut_until, find_runs_in_cycle
from floor.checklist.gates import Cured
from floor.checklist.operation import BEFORE_CYCLE, Clock, Operation
from floor.dataclass import dataclass
from floor.figures.schedule import Phase, PhaseKind

HAND_SPREAD = 0.2
"""Relative spread of attended work before any was timed (common practice, no source)."""
CYCLE_SPREAD = 0.05
"""Relative spread of a machine's cycle before any was timed (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class TimeFactors:
    """Real over planned time of one operation and its relative spread, for attended work and for the cycle."""

    hands: float = 1.0
    cycle: float = 1.0
    hand_spread: float = HAND_SPREAD
    cycle_spread: float = CYCLE_SPREAD


AS_PLANNED = TimeFactors()


class Pauses(NamedTuple):
    """Whether attended work may be left half done: over a break or night, over closed days."""

    at_all: bool
    over_days: bool


@dataclass(frozen=True, slots=True)
class RunDuration:
    """Minutes of the parts of a run, without set-up."""

    before: float
    cycle: float
    """From its start to its end, including attended work at its program stops."""
    after: float
    turns: tuple[float, ...] = ()
    """Minutes of that work at each stop."""
    next_turn: float | None = None
    """For a cycle under way, minutes until its next program stop or its end; None before its start."""

    @property
    def total(self) -> float:
        return self.before + self.cycle + self.after


def compute_run_duration(operation: Operation, pieces: int, pace: TimeFactors = AS_PLANNED) -> RunDuration:
    """Minutes for a run with this many pieces, at least as long as any dwell inside it."""
    time = operation.time
    turn = time.seconds("turn", pieces) / 60 * pace.hands
    return RunDuration(
        time.seconds("before", pieces) / 60 * pace.hands,
        max(time.seconds("cycle", pieces) / 60 * pace.cycle, _dwell(operation)) + turn * operation.turns,
        time.seconds("after", pieces) / 60 * pace.hands,
        (turn,) * operation.turns if turn else (),
    )


def compute_setup_minutes(operation: Operation, pace: TimeFactors = AS_PLANNED) -> float:
    return operation.time.seconds("setup", 0) / 60 * pace.hands


def build_phases(
    operation: Operation,
    each: RunDuration,
    pace: TimeFactors = AS_PLANNED,
    *,
    running: bool = False,
    begun: bool = False,
) -> tuple[Phase, ...]:
    """The parts as phases of a plan; consecutive attended parts are one phase.

    Args:
        running: the cycle is under way and goes on whoever is in. A future one needs a person to start it, and must fit
            the shift if it may not outlast it.
        begun: somebody has started it, so whether it is left over a weekend is already decided.
    """
    pauses = Pauses(may_pause(operation), begun or (operation.may_outlast_shift and not operation.cycle))
    before = _by_hand(each.before, pauses, pace)
    after = _by_hand(each.after, pauses, pace)
    if after and not running:
        after[0] = replace(after[0], wait=compute_longest_wait(operation, each))
    if operation.time.cycle_attended:
        between = _by_hand(each.cycle, pauses._replace(at_all=pauses.at_all and operation.time.cycle is None), pace)
    elif operation.cycle and operation.time.seconds("cycle", 1):
        alone = running or operation.may_outlast_shift
        between = _cuts(each, alone, running, pauses, pace)
        if between and not before and not running:
            before = [Phase(PhaseKind.ATTENDED, 0.0)]  # a person starts it
    else:
        between = [Phase(PhaseKind.CURE, each.cycle)] if each.cycle else []
    return _joined([*before, *between, *after]) or (Phase(PhaseKind.ATTENDED, 0.0),)


class DurationCache:
    """Parts and phases of future runs, each computed once: in a large order most loads are alike."""

    def __init__(self, ops: Mapping[int, Operation], paces: Mapping[int, TimeFactors]) -> None:
        self._ops, self._paces = ops, paces
        # No functools.cache: its reference cycle with the object keeps whole plans alive for long.
        self._parts: dict[tuple[int, int], RunDuration] = {}
        self._phases: dict[tuple[int, RunDuration], tuple[Phase, ...]] = {}

    def pace(self, op: int) -> TimeFactors:
        return self._paces.get(op, AS_PLANNED)

    def parts(self, op: int, pieces: int) -> RunDuration:
        if (op, pieces) not in self._parts:
            self._parts[op, pieces] = compute_run_duration(self._ops[op], pieces, self.pace(op))
        return self._parts[op, pieces]

    def phases(self, op: int, each: RunDuration) -> tuple[Phase, ...]:
        if (op, each) not in self._phases:
            self._phases[op, each] = build_phases(self._ops[op], each, self.pace(op))
        return self._phases[op, each]


def _cuts(each: RunDuration, alone: bool, running: bool, pauses: Pauses, pace: TimeFactors) -> list[Phase]:
    """The cycle, cut into parts by its program stops."""
    turns, cutting = len(each.turns), each.cycle - sum(each.turns)
    first = cut_until(cutting, turns, turns) if each.next_turn is None else each.next_turn
    if first <= 0 and not turns:
        return []
    first = max(first, 0.0)
    found = [Phase(PhaseKind.UNATTENDED, first, outlasts_shift=alone, spread=pace.cycle_spread, joined=not running)]
    for minutes in each.turns:
        found += _by_hand(minutes, pauses, pace)
        found.append(replace(found[0], minutes=max(cutting - first, 0.0) / turns, joined=True))
    return found


def _by_hand(minutes: float, pauses: Pauses, pace: TimeFactors) -> list[Phase]:
    if not minutes:
        return []
    phase = Phase(PhaseKind.ATTENDED, minutes, interruptible=pauses.at_all, spread=pace.hand_spread)
    return [replace(phase, stands=pauses.over_days)]


def _joined(each: list[Phase]) -> tuple[Phase, ...]:
    """Adjacent attended phases of one sort merged, so that nobody leaves between them."""
    joined: list[Phase] = []
    for phase in each:
        last = joined[-1] if joined else None
        if (
            last is not None
            and last.kind is phase.kind is PhaseKind.ATTENDED
            and last.interruptible == phase.interruptible
        ):
            joined[-1] = replace(phase, minutes=last.minutes + phase.minutes, wait=None)
        else:
            joined.append(phase)
    return tuple(joined)


def may_pause(operation: Operation) -> bool:
    """Whether attended work may pause over a break or night: yes unless the checklist forbids it, or a closing window
    starts in it.
    """
    return not operation.in_one_go and not any(has_latest_start(clock) for clock in operation.clocks)


def has_latest_start(clock: Clock) -> bool:
    return any(window.latest is not None for window in clock.windows)


def find_inner_dwells(operation: Operation) -> Iterator[Clock]:
    """Timers that the operation itself waits for, in its cycle or after it: a soak, an immersion."""
    waited = {step.clock for step in operation.steps if isinstance(step, Cured) and step.at in ("cycle", "after")}
    return (clock for clock in operation.clocks if clock.id in waited)


def compute_longest_wait(operation: Operation, each: RunDuration) -> float | None:
    """Minutes that a planned cycle may wait after its end before one of its own windows closes; None: no limit.

    A timer that starts within the cycle is assumed to start with it.
    """
    found = []
    for clock in find_inner_dwells(operation):
        ends = [window.latest.base / 60 for window in clock.windows if window.latest is not None]
        if len(ends) == len(clock.windows):
            at = next((step.at for step in operation.steps if f"step {step.id}" == clock.starts), clock.starts)
            past = {"end": 0.0, "after": 0.0, "load": each.before + each.cycle}.get(at, each.cycle)
            found.append(max(0.0, max(ends) - past))
    return min(found, default=None)


def _dwell(operation: Operation) -> float:
    """Minutes of the longest dwell that starts and ends within the operation's cycle."""
    during = {step.id for step in operation.steps if step.id and step.at in ("load", "cycle")}
    waited = {step.clock for step in operation.steps if isinstance(step, Cured) and step.at in ("cycle", "after")}
    dwells = [
        min(window.earliest.base if window.earliest else 0.0 for window in clock.windows)
        for clock in operation.clocks
        if clock.id in waited and (clock.starts == "start" or clock.starts.removeprefix("step ") in during)
    ]
    return max(dwells, default=0.0) / 60


def compute_remaining_phases(
    batch: Batch, walks: Sequence[Walk], now: datetime, pace: TimeFactors = AS_PLANNED
) -> tuple[Phase, ...]:
    """What is left of a run under way, or of all runs in its cycle, from the open lines of their walks."""
    run = walks[0].run
    operation = batch.find_operation(run)
    each = [_left(batch, walked, now, pace) for walked in walks]
    left = RunDuration(
        sum(one.before for one in each),
        max(one.cycle for one in each),
        sum(one.after for one in each),
        each[0].turns,
        each[0].next_turn,
    )
    waiting = [one.current.verdict for one in walks if one.current is not None]
    opens = [one.when for one in waiting if one is not None and one.status == "wait" and one.when is not None]
    if opens and run.started is None:
        wait = (max(opens) - now).total_seconds() / 60
        return (Phase(PhaseKind.CURE, max(0.0, wait)), *build_phases(operation, left, pace, begun=True))
    return build_phases(operation, left, pace, running=run.running or run.ended is not None, begun=True)


def _left(batch: Batch, walked: Walk, now: datetime, pace: TimeFactors) -> RunDuration:
    run = walked.run
    operation = batch.find_operation(run)
    whole = compute_run_duration(operation, len(run.pieces), pace)
    setup = compute_setup_minutes(operation, pace) if _made_ready_here(batch, run, batch.setups[run.setup]) else 0.0
    all_of_it = compute_run_duration(operation, count_pieces_in_cycle(batch, run), pace)
    cycle, turns = all_of_it.cycle, all_of_it.turns
    next_turn: float | None = None
    if run.ended is not None or run.count is not None:
        cycle, turns = 0.0, ()
    elif run.started is not None:
        cutting, many = cycle - sum(turns), len(turns)
        left = min(count_turns_left(batch, run), many)
        next_turn = max(0.0, cut_until(cutting, many, left) - run.ran(now) / 60)
        after_it = cutting - cut_until(cutting, many, left)
        turns = turns[:left]
        cycle = next_turn + after_it + sum(turns)
    before = (setup + whole.before) * _open_share(walked, BEFORE_CYCLE) if run.started is None else 0.0
    if run.stands is not None and run is find_runs_in_cycle(batch, run)[0]:  # once for all loads turned over together
        before = all_of_it.turns[0] if all_of_it.turns else 0.0
    return RunDuration(
        before,
        cycle,
        whole.after * _open_share(walked, ("after", "close")) if run.count is None else 0.0,
        turns,
        next_turn,
    )


def _made_ready_here(batch: Batch, run: Run, setup: Setup) -> bool:
    """Whether the run is the first of its set-up, so that it includes the set-up."""
    served = [other for other in batch.runs.values() if other.setup == setup.number and not other.put_back]
    return all(other.number >= run.number for other in served)


def _open_share(walked: Walk, during: tuple[str, ...]) -> float:
    lines = [line for line in walked.lines if line.phase in during and line.is_step]
    return sum(not line.is_satisfied for line in lines) / len(lines) if lines else 1.0
