"""The finish with its spread: the plan's order of work carried out many times with drawn times, rework and make-up."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from math import exp, log, sqrt
from random import Random

from floor.figures.calendar import local
from floor.figures.schedule.build import Build
from floor.figures.schedule.improve import order
from floor.figures.schedule.model import Batch, CannotPlan, Kind, Phase, Plan, Problem
from floor.figures.schedule.obstacles import unreachable, unsound
from floor.figures.schedule.planner import served
from floor.figures.schedule.shop import ATTENDED, Shop, Stint, Task, stint_of
from floor.figures.yields import Beta

_COMMON = 0.5
"""Share of a duration's variance that all runs of an operation have in common: an estimate is off for every load."""

_RUNS_DRAWN = 64_000
"""Runs placed in all the draws together, at the most."""

_FEWEST = 20
"""Draws however large the problem is."""


@dataclass(frozen=True, slots=True)
class Band:
    """Finish that one time in ten is beaten, the middle one, and the one met nine times in ten.

    `on_time` is the chance to meet the due date; None without one.
    """

    early: datetime
    middle: datetime
    late: datetime
    on_time: float | None = None


@dataclass(frozen=True, slots=True)
class Spread:
    """The band of everything and of each batch; `missed` is the chance that some window is missed on the way."""

    samples: int
    end: Band
    batches: Mapping[str, Band]
    missed: float


def draws(problem: Problem, most: int) -> int:
    """Draws that a problem is worth: `most`, fewer where each takes long, and enough to tell the tenths apart."""
    return max(min(most, _RUNS_DRAWN // max(1, sum(len(load.runs) for load in problem.loads))), min(most, _FEWEST))


def spread(problem: Problem, present: Plan, *, samples: int = 200, seed: int = 0,
           on_progress: Callable[[int, int], None] | None = None,
           should_stop: Callable[[], bool] | None = None) -> Spread:
    """Finishing times over uncertain durations (lognormal, `Phase.spread`) and uncertain yields.

    Yields bring rework (`Run.redo`) and make-up loads (`Batch.make_up`). The order of work stays that of the plan;
    whatever takes longer pushes the rest. The same seed gives the same answer unless it was stopped; at least one
    sample is drawn.

    Raises:
        CannotPlan: with its make-up loads the problem is impossible.
    """
    random = Random(seed)
    shops: dict[tuple[int, ...], tuple[Shop, list[float], Mapping[int, int]]] = {}
    ends: list[int] = []
    finish: dict[str, list[int]] = {batch.id: [] for batch in problem.batches}
    missed = 0
    for n in range(max(1, samples)):
        if n and should_stop is not None and should_stop():
            break
        short = tuple(_made_up(batch, random) for batch in problem.batches)
        if short not in shops:
            shops[short] = _with_make_up(problem, present, short)
        shop, keys, pins = shops[short]
        tasks = shop.tasks
        shop.tasks = _drawn(shop, random)
        build = Build(shop, pins=pins).run(keys)
        shop.tasks = tasks
        missed += bool(build.missed or build.stuck)
        for batch, end in _finishes(shop, build).items():
            finish[batch].append(end)
        ends.append(max((ends_[-1] for ends_ in finish.values()), default=shop.now))
        if on_progress is not None:
            on_progress(n + 1, samples)
    bands = {batch.id: _band(problem, finish[batch.id], batch.due) for batch in problem.batches}
    return Spread(len(ends), _band(problem, ends, None), bands, missed / len(ends))


def _made_up(batch: Batch, random: Random) -> int:
    """Which of its make-ups a batch needs this time; -1 for none."""
    left = random.random() if batch.make_up else 1.0
    for n, one in enumerate(batch.make_up):
        if left < one.chance:
            return n
        left -= one.chance
    return -1


def _with_make_up(problem: Problem, present: Plan, short: tuple[int, ...]
                  ) -> tuple[Shop, list[float], Mapping[int, int]]:
    extra = tuple(load for batch, n in zip(problem.batches, short, strict=True) if n >= 0
                  for load in batch.make_up[n].loads)
    whole = replace(problem, loads=problem.loads + extra)
    faults = unsound(whole)
    if faults:
        raise CannotPlan(faults)
    shop = Shop(whole)
    faults = unreachable(shop)
    if faults:
        raise CannotPlan(faults)
    # Build once as planned: make-up loads then have their place in the order too.
    before = served(shop, present)
    return shop, order(shop, Build(shop, pins=before.pins).run(before.keys)), before.pins


def _drawn(shop: Shop, random: Random) -> list[Task]:
    """The tasks with drawn durations and rework."""
    common: dict[tuple[int, str, int | None], float] = {}
    yields: dict[tuple[int, str], tuple[float, float]] = {}
    tasks = []
    for task in shop.tasks:
        of = shop.load_batch[task.load], task.run.operation

        def draw(stint: Stint, phase: Phase | None, task: Task = task) -> Stint:
            if phase is None or not phase.spread:
                return stint
            what = shop.load_batch[task.load], task.run.operation, stint.phase
            if what not in common:
                common[what] = random.gauss(0, 1)
            sigma = sqrt(log(1 + phase.spread ** 2))
            z = sqrt(_COMMON) * common[what] + sqrt(1 - _COMMON) * random.gauss(0, 1)
            length = round(stint.length * exp(sigma * z - sigma ** 2 / 2))
            if stint.how == ATTENDED and not stint.interruptible:
                # What no shift could hold would in truth be stopped at the end of one.
                length = min(length, max(stint.length, shop.hours.longest(stint.hands)))
            return replace(stint, length=length)

        stints = [draw(stint, task.run.phases[n]) for n, stint in enumerate(task.stints)]
        held, redo = task.held, task.run.redo
        if redo is not None:
            if of not in yields:
                yields[of] = _share(redo.good, random), _share(redo.again, random)
            good, again = yields[of]
            back = sum(random.random() < (1 - good) * again for _ in range(redo.pieces))
            if back:
                more = [(draw(stint_of(replace(phase, minutes=phase.minutes + each * back), n), phase), phase.kind)
                        for n, (phase, each) in enumerate(zip(redo.phases, redo.each, strict=True))]
                # The pieces leave the station to cure, after the first pass as after the second.
                here = [stint for stint, kind in more if kind is not Kind.CURE]
                stints = [*stints[:held], *here, *(stint for stint, kind in more if kind is Kind.CURE), *stints[held:]]
                held += len(here)
        tasks.append(replace(task, stints=stints, held=held,
                             setup=draw(task.setup, task.run.setup) if task.setup else None))
    return tasks


def _share(belief: Beta, random: Random) -> float:
    """One share that might be the true one."""
    if belief.good == 0 or belief.bad == 0:
        return belief.mean
    return random.betavariate(belief.good, belief.bad)


def _finishes(shop: Shop, build: Build) -> dict[str, int]:
    finish = dict.fromkeys((batch.id for batch in shop.batches), shop.now)
    for task, slot in zip(shop.tasks, build.slots, strict=True):
        batch = shop.loads[task.load].batch
        if slot is not None and slot.end > finish[batch]:
            finish[batch] = slot.end
    return finish


def _band(problem: Problem, ends: list[int], due: datetime | None) -> Band:
    tz = problem.calendar.tz
    ranked = sorted(ends)

    def at(share: float) -> datetime:
        return local(ranked[round(share * (len(ranked) - 1))], tz)

    on_time = None if due is None else sum(end <= due.timestamp() for end in ends) / len(ends)
    return Band(at(0.1), at(0.5), at(0.9), on_time)
