"""How true the stated savings are, and the bottleneck named by them: one more of each, solved to a proven optimum.

Shops with a due date are left out, as a saving is about the end; so are shops of which any variant is not proven with
the effort given. Errors are shares of the optimum.
"""

from __future__ import annotations

from collections.abc import Iterator

from floor.figures.schedule import CannotPlan, Plan, Problem, Saving, one_more, plan
from floor.figures.schedule.bottleneck import by_savings
from floor.figures.schedule.whatif import more_of_each
from tests.bench.plan import horizon
from tests.bench.proven.model import solve
from tests.bench.proven.shops import GRID, random_shop

SHOPS = 20
SAYS_LITTLE = 0.01
"""Savings up to this share of the optimum are not worth a word."""


def measure(shops: int = SHOPS, effort: float = 6.0) -> tuple[dict[str, float], dict[str, float]]:
    """(ratios, figures) over so many shops: errors of the stated savings, and what the named bottleneck misses."""
    errors: list[float] = []
    missed: list[float] = []
    for end, savings, proven, named in _compared(shops, effort):
        errors += [abs(saving.hours - proven[saving.kind, saving.name]) / end for saving in savings]
        most = max(proven.values(), default=0.0)
        if most > SAYS_LITTLE * end:
            missed.append((most - proven.get(named, 0.0)) / end)
    return {
        "saving_error_mean": sum(errors) / len(errors), "saving_error_worst": max(errors),
        "bottleneck_misses_mean": sum(missed) / len(missed), "bottleneck_misses_worst": max(missed),
    }, {"savings_proven": len(errors), "bottlenecks_proven": len(missed)}  # fmt: skip


def _compared(
    shops: int, effort: float
) -> Iterator[tuple[float, tuple[Saving, ...], dict[tuple[str, str], float], tuple[str, str]]]:
    """(hours of the optimum, savings said, savings proven, what is called the bottleneck) of each shop."""
    found = seed = 0
    while found < shops:
        problem = random_shop(seed)
        seed += 1
        if any(batch.due for batch in problem.batches):
            continue
        try:
            made = plan(problem)
        except CannotPlan:
            continue
        end = _proven(problem, made, effort)
        proven = {
            (kind, name): _proven(changed, made, effort) for kind, name, changed in more_of_each(problem, made)
        } if end else {}  # fmt: skip
        if not end or not proven or None in proven.values():
            continue
        found += 1
        savings = one_more(problem, made)
        named = by_savings(problem, made, savings)
        bottleneck = {"shifts": "hour of shift"}.get(named.name, named.name)
        saved = {what: end - less for what, less in proven.items() if less is not None}
        yield end, savings, saved, (named.kind, bottleneck)


def _proven(problem: Problem, made: Plan, effort: float) -> float | None:
    """Hours to the end at the soonest; None where that is not proven."""
    proof = solve(problem, horizon(problem, made), effort, grid=GRID)
    return proof.end / 60 if proof.proven and proof.end else None
