"""One plan from one order of priorities: each block of runs is put where it fits earliest.

This is the serial generation scheme of resource-constrained project scheduling (Kolisch and Hartmann 1999), with
carriers held from the first run of a load to its last and with windows that must be hit.
"""

from bisect import insort
from collections.abc import Sequence
from dataclasses import dataclass, field
from heapq import heapify, heappop, heappush

from floor.figures.calendar import NoWorkingTime, epoch
from floor.figures.schedule.shop import ATTENDED, ELAPSED, Shop, Stint, Task
from floor.figures.schedule.timeline import Crew, Lanes, Profile

MAX_TRIES = 120
"""Times a block is moved later to hit its windows before the window counts as missed."""

Part = tuple[Stint, int, int]
"""(phase, start, end); work that pauses has several."""


@dataclass(slots=True)
class Slot:
    """Where a run was put: epoch seconds, its parts, the places of a station with set-ups, and what undoes it."""

    start: int
    end: int
    held: int
    parts: list[Part]
    lanes: tuple[int, ...] = ()
    lanes_before: list[tuple[int, str | None]] = field(default_factory=list)
    carrier_from: int = 0
    """Since when the carrier that the load took was free."""
    late: int = 0
    """Seconds by which it misses the latest start that was fixed for it."""
    station: int = -1
    """Where it was put, of the stations that can do it."""
    places: int = 1


