"""First come, first served, minute by minute: what a shop without a plan does. Written apart from the planner.

A machine, oven, person or carrier never waits while a run is ready for it; the run ready earliest goes first, on a
tie the later operation, then the earlier load. Windows are taken at their earliest and may be broken at the other end.
"""

from dataclasses import dataclass, field
from datetime import timedelta

from floor.figures.schedule import LoadModel, Phase, PhaseKind, RunModel, SchedulingProblem


@dataclass
class _Going:
    run: RunModel
    load: LoadModel
    left: list[Phase]
    began: int = -1
    busy: bool = False
    until: int = 0
    asked: int = 0
    at_station: bool = True


@dataclass
class Fcfs:
    """Simulates whole minutes; `finish()` gives the last end in minutes from now."""

    problem: SchedulingProblem
    ended: dict[str, int] = field(default_factory=dict)
    going: list[_Going] = field(default_factory=list)
    holding: set[str] = field(default_factory=set)
    set_up_for: dict[str, str | None] = field(default_factory=dict)

    def finish(self, horizon: int = 8_000) -> int:
        waiting = [(load, k) for load in self.problem.loads for k in range(len(load.runs))]
        inside = self._open_minutes(horizon)
        self.set_up_for = {station.name: station.set_up_for for station in self.problem.stations}
        for now in range(horizon):
            changed = True
            while changed:
                changed = self._advance(now, inside)
                ready = sorted(
                    (at, -k, n, load, k)
                    for n, (load, k) in enumerate(waiting)
                    if (at := self._ready(load, k)) is not None and at <= now
                )
                for *_, load, k in ready:
                    if self._begin(load, load.runs[k], now, inside):
                        waiting.remove((load, k))
                        changed = True
                        break
            if not waiting and not self.going:
                return max(self.ended.values())
        raise AssertionError("first come, first served never ends")

    def _ready(self, load: LoadModel, k: int) -> int | None:
        run, at = load.runs[k], 0
        before = {load.runs[k - 1].id: 0} if k else {}
        before |= {after.run: int(min(w.earliest for w in after.windows)) for after in run.after}
        for name, lag in before.items():
            if name not in self.ended:
                return None
            at = max(at, self.ended[name] + lag)
        return at

    def _begin(self, load: LoadModel, run: RunModel, now: int, inside: list[int]) -> bool:
        station = next((s for s in self.problem.stations if s.name == run.station), None)
        here = sum(g.run.places for g in self.going if g.at_station and g.run.station == run.station)
        if station is not None and here + run.places > station.places:
            return False
        if load.carrier is not None and load.id not in self.holding:
            used = sum(1 for other in self.problem.loads if other.id in self.holding and other.carrier == load.carrier)
            if used >= self.problem.carriers[load.carrier]:
                return False
        family = run.family or run.operation
        set_up = run.setup is not None and self.set_up_for[run.station or ""] != family
        going = _Going(run, load, [*([run.setup] if set_up and run.setup else []), *run.phases], now, asked=now)
        going.at_station = run.station is not None
        if not self._start_phase(going, now, inside):
            return False
        self.going.append(going)
        if station is not None:
            self.set_up_for[station.name] = family
        if load.carrier is not None:
            self.holding.add(load.id)
        return True

    def _start_phase(self, going: _Going, now: int, inside: list[int]) -> bool:
        phase = going.left[0]
        length = int(phase.minutes)
        if phase.kind is PhaseKind.ATTENDED:
            busy = sum(g.left[0].hands for g in self.going if g.busy and g.left[0].kind is PhaseKind.ATTENDED)
            if busy + phase.hands > self.problem.hands or inside[now] < length:
                return False
        if all(rest.kind is PhaseKind.CURE for rest in going.left):
            going.at_station = False
        going.busy, going.until = True, now + length
        return True

    def _advance(self, now: int, inside: list[int]) -> bool:
        changed = False
        for going in sorted(self.going, key=lambda g: g.asked):
            if going.busy and going.until <= now:
                going.left.pop(0)
                going.busy, going.asked, changed = False, now, True
                if not going.left:
                    self.going.remove(going)
                    self.ended[going.run.id] = now
                    if going.run is going.load.runs[-1]:
                        self.holding.discard(going.load.id)
            elif not going.busy and self._start_phase(going, now, inside):
                changed = True
        return changed

    def _open_minutes(self, horizon: int) -> list[int]:
        """For each minute, how many minutes the shop stays open from then on."""
        left = [0] * (horizon + 1)
        for minute in range(horizon - 1, -1, -1):
            at = (self.problem.now + timedelta(minutes=minute)).astimezone(self.problem.calendar.tz)
            clock = at.hour * 60 + at.minute
            is_open = any(
                shift.weekday == at.weekday()
                and shift.start.hour * 60 + shift.start.minute
                <= clock
                < (shift.end.hour * 60 + shift.end.minute or 1440)
                and not any(a.hour * 60 + a.minute <= clock < b.hour * 60 + b.minute for a, b in shift.breaks)
                for shift in self.problem.calendar.shifts
            )
            left[minute] = left[minute + 1] + 1 if is_open else 0
        return left
