"""An order filled while pieces are still in process: reported, decided on record, nothing lost, reversible."""

from __future__ import annotations

from contextlib import suppress
from functools import cache
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floor.batch.command import Command, Refused
from floor.batch.corrections.commands import StrikeOut
from floor.batch.counting.commands import CountRun, Dispose, HoldBack, MarkedPieces
from floor.batch.counting.decide_surplus import BringBackSurplus, LetSurplusGoOn, TakeOutSurplus, list_pieces_taken_out
from floor.batch.counting.surplus import (
    find_undecided_surplus,
    format_order_filled,
    format_surplus,
    list_pieces_out_of_work,
)
from floor.batch.describe import describe
from floor.batch.fold import fold
from floor.batch.gates.decide_out_of_limits import DecideBefore
from floor.batch.handover.commands import CountSubjectPieces, OfferHandover
from floor.batch.handover.page import build_handover_page, list_count_subjects
from floor.batch.lifecycle.commands import CloseBatch
from floor.batch.load import PiecePlace
from floor.batch.search.trace import trace
from floor.batch.worklist.due_task import DueTask
from floor.batch.worklist.tasks import list_due_tasks
from floor.entry import Entry, Moment
from tests.batch.factory import Bench, StepClock, conserved, decide_out, open_bench, part
from tests.batch.test_out_of_limits import measured


def pack(bench: Bench, load: int) -> None:
    """Bring a load that waits for its cut through to the end."""
    bench.clock.forward(12 * 3600)
    bench.through(load, 30)
    tray = bench.form(40)
    bench.clock.forward(48 * 3600)
    bench.through(tray, 40)
    bench.through(bench.form(50), 50)


@pytest.fixture
def bench() -> Bench:
    """Order of 4, filled by the first pallet; a second is coated and waits for its cut, and four pieces wait loose."""
    bench = open_bench(start=12, order=4)
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10, 20)
    pack(bench, first)
    bench.through(second, 10, 20)
    assert bench.where() == {"waiting": 4, "load": 4, "finished": 4}
    return bench


def dues(bench: Bench) -> list[DueTask]:
    return list_due_tasks([bench.state], bench.clock())


def test_that_the_order_is_filled_comes_first_and_nothing_asks_for_the_rest(bench: Bench) -> None:
    first, *rest = dues(bench)

    assert first.go == "surplus"
    assert first.what == "ORDER FILLED: 4 of 4 good; 8 pieces in process are not needed: decide on them"
    assert not [due for due in rest if due.go in ("begin", "form")]


def test_an_order_that_is_one_short_is_not_filled(bench: Bench) -> None:
    bench.say(HoldBack(1, "wrong drill"), "LL")

    assert format_order_filled(bench.state) == ""
    assert not [due for due in dues(bench) if due.go == "surplus"]
    assert "is not filled: 4 good pieces" in bench.refused(TakeOutSurplus("spare", "too many")).wrong
    bench.say(Dispose((1, 2, 3), "use as is", "the right drill"), "LL")
    assert "is not filled: 1 good piece still" in bench.refused(TakeOutSurplus("spare", "too many")).wrong
    assert bench.refused(LetSurplusGoOn("all of them")).why == "not now"


def test_what_runs_is_still_asked_for(bench: Bench) -> None:
    """A cycle does not stop because of an order: somebody takes the pieces out."""
    third = bench.form(10)
    bench.until(third, "end", wait=False)

    assert [due.go for due in dues(bench)] == ["surplus", "run"]


def test_all_are_kept_as_spares_and_the_batch_is_closed_with_its_surplus_named(bench: Bench) -> None:
    bench.say(TakeOutSurplus("spare", "for the next order"))

    conserved(bench.state)
    assert bench.where() == {"finished": 4, "spare": 8}
    assert not bench.state.list_live_loads(), "the pallet is free"
    assert [due.go for due in dues(bench)] == ["close"]
    assert format_surplus(bench.state) == "8 spares"
    assert describe(bench.state, bench.say(CloseBatch())[0]) == "closed with 4 finished, 8 spares"


def test_a_piece_decided_as_scrap_is_no_spare_and_is_scrapped_by_its_count(bench: Bench) -> None:
    load, seq = measured(bench, 3.0, 3.2)
    bench.say(decide_out(bench.state, seq, "deep", positions=("B2",)))
    bench.say(DecideBefore(seq, 0, "looked at each"), by="LL")
    bad = bench.state.loads[load].slots[3]
    assert bad is not None

    bench.say(TakeOutSurplus("spare", "for the next order", load=load))
    refused = bench.refused(TakeOutSurplus("spare", "for the next order", load=load))

    assert refused.wrong == "1 piece in a running cycle, decided on, or counted but not released"
    bench.through(load)
    assert bench.state.places[bad].where == "scrap"
    assert len(list_pieces_taken_out(bench.state, "spare", 10)) == 3
    conserved(bench.state)


