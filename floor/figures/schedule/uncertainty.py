"""The spread of the finish: the plan's order of work simulated many times with random times and outcomes.

On the path of a rework closing windows are ignored and no loads joined, and pieces lost on their fourth start are not
started again.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from itertools import chain
from math import ceil, exp, floor, log, sqrt
from random import Random
from statistics import NormalDist

from floor.dataclass import dataclass
from floor.figures.calendar import to_epoch, to_local
from floor.figures.schedule.compiled_problem import CompiledProblem, ShopHours
from floor.figures.schedule.model import BatchModel, LoadModel, Plan, SchedulingProblem
from floor.figures.schedule.obstacles import find_input_errors, find_unreachable_runs, raise_obstacles
from floor.figures.schedule.planner import build_warm_start
from floor.figures.schedule.random_outcomes import RandomDraws, RealizationSampler, RunSequence, build_make_up_loads
from floor.figures.schedule.serial_schedule import SerialSchedule

_RUNS_DRAWN = 8_000
"""Most runs placed, over all draws."""

_RANKED = 20
"""From this many draws on, 10 % and 90 % come from their ranks; with fewer, from a lognormal fit."""

_FEWEST = 6
"""Fewest draws, however large the problem: the duration of thousands of runs is nearly lognormal, and twenty ranks say
no more."""

_QUARTER = 900
"""Seconds in the quarter hour to which a band is rounded."""

_WIDE = 3600
"""If a band is wider than this many seconds, its middle is rounded too."""

_APART = 1800
"""If no draw is this close to the middle, in seconds, the nearest draw is the middle."""

_TENTH = NormalDist().inv_cdf(0.9)

_PLACED_TWICE = 1000
"""Most runs for which a draw is placed to see when a shortage becomes known; above, that is taken from the plan."""

_ROUNDS = 3
"""Rounds of making up for lost pieces, including lost made-up ones; later losses are left out."""


@dataclass(frozen=True, slots=True)
class Band:
    """Finish met one time in ten, the middle one, and the one met nine times in ten.

    `on_time` is the chance to meet the due date; None if there is none.
    """

    early: datetime
    middle: datetime
    late: datetime
    on_time: float | None = None


@dataclass(frozen=True, slots=True)
class FinishBands:
    """The band for everything and for each batch; `missed` is the chance that some window is missed."""

    samples: int
    end: Band
    batches: Mapping[str, Band]
    missed: float


def choose_draw_count(problem: SchedulingProblem, most: int) -> int:
    """How many draws to make: `most`, or fewer if each takes long."""
    return max(min(most, _RUNS_DRAWN // max(1, sum(len(load.runs) for load in problem.loads))), min(most, _FEWEST))


def simulate_finishes(
    problem: SchedulingProblem,
    present: Plan,
    *,
    samples: int = 200,
    seed: int = 0,
    on_progress: Callable[[int, int], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> FinishBands:
    """Finish times over uncertain durations (lognormal, `Phase.spread`) and outcomes (`RunModel.fate`).

    The order of work is the plan's; whatever takes longer pushes the rest. A batch is finished with the last good
    piece wanted. If too few are left, make-up loads (`BatchModel.make_up`) start as soon as the last of the missing
    pieces is lost. The same seed gives the same answer unless stopped; at least one sample is drawn.

    Raises:
        CannotPlan: the problem is impossible with its make-up loads.
    """
    hours = ShopHours.of(problem)
    _refuse_impossible(problem, hours)
    random = Random(seed)
    route = RunSequence(problem)
    ends: list[int] = []
    finish: dict[str, list[int]] = {batch.id: [] for batch in problem.batches}
    missed = 0
    for n in range(max(1, samples)):
        if n and should_stop is not None and should_stop():
            break
        drawn = _Drawn(route, present, Random(random.getrandbits(64)), hours)
        missed += drawn.missed
        for batch, end in drawn.finish.items():
            finish[batch].append(end)
        ends.append(max((ends_[-1] for ends_ in finish.values()), default=to_epoch(problem.now)))
        if on_progress is not None:
            on_progress(n + 1, samples)
    bands = {batch.id: compute_band(problem, finish[batch.id], batch.due) for batch in problem.batches}
    return FinishBands(len(ends), compute_band(problem, ends, None), bands, missed / len(ends))


def _refuse_impossible(problem: SchedulingProblem, hours: ShopHours) -> None:
    """Refuse make-up loads that cannot be planned; the problem's own loads already are."""
    extra = replace(
        problem, loads=tuple(load for batch in problem.batches for load in build_make_up_loads(batch, 1, 1))
    )
    raise_obstacles(find_input_errors(extra) or find_unreachable_runs(CompiledProblem(extra, hours)))


