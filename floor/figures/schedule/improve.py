"""Search for a better order of work: first several priority rules, then small changes to the best order.

Changes are judged by simulated annealing (Kirkpatrick, Gelatt and Vecchi 1983). The same seed and rounds give the
same plan.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from math import inf, log
from random import Random
from typing import NamedTuple

from floor.figures.schedule.compiled_problem import CompiledProblem
from floor.figures.schedule.critical_chain import trace_critical_waits
from floor.figures.schedule.moves import NeighborhoodMoves
from floor.figures.schedule.serial_schedule import SerialSchedule


class ObjectiveValue(NamedTuple):
    """What the search minimizes, most important first."""

    missed: int
    """Windows missed and runs that cannot be placed."""
    late: float
    """Weighted seconds after the due dates."""
    pushed: int
    """Seconds that batches end later than under the previous order of work."""
    end: int
    load_ends: int
    """Sum of all load ends."""

    @property
    def sound(self) -> bool:
        """Whether only an earlier end can improve it."""
        return not (self.missed or self.late or self.pushed)


Progress = Callable[[int, int, int], None]
"""Called with rounds done, rounds in total, and the end of the best plan so far in epoch seconds."""

_FEWEST = 20
"""Least number of builds if together they place at most _MOST runs: the rules and a few changes."""

_MOST = 20_000
"""Most runs laid out for those builds."""

LARGE = 2_000
"""Above this many runs, tied runs are always placed together: repairing windows run by run takes too long."""

_LATE = 5.0
"""Weight of lateness against the end in the search; strict priority would keep plans that end much later."""

_HEAT = 0.01
"""Share of the plan's length by which a change may be worse at first, about one time in three."""

_MANY = 100
"""Builds of a full search; a shorter one starts cooler and always places tied runs together."""

_BLOCKS = 0.15
"""Share of builds that place tied runs together, if there are many builds; if few, all do."""

_LOAD_ENDS = 0.1
"""Weight of the mean end of loads against the last end, so the search can move between equal ends."""


class WarmStart(NamedTuple):
    """How a plan served the runs: keys that repeat its order, and when and where its runs were to start, by task."""

    keys: Sequence[float]
    starts: Mapping[int, int]
    pins: Mapping[int, int]


def evaluate_objective(
    shop: CompiledProblem, build: SerialSchedule, promised: Sequence[int] | None = None
) -> ObjectiveValue:
    """How good a finished build is; lower is better.

    Args:
        promised: per batch, the end past which it counts as pushed; None if nothing was promised.
    """
    finish, load_ends = _ends(shop, build)
    late = sum(
        batch.weight * max(0, end - due)
        for batch, end, due in zip(shop.batches, finish, shop.due, strict=True)
        if due is not None
    )
    pushed = sum(max(0, end - until) for end, until in zip(finish, promised or finish, strict=True))
    return ObjectiveValue(len(build.missed) + len(build.stuck), late, pushed, max(finish, default=shop.now), load_ends)


def _ends(shop: CompiledProblem, build: SerialSchedule) -> tuple[list[int], int]:
    """(end of each batch, sum of the ends of all loads)."""
    ends = [0] * len(shop.loads)
    for task, slot in zip(shop.tasks, build.slots, strict=True):
        if slot is not None and slot.end > ends[task.load]:
            ends[task.load] = slot.end
    finish = [shop.now] * len(shop.batches)
    for load, end in enumerate(ends):
        batch = shop.load_batch[load]
        if end > finish[batch]:
            finish[batch] = end
    return finish, sum(ends)


def list_priority_rules(shop: CompiledProblem) -> list[tuple[list[float], float]]:
    """(keys of the runs, pull of the ready time) of the priority rules tried first.

    First come first served, ties to the later operation; least slack; longest tail before the due date; load by load;
    operation by operation; shortest first; later operations first. Tied runs share the key of their first.
    """
    first = [shop.tasks[shop.blocks[b].tasks[0]] for b in shop.block_of]
    position: dict[tuple[int, str], int] = {}
    for task in shop.tasks:
        position.setdefault((shop.load_batch[task.load], task.run.operation), len(position))
    step = [position[shop.load_batch[task.load], task.run.operation] for task in first]
    due = [shop.due[shop.load_batch[task.load]] for task in first]
    last = max((task.head + task.tail for task in shop.tasks), default=shop.now)
    return [
        ([float(-n) * 1e-3 for n in step], 1.0),
        ([float(-task.tail) for task in first], 1.0),
        ([float((last if end is None else end) - task.tail) for task, end in zip(first, due, strict=True)], 0.0),
        ([float(task.load) for task in first], 0.0),
        ([n + task.load * 1e-6 for n, task in zip(step, first, strict=True)], 0.0),
        ([float(task.length) for task in first], 1.0),
        ([float(-n) * 86400 for n in step], 1.0),
    ]


