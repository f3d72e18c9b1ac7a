"""The cure, recoat or other windows that bind a load before its next run."""

from __future__ import annotations

from collections.abc import Iterator

from floor.batch.load import Load
from floor.batch.state import Batch
from floor.batch.walk.clocks import Ripeness, find_pieces_to_cure, judge_clock
from floor.checklist.gates import Cured
from floor.checklist.model import Checklist
from floor.checklist.operation import BEFORE_CYCLE, Clock, Operation
from floor.dataclass import dataclass
from floor.entry import Moment


@dataclass(frozen=True, slots=True)
class BindingClock:
    """A clock in a window of which a load must begin its next run, and how it stands for the pieces."""

    clock: Clock
    pieces: tuple[int, ...]
    ripeness: Ripeness


def find_clock_gates(checklist: Checklist, operation: Operation) -> Iterator[tuple[Operation, Clock, Cured]]:
    """Timers of earlier operations that must be in a window before this one starts, with the gate that asks."""
    for step in operation.steps:
        if not isinstance(step, Cured) or step.at not in BEFORE_CYCLE:
            continue
        found = checklist.clock(step.clock)
        if found is not None and found[0].op < operation.op:
            yield *found, step


def find_binding_clocks(batch: Batch, load: Load, now: Moment) -> Iterator[BindingClock]:
    """The clocks that bind a load between two operations, in the order in which its next one asks for them."""
    assert load.at is not None, "a load past its leg starts nothing"
    following = batch.find_next_pieces(load)
    for _, clock, gate in find_clock_gates(batch.checklist, batch.operation(load.at)):
        pieces = find_pieces_to_cure(batch, gate, load.at, following)
        if pieces:
            yield BindingClock(clock, pieces, judge_clock(batch, clock, pieces, now))
