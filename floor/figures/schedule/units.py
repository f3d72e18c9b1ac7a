"""Which of several like things each run has: the numbers of its places, its carrier and its people."""

from collections import defaultdict
from heapq import heappop, heappush
from typing import NamedTuple

from floor.figures.schedule.build import Build
from floor.figures.schedule.shop import ATTENDED, Shop


class Booking(NamedTuple):
    """Use of so many units from start to end by a part of a task (0 for a whole run)."""

    start: int
    end: int
    number: int
    task: int
    part: int


def assign(bookings: list[Booking]) -> dict[tuple[int, int], tuple[int, ...]]:
    """Unit numbers from 1 for each (task, part), the lowest free ones; bookings that touch may share a unit."""
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


class Units:
    """Numbered units of a finished build.

    Attributes:
        places: by task, places of its station.
        people: by (task, part of its slot).
    """

    def __init__(self, shop: Shop, build: Build) -> None:
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
            attended += [Booking(start, end, stint.hands, i, part)
                         for part, (stint, start, end) in enumerate(slot.parts) if stint.how == ATTENDED]
        for bookings in at_station.values():
            self.places.update({task: units for (task, _), units in assign(bookings).items()})
        self.people = assign(attended)
