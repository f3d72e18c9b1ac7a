"""A count that proves wrong after its pieces have gone on: the piece comes back, and figures count it right."""

from __future__ import annotations

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.counting.commands import CountRun, Dispose, MarkedPieces
from floor.batch.counting.correct_count import CorrectCount, list_scrap_of
from floor.batch.counting.losses import count_losses
from floor.batch.counting.op_yields import list_op_outcomes
from floor.batch.counting.scrap import EndScrap
from floor.batch.describe import describe
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.quality.loss_causes import _list_losses
from floor.papers.closeout import write_close_out
from floor.papers.trace import write_trace
from tests.batch.factory import Bench, conserved, open_bench


@pytest.fixture
def bench() -> Bench:
    return open_bench(order=3, start=4)


def scrap_one(bench: Bench) -> tuple[int, int]:
    """Four pieces counted at op 10, one as scrap, and the load gone on: the count, and the piece."""
    load = bench.form(10)
    bench.through(load, 10, marks=(MarkedPieces("deep", ("A2",)),))
    bench.through(load, 20)
    counted = next(entry for entry in bench.state.entries if entry.kind == "counted" and entry.body["marks"])
    return counted.seq, counted.body["marks"][0]["pieces"][0]


def test_a_piece_counted_as_scrap_comes_back_on_hold_and_goes_on(bench: Bench) -> None:
    seq, piece = scrap_one(bench)
    assert bench.refused(StrikeOut(seq, "23 were good")).why == "later entries", "no way back by striking out"
    [entry] = bench.say(CorrectCount(seq, (piece,), "it was good"), "LL")
    place = bench.state.places[piece]
    assert (place.where, place.reason, place.op) == ("hold", "it was good", 10)
    conserved(bench.state)

    bench.say(Dispose((piece,), "use as is", "measured, good"), "LL")
    assert bench.state.find_next_op(piece) == 20, "it makes up for what the others passed without it"
    conserved(bench.state)
    assert bench.refused(StrikeOut(entry.seq, "it was scrap")).why in ("later entries", "authority")


def test_figures_papers_and_trace_count_it_as_good(bench: Bench) -> None:
    seq, piece = scrap_one(bench)
    before = next(one for one in list_op_outcomes(bench.state) if one.op == 10)
    assert (before.produced, before.good, before.scrap, before.first_pass) == (4, 3, 1, 3)
    assert sum(count_losses(bench.state).values()) == 1
    bench.say(CorrectCount(seq, (piece,), "it was good"), "LL")
    bench.say(Dispose((piece,), "use as is", "measured, good"), "LL")
    after = next(one for one in list_op_outcomes(bench.state) if one.op == 10)
    assert (after.good, after.scrap, after.hold, after.first_pass) == (4, 0, 0, 4)
    assert not count_losses(bench.state), "no loss by operation, reason and place"
    paper = write_close_out(bench.state, bench.clock(), "h" * 64)
    assert "1 scrap" not in paper
    told = write_trace(bench.state, piece, bench.clock(), "h" * 64)
    assert "4 good" in told
    assert f"piece {piece} not scrap after all, entry {seq} corrected: it was good" in told
    counted = describe(bench.state, bench.state.entries[seq - 1])
    assert "1 scrap deep at A2" in counted, "what was entered first stays readable"
    assert f"corrected: piece {piece} not scrap after all" in counted


def test_one_that_was_scrap_after_all_is_lost_by_the_reason_and_place_of_its_count(bench: Bench) -> None:
    seq, piece = scrap_one(bench)
    losses, paths = count_losses(bench.state), _list_losses(bench.state)
    bench.say(CorrectCount(seq, (piece,), "it was good"), "LL")
    bench.say(Dispose((piece,), "scrap", "measured, too deep"), "LL")
    assert count_losses(bench.state) == losses, "once"
    assert _list_losses(bench.state)[1] == paths[1]


def test_one_found_good_is_no_loss_that_has_a_cause(bench: Bench) -> None:
    seq, piece = scrap_one(bench)
    bench.say(CorrectCount(seq, (piece,), "it was good"), "LL")
    bench.say(Dispose((piece,), "use as is", "measured, good"), "LL")
    assert _list_losses(bench.state) == ({piece: []}, set())


def test_what_was_set_aside_as_not_found_is_found_again(bench: Bench) -> None:
    [aside] = bench.say(SetPiecesAside("scrap", "not found", op=10, count=1))
    piece = aside.body["pieces"][0]
    bench.say(EndScrap((piece,), "scrap not found"))
    bench.through(bench.form(10), 10)
    bench.say(CorrectCount(aside.seq, (piece,), "found again"), "LL")
    assert not count_losses(bench.state)
    bench.say(Dispose((piece,), "use as is", "looked at it"), "LL")
    assert (bench.state.places[piece].where, bench.state.places[piece].op) == ("waiting", 10)
    conserved(bench.state)


def test_a_lead_corrects_with_a_reason_what_is_scrap_and_still_whole(bench: Bench) -> None:
    seq, piece = scrap_one(bench)
    other = next(one for one in bench.state.places if one != piece)
    assert bench.refused(CorrectCount(seq, (piece,), "it was good"), "AA").why == "authority"
    assert bench.refused(CorrectCount(seq, (piece,), ""), "LL").why == "input"
    for wrong in ((), (piece, piece), (other,), (99,)):
        assert bench.refused(CorrectCount(seq, wrong, "it was good"), "LL").field == "which"
    assert bench.refused(CorrectCount(seq - 1, (piece,), "it was good"), "LL").why == "unknown"
    [marked] = bench.say(EndScrap((piece,), "scrap destroyed"))
    assert f"scrap destroyed by entry {marked.seq}" in bench.refused(CorrectCount(seq, (piece,), "good"), "LL").wrong
    bench.say(StrikeOut(marked.seq, "another one was"))
    bench.say(CorrectCount(seq, (piece,), "it was good"), "LL")
    assert list_scrap_of(bench.state, seq) == (), "only once"


def test_a_count_that_is_not_released_is_taken_back_itself(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "count")
    [counted] = bench.say(CountRun(bench.run_of(load).number, 3, (MarkedPieces("deep", ("A2",)),)))
    assert list_scrap_of(bench.state, counted.seq) == ()
    bench.say(StrikeOut(counted.seq, "it was good"))


def test_scrap_still_on_its_carrier_goes_on_from_there() -> None:
    """A piece that never left the pallet makes up there for what the others passed."""
    bench = open_bench(order=3, start=4)
    seq, piece = scrap_one(bench)
    sat = bench.state.places[piece].sits
    bench.say(CorrectCount(seq, (piece,), "it was good"), "LL")
    assert bench.state.places[piece].sits == sat
    assert bench.state.places[piece].off != sat
