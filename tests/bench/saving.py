"""How true the stated savings are, and the bottleneck they name: one more of each, solved to a proven optimum.

Shops with a due date are left out, as a saving is about the end; so are shops of which any variant is not proven with
the effort given. Errors are shares of the optimum.
"""

from __future__ import annotations

from collections.abc import Iterator
from statistics import mean
from typing import NamedTuple

from floor.figures.schedule import (
    CannotPlan,
    Plan,
    Saving,
    SchedulingProblem,
    compute_savings_of_one_more,
    solve_schedule,
)
from floor.figures.schedule.bottleneck import find_bottleneck_by_savings
from floor.figures.schedule.whatif import list_problems_with_one_more
from tests.bench.plan import EFFORTS, horizon
from tests.bench.proven.model import solve
from tests.bench.proven.shops import GRID, random_shop

SHOPS = 20
SAYS_LITTLE = 0.01
"""Savings up to this share of the optimum are not worth a word."""


class Said(NamedTuple):
    """What is said of a shop with one effort, beside what is proven of it."""

    suffix: str
    end: float
    """Hours of the optimum."""
    savings: tuple[Saving, ...]
    proven: dict[tuple[str, str], float]
    """What one more of each saves in truth, in hours."""
    named: tuple[str, str]
    """What is called the bottleneck."""


def measure(shops: int = SHOPS, effort: float = 6.0) -> tuple[dict[str, float], dict[str, float]]:
    """(ratios, figures) over so many shops: errors of the stated savings, and what the named bottleneck misses.

    Each with the effort of a screen that waits and with that of the background.
    """
    errors: dict[str, list[float]] = {suffix: [] for suffix in EFFORTS}
    missed: dict[str, list[float]] = {suffix: [] for suffix in EFFORTS}
    for said in _compared(shops, effort):
        errors[said.suffix] += [abs(saving.hours - said.proven[saving.kind, saving.name]) / said.end
                                for saving in said.savings if (saving.kind, saving.name) in said.proven]  # fmt: skip
        most = max(said.proven.values(), default=0.0)
        if most > SAYS_LITTLE * said.end:
            missed[said.suffix].append((most - said.proven.get(said.named, 0.0)) / said.end)
    ratios = {
        f"{what}_{how}{suffix}": take(those)
        for what, found in (("saving_error", errors), ("bottleneck_misses", missed))
        for suffix, those in found.items()
        for how, take in (("mean", mean), ("worst", max))
    }
    return ratios, {"savings_proven": len(errors[""]), "bottlenecks_proven": len(missed[""])}


def _compared(shops: int, effort: float) -> Iterator[Said]:
    found = seed = 0
    while found < shops:
        problem = random_shop(seed)
        seed += 1
        if any(batch.due for batch in problem.batches):
            continue
        try:
            made = solve_schedule(problem)
        except CannotPlan:
            continue
        end = _proven(problem, made, effort)
        proven = (
            {
                (kind, name): _proven(changed, made, effort)
                for kind, name, changed in list_problems_with_one_more(problem, made)
            }
            if end
            else {}
        )
        if not end or not proven or None in proven.values():
            continue
        found += 1
        saved = {what: end - less for what, less in proven.items() if less is not None}
        for suffix, most in EFFORTS.items():
            at = solve_schedule(problem, effort=most, previous=made)
            savings = compute_savings_of_one_more(problem, at, effort=most)
            named = find_bottleneck_by_savings(problem, at, savings)
            bottleneck = {"shifts": "hour of shift"}.get(named.name, named.name)
            yield Said(suffix, end, savings, saved, (named.kind, bottleneck))


def _proven(problem: SchedulingProblem, made: Plan, effort: float) -> float | None:
    """Hours to the end at the soonest; None where that is not proven."""
    proof = solve(problem, horizon(problem, made), effort, grid=GRID)
    return proof.end / 60 if proof.proven and proof.end else None