class _Drawn:
    """One simulated run through everything."""

    def __init__(self, route: RunSequence, present: Plan, random: Random, hours: ShopHours) -> None:
        self.present = present
        self.hours = hours
        self.now = to_epoch(route.problem.now)
        self.ends: dict[str, int] = {}
        self.finish: dict[str, int] = {}
        self.tried = dict.fromkeys(route.batches, 0)
        large = len(route.runs) > _PLACED_TWICE
        drawing = RealizationSampler(
            RandomDraws(random.getrandbits(64), lambda people: hours.at_work.find_longest_stretch(people) / 60)
        )
        for _ in range(_ROUNDS + 1):
            self.going = drawing.go(route)
            if large and self._missing(route):
                self.ends = {run.run: to_epoch(run.end) for run in present.runs}
            else:
                self._place()
            more = self._short(route)
            if not more:
                break
            route = route.with_make_up(more)
        if not self.finish:
            self._place()

    def _place(self) -> None:
        shop = CompiledProblem(self.going.problem, self.hours)
        before = build_warm_start(shop, self.present)
        build = SerialSchedule(shop, pins=before.pins).run(before.keys)
        self.missed = bool(build.missed or build.stuck)
        self.ends = {task.run.id: slot.end for task, slot in zip(shop.tasks, build.slots, strict=True) if slot}
        self.finish = dict.fromkeys((batch.id for batch in shop.batches), shop.now)
        for load in self.going.problem.loads:
            self.finish[load.batch] = max(self.finish[load.batch], *(self.ends.get(run.id, 0) for run in load.runs))
        for batch in shop.batches:
            if batch.wanted:
                through = self._times(self.going.through, batch.id)
                if len(through) >= batch.wanted:
                    self.finish[batch.id] = through[batch.wanted - 1]

    def _times(self, what: Sequence[tuple[str, str, int]], batch: str) -> list[int]:
        """When each piece was lost or finished, in order."""
        return sorted(
            chain.from_iterable([self.ends.get(run, self.now)] * many for id, run, many in what if id == batch)
        )

    def _missing(self, route: RunSequence) -> bool:
        return any(self._lacking(batch) > 0 for batch in route.batches.values())

    def _lacking(self, batch: BatchModel) -> int:
        """Good pieces still to be started."""
        if not batch.wanted or not batch.make_up or self.tried[batch.id] >= _ROUNDS:
            return 0
        return batch.wanted - sum(many for id, _, many in self.going.through if id == batch.id)

    def _short(self, route: RunSequence) -> list[LoadModel]:
        """The extra loads started because too few pieces are left."""
        found: list[LoadModel] = []
        for batch in route.batches.values():
            missing = self._lacking(batch)
            if missing <= 0:
                continue
            self.tried[batch.id] += 1
            lost = self._times(self.going.lost, batch.id)
            known = to_local(lost[-1] if lost else self.now, route.problem.calendar.tz)
            found += [
                replace(load, release=known) for load in build_make_up_loads(batch, missing, self.tried[batch.id])
            ]
        return found


def compute_band(problem: SchedulingProblem, ends: list[int], due: datetime | None) -> Band:
    """The band that holds the next draw eight times in ten, given these in epoch seconds.

    Rounded outward to quarter hours, as nobody can know it better. If the draws around the middle are far apart, the
    nearest of them is the middle: between them nobody may be in.
    """
    ranked = sorted(ends)
    on_time: float | None = None
    if 1 < len(ends) < _RANKED:
        law = _Lognormal(to_epoch(problem.now), ends)
        early, middle, late = law.band
        if due is not None:
            on_time = law.until(due)
    else:
        places = len(ranked) + 1  # the next draw is equally likely in each of the n + 1 gaps between n draws
        first, last = floor(0.1 * places) - 1, ceil(0.9 * places) - 1
        early, late = ranked[max(first, 0)], ranked[min(last, len(ranked) - 1)]
        middle = (ranked[(len(ranked) - 1) // 2] + ranked[len(ranked) // 2]) // 2
        if due is not None:
            on_time = sum(end <= due.timestamp() for end in ends) / len(ends)
    near = min(reversed(ranked), key=lambda end: abs(end - middle))  # the later of two
    if abs(near - middle) > _APART:
        middle = near
    tz, now = problem.calendar.tz, to_epoch(problem.now)
    if late - early > _WIDE:
        middle = max(round(middle / _QUARTER) * _QUARTER, now)
    if late > early:
        early, late = max(early // _QUARTER * _QUARTER, now), -(-late // _QUARTER) * _QUARTER
    return Band(to_local(early, tz), to_local(middle, tz), to_local(late, tz), on_time)


class _Lognormal:
    """Lognormal fit to a few draws; its spread is estimated from them alone, hence Student's t."""

    def __init__(self, now: int, ends: list[int]) -> None:
        self.now, self.draws = now, len(ends)
        self.law = NormalDist.from_samples([log(max(end - now, 1)) for end in ends])

    @property
    def band(self) -> tuple[int, int, int]:
        tenth = _student_tenth(self.draws - 1) * sqrt(1 + 1 / self.draws) * self.law.stdev
        early, middle, late = (self.now + round(exp(self.law.mean + by)) for by in (-tenth, 0.0, tenth))
        return early, middle, late

    def until(self, due: datetime) -> float:
        left = log(max(due.timestamp() - self.now, 1))
        return self.law.cdf(left) if self.law.stdev else float(self.law.mean <= left)


def _student_tenth(freedom: int) -> float:
    """The 0.9 quantile of Student's t (Abramowitz and Stegun 26.7.5); error 0.002 from five degrees of freedom up."""
    z = _TENTH
    return z + (z**3 + z) / (4 * freedom) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * freedom**2)
