"""Which unit each run gets: the numbers of its places, its carrier and its operators."""

from collections import defaultdict
from heapq import heapify, heappop, heappush
from typing import NamedTuple

from floor.figures.schedule.compiled_problem import ATTENDED, CompiledProblem
from floor.figures.schedule.serial_schedule import SerialSchedule


class Booking(NamedTuple):
    """So many units from start to end for a part of a task (0 for a whole run)."""

    start: int
    end: int
    number: int
    task: int
    part: int


def assign_units(bookings: list[Booking]) -> dict[tuple[int, int], tuple[int, ...]]:
    """Lowest free unit numbers, from 1, for each (task, part); bookings that touch may share a unit."""
    given: dict[tuple[int, int], tuple[int, ...]] = {}
    free: list[int] = []
    busy: list[tuple[int, int]] = []
    known = 0
    for booking in sorted(bookings):
        while busy and busy[0][0] <= booking.start:
            heappush(free, heappop(busy)[1])
        while len(free) < booking.number:
            known += 1
            heappush(free, known)
        units = tuple(heappop(free) for _ in range(booking.number))
        for unit in units:
            heappush(busy, (booking.end, unit))
        given[booking.task, booking.part] = units
    return given


class UnitNumbers:
    """Numbered units of a finished build.

    Attributes:
        places: by task, places of its station.
        people: by (task, part of its slot).
        carrier: by load, the number of its carrier: the highest free, or the one it already has; 0 without one.
    """

    def __init__(self, shop: CompiledProblem, build: SerialSchedule) -> None:
        at_station: dict[int, list[Booking]] = defaultdict(list)
        attended: list[Booking] = []
        self.places: dict[int, tuple[int, ...]] = {}
        for i, task in enumerate(shop.tasks):
            slot = build.placed(i)
            if slot.lanes:
                self.places[i] = tuple(lane + 1 for lane in slot.lanes)
            elif slot.station >= 0:
                start = shop.now if task.fixed else slot.start
                at_station[slot.station].append(Booking(start, slot.held, slot.places, i, 0))
            attended += [
                Booking(start, end, stint.hands, i, part)
                for part, (stint, start, end) in enumerate(slot.parts)
                if stint.how == ATTENDED
            ]
        for bookings in at_station.values():
            self.places.update({task: units for (task, _), units in assign_units(bookings).items()})
        self.people = assign_units(attended)
        self.carrier = _carriers(shop, build)


def _carriers(shop: CompiledProblem, build: SerialSchedule) -> list[int]:
    given = [0] * len(shop.loads)
    for kind, holders in enumerate(shop.holders):
        busy: list[tuple[int, int]] = []
        for load in holders:
            given[load] = build.carrier[load]
            busy.append((_span(shop, build, load)[1], given[load]))
        free = [-n for n in range(1, shop.problem.carriers[shop.kinds[kind]] + 1) if n not in {n for _, n in busy}]
        heapify(free)
        heapify(busy)
        others = [
            load
            for load, its in enumerate(shop.load_kind)
            if its == kind and load not in holders and shop.runs_of[load]
        ]
        for (start, end), load in sorted((_span(shop, build, load), load) for load in others):
            while busy and busy[0][0] <= start:
                heappush(free, -heappop(busy)[1])
            given[load] = -heappop(free)
            heappush(busy, (end, given[load]))
    return given


def _span(shop: CompiledProblem, build: SerialSchedule, load: int) -> tuple[int, int]:
    """When a load takes its carrier, and when it returns it."""
    runs = shop.runs_of[load]
    return (build.placed(runs[0]).start, build.placed(runs[-1]).end) if runs else (shop.now, shop.now)
