"""The cures of a route, and the same route with longer ones."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from floor.checklist.gates import Cured
from floor.checklist.model import Checklist, Clock, Window
from floor.planning.windows import plain_cure

WORTH_ASKING = 60.0
"""Minutes from which a cure is one that somebody might make longer."""


@dataclass(frozen=True, slots=True)
class Cure:
    """What has to cure after an operation."""

    op: int
    minutes: float
    """Of the longest there."""
    waiting: frozenset[int]
    """The operations that wait for it."""


def cures(checklist: Checklist, least: float = WORTH_ASKING) -> list[Cure]:
    """The cures of so many minutes and more, the longest first."""
    minutes: dict[int, float] = {}
    waiting: dict[int, set[int]] = {}
    for operation in checklist.operations:
        for step in operation.steps:
            found = checklist.clock(step.clock) if isinstance(step, Cured) else None
            if found is None or not plain_cure(found[1]):
                continue
            op, takes = found[0].op, _opens(found[1])
            minutes[op] = max(minutes.get(op, 0.0), takes)
            waiting.setdefault(op, set()).add(operation.op)
    known = [Cure(op, takes, frozenset(waiting[op])) for op, takes in minutes.items() if takes >= least]
    return sorted(known, key=lambda cure: -cure.minutes)


def cured_longer(checklist: Checklist, longer: Mapping[int, float]) -> Checklist:
    """The route with every cure after these operations longer by so many minutes, or as much shorter where that is
    negative; a latest start stays where it is.
    """
    operations = tuple(
        replace(one, clocks=tuple(_longer(clock, longer[one.op]) for clock in one.clocks)) if one.op in longer else one
        for one in checklist.operations
    )
    return replace(checklist, operations=operations)


def _opens(clock: Clock) -> float:
    earliest = clock.windows[0].earliest
    return earliest.base / 60 if earliest else 0.0


def _longer(clock: Clock, by: float) -> Clock:
    if not plain_cure(clock):
        return clock
    window = clock.windows[0]
    assert window.earliest is not None, "a plain cure opens some time after"
    opens = window.earliest._replace(base=window.earliest.base + 60 * by)
    return replace(clock, windows=(Window(earliest=opens, latest=window.latest),))
