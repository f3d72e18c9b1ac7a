"""The cures of a route, and the route with longer ones."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from floor.checklist.gates import Cured
from floor.checklist.model import Checklist
from floor.checklist.operation import Clock, Window
from floor.dataclass import dataclass
from floor.planning.cure_windows import is_plain_cure

WORTH_ASKING = 60.0
"""Minutes from which a cure is long enough for somebody to change it."""


@dataclass(frozen=True, slots=True)
class Cure:
    """A timer that something waits for."""

    clock: str
    op: int
    """The operation that starts it."""
    minutes: float
    """Until it opens."""
    latest: float | None
    """Minutes by which it closes; None where it stays open."""
    cycle: float
    """Minutes of its cycle, if its own operation waits for it; else 0."""
    waiting: frozenset[int]
    """The operations that wait for it."""

    @property
    def name(self) -> str:
        return self.clock.replace("-", " ").replace("_", " ")


def list_cures(checklist: Checklist, least: float = WORTH_ASKING) -> list[Cure]:
    """Cures of at least this many minutes, the longest first."""
    waiting: dict[str, set[int]] = {}
    for operation in checklist.operations:
        for step in operation.steps:
            if isinstance(step, Cured):
                waiting.setdefault(step.clock, set()).add(operation.op)
    found = []
    for operation in checklist.operations:
        for clock in operation.clocks:
            if clock.id in waiting and is_plain_cure(clock) and _opens(clock) >= least:
                latest = clock.windows[0].latest
                cycle = operation.time.seconds("cycle", 1) / 60 if operation.op in waiting[clock.id] else 0.0
                found.append(
                    Cure(
                        clock.id,
                        operation.op,
                        _opens(clock),
                        latest.base / 60 if latest else None,
                        cycle,
                        frozenset(waiting[clock.id]),
                    )
                )
    return sorted(found, key=lambda cure: -cure.minutes)


def lengthen_cures(checklist: Checklist, longer: Mapping[str, float]) -> Checklist:
    """The route with these timers longer by minutes, or shorter if negative; a latest start stays as it is."""
    operations = tuple(
        replace(one, clocks=tuple(_longer(clock, longer.get(clock.id, 0.0)) for clock in one.clocks))
        for one in checklist.operations
    )
    return replace(checklist, operations=operations)


def _opens(clock: Clock) -> float:
    earliest = clock.windows[0].earliest
    return earliest.base / 60 if earliest else 0.0


def _longer(clock: Clock, by: float) -> Clock:
    if not by:
        return clock
    window = clock.windows[0]
    assert window.earliest is not None, "a plain cure opens some time after"
    opens = window.earliest._replace(base=window.earliest.base + 60 * by)
    return replace(clock, windows=(Window(earliest=opens, latest=window.latest),))
