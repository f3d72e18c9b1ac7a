"""What next in earnest: the order comes from the plan, with how long each item may wait."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest

from floor.batch.worklist.tasks import list_due_tasks
from floor.checklist.gates import Measured
from floor.checklist.model import Checklist
from floor.checklist.units import read_measure
from floor.figures.schedule import LoadModel, Phase, PhaseKind, RunModel
from floor.planning.dispatch_list import RankedDue, _latest, rank_dues
from floor.planning.problem import Crew
from tests.batch.factory import Bench, edited, open_bench, part
from tests.planning.planned import ALWAYS, ONE_SHIFT, baked, planned, potted


def two_things_to_do() -> Bench:
    """One pallet's plates wait to be packed; the other pallet waits to be filled, with a day of cure to come."""
    bench = open_bench(potted, start=26, order=26)
    first = bench.form(10)
    bench.through(first, 10, 20)
    bench.clock.forward(24 * 3600)
    bench.through(first, 30)
    second = bench.form(10)
    bench.through(second, 10)
    return bench


def test_what_the_finish_hangs_on_comes_first_and_the_other_says_how_long_it_may_wait() -> None:
    bench = two_things_to_do()
    now = bench.clock()
    dues = list_due_tasks([bench.state], now)
    assert [due.go for due in dues] == ["form", "begin"], "without a plan: in no special order"

    advised = rank_dues(dues, planned(bench.state, now=now, mixed=False), now.at)

    assert [one.due.go for one in advised] == ["begin", "form"]
    assert advised[0].said(now.at) == "now"
    assert advised[1].said(now.at).startswith("by Wed ")
    assert advised[1].latest is not None
    assert advised[1].latest - now.at > timedelta(hours=20)


def test_a_cycle_that_runs_may_wait_from_its_end_when_somebody_is_needed_again() -> None:
    """20 min of the cycle are left at most; then whoever takes the load off may come no later than the plan's slack."""
    bench = open_bench(start=4, order=4)
    load = bench.form(10)
    bench.until(load, "end")
    now = bench.clock()
    made = planned(bench.state, now=now)
    (run,) = [run for run in made.runs if made.work(run).op == 10]
    cutting, taking_off = run.stretches[0], run.attended[0]
    assert not cutting.people
    assert cutting.start == run.start < cutting.end <= taking_off.start

    latest = _latest(made)[bench.state.id, load]

    assert latest == taking_off.start + timedelta(minutes=run.slack)


def test_of_the_first_plan_of_a_large_shop_only_the_order_is_reported() -> None:
    bench = two_things_to_do()
    now = bench.clock()
    made = planned(bench.state, now=now, mixed=False)
    dues = list_due_tasks([bench.state], now)

    advised = rank_dues(dues, replace(made, coarse=True), now.at)

    assert [one.due for one in advised] == [one.due for one in rank_dues(dues, made, now.at)]
    assert [one.said(now.at) for one in advised] == ["", ""]


def test_of_pieces_that_no_plan_brings_through_nothing_says_how_long_they_may_wait() -> None:
    bench = two_things_to_do()
    now = bench.clock()
    made = planned(bench.state, now=now, mixed=False)
    dues = list_due_tasks([bench.state], now)
    work = next(work for run in made.runs if (work := made.work(run)).load is not None)
    left_out = LoadModel("packed", "B0001", (RunModel("packed", "packed", None, (Phase(PhaseKind.ATTENDED, 5),)),))
    problem = replace(made.asked.problem, loads=(*made.asked.problem.loads, left_out))

    def with_stuck(pieces: tuple[int, ...]) -> list[tuple[str, str]]:
        works = {**made.asked.works, "packed": replace(work, pieces_of=pieces)}
        stuck = replace(made, asked=replace(made.asked, problem=problem, works=works))
        return [(one.due.go, one.said(now.at)) for one in rank_dues(dues, stuck, now.at)]

    wait = dict(with_stuck(()))["form"]
    assert with_stuck(work.pieces_of) == [("form", wait), ("begin", "")]
    assert with_stuck(work.pieces_of[1:]) == [("begin", "now"), ("form", wait)], "one of them goes on"


