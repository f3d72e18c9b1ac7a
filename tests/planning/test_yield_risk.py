"""The band of the finish includes what yields may bring: loads to make up for scrap, and rework."""

from __future__ import annotations

import gc
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from floor.batch.counting.commands import Dispose, MarkedPieces
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.checklist.loading import load_checklist
from floor.checklist.model import Checklist
from floor.entry import Moment
from floor.figures.schedule import PhaseKind, RunOutcomes, simulate_finishes
from floor.planning import durations, yield_risk
from floor.planning.batch_forecast import collect_forecast_inputs, compute_outlook
from floor.planning.plan import ShopPlan, make_plan
from floor.planning.snapshot import Snapshot, take_snapshot
from floor.planning.start_plan import build_fresh_batch
from floor.planning.yield_risk import add_yield_risk, assess_yield_risk
from tests.batch.factory import Bench, one_cycle, open_bench
from tests.planning.planned import ALWAYS, MORNING, ONE_SHIFT, baked, potted


def spotted() -> Checklist:
    loaded = load_checklist(Path(__file__).with_name("spotted.toml"))
    assert loaded.checklist is not None
    return loaded.checklist


def begun(started: int, order: int = 120) -> tuple[Snapshot, ShopPlan]:
    taken = take_snapshot([build_fresh_batch(potted(), order, started, Moment(MORNING))], Moment(MORNING), ONE_SHIFT)
    return taken, make_plan(taken.ways, effort=1000)


def test_sizes_rise_by_a_fifth_and_cover_the_most() -> None:
    assert list(yield_risk._sizes(1)) == [1]
    assert list(yield_risk._sizes(4)) == [1, 2, 3, 4]
    assert list(yield_risk._sizes(11)) == [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12]
    assert list(yield_risk._sizes(12)) == [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12]


def test_the_order_is_through_on_time_as_often_as_it_is_filled_where_a_shortage_costs_a_day() -> None:
    """The make-up load cures a day, so six hours after the planned end it is not there: P(on time) = P(filled).

    P(filled) is checked beside scipy in test_outlook.
    """
    taken, made = begun(125)
    filled = compute_outlook(taken.facts["new"], 0.5).forecast.probability
    due = made.plan.end + timedelta(hours=6)
    problem = replace(made.problem, batches=(replace(made.problem.batches[0], due=due),))

    found = simulate_finishes(problem, made.plan, samples=500, seed=3)

    assert 0.4 < filled < 0.7
    assert found.batches["new"].on_time == pytest.approx(filled, abs=0.07)
    assert found.end.early < due
    assert found.end.late > made.plan.end + timedelta(hours=24)
    assert found.missed == 0


def test_make_up_loads_are_there_for_every_shortage_that_is_likely_and_may_lose_pieces_themselves() -> None:
    _, made = begun(125)
    batch = made.problem.batches[0]
    sizes = [one.pieces for one in batch.make_up]

    assert sizes[:4] == [1, 2, 3, 4]
    assert 10 <= sizes[-1] <= 40, "one in a thousand is short by no more"
    assert batch.wanted == 120
    assert batch.passing == pytest.approx(0.98 * 0.97)
    for one in batch.make_up:
        fates = {run.operation[:2]: run.fate for load in one.loads for run in load.runs}
        assert len(fates["10"].pieces) == min(one.pieces, 13) or len(one.loads) > 1
        assert fates["10"].yields is not None
        assert fates["20"].yields is None, "nothing is lost there"
    assert {run.family for one in batch.make_up for load in one.loads for run in load.runs} >= {"new 10", "new 30"}


def outcomes(bench: Bench) -> dict[int, RunOutcomes]:
    """What may happen to the pieces at each operation to be planned."""
    asked = take_snapshot([bench.state], bench.clock(), ONE_SHIFT).ways[0]
    problem = add_yield_risk(asked, asked.problem)
    fates = {asked.works[run.id].op: run.fate for load in problem.loads for run in load.runs}
    return {op: fate for op, fate in fates.items() if fate is not None}


def test_what_each_piece_adds_is_its_own_time_and_nothing_to_a_cure() -> None:
    """The lid's file: 5.8 min of milling and 40 s of resin a piece, a day of cure, 50 s of facing, 30 s of packing."""
    found = outcomes(open_bench(potted, start=13, order=13))
    assert {op: fate.each for op, fate in found.items()} == {
        10: pytest.approx((0, 5.8, 0)),
        20: pytest.approx((40 / 60, 0)),
        30: pytest.approx((0, 50 / 60, 0)),
        40: pytest.approx((0.5,)),
    }


def test_one_piece_takes_its_own_time_with_it_and_a_run_under_way_what_is_left() -> None:
    assert {fate.each for fate in outcomes(open_bench(spotted, start=1, order=1)).values()} == {()}
    assert {op: fate.each for op, fate in outcomes(open_bench(spotted, start=2)).items()} == {10: (2.0,), 20: (1.0,)}
    bench = open_bench(spotted, start=4, order=4)
    bench.until(bench.form(10), "load step 1")
    assert {op: fate.each for op, fate in outcomes(bench).items()} == {10: (), 20: (1.0,)}


def test_a_piece_less_on_one_of_two_loads_does_not_shorten_the_cycle_that_they_share() -> None:
    found = outcomes(open_bench(one_cycle, start=8, order=8))
    assert found[10].each == ()
    assert found[20].each != ()


