"""Small changes to an order of work. `keys` are the runs' places in it; each function changes them in place."""

from collections.abc import Callable, Mapping
from random import Random

from floor.figures.schedule.compiled_problem import CompiledProblem
from floor.figures.schedule.critical_chain import CriticalWait
from floor.figures.schedule.serial_schedule import SerialSchedule

Keys = list[float]

_OFTEN = (50, 8, 6, 22, 6, 4, 4)
"""How often each kind of change is drawn, out of a hundred: mostly one in the critical chain."""

_OFTEN_TIED = (40, 12, 8, 20, 8, 6, 6)
"""The same if windows tie runs: the chain does not show what a window costs, so whole loads are moved more often."""

_OFTEN_OF_FEW = (45, 35, 20, 0, 0, 0, 0)
"""The same for few tries: kinds that change more at once."""


class NeighborhoodMoves:
    """Changes to the order of one build; what they need is computed once.

    Args:
        chain: what the critical runs wait for.
    """

    def __init__(self, shop: CompiledProblem, build: SerialSchedule, chain: list[CriticalWait]) -> None:
        self.shop, self.build = shop, build
        self._chain = [wait for wait in chain if wait.blocker >= 0]
        self._end = max((slot.end for slot in build.slots if slot is not None), default=shop.now)
        self._at: dict[int, list[int]] = {}
        for i in sorted(range(len(shop.tasks)), key=self._start):
            slot = build.slots[i]
            if slot is not None and slot.station >= 0:
                self._at.setdefault(slot.station, []).append(i)
        self._stations = [row for row in self._at.values() if len(row) > 1]

    def change(self, keys: Keys, random: Random, *, few: bool) -> None:
        """One change of a random kind; now and then also pull tied runs together.

        Args:
            few: there are few tries.
        """
        move: Callable[[Keys, Random], None] = random.choices(
            (self.hurry, self.shake, self.shift, self.insert, self.swap, self.deal_in, self.swap_loads),
            _OFTEN_OF_FEW if few else _OFTEN_TIED if self.shop.tied else _OFTEN,
        )[0]
        move(keys, random)
        if random.random() < 0.15:
            self.pull_together(keys, random)

    def pins(self, random: Random) -> Mapping[int, int]:
        """Stations of runs that several stations can do: as in the build, now and then with one more or one less."""
        pins = self.build.pins
        if not self.shop.with_choice or random.random() < 0.7:
            return pins
        i = random.choice(self.shop.with_choice)
        if i in pins:
            return {task: station for task, station in pins.items() if task != i}
        task = self.shop.tasks[i]
        return {**pins, i: random.choice((task.station, *(station for station, _ in task.others)))}

    def _start(self, i: int) -> int:
        slot = self.build.slots[i]
        return self._end if slot is None else slot.start

    def shift(self, keys: Keys, random: Random) -> None:
        """Move a whole load earlier or later."""
        load = random.randrange(len(self.shop.loads))
        by = random.gauss(0.0, 0.15 * (self._end - self.shop.now))
        for i in self.shop.runs_of[load]:
            keys[i] += by

    def shake(self, keys: Keys, random: Random) -> None:
        """Blur the starts of some runs in a stretch of the plan, by about the length of a few runs."""
        n = len(keys)
        scale = random.choice((1.0, 3.0)) * self.shop.mean_length
        center = keys[random.randrange(n)]
        near = sorted(range(n), key=lambda i: abs(keys[i] - center))[: random.randint(2, max(2, min(n, 24)))]
        for i in near:
            keys[i] += random.gauss(0.0, scale)

    def hurry(self, keys: Keys, random: Random) -> None:
        """In the critical chain, put a run before one it waits for, or a run in its way after it."""
        chain = self._chain
        if not chain:
            self.shake(keys, random)
            return
        n = random.randrange(len(chain))
        late, early = chain[n].task, chain[n].blocker
        # Runs waiting for each other form a stretch; half the moves jump over more than one of them.
        while random.random() < 0.5 and n + 1 < len(chain) and chain[n + 1].task == early:
            n += 1
            early = chain[n].blocker
        if random.random() < 0.5:
            keys[early] = keys[late] + 1
            return
        self._before(keys, late, keys[early])

    def insert(self, keys: Keys, random: Random) -> None:
        """Put a run, with what leads up to it, somewhere else in the order."""
        i, other = random.randrange(len(keys)), random.randrange(len(keys))
        if keys[other] < keys[i]:
            self._before(keys, i, keys[other])
        else:
            keys[i] = keys[other] + 1

    def swap(self, keys: Keys, random: Random) -> None:
        """Change the order of two runs near each other at a station."""
        if not self._stations:
            self.insert(keys, random)
            return
        row = random.choice(self._stations)
        n = random.randrange(len(row) - 1)
        early, late = row[n], row[min(len(row) - 1, n + random.choice((1, 1, 2, 3)))]
        if random.random() < 0.5:
            keys[early] = keys[late] + 1
        else:
            self._before(keys, late, keys[early])

    def deal_in(self, keys: Keys, random: Random) -> None:
        """Take a load out and put its runs back in from some moment on, each as soon as the one before is over."""
        runs = self.shop.runs_of[random.randrange(len(self.shop.loads))]
        if not runs:
            return
        at = self.shop.now + random.random() * max(1, self._end - self.shop.now - self.shop.tasks[runs[0]].tail)
        stretch = random.choice((1.0, 1.0, 1.5))
        for i in runs:
            keys[i] = at
            at += stretch * self.shop.tasks[i].length

    def swap_loads(self, keys: Keys, random: Random) -> None:
        """Swap two loads."""
        loads = self.shop.runs_of
        if len(loads) < 2:
            self.insert(keys, random)
            return
        one, two = random.sample(range(len(loads)), 2)
        count = min(len(loads[one]), len(loads[two]))
        for i, j in zip(loads[one][-count:] if count else (), loads[two][-count:] if count else (), strict=True):
            keys[i], keys[j] = keys[j], keys[i]

    def pull_together(self, keys: Keys, random: Random) -> None:
        """Serve tied runs right after each other: all of them, or those of one block."""
        blocks = self.shop.tied
        if not blocks:
            return
        for block in blocks if random.random() < 0.5 else [random.choice(blocks)]:
            at = min(keys[i] for i in block.tasks)
            for n, i in enumerate(block.tasks):
                keys[i] = at + n * 1e-3

    def _before(self, keys: Keys, late: int, at: float) -> None:
        """Put a run, and what leads up to it, before a place in the order."""
        depth, leading = 1, [late]
        for i in leading:
            if keys[i] >= at or i == late:
                keys[i] = at - depth
                depth += 1
                leading += [before for before, _ in self.shop.tasks[i].links if keys[before] >= at]
