"""The state of a batch becomes a problem for the planner, and its plan keeps the clocks of the route."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from floor.batch.counting.commands import MarkedPieces
from floor.batch.counting.decide_surplus import LetSurplusGoOn, TakeOutSurplus
from floor.batch.lifecycle.commands import OpenBatch
from floor.batch.run import Run
from floor.figures.schedule import PhaseKind, simulate_finishes
from floor.papers.plan import write_plan_text
from floor.planning.plan import make_plan
from floor.planning.problem import BatchChange, build_planning_request
from floor.planning.snapshot import take_snapshot
from floor.shop import Shop
from floor.shop.simulation import ManualClock, SimulatedOperator
from tests.batch.factory import MORNING, Bench, open_bench, part
from tests.planning.planned import ALWAYS, ONE_SHIFT, baked, conserves, filled, minutes, planned, potted


def test_a_fresh_batch_is_loaded_carrier_by_carrier_along_its_legs() -> None:
    """8 pieces on pallets of 4; a recoat and a cooling window reach over the next legs: loads are not put together."""
    plan = planned(open_bench().state)

    assert [(run.load, plan.work(run).op, plan.work(run).pieces) for run in plan.plan.runs if plan.work(run).op > 30] \
        == [("Tray 1 of 2 from op 40", 40, 4), ("Tray 2 of 2 from op 40", 40, 4),
            ("Tote 1 of 2 from op 50", 50, 4), ("Tote 2 of 2 from op 50", 50, 4)]  # fmt: skip
    assert not plan.obstacles
    conserves(plan, open_bench().state)


def test_carriers_are_filled_up_where_no_window_closes() -> None:
    """23 lids: pallets of 13 and 10, then one tote for all; kept apart they take two."""
    state = open_bench(potted, start=23).state

    mixed, apart = planned(state), planned(state, mixed=False)

    def last(plan: object) -> list[int]:
        return [plan.work(run).pieces for run in plan.plan.runs if plan.work(run).op == 40]  # type: ignore[attr-defined]

    assert last(mixed) == [23]
    assert sorted(last(apart)) == [10, 13]


def test_the_cure_holds_the_pallet_and_the_next_operation_waits_for_it() -> None:
    plan = planned(open_bench(potted, start=13).state)

    pocket, fill, face, _ = plan.plan.runs
    cure = fill.stretches[-1]
    assert cure.kind is PhaseKind.CURE
    assert minutes(cure.start, cure.end) == 24 * 60
    assert face.start >= cure.end
    assert fill.held_until == cure.start, "the bench is free while it cures"
    assert len({run.carrier_number for run in (pocket, fill, face)}) == 1


def test_a_recoat_window_is_hit_and_not_only_waited_for() -> None:
    """Within 1 h of the coat or after 48 h; the cut between them waits 12 h, so it is the later window."""
    bench = open_bench()
    plan = planned(bench.state, crew=ALWAYS)

    for load in ("Pallet 1 of 2 from op 10", "Pallet 2 of 2 from op 10"):
        coat = next(run for run in plan.plan.runs if run.load == load and plan.work(run).op == 20)
        tray = "Tray 1 of 2 from op 40" if "Pallet 1" in load else "Tray 2 of 2 from op 40"
        bake = next(run for run in plan.plan.runs if run.load == tray)
        assert minutes(coat.held_until, bake.start) >= 48 * 60
    for tray, tote in (("Tray 1", "Tote 1"), ("Tray 2", "Tote 2")):
        out = next(run for run in plan.plan.runs if run.load.startswith(tray)).held_until
        packed = next(run for run in plan.plan.runs if run.load.startswith(tote)).start
        assert 30 <= minutes(out, packed) <= 8 * 60, "cooled half an hour, and packed within eight"


def test_a_run_under_way_has_only_what_is_left_of_it() -> None:
    """The 20 min cycle started 5 min ago: 15 are left, then 1 min of brushing, less what is ticked."""
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "end", wait=False)
    bench.clock.forward(300 - (bench.clock().at - bench.run_of(load).started).total_seconds())

    plan = planned(bench.state, now=bench.clock())
    first = plan.plan.runs[0]

    assert (first.load, plan.carrier(first)) == ("1", "Pallet 1")
    assert [part.kind for part in first.stretches] == [PhaseKind.UNATTENDED, PhaseKind.ATTENDED]
    assert minutes(first.stretches[0].start, first.stretches[0].end) == pytest.approx(15, abs=0.1)
    assert minutes(first.stretches[1].start, first.stretches[1].end) == pytest.approx(1, abs=0.1)
    conserves(plan, bench.state)


def test_a_cure_that_runs_is_counted_from_the_record() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10, 20)
    coated = bench.state.piece_clocks["cure"][1][0]
    bench.clock.forward(3 * 3600)

    asked = build_planning_request([bench.state], bench.clock(), ALWAYS)
    plan = planned(bench.state, now=bench.clock(), crew=ALWAYS)
    cut = next(run for run in plan.plan.runs if run.load == "1" and plan.work(run).op == 30)

    assert asked.ripens == {"1": coated + timedelta(hours=12)}
    assert timedelta() <= cut.start - (coated + timedelta(hours=12)) < timedelta(seconds=1)


def test_a_window_that_has_closed_is_reported_and_the_rest_is_planned() -> None:
    bench = open_bench(start=8)
    load = bench.form(10)
    bench.through(load, 10, 20, 30)
    tray = bench.form(40)
    bench.clock.forward(48 * 3600)
    bench.through(tray, 40)
    bench.clock.forward(9 * 3600)

    plan = planned(bench.state, now=bench.clock())

    assert "op 50" in str(plan.obstacles[0]) or "50 Inspect" in str(plan.obstacles[0])
    assert "last moment it could start" in plan.obstacles[0].wrong
    assert {plan.work(run).pieces for run in plan.plan.runs if plan.work(run).op == 10} == {4}


def test_a_set_up_that_stands_is_not_made_again() -> None:
    bench = open_bench(start=8)
    first = bench.form(10)
    bench.through(first, 10)

    asked = build_planning_request([bench.state], bench.clock(), ONE_SHIFT)

    assert next(one for one in asked.problem.stations if one.name == "Mill").set_up_for == "B0001 10"


def test_rework_on_its_pallet_goes_round_again_before_the_load_goes_on() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.clock.forward(12 * 3600)
    bench.through(load, 30, marks=(MarkedPieces("bare", ("A1",)),))

    plan = planned(bench.state, now=bench.clock(), crew=ALWAYS)
    mine = [(plan.work(run).op, plan.work(run).pieces) for run in plan.plan.runs if run.load == str(load)]

    assert mine == [(20, 1), (30, 1)]
    conserves(plan, bench.state)


def test_pieces_sent_to_rework_off_their_carrier_form_a_load_of_their_own() -> None:
    bench = baked()
    bench.clock.forward(3600)
    bench.through(bench.form(50), 50, marks=(MarkedPieces("scratch", count=1),))

    plan = planned(bench.state, now=bench.clock())
    again = [run for run in plan.plan.runs if "touch up" in run.load]

    assert [(plan.work(run).op, plan.work(run).pieces) for run in again] == [(20, 1), (30, 1)]
    assert plan.work(again[0]).forms == (20, "touch up")
    conserves(plan, bench.state)


def test_what_if_a_load_is_scrapped_and_more_pieces_are_started() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10)

    plan = planned(bench.state, now=bench.clock(), changes={"B0001": BatchChange(frozenset({load}), 4)})

    assert str(load) not in {run.load for run in plan.plan.runs}
    assert sum(plan.work(run).pieces for run in plan.plan.runs if plan.work(run).op == 10) == 8


def test_two_batches_compete_for_the_same_stations_and_carriers() -> None:
    one, other = open_bench(potted, start=13).state, open_bench(potted, start=13).state
    other.id = "B0002"

    plan = planned(one, other)
    router = sorted((run.start, run.held_until) for run in plan.plan.runs if run.station == "Router")

    assert all(end <= start for (_, end), (start, _) in zip(router, router[1:], strict=False))
    assert plan.asked.problem.carriers["Pallet"] == 2
    assert {run.operation for run in plan.plan.runs if run.batch == "B0002"} >= {"10 Mill the pocket of B0002"}


def test_two_pallets_and_a_day_of_cure_bind_an_order_of_120() -> None:
    """Common practice, no source: nearly six minutes of milling a piece make a pallet of 13 take about an hour and
    twenty minutes; with two pallets and a day's cure 120 pieces take more than five days, the cutting about one."""
    state = open_bench(potted, start=120).state

    plan = planned(state)
    cutting = [
        minutes(part.start, part.end)
        for run in plan.plan.runs
        for part in run.stretches
        if part.kind is PhaseKind.UNATTENDED and plan.work(run).op == 10
    ]

    assert 75 <= max(cutting) <= 85
    assert 8 <= sum(cutting) / 60 <= 24
    assert plan.plan.end - plan.plan.start > timedelta(days=5)
    assert (plan.plan.bottleneck.kind, plan.plan.bottleneck.name) == ("carrier", "Pallet")
    assert "24.0 h of it curing" in plan.plan.bottleneck.words