def search_schedules(
    shop: CompiledProblem,
    effort: int,
    seed: int = 0,
    start: WarmStart | None = None,
    *,
    hold: bool = False,
    on_progress: Progress | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> tuple[SerialSchedule, int]:
    """The best build found with so many runs laid out, rules included, and how many builds were made.

    Stops early at the bound or when told to. An effort of 0 takes the first order of work that misses no window.

    Args:
        start: a plan to start from, tried beside the rules: its order of work, with each run as late as planned there,
            so that runs ahead of plan do not get in the way.
        hold: let no batch end later than under that order of work, unless a window or due date requires it.
    """
    total = max(effort, min(len(shop.tasks) * _FEWEST, _MOST)) if effort else 1
    builds = total / max(1, len(shop.tasks))
    overhead = 1 + len(shop.tasks) // 8  # the cost of a build that places nothing
    best: SerialSchedule | None = None
    best_value = ObjectiveValue(0, 0.0, 0, 0, 0)
    promised: list[int] | None = None
    done = tried = 0

    def judged(build: SerialSchedule) -> ObjectiveValue:
        nonlocal best, best_value, done, tried
        tried += 1
        done += build.work + overhead
        worth = evaluate_objective(shop, build, promised)
        if not build.given_up and (best is None or worth < best_value):
            best, best_value = build, worth
        if on_progress is not None:
            on_progress(min(done, total), total, best_value.end)
        return worth

    def finished() -> bool:
        return (best_value.sound and best_value.end <= shop.bound) or (should_stop is not None and should_stop())

    def to_beat() -> float:
        """The end past which a build cannot beat the best."""
        return best_value.end if best is not None and best_value.sound else inf

    def opening() -> Iterator[SerialSchedule]:
        nonlocal promised
        for build in _as_it_stood(shop, start, to_beat, hold=hold):
            if hold and promised is None and not build.stuck:  # a run not placed seems to end at once
                promised = _ends(shop, build)[0]
            yield build
        yield from _first(shop, lambda: best, to_beat)

    for build in opening():
        judged(build)
        if finished() or (done >= total and not best_value.missed):
            break
    assert best is not None
    random = Random(seed)
    now, now_cost = best, _cost(shop, best, best_value)
    heat = _HEAT * min(1.0, builds / _MANY) * (best_value.end - shop.now)
    moves = NeighborhoodMoves(shop, now, trace_critical_waits(shop, now))
    few = builds < _MANY
    blocks = 1.0 if few else _BLOCKS
    while done < total and not finished():
        keys = (compute_start_keys if random.random() < 0.8 else compute_order_keys)(shop, now)
        moves.change(keys, random, few=few)
        limit = now_cost - heat * max(0.0, 1 - done / total) * log(1.0 - random.random())
        build = SerialSchedule(shop, pins=moves.pins(random)).run(
            keys, whole=random.random() < blocks, limit=shop.now + limit, misses=len(now.missed) + len(now.stuck)
        )
        worth = judged(build)
        if build.given_up:
            continue
        cost = _cost(shop, build, worth)
        if cost <= limit:
            now, now_cost = build, cost
            moves = NeighborhoodMoves(shop, now, trace_critical_waits(shop, now))
    return best, tried


def _as_it_stood(
    shop: CompiledProblem, start: WarmStart | None, to_beat: Callable[[], float], *, hold: bool
) -> Iterator[SerialSchedule]:
    """The plan to start from, as early as it goes and as it stood; the latter first if held. See `_first`."""
    if start is None:
        return
    early, was = SerialSchedule(shop), SerialSchedule(shop, start.starts, start.pins)
    for build in (was, early) if hold else (early, was):
        yield build.run(start.keys, whole=len(shop.tasks) > LARGE, limit=to_beat())


def _first(
    shop: CompiledProblem, best: Callable[[], SerialSchedule | None], to_beat: Callable[[], float]
) -> Iterator[SerialSchedule]:
    """A build by each rule, tied runs together; then the best so far once more.

    Args:
        best: the best so far.
        to_beat: the end past which a build is given up.
    """
    large = len(shop.tasks) > LARGE
    by_rule = []
    for keys, pull in list_priority_rules(shop):
        by_rule.append((SerialSchedule(shop).run(keys, pull, whole=True, limit=to_beat()), keys, pull))
        yield by_rule[-1][0]
    found = best()
    assert found is not None
    for whole in (True,) if large else (True, False):
        yield SerialSchedule(shop).run(compute_start_keys(shop, found), whole=whole, limit=to_beat())
    for build, keys, pull in by_rule:
        if build is found and not large:
            yield SerialSchedule(shop).run(keys, pull, limit=to_beat())


def _cost(shop: CompiledProblem, build: SerialSchedule, worth: ObjectiveValue) -> float:
    """The cost the search goes by, in seconds from now."""
    return (
        worth.missed * 1e9
        + sum(build.missed.values())
        + _LATE * (worth.late + worth.pushed)
        + worth.end
        - shop.now
        + _LOAD_ENDS * (worth.load_ends / max(1, len(shop.loads)) - shop.now)
    )


def compute_start_keys(shop: CompiledProblem, build: SerialSchedule) -> list[float]:
    """Keys in order of start; these often build a tighter plan."""
    last = max((slot.end for slot in build.slots if slot is not None), default=shop.now)
    return [float(last if slot is None else slot.start) for slot in build.slots]


def compute_order_keys(shop: CompiledProblem, build: SerialSchedule) -> list[float]:
    """Keys that place the runs in the same order again, near their starts; runs never placed come last."""
    last = max((slot.end for slot in build.slots if slot is not None), default=shop.now)
    keys = [float(last)] * len(shop.tasks)
    at = 0.0
    for i in build.sequence:
        at = max(at + 1e-3, float(build.placed(i).start))
        keys[i] = at
    return keys
