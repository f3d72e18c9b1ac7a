"""The critical chain: the runs that decide when the plan ends, and what each waits for."""

from collections import defaultdict
from typing import NamedTuple

from floor.figures.schedule.compiled_problem import ATTENDED, CompiledProblem
from floor.figures.schedule.serial_schedule import SerialSchedule


class CriticalWait(NamedTuple):
    """A run on the critical chain that starts, or continues, later than its own load allows.

    `kind` is "station", "carrier", "hands" or "calendar"; `blocker` is the task that frees the resource, -1 for the
    calendar; `seconds` is how long the run waits.
    """

    task: int
    blocker: int
    kind: str
    seconds: int


def trace_critical_waits(shop: CompiledProblem, build: SerialSchedule) -> list[CriticalWait]:
    """Follow the last end backward: from a run to the run it waits for, or to the one before it."""
    freed: dict[int, list[int]] = defaultdict(list)
    last, last_end = -1, -1
    for i, slot in enumerate(build.slots):
        if slot is None:
            continue
        for at in {slot.end, slot.held, *(end for stint, _, end in slot.parts if stint.how == ATTENDED)}:
            freed[at].append(i)
        if slot.end > last_end:
            last, last_end = i, slot.end
    chain: list[CriticalWait] = []
    seen: set[int] = set()
    while last >= 0 and last not in seen:
        seen.add(last)
        last = _step(shop, build, last, freed, chain)
    return chain


def _step(
    shop: CompiledProblem, build: SerialSchedule, i: int, freed: dict[int, list[int]], chain: list[CriticalWait]
) -> int:
    """Add what run i waits for to the chain; returns the next run to look at, -1 at the start."""
    task, slot = shop.tasks[i], build.placed(i)
    ready, before = task.ready, -1
    for other, gaps in task.links:
        end = build.placed(other).end + gaps[0][0]
        if end >= ready:
            ready, before = end, other
    found = [(start, start - since) for start, since in _pauses(build, i, ready) if start > since]
    following = -1
    for start, waited in found:
        blockers = [
            (other, kind)
            for other in freed.get(start, ())
            if (kind := _name_what_passes(shop, build, other, i, start)) is not None
        ]
        chain += [CriticalWait(i, other, kind, waited) for other, kind in blockers]
        if blockers:
            following = blockers[-1][0]
        elif any(stint.how != 1 for stint, a, _ in slot.parts if a == start):
            chain.append(CriticalWait(i, -1, "calendar", waited))
    return following if following >= 0 else before


def _pauses(build: SerialSchedule, i: int, ready: int) -> list[tuple[int, int]]:
    """(start, when it could have started) of each part of a run."""
    found = []
    for _, start, end in build.placed(i).parts:
        found.append((start, ready))
        ready = end
    return found


def _name_what_passes(shop: CompiledProblem, build: SerialSchedule, other: int, task: int, at: int) -> str | None:
    """The resource the other run frees at that instant and this run takes."""
    if other == task:
        return None
    first, second = build.placed(other), build.placed(task)
    if at == second.start:
        if first.end == at and _is_same_carrier_next(shop, other, task):
            return "carrier"
        if first.station == second.station >= 0 and first.held == at:
            return "station"
    gave = any(stint.how == ATTENDED and end == at for stint, _, end in first.parts)
    took = any(stint.how == ATTENDED and start == at for stint, start, _ in second.parts)
    return "hands" if gave and took else None


def _is_same_carrier_next(shop: CompiledProblem, before: int, after: int) -> bool:
    """Whether one run, at its end, returns a carrier of the kind the other takes at its start."""
    first, second = shop.tasks[before], shop.tasks[after]
    return first.closes and second.opens and shop.load_kind[first.load] == shop.load_kind[second.load] >= 0