def test_the_pieces_add_up_at_every_hour_of_a_batch_worked_from_end_to_end(tmp_path: Path) -> None:
    clock = ManualClock(MORNING)
    shop = Shop(tmp_path / "shop", clock)
    shop.add_person("AA", "Arne Aas", True, by="AA")
    shop.add_person("BB", "Bea Brandt", False, by="AA")
    id = shop.open_batch(OpenBatch("B0001", part(), "digest", "part.toml", 8, 14), "AA").id
    hand = SimulatedOperator(shop, id, "AA", clock, second="BB")

    finds = {30: MarkedPieces("bare", ("A1",)), 10: MarkedPieces("deep", ("B2",)), 50: MarkedPieces("scratch", count=1)}

    def found(run: Run) -> tuple[MarkedPieces, ...]:
        return (finds.pop(run.op),) if run.op in finds and len(run.pieces) > 1 else ()

    planned_at = 0
    for _ in range(24):
        batch = shop.batch(id)
        plan = planned(batch, now=clock(), crew=ALWAYS, effort=50)
        if not plan.obstacles:
            conserves(plan, batch)
            planned_at += 1
        hand.shift(clock().at + timedelta(hours=5), found)
    assert planned_at >= 18
    assert shop.batch(id).total("finished") > 0
    shop.close()


