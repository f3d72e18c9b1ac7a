"""Held and scrapped pieces on a carrier that holds them fast: they stay in place, and go on from there."""

from __future__ import annotations

import pytest

from floor.batch.counting.commands import CountRun, Dispose, HoldBack, MarkedPieces, TakeOff
from floor.batch.describe import describe
from floor.batch.fold import fold
from floor.batch.handover.commands import AcceptHandover, CountSubjectPieces, OfferHandover, ReadHandoverPage
from floor.batch.handover.page import build_handover_page, list_count_subjects
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.load import Load
from floor.batch.walk.commands import BeginRun
from floor.batch.walk.put_back import PutBack
from floor.batch.worklist.tasks import list_due_tasks
from floor.checklist.equipment import Carrier
from tests.batch.factory import Bench, conserved, open_bench, went_through


@pytest.fixture
def bench() -> Bench:
    return open_bench(order=4, start=4)


def load_of(bench: Bench, number: int) -> Load:
    return bench.state.loads[number]


def use_as_is(bench: Bench, *pieces: int) -> None:
    bench.say(Dispose(pieces, "use as is", "measured again"), by="LL")
    conserved(bench.state)


def to_the_end(bench: Bench) -> None:
    """Work everything to the end: every released piece has passed every operation."""
    while bench.state.list_live_loads() or bench.state.list_waiting_pools():
        for op, rework, _ in bench.state.list_waiting_pools():
            bench.form(op, rework=rework)
        for load in bench.state.list_live_loads():
            bench.through(load.number)
    for piece, place in bench.state.places.items():
        if place.where == "finished":
            went_through(bench.state, piece)


@pytest.mark.parametrize(("kind", "said", "fast"), [
    ("pallet", None, True), ("vise", None, True), ("tray", None, False), ("tote", None, False), ("rack", None, False),
    ("pallet", False, False), ("tray", True, True),
])  # fmt: skip
def test_what_holds_pieces_fast(kind: str, said: bool | None, fast: bool) -> None:
    assert Carrier(id="c", name="C", kind=kind, capacity=4, count=1, fast=said).holds_fast is fast  # type: ignore[arg-type]


def test_scrap_stays_on_its_pallet_until_that_is_emptied_and_is_not_counted_with_the_good(bench: Bench) -> None:
    load = bench.form(10)
    bench.through(load, 10, marks=(MarkedPieces("deep", ("A2",)),))

    assert bench.state.sitting(load_of(bench, load)) == (2,)
    assert bench.state.format_sitting_pieces(load_of(bench, load)) == "1 scrap (A2) still on the carrier"
    assert bench.state.present(load_of(bench, load)) == (1, 3, 4)
    (subject,) = list_count_subjects(bench.state)
    assert (subject.title, subject.expected) == ("Pallet 1 (load 1) with what is set aside", 4)
    places = next(
        section for section in build_handover_page(bench.state, bench.clock()) if section.title == "Where everything is"
    )
    assert "3 pieces, 1 scrap (A2) still on the carrier" in places.lines[0].text

    bench.until(load, "counted 1")
    bench.prove(load, "counted 1", pieces=4)
    assert bench.line(load, "counted 1").verdict.why == (  # type: ignore[union-attr]
        "counted 4, the record says 3, and 1 scrap (A2) still on the carrier"
    )
    bench.until(load, "count")
    line = bench.current(load)
    assert (line.title, line.evidence) == ("Count pieces (3 in)", "1 scrap (A2) still on the carrier")
    bench.through(load, 20, 30)
    assert not any(place.sits for place in bench.state.places.values()), "the pallet is empty"
    conserved(bench.state)


def test_on_a_tray_what_is_scrapped_is_taken_off(bench: Bench) -> None:
    bench.through(bench.form(10), 10, 20, 30)
    tray = bench.form(40)
    bench.say(SetPiecesAside("scrap", "bent", load=tray, positions=("A1",)))
    assert bench.state.sitting(load_of(bench, tray)) == ()


def test_on_a_tray_that_waits_a_held_piece_is_put_back(bench: Bench) -> None:
    bench.through(bench.form(10), 10, 20, 30)
    tray = bench.form(40)
    bench.say(SetPiecesAside("hold", "bent?", load=tray, positions=("A1",)))
    assert bench.state.present(load_of(bench, tray)) == (2, 3, 4)
    use_as_is(bench, 1)
    assert bench.state.present(load_of(bench, tray)) == (1, 2, 3, 4)


def test_a_piece_released_while_its_tray_is_under_way_is_loaded_again_and_counted_at_every_operation(
    bench: Bench,
) -> None:
    """The run began without it: back on the tray it would ride past the operation uncounted."""
    bench.through(bench.form(10), 10, 20, 30)
    tray = bench.form(40)
    bench.say(SetPiecesAside("hold", "bent?", load=tray, positions=("A1",)))
    bench.clock.forward(48 * 3600)
    bench.begin(tray)
    use_as_is(bench, 1)
    assert bench.state.present(load_of(bench, tray)) == bench.run_of(tray).pieces == (2, 3, 4)
    assert bench.state.waiting(40) == [1]

    bench.through(tray, 40)
    bench.through(bench.form(40), 40)
    bench.clock.forward(3600)
    bench.through(bench.form(50), 50)
    for piece in range(1, 5):
        went_through(bench.state, piece)


