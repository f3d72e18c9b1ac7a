"""How a run that would start after its window is brought into it: by delaying what comes before it.

So no runs need to be placed together as one block, which cost up to eighteen times the optimum.
"""

from collections.abc import Mapping
from typing import NamedTuple

from floor.figures.schedule.compiled_problem import ATTENDED, CompiledProblem, Task
from floor.figures.schedule.free_capacity import FreeCapacity
from floor.figures.schedule.phase_placement import Hold, Slot

MAX_TRIES = 30
"""How often a run is moved later for one follower before the follower takes its next window."""

_FIRST_TRIES = 3
"""The same if the follower has another window."""

_NEAREST = 60
"""Precision of the search for the least start, in seconds."""


class BrokenWindow(NamedTuple):
    """A window missed by a start: how many seconds late, and when the next one opens (-1: none)."""

    before: int
    late: int
    opens: int


class WindowTracker:
    """What a build has learned about windows: runs that must end later, and followers waiting for their next
    window."""

    def __init__(
        self, shop: CompiledProblem, slots: list[Slot | None], room: FreeCapacity, not_before: Mapping[int, int]
    ) -> None:
        self._shop, self._slots, self._room = shop, slots, room
        self._ends: dict[int, int] = {}
        """Run → earliest end, for the sake of a follower."""
        self._asked: dict[int, int] = {}
        """Run → that follower."""
        self._starts = dict(not_before)
        """Run → earliest start: when its next window opens."""
        self._tries: dict[tuple[int, int], int] = {}
        self._settled: set[tuple[int, int]] = set()
        """(follower, run before it) where moving later did not help."""
        self._held_back: set[int] = set()
        """Runs that start as early as possible and whose last manual work waits."""
        self._hurried: set[int] = set()
        self._just_hurried = -1
        self._from_start = False

    def lower(self, i: int) -> int:
        """Earliest start of a run given what it waits for, as far as placed."""
        task = self._shop.tasks[i]
        at = max(task.ready, self._starts[i]) if i in self._starts else task.ready
        for before, gaps in task.links:
            slot = self._slots[before]
            if slot is not None and slot.end + gaps[0][0] > at:
                at = slot.end + gaps[0][0]
        return at

    def find(self, i: int, at: int) -> Slot | None:
        """Where a run ends first, or as soon as its followers allow."""
        task = self._shop.tasks[i]
        slot = self._room.fit(i, at)
        end = self._ends.get(i)
        if end is None or slot is None or slot.end >= end:
            return slot
        last = _last_by_hand(task)
        waits: Slot | None = None
        if last >= 0:
            hold: Hold = (last, end - sum(stint.length for stint in task.stints[last:]))
            waits = self._room.fit(i, at, hold)
        if i in self._held_back:
            return waits if waits is not None else slot
        later = self._later(i, slot, end)
        if later is None or (waits is not None and end <= waits.end < later.end):
            return waits
        return later

    def _later(self, i: int, slot: Slot, end: int) -> Slot | None:
        """The first slot ending at or after `end`: ends jump over nights, so search for its start."""
        low, high = slot.start, slot.start + end - slot.end
        found = self._room.fit(i, high)
        step = end - slot.end
        while found is not None and found.end < end:
            low, step = found.start, 2 * step
            high = max(low, high) + step
            found = self._room.fit(i, high)
        if found is None or found.end == end:
            return found
        # Mostly it ends too late because the time it should end in is taken or closed: then the next start gives the
        # same slot. Otherwise, how late it ends says where it should start.
        nearer = [found.start - (found.end - end), low + _NEAREST]
        while high - low > _NEAREST:
            middle = nearer.pop() if nearer else (low + high) // 2
            if not low < middle < high:
                continue
            tried = self._room.fit(i, middle)
            if tried is None:
                break
            if tried.end >= end:
                found, high = tried, middle
            else:
                low = max(middle, min(tried.start, high - 1))
            if found.end == end:
                break
        return found

    def broken(self, task: Task, slot: Slot) -> BrokenWindow | None:
        """The first window that a slot's start misses."""
        for before, gaps in task.links:
            if len(gaps) == 1 and gaps[0][1] is None:
                continue
            prior = self._slots[before]
            if prior is None:
                continue
            gap = slot.start - prior.end
            late = 0
            for earliest, latest in gaps:
                if gap < earliest:
                    return BrokenWindow(before, late, prior.end + earliest)
                if latest is None or gap <= latest:
                    late = -1
                    break
                late = gap - latest
            if late >= 0:
                return BrokenWindow(before, late, -1)
        return None

    def way_out(self, i: int, slot: Slot, broken: BrokenWindow | None) -> int:
        """The run from which to place again, possibly itself; -1 if nothing helps and the window is missed."""
        if broken is not None and not slot.late:
            link = i, broken.before
            tries = self._tries[link] = self._tries.get(link, 0) + 1
            most = MAX_TRIES if broken.opens < 0 else _FIRST_TRIES
            movable = broken.late > 0 and not self._shop.tasks[broken.before].fixed
            if movable and tries <= most and link not in self._settled:
                prior = self._slots[broken.before]
                assert prior is not None
                self._ends[broken.before] = prior.end + broken.late
                self._asked[broken.before] = i
                return broken.before
            if broken.opens >= 0:
                self._starts[i] = max(broken.opens, self._starts.get(i, 0))
                return i
        if i in self._ends:
            # Moved later for a follower, it misses its own window: it waits inside, or the follower waits.
            if i not in self._held_back and _last_by_hand(self._shop.tasks[i]) >= 0:
                self._held_back.add(i)
            else:
                self._settled.add((self._asked[i], i))
                del self._ends[i]
            return i
        if i not in self._hurried:
            self._hurry(i, slot.late > 0)
            return i
        return -1

    def _hurry(self, i: int, everything: bool) -> None:
        """Place a run before all others as soon as it is ready, or even everything leading up to it."""
        self._hurried.add(i)
        self._just_hurried, self._from_start = i, everything
        leading = [i] if everything else []
        for j in leading:
            new = [before for before, _ in self._shop.tasks[j].links if before not in self._hurried]
            self._hurried.update(new)
            leading += new

    def hurried(self, i: int) -> bool:
        """Whether a run is placed before all others as soon as it is ready."""
        return i in self._hurried

    def keep(self, i: int, sequence: list[int]) -> int:
        """How many runs stay placed when a run is to be placed again: all, unless it is being hurried."""
        if self._just_hurried != i:
            return len(sequence)
        self._just_hurried = -1
        if self._from_start:
            return next((n for n, j in enumerate(sequence) if not self._shop.tasks[j].fixed), len(sequence))
        waits_for = {before for before, _ in self._shop.tasks[i].links}
        return next((n + 1 for n in range(len(sequence) - 1, -1, -1) if sequence[n] in waits_for), 0)


def _last_by_hand(task: Task) -> int:
    """The last phase that may wait for followers: manual work after which nothing holds the station."""
    found = task.held - 1
    return found if found > 0 and task.stints[found].how == ATTENDED else -1
