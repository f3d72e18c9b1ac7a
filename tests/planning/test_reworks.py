"""Rework in the plan and the forecast: what it passes and takes, and the share of pieces expected to need it."""

from __future__ import annotations

import pytest
from scipy.stats import binom

from floor.batch.counting.commands import Dispose, MarkedPieces
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.checklist.expected_yields import are_shares_known, count_pieces_at_op, list_operation_yields
from floor.checklist.model import Checklist
from floor.entry import Moment
from floor.figures.schedule import PhaseKind
from floor.figures.start_at_known_yields import compute_fill_probability
from floor.papers.start_quantity import make_start_data, write_start_text
from floor.planning.batch_forecast import collect_forecast_inputs, count_work_in_process
from floor.planning.plan import make_plan
from floor.planning.snapshot import take_snapshot
from floor.planning.start_plan import build_fresh_batch, plan_start
from tests.batch.factory import BY_HAND, Bench, by_hand, edited, open_bench
from tests.batch.test_rework_ways import held_at_20, packed, reload
from tests.planning.planned import ALWAYS, MORNING, conserves, minutes, planned

SHARE = (
    '"drop", text = "Deep scratch", to = "rework", rework = "by hand", share = 0.05',
    '"drop", text = "Deep scratch", to = "rework", rework = "by hand"',
)


def ways(bench: Bench) -> list[tuple[int, int]]:
    """(operation, pieces) of all that is planned, in its order."""
    plan = planned(bench.state, now=bench.clock(), crew=ALWAYS)
    assert not plan.obstacles
    conserves(plan, bench.state)
    return [(plan.work(run).op, plan.work(run).pieces) for run in plan.plan.runs]


def test_the_plan_takes_reworked_pieces_the_way_they_are_sent() -> None:
    bench, _ = packed(MarkedPieces("drop", count=1), MarkedPieces("worn", count=2))
    assert sorted(ways(bench)) == [(10, 2), (20, 2), (42, 1), (44, 1), (50, 1), (50, 2)]


def test_the_plan_waits_for_the_clock_of_the_rework() -> None:
    bench, _ = packed(MarkedPieces("drop", count=1))
    plan = planned(bench.state, now=bench.clock(), crew=ALWAYS)
    filled, rubbed, packs = plan.plan.runs
    assert minutes(filled.stretches[0].start, rubbed.start) >= 24 * 60
    assert packs.start >= rubbed.end


@pytest.mark.parametrize("begun", [False, True])
def test_the_plan_of_a_load_in_rework(begun: bool) -> None:
    bench, _ = packed(MarkedPieces("drop", count=1))
    load = reload(bench, 42, "by hand")
    if begun:
        bench.begin(load.number)
    assert ways(bench) == [(42, 1), (44, 1), (50, 1)]
    bench.through(load.number, 42)
    assert ways(bench) == [(44, 1), (50, 1)]


def test_the_plan_of_a_piece_that_waits_in_the_middle_of_its_rework() -> None:
    bench, _ = packed(MarkedPieces("drop", count=2))
    load = reload(bench, 42, "by hand")
    bench.through(load.number, 42)
    bench.say(SetPiecesAside("hold", "dropped", load=load.number, positions=("A1",)))
    bench.clock.forward(25 * 3600)
    bench.through(load.number, 44)
    bench.say(Dispose(tuple(bench.state.held()), "use as is", "only dusty"), by="LL")
    assert sorted(ways(bench)) == [(44, 1), (50, 1), (50, 1)]


def test_the_plan_of_a_rework_in_place_that_leaves_an_operation_out() -> None:
    bench = open_bench(by_hand, start=4, order=4)
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.clock.forward(49 * 3600)
    bench.through(load, 30, marks=(MarkedPieces("shallow", positions=("A2",)),))
    assert ways(bench) == [(10, 1), (30, 1), (40, 4), (50, 4)]


def test_a_held_piece_that_is_reworked_in_its_place_needs_no_carrier_of_its_own() -> None:
    bench = open_bench(start=4, order=4)
    held_at_20(bench)
    bench.say(Dispose((1,), "rework", "cut it again", "regroove"), by="LL")
    plan = planned(bench.state, now=bench.clock(), crew=ALWAYS)
    assert {run.carrier_number for run in plan.plan.runs if plan.work(run).op < 40} == {1}
    assert [(plan.work(run).op, plan.work(run).pieces) for run in plan.plan.runs if plan.work(run).op < 40] \
        == [(10, 1), (20, 1), (30, 4)]  # fmt: skip