def test_several_are_taken_off_at_once_each_named_once(bench: Bench) -> None:
    load = bench.form(10)
    bench.say(SetPiecesAside("hold", "scratch?", load=load, positions=("A1", "A2")))
    for pieces in ((), (1, 1), (1, 3), (1, 99)):
        assert bench.refused(TakeOff(pieces)).why == "unknown"
    bench.say(TakeOff((1, 2)))
    assert not bench.state.sitting(load_of(bench, load))


def test_in_whatever_order_they_are_named_a_held_one_and_scrap_come_off_at_once(bench: Bench) -> None:
    """Without the held one nothing but scrap was left, and the load had ended before the others were off."""
    load = bench.form(10)
    bench.say(SetPiecesAside("hold", "scratch?", load=load, positions=("A1",)))
    bench.say(SetPiecesAside("scrap", "dropped", load=load, positions=("A2", "B1", "B2")))
    bench.say(TakeOff((1, 2)))
    assert not bench.state.sitting(load_of(bench, load))
    assert bench.state == fold(bench.state.entries)


def test_the_physical_count_agrees_with_where_held_pieces_lie(bench: Bench) -> None:
    """All four are on the pallet, one of them on hold: a count of four is right, before and after it is released."""
    load = bench.form(10)
    bench.through(load, 10)
    bench.say(SetPiecesAside("hold", "chip under it?", load=load, positions=("A1",)))
    bench.say(OfferHandover("as usual"))
    bench.say(CountSubjectPieces("load 1", 4), "BB")
    assert not bench.state.list_open_differences()

    use_as_is(bench, 1)
    assert [(one.key, one.expected) for one in list_count_subjects(bench.state)] == [("load 1", 4)]
    bench.say(CountSubjectPieces("load 1", 4), "BB")
    bench.say(ReadHandoverPage(), "BB")
    for line in build_handover_page(bench.state, bench.clock()):
        assert not any(one.safety for one in line.lines)
    bench.say(AcceptHandover(talked="face to face"), "BB")
    assert not bench.state.list_open_differences()


def test_a_piece_held_at_the_count_and_freed_before_the_release_goes_on_with_its_load(bench: Bench) -> None:
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.until(load, "count")
    bench.say(CountRun(bench.run_of(load).number, 3, (MarkedPieces("soft", ("B1",)),)))
    use_as_is(bench, 3)
    assert bench.state.present(load_of(bench, load)) == (1, 2, 3, 4)
    bench.through(load)
    assert bench.state.list_waiting_pools() == [(40, "", 4)]
    to_the_end(bench)


def test_a_piece_freed_in_the_run_in_which_it_was_set_aside_is_in_that_run_again(bench: Bench) -> None:
    """Set aside at the measurement after the cycle: it was cut with the others."""
    load = bench.form(10)
    bench.until(load, "measured 1")
    bench.say(SetPiecesAside("hold", "3.2 mm deep?", load=load, positions=("B2",)))
    assert bench.run_of(load).pieces == (1, 2, 3)
    bench.prove(load, "measured 1", value=[3.0, 3.0])
    use_as_is(bench, 4)
    assert bench.run_of(load).pieces == (1, 2, 3, 4)
    bench.through(load)
    assert load_of(bench, load).at == 20
    to_the_end(bench)


def test_a_piece_freed_before_the_cycle_is_started_is_cut_with_the_others(bench: Bench) -> None:
    load = bench.form(10)
    bench.say(SetPiecesAside("hold", "scratch?", load=load, positions=("A1",)))
    bench.until(load, "start")
    use_as_is(bench, 1)
    assert bench.run_of(load).pieces == (1, 2, 3, 4)


def test_a_piece_held_through_the_start_makes_up_for_the_cut_when_the_run_is_released(bench: Bench) -> None:
    load = bench.form(10)
    bench.begin(load)
    bench.say(SetPiecesAside("hold", "scratch?", load=load, positions=("A1",)))
    bench.until(load, "end")
    use_as_is(bench, 1)
    assert bench.run_of(load).pieces == (2, 3, 4), "it was not cut"
    bench.through(load)
    assert (load_of(bench, load).at, bench.state.find_next_pieces(load_of(bench, load))) == (10, (1,))
    bench.through(load, 10)
    assert (load_of(bench, load).at, len(bench.state.find_next_pieces(load_of(bench, load)))) == (20, 4)
    to_the_end(bench)


def test_a_piece_held_while_the_coat_was_brushed_on_is_coated_by_itself(bench: Bench) -> None:
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "coat")
    bench.say(SetPiecesAside("hold", "grease?", load=load, positions=("A1",)))
    bench.until(load, "count")
    use_as_is(bench, 1)
    assert bench.run_of(load).pieces == (2, 3, 4)
    bench.through(load)
    assert (load_of(bench, load).at, bench.state.find_next_pieces(load_of(bench, load))) == (20, (1,))
    to_the_end(bench)