def test_what_goes_back_on_its_load_is_known_with_the_operation_that_found_it() -> None:
    """A1 is sent back by the last operation; what only makes up for a hold was found bad by none."""
    bench = open_bench(spotted, start=4, order=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.through(load, 20, marks=(MarkedPieces("spot", count=1),))
    (piece,) = bench.state.loads[load].detours[0].pieces
    facts = collect_forecast_inputs(bench.state, bench.clock())
    assert assess_yield_risk(bench.state, {}, facts).sent == {piece: 20}

    held = open_bench(start=4, order=4)
    load = held.form(10)
    held.through(load, 10)
    held.say(SetPiecesAside("hold", "look again", load=load, positions=("A1",)))
    held.through(load, 20)
    held.say(Dispose((1,), "use as is", "within the drawing"), by="LL")
    assert [one.rework for one in held.state.loads[load].detours] == [""]
    facts = collect_forecast_inputs(held.state, held.clock())
    assert assess_yield_risk(held.state, {}, facts).sent == {}


def test_what_is_wiped_and_looked_over_again_takes_a_piece_as_long_as_the_first_time() -> None:
    """Two minutes of wiping and one of looking (its file); it stays on its tray."""
    (way,) = outcomes(open_bench(spotted, start=4, order=4))[20].ways
    (leg,) = way.legs
    assert not way.own
    assert [[phase.minutes for phase in run.phases] for run in leg.runs] == [[2.0], [1.0]]
    assert [run.fate.each for run in leg.runs if run.fate is not None] == [(2.0,), (1.0,)]


def test_plenty_started_leaves_nothing_to_make_up() -> None:
    _, made = begun(200)
    assert made.problem.batches[0].make_up == ()


def reworked() -> Bench:
    """Half of eight pieces at the end, one of them sent back; the other half not started."""
    bench = baked()
    bench.clock.forward(3600)
    bench.through(bench.form(50), 50, marks=(MarkedPieces("scratch", count=1),))
    return bench


def test_runs_of_an_operation_that_sent_pieces_back_may_do_so_again() -> None:
    """The piece of the first count went back to op 20; the cure there is waited for again, off the station."""
    bench = reworked()
    now = bench.clock()
    made = make_plan(take_snapshot([bench.state], now, ALWAYS).ways, effort=500)
    runs = {run.id: (made.asked.works[run.id], run) for load in made.problem.loads for run in load.runs}

    doubted = {work.op: run.fate for work, run in runs.values() if run.fate and run.fate.ways}

    assert set(doubted) == {50}
    (way,) = doubted[50].ways
    cures = [
        phase.minutes for leg in way.legs for run in leg.runs for phase in run.phases if phase.kind is PhaseKind.CURE
    ]
    assert max(cures) >= 12 * 60
    loads = [replace(load, runs=tuple(replace(run, fate=None) for run in load.runs)) for load in made.problem.loads]
    calm = replace(made.problem, loads=tuple(loads), batches=(replace(made.problem.batches[0], wanted=None),))
    wide, narrow = (simulate_finishes(one, made.plan, samples=150).end.late for one in (made.problem, calm))
    assert wide > narrow


def test_what_is_sent_back_passes_surely_until_where_it_was_found_and_is_saved_or_lost_there() -> None:
    bench = reworked()
    (sent,) = [piece for piece, place in bench.state.places.items() if place.rework]
    made = make_plan(take_snapshot([bench.state], bench.clock(), ALWAYS).ways, effort=500)
    fates = {
        made.asked.works[run.id].op: run.fate
        for load in made.problem.loads
        for run in load.runs
        if run.fate is not None and sent in run.fate.pieces
    }

    assert fates[50].sent == {sent}
    assert fates[50].yields is not None
    assert {op for op, fate in fates.items() if fate.sent} == {50}


def test_what_is_counted_and_not_released_is_counted_once() -> None:
    bench = open_bench(spotted, start=4, order=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "release")
    made = make_plan(take_snapshot([bench.state], bench.clock(), ALWAYS).ways, effort=100)
    run = made.problem.loads[0].runs[0]

    assert run.under_way
    assert run.fate is not None
    assert run.fate.yields is None


def test_what_is_on_hold_is_not_waited_for() -> None:
    bench = baked()
    bench.clock.forward(3600)
    bench.through(bench.form(50), 50, marks=(MarkedPieces("doubtful", count=1),))
    assert bench.where()["hold"] == 1
    made = make_plan(take_snapshot([bench.state], bench.clock(), ALWAYS).ways, effort=100)
    state = bench.state
    assert made.problem.batches[0].wanted == max(state.order - state.total("finished") - 1, 0)


def test_what_waits_on_its_load_for_rework_in_place_is_counted_when_that_is_through() -> None:
    """Of four covers one is sent back at the last operation; the three others wait on the tray."""
    bench = open_bench(spotted, start=4, order=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.through(load, 20, marks=(MarkedPieces("spot", count=1),))
    made = make_plan(take_snapshot([bench.state], bench.clock(), ALWAYS).ways, effort=100)

    (planned,) = made.problem.loads
    assert [run.fate.waiting for run in planned.runs if run.fate is not None] == [0, 3]
    assert made.problem.batches[0].wanted == 4
    due = replace(made.problem, batches=(replace(made.problem.batches[0], make_up=()),))
    assert simulate_finishes(due, made.plan, samples=20).batches[made.problem.batches[0].id].middle > made.plan.start


def test_what_was_worked_out_for_a_plan_does_not_outlive_it() -> None:
    """Reference cycles would keep the whole problem alive, and they are collected rarely."""
    gc.collect()
    gc.disable()
    try:
        for _ in range(3):
            make_plan(take_snapshot([open_bench(potted, start=15).state], Moment(MORNING), ONE_SHIFT).ways, effort=0)
        left = [one for one in gc.get_objects() if type(one) in (yield_risk._Doubts, durations.DurationCache)]
    finally:
        gc.enable()

    assert not left
