"""One query traces a piece back to pallet and place, runs, tools, programs, lots, people and waivers (REC-09)."""

from __future__ import annotations

import pytest

from floor.batch.counting.commands import CountRun, MarkedPieces
from floor.batch.gates.commands import Waive
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.search.trace import find_piece_at, trace
from floor.batch.walk.commands import Release
from tests.batch.factory import Bench, open_bench


@pytest.fixture(scope="module")
def bench() -> Bench:
    """Eight pieces on two pallets; a waiver on the second; all through the tray, four of them in a tote."""
    bench = open_bench()
    one, two = bench.form(10), bench.form(10)
    bench.through(one, 10)
    bench.until(two, "probed 1", by="BB")
    bench.say(Waive(bench.run_of(two).number, "probed 1", "set by indicator"), by="LL")
    bench.hand("BB", "AA").work(two)
    for load in (one, two):
        bench.through(load, 20, 30)
    tray = bench.form(40, count=6)
    bench.through(tray, 40)
    tote = bench.form(50, count=4)
    bench.until(tote, "count")
    run = bench.run_of(tote).number
    bench.say(CountRun(run, 3, (MarkedPieces("bent", count=1),)))
    bench.say(Release(run))
    return bench


def test_one_query_tells_the_whole_way_of_a_piece(bench: Bench) -> None:
    found = trace(bench.state, 6)

    assert [(stay.run.op, stay.carrier, stay.position) for stay in found.stays] == [
        (10, "Pallet 2", "A2"),
        (20, "Pallet 2", "A2"),
        (30, "Pallet 2", "A2"),
        (40, "Tray 1", "B3"),
    ]
    assert found.place == "waiting for op 50"
    assert found.candidates == (6,)
    assert {stay.candidates for stay in found.stays} == {1}
    cut = found.stays[0].run
    assert (cut.by, cut.program, cut.station) == ("BB", "KB7-10 A", "mill")
    assert cut.tools == {1: 4.0, 2: None}
    assert cut.count is not None
    assert (cut.started_by, cut.count.by, cut.released_by) == ("BB", "BB", "BB")
    assert found.stays[0].lots == {"bar stock": "10-01A"}
    assert found.stays[1].lots == {"lacquer": "20-01A"}
    assert [(w.by, w.reason) for w in found.stays[0].waivers] == [("LL", "set by indicator")]
    assert trace(bench.state, 2).stays[0].waivers == ()


def test_the_trace_before_a_move_by_hand_rests_on_the_order_of_loading(bench: Bench) -> None:
    """Common practice, no source: nobody writes down which piece of a pallet went to which place of a tray."""
    moved = trace(bench.state, 6)

    assert moved.moves == (("Pallet", "Tray"),)
    assert [(stay.carrier, stay.by_order) for stay in moved.stays] == [("Pallet 2", True)] * 3 + [("Tray 1", False)]
    again = open_bench()
    load = again.form(10)
    again.through(load, 10, 20)
    assert {stay.by_order for stay in trace(again.state, 1).stays} == {False}, "it never left its pallet"
    again.through(load, 30)
    again.form(40)
    assert {stay.by_order for stay in trace(again.state, 1).stays} == {True}, "moved, though nothing was done there yet"
    assert trace(again.state, 1).moves == (("Pallet", "Tray"),)


def test_what_was_one_heap_is_not_told_apart_afterwards(bench: Bench) -> None:
    """Loose in the tote, the good pieces may be any that went in, including the one marked by number."""
    finished = [piece for piece, place in bench.state.places.items() if place.where == "finished"]
    scrapped = [piece for piece, place in bench.state.places.items() if place.where == "scrap"]
    assert (len(finished), len(scrapped)) == (3, 1)
    for piece in finished + scrapped:
        found = trace(bench.state, piece)
        assert found.candidates == (1, 2, 3, 4)
        assert [stay.candidates for stay in found.stays] == [4, 4, 4, 4, 4]
        assert found.stays[-1].position == ""
        assert found.stays[0].position == "one of 4 places"
    assert {trace(bench.state, piece).stays[-1].condition for piece in finished} == {"good"}
    assert trace(bench.state, scrapped[0]).stays[-1].condition == "scrap: bent"


def test_a_piece_taken_from_a_heap_between_counts_may_be_any_of_it() -> None:
    bench = open_bench()
    bench.through(bench.form(10), 10, 20, 30)
    bench.through(bench.form(40), 40)
    tote = bench.form(50)
    bench.say(SetPiecesAside("scrap", "fell", load=tote, count=1))
    [gone] = [piece for piece, place in bench.state.places.items() if place.where == "scrap"]

    assert trace(bench.state, gone).candidates == (1, 2, 3, 4)
    bench.through(tote)
    assert trace(bench.state, 1).candidates == (1, 2, 3, 4)


def test_a_rework_shows_both_passes_and_what_each_count_said() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "count")
    bench.say(CountRun(bench.run_of(load).number, 3, (MarkedPieces("thin", ("A2",)),)))
    bench.hand().work(load)
    bench.through(load, 20)

    found = trace(bench.state, 2)

    assert [(stay.run.op, stay.run.rework, stay.condition) for stay in found.stays] == [
        (10, "", "good"),
        (20, "", "rework: thin"),
        (20, "touch up", "good"),
    ]
    assert [stay.run.op for stay in trace(bench.state, 1).stays] == [10, 20]
    bench.begin(load)
    assert trace(bench.state, 1).stays[-1].condition == "under way"
    assert trace(bench.state, 1).place == "on load 1"


def test_a_piece_is_found_by_its_place(bench: Bench) -> None:
    assert find_piece_at(bench.state, 2, " a2 ") == 6
    assert find_piece_at(bench.state, 2, "C1") is None
    assert find_piece_at(bench.state, 99, "A1") is None
    with pytest.raises(KeyError):
        trace(bench.state, 99)
