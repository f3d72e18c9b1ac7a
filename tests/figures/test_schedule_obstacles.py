"""Impossible problems are refused, naming the operation and what would make it possible; never a hang."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from floor.figures.calendar import Calendar, Shift
from floor.figures.schedule import (
    FIRST,
    BatchModel,
    CannotPlan,
    LoadModel,
    Obstacle,
    Phase,
    PhaseKind,
    Precedence,
    RunModel,
    SchedulingProblem,
    StartSpan,
    StartWindow,
    StationModel,
    planner,
    solve_feasible_part,
    solve_schedule,
)
from tests.figures.schedule_shops import CHICAGO, WEEKDAYS

NOW = datetime(2026, 9, 7, 7, tzinfo=CHICAGO)
CUT = RunModel("1 cut", "20 cut", "mill", (Phase(PhaseKind.ATTENDED, 30),))
SHOP = SchedulingProblem(
    NOW,
    WEEKDAYS,
    (StationModel("mill"),),
    {"pallet": 1},
    1,
    (BatchModel("B"),),
    (LoadModel("1", "B", (CUT,), "pallet"),),
)


def with_run(run: RunModel, *before: RunModel) -> SchedulingProblem:
    return replace(SHOP, loads=(LoadModel("1", "B", (*before, run), "pallet"),))


def with_phase(*phases: Phase) -> SchedulingProblem:
    return with_run(replace(CUT, phases=phases))


def refused(problem: SchedulingProblem, effort: int = 100) -> Obstacle:
    with pytest.raises(CannotPlan) as caught:
        solve_schedule(problem, effort=effort)
    return caught.value.obstacles[0]


COAT = RunModel("1 coat", "10 coat", None, (Phase(PhaseKind.ATTENDED, 5),))
NIGHT = replace(CUT, after=(Precedence("1 coat", (StartWindow(9 * 60, 10 * 60),)),))


@pytest.mark.parametrize(
    ("problem", "wrong", "remedy"),
    [
        (with_phase(Phase(PhaseKind.ATTENDED, 300)), "longest stretch is 270 min", "interrupted"),
        (with_phase(Phase(PhaseKind.ATTENDED, 10, hands=2)), "no", "Have 2 at work at the same time"),
        (with_phase(Phase(PhaseKind.ATTENDED, 10, hands=0)), "attended by 0", "at least 1"),
        (with_phase(Phase(PhaseKind.UNATTENDED, 600, outlasts_shift=False)), "longest shift is 510 min", "outlast"),
        (with_phase(Phase(PhaseKind.UNATTENDED, -1)), "-1 min", "0 minutes or more"),
        (with_phase(Phase(PhaseKind.CURE, float("nan"))), "nan min", "0 minutes or more"),
        (with_run(NIGHT, COAT), "misses its window even in an empty shop", "Widen the window"),
        (
            with_run(replace(CUT, allowed=(StartSpan(latest=NOW - timedelta(hours=1)),))),
            "last moment it could start was",
            "later window",
        ),
        (
            with_run(replace(CUT, after=(Precedence("1 coat", (StartWindow(5, 3),)),)), COAT),
            "window after run 1 coat is 5 to 3",
            "latest not before",
        ),
        (with_run(replace(CUT, after=(Precedence("9 none"),))), "9 none, which is not given", "drop the link"),
        (with_run(replace(CUT, after=(Precedence("1 cut"),))), "waits for it in turn", "links away"),
        (with_run(replace(CUT, places=3)), "takes 3 places of mill, which has 1", "split the load"),
        (with_run(replace(CUT, station="lathe")), "lathe is not given", "Add the station"),
        (replace(SHOP, carriers={"pallet": 0}), "rides on a pallet and there are 0", "at least 1"),
        (replace(SHOP, carriers={}), "rides on a pallet and there are 0", "at least 1"),
        (replace(SHOP, stations=(StationModel("mill", places=0),)), "mill has 0 places", "at least 1"),
        (replace(SHOP, hands=0), "no 30 min|fit into no shift", "Have 1 at work"),
        (replace(SHOP, calendar=Calendar("America/Chicago", ())), "no shift", "Have 1 at work"),
        (
            replace(SHOP, calendar=Calendar("America/Chicago", (Shift(0, NOW.time(), NOW.time(), people=0),))),
            "no shift",
            "Have 1 at work",
        ),
        (replace(SHOP, loads=SHOP.loads * 2), "named 2 times", "its own id"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_an_impossible_problem_names_the_operation_and_the_way_out(
    problem: SchedulingProblem, wrong: str, remedy: str
) -> None:
    import re

    obstacle = refused(problem)

    assert re.search(wrong, obstacle.wrong)
    assert remedy in obstacle.remedy
    assert "cut" in obstacle.where


def test_the_first_order_of_work_refuses_by_the_same_proof_and_looks_for_it_only_where_it_misses(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    night = with_run(NIGHT, COAT)
    assert refused(night, FIRST) == refused(night)

    monkeypatch.setattr(planner, "find_unreachable_runs", lambda shop: pytest.fail("it takes a tenth of the time"))
    assert solve_schedule(SHOP, effort=FIRST).runs


def test_a_fault_in_one_load_leaves_the_others_planned() -> None:
    """The load whose window has closed and the load that waits for it are left out, with the reason."""
    late = replace(CUT, id="2 cut", allowed=(StartSpan(latest=NOW - timedelta(hours=1)),))
    waiting = RunModel("3 pack", "90 pack", None, (Phase(PhaseKind.ATTENDED, 5),), (Precedence("2 cut"),))
    problem = replace(SHOP, loads=(*SHOP.loads, LoadModel("2", "B", (late,)), LoadModel("3", "B", (waiting,))))

    made, left_out = solve_feasible_part(problem)

    assert [run.run for run in made.runs] == ["1 cut"]
    assert [(obstacle.load, obstacle.run) for obstacle in left_out] == [("2", "2 cut")]


def test_a_fault_of_the_whole_shop_is_refused_even_then() -> None:
    with pytest.raises(CannotPlan, match="time zone"):
        solve_feasible_part(replace(SHOP, now=datetime(2026, 9, 7)))  # noqa: DTZ001 - the fault under test


def test_two_runs_that_need_the_same_instant_cannot_both_have_it() -> None:
    """Each could alone; together one must miss its window in every order."""
    at = (StartSpan(NOW, NOW),)
    loads = tuple(LoadModel(str(n), "B", (replace(CUT, id=f"{n} cut", allowed=at),)) for n in (1, 2))

    obstacle = refused(replace(SHOP, loads=loads))

    assert obstacle.wrong.startswith("no plan was found in ")
    assert obstacle.wrong.endswith(
        " orders of work; in the nearest, the earliest it can start is Mon 07 Sep 07:30, "
        "and the last moment it could start is Mon 07 Sep 07:00"
    )
    assert obstacle.remedy.endswith("; if it may be so much later, everything ends Mon 07 Sep 08:00")


def test_two_runs_that_must_follow_at_once_and_cannot_both_say_how_late_one_is() -> None:
    """Both coats end at 07:05 by themselves, and each cut of 30 min has to follow within the minute."""
    loads = tuple(
        LoadModel(
            str(n),
            "B",
            (
                replace(COAT, id=f"{n} coat", allowed=(StartSpan(NOW, NOW),)),
                replace(CUT, id=f"{n} cut", after=(Precedence(f"{n} coat", (StartWindow(0, 1),)),)),
            ),
        )
        for n in (1, 2)
    )

    obstacle = refused(replace(SHOP, loads=loads, hands=2))

    assert obstacle.wrong.endswith("orders of work; in the nearest, load 2 misses its window by 29 min")
    assert obstacle.remedy.endswith("; if it may be so much later, everything ends Mon 07 Sep 08:05")


def test_the_earliest_start_that_is_told_counts_the_work_before_it() -> None:
    """Somebody is in when the window closes, but the coat takes five minutes and it closes after three."""
    obstacle = refused(with_run(replace(CUT, allowed=(StartSpan(NOW, NOW + timedelta(minutes=3)),)), COAT))

    assert obstacle.wrong == (
        "the last moment it could start is Mon 07 Sep 07:03, but even in an empty shop the "
        "earliest it can start is Mon 07 Sep 07:05"
    )


def test_work_that_may_pause_takes_its_time_all_the_same() -> None:
    """Eight hours of coating from 7:00, with half an hour's break, are over at 15:30: no cut can start by noon."""
    long = replace(
        COAT,
        phases=(Phase(PhaseKind.ATTENDED, 480, interruptible=True),),
        allowed=(StartSpan(NOW, NOW),),
    )
    obstacle = refused(with_run(replace(CUT, allowed=(StartSpan(NOW, NOW + timedelta(hours=5)),)), long))

    assert "even in an empty shop" in obstacle.wrong