def test_doing_another_thing_first_replans_without_complaint() -> None:
    bench = two_things_to_do()
    bench.through(bench.form(40), 40)
    now = bench.clock()

    advised = rank_dues(list_due_tasks([bench.state], now), planned(bench.state, now=now, mixed=False), now.at)

    assert [one.due.go for one in advised] == ["begin"]
    assert advised[0].said(now.at) == "now"


def test_a_thing_the_plan_does_not_know_keeps_its_place_and_says_nothing() -> None:
    bench = two_things_to_do()
    now = bench.clock()
    plan = planned(bench.state, now=now, mixed=False)
    bench.through(bench.form(40), 40)
    bench.form(10, count=1) if bench.state.waiting(10) else None
    dues = list_due_tasks([bench.state], bench.clock())

    advised = rank_dues(dues, plan, bench.clock().at)

    assert {one.due.key for one in advised} == {due.key for due in dues}


def test_a_window_that_closes_soon_stays_on_top() -> None:
    bench = baked()
    tote = bench.form(50)
    bench.clock.forward(7.75 * 3600)
    now = bench.clock()

    advised = rank_dues(list_due_tasks([bench.state], now), planned(bench.state, now=now), now.at)

    assert advised[0].due.load == tote
    assert advised[0].due.closes is not None


@pytest.mark.parametrize("hours", [1.0, 5.0, 7.0])
@pytest.mark.parametrize("crew", [ONE_SHIFT, ALWAYS], ids=["one shift", "always"])
def test_nothing_waits_longer_than_its_window(hours: float, crew: Crew) -> None:
    """Cooled and to be inspected within 8 h of the bake, whether or not the plan can hit that."""
    bench = baked()
    tote = bench.form(50)
    bench.clock.forward(hours * 3600)
    now = bench.clock()

    advised = rank_dues(list_due_tasks([bench.state], now), planned(bench.state, now=now, crew=crew), now.at)

    mine = next(one for one in advised if one.due.load == tote)
    assert mine.due.closes is not None
    assert mine.latest is not None
    assert now.at <= mine.latest <= mine.due.closes


def test_a_reading_in_a_soak_is_asked_for_now_and_not_by_the_end_of_it() -> None:
    """The plan knows only when the cycle ends; the reading shows whether the soak has started."""
    plain = part()
    steps = tuple(replace(one, at="cycle") if isinstance(one, Measured) else one for one in plain.ops[40].steps)
    time = replace(plain.ops[40].time, after=read_measure("5 min", "time"))
    soak = replace(
        plain,
        operations=tuple(replace(one, steps=steps, time=time) if one.op == 40 else one for one in plain.operations),
    )
    bench = open_bench(lambda: soak, start=4)
    bench.through(bench.form(10), 10, 20, 30)
    tray = bench.form(40)
    bench.until(tray, "measured 1")
    now = bench.clock()
    plan = planned(bench.state, now=now, crew=ALWAYS, mixed=False)

    (asked,) = rank_dues(list_due_tasks([bench.state], now), plan, now.at)
    assert (asked.due.at_once, asked.said(now.at)) == (True, "now")

    bench.prove(tray, "measured 1", value=150)
    assert bench.current(tray).kind == "end"
    (ending,) = rank_dues(list_due_tasks([bench.state], now), plan, now.at)
    assert ending.due.urgency == "later"
    assert not ending.due.at_once


LONG = ('time = { before = "2 min", cycle = "20 min"', 'time = { before = "50 min", cycle = "20 min"')
"""Edit of the test part: loading a pallet on the mill takes 50 minutes by hand."""
SOAK = (
    (
        'at = "load", per = "load", low = "145 degC", high = "155 degC" },',
        'at = "load", per = "load", low = "145 degC", high = "155 degC" },\n'
        '  { gate = "cured", do = "Let it soak", clock = "soak", at = "cycle" },',
    ),
    (
        'clocks = [{ id = "cooling",',
        'clocks = [{ id = "soak", starts = "start", windows = [{ earliest = "90 min", '
        'latest = "120 min" }], source = "Test" },\n  { id = "cooling",',
    ),
)
"""Edits of the test part: what is baked is taken out between an hour and a half and two hours after the start."""


def cut_free(checklist: Callable[[], Checklist]) -> tuple[Bench, int]:
    """The first pallet's pieces on a tray that may go into the oven; the other four wait for a pallet."""
    bench = open_bench(checklist, start=8)
    bench.through(bench.form(10), 10, 20, 30)
    bench.clock.forward(48 * 3600)
    return bench, bench.form(40)


