"""How long each run may wait before a batch finishes later, in the same order of work.

Latest starts are computed backward from the finish of each batch: every run is pushed as late as its own load and the
runs after it at the same place, carrier and operator allow. A safe figure: a different order might allow more.
"""

from collections import defaultdict
from collections.abc import Iterable
from itertools import pairwise

from floor.figures.schedule.assigned_units import UnitNumbers
from floor.figures.schedule.compiled_problem import ATTENDED, Activity, CompiledProblem
from floor.figures.schedule.phase_placement import PhasePlacer, Slot
from floor.figures.schedule.serial_schedule import SerialSchedule
from floor.figures.schedule.timeline import FreeHands

_NEVER = 1 << 62
"""An epoch second after any plan."""


class _Limits:
    """Limits for one task: its end, the release of its station, its start, the end of each stint."""

    __slots__ = ("end", "held", "start", "stints")

    def __init__(self, end: int, held: int, start: int, stints: dict[int | None, int]) -> None:
        self.end, self.held, self.start, self.stints = end, held, start, stints

    def hold(self, slot: Slot) -> bool:
        return (
            slot.end <= self.end
            and slot.held <= self.held
            and slot.start <= self.start
            and all(end <= self.stints.get(stint.phase, end) for stint, _, end in slot.parts)
        )

    def room(self, slot: Slot) -> int:
        """How far the slot could move as it stands."""
        return min(
            self.end - slot.end,
            self.held - slot.held,
            self.start - slot.start,
            *(self.stints.get(stint.phase, self.end) - end for stint, _, end in slot.parts),
        )


def compute_slacks(shop: CompiledProblem, build: SerialSchedule, units: UnitNumbers) -> list[int]:
    """Seconds by task."""
    next_at_station, next_on_carrier, next_of_person = _successors(shop, build, units)
    finish = [shop.now] * len(shop.batches)
    for i, task in enumerate(shop.tasks):
        batch = shop.load_batch[task.load]
        finish[batch] = max(finish[batch], build.placed(i).end)
    empty = PhasePlacer(FreeHands(shop.hours), shop.open_hours)
    latest: list[Slot | None] = [None] * len(shop.tasks)
    slack = [0] * len(shop.tasks)
    rank = {task: place for place, task in enumerate(shop.order)}
    for i in sorted(range(len(shop.tasks)), key=lambda i: (-build.placed(i).start, -rank[i])):
        task, slot = shop.tasks[i], build.placed(i)
        limits = _Limits(finish[shop.load_batch[task.load]], _NEVER, _window_end(shop, build, i), {})
        for j in shop.followers[i]:
            gaps = next(gaps for before, gaps in shop.tasks[j].links if before == i)
            gap = build.placed(j).start - slot.end
            lag = max((earliest for earliest, _ in gaps if earliest <= gap), default=0)
            limits.end = min(limits.end, _start(latest, build, j) - lag)
        for j in next_at_station.get(i, ()):
            limits.held = min(limits.held, _start(latest, build, j))
        if i in next_on_carrier:
            limits.end = min(limits.end, _start(latest, build, next_on_carrier[i]))
        for part, j, other in next_of_person.get(i, ()):
            stint = slot.parts[part][0].phase
            begins = _stint_start(latest[j] or build.placed(j), build.placed(j).parts[other][0].phase)
            limits.stints[stint] = min(limits.stints.get(stint, begins), begins)
        latest[i] = pushed = _push(empty, task.held, units, i, slot, limits)
        slack[i] = pushed.start - slot.start
    return slack


def _start(latest: list[Slot | None], build: SerialSchedule, task: int) -> int:
    return (latest[task] or build.placed(task)).start


def _stint_start(slot: Slot, phase: int | None) -> int:
    return next(start for stint, start, _ in slot.parts if stint.phase == phase and stint.how == ATTENDED)


def _push(empty: PhasePlacer, held: int, units: UnitNumbers, i: int, slot: Slot, limits: _Limits) -> Slot:
    """The latest slot within the limits, by bisection: nothing gets earlier when the start gets later."""
    stints: list[tuple[Activity, int]] = []
    for part, (stint, _, _) in enumerate(slot.parts):
        if not stints or stints[-1][0] is not stint:
            stints.append((stint, max(units.people.get((i, part), (1,)))))
    held += sum(1 for stint, _ in stints if stint.phase is None)
    best = slot

    def fits(start: int) -> bool:
        nonlocal best
        tried = empty.lay_out(start, [stint for stint, _ in stints], held, [top for _, top in stints])
        if tried is None or not limits.hold(tried):
            return False
        best = tried
        return True

    # Mostly a run can be pushed by exactly what its nearest limit leaves.
    low, high = slot.start, min(limits.start, limits.end) + 1
    room = limits.room(slot)
    if room > 0 and fits(low + room):
        low += room
    step = 1
    while high - low > 1:
        middle = low + min(step, (high - low) // 2)
        if fits(middle):
            low, step = middle, high
        else:
            high, step = middle, high
    return best


def _window_end(shop: CompiledProblem, build: SerialSchedule, i: int) -> int:
    """Latest start that keeps the run in its planned windows."""
    start = build.placed(i).start
    latest = _find_close(shop.tasks[i].allowed, start)
    for before, gaps in shop.tasks[i].links:
        end = build.placed(before).end
        latest = min(latest, end + _find_close(gaps, start - end))
    return latest


def _find_close(spans: Iterable[tuple[int, int | None]], at: int) -> int:
    """When the last span containing an instant closes; never if there is none, or if one stays open."""
    inside = [close for opens, close in spans if opens <= at and (close is None or at <= close)]
    closing = [close for close in inside if close is not None]
    return max(closing) if closing and len(closing) == len(inside) else _NEVER


def _successors(
    shop: CompiledProblem, build: SerialSchedule, units: UnitNumbers
) -> tuple[dict[int, list[int]], dict[int, int], dict[int, list[tuple[int, int, int]]]]:
    """Who has the same place, carrier and operator next: (part, other task, other part)."""
    at_place: dict[tuple[int, int], list[tuple[int, int]]] = defaultdict(list)
    on_carrier: dict[tuple[int, int], list[tuple[int, int, int]]] = defaultdict(list)
    of_person: dict[int, list[tuple[int, int, int]]] = defaultdict(list)
    for i, task in enumerate(shop.tasks):
        slot = build.placed(i)
        for place in units.places.get(i, ()):
            at_place[slot.station, place].append((slot.start, i))
        kind = shop.load_kind[task.load]
        if kind >= 0 and task.opens:
            last = i + len(shop.loads[task.load].runs) - 1
            on_carrier[kind, units.carrier[task.load]].append((slot.start, i, last))
        for part, (stint, start, _) in enumerate(slot.parts):
            if stint.how == ATTENDED:
                for person in units.people[i, part]:
                    of_person[person].append((start, i, part))
    next_at_place: dict[int, list[int]] = defaultdict(list)
    for runs in at_place.values():
        for (_, i), (_, j) in pairwise(sorted(runs)):
            next_at_place[i].append(j)
    next_on_carrier = {last: j for loads in on_carrier.values() for (_, _, last), (_, j, _) in pairwise(sorted(loads))}
    next_of_person: dict[int, list[tuple[int, int, int]]] = defaultdict(list)
    for parts in of_person.values():
        for (_, i, part), (_, j, other) in pairwise(sorted(parts)):
            if i != j:
                next_of_person[i].append((part, j, other))
    return next_at_place, next_on_carrier, next_of_person