def test_loads_that_hold_every_carrier_and_wait_for_one_without_are_reported() -> None:
    """Load 1 holds the only pallet and its next run waits for load 2, which needs a pallet: nothing can move."""
    stuck = replace(CUT, after=(Precedence("2 cut"),))
    loads = (
        LoadModel("1", "B", (stuck,), "pallet", holds_carrier=True),
        LoadModel("2", "B", (replace(CUT, id="2 cut"),), "pallet"),
    )

    obstacle = refused(replace(SHOP, loads=loads))

    assert "never gets its pallet" in obstacle.wrong
    assert "one more" in obstacle.remedy


def test_what_a_missed_window_costs_is_not_reported_where_some_loads_get_nowhere() -> None:
    at = (StartSpan(NOW, NOW),)
    alike = tuple(LoadModel(f"{n}", "B", (replace(CUT, id=f"{n} cut", allowed=at),)) for n in (3, 4))
    stuck = (
        LoadModel("1", "B", (replace(CUT, after=(Precedence("2 cut"),)),), "pallet", holds_carrier=True),
        LoadModel("2", "B", (replace(CUT, id="2 cut"),), "pallet"),
    )

    with pytest.raises(CannotPlan) as told:
        solve_schedule(replace(SHOP, loads=alike + stuck))

    assert len(told.value.obstacles) == 2
    assert not any("everything ends" in obstacle.remedy for obstacle in told.value.obstacles)


def test_two_runs_under_way_on_one_machine_are_an_error_in_the_state() -> None:
    loads = tuple(LoadModel(str(n), "B", (replace(CUT, id=f"{n} cut", under_way=True),)) for n in (1, 2))

    assert "2 runs are under way at mill" in refused(replace(SHOP, loads=loads)).wrong
