"""What is still free in the shop, and where a run fits."""

from collections.abc import Mapping
from dataclasses import replace

from floor.figures.calendar import to_epoch
from floor.figures.schedule.compiled_problem import ATTENDED, ELAPSED, Activity, CompiledProblem, Task
from floor.figures.schedule.phase_placement import Hold, Neighbor, Part, PhasePlacer, Slot
from floor.figures.schedule.rows import PlaceGap, StationRows
from floor.figures.schedule.timeline import CapacityProfile, FreeHands


class FreeCapacity:
    """Free places of stations and free operators.

    Args:
        slots: the build's slots, by task.
        pins: station by task, for runs that several stations can do; other runs go where they end first.
    """

    def __init__(self, shop: CompiledProblem, slots: list[Slot | None], pins: Mapping[int, int]) -> None:
        self.shop, self.slots, self._pins = shop, slots, pins
        self.crew = FreeHands(shop.hours)
        self._layout = PhasePlacer(self.crew, shop.open_hours)
        self._profiles: list[CapacityProfile] = []
        self._rows: dict[int, StationRows] = {}
        self._opens: list[int] = []
        for s, station in enumerate(shop.stations):
            opens = shop.now if station.down_until is None else max(shop.now, to_epoch(station.down_until))
            self._opens.append(opens)
            profile = CapacityProfile(shop.now, station.places)
            profile.take(shop.now, opens, station.places)
            self._profiles.append(profile)
            if s in shop.lanes:
                self._rows[s] = StationRows(opens, station.places, station.set_up_for)

    @property
    def tries(self) -> int:
        """How often a run was laid out."""
        return self._layout.tries

    def fit(self, i: int, at: int, hold: Hold | None = None) -> Slot | None:
        """The slot of a run at or after `at` that ends first; None if the calendar never has room.

        Args:
            hold: a phase of the run that must wait.
        """
        task = self.shop.tasks[i]
        if not task.others:
            return self._fit_at(task, at, task.station, task.places, hold)
        pin = self._pins.get(i, -1)
        best: Slot | None = None
        for station, places in ((task.station, task.places), *task.others):
            if pin in (-1, station):
                slot = self._fit_at(task, at, station, places, hold)
                if slot is not None and (best is None or (slot.late, slot.end) < (best.late, best.end)):
                    best = slot
        return best

    def permits(self, task: Task, start: int) -> bool:
        """Whether a run may start then, by its windows and by what it waits for."""
        if start < task.ready or (
            task.allowed
            and not any(opens <= start and (latest is None or start <= latest) for opens, latest in task.allowed)
        ):
            return False
        for before, gaps in task.links:
            slot = self.slots[before]
            if slot is not None and not any(
                earliest <= start - slot.end and (latest is None or start - slot.end <= latest)
                for earliest, latest in gaps
            ):
                return False
        return True

    def take(self, i: int, slot: Slot) -> None:
        """Take what the slot needs, and adjust the set-up of the run after it if needed."""
        task = self.shop.tasks[i]
        if slot.lanes:
            rows = self._rows[slot.station]
            start = self.shop.now if task.fixed else slot.start
            rows.put(i, slot.lanes, slot.at, start, slot.held, task.family)
            if slot.neighbor is not None:
                self._change(slot, slot.neighbor.before, slot.neighbor.since)
        self._journal(task, slot, 1)

    def give_back(self, i: int, slot: Slot) -> None:
        """Undo a `take`; anything taken later must be given back first."""
        self._journal(self.shop.tasks[i], slot, -1)
        if slot.lanes:
            if slot.neighbor is not None:
                self._change(slot, slot.neighbor.since, slot.neighbor.before)
            self._rows[slot.station].take_out(i, slot.lanes, slot.at)

    def _change(self, slot: Slot, was: Slot, now: Slot) -> None:
        assert slot.neighbor is not None
        self.slots[slot.neighbor.task] = now
        self._rows[slot.station].begin(slot.lanes[0], slot.at[0] + 1, now.start)
        for parts, sign in ((was.parts, -1), (now.parts, 1)):
            for stint, start, end in parts:
                if stint.phase is None:
                    self.crew.take(start, end, sign * stint.hands)

    def _journal(self, task: Task, slot: Slot, sign: int) -> None:
        if slot.station >= 0 and not slot.lanes:
            # A run at the station holds it from now, even if its next phase cannot start.
            start = self.shop.now if task.fixed else slot.start
            self._profiles[slot.station].take(start, slot.held, sign * slot.places)
        for stint, start, end in slot.parts:
            if stint.how == ATTENDED:
                self.crew.take(start, end, sign * stint.hands)

    def _fit_at(self, task: Task, at: int, station: int, places: int, hold: Hold | None) -> Slot | None:
        rows = self._rows.get(station)
        if rows is None:
            best = self._in_span(task, at, task.stints, task.held, station, places, hold)
        else:
            best = None
            for gap in rows.gaps(at, places):
                if best is None or gap.free_at + task.length < best.end or best.late:
                    slot = self._in_gap(task, at, gap, station, places, hold)
                    if slot is not None and (
                        best is None or (slot.late, slot.end, -slot.start) < (best.late, best.end, -best.start)
                    ):
                        best = slot
        if best is not None:
            best.station, best.places = station, places
        return best

    def _in_gap(self, task: Task, at: int, gap: PlaceGap, station: int, places: int, hold: Hold | None) -> Slot | None:
        stints, held = task.stints, task.held
        if task.setup is not None and gap.family != task.family:
            stints, held = [task.setup, *stints], held + 1
            hold = hold and (hold[0] + 1, hold[1])
        follower = None if gap.follower < 0 else self.slots[gap.follower]
        at = max(at, gap.free_at)
        if follower is not None and at + task.holding > follower.held:
            return None
        slot = self._in_span(task, at, stints, held, station, places, hold)
        if slot is None:
            return None
        slot.lanes, slot.at = gap.lanes, gap.at
        return slot if follower is None or self._makes_way(task, slot, gap.follower, follower) else None

    def _makes_way(self, task: Task, slot: Slot, follower: int, there: Slot) -> bool:
        """Whether the run after the gap can stay, with or without a set-up; the slot notes what changes for it."""
        other = self.shop.tasks[follower]
        needed = other.setup is not None and other.family != task.family
        has = bool(there.parts) and there.parts[0][0].phase is None
        if needed == has:
            return slot.held <= there.start
        since = self._less(there) if has else self._more(other, there, slot.held)
        if since is None or slot.held > since.start or not self.permits(other, since.start):
            return False
        slot.neighbor = Neighbor(follower, there, since)
        return True

    def _less(self, there: Slot) -> Slot | None:
        """A slot without its set-up."""
        parts = [part for part in there.parts if part[0].phase is not None]
        return replace(there, start=parts[0][1], parts=parts) if parts else None

    def _more(self, other: Task, there: Slot, free_at: int) -> Slot | None:
        """A slot with a set-up before it, from `free_at` on; right before it if operators are free then."""
        set_up, begins = other.setup, there.start
        assert set_up is not None
        start = begins - set_up.length
        if start < free_at:
            return None
        if self.crew.clash(start, begins, set_up.hands) >= 0:
            piece = self.crew.fit(free_at, set_up.length, set_up.hands)
            if (
                piece is None
                or piece[1] > begins
                or not other.stints
                or not _may_wait(other.stints[0], begins - piece[1])
            ):
                return None
            start = piece[0]
        if other.opens and start < there.carrier_from:
            return None
        part: Part = (set_up, start, start + set_up.length)
        return replace(there, start=start, parts=[part, *there.parts])

    def _in_span(
        self, task: Task, at: int, stints: list[Activity], held: int, station: int, places: int, hold: Hold | None
    ) -> Slot | None:
        """The earliest instant at which the run may start; if there is none, the least late one."""
        if not task.allowed:
            return self._at_station(task, at, stints, held, station, places, hold)
        slot: Slot | None = None
        for earliest, latest in task.allowed:
            slot = self._at_station(task, max(at, earliest), stints, held, station, places, hold)
            if slot is None:
                return None
            if latest is None or slot.start <= latest:
                return slot
            slot.late = slot.start - latest
        return slot

    def _at_station(
        self, task: Task, at: int, stints: list[Activity], held: int, station: int, need: int, hold: Hold | None
    ) -> Slot | None:
        lay_out = self._layout.lay_out
        if station < 0 or station in self._rows:
            return lay_out(at, stints, held, None, hold)
        profile = self._profiles[station]
        if task.fixed:
            return lay_out(max(at, self._opens[station]), stints, held, None, hold)
        while True:
            clash = profile.clash(at, at + 1, need)
            if clash >= 0:
                at = clash
            slot = lay_out(at, stints, held, None, hold)
            if slot is None:
                return None
            clash = profile.clash(slot.start, slot.held, need)
            if clash < 0:
                return slot
            at = clash


def _may_wait(stint: Activity, seconds: int) -> bool:
    return stint.how != ELAPSED and (stint.wait is None or seconds <= stint.wait)