def advised_at(bench: Bench, waits: int = 0) -> list[RankedDue]:
    """The advice now; `waits` is a load that the finish lets wait until its window closes."""
    now = bench.clock()
    plan = planned(bench.state, now=now, crew=ALWAYS, mixed=False)
    runs = tuple(replace(run, slack=480.0) if plan.work(run).load == waits else run for run in plan.plan.runs)
    return rank_dues(list_due_tasks([bench.state], now), replace(plan, plan=replace(plan.plan, runs=runs)), now.at)


def test_a_window_that_other_work_would_outlast_comes_first_and_that_work_says_so() -> None:
    """Forty minutes are left to start packing, which takes an hour; loading the mill takes fifty."""
    packing = ('time = { before_piece = "30 s" }', 'time = { before_piece = "15 min" }')
    bench, tray = cut_free(lambda: edited(LONG, packing))
    bench.through(tray)
    tote = bench.form(50)
    bench.clock.forward(6 * 3600)
    assert [(one.due.go, one.due.outlasts) for one in advised_at(bench, waits=tote)] == [("form", ""), ("begin", "")]

    bench.clock.forward(80 * 60)
    first, second = advised_at(bench, waits=tote)

    assert (first.due.load, first.due.outlasts) == (tote, "")
    assert first.due.closes is not None
    assert second.due.go == "form"
    assert second.due.outlasts == f"takes 50 min; Tote 1 closes {first.due.closes:%H:%M}"
    assert second.due.sentence == f"Load 4 pieces on Pallet · 10 Mill the groove · {second.due.outlasts}"


def test_short_work_may_still_be_done_before_a_window_closes() -> None:
    bench, tray = cut_free(part)
    bench.through(tray)
    tote = bench.form(50)
    bench.clock.forward(7 * 3600 + 20 * 60)

    assert [(one.due.go, one.due.outlasts) for one in advised_at(bench, waits=tote)] == [("form", ""), ("begin", "")]


def test_work_that_outlasts_the_soak_of_an_oven_says_when_that_must_be_opened() -> None:
    bench, tray = cut_free(lambda: edited(LONG, *SOAK))
    bench.until(tray, "cured 2", wait=False)
    out = bench.clock().at + timedelta(hours=2)
    assert not any(one.due.outlasts for one in advised_at(bench)), "there are two hours for it"

    bench.clock.forward(80 * 60)
    loading, baking = advised_at(bench)

    assert (baking.due.load, baking.due.urgency, baking.due.outlasts) == (tray, "later", "")
    assert loading.due.outlasts == f"takes 50 min; Tray 1 closes {out:%H:%M}"


def test_work_that_cannot_start_before_the_oven_is_free_does_not_outlast_its_soak() -> None:
    bake = ('time = { cycle = "90 min" }', 'time = { before = "50 min", cycle = "90 min" }')
    single = ('kind = "oven"\nruns_at_once = 2', 'kind = "oven"')
    bench = open_bench(lambda: edited(bake, single, *SOAK), start=8)
    for _ in range(2):
        bench.through(bench.form(10), 10, 20, 30)
    bench.clock.forward(48 * 3600)
    bench.until(bench.form(40, count=4), "cured 2", wait=False)
    bench.clock.forward(80 * 60)

    loading, baking = advised_at(bench)

    assert (loading.due.go, loading.due.op, loading.due.outlasts) == ("form", 40, "")
    assert baking.due.urgency == "later"


def test_work_that_outlasts_a_window_which_is_not_open_yet_says_so() -> None:
    bench, tray = cut_free(
        lambda: edited(LONG, ('earliest = "30 min", latest = "8 h"', 'earliest = "30 min", latest = "45 min"'))
    )
    bench.through(tray)
    tote = bench.form(50)
    ended = max(run.ended for run in bench.state.runs.values() if run.ended is not None)

    loading, cooling = advised_at(bench)

    assert (cooling.due.load, cooling.due.urgency) == (tote, "later")
    assert loading.due.outlasts == f"takes 50 min; Tote 1 closes {ended + timedelta(minutes=45):%H:%M}"