def test_the_forecast_counts_them_as_in_rework_of_what_found_them() -> None:
    bench, _ = packed(MarkedPieces("drop", count=1), MarkedPieces("bent", count=1))

    def hands() -> list[tuple[int, int]]:
        return [(one.waiting, one.rework) for one in count_work_in_process(bench.state)[0]]

    assert hands() == [(0, 0)] * 4 + [(0, 1)]
    load = reload(bench, 42, "by hand")
    assert hands() == [(0, 0)] * 4 + [(0, 1)]
    bench.through(load.number, 42)
    bench.say(SetPiecesAside("hold", "dropped", load=load.number, count=1))
    assert hands() == [(0, 0)] * 5, "held: nobody has decided yet"
    assert sum(one.rework for one in collect_forecast_inputs(bench.state, bench.clock()).hand) == 0


def test_a_piece_sent_to_rework_that_nobody_expected_is_not_lost_from_the_forecast() -> None:
    bench = open_bench(start=4, order=4)
    held_at_20(bench)
    bench.say(Dispose((1,), "rework", "cut it again", "regroove"), by="LL")
    assert sum(one.waiting + one.rework for one in collect_forecast_inputs(bench.state, bench.clock()).hand) == 4


def test_the_share_to_be_reworked_is_a_yield_of_its_own() -> None:
    """90 % good the first time, 5 % filled by hand, of which 80 % are saved: a piece passes with 0.94 (by hand).

    The chance to fill an order is the binomial tail of that (scipy).
    """
    packing = list_operation_yields(by_hand())[-1]
    assert (packing.good, packing.rework, packing.rework_yield) == (0.9, 0.05, pytest.approx(0.8))
    for checklist, passes in ((by_hand(), 0.94), (without_share(), 0.9)):
        chance = compute_fill_probability(30, 27, list_operation_yields(checklist))
        assert chance == pytest.approx(binom.sf(26, 30, passes), abs=1e-12)


def without_share() -> Checklist:
    return edited(*BY_HAND, SHARE)


def test_the_share_is_worth_pieces_to_start() -> None:
    assert plan_start(by_hand(), 40, 0.9).quantity.pieces < plan_start(without_share(), 40, 0.9).quantity.pieces
    assert not are_shares_known(by_hand()), "others have none"


def test_the_start_paper_says_how_many_will_come_back() -> None:
    found = plan_start(by_hand(), 40, 0.9, pieces=60)
    assert found.reworked == (0, 0, 0, 0, pytest.approx(3.0))
    assert "op 50: about 3.0 to be reworked: Fill the scratch by hand (5.0 %)" in write_start_text(by_hand(), found)
    assert make_start_data(by_hand(), found)["sent_to_rework"] == {"50": 3.0}


def test_only_the_reworked_ones_come_to_an_operation_of_the_rework() -> None:
    assert [count_pieces_at_op(by_hand(), op, 60) for op in (40, 42, 44, 50)] == [60, 3, 3, 60]
    assert count_pieces_at_op(by_hand(), 42, 61) == 4, "3.05 of them"
    assert count_pieces_at_op(without_share(), 42, 60) == 0


def test_the_spread_of_the_finish_takes_the_way_of_the_rework() -> None:
    """From op 50: a drop, 4 min, its 24 h, 2 min of rubbing and 30 s of packing."""
    drop = edited(
        *BY_HAND,
        ('  { code = "scratch", text = "Scratched", to = "rework", rework = "touch up" },\n', ""),
        ('  { code = "worn", text = "Groove worn", to = "rework", rework = "anew" },\n', ""),
        (
            '[[reworks]]\nid = "anew"\nname = "Groove and coat again"\nback_to = 10\nops = [10, 20, 50]\n'
            'rides = "own load"\n',
            "",
        ),
    )
    taken = take_snapshot([build_fresh_batch(drop, 8, 8, Moment(MORNING))], Moment(MORNING), ALWAYS)
    made = make_plan(taken.ways, effort=50)
    packing = [run for load in made.problem.loads for run in load.runs if made.asked.works[run.id].op == 50]

    (way,) = {way for run in packing if run.fate is not None for way in run.fate.ways}
    filled, rubbed, packed_again = (run for leg in way.legs for run in leg.runs)
    assert way.own
    assert [run.operation[:2] for run in (filled, rubbed, packed_again)] == ["42", "44", "50"]
    assert [run.phases[0].minutes for run in (filled, rubbed, packed_again)] == pytest.approx([4, 2, 0.5])
    assert filled.phases[-1].kind is PhaseKind.CURE
    assert filled.phases[-1].minutes == pytest.approx(24 * 60, abs=5)
    assert [bool(run.fate and run.fate.sent) for run in (filled, rubbed, packed_again)] == [False, False, True]
