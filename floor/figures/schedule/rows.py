"""Stations with set-ups: which run follows which at each place, and the gaps where another run may go.

A station with several places pays one set-up where two operations alternate.
"""

from bisect import bisect_left
from collections.abc import Iterator
from typing import NamedTuple

Lanes = tuple[int, ...]


class PlaceGap(NamedTuple):
    """Room at some places of a station.

    Attributes:
        free_at: free from this epoch second on.
        family: what the places are set up for; None if not set up, or not all for the same.
        lanes: which places.
        at: position in the row of each.
        follower: the run after it; -1 if there is none.
    """

    free_at: int
    family: str | None
    lanes: Lanes
    at: tuple[int, ...]
    follower: int


class StationRows:
    """The places of one station, each with its row of runs in order of time."""

    __slots__ = ("family", "held", "opens", "starts", "tasks", "wide")

    def __init__(self, opens: int, places: int, family: str | None) -> None:
        self.opens, self.family = opens, family
        self.tasks: list[list[int]] = [[] for _ in range(places)]
        self.starts: list[list[int]] = [[] for _ in range(places)]
        self.held: list[list[tuple[int, str]]] = [[] for _ in range(places)]
        """(when free again, family) of each run."""
        self.wide: set[int] = set()
        """Runs that take several places."""

    def gaps(self, at: int, places: int) -> Iterator[PlaceGap]:
        """Where so many places may be free from `at` on; in order of time for one place, at the end only for
        several."""
        if places > 1:
            yield from self._behind(places)
            return
        seen: set[tuple[int, str | None]] = set()
        for lane, (tasks, starts, held) in enumerate(zip(self.tasks, self.starts, self.held, strict=True)):
            for n in range(bisect_left(starts, at + 1), len(tasks)):
                if tasks[n] not in self.wide:
                    free_at, family = held[n - 1] if n else (self.opens, self.family)
                    if free_at < starts[n]:
                        yield PlaceGap(free_at, family, (lane,), (n,), tasks[n])
            last = held[-1] if held else (self.opens, self.family)
            if last not in seen:
                seen.add(last)
                yield PlaceGap(*last, (lane,), (len(tasks),), -1)

    def _behind(self, places: int) -> Iterator[PlaceGap]:
        """After the last runs: the places free first, and those already set up for the same."""
        last = [held[-1] if held else (self.opens, self.family) for held in self.held]
        order = sorted(range(len(last)), key=lambda lane: (last[lane][0], lane))
        choices = {tuple(order[:places])}
        for family in {name for _, name in last}:
            alike = [lane for lane in order if last[lane][1] == family][:places]
            if len(alike) == places:
                choices.add(tuple(alike))
        for lanes in sorted(choices):
            families = {last[lane][1] for lane in lanes}
            yield PlaceGap(
                max(last[lane][0] for lane in lanes),
                families.pop() if len(families) == 1 else None,
                lanes,
                tuple(len(self.tasks[lane]) for lane in lanes),
                -1,
            )

    def put(self, task: int, lanes: Lanes, at: tuple[int, ...], start: int, held: int, family: str) -> None:
        """Put a run into rows."""
        for lane, n in zip(lanes, at, strict=True):
            self.tasks[lane].insert(n, task)
            self.starts[lane].insert(n, start)
            self.held[lane].insert(n, (held, family))
        if len(lanes) > 1:
            self.wide.add(task)

    def take_out(self, task: int, lanes: Lanes, at: tuple[int, ...]) -> None:
        """Undo a `put`; anything put later must come out first."""
        for lane, n in zip(lanes, at, strict=True):
            del self.tasks[lane][n], self.starts[lane][n], self.held[lane][n]
        self.wide.discard(task)

    def begin(self, lane: int, n: int, start: int) -> None:
        """A run in the row starts earlier or later, by its set-up."""
        self.starts[lane][n] = start
