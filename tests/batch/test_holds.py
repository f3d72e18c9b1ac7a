"""What a lead sees of held pieces and of those in rework."""

from __future__ import annotations

from floor.batch.counting.commands import Dispose, MarkedPieces
from floor.batch.counting.holds import count_most_passes, list_held_pieces, list_pieces_in_rework, list_possible_reworks
from floor.batch.describe import describe
from floor.batch.lifecycle.commands import SetPiecesAside
from tests.batch.factory import VANCE, Bench, conserved, open_bench, part


def one_set_aside() -> Bench:
    """Four pieces coated, then A1 of them set aside; all else still on the pallet."""
    bench = open_bench(order=8, start=10)
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.say(SetPiecesAside("hold", "dropped, corner bent", load=load, positions=("A1",)))
    return bench


def test_a_piece_set_aside_says_where_why_who_and_when() -> None:
    bench = one_set_aside()
    [held] = list_held_pieces(bench.state)
    assert (held.piece, held.op, held.place) == (1, 30, "Pallet 1 A1")
    assert (held.reason, held.note, held.by) == ("dropped, corner bent", "", "AA")
    assert held.at == bench.clock().at


def test_loose_pieces_have_no_place_and_the_longest_held_come_first() -> None:
    bench = one_set_aside()
    bench.clock.forward(60)
    bench.say(SetPiecesAside("hold", "not found", op=10, count=2))
    assert [(one.piece, one.place) for one in list_held_pieces(bench.state)] == [
        (1, "Pallet 1 A1"),
        (9, "loose"),
        (10, "loose"),
    ]


def test_a_piece_marked_at_a_count_says_the_reason_in_words_with_its_note() -> None:
    bench = open_bench(order=4, start=4)
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.through(load, 30, marks=(MarkedPieces("soft", positions=("B1",), note="at the corner"),))
    [held] = list_held_pieces(bench.state)
    assert (held.op, held.place) == (30, "Pallet 1 B1")
    assert (held.reason, held.note) == ("Coat soft under the nail", "at the corner")


def test_only_routes_that_all_the_pieces_have_reached_are_offered() -> None:
    bench = one_set_aside()
    assert {route.id for route in list_possible_reworks(bench.state, [1])} == {"touch up", "regroove"}
    bench.say(SetPiecesAside("hold", "not found", op=10, count=1))
    assert {route.id for route in list_possible_reworks(bench.state, [1, 10])} == {"regroove"}


def test_passes_are_those_of_the_most_reworked_piece() -> None:
    bench = one_set_aside()
    route = part().rework("touch up")
    assert route is not None
    assert count_most_passes(bench.state, [1, 2], route) == 0
    bench.say(Dispose((1,), "rework", "coat chipped", "touch up"), by="LL")
    assert count_most_passes(bench.state, [1, 2], route) == 1


def test_rework_is_named_while_it_waits_while_it_rides_and_no_longer() -> None:
    bench = one_set_aside()
    assert list_pieces_in_rework(bench.state) == []
    bench.say(Dispose((1,), "rework", "coat chipped", "touch up"), by="LL")
    assert list_pieces_in_rework(bench.state) == ["1 piece waits for op 20 Coat: Scrape and coat again"]
    bench.form(20, rework="touch up")
    assert list_pieces_in_rework(bench.state) == ["1 piece on Pallet 2 at op 20: Scrape and coat again"]


def test_a_detour_of_a_load_is_named() -> None:
    bench = open_bench(order=4, start=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.through(load, 20, marks=(MarkedPieces("thin", positions=("A1", "B2")),))
    assert list_pieces_in_rework(bench.state) == ["2 pieces on Pallet 1 at op 20: Scrape and coat again"]


def _set_aside_on_its_detour(where: str = "A1") -> tuple[Bench, int]:
    """A piece that was counted to a rework on its pallet, and doubted before the rework was done."""
    bench = open_bench(order=4, start=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.through(load, 20, marks=(MarkedPieces("thin", positions=(where,)),))
    bench.say(SetPiecesAside("hold", "doubtful", load=load, positions=(where,)))
    return bench, load


def test_a_piece_on_hold_still_owes_the_rework_it_was_sent_to() -> None:
    bench, load = _set_aside_on_its_detour()
    (held,) = list_held_pieces(bench.state)
    assert held.owes == "Scrape and coat again"
    refused = bench.refused(Dispose((held.piece,), "use as is", "only dusty, wiped"), by="LL")
    assert refused.wrong == "still to be reworked: Scrape and coat again"
    alone = bench.refused(Dispose((held.piece,), "use as is", "thin", waive_rework=True), by="LL")
    assert (alone.why, alone.field) == ("authority", "granted_by")
    agreed = Dispose((held.piece,), "use as is", "thin, the customer agrees", "", True, VANCE)
    entry = bench.say(agreed, by="LL")[0]

    said = "1 held piece: use as is, the rework waived, thin, the customer agrees"
    assert (
        describe(bench.state, entry)
        == f"{said}, concession of Ms Vance 2026-02-27, 26-114 (Pallet 1 A1 (piece 1), op 20: doubtful)"
    )
    assert held.piece in bench.state.present(bench.state.loads[load]), "with the others again, at op 30"
    assert bench.state.loads[load].at == 30
    conserved(bench.state)


def test_sending_it_to_its_rework_after_all_is_no_second_pass() -> None:
    bench, load = _set_aside_on_its_detour()
    (held,) = list_held_pieces(bench.state)
    bench.say(Dispose((held.piece,), "rework", "has to be done", "touch up"), by="LL")

    assert bench.state.passes[(held.piece, "touch up")] == 1
    there = bench.state.loads[load]
    assert (there.at, bench.state.find_next_pieces(there)) == (20, (held.piece,)), "on its carrier, where it sat"


def test_it_owes_the_rework_while_it_waits_loose_and_rides_to_it_and_not_after_it() -> None:
    bench = open_bench(order=4, start=4)
    bench.through(bench.form(10), 10, 20, 30)
    bench.through(bench.form(40))
    tote = bench.form(50)
    bench.through(tote, marks=(MarkedPieces("scratch", count=3),))
    bench.say(SetPiecesAside("hold", "doubtful", op=20, rework="touch up", count=1))
    again = bench.form(20, rework="touch up")
    bench.say(SetPiecesAside("hold", "doubtful", load=again, positions=("A1",)))
    bench.through(again)
    bench.say(SetPiecesAside("hold", "doubtful", load=again, positions=("A2",)))

    assert [held.owes for held in list_held_pieces(bench.state)] == ["Scrape and coat again"] * 2 + [""]
    owing = tuple(held.piece for held in list_held_pieces(bench.state) if held.owes)
    bench.say(Dispose(owing, "use as is", "good enough", waive_rework=True, concession=VANCE), by="LL")
    assert all(bench.state.places[piece].where == "finished" for piece in owing), "found at the last operation"
    (last,) = list_held_pieces(bench.state)
    bench.say(Dispose((last.piece,), "use as is", "hard enough"), by="LL")
    assert last.piece in bench.state.present(bench.state.loads[again])
    assert bench.state.loads[again].at == 30, "what comes after the rework is still to be done"
