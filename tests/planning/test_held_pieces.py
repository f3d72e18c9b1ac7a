"""The plan with pieces on hold on their carrier."""

from __future__ import annotations

from floor.batch.counting.commands import Dispose, HoldBack
from floor.batch.lifecycle.commands import SetPiecesAside, StartPieces
from floor.planning.snapshot import take_snapshot
from tests.batch.factory import Bench, open_bench
from tests.planning.planned import ONE_SHIFT


def planned(bench: Bench) -> list[tuple[int, int]]:
    """Operation and pieces of each planned run of the pallet."""
    asked = take_snapshot([bench.state], bench.clock(), ONE_SHIFT).ways[0]
    return [(work.op, work.pieces) for work in asked.works.values() if work.load == 1]


def test_a_pallet_that_waits_for_a_decision_is_left_out_of_the_plan() -> None:
    bench = open_bench(order=4, start=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.say(HoldBack(1, "wrong stock?"), "LL")
    assert planned(bench) == []
    bench.say(Dispose((1, 2, 3, 4), "use as is", "the right stock"), by="LL")
    assert planned(bench) == [(20, 4), (30, 4)]


def test_what_a_freed_piece_missed_is_planned_for_it_alone() -> None:
    bench = open_bench(order=4, start=4)
    load = bench.form(10)
    bench.say(SetPiecesAside("hold", "scratch?", load=load, positions=("A1",)))
    bench.through(load, 10)
    bench.say(Dispose((1,), "use as is", "it was clean"), by="LL")
    assert planned(bench) == [(10, 1), (20, 4), (30, 4)]
    facts = take_snapshot([bench.state], bench.clock(), ONE_SHIFT).facts[bench.state.id]
    assert sum(one.rework for one in facts.hand) == 0, "it is no rework"


def test_nothing_is_planned_on_a_pallet_full_of_held_pieces() -> None:
    bench = open_bench(order=8, start=12)
    for load in (bench.form(10), bench.form(10)):
        bench.say(SetPiecesAside("hold", "doubtful", load=load, positions=("A1", "A2", "B1", "B2")))

    asked = take_snapshot([bench.state], bench.clock(), ONE_SHIFT).ways[0]

    assert asked.numbers["Pallet"] == (3,)
    bench.say(SetPiecesAside("hold", "doubtful", load=bench.form(10), positions=("A1", "A2", "B1", "B2")))
    bench.say(StartPieces(4))
    (obstacle,) = take_snapshot([bench.state], bench.clock(), ONE_SHIFT).ways[0].obstacles
    assert obstacle.wrong == "every Pallet is under pieces on hold"
    assert obstacle.remedy == "Decide on them: d on batch B0001"


def test_what_a_piece_makes_up_for_after_the_run_under_way_is_planned_too() -> None:
    bench = open_bench(order=4, start=4)
    load = bench.form(10)
    bench.say(SetPiecesAside("hold", "scratch?", load=load, positions=("A1",)))
    bench.until(load, "end", wait=False)
    bench.say(Dispose((1,), "use as is", "it was clean"), by="LL")

    assert bench.state.loads[load].behind
    assert planned(bench) == [(10, 3), (10, 1), (20, 4), (30, 4)]
