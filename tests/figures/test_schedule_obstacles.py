"""Impossible problems are refused with the operation named and what would make it possible; never a hang."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from floor.figures.calendar import Calendar, Shift
from floor.figures.schedule import (
    FIRST,
    After,
    Batch,
    CannotPlan,
    Kind,
    Load,
    Obstacle,
    Phase,
    Problem,
    Run,
    Span,
    Station,
    Window,
    plan,
    plan_possible,
    planner,
)
from tests.figures.schedule_shops import CHICAGO, WEEKDAYS

NOW = datetime(2026, 9, 7, 7, tzinfo=CHICAGO)
CUT = Run("1 cut", "20 cut", "mill", (Phase(Kind.ATTENDED, 30),))
SHOP = Problem(NOW, WEEKDAYS, (Station("mill"),), {"pallet": 1}, 1, (Batch("B"),),
               (Load("1", "B", (CUT,), "pallet"),))


def with_run(run: Run, *before: Run) -> Problem:
    return replace(SHOP, loads=(Load("1", "B", (*before, run), "pallet"),))


def with_phase(*phases: Phase) -> Problem:
    return with_run(replace(CUT, phases=phases))


def refused(problem: Problem, effort: int = 100) -> Obstacle:
    with pytest.raises(CannotPlan) as caught:
        plan(problem, effort=effort)
    return caught.value.obstacles[0]


COAT = Run("1 coat", "10 coat", None, (Phase(Kind.ATTENDED, 5),))
NIGHT = replace(CUT, after=(After("1 coat", (Window(9 * 60, 10 * 60),)),))


@pytest.mark.parametrize(("problem", "wrong", "remedy"), [
    (with_phase(Phase(Kind.ATTENDED, 300)), "longest stretch is 270 min", "interrupted"),
    (with_phase(Phase(Kind.ATTENDED, 10, hands=2)), "no", "Have 2 at work at the same time"),
    (with_phase(Phase(Kind.ATTENDED, 10, hands=0)), "attended by 0", "at least 1"),
    (with_phase(Phase(Kind.UNATTENDED, 600, outlasts_shift=False)), "longest shift is 510 min", "outlast"),
    (with_phase(Phase(Kind.UNATTENDED, -1)), "-1 min", "0 minutes or more"),
    (with_phase(Phase(Kind.CURE, float("nan"))), "nan min", "0 minutes or more"),
    (with_run(NIGHT, COAT), "misses its window even in an empty shop", "Widen the window"),
    (with_run(replace(CUT, allowed=(Span(latest=NOW - timedelta(hours=1)),))), "last moment it could start was",
     "later window"),
    (with_run(replace(CUT, after=(After("1 coat", (Window(5, 3),)),)), COAT), "window after run 1 coat is 5 to 3",
     "latest not before"),
    (with_run(replace(CUT, after=(After("9 none"),))), "9 none, which is not given", "drop the link"),
    (with_run(replace(CUT, after=(After("1 cut"),))), "waits for it in turn", "links away"),
    (with_run(replace(CUT, places=3)), "takes 3 places of mill, which has 1", "split the load"),
    (with_run(replace(CUT, station="lathe")), "lathe is not given", "Add the station"),
    (replace(SHOP, carriers={"pallet": 0}), "rides on a pallet and there are 0", "at least 1"),
    (replace(SHOP, carriers={}), "rides on a pallet and there are 0", "at least 1"),
    (replace(SHOP, stations=(Station("mill", places=0),)), "mill has 0 places", "at least 1"),
    (replace(SHOP, hands=0), "no 30 min|fit into no shift", "Have 1 at work"),
    (replace(SHOP, calendar=Calendar("America/Chicago", ())), "no shift", "Have 1 at work"),
    (replace(SHOP, calendar=Calendar("America/Chicago", (Shift(0, NOW.time(), NOW.time(), people=0),))), "no shift",
     "Have 1 at work"),
    (replace(SHOP, loads=SHOP.loads * 2), "named 2 times", "its own id"),
], ids=lambda value: value if isinstance(value, str) else "")
def test_an_impossible_problem_names_the_operation_and_the_way_out(problem: Problem, wrong: str, remedy: str) -> None:
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

    monkeypatch.setattr(planner, "unreachable", lambda shop: pytest.fail("it takes a tenth of the time"))
    assert plan(SHOP, effort=FIRST).runs


def test_a_fault_in_one_load_leaves_the_others_planned() -> None:
    """The load whose window has closed and the load that waits for it are left out, with the reason."""
    late = replace(CUT, id="2 cut", allowed=(Span(latest=NOW - timedelta(hours=1)),))
    waiting = Run("3 pack", "90 pack", None, (Phase(Kind.ATTENDED, 5),), (After("2 cut"),))
    problem = replace(SHOP, loads=(*SHOP.loads, Load("2", "B", (late,)), Load("3", "B", (waiting,))))

    made, left_out = plan_possible(problem)

    assert [run.run for run in made.runs] == ["1 cut"]
    assert [(obstacle.load, obstacle.run) for obstacle in left_out] == [("2", "2 cut")]


def test_a_fault_of_the_whole_shop_is_refused_even_then() -> None:
    with pytest.raises(CannotPlan, match="time zone"):
        plan_possible(replace(SHOP, now=datetime(2026, 9, 7)))  # noqa: DTZ001 - the fault under test


def test_two_runs_that_need_the_same_instant_cannot_both_have_it() -> None:
    """Each could alone; together one must miss its window in every order."""
    at = (Span(NOW, NOW),)
    loads = tuple(Load(str(n), "B", (replace(CUT, id=f"{n} cut", allowed=at),)) for n in (1, 2))

    obstacle = refused(replace(SHOP, loads=loads))

    assert obstacle.wrong.startswith("no plan was found in ")
    assert obstacle.wrong.endswith(" orders of work; in the nearest, the earliest it can start is Mon 07 Sep 07:30, "
                                   "and the last moment it could start is Mon 07 Sep 07:00")
    assert obstacle.remedy.endswith("; if it may be so much later, everything ends Mon 07 Sep 08:00")


def test_the_earliest_start_that_is_told_counts_the_work_before_it() -> None:
    """Somebody is in when the window shuts, but the coat takes five minutes and it shuts after three."""
    obstacle = refused(with_run(replace(CUT, allowed=(Span(NOW, NOW + timedelta(minutes=3)),)), COAT))

    assert obstacle.wrong == ("the last moment it could start is Mon 07 Sep 07:03, but even in an empty shop the "
                              "earliest it can start is Mon 07 Sep 07:05")


def test_loads_that_hold_every_carrier_and_wait_for_one_without_are_reported() -> None:
    """Load 1 holds the only pallet and its next run waits for load 2, which needs a pallet: nothing can move."""
    stuck = replace(CUT, after=(After("2 cut"),))
    loads = (Load("1", "B", (stuck,), "pallet", holds_carrier=True),
             Load("2", "B", (replace(CUT, id="2 cut"),), "pallet"))

    obstacle = refused(replace(SHOP, loads=loads))

    assert "never gets its pallet" in obstacle.wrong
    assert "one more" in obstacle.remedy


def test_what_a_missed_window_costs_is_not_said_where_some_loads_get_nowhere() -> None:
    at = (Span(NOW, NOW),)
    alike = tuple(Load(f"{n}", "B", (replace(CUT, id=f"{n} cut", allowed=at),)) for n in (3, 4))
    stuck = (Load("1", "B", (replace(CUT, after=(After("2 cut"),)),), "pallet", holds_carrier=True),
             Load("2", "B", (replace(CUT, id="2 cut"),), "pallet"))

    with pytest.raises(CannotPlan) as told:
        plan(replace(SHOP, loads=alike + stuck))

    assert len(told.value.obstacles) == 2
    assert not any("everything ends" in obstacle.remedy for obstacle in told.value.obstacles)


def test_two_runs_under_way_on_one_machine_are_an_error_in_the_state() -> None:
    loads = tuple(Load(str(n), "B", (replace(CUT, id=f"{n} cut", under_way=True),)) for n in (1, 2))

    assert "2 runs are under way at mill" in refused(replace(SHOP, loads=loads)).wrong
