"""What can be done about a wrong count that cannot be struck out any more."""

from __future__ import annotations

from floor.batch.corrections.commands import StrikeOut
from floor.batch.corrections.instead import list_other_ways
from floor.batch.counting.commands import Dispose, MarkedPieces
from floor.batch.counting.correct_count import CorrectCount
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.entry import Entry
from tests.batch.factory import Bench, open_bench


def count_and_go_on(marks: tuple[MarkedPieces, ...]) -> tuple[Bench, Entry]:
    """Four pieces counted at op 30, and the rest of their load gone on."""
    bench = open_bench(order=3, start=4)
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.through(load, 30, marks=marks)
    counted = next(entry for entry in reversed(bench.state.entries) if entry.kind == "counted")
    assert bench.refused(StrikeOut(counted.seq, "counted wrong")).why == "later entries"
    return bench, counted


def test_held_pieces_are_decided_on_and_scrap_corrected_until_that_is_done() -> None:
    bench, counted = count_and_go_on((MarkedPieces("soft", ("A1",)), MarkedPieces("torn", ("A2",))))
    assert list_other_ways(bench.state, counted) == ("decide", "correct", "set aside")
    (held,) = bench.state.held()
    bench.say(Dispose((held,), "scrap", "soft indeed"), "LL")
    assert list_other_ways(bench.state, counted) == ("correct", "set aside")
    scrap = next(piece for piece, place in bench.state.places.items() if place.seq == counted.seq)
    bench.say(CorrectCount(counted.seq, (scrap,), "it was good"), "LL")
    assert list_other_ways(bench.state, counted) == ("set aside",), "the hold is of another entry"


def test_what_was_used_as_is_by_mistake_is_set_aside() -> None:
    bench, _ = count_and_go_on((MarkedPieces("soft", ("A1",)),))
    [used] = bench.say(Dispose(tuple(bench.state.held()), "use as is", "hard by now"), "LL")
    assert list_other_ways(bench.state, used) == ("set aside",)
    [scrapped] = bench.say(SetPiecesAside("scrap", "still soft", op=40, count=1))
    assert list_other_ways(bench.state, used) == ()
    assert list_other_ways(bench.state, scrapped) == ("correct",)


def test_what_is_no_count_has_no_other_way() -> None:
    bench, _ = count_and_go_on(())
    assert {list_other_ways(bench.state, one) for one in bench.state.entries if one.kind != "counted"} == {()}
