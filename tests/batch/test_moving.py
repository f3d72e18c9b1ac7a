"""Which pieces ride where: a load formed of chosen pieces in chosen places."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache

import pytest

from floor.batch.command import Refused
from floor.batch.corrections.commands import StrikeOut
from floor.batch.corrections.from_paper import TranscribeAct
from floor.batch.counting.commands import CountRun, Dispose, MarkedPieces
from floor.batch.counting.losses import count_losses
from floor.batch.describe import describe
from floor.batch.fold import Inapplicable, fold
from floor.batch.gates.commands import Waive
from floor.batch.handover.commands import CountSubjectPieces, OfferHandover
from floor.batch.lifecycle.commands import FormLoad, SetPiecesAside
from floor.batch.load import Load
from floor.batch.moving.choose import choose_pieces, list_sources
from floor.batch.moving.commands import MovePieces
from floor.batch.search.history_filter import Filter
from floor.batch.search.matching import find_matching_entries
from floor.batch.search.trace import trace
from floor.batch.walk.clocks import judge_clock
from floor.batch.walk.commands import BeginRun, Release
from floor.batch.walk.put_back import PutBack
from floor.checklist.model import Checklist
from floor.entry import format_wall
from tests.batch.factory import OWN_LOAD, Bench, conserved, edited, open_bench, part

CURE, RECOAT = (found[1] for name in ("cure", "recoat") if (found := part().clock(name)) is not None)


@cache
def engraved() -> Checklist:
    """The test part with a second operation on the mill, by the same zero."""
    axes = '[{ name = "X", low = "-1 mm", high = "1 mm" }, { name = "Z", low = "-0.1 mm", high = "0.1 mm" }]'
    engrave = f"""[[operations]]
op = 15
title = "Engrave"
station = "mill"
carrier = "pallet"
time = {{ cycle = "5 min" }}
steps = [{{ gate = "probed", offset = "G54", axes = {axes} }}]
reasons = [{{ code = "slip", text = "Slipped" }}, {{ code = "faint", text = "Faint", to = "hold" }}]

