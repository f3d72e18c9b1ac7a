"""What the planner achieved on generated shops, kept in `reached.json`.

`python -m tests.figures.reached` rewrites it. Do that only after a change that is meant to plan differently, and look
at the difference: a shop that got worse needs a reason.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from functools import partial
from pathlib import Path
from typing import Any

from floor.figures.schedule import (
    FIRST,
    CannotPlan,
    Plan,
    SchedulingProblem,
    compute_savings_of_one_more,
    drop_loads,
    simulate_finishes,
    solve_schedule,
)
from tests.figures.schedule_shops import also_elsewhere, live_shop, small_shop, tight_shop

KEPT = Path(__file__).with_name("reached.json")
FEW, MANY = 400, 3000
"""Effort of few builds, in which moves are large, and of so many that the search finds its way run by run."""

Row = dict[str, Any]


def shops() -> dict[str, Callable[[], Row]]:
    """By name, how to find out what is reached for each shop."""
    found: dict[str, Callable[[], Row]] = {}
    for seed in range(24):
        for effort in (FIRST, FEW):
            found[f"live {seed}, effort {effort}"] = partial(planned, live_shop(seed), effort)
        found[f"twins {seed}"] = partial(planned, also_elsewhere(live_shop(seed), seed), FEW)
        found[f"tight {seed}"] = partial(planned, tight_shop(seed), FEW)
    for seed in range(10):
        found[f"tight {seed}, effort {MANY}"] = partial(planned, tight_shop(seed), MANY)
        found[f"small {seed}"] = partial(planned, small_shop(seed), MANY)
        found[f"live {seed}, effort {MANY}"] = partial(planned, live_shop(seed), MANY)
        found[f"again {seed}"] = partial(planned_again, live_shop(seed))
        found[f"spread {seed}"] = partial(spread, live_shop(seed))
    return found


def planned(problem: SchedulingProblem, effort: int, previous: Plan | None = None) -> Row:
    """How good the plan is (hours late, seconds to the end, to the ends of all loads), and what it says beside."""
    try:
        plan = solve_schedule(problem, effort=effort, previous=previous, hold=previous is not None)
    except CannotPlan as refused:
        return {"refused": sorted({one.load or "" for one in refused.obstacles})}
    late = sum(
        batch.weight * max(0.0, (plan.finish[batch.id] - batch.due).total_seconds())
        for batch in problem.batches
        if batch.due is not None
    )
    ends: dict[str, float] = {}
    for run in plan.runs:
        ends[run.load] = max(ends.get(run.load, 0.0), (run.end - problem.now).total_seconds())
    return {
        "worth": [late, (plan.end - problem.now).total_seconds(), sum(ends.values())],
        "slack": round(60 * sum(run.slack for run in plan.runs)),
        "bottleneck": [plan.bottleneck.kind, plan.bottleneck.name],
    }


def planned_again(problem: SchedulingProblem) -> Row:
    """Half an hour on, a load less, and what was promised is held."""
    try:
        before = solve_schedule(problem, effort=FEW)
    except CannotPlan:
        return {}
    left = drop_loads(problem, {problem.loads[-1].id})
    return planned(replace(left, now=left.now + timedelta(minutes=30)), FEW, before)


def spread(problem: SchedulingProblem) -> Row:
    """The bands of a few draws, and what one more of each saves."""
    try:
        plan = solve_schedule(problem, effort=FEW)
    except CannotPlan:
        return {}
    found = simulate_finishes(problem, plan, samples=12)
    bands = {
        id: [(at - problem.now).total_seconds() for at in (band.early, band.middle, band.late)]
        for id, band in [("all", found.end), *found.batches.items()]
    }
    saved = compute_savings_of_one_more(problem, plan, effort=FEW)
    return {"bands": bands, "missed": found.missed, "saved": [[one.name, round(one.working, 3)] for one in saved]}


if __name__ == "__main__":
    lines = (f"{json.dumps(name)}: {json.dumps(find())}" for name, find in shops().items())
    KEPT.write_text("{\n" + ",\n".join(lines) + "\n}\n")