class Build:
    """A plan being made. When done: `slots` by task, `carrier` number by load, `missed` windows, `stuck` blocks."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.slots: list[Slot | None] = [None] * len(shop.tasks)
        self.carrier: list[int] = [0] * len(shop.loads)
        self.missed: list[tuple[int, int]] = []
        """(task, seconds too late); 0 seconds when no time at all was found."""
        self.stuck: list[int] = []
        self.sequence: list[int] = []
        """Blocks in the order in which they were placed."""
        self._crew = Crew(shop.hours)
        self._profiles: list[Profile] = []
        self._lanes: dict[int, Lanes] = {}
        self._opens: list[int] = []
        for s, station in enumerate(shop.stations):
            opens = shop.now if station.down_until is None else max(shop.now, epoch(station.down_until))
            self._opens.append(opens)
            profile = Profile(shop.now, station.places)
            profile.take(shop.now, opens, station.places)
            self._profiles.append(profile)
            if s in shop.lanes:
                self._lanes[s] = Lanes(opens, station.places, station.set_up_for)
        self._pools: list[list[tuple[int, int]]] = []
        for holders, name in zip(shop.holders, shop.kinds, strict=True):
            for number, load in enumerate(holders, 1):
                self.carrier[load] = number
            self._pools.append([(shop.now, number) for number in
                                range(len(holders) + 1, shop.problem.carriers[name] + 1)])

    def run(self, keys: Sequence[float], pull: float = 0.0) -> "Build":
        """Place every block, the ready one with the least key first; `pull` times the ready time is added to a key."""
        shop = self.shop
        waiting = [len(block.before) for block in shop.blocks]
        heap = [(block.rank, block.latest, keys[b] + pull * self._ready(b), b)
                for b, block in enumerate(shop.blocks) if not block.before]
        heapify(heap)
        parked: list[list[tuple[int, int, float, int]]] = [[] for _ in shop.kinds]
        left = len(shop.blocks)
        while heap:
            rank, latest, key, b = entry = heappop(heap)
            block = shop.blocks[b]
            short = [kind for kind, need in block.needs.items() if len(self._pools[kind]) < need]
            if short:
                heappush(parked[short[0]], entry)
                continue
            if pull and block.needs and (now_key := keys[b] + pull * self._ready(b)) > key:
                heappush(heap, (rank, latest, now_key, b))
                continue
            closed = self._place_block(block.tasks)
            self.sequence.append(b)
            left -= 1
            for kind in closed:
                # One carrier given back serves one block, unless some block needs several before it can begin.
                for _ in range(len(parked[kind]) if shop.greedy else min(1, len(parked[kind]))):
                    heappush(heap, heappop(parked[kind]))
            for follower in block.after:
                waiting[follower] -= 1
                if not waiting[follower]:
                    other = shop.blocks[follower]
                    heappush(heap, (other.rank, other.latest, keys[follower] + pull * self._ready(follower), follower))
        if left:
            self.stuck = [b for b, block in enumerate(shop.blocks) if self.slots[block.tasks[0]] is None]
        return self

    def alone(self, b: int) -> "Build":
        """Place one block in an otherwise empty shop with every carrier free: what it misses there it always misses."""
        for kind, name in enumerate(self.shop.kinds):
            self._pools[kind] = [(self.shop.now, n + 1) for n in range(self.shop.problem.carriers[name])]
        self._place_block(self.shop.blocks[b].tasks)
        return self

    def placed(self, task: int) -> Slot:
        """The slot of a task of a finished build."""
        slot = self.slots[task]
        if slot is None:
            raise LookupError(f"run {self.shop.tasks[task].run.id!r} was not placed")
        return slot

    def _ready(self, b: int) -> int:
        """When everything the block's first run waits for is over, as far as it is placed."""
        block = self.shop.blocks[b]
        at = self._lower(self.shop.tasks[block.tasks[0]])
        for kind, need in block.needs.items():
            if len(self._pools[kind]) >= need:
                at = max(at, self._pools[kind][need - 1][0])
        return at

    def _lower(self, task: Task) -> int:
        at = task.ready
        for before, gaps in task.links:
            slot = self.slots[before]
            if slot is not None and slot.end + gaps[0][0] > at:
                at = slot.end + gaps[0][0]
        return at

    def _place_block(self, tasks: list[int]) -> list[int]:
        """Put each run where it fits; one whose window would close moves the run before it later. Kinds given back."""
        shop = self.shop
        lower: dict[int, int] = {}
        moved_for: dict[int, tuple[int, int]] = {}
        settled: set[tuple[int, int]] = set()
        tries = k = 0
        while k < len(tasks):
            i = tasks[k]
            task = shop.tasks[i]
            at = self._lower(task)
            if i in lower and lower[i] > at:
                at = lower[i]
            if task.opens:
                at = self._carrier_from(task, at)
            slot = self._fit(task, at)
            if slot is None:
                self.missed.append((i, 0))
                slot = Slot(at, at, at, [], station=task.station, places=task.places)
            broken = self._broken(task, slot) if len(tasks) > 1 or task.links else None
            if broken is None and not slot.late:
                self._commit(i, slot)
                k += 1
                continue
            tries += 1
            back = self._give_way(tasks, k, slot, broken, lower, moved_for, settled, tries)
            if back < 0:
                self.missed.append((i, max(slot.late, broken[1] if broken else 0)))
                self._commit(i, slot)
                k += 1
            else:
                for j in reversed(tasks[back:k]):
                    self._undo(j)
                k = back
        return [shop.load_kind[shop.tasks[i].load] for i in tasks
                if shop.tasks[i].closes and shop.load_kind[shop.tasks[i].load] >= 0]

    def _give_way(self, tasks: list[int], k: int, slot: Slot, broken: tuple[int, int, int] | None,
                  lower: dict[int, int], moved_for: dict[int, tuple[int, int]], settled: set[tuple[int, int]],
                  tries: int) -> int:
        """Position to go on from after run k missed a window; -1 when nothing helps and the window is missed.

        `broken` is (run before, seconds too late, next time the window opens or -1).
        """
        i = tasks[k]
        if broken is not None and not slot.late:
            before, late, opens = broken
            place = next((n for n in range(k) if tasks[n] == before), -1)
            movable = place >= 0 and not self.shop.tasks[before].fixed and tries < MAX_TRIES
            if movable and (i, before) not in settled:
                was = self.slots[before]
                assert was is not None
                lower[before] = was.start + late
                moved_for[before] = (i, before)
                return place
            if opens >= 0:
                lower[i] = opens
                return k
        if i in moved_for:
            # Moving this run later for the sake of a follower made it miss its own window: the follower waits instead.
            settled.add(moved_for.pop(i))
            for later in tasks[k:]:
                lower.pop(later, None)
            return k
        return -1

    def _broken(self, task: Task, slot: Slot) -> tuple[int, int, int] | None:
        """The first window a start lies outside of: (run before, seconds too late, next opening or -1)."""
        for before, gaps in task.links:
            if len(gaps) == 1 and gaps[0][1] is None:
                continue
            prior = self.slots[before]
            if prior is None:
                continue
            end = prior.end
            gap = slot.start - end
            late = 0
            for earliest, latest in gaps:
                if gap < earliest:
                    return before, late, end + earliest
                if latest is None or gap <= latest:
                    late = -1
                    break
                late = gap - latest
            if late >= 0:
                return before, late, -1
        return None

    def _carrier_from(self, task: Task, at: int) -> int:
        kind = self.shop.load_kind[task.load]
        if kind < 0 or self.shop.loads[task.load].holds_carrier:
            return at
        return max(at, self._pools[kind][0][0])

    def _fit(self, task: Task, at: int) -> Slot | None:
        """Earliest slot at or after `at`, at whichever station; None when the calendar never has room."""
        best = self._fit_at(task, at, task.station, task.places)
        for station, places in task.others:
            slot = self._fit_at(task, at, station, places)
            if slot is not None and (best is None or (slot.late, slot.end) < (best.late, best.end)):
                best = slot
        return best

    def _fit_at(self, task: Task, at: int, station: int, places: int) -> Slot | None:
        best = self._earliest(task, at, station, places)
        if best is not None:
            best.station, best.places = station, places
        return best

    def _earliest(self, task: Task, at: int, station: int, places: int) -> Slot | None:
        lanes_here = self._lanes.get(station)
        if lanes_here is None:
            return self._in_span(task, at, task.stints, task.held, station, places)
        best: Slot | None = None
        for free_at, other, lanes in lanes_here.options(task.family, places):
            set_up = task.setup is not None and other
            stints = [task.setup, *task.stints] if task.setup is not None and other else task.stints
            slot = self._in_span(task, max(at, free_at), stints, task.held + set_up, station, places)
            if slot is not None and (best is None or (slot.late, slot.end) < (best.late, best.end)):
                best, best.lanes = slot, lanes
        return best

    def _in_span(self, task: Task, at: int, stints: list[Stint], held: int, station: int, places: int) -> Slot | None:
        """As `_earliest`, inside the instants between which the run may start, or late by the least if none."""
        if not task.allowed:
            return self._at_station(task, at, stints, held, station, places)
        slot: Slot | None = None
        for earliest, latest in task.allowed:
            slot = self._at_station(task, max(at, earliest), stints, held, station, places)
            if slot is None:
                return None
            if latest is None or slot.start <= latest:
                return slot
            slot.late = slot.start - latest
        return slot

    def _at_station(
        self, task: Task, at: int, stints: list[Stint], held: int, station: int, need: int
    ) -> Slot | None:
        profile = self._profiles[station] if station >= 0 and station not in self._lanes else None
        if task.fixed and profile is not None:
            return self.lay_out(max(at, self._opens[station]), stints, held)
        while True:
            if profile is not None:
                clash = profile.clash(at, at + 1, need)
                if clash >= 0:
                    at = clash
            slot = self.lay_out(at, stints, held)
            if slot is None or profile is None:
                return slot
            clash = profile.clash(slot.start, slot.held, need)
            if clash < 0:
                return slot
            at = clash

    def lay_out(self, at: int, stints: list[Stint], held: int, hands: Sequence[int] | None = None) -> Slot | None:
        """The phases one after another, each as early as hands and shifts allow; stations are not looked at.

        The run begins later where a phase would otherwise begin too long after the one before it; None where that
        never helps.

        Args:
            held: how many of the phases hold the station.
            hands: people that must be free for each phase, if not its own number.
        """
        torn: Slot | None = None
        for _ in range(MAX_TRIES):
            found = self._in_turn(at, stints, held, hands)
            if found is None:
                break
            slot, late, apart = found
            if late:
                at = slot.start + late
            elif apart < 0 or torn is not None:
                return torn if apart >= 0 else slot
            else:
                torn, at = slot, apart
        return torn

    def _in_turn(self, at: int, stints: list[Stint], held: int, hands: Sequence[int] | None
                 ) -> tuple[Slot, int, int] | None:
        """The phases without regard to gaps; the worst seconds too many in a gap; where a joined phase begins late.

        The last is -1 where every joined phase begins at the end of the one before.
        """
        begin = apart = -1
        late = 0
        free_from = at
        parts: list[Part] = []
        for n, stint in enumerate(stints):
            if stint.how == ELAPSED:
                start, end = at, at + stint.length
                parts.append((stint, start, end))
            elif stint.how == ATTENDED:
                need = stint.hands if hands is None else hands[n]
                if stint.interruptible:
                    pieces = self._crew.fit_paused(at, stint.length, need)
                    if pieces is None:
                        return None
                    parts += [(stint, a, b) for a, b in pieces]
                    start, end = pieces[0][0], pieces[-1][1]
                else:
                    piece = self._crew.fit(at, stint.length, need)
                    if piece is None:
                        return None
                    start, end = piece
                    parts.append((stint, start, end))
            else:
                try:
                    start, end = self.shop.open_hours.fit(at, stint.length)
                except NoWorkingTime:
                    return None
                parts.append((stint, start, end))
            if begin < 0:
                begin = start
            elif start > at:
                if stint.wait is not None:
                    late = max(late, start - at - stint.wait)
                if stint.joined:
                    apart = start
            at = end
            if n < held:
                free_from = end
        if begin < 0:
            begin = at
        return Slot(begin, at, free_from if held else begin, parts), late, apart

    def _commit(self, i: int, slot: Slot) -> None:
        task = self.shop.tasks[i]
        self.slots[i] = slot
        if slot.lanes:
            slot.lanes_before = self._lanes[slot.station].take(slot.lanes, slot.held, task.family)
        self._book(task, slot, 1)
        kind = self.shop.load_kind[task.load]
        if kind >= 0:
            pool = self._pools[kind]
            if task.opens and not self.shop.loads[task.load].holds_carrier:
                fitting = max((n for n, (free, _) in enumerate(pool) if free <= slot.start), default=0)
                slot.carrier_from, self.carrier[task.load] = pool.pop(fitting)
            if task.closes:
                insort(pool, (slot.end, self.carrier[task.load]))

    def _undo(self, i: int) -> None:
        task, slot = self.shop.tasks[i], self.slots[i]
        assert slot is not None
        kind = self.shop.load_kind[task.load]
        if kind >= 0:
            pool = self._pools[kind]
            if task.closes:
                pool.remove((slot.end, self.carrier[task.load]))
            if task.opens and not self.shop.loads[task.load].holds_carrier:
                insort(pool, (slot.carrier_from, self.carrier[task.load]))
        self._book(task, slot, -1)
        if slot.lanes:
            self._lanes[slot.station].restore(slot.lanes, slot.lanes_before)
        self.slots[i] = None

    def _book(self, task: Task, slot: Slot, sign: int) -> None:
        if slot.station >= 0 and not slot.lanes:
            # What stands at the station holds it from now, whether or not its next phase can begin.
            start = self.shop.now if task.fixed else slot.start
            self._profiles[slot.station].take(start, slot.held, sign * slot.places)
        for stint, start, end in slot.parts:
            if stint.how == ATTENDED:
                self._crew.take(start, end, sign * stint.hands)
