"""What a change would do, in hours, against known optima of the changed shop; and the spread of the finish."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from functools import cache
from math import log

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import lognorm

from floor.figures.calendar import Calendar, Shift
from floor.figures.schedule import (
    BatchModel,
    CannotPlan,
    LoadModel,
    MakeUpLoads,
    Phase,
    PhaseKind,
    Plan,
    ReworkLeg,
    ReworkPath,
    RunModel,
    RunOutcomes,
    SchedulingProblem,
    StationModel,
    YieldBeliefs,
    add_carriers,
    add_hands,
    add_places,
    compare_with_present,
    compute_savings_of_one_more,
    find_bottleneck_by_savings,
    lengthen_all_shifts,
    simulate_finishes,
    solve_schedule,
    take_station_down,
    whatif,
)
from floor.figures.yields import Beta
from tests.bench.proven.model import optimum
from tests.figures.schedule_shops import MONDAY, small_shop
from tests.figures.test_schedule_published import operator_shop, router_shop

ROUTER = router_shop(4, 2)
"""Ends after 750 min; 660 and 510 with one and two more pallets, 1320 with one less (proven with CP-SAT)."""


@cache
def plan_router() -> Plan:
    return solve_schedule(ROUTER)


def test_one_more_pallet_saves_what_the_optima_say() -> None:
    now = plan_router()

    assert compare_with_present(now, add_carriers(ROUTER, "pallet")).hours == -1.5
    assert compare_with_present(now, add_carriers(ROUTER, "pallet", 2)).hours == -4
    assert compare_with_present(now, add_carriers(ROUTER, "pallet", -1)).hours == 9.5


def test_what_one_more_of_each_saves_is_ranked_and_never_negative() -> None:
    """A third pallet ends at 660 (proven). So does a second router: two loads on each pallet, 330 min each.

    Ten loads on one pallet are bound by it alone: a second router saves nothing.
    """
    two = {(saving.kind, saving.name): saving.hours for saving in compute_savings_of_one_more(ROUTER, plan_router())}
    bound = router_shop(10, 1)
    one = compute_savings_of_one_more(bound, solve_schedule(bound))

    assert two == {("carrier", "pallet"): 1.5, ("station", "router"): 1.5}
    assert (one[0].kind, one[0].name) == ("carrier", "pallet")
    assert [saving.hours for saving in one[1:]] == [0]


def two_that_meet_at_the_mill() -> SchedulingProblem:
    """Cut an hour, cure ten: the second load waits an hour for a mill that is idle five hours of six."""

    def load(n: str) -> LoadModel:
        return LoadModel(
            n,
            "B",
            (
                RunModel(f"{n} cut", "cut", "mill", (Phase(PhaseKind.UNATTENDED, 60),)),
                RunModel(f"{n} cure", "cure", None, (Phase(PhaseKind.CURE, 600),)),
            ),
        )

    return SchedulingProblem(
        MONDAY, Calendar.always(), (StationModel("mill"),), {}, 1, (BatchModel("B"),), (load("1"), load("2"))
    )


def test_one_more_saves_nothing_where_no_plan_with_it_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    made = plan_router()

    def refuses(problem: SchedulingProblem, *given: object, **named: object) -> object:
        if problem is ROUTER:
            return made.end
        raise CannotPlan(())

    monkeypatch.setattr(whatif, "find_last_end", refuses)
    assert {saving.hours for saving in compute_savings_of_one_more(ROUTER, made)} == {0.0}


def test_a_station_that_is_hardly_busy_is_named_only_where_one_more_saves() -> None:
    """A second mill saves the hour. If the second load cures two hours less, it saves nothing."""
    problem = two_that_meet_at_the_mill()
    short = replace(
        problem.loads[1],
        runs=(problem.loads[1].runs[0], replace(problem.loads[1].runs[1], phases=(Phase(PhaseKind.CURE, 480),))),
    )
    covered = replace(problem, loads=(problem.loads[0], short))
    made, other = solve_schedule(problem), solve_schedule(covered)

    named, chain = (
        find_bottleneck_by_savings(problem, made, compute_savings_of_one_more(problem, made)),
        find_bottleneck_by_savings(covered, other, compute_savings_of_one_more(covered, other)),
    )

    assert made.bottleneck.kind == "route", "nobody knows yet what one more would save"
    assert (named.kind, named.name) == ("station", "mill")
    assert "17 % of the time" in named.words
    assert "One more would save 1.0 working hours" in named.words
    assert (chain.kind, chain.name) == ("route", "1")
    assert "10.0 h of it curing" in chain.words
    assert "One more of anything saves next to nothing" in chain.words


@pytest.mark.parametrize("seed", [2, 8, 21, 32])
def test_the_bottleneck_in_words_never_contradicts_the_savings(seed: int) -> None:
    problem = small_shop(seed)
    made = solve_schedule(problem, effort=400)
    savings = compute_savings_of_one_more(problem, made, effort=400)

    found = find_bottleneck_by_savings(problem, made, savings)

    hours = {(saving.kind, saving.name): saving.working for saving in savings}
    if found.kind == "route":
        assert all(saved < 0.25 for saved in hours.values())
    else:
        name = "hour of shift" if found.kind == "calendar" else found.name
        assert hours[found.kind, name] >= 0.9 * max(hours.values()) > 0
    assert find_bottleneck_by_savings(problem, made, ()) == made.bottleneck


def test_hands_and_an_hour_of_shift_are_among_what_may_be_had_more_of() -> None:
    problem = replace(operator_shop(5, 3), calendar=Calendar.weekly("UTC", range(7), time(6), time(12)))

    savings = {saving.kind: saving.hours for saving in compute_savings_of_one_more(problem, solve_schedule(problem))}

    assert savings.keys() == {"carrier", "hands", "station", "calendar"}
    assert savings["calendar"] > 0


@settings(max_examples=4, deadline=None)
@given(st.sampled_from((2, 4, 8, 16, 31, 32)))
def test_one_more_carrier_never_finishes_later_in_the_optimum_nor_in_the_plan(seed: int) -> None:
    problem = small_shop(seed)
    more = add_carriers(problem, "pallet")
    now = solve_schedule(problem)
    horizon = int((now.end - now.start).total_seconds() / 60)

    best, best_more = optimum(problem, horizon, 8), optimum(more, horizon, 8)

    assert best is not None
    assert best_more is not None
    assert best_more <= best
    assert min(saving.hours for saving in compute_savings_of_one_more(problem, now, effort=400)) >= 0


def test_a_second_shift_takes_work_up_again_the_same_day() -> None:
    """12 h by hand on an 8 h shift from 07:00 ends the next day at 11:00; with a late shift at 19:00."""
    load = LoadModel("1", "B", (RunModel("1", "sand", None, (Phase(PhaseKind.ATTENDED, 720, interruptible=True),)),))
    problem = SchedulingProblem(
        datetime(2026, 9, 7, 7, tzinfo=UTC),
        Calendar.weekly("UTC", range(7), time(7), time(15)),
        (),
        {},
        1,
        (BatchModel("B"),),
        (load,),
    )
    now = solve_schedule(problem)

    late = replace(problem, calendar=problem.calendar.add_shifts(*(Shift(day, time(15), time(23)) for day in range(7))))

    assert now.end == datetime(2026, 9, 8, 11, tzinfo=UTC)
    assert compare_with_present(now, late).hours == -16
    assert compare_with_present(now, lengthen_all_shifts(problem, timedelta(hours=1))).hours == -1


def test_a_machine_that_is_down_puts_one_load_off_by_as_long() -> None:
    """One load alone takes 330 min: its delays add up exactly."""
    alone = router_shop(1, 1)

    assert (
        compare_with_present(
            solve_schedule(alone), take_station_down(alone, "router", MONDAY + timedelta(hours=3))
        ).hours
        == 3
    )


def test_a_change_that_cannot_be_planned_says_why_and_leaves_the_present_plan() -> None:
    difference = compare_with_present(plan_router(), add_carriers(ROUTER, "pallet", -2))

    assert (difference.plan, difference.hours) == (None, None)
    assert "there are 0" in difference.obstacles[0].wrong


def test_more_operators_count_on_shifts_with_their_own_number_too() -> None:
    problem = replace(ROUTER, calendar=Calendar.weekly("UTC", range(7), time(6), time(14), people=2))

    more = add_hands(problem)

    assert (more.hands, {shift.people for shift in more.calendar.shifts}) == (2, {3})
    assert add_places(problem, "router").stations == (StationModel("router", places=2),)


def single(minutes: float, deviation: float, **run: RunOutcomes) -> SchedulingProblem:
    load = LoadModel(
        "1", "B", (RunModel("1", "cut", "mill", (Phase(PhaseKind.UNATTENDED, minutes, spread=deviation),), **run),)
    )
    return SchedulingProblem(
        MONDAY,
        Calendar.always(),
        (StationModel("mill"),),
        {},
        1,
        (BatchModel("B", due=MONDAY + timedelta(minutes=minutes)),),
        (load,),
    )


def test_the_band_of_one_run_is_that_of_its_distribution() -> None:
    """10, 50 and 90 % points of a lognormal with mean 1000 and deviation 200, from scipy; sampling error allowed."""
    problem = single(1000, 0.2)
    sigma = log(1 + 0.2**2) ** 0.5
    law = lognorm(s=sigma, scale=1000 / (1 + 0.2**2) ** 0.5)

    found = simulate_finishes(problem, solve_schedule(problem), samples=3000)

    got = [(at - MONDAY).total_seconds() / 60 for at in (found.end.early, found.end.middle, found.end.late)]
    assert got == pytest.approx([law.ppf(0.1), law.ppf(0.5), law.ppf(0.9)], abs=20)
    assert found.batches["B"].on_time == pytest.approx(law.cdf(1000), abs=0.03)


def test_certain_times_give_no_spread_and_rework_gives_its_chance() -> None:
    """A run of 60 min redone one time in four ends at 60 in three cases of four, else at 120."""
    certain = single(60, 0)
    again = RunModel("again", "cut", "mill", (Phase(PhaseKind.UNATTENDED, 60),), fate=RunOutcomes((0,), (10,), None))
    yields = YieldBeliefs(Beta(3e9, 1e9), Beta(1, 0), Beta(1, 0))
    rework = single(
        60, 0, fate=RunOutcomes((1,), (), yields, ways=(ReworkPath(1.0, False, (ReworkLeg(None, (again,)),)),))
    )

    exact = simulate_finishes(certain, solve_schedule(certain), samples=20)
    doubtful = simulate_finishes(rework, solve_schedule(rework), samples=2000)

    assert exact.end.early == exact.end.late == MONDAY + timedelta(minutes=60)
    assert exact.missed == 0
    assert doubtful.batches["B"].on_time == pytest.approx(0.75, abs=0.04)
    assert doubtful.end.late == MONDAY + timedelta(minutes=120)


def test_make_up_loads_are_made_as_often_as_they_are_needed() -> None:
    again = LoadModel(
        "2", "B", (RunModel("2", "cut", "mill", (Phase(PhaseKind.UNATTENDED, 30),), fate=RunOutcomes((1,))),)
    )
    base = single(60, 0, fate=RunOutcomes((1,), (), YieldBeliefs(Beta(7e9, 3e9))))
    problem = replace(base, batches=(replace(base.batches[0], wanted=1, make_up=(MakeUpLoads(1, (again,)),)),))

    found = simulate_finishes(problem, solve_schedule(problem), samples=2000)

    assert found.batches["B"].on_time == pytest.approx(0.7, abs=0.04)
    assert (found.end.middle, found.end.late) == (MONDAY + timedelta(hours=1), MONDAY + timedelta(hours=1.5))


def test_the_spread_is_repeatable_can_be_stopped_and_tells_progress() -> None:
    problem = single(1000, 0.2)
    made = solve_schedule(problem)
    heard: list[tuple[int, int]] = []

    assert simulate_finishes(problem, made, samples=50, seed=4) == simulate_finishes(problem, made, samples=50, seed=4)
    stopped = simulate_finishes(
        problem, made, samples=50, on_progress=lambda n, of: heard.append((n, of)), should_stop=lambda: len(heard) >= 5
    )
    assert stopped.samples == 5
    assert heard[-1] == (5, 50)


def test_an_impossible_make_up_load_is_refused() -> None:
    lost = LoadModel("2", "B", (RunModel("2", "cut", "lathe", ()),))
    base = single(60, 0)
    problem = replace(base, batches=(replace(base.batches[0], make_up=(MakeUpLoads(1, (lost,)),)),))

    with pytest.raises(CannotPlan, match="lathe"):
        simulate_finishes(problem, solve_schedule(problem))


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10_000))
def test_the_middle_of_the_band_lies_between_its_ends(seed: int) -> None:
    problem = small_shop(seed)
    wide = replace(
        problem,
        loads=tuple(
            replace(
                load,
                runs=tuple(
                    replace(run, phases=tuple(replace(phase, spread=0.2) for phase in run.phases)) for run in load.runs
                ),
            )
            for load in problem.loads
        ),
    )

    found = simulate_finishes(wide, solve_schedule(problem, effort=0), samples=15, seed=seed)

    assert found.end.early <= found.end.middle <= found.end.late
    assert 0 <= found.missed <= 1
