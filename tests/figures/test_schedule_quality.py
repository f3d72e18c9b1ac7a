"""How good plans are, against the optimum proven by OR-Tools CP-SAT and against first come, first served."""

import pytest

from floor.figures.schedule import QUICK, Plan, solve_schedule
from tests.bench.proven.model import optimum
from tests.figures.schedule_check import check_plan
from tests.figures.schedule_fcfs import Fcfs
from tests.figures.schedule_shops import MONDAY, small_shop, without_latest

PROVEN_FAST = (
    0, 1, 2, 3, 4, 14, 15, 16, 18, 20, 21, 24, 27, 31, 32, 35, 36, 37, 39, 40, 41, 45, 47, 50, 51, 52, 54, 55, 56,
    57, 58,
)  # fmt: skip
"""Seeds of shops whose optimum is proven at once: with and without shifts, windows, set-ups, regrouping.

`tests/bench/plan.py` proves more of them, and harder ones.
"""


def minutes(made: Plan) -> float:
    return (made.end - made.start).total_seconds() / 60


def test_plans_of_small_shops_come_close_to_the_proven_optimum_and_never_under_it() -> None:
    """At most 5 % over on average and 10 % at worst. Under it would mean a rule was broken."""
    ratios = []
    for seed in PROVEN_FAST:
        made = solve_schedule(small_shop(seed))
        best = optimum(small_shop(seed), int(minutes(made)), effort=8)
        assert best is not None, f"shop {seed} was not solved to proof"
        ratios.append(minutes(made) / best)

    assert len(ratios) >= 30
    assert min(ratios) >= 1
    assert max(ratios) <= 1.10
    assert sum(ratios) / len(ratios) <= 1.05


@pytest.mark.parametrize("seed", range(12))
def test_no_plan_is_worse_than_first_come_first_served(seed: int) -> None:
    """The simulated shop may break the far end of a window, so the shops compared have none."""
    problem = without_latest(small_shop(seed))

    made = solve_schedule(problem)

    assert minutes(made) <= Fcfs(problem).finish()
    assert check_plan(problem, made) == []


def test_a_run_may_really_wait_as_long_as_its_slack_says() -> None:
    """CP-SAT finds a schedule no longer than the plan in which the run starts that much later."""
    waited = 0
    for seed in (2, 4, 8, 16, 31, 32):
        problem = small_shop(seed)
        made = solve_schedule(problem)
        loose = max(made.runs, key=lambda run: run.slack)
        start = int((loose.start - MONDAY.replace(hour=7)).total_seconds() / 60 + loose.slack)
        if loose.slack >= 1:
            waited += 1
            assert optimum(problem, int(minutes(made)), 8, not_before={loose.run: start}) is not None
    assert waited >= 4


def test_more_effort_never_makes_a_plan_worse_than_the_first_rules() -> None:
    for seed in range(5):
        assert solve_schedule(small_shop(seed), effort=QUICK).end <= solve_schedule(small_shop(seed), effort=0).end
