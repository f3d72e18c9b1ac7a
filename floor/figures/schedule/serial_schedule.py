"""One plan from one order of work: runs are placed one by one where they end first.

This is the serial generation scheme of resource-constrained project scheduling (Kolisch and Hartmann 1999), with
carriers held from the first run of a load to its last, gaps at stations with set-ups, and windows that must be hit: if
one closes too early, the run before it moves later, and what was placed since is placed again.
"""

from bisect import insort
from collections.abc import Iterable, Iterator, Mapping, Sequence
from heapq import heapify, heappop, heappush
from math import inf

from floor.figures.schedule.compiled_problem import CompiledProblem, Task
from floor.figures.schedule.free_capacity import FreeCapacity
from floor.figures.schedule.phase_placement import Slot
from floor.figures.schedule.window_repair import WindowTracker

Entry = tuple[int, int, float, int]
"""(rank, latest start, key, run); the smallest is served first."""

_AGAIN = 6
"""How often all runs may be placed again for the sake of windows before the rest count as missed."""


class SerialSchedule:
    """A plan in the making.

    When done: `slots` by task, `carrier` number by load, `missed` windows (seconds late by task, 0 if no time was
    found at all), `stuck` tasks that were never ready, and the `sequence` in which tasks were placed.

    Args:
        not_before: epoch second by task; it is not started earlier.
        pins: station by task, of those that can do it; other runs go where they end first.
    """

    def __init__(
        self, shop: CompiledProblem, not_before: Mapping[int, int] | None = None, pins: Mapping[int, int] | None = None
    ) -> None:
        self.shop = shop
        self.slots: list[Slot | None] = [None] * len(shop.tasks)
        self.carrier: list[int] = [0] * len(shop.loads)
        self.missed: dict[int, int] = {}
        self.stuck: list[int] = []
        self.sequence: list[int] = []
        self.given_up = False
        self.pins = pins or {}
        self._room = FreeCapacity(shop, self.slots, self.pins)
        self._windows = WindowTracker(shop, self.slots, self._room, not_before or {})
        self._pools: list[list[tuple[int, int]]] = []
        for holders, name in zip(shop.holders, shop.kinds, strict=True):
            for number, load in enumerate(holders, 1):
                self.carrier[load] = number
            self._pools.append(
                [(shop.now, number) for number in range(len(holders) + 1, shop.problem.carriers[name] + 1)]
            )
        self._served = 0
        """Runs placed; runs placed again count again."""
        self._waiting = [len(task.links) for task in shop.tasks]
        self._left = [len(block.tasks) for block in shop.blocks]
        self._keys: Sequence[float] = ()
        self._pull = 0.0
        self._whole = False
        self._gated: list[bool] = []
        """By block: its runs wait until everything leading up to any of them is placed, then are placed together."""
        self._heap: list[Entry] = []
        self._parked: list[list[Entry]] = [[] for _ in shop.kinds]

    def run(
        self, keys: Sequence[float], pull: float = 0.0, *, whole: bool = False, limit: float = inf, misses: float = inf
    ) -> "SerialSchedule":
        """Place every run, smallest key first among the ready; `pull` times the ready time is added to each key.

        Args:
            whole: place tied runs together, and first those leading up to a fixed latest start.
            limit: epoch second; a build sure to end later is given up.
            misses: most windows it may miss; a build that misses more is given up.
        """
        shop = self.shop
        self._keys, self._pull, self._whole = keys, pull, whole
        self._line_up()
        while self._heap:
            if not self._serve(heappop(self._heap)):
                continue
            i = self.sequence[-1]
            task, slot = shop.tasks[i], self.placed(i)
            if slot.end + task.tail - task.length > limit or len(self.missed) > misses:
                self.given_up = True
                return self
        if len(self.sequence) < len(shop.tasks):
            opened = [i for i, slot in enumerate(self.slots) if slot is None and shop.tasks[i].opens]
            self.stuck = opened or [i for i, slot in enumerate(self.slots) if slot is None]
        return self

    def _line_up(self) -> None:
        """Gate the blocks, and queue the runs that wait for nothing."""
        blocks = self.shop.blocks
        self._gated = [self._whole or sum(block.needs.values()) > 1 for block in blocks]
        for block, gated in zip(blocks, self._gated, strict=True):
            if gated:
                for i in block.tasks:
                    self._waiting[i] += len(block.before)
        self._heap = [self._entry(i) for i, count in enumerate(self._waiting) if not count]
        heapify(self._heap)

    @property
    def work(self) -> int:
        """Work done, in runs laid out: one for each place tried."""
        return self._room.tries

    def placed(self, task: int) -> Slot:
        """The slot of a task of a finished build."""
        slot = self.slots[task]
        if slot is None:
            raise LookupError(f"run {self.shop.tasks[task].run.id!r} was not placed")
        return slot

    def _entry(self, i: int) -> Entry:
        shop = self.shop
        b = shop.block_of[i]
        block, task = shop.blocks[b], shop.tasks[i]
        if task.fixed:
            return 0, 0, 0.0, i
        if self._gated[b] and self._left[b] < len(block.tasks):
            return 1, 0, float(shop.place_in_block[i]), i
        if self._windows.hurried(i):
            return 1, 1, 0.0, i
        key = self._keys[i] + (self._pull * self._ready(i) if self._pull else 0.0)
        return (2 + (block.rank > 1), block.latest, key, i) if self._whole else (2, 0, key, i)

    def _ready(self, i: int) -> int:
        """When everything placed that the run waits for is over."""
        at = self._windows.lower(i)
        task = self.shop.tasks[i]
        kind = self._taken(task)
        return max(at, self._pools[kind][0][0]) if kind >= 0 and self._pools[kind] else at

    def _taken(self, task: Task) -> int:
        """The kind of carrier a run takes; -1 if none."""
        return self.shop.load_kind[task.load] if task.opens and not self.shop.loads[task.load].holds_carrier else -1

    def _serve(self, entry: Entry) -> bool:
        """Place the run, or set it aside until a carrier is back; returns whether it was placed."""
        i = entry[3]
        task = self.shop.tasks[i]
        if self.slots[i] is not None or self._waiting[i]:
            return False
        kind = self._taken(task)
        if kind >= 0:
            block = self.shop.block_of[i]
            needs = self.shop.blocks[block].needs
            begun = self._left[block] < len(self.shop.blocks[block].tasks)
            short = [k for k, need in needs.items() if len(self._pools[k]) < (need if not begun else k == kind)]
            if short or not self._pools[kind]:
                heappush(self._parked[short[0] if short else kind], entry)
                return False
            if self._pull and (anew := self._entry(i)) > entry:
                heappush(self._heap, anew)
                return False
        return self._place(i, kind)

    def _place(self, i: int, kind: int) -> bool:
        task, windows = self.shop.tasks[i], self._windows
        at = windows.lower(i)
        if kind >= 0:
            at = max(at, self._pools[kind][0][0])
        self._served += 1
        slot = windows.find(i, at)
        if slot is None:
            self.missed[i] = 0
            slot = Slot(
                at, at, at, [], station=task.station if task.station not in self.shop.lanes else -1, places=task.places
            )
        broken = windows.broken(task, slot) if task.links else None
        if broken is not None or slot.late:
            back = -1 if self._served > self._most else windows.way_out(i, slot, broken)
            if back >= 0:
                self._back_to(i, back)
                return False
            self.missed[i] = max(slot.late, broken.late if broken else 0)
        self._commit(i, slot, kind)
        return True

    @property
    def _most(self) -> int:
        return 300 + _AGAIN * len(self.shop.tasks)

    def _commit(self, i: int, slot: Slot, kind: int) -> None:
        task, shop = self.shop.tasks[i], self.shop
        self.slots[i] = slot
        self.sequence.append(i)
        self._room.take(i, slot)
        if kind >= 0:
            pool = self._pools[kind]
            fitting = max((n for n, (free, _) in enumerate(pool) if free <= slot.start), default=0)
            slot.carrier_from, self.carrier[task.load] = pool.pop(fitting)
        if task.closes and (held := shop.load_kind[task.load]) >= 0:
            insort(self._pools[held], (slot.end, self.carrier[task.load]))
            self._wake(held)
        b = shop.block_of[i]
        self._left[b] -= 1
        for j in shop.followers[i]:
            self._less_waiting(j)
        if not self._left[b]:
            for j in self._list_gated_by(b):
                self._less_waiting(j)
        elif self._gated[b] and self._left[b] == len(shop.blocks[b].tasks) - 1:
            self._queue_ready(shop.blocks[b].tasks)

    def _list_gated_by(self, b: int) -> Iterator[int]:
        """The runs waiting until all of a block is placed."""
        blocks = self.shop.blocks
        for after in blocks[b].after:
            if self._gated[after]:
                yield from blocks[after].tasks

    def _queue_ready(self, tasks: Iterable[int]) -> None:
        """Queue the runs that are not placed and wait for nothing."""
        for j in tasks:
            if self.slots[j] is None and not self._waiting[j]:
                heappush(self._heap, self._entry(j))

    def _less_waiting(self, j: int) -> None:
        self._waiting[j] -= 1
        if not self._waiting[j]:
            heappush(self._heap, self._entry(j))

    def _wake(self, kind: int) -> None:
        """One returned carrier serves one run, unless some runs need several before the first can start."""
        parked = self._parked[kind]
        while parked:
            entry = heappop(parked)
            if self.slots[entry[3]] is None and not self._waiting[entry[3]]:
                heappush(self._heap, entry)
                if not self.shop.greedy:
                    return

    def _back_to(self, i: int, back: int) -> None:
        """Remove what was placed since a run, that run included unless it is the current one, and serve it all
        again."""
        again = [i]
        keep = self.sequence.index(back) if back != i else self._windows.keep(i, self.sequence)
        while len(self.sequence) > keep:
            j = self.sequence.pop()
            self._undo(j)
            again.append(j)
        for parked in self._parked:
            again += [entry[3] for entry in parked]
            parked.clear()
        self._queue_ready(again)

    def _undo(self, i: int) -> None:
        shop, task, slot = self.shop, self.shop.tasks[i], self.placed(i)
        b = shop.block_of[i]
        if not self._left[b]:
            for j in self._list_gated_by(b):
                self._waiting[j] += 1
        self._left[b] += 1
        for j in shop.followers[i]:
            self._waiting[j] += 1
        if task.closes and (held := shop.load_kind[task.load]) >= 0:
            self._pools[held].remove((slot.end, self.carrier[task.load]))
        if (kind := self._taken(task)) >= 0:
            insort(self._pools[kind], (slot.carrier_from, self.carrier[task.load]))
        self._room.give_back(i, slot)
        self.slots[i] = None
        self.missed.pop(i, None)
