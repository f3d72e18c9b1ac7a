"""Search for a better order of work: several priority rules to begin with, then small changes to the best order.

Changes are judged by simulated annealing (Kirkpatrick, Gelatt and Vecchi 1983). The same seed and rounds give the
same plan.
"""

from collections.abc import Callable, Sequence
from math import exp
from random import Random

from floor.figures.schedule.build import Build
from floor.figures.schedule.moves import change
from floor.figures.schedule.shop import Shop

Value = tuple[int, float, int, int]
"""What is made least, the first first: missed windows, weighted seconds late, the last end, the sum of load ends."""

Progress = Callable[[int, int, int], None]
"""Called with rounds done, rounds in all, and the end of the best plan so far in epoch seconds."""

_HEAT = 0.02
"""Share of the plan's length by which a change may be worse at first, about once in three times."""

_LOAD_ENDS = 0.1
"""Weight of the mean end of the loads beside the last end, so that the search feels its way across equal ends."""


def value(shop: Shop, build: Build) -> Value:
    """How good a finished build is; less is better."""
    ends = [0] * len(shop.loads)
    for task, slot in zip(shop.tasks, build.slots, strict=True):
        if slot is not None and slot.end > ends[task.load]:
            ends[task.load] = slot.end
    finish = [shop.now] * len(shop.batches)
    for load, end in enumerate(ends):
        batch = shop.load_batch[load]
        if end > finish[batch]:
            finish[batch] = end
    late = sum(batch.weight * max(0, end - due)
               for batch, end, due in zip(shop.batches, finish, shop.due, strict=True) if due is not None)
    return len(build.missed) + len(build.stuck), late, max(finish, default=shop.now), sum(ends)


def rules(shop: Shop) -> list[tuple[list[float], float]]:
    """(keys of the blocks, pull of the ready time) of the priority rules tried first.

    First come first served, the later operation first on a tie; then least slack, longest tail before the due date,
    load after load, operation after operation, shortest first, and later operations first.
    """
    first = [shop.tasks[block.tasks[0]] for block in shop.blocks]
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


def search(shop: Shop, rounds: int, seed: int = 0, start: Sequence[float] | None = None,
           on_progress: Progress | None = None, should_stop: Callable[[], bool] | None = None) -> Build:
    """The best build found in so many builds, the rules' included; stops early at the bound or when told to.

    Args:
        start: keys of the blocks of a plan to begin from, tried beside the rules.
    """
    tries = [*([(list(start), 0.0)] if start is not None else []), *rules(shop)]
    best: Build | None = None
    best_value: Value = (0, 0.0, 0, 0)
    done = 0

    def judged(build: Build) -> Value:
        nonlocal best, best_value, done
        worth = value(shop, build)
        if best is None or worth < best_value:
            best, best_value = build, worth
        done += 1
        if on_progress is not None:
            on_progress(done, max(rounds, len(tries)), best_value[2])
        return worth

    def finished() -> bool:
        return ((best_value[:2] == (0, 0.0) and best_value[2] <= shop.bound)
                or (should_stop is not None and should_stop()))

    for keys, pull in tries:
        judged(Build(shop).run(keys, pull))
        if finished():
            break
    assert best is not None
    random = Random(seed)
    now, now_value, now_cost = best, best_value, _cost(shop, best_value)
    heat = _HEAT * (best_value[2] - shop.now)
    keys_of = starts
    if done < rounds and not finished() and judged(Build(shop).run(starts(shop, best))) > now_value:
        keys_of = order
    while done < rounds and not finished():
        keys = keys_of(shop, now)
        change(shop, now, keys, random)
        build = Build(shop).run(keys)
        cost = _cost(shop, judged(build))
        if cost <= now_cost or random.random() < exp((now_cost - cost) / max(heat * (1 - done / rounds), 1e-9)):
            now, now_cost = build, cost
    return best


def _cost(shop: Shop, worth: Value) -> float:
    missed, late, end, ends = worth
    return missed * 1e9 + late + end - shop.now + _LOAD_ENDS * (ends / max(1, len(shop.loads)) - shop.now)


def starts(shop: Shop, build: Build) -> list[float]:
    """Keys in order of start, which often build a tighter plan, but not where runs tied by windows reserve set-ups."""
    last = max((slot.end for slot in build.slots if slot is not None), default=shop.now)
    firsts = [build.slots[block.tasks[0]] for block in shop.blocks]
    return [float(last if slot is None else slot.start) for slot in firsts]


def order(shop: Shop, build: Build) -> list[float]:
    """Keys that place the blocks in the same order again, near their starts; those that were never placed last."""
    last = max((slot.end for slot in build.slots if slot is not None), default=shop.now)
    keys = [float(last)] * len(shop.blocks)
    at = 0.0
    for b in build.sequence:
        at = max(at + 1e-3, float(build.placed(shop.blocks[b].tasks[0]).start))
        keys[b] = at
    return keys