def test_of_a_filled_order_only_what_is_under_way_or_is_to_go_on_is_planned() -> None:
    """Four of four are through; a load waits for its cut on its pallet, four pieces wait loose, a cycle runs."""
    bench = filled(start=16, loads=2)
    bench.through(2, 10, 20)
    bench.until(bench.form(10), "end", wait=False)

    plan = planned(bench.state, now=bench.clock(), crew=ALWAYS)
    assert [(run.load, plan.work(run).op) for run in plan.plan.runs] == [("5", 10)]
    assert (
        write_plan_text(plan, bench.clock(), ["B0001"]).splitlines()[1].startswith("! B0001 ORDER FILLED: 4 of 4 good")
    )
    numbers = plan.asked.numbers["Pallet"]
    assert 2 not in numbers, "it stands under pieces that nobody needs"

    bench.say(LetSurplusGoOn("off the pallet", until=30))
    plan = planned(bench.state, now=bench.clock(), crew=ALWAYS)
    assert {plan.work(run).op for run in plan.plan.runs} == {10, 20, 30}

    bench.say(TakeOutSurplus("spare", "for the next order"))
    plan = planned(bench.state, now=bench.clock(), crew=ALWAYS)
    assert {plan.work(run).load for run in plan.plan.runs} == {5}


def crowded() -> Bench:
    """Four of four are through, and the shop's three pallets stand under pieces that nobody has decided on."""
    bench = filled(start=16)
    count = bench.state.checklist.carrier("pallet").count
    for _ in range(count):
        bench.form(10)
    assert len(bench.state.list_live_loads()) == count
    return bench


def test_no_carrier_under_a_surplus_that_nobody_has_decided_on_is_planned_as_free() -> None:
    bench = crowded()
    other = open_bench(start=4)
    other.state.id = "B0002"

    plan = planned(bench.state, other.state, now=bench.clock(), crew=ALWAYS)

    assert not plan.plan.runs
    assert plan.unplanned["B0002"].pieces == 4
    assert plan.unplanned["B0002"].why[0].where == "operation 10 Mill the groove of B0002"
    assert str(plan.unplanned["B0002"]).endswith(
        "every Pallet is under pieces that a filled order does not need. Decide on them: u on batch B0001."
    )

    bench.say(TakeOutSurplus("spare", "for the next order"))
    plan = planned(bench.state, other.state, now=bench.clock(), crew=ALWAYS)
    assert not plan.unplanned
    assert {plan.carrier(run) for run in plan.plan.runs if plan.work(run).op == 10} == {"Pallet 1"}


def test_the_band_of_the_finish_takes_a_surplus_to_be_decided_on_before_more_is_started() -> None:
    """The other batch is past its pallet and a piece short: what makes up for it would have no pallet at all."""
    bench = crowded()
    other = open_bench(start=4, order=4)
    other.state.id = "B0002"
    load = other.form(10)
    other.through(load, 10, marks=(MarkedPieces("deep", ("A1",)),))
    other.through(load, 20)
    other.clock.forward(12 * 3600)
    other.through(load, 30)
    assert other.where() == {"waiting": 3, "scrap": 1}

    taken = take_snapshot([bench.state, other.state], bench.clock(), ALWAYS)
    plan = make_plan(taken.ways, effort=50)

    assert not plan.unplanned
    assert any(one.make_up for one in plan.problem.batches), "it is short of its order"
    assert simulate_finishes(plan.problem, plan.plan, samples=20).samples == 20


@pytest.mark.parametrize("loaded", [0, 3])
def test_where_checklists_disagree_the_smallest_number_of_carriers_is_planned_with(loaded: int) -> None:
    """One checklist has two pallets, the other three: the first never lets a third be loaded."""
    two, three = potted(), part()
    assert [one.carrier("pallet").count for one in (two, three)] == [2, 3]
    first, second = open_bench(potted, start=39), open_bench(start=39)
    for _ in range(loaded):
        second.form(10)

    asked = build_planning_request([first.state, replace(second.state, id="B2")], first.clock(), ONE_SHIFT)

    assert asked.problem.carriers["Pallet"] == max(2, loaded), "all that are under a load are there"