def test_a_piece_whose_load_went_on_makes_up_for_all_it_missed(bench: Bench) -> None:
    load = bench.form(10)
    bench.say(SetPiecesAside("hold", "scratch?", load=load, positions=("A1",)))
    bench.through(load, 10, 20)
    use_as_is(bench, 1)
    here = load_of(bench, load)
    assert (here.at, here.next_op, bench.state.find_next_pieces(here)) == (10, 30, (1,))
    bench.through(load, 10, 20)
    assert (here.at, len(bench.state.find_next_pieces(here))) == (30, 4)
    to_the_end(bench)


def test_a_piece_taken_off_waits_loose(bench: Bench) -> None:
    load = bench.form(10)
    bench.say(SetPiecesAside("hold", "scratch?", load=load, positions=("A1",)))
    entry = bench.say(TakeOff((1,)))[0]
    assert describe(bench.state, entry) == "taken off the carrier: A1 of Pallet 1 (load 1)"
    assert [(one.key, one.expected) for one in list_count_subjects(bench.state)] == [("load 1", 3), ("hold", 1)]
    bench.through(load, 10)
    use_as_is(bench, 1)
    assert bench.state.places[1].where == "waiting"
    assert bench.refused(TakeOff((1,))).why == "unknown"


def test_a_pallet_full_of_held_pieces_is_not_free_and_waits_for_the_lead(bench: Bench) -> None:
    load = bench.form(10)
    bench.through(load, 10)
    bench.say(HoldBack(1, "wrong stock?"), "LL")
    here = load_of(bench, load)
    assert here.dissolved is None
    assert not bench.state.present(here)
    assert bench.refused(BeginRun(load)).wrong == "every piece of load 1 is on hold"
    due = next(one for one in list_due_tasks([bench.state], bench.clock()) if one.load == load)
    assert (due.urgency, due.what, due.go) == ("blocked", "Every piece is on hold", "hold")

    bench.say(Dispose((1, 2), "use as is", "the right stock"), by="LL")
    assert (bench.state.present(here), here.at) == ((1, 2), 20)
    bench.say(SetPiecesAside("scrap", "cracked", load=load, count=2))
    assert here.dissolved is None, "two on hold still sit there"
    bench.say(Dispose((3, 4), "scrap", "wrong stock"), by="LL")
    assert here.dissolved is not None
    assert not bench.state.sitting(here)
    conserved(bench.state)


def test_an_old_record_keeps_its_meaning(bench: Bench) -> None:
    """Entries that do not keep a piece on its carrier fold as before: it waits loose when its run went on."""
    load = bench.form(10)
    bench.begin(load)
    bench.say(SetPiecesAside("hold", "scratch?", load=load, positions=("A1",), off=True))
    assert "sits" not in bench.state.entries[-1].body
    use_as_is(bench, 1)
    assert bench.state.list_waiting_pools() == [(10, "", 1)]


def test_a_run_put_back_leaves_what_missed_something_before_it_to_make_up_for_that_alone(bench: Bench) -> None:
    """The run it waited for was put back: after what it missed, all pass that run together, none twice."""
    load = bench.form(10)
    bench.say(SetPiecesAside("hold", "scratch?", load=load, positions=("A1",)))
    bench.through(load, 10)
    run = bench.begin(load)
    use_as_is(bench, 1)
    bench.say(PutBack(run.number))
    here = load_of(bench, load)
    assert (here.at, bench.state.find_next_pieces(here)) == (10, (1,))
    bench.through(load, 10)
    assert (here.at, bench.state.find_next_pieces(here)) == (20, (1, 2, 3, 4))
    to_the_end(bench)


def test_a_run_left_without_a_piece_does_not_count_as_passed_for_the_one_that_waits_for_it(bench: Bench) -> None:
    load = bench.form(10)
    bench.begin(load)
    bench.say(SetPiecesAside("hold", "scratch?", load=load, positions=("A1",)))
    bench.until(load, "end")
    use_as_is(bench, 1)
    bench.until(load, "measured 1")
    bench.say(SetPiecesAside("hold", "all doubtful", load=load, positions=("A2", "B1", "B2")))
    here = load_of(bench, load)
    assert (here.run, here.at, bench.state.find_next_pieces(here)) == (None, 10, (1,))
    bench.through(load, 10)
    assert here.at == 20
    to_the_end(bench)


@pytest.mark.parametrize("how", ["by o", "when set aside"])
def test_a_piece_taken_off_its_carrier_waits_to_be_loaded_again(bench: Bench, how: str) -> None:
    """Clamped to nothing, it is not cut with the others only because the load has not gone on without it."""
    load = bench.form(10)
    bench.through(load, 10)
    bench.say(SetPiecesAside("hold", "scratch?", load=load, positions=("A1",), off=how == "when set aside"))
    if how == "by o":
        bench.say(TakeOff((1,)))

    use_as_is(bench, 1)

    assert bench.state.list_waiting_pools() == [(20, "", 1)]
    assert bench.state.present(load_of(bench, load)) == (2, 3, 4)