def test_stopping_needs_a_lead_and_a_reason_and_is_not_scrap(bench: Bench) -> None:
    assert bench.refused(TakeOutSurplus("stopped", "nobody wants them")).why == "authority"
    assert bench.refused(TakeOutSurplus("stopped", ""), by="LL").why == "input"

    stopped = bench.say(TakeOutSurplus("stopped", "nobody wants them", op=10, count=3), "LL")[0]

    conserved(bench.state)
    assert bench.where() == {"waiting": 1, "load": 4, "finished": 4, "stopped": 3}
    assert describe(bench.state, stopped) == "order filled: pieces 10-12 waiting for op 10 stopped: nobody wants them"
    assert len(find_undecided_surplus(bench.state)) == 5


def test_those_of_one_load_leave_it_and_it_goes_on_with_the_rest(bench: Bench) -> None:
    bench.say(TakeOutSurplus("spare", "two are enough", load=2, count=2))

    seq = bench.state.seq
    assert [bench.state.places[piece] for piece in (7, 8)] == [
        PiecePlace("spare", 30, 2, "two are enough", "", seq)
    ] * 2
    assert bench.state.present(bench.state.loads[2]) == (5, 6)


def test_going_on_is_a_decision_with_its_reason_and_then_all_is_asked_for_again(bench: Bench) -> None:
    gone_on = bench.say(LetSurplusGoOn("the customer takes them"))[0]

    assert {due.go for due in dues(bench)} == {"begin", "form"}
    assert format_order_filled(bench.state) == "ORDER FILLED: 4 of 4 good; 8 pieces go on (AA: the customer takes them)"

    bench.say(StrikeOut(gone_on.seq, "he does not"))
    assert [due.go for due in dues(bench)] == ["surplus"]


def test_going_on_up_to_an_operation_asks_for_no_more_than_that(bench: Bench) -> None:
    """Off the pallet, to free it, and no farther."""
    bench.say(LetSurplusGoOn("to free the pallet", until=30))
    assert {(due.go, due.op) for due in dues(bench)} == {("form", 10), ("begin", 30)}

    bench.clock.forward(12 * 3600)
    bench.through(2, 30)

    first, *rest = dues(bench)
    assert first.what.startswith("ORDER FILLED: 4 of 4 good; 4 pieces in process are not needed")
    assert [(due.go, due.op) for due in rest] == [("form", 10)]
    assert bench.refused(LetSurplusGoOn("further", until=35)).why == "unknown"


def test_what_is_not_there_or_is_no_such_thing_is_not_taken_out(bench: Bench) -> None:
    assert bench.refused(TakeOutSurplus("scrap", "too many"), "LL").why == "input"  # type: ignore[arg-type]
    none = "no surplus piece is in process there"
    assert bench.refused(TakeOutSurplus("spare", "too many", op=50)).wrong.endswith(none)
    assert bench.refused(TakeOutSurplus("spare", "too many", load=1)).why == "unknown"
    assert bench.refused(TakeOutSurplus("spare", "too many", op=10, count=5)).why == "input"
    bench.say(TakeOutSurplus("spare", "too many"))
    assert format_order_filled(bench.state) == "ORDER FILLED: 4 of 4 good"


def test_a_cycle_that_runs_keeps_its_pieces(bench: Bench) -> None:
    third = bench.form(10)
    bench.until(third, "end", wait=False)

    assert bench.refused(TakeOutSurplus("spare", "too many", load=third)).why == "not now"
    bench.say(TakeOutSurplus("spare", "too many"))

    assert bench.where() == {"load": 4, "finished": 4, "spare": 4}
    assert bench.run_of(third).running


def test_what_is_counted_stays_until_it_is_released(bench: Bench) -> None:
    third = bench.form(10)
    bench.until(third, "count")
    bench.say(CountRun(bench.run_of(third).number, 4))

    assert bench.refused(TakeOutSurplus("spare", "too many", load=third)).why == "not now"


def test_spares_are_taken_back_onto_the_load_they_were_taken_from(bench: Bench) -> None:
    before = bench.state.places.copy()
    bench.say(TakeOutSurplus("spare", "too many", load=2, count=3))

    back = bench.say(BringBackSurplus(30, "two more are wanted", count=2))[0]

    conserved(bench.state)
    assert bench.where() == {"waiting": 4, "load": 3, "finished": 4, "spare": 1}
    assert describe(bench.state, back) == "pieces 6-7 back in process at op 30: two more are wanted"
    bench.say(BringBackSurplus(30, "all of them"))
    assert {piece: place.where for piece, place in bench.state.places.items()} == {
        piece: place.where for piece, place in before.items()
    }