[[operations]]
op = 20
"""
    return edited(("[[operations]]\nop = 20\n", engrave))


@pytest.fixture
def bench() -> Bench:
    return open_bench(start=12)


def formed(bench: Bench, command: FormLoad) -> Load:
    load = bench.state.loads[bench.say(command)[0].body["load"]]
    conserved(bench.state)
    return load


# --- forming a load --------------------------------------------------------------------------------------------------


def test_a_load_is_formed_of_the_pieces_in_the_places_and_on_the_carrier_that_were_chosen(bench: Bench) -> None:
    load = formed(bench, FormLoad(10, carrier_number=3, pieces=(5, 2), places=("B2", "A1")))

    assert (bench.state.format_carrier(load), load.slots) == ("Pallet 3", (2, None, None, 5))
    assert 1 in bench.state.waiting(10)
    assert load.placed


def test_without_a_choice_the_longest_waiting_go_in_their_order(bench: Bench) -> None:
    assert formed(bench, FormLoad(10)).slots == (1, 2, 3, 4)
    assert formed(bench, FormLoad(10, count=2)).slots == (5, 6, None, None)
    third = formed(bench, FormLoad(10, places=("B1", "A2")))
    assert (third.slots, third.placed) == ((None, 8, 7, None), False)


@pytest.mark.parametrize(
    ("command", "wrong", "field"),
    [
        (FormLoad(10, pieces=(1, 99)), "not among the pieces that wait for op 10: 99", "which"),
        (FormLoad(10, pieces=(1, 1)), "a piece is named twice", "which"),
        (FormLoad(10, pieces=(1, 2, 3, 4, 5)), "5 pieces: 12 wait for op 10, Pallet 1 holds 4", "count"),
        (FormLoad(10, count=0), "0 pieces: 12 wait for op 10, Pallet 1 holds 4", "count"),
        (FormLoad(10, pieces=(1, 2, 3), count=2), "3 pieces chosen, 2 to be loaded", "count"),
        (FormLoad(10, pieces=(1, 2), count=3), "2 pieces chosen, 3 to be loaded", "count"),
        (FormLoad(10, pieces=(1, 2), places=("A1",)), "1 place for 2 pieces", "places"),
        (FormLoad(10, pieces=(1, 2), places=("A1", "A1")), "a place is named twice", "places"),
        (FormLoad(10, pieces=(1,), places=("C7",)), "not free on this Pallet: C7", "places"),
        (FormLoad(10, carrier_number=9), "Pallet 9 is not free", "carrier"),
    ],
)
def test_what_cannot_be_loaded_so_is_refused_at_its_field(
    bench: Bench, command: FormLoad, wrong: str, field: str
) -> None:
    refused = bench.refused(command)

    assert (refused.wrong, refused.field) == (wrong, field)


def test_places_on_a_carrier_without_any_are_refused(bench: Bench) -> None:
    for load in (bench.form(10), bench.form(10)):
        bench.through(load, 10, 20, 30)
    tray = bench.form(40)
    bench.through(tray, 40)

    assert bench.refused(FormLoad(50, places=("A1",))).wrong == "a Tote has no places"


def test_a_place_that_somebody_named_does_not_rest_on_the_order_of_loading(bench: Bench) -> None:
    """REC-09: what is known of a piece is not said to be assumed."""
    load = bench.form(10)
    bench.through(load, 10, 20, 30)
    bench.say(FormLoad(40, pieces=(4, 3), places=("A1", "A2")))
    bench.say(FormLoad(40))

    assert {stay.by_order for stay in trace(bench.state, 4).stays} == {False}
    assert {stay.by_order for stay in trace(bench.state, 1).stays} == {True}


# --- naming pieces ---------------------------------------------------------------------------------------------------


def test_pieces_are_named_by_number_or_by_the_place_they_are_in(bench: Bench) -> None:
    load = formed(bench, FormLoad(10, pieces=(5, 6, 7), places=("A1", "B1", "B2")))
    there = bench.state.present(load)

    assert choose_pieces(bench.state, "b1, A1", there) == (6, 5)
    assert choose_pieces(bench.state, "7 5-6", there) == (7, 5, 6)
    assert choose_pieces(bench.state, "b1-b2 a1", there) == (6, 7, 5)
    assert choose_pieces(bench.state, f"{load.number}/B1-2", there) == (6, 7)
    assert choose_pieces(bench.state, " ", there) == ()


def test_loose_pieces_are_named_by_the_places_they_were_in(bench: Bench) -> None:
    for load in (bench.form(10), bench.form(10)):
        bench.through(load, 10, 20, 30)
    loose = bench.state.waiting(40)

    assert list_sources(bench.state, loose) == {1: [1, 2, 3, 4], 2: [5, 6, 7, 8]}
    assert choose_pieces(bench.state, "2/a2 1/B2", loose) == (6, 4)
    with pytest.raises(Refused, match="A2 was a place of several loads. Enter 1/A2 or 2/A2."):
        choose_pieces(bench.state, "A2", loose)
    assert list_sources(bench.state, bench.state.waiting(10)) == {0: [9, 10, 11, 12]}


def test_each_load_is_read_once_however_many_pieces_wait(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """At 5,000 pieces on 1,250 loads a look at each load for each piece took six seconds."""
    for load in (bench.form(10), bench.form(10)):
        bench.through(load, 10, 20, 30)
    read: list[int] = []

    def pieces(load: Load) -> tuple[int, ...]:
        read.append(load.number)
        return tuple(piece for piece in load.slots if piece is not None)

    monkeypatch.setattr(Load, "pieces", property(pieces))
    assert list_sources(bench.state, bench.state.waiting(40)) == {1: [1, 2, 3, 4], 2: [5, 6, 7, 8]}
    assert read == [1, 2]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("A2", "No piece here is A2. Choose from A1 B1 B2."),
        ("A1 A1", "A piece is named twice. Name each piece once."),
        ("4-6", "Not among the pieces that are there: 4. Choose from 5-7."),
        ("A1-A2", "No piece here is A2. Choose from A1 B1 B2."),
        ("B2-B1", "No piece here is B2-B1. Choose from A1 B1 B2."),
        ("A1-B2", "No piece here is A1-B2. Choose from A1 B1 B2."),
        ("7-5", "7-5 counts down. Enter 5-7."),
    ],
)
def test_a_piece_that_is_not_there_is_refused(bench: Bench, typed: str, said: str) -> None:
    load = formed(bench, FormLoad(10, pieces=(5, 6, 7), places=("A1", "B1", "B2")))

    with pytest.raises(Refused) as refusal:
        choose_pieces(bench.state, typed, bench.state.present(load), "which")
    assert (str(refusal.value), refusal.value.field) == (said, "which")


def test_pieces_that_were_in_no_place_are_named_by_number(bench: Bench) -> None:
    with pytest.raises(Refused, match="No piece here is A2. Choose from piece 1-12."):
        choose_pieces(bench.state, "A2", bench.state.waiting(10))


# --- moving pieces ---------------------------------------------------------------------------------------------------


def moved(bench: Bench, command: MovePieces, by: str = "AA") -> Load | None:
    """The load that the pieces are on then; None if they wait loose."""
    number = bench.say(command, by)[0].body.get("load", 0)
    conserved(bench.state)
    return bench.state.loads.get(number)


def ride(bench: Bench, number: int) -> tuple[int, ...]:
    return bench.state.present(bench.state.loads[number])


@pytest.fixture
def milled() -> Bench:
    """Two pallets of four, both through the mill and waiting to be coated."""
    bench = open_bench(start=12)
    for load in (bench.form(10), bench.form(10)):
        bench.through(load, 10)
    return bench


def test_a_load_is_split_and_each_half_goes_its_way(milled: Bench) -> None:
    half = moved(milled, MovePieces(1, (1, 4), 3))

    assert half is not None
    assert (milled.state.format_carrier(half), half.slots) == ("Pallet 3", (1, 4, None, None))
    assert (half.next_op, ride(milled, 1)) == (20, (2, 3))
    milled.through(half.number, 20)
    milled.through(1, 20)
    assert {milled.state.loads[number].at for number in (1, half.number)} == {30}


def test_a_loss_keeps_the_place_it_was_moved_to_once_the_move_is_struck_out(milled: Bench) -> None:
    move = milled.say(MovePieces(1, (1, 4), 3))[0]
    milled.say(SetPiecesAside("scrap", "dropped", load=3, positions=("A2",), off=True))
    milled.say(StrikeOut(move.seq, "they were never moved"))

    assert [(loss.found, loss.position) for loss in count_losses(milled.state)] == [(20, "A2")]


def test_part_of_a_load_waits_loose(milled: Bench) -> None:
    assert moved(milled, MovePieces(1, (1, 4))) is None

    assert milled.state.waiting(20) == [1, 4]
    assert milled.state.loads[milled.form(20)].slots == (1, 4, None, None)


def test_the_last_pieces_taken_off_free_the_carrier(milled: Bench) -> None:
    moved(milled, MovePieces(1))

    assert milled.state.loads[1].dissolved is not None
    assert milled.state.waiting(20) == [1, 2, 3, 4]


def test_a_whole_load_changes_its_pallet(milled: Bench) -> None:
    load = moved(milled, MovePieces(1, (), 3))

    assert load is not None
    assert (load.slots, milled.state.loads[1].dissolved is not None) == ((1, 2, 3, 4), True)
    assert milled.state.format_carrier(load) == "Pallet 3"


def test_a_whole_load_goes_to_the_places_that_were_named(milled: Bench) -> None:
    load = moved(milled, MovePieces(1, (), 3, ("B2", "B1", "A2", "A1")))

    assert load is not None
    assert (load.slots, load.placed) == ((4, 3, 2, 1), True)


def test_two_half_loads_become_one(milled: Bench) -> None:
    moved(milled, MovePieces(1, (1, 2)))
    moved(milled, MovePieces(2, (5, 8)))
    load = moved(milled, MovePieces(2, (6, 7), 1, ("A2", "A1")))

    assert load is not None
    assert (load.slots, milled.state.format_carrier(load)) == ((7, 6, 3, 4), "Pallet 1")
    assert all(milled.state.loads[number].dissolved is not None for number in (1, 2))
    assert load.made_of == {1, 2}
    assert milled.state.format_slot(milled.state.loads[2], 6) == "A2", "what is on record of the earlier load stands"
    milled.through(load.number, 20)


def test_loose_pieces_fill_up_a_load(milled: Bench) -> None:
    moved(milled, MovePieces(1, (1, 2)))
    load = moved(milled, MovePieces(None, (2,), 1, op=20))

    assert load is not None
    assert (load.slots, milled.state.waiting(20)) == ((2, None, 3, 4), [1])
    assert not load.placed


@pytest.mark.parametrize(("named", "placed"), [((), False), ((1, 2), True)])
def test_of_loose_pieces_that_nobody_named_no_place_is_certain(
    milled: Bench, named: tuple[int, ...], placed: bool
) -> None:
    """REC-09: which of them went to which place is assumed."""
    moved(milled, MovePieces(1, (1, 2)))
    load = moved(milled, MovePieces(None, named, 1, ("A1", "A2"), op=20))

    assert load is not None
    assert (load.slots, load.placed) == ((1, 2, 3, 4), placed)


def test_pieces_change_places_on_their_pallet(milled: Bench) -> None:
    load = moved(milled, MovePieces(1, (1, 4), 1, ("B2", "A1")))

    assert load is not None
    assert load.slots == (4, 2, 3, 1)
    stays = trace(milled.state, 4).stays
    assert [(stay.carrier, stay.position, stay.by_order) for stay in stays] == [("Pallet 1", "B2", False)]


def test_lots_tools_and_waivers_go_with_each_piece() -> None:
    """REC-09, HND-11: the trace of a moved piece is its own, and so is what was waived for it."""
    bench = open_bench(start=8)
    one, two = bench.form(10), bench.form(10)
    bench.until(one, "probed 1")
    bench.say(Waive(bench.run_of(one).number, "probed 1", "set by indicator"), by="LL")
    bench.hand().work(one)
    bench.through(two, 10)
    moved(bench, MovePieces(one, (1, 2)))
    moved(bench, MovePieces(two, (5, 6)))
    load = moved(bench, MovePieces(one, (3,), 2))

    assert load is not None
    assert [waiver.reason for waiver in bench.state.list_open_waivers(load)] == ["set by indicator"]
    assert [stay.lots for stay in trace(bench.state, 3).stays] == [{"bar stock": "10-01A"}]
    assert [len(stay.waivers) for piece in (3, 7) for stay in trace(bench.state, piece).stays] == [1, 0]
    assert bench.state.list_open_waivers(bench.state.loads[bench.form(20)]), "loose pieces keep theirs"


def test_what_comes_out_of_a_heap_may_be_any_piece_of_it() -> None:
    """REC-09: no certainty is made up where nobody can tell the pieces apart."""
    bench = open_bench(start=8)
    for load in (bench.form(10), bench.form(10)):
        bench.through(load, 10, 20, 30)
    bench.through(bench.form(40), 40)
    bench.through(bench.form(40), 40)
    tote = bench.form(50)
    before = trace(bench.state, 1)
    moved(bench, MovePieces(tote, (1, 2), 2))
    after = trace(bench.state, 1)

    assert before.stays[0].candidates == after.stays[0].candidates
    assert before.stays[0].candidates > 1
    assert len(before.stays) == len(after.stays)


def test_a_cure_follows_each_piece_and_a_joined_load_waits_for_the_last(milled: Bench) -> None:
    """CBP-29: a dwell is never shortened by what the pieces ride on."""
    milled.through(1, 20)
    first = milled.state.piece_clocks["cure"][1][0]
    moved(milled, MovePieces(1, (1, 2)))
    assert judge_clock(milled.state, CURE, (1, 2), milled.clock()).opens == first + timedelta(hours=12)
    milled.clock.forward(3 * 3600)
    milled.through(2, 20)
    last = milled.state.piece_clocks["cure"][5][0]
    moved(milled, MovePieces(2, (7, 8)))
    load = moved(milled, MovePieces(2, (5, 6), 1))

    assert load is not None
    on = milled.state.present(load)
    assert judge_clock(milled.state, CURE, on, milled.clock()).opens == last + timedelta(hours=12)
    assert judge_clock(milled.state, RECOAT, on, milled.clock()).opens == last + timedelta(hours=48)


def test_what_was_probed_of_a_pallet_is_probed_again_once_pieces_were_moved_on_it() -> None:
    """CBP-31: a gate lapses when the work was fixed otherwise."""
    bench = open_bench(engraved, start=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.begin(load)
    assert bench.line(load, "probed 1").is_satisfied, "it stands on the mill as it was probed"
    bench.say(PutBack(bench.run_of(load).number))

    turned = moved(bench, MovePieces(load, (1, 2), 1, ("A2", "A1")))
    assert turned is not None
    bench.begin(turned.number)

    line = bench.line(turned.number, "probed 1")
    assert line.verdict is not None
    assert line.verdict.why == "must be repeated, void since 07:26: pieces were moved on the carrier"


def test_what_is_left_of_a_split_load_is_probed_again_too() -> None:
    bench = open_bench(engraved, start=4)
    load = bench.form(10)
    bench.through(load, 10)
    other = moved(bench, MovePieces(load, (1, 2), 2))
    assert other is not None

    for number in (load, other.number):
        bench.begin(number)
        assert not bench.line(number, "probed 1").is_satisfied
        bench.say(PutBack(bench.run_of(number).number))


def test_held_and_scrapped_pieces_stay_where_they_sit(milled: Bench) -> None:
    milled.say(SetPiecesAside("hold", "odd color", load=1, positions=("A1",)))
    milled.say(SetPiecesAside("scrap", "dropped", load=1, positions=("A2",)))
    refused = milled.refused(MovePieces(1, (3,), 1, ("A1",)))
    assert refused.wrong == "not free on this Pallet: A1"
    moved(milled, MovePieces(1, (4,)))
    turned = moved(milled, MovePieces(1, (3,), 1, ("B2",)))

    assert turned is not None
    assert turned.slots == (1, 2, None, 3)
    assert (milled.state.sitting(turned, "hold"), milled.state.sitting(turned, "scrap")) == ((1,), (2,))
    milled.say(Dispose((1,), "use as is", "measured again, good"), "LL")
    assert ride(milled, turned.number) == (1, 3)


def test_a_piece_held_at_its_count_is_not_done_a_second_time_on_the_load_made_of_its_own() -> None:
    bench = open_bench(engraved, start=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "count")
    bench.say(CountRun(bench.run_of(load).number, 3, (MarkedPieces("faint", ("A1",), 1),)))
    bench.say(Release(bench.run_of(load).number))
    bench.say(MovePieces(load, (4,)))
    turned = moved(bench, MovePieces(load, (2, 3), 1, ("B1", "B2")))
    assert turned is not None
    bench.say(Dispose((1,), "use as is", "it can be read"), "LL")

    assert (turned.at, turned.detours, ride(bench, turned.number)) == (20, [], (1, 2, 3))


@pytest.mark.parametrize(
    ("command", "wrong"),
    [
        (MovePieces(1, (5,), 3), "not among the pieces that are on load 1: 5"),
        (MovePieces(1, (1, 1), 3), "a piece is named twice"),
        (MovePieces(9, (1,), 3), "there is no load 9 in batch B0001"),
        (MovePieces(1, (1,), 7), "there is no such Pallet"),
        (MovePieces(1, (1,), 2), "Pallet: room for 0 more pieces, not 1"),
        (MovePieces(1, (1,), 1), "they are on this carrier"),
        (MovePieces(1, (1,), 3, ("C1",)), "not free on this Pallet: C1"),
        (MovePieces(None, (9,), op=10), "they wait loose already"),
        (MovePieces(None, (), 3, op=40), "no piece is there to be moved"),
        (MovePieces(None, (9,), 1, op=10), "Pallet 1 (load 1) goes to op 20, these go to op 10"),
    ],
)
def test_what_cannot_be_moved_is_refused(milled: Bench, command: MovePieces, wrong: str) -> None:
    refused = milled.refused(command)

    assert refused.wrong == wrong
    assert refused.remedy


def test_a_load_at_work_is_not_changed(milled: Bench) -> None:
    milled.begin(1)
    refused = milled.refused(MovePieces(1, (1,), 3))
    assert (refused.wrong, refused.remedy) == (
        "Pallet 1 (load 1) is under way at op 20",
        "put it back first (u on its walk)",
    )
    moved(milled, MovePieces(2, (5,)))
    assert milled.refused(MovePieces(None, (5,), 1, op=20)).why == "not now"
    milled.until(1, "count")
    milled.say(CountRun(milled.run_of(1).number, 4))
    assert milled.refused(MovePieces(1, (1,), 3)).remedy == "count and release it first"


def test_a_load_whose_count_is_in_dispute_is_not_changed(milled: Bench) -> None:
    milled.say(OfferHandover("half done"))
    for _ in range(2):
        milled.say(CountSubjectPieces("load 1", 3), "BB")

    assert milled.refused(MovePieces(1, (1,), 3)).wrong == "the count of Pallet 1 (load 1) is in dispute"


def test_pieces_that_go_back_by_themselves_keep_apart(milled: Bench) -> None:
    milled.through(1, 20)
    milled.until(1, "count")
    milled.say(CountRun(milled.run_of(1).number, 3, (MarkedPieces("bare", ("A1",), 1),)))
    milled.say(Release(milled.run_of(1).number))
    assert milled.state.loads[1].detours

    assert milled.refused(MovePieces(1, (1,))).wrong == "1 piece of Pallet 1 (load 1) in rework on this carrier"
    half = moved(milled, MovePieces(1, (1, 2), 3))
    assert half is not None
    assert [(one.rework, one.pieces) for one in half.detours] == [("touch up", {1})]
    assert (half.at, milled.state.loads[1].dissolved is not None) == (20, True), "the others have finished their leg"
    assert milled.state.waiting(40) == [3, 4]


def test_a_load_that_waits_for_some_of_its_pieces_is_joined_by_none_and_joins_none(milled: Bench) -> None:
    """CBP-31: else the others would go back with them, or they would go on unmended."""
    milled.until(1, "count")
    milled.say(CountRun(milled.run_of(1).number, 3, (MarkedPieces("thin", ("A1",), 1),)))
    milled.say(Release(milled.run_of(1).number))
    milled.through(2, 20)
    assert {milled.state.loads[number].next_op for number in (1, 2)} == {30}
    milled.say(MovePieces(1, (2,)))
    milled.say(MovePieces(2, (5,)))

    for command in (MovePieces(1, (3,), 2), MovePieces(2, (6,), 1), MovePieces(None, (5,), 1, op=30)):
        refused = milled.refused(command)
        assert (refused.wrong, refused.field) == ("some pieces of Pallet 1 (load 1) go back by themselves", "carrier")


def test_pieces_in_rework_join_no_load_that_is_not() -> None:
    bench = open_bench(lambda: edited(OWN_LOAD), start=8)
    for load in (bench.form(10), bench.form(10)):
        bench.through(load, 10)
    bench.until(1, "count")
    bench.say(CountRun(bench.run_of(1).number, 2, (MarkedPieces("thin", ("A1", "A2"), 2),)))
    bench.say(Release(bench.run_of(1).number))
    mended = formed(bench, FormLoad(20, rework="touch up", pieces=(1,)))
    bench.say(MovePieces(2, (5,)))
    assert (mended.next_op, bench.state.loads[2].next_op) == (20, 20)

    loose = MovePieces(None, (2,), 2, op=20, rework="touch up")
    for command in (MovePieces(mended.number, (1,), 2), MovePieces(2, (6,), mended.carrier_number), loose):
        refused = bench.refused(command)
        assert "goes another way after op 20, because of a rework" in refused.wrong
        assert refused.field == "carrier"


def test_a_record_in_which_a_moved_piece_was_elsewhere_is_refused(milled: Bench) -> None:
    milled.say(MovePieces(1, (1,)))
    *before, moved_off = milled.state.entries
    wrong = replace(moved_off, body=moved_off.body | {"pieces": [5]})

    with pytest.raises(Inapplicable, match="piece 5 is elsewhere"):
        fold([*before, wrong], checklist=milled.state.checklist)


def test_a_move_is_struck_out_until_later_work_rests_on_it(milled: Bench) -> None:
    """CBP-52: a wrong entry is taken back, on record."""
    moved(milled, MovePieces(1, (1, 2), 3))
    seq = milled.state.seq
    milled.say(StrikeOut(seq, "it was Pallet 2"))
    conserved(milled.state)
    assert (ride(milled, 1), list(milled.state.loads)) == ((1, 2, 3, 4), [1, 2])

    half = moved(milled, MovePieces(1, (1, 2), 3))
    assert half is not None
    seq = milled.state.seq
    milled.begin(half.number)
    refused = milled.refused(StrikeOut(seq, "it was Pallet 2"))
    assert refused.why == "later entries"
    assert refused.remedy == f"strike out entry {milled.state.seq} first"


@pytest.mark.parametrize(
    ("command", "said"),
    [
        (MovePieces(1, (1, 4), 3), "A1, B2 of load 1: moved onto Pallet 3 A1, A2, load 3 from there on"),
        (MovePieces(1, (1,)), "A1 of load 1: taken off, waiting loose for op 20"),
        (MovePieces(1, (1, 4), 1, ("B2", "A1")), "A1, B2 of load 1: moved to B2, A1, load 3 from there on"),
        (MovePieces(None, (9,), 3, op=10), "1 loose piece: moved onto Pallet 3 A1, load 3 from there on"),
    ],
)
def test_a_move_in_words(milled: Bench, command: MovePieces, said: str) -> None:
    milled.say(command)

    assert describe(milled.state, milled.state.entries[-1]) == said


def test_a_move_is_found_by_each_load_it_is_about(milled: Bench) -> None:
    moved(milled, MovePieces(1, (1, 2)))
    moved(milled, MovePieces(2, (5, 6)))
    moved(milled, MovePieces(2, (7,), 1))

    for load in (1, 2, 3):
        assert milled.state.entries[-1] in find_matching_entries(milled.state, Filter(load=load))


# --- from paper ------------------------------------------------------------------------------------------------------


def test_a_move_is_entered_from_paper_with_its_own_time(milled: Bench) -> None:
    """REC-12: when it was done and when it was entered both stand on record."""
    then = milled.clock().at
    milled.clock.forward(3600)
    milled.say(TranscribeAct(MovePieces(1, (1, 2), 3), then))
    conserved(milled.state)

    half = milled.state.loads[3]
    assert (half.formed, milled.state.entries[-1].body["acted"]) == (then, format_wall(then))
    refused = milled.refused(TranscribeAct(MovePieces(1, (3,), 3), then - timedelta(minutes=5)))
    assert refused.wrong.endswith("is before what was done last here, 07:50")
    assert milled.refused(TranscribeAct(BeginRun(3), then - timedelta(minutes=5))).why == "input"


def test_no_piece_is_moved_from_paper_before_it_was_there(milled: Bench) -> None:
    milled.clock.forward(3600)
    early = milled.clock().at
    milled.clock.forward(3600)
    milled.say(MovePieces(1, (1, 2)))
    milled.clock.forward(3600)

    refused = milled.refused(TranscribeAct(MovePieces(None, (1,), 3, op=20), early))
    assert refused.wrong.startswith("no piece waited for op 20 at ")
    assert milled.refused(TranscribeAct(MovePieces(None, (1,), 2, op=20), early)).why == "count"
