"""The band of the finish holds what the yields may bring: loads to make up for scrap, and rework."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from floor.batch.commands.counting import Marked
from floor.entry import Moment
from floor.figures.schedule import Kind, spread
from floor.planning.outlook import outlook
from floor.planning.plan import ShopPlan, make_plan
from floor.planning.prospect import Taken, take
from floor.planning.start import fresh
from tests.batch.factory import Bench
from tests.planning.planned import ALWAYS, MORNING, ONE_SHIFT, baked, engraved


def begun(started: int, order: int = 120) -> tuple[Taken, ShopPlan]:
    taken = take([fresh(engraved(), order, started, Moment(MORNING))], Moment(MORNING), ONE_SHIFT)
    return taken, make_plan(taken.ways, effort=1000)


def test_the_order_is_through_on_time_as_often_as_it_is_filled_where_a_shortage_costs_a_day() -> None:
    """The make-up load cures a day, so six hours after the planned end it is not there: P(on time) = P(filled).

    P(filled) is checked beside scipy in test_outlook.
    """
    taken, made = begun(125)
    filled = outlook(taken.facts["new"], 0.5).forecast.probability
    due = made.plan.end + timedelta(hours=6)
    problem = replace(made.problem, batches=(replace(made.problem.batches[0], due=due),))

    found = spread(problem, made.plan, samples=500, seed=3)

    assert 0.4 < filled < 0.7
    assert found.batches["new"].on_time == pytest.approx(filled, abs=0.07)
    assert found.end.early < due
    assert found.end.late > made.plan.end + timedelta(hours=24)
    assert found.missed == 0


def test_make_up_loads_carry_about_what_is_missing_and_begin_after_the_last_count() -> None:
    taken, made = begun(125)
    batch = made.problem.batches[0]
    law = outlook(taken.facts["new"], 0.5).forecast

    chances = [one.chance for one in batch.make_up]
    assert sum(chances) == pytest.approx(1 - law.probability, abs=1e-9)
    sizes = [int(one.loads[0].id.split(", ")[1].split()[0]) for one in batch.make_up]
    mean = sum(chance * size for chance, size in zip(chances, sizes, strict=True))
    assert mean == pytest.approx(law.shortage / 0.98 / 0.97, abs=0.5), "each piece passes with 0.98 · 0.97"
    last = max((run for run in made.plan.runs if made.work(run).op == 30), key=lambda run: run.end).run
    assert all(one.loads[0].runs[0].after[0].run == last for one in batch.make_up)
    assert {run.family for one in batch.make_up for load in one.loads for run in load.runs} >= {"new 10", "new 30"}


def test_plenty_started_leaves_nothing_to_make_up() -> None:
    _, made = begun(200)
    assert made.problem.batches[0].make_up == ()


def reworked() -> Bench:
    """Half of eight pieces through to the end, one of them sent back; the other half still to be begun."""
    bench = baked()
    bench.clock.forward(3600)
    bench.through(bench.form(50), 50, marks=(Marked("scratch", count=1),))
    return bench


def test_runs_of_an_operation_that_sent_pieces_back_may_do_so_again() -> None:
    """The piece of the first count went back to op 20; the cure there is waited for again, off the station."""
    bench = reworked()
    now = bench.clock()
    made = make_plan(take([bench.state], now, ALWAYS).ways, effort=500)

    doubted = {made.asked.works[run.id].op: run.redo for load in made.problem.loads for run in load.runs if run.redo}

    assert set(doubted) == {50}
    redo = doubted[50]
    assert redo is not None
    assert redo.again.good >= 1
    assert [phase.kind for phase in redo.phases] == [Kind.ATTENDED, Kind.UNATTENDED, Kind.CURE]
    assert redo.phases[2].minutes >= 12 * 60
    loads = [replace(load, runs=tuple(replace(run, redo=None) for run in load.runs)) for load in made.problem.loads]
    calm = replace(made.problem, loads=tuple(loads))
    wide, narrow = (spread(one, made.plan, samples=150).end.late for one in (made.problem, calm))
    assert wide > narrow