def test_where_the_load_is_gone_they_wait_for_the_operation_they_had_come_to(bench: Bench) -> None:
    bench.say(TakeOutSurplus("spare", "too many"))
    bench.say(BringBackSurplus(30, "four more are wanted"))
    bench.say(LetSurplusGoOn("four more are wanted"))

    assert bench.state.list_waiting_pools() == [(30, "", 4)]
    pack(bench, bench.form(30))
    assert bench.state.total("finished") == 8


def test_taking_back_what_is_not_there_is_refused(bench: Bench) -> None:
    bench.say(TakeOutSurplus("stopped", "too many", op=10), "LL")

    assert bench.refused(BringBackSurplus(10, "wanted")).why == "count"
    assert bench.refused(BringBackSurplus(10, "wanted", "stopped")).why == "authority"
    assert bench.refused(BringBackSurplus(10, "", "stopped"), by="LL").why == "input"
    bench.say(BringBackSurplus(10, "wanted", "stopped"), "LL")
    assert bench.state.list_waiting_pools() == [(10, "", 4)]


def test_what_was_sent_to_rework_owes_it_when_it_comes_back() -> None:
    bench = open_bench(start=8, order=4)
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10, 20)
    pack(bench, first)
    bench.through(second, 10, 20)
    bench.clock.forward(12 * 3600)
    bench.through(second, 30, marks=(MarkedPieces("bare", ("A1",)), MarkedPieces("shallow", ("B2",))))
    owed = {piece: bench.state.owes(piece) for piece in bench.state.places}

    bench.say(TakeOutSurplus("spare", "too many"))
    assert {piece: bench.state.owes(piece) for piece in bench.state.places} == owed
    assert list_pieces_out_of_work(bench.state) == [
        ("spare", 10, "regroove", 1), ("spare", 20, "touch up", 1), ("spare", 40, "", 2),
    ]  # fmt: skip

    for _, op, rework, _ in list_pieces_out_of_work(bench.state):
        bench.say(BringBackSurplus(op, "wanted", rework=rework))
    conserved(bench.state)
    assert {piece: bench.state.owes(piece) for piece in bench.state.places} == owed


def on_a_detour() -> tuple[Bench, int]:
    """Filled; two pieces of a pallet go back to be coated again, the other two wait for them on it."""
    bench = open_bench(start=8, order=4)
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10, 20)
    pack(bench, first)
    bench.through(second, 10, 20)
    bench.clock.forward(12 * 3600)
    bench.through(second, 30, marks=(MarkedPieces("bare", ("A1", "B2")),))
    assert bench.state.find_next_pieces(bench.state.loads[second]) == (5, 8)
    return bench, second


def test_a_spare_taken_from_a_rework_on_its_pallet_is_one_of_those_again() -> None:
    bench, load = on_a_detour()
    bench.say(TakeOutSurplus("spare", "too many", load=load, count=1))
    assert bench.state.find_next_pieces(bench.state.loads[load]) == (5,)

    bench.say(BringBackSurplus(20, "wanted", rework="touch up"))

    conserved(bench.state)
    assert bench.state.find_next_pieces(bench.state.loads[load]) == (5, 8)


def test_a_spare_that_the_rework_went_on_without_waits_to_be_reworked() -> None:
    bench, load = on_a_detour()
    bench.say(TakeOutSurplus("spare", "too many", load=load, count=1))
    bench.say(LetSurplusGoOn("the customer takes them"))
    bench.through(load, 20)
    assert bench.state.loads[load].at == 30

    bench.say(BringBackSurplus(20, "wanted", rework="touch up"))

    conserved(bench.state)
    assert bench.state.list_waiting_pools() == [(20, "touch up", 1)]


def test_a_spare_can_be_held_back_for_what_it_went_through_and_decided_on(bench: Bench) -> None:
    bench.say(TakeOutSurplus("spare", "too many"))
    cut = next(run.number for run in bench.state.runs.values() if run.load == 2)

    bench.say(HoldBack(cut, "wrong drill"), "LL")
    assert bench.where() == {"finished": 4, "hold": 4, "spare": 4}
    bench.say(Dispose(tuple(bench.state.held()), "use as is", "measured again"), "LL")

    conserved(bench.state)
    assert bench.state.list_waiting_pools() == [(30, "", 4)]


