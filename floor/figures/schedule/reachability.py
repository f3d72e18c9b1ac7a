"""Proof that a window cannot be hit: all times at which a run could start and end, by the calendar alone.

Other loads, stations, carriers and the order of work are ignored, and a set-up may or may not be needed, so anything
that can be planned stays possible. If no time is left for a run, no plan exists within the days searched. The reverse
is not proven.
"""

from collections.abc import Iterable

from floor.figures.calendar import NoWorkingTime, WorkingTime
from floor.figures.schedule.compiled_problem import (
    ATTENDED,
    ELAPSED,
    Activity,
    CompiledProblem,
    Gap,
    Task,
    clip_windows,
)

Times = tuple[tuple[int, int], ...]
"""Stretches of epoch seconds, both ends included, in order and disjoint."""

_DAYS = 21
"""Days searched past the earliest time everything could be over: shifts repeat weekly."""


class ReachableTimes:
    """Possible times in one shop."""

    def __init__(self, shop: CompiledProblem) -> None:
        self._shop = shop
        self._until = 0
        self._staffed: dict[int, Times] = {}
        self._known: dict[tuple[object, ...], Times] = {}

    def unreachable(self) -> dict[int, int]:
        """Runs with no time left, and the least seconds by which each misses its window (0: no window)."""
        shop = self._shop
        asked = [
            len(shop.blocks[shop.block_of[i]].tasks) > 1
            or bool(task.allowed)
            or any(stint.wait is not None for stint in task.stints)
            for i, task in enumerate(shop.tasks)
        ]
        if not any(asked):
            return {}
        self._until = _DAYS * 86400 + self._over()
        ends: list[Times] = [()] * len(shop.tasks)
        found: dict[int, int] = {}
        for i in shop.order:
            task = shop.tasks[i]
            starts = self._starts(i, ends)
            if asked[i]:
                ends[i] = self._ends(task, starts)
            if not ends[i]:
                if asked[i]:
                    found[i] = self._least_late(i, ends)
                # Runs waiting for it are not at fault: treat it as if it could end at any time.
                ends[i] = (
                    (
                        min(max(starts[0][0] if starts else task.ready, task.ready) + task.length, self._until),
                        self._until,
                    ),
                )
        return found

    def _over(self) -> int:
        """When everything could be over if nothing waited for anything."""
        shop = self._shop
        over = [shop.now] * len(shop.tasks)
        for i in shop.order:
            task = shop.tasks[i]
            at = max([task.ready, *(over[before] + gaps[-1][0] for before, gaps in task.links)])
            for stint in task.stints:
                try:
                    if stint.how == ATTENDED:
                        at = shop.hours.fit(at, stint.length, need=stint.hands, interruptible=stint.interruptible)[1]
                    else:
                        at = at + stint.length if stint.how == ELAPSED else shop.open_hours.fit(at, stint.length)[1]
                except NoWorkingTime:
                    at += stint.length
            over[i] = at
        latest = [latest for task in shop.tasks for _, latest in task.allowed if latest is not None]
        return max([*over, *(min(end, shop.now + _DAYS * 86400) for end in latest)])

    def _starts(self, i: int, ends: list[Times]) -> Times:
        """When a run may start, given what it waits for."""
        task = self._shop.tasks[i]
        found: Times = ((task.ready, self._until),)
        if task.allowed:
            found = _both(
                found, _union((opens, self._until if latest is None else latest) for opens, latest in task.allowed)
            )
        for before, gaps in task.links:
            if any(latest is not None for _, latest in gaps):
                gaps = clip_windows(gaps, self._shop.between(i, before))
            found = _both(found, self._after(ends[before], gaps))
        return found

    def _after(self, ends: Times, gaps: tuple[Gap, ...]) -> Times:
        return _union(
            (a + earliest, self._until if latest is None else b + latest) for a, b in ends for earliest, latest in gaps
        )

    def _ends(self, task: Task, starts: Times) -> Times:
        """When a run may end, if it starts at one of these times."""
        key = (task.run.phases, task.run.setup, task.fixed, starts)
        if key not in self._known:
            self._known[key] = self._through(task, starts)
        return self._known[key]

    def _through(self, task: Task, starts: Times) -> Times:
        if task.fixed:
            waits = task.stints[0].how != ELAPSED if task.stints else False
            starts = ((starts[0][0], self._until),) if starts and waits else starts
        at = self._phases(task.stints, starts, begun=True)
        if task.setup is not None:
            at = _union((*at, *self._phases([task.setup, *task.stints], starts, begun=True)))
        return at

    def _phases(self, stints: list[Activity], at: Times, *, begun: bool) -> Times:
        """Times after all phases; `begun` means the first starts exactly at these times."""
        for n, stint in enumerate(stints):
            if stint.how == ELAPSED:
                at = tuple((a + stint.length, b + stint.length) for a, b in at)
                continue
            if n or not begun:
                at = _union((a, self._until if stint.wait is None else b + stint.wait) for a, b in at)
            at = (
                self._attended(stint, at)
                if stint.interruptible and stint.how == ATTENDED
                else tuple((a + stint.length, b + stint.length) for a, b in _both(at, self._room(stint)))
            )
        return at

    def _room(self, stint: Activity) -> Times:
        """When a phase without pauses may start, by the calendar."""
        return tuple((a, b - stint.length) for a, b in self._there(stint) if b - a >= stint.length)

    def _attended(self, stint: Activity, at: Times) -> Times:
        """Ends of work that pauses while too few people are in."""
        there = self._there(stint)
        found, before = [], 0
        worked: list[tuple[int, int, int]] = []
        for a, b in there:
            worked.append((a, b, before))
            before += b - a
        for opens, closes, done in worked:
            for a, b in _both(at, ((opens, closes - 1),)):
                first, last = done + a - opens + stint.length, done + b - opens + stint.length
                for start, end, base in worked:
                    low, high = max(first, base + 1), min(last, base + end - start)
                    if low <= high:
                        found.append((start + low - base, start + high - base))
        return _union(found) if stint.length else _both(at, tuple((a, b) for a, b in there))

    def _there(self, stint: Activity) -> Times:
        """Stretches with enough people in for a phase."""
        need = stint.hands if stint.how == ATTENDED else -1
        if need not in self._staffed:
            hours = self._shop.hours if need > 0 else self._shop.open_hours
            self._staffed[need] = _stretches(hours, abs(need), self._until)
        return self._staffed[need]

    def _least_late(self, i: int, ends: list[Times]) -> int:
        """Least seconds from the end of a window to the next possible start of the run."""
        task = self._shop.tasks[i]
        through = max((ends[before][0][0] + gaps[0][0] for before, gaps in task.links), default=task.ready)
        room = self._room(task.stints[0]) if task.stints and task.stints[0].how != ELAPSED else ((0, self._until),)
        shut = self._list_closings(i, ends)
        late = [max(a, ready, through) - at for at, ready in shut for a, b in room if b >= max(ready, through)]
        return min((seconds for seconds in late if seconds > 0), default=0)

    def _list_closings(self, i: int, ends: list[Times]) -> list[tuple[int, int]]:
        """(when a window of the run closes, when the run could be ready for it given the runs between)."""
        task = self._shop.tasks[i]
        shut = [(latest, latest) for _, latest in task.allowed if latest is not None]
        for before, gaps in task.links:
            closing = [latest for _, latest in gaps if latest is not None]
            if closing:
                least = self._shop.between(i, before)
                shut += [
                    (end + latest, end + max(least, latest))
                    for stretch in ends[before]
                    for end in stretch
                    for latest in closing
                ]
        return shut


def _stretches(hours: WorkingTime, need: int, until: int) -> Times:
    while hours.known_until < until and hours.extend():
        pass
    ends = [*hours.times[1:], hours.known_until]
    return _union(
        (a, min(b, until))
        for a, b, level in zip(hours.times, ends, hours.levels, strict=True)
        if level >= need and a < until
    )


def _both(one: Times, two: Times) -> Times:
    """Times in both sets."""
    found: list[tuple[int, int]] = []
    n = 0
    for a, b in one:
        while n < len(two) and two[n][1] < a:
            n += 1
        m = n
        while m < len(two) and two[m][0] <= b:
            found.append((max(a, two[m][0]), min(b, two[m][1])))
            m += 1
    return tuple(found)


def _union(stretches: Iterable[tuple[int, int]]) -> Times:
    """Stretches in order, touching ones joined."""
    found: list[tuple[int, int]] = []
    for a, b in sorted(stretches):
        if b < a:
            continue
        if found and a <= found[-1][1]:
            if b > found[-1][1]:
                found[-1] = (found[-1][0], b)
        else:
            found.append((a, b))
    return tuple(found)