def test_spares_are_counted_at_a_handover_without_their_figure_being_seen(bench: Bench) -> None:
    bench.say(TakeOutSurplus("spare", "too many", op=10))
    assert [(one.key, one.expected) for one in list_count_subjects(bench.state)][-1] == ("spare", 4)
    assert build_handover_page(bench.state, bench.clock())[0].title == "The order"

    bench.say(OfferHandover("soon"))
    hidden = frozenset(one.key for one in list_count_subjects(bench.state))
    sections = build_handover_page(bench.state, bench.clock(), hidden)
    assert sections[0].lines[0].text == "ORDER FILLED: 4 of 4 good; pieces in process are not needed: decide on them"
    assert "pieces kept as spares before op 10" in [line.text for section in sections for line in section.lines]
    assert dues(bench)[0].what == sections[0].lines[0].text
    bench.say(CountSubjectPieces("spare", 4), "BB")
    assert bench.state.handover is not None
    assert bench.state.handover.counted["spare"] == 4


def test_short_of_the_order_again_it_says_that_there_are_spares(bench: Bench) -> None:
    bench.say(TakeOutSurplus("spare", "too many"))
    bench.say(HoldBack(1, "wrong drill"), "LL")
    bench.say(Dispose(tuple(bench.state.held()), "scrap", "cracked"), "LL")

    assert dues(bench)[0].what == "4 pieces short of the order, and 8 spares are there: take back what is needed"


def test_a_trace_says_where_a_spare_stands(bench: Bench) -> None:
    bench.say(TakeOutSurplus("spare", "too many"))

    assert trace(bench.state, 5).place == "spare"


def command(chance: Random) -> Command:
    why = chance.choice(["too many", "wanted", ""])
    op = chance.choice([10, 20, 30, 40, 50, 35])
    rework = chance.choice(["", "", "touch up", "regroove"])
    count = chance.choice([None, 0, 1, 2, 9])
    return chance.choice(
        [
            TakeOutSurplus(chance.choice(["spare", "stopped", "pub"]), why),
            TakeOutSurplus("spare", why, load=chance.choice([1, 2, 3, 4, 5]), count=count),
            TakeOutSurplus("stopped", why, op=op, rework=rework, count=count),
            BringBackSurplus(op, why, chance.choice(["spare", "stopped"]), rework, count),
            LetSurplusGoOn(why, chance.choice([None, op])),
            HoldBack(chance.choice([3, 4, 5, 6, 7]), "doubtful"),
            StrikeOut(chance.choice([0, 1, 2, 3]), "entered wrong"),
        ]
    )


@settings(max_examples=60, deadline=None)
@given(chance=st.randoms(use_true_random=False), steps=st.integers(1, 12), at=st.sampled_from(["", "end", "count"]))
def test_whatever_is_decided_about_surplus_no_piece_is_lost(chance: Random, steps: int, at: str) -> None:
    """Taken out, brought back, held, struck out and worked on in any order."""
    bench = begin_again(at)
    for _ in range(steps):
        given_ = command(chance)
        if isinstance(given_, StrikeOut):
            given_ = StrikeOut(bench.state.seq - given_.seq, given_.why)
        with suppress(Refused):
            bench.say(given_, "LL")
            assert bench.state == fold(bench.state.entries, checklist=part())
        conserved(bench.state)
        build_handover_page(bench.state, bench.clock())
        dues(bench)
    assert bench.state == fold(bench.state.entries, checklist=part()), "nor was it changed by what was refused"
    for due in [due for due in dues(bench) if due.go == "begin" and due.urgency == "now"][:1]:
        assert due.load is not None
        bench.clock.forward(48 * 3600)
        bench.hand("LL").work(due.load, wait=False)
        conserved(bench.state)


@cache
def record_up_to(at: str) -> tuple[tuple[Entry, ...], Moment]:
    """The record of that batch, with one more load worked until this line, and the moment it ends at."""
    bench = rework_bench()
    if at:
        bench.until(bench.form(10), at, wait=at == "count")
    return tuple(bench.state.entries), bench.clock()


def begin_again(at: str) -> Bench:
    entries, moment = record_up_to(at)
    clock = StepClock(moment.at)
    clock.moment = moment
    return Bench(clock, fold(list(entries), checklist=part()))


def rework_bench() -> Bench:
    """Filled, with pieces on a detour of their load, waiting for a rework, on a tray and loose."""
    bench = open_bench(start=14, order=2)
    first, second = bench.form(10, count=2), bench.form(10)
    bench.through(first, 10, 20)
    pack(bench, first)
    bench.through(second, 10, 20)
    bench.clock.forward(12 * 3600)
    bench.through(second, 30, marks=(MarkedPieces("bare", ("A1",)), MarkedPieces("shallow", ("B2",))))
    third = bench.form(10)
    bench.through(third, 10, 20)
    return bench
