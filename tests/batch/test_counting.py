"""Counting: what comes out of a run adds up to what went in, and every piece that is not good is led back or away."""

from __future__ import annotations

from typing import Any

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.corrections.unproved_work import find_suspect_pieces
from floor.batch.counting.commands import CountRun, Dispose, MarkedPieces, TakeOff
from floor.batch.counting.losses import count_losses
from floor.batch.counting.op_yields import list_op_outcomes
from floor.batch.counting.struck_count import list_struck_marks
from floor.batch.describe import describe
from floor.batch.handover.page import build_handover_page
from floor.batch.lifecycle.commands import CloseBatch, FormLoad, SetPiecesAside, StartPieces
from floor.batch.quality.time_elements import compute_time_elements
from floor.batch.walk.commands import BeginRun, Release
from floor.batch.worklist.tasks import list_due_tasks
from floor.figures.key_figures import Input
from tests.batch.factory import OWN_LOAD, VANCE, Bench, conserved, edited, open_bench
from tests.planning.planned import ONE_SHIFT


@pytest.fixture
def bench() -> Bench:
    return open_bench()


def count(bench: Bench, load: int, *marks: MarkedPieces, release: bool = True) -> None:
    """Work a load to its count, mark, and release it."""
    bench.until(load, "count")
    run = bench.run_of(load)
    bad = sum(len(mark.positions) or mark.count for mark in marks)
    bench.say(CountRun(run.number, len(run.pieces) - bad, marks))
    if release:
        bench.say(Release(run.number))
    conserved(bench.state)


def counted_off(bench: Bench, load: int, good: int, *marks: MarkedPieces) -> str:
    refused = bench.refused(CountRun(bench.run_of(load).number, good, marks))
    assert refused.why == "count"
    return refused.wrong


def at_count(bench: Bench, op: int = 10) -> int:
    load = bench.form(10)
    for before in (10, 20, 30)[: (10, 20, 30).index(op)]:
        bench.through(load, before)
    bench.until(load, "count")
    return load


@pytest.mark.parametrize(
    ("good", "marks", "wrong"),
    [
        (3, (), "3 good and 0 marked make 3, 4 went in: 1 piece too few"),
        (5, (), "5 good and 0 marked make 5, 4 went in: 1 piece too many"),
        (4, (MarkedPieces("deep", ("A1",)),), "4 good and 1 marked make 5, 4 went in: 1 piece too many"),
        (0, (MarkedPieces("deep", ("A1", "B2")),), "0 good and 2 marked make 2, 4 went in: 2 pieces too few"),
        (0, (MarkedPieces("deep", count=5),), "5 marked, only 4 are left to mark"),
        (2, (MarkedPieces("deep", ("A1",)), MarkedPieces("deep", count=4)), "4 marked, only 3 are left to mark"),
    ],
)
def test_a_count_that_does_not_add_up_is_refused_with_the_difference_named(
    bench: Bench, good: int, marks: tuple[MarkedPieces, ...], wrong: str
) -> None:
    """REC-05: in = good + scrap + in rework + on hold."""
    load = at_count(bench)

    assert counted_off(bench, load, good, *marks) == wrong


@pytest.mark.parametrize(
    ("mark", "why", "wrong"),
    [
        (MarkedPieces("nonsense", ("A1",)), "unknown", '"nonsense" is not a reason at op 10'),
        (MarkedPieces("other", ("A1",)), "input", "Something else needs a note"),
        (MarkedPieces("deep", ("A1", "A1")), "input", "a place is named twice"),
        (MarkedPieces("deep", ("C9",)), "unknown", "no unmarked piece of this run sits in C9"),
        (MarkedPieces("deep"), "input", "the marked pieces must be a whole number from 1"),
        (MarkedPieces("deep", count=-1), "input", "the marked pieces must be a whole number from 1"),
        (MarkedPieces("deep", count=True), "input", "not True"),
    ],
)
def test_a_mark_that_says_nothing_is_refused(bench: Bench, mark: MarkedPieces, why: str, wrong: str) -> None:
    load = at_count(bench)

    refused = bench.refused(CountRun(bench.run_of(load).number, 3, (mark,)))

    assert refused.why == why
    assert wrong in refused.wrong


@pytest.mark.parametrize("good", [-1, 10**9, 3.0, "3", None, True])
def test_absurd_counts_are_refused(bench: Bench, good: Any) -> None:
    load = at_count(bench)

    assert bench.refused(CountRun(bench.run_of(load).number, good)).why == "input"


def test_a_place_is_marked_once(bench: Bench) -> None:
    load = at_count(bench)

    refused = bench.refused(
        CountRun(bench.run_of(load).number, 2, (MarkedPieces("deep", ("A1",)), MarkedPieces("deep", ("A1",))))
    )

    assert "no unmarked piece of this run sits in A1" in refused.wrong


def test_scrap_is_marked_in_its_place_with_reason_and_cause(bench: Bench) -> None:
    """REC-20: charged to the operation where found and, if known, to the one that caused it."""
    load = bench.form(10)
    count(bench, load, MarkedPieces("deep", ("A2",)), MarkedPieces("other", ("B1",), note="chipped"))

    body = next(entry.body for entry in bench.state.entries if entry.kind == "counted")
    assert body["marks"] == [
        {"to": "scrap", "reason": "deep", "pieces": [2], "places": ["A2"], "sits": True, "caused_at": 10},
        {"to": "scrap", "reason": "other", "pieces": [3], "places": ["B1"], "sits": True, "note": "chipped"},
    ]
    assert bench.state.places[2].where == "scrap"
    assert bench.where() == {"waiting": 4, "load": 2, "scrap": 2}
    left = bench.state.loads[load]
    assert [bench.state.format_slot(left, piece) for piece in bench.state.present(left)] == ["A1", "B2"]


def test_loose_pieces_are_marked_by_number(bench: Bench) -> None:
    load = bench.form(10)
    bench.through(load, 10, 20, 30)
    tray = bench.form(40)
    bench.through(tray, 40)
    tote = bench.form(50)

    count(bench, tote, MarkedPieces("bent", count=2), MarkedPieces("doubtful", count=1))

    assert bench.where() == {"waiting": 4, "scrap": 2, "hold": 1, "finished": 1}


def test_scrap_cannot_come_back(bench: Bench) -> None:
    """REC-12 and test 9 of the guidance: scrap cannot re-enter."""
    load = bench.form(10)
    count(bench, load, MarkedPieces("deep", ("A1",)))

    assert bench.refused(Dispose((1,), "use as is", "looks good"), by="LL").why == "unknown"
    bench.through(load, 20)
    assert 1 not in bench.state.runs[2].pieces
    bench.form(10)
    assert 1 not in bench.state.loads[2].pieces


def test_a_load_that_is_all_scrap_frees_its_carrier(bench: Bench) -> None:
    load = bench.form(10)
    count(bench, load, MarkedPieces("deep", count=4))

    assert bench.state.list_live_loads() == []
    assert bench.state.loads[load].dissolved is not None


# --- rework


def begin_line(bench: Bench, load: int) -> str:
    """What is next of a load, as the lists say it."""
    return next(due.sentence for due in list_due_tasks([bench.state], bench.clock()) if due.load == load)


def test_rework_in_place_goes_back_with_its_own_steps_and_meets_the_load_again(bench: Bench) -> None:
    """REC-15: rework, inspect, and only then good. KPI-27: reworked to good counts once as rework and once as good."""
    load = at_count(bench, 30)
    count(bench, load, MarkedPieces("bare", ("A2", "B1")))
    assert bench.state.loads[load].at == 20
    assert bench.state.find_next_pieces(bench.state.loads[load]) == (2, 3)

    assert "20 rework: Coat" in begin_line(bench, load)
    run = bench.begin(load)
    assert (run.pieces, run.rework) == ((2, 3), "touch up")
    assert "20 rework: Coat" in begin_line(bench, load)
    assert bench.state.format_op_title(bench.state.loads[load], 20, returns=True) == "rework, back to op 30: Coat"
    keys = [line.key for line in bench.walk(load).lines]
    assert keys.index("rework touch up 1") < keys.index("mix") < keys.index("coat")
    bench.through(load, 20)
    bench.until(load, "count")
    title = bench.state.format_op_title(bench.state.loads[load], 30, returns=True)
    assert title == "rework: Cut free", "it is back there"
    assert bench.run_of(load).rework == "", "the route's own steps belong to where it begins"
    assert bench.state.total("finished") == 0
    count(bench, load)

    assert bench.state.format_op_title(bench.state.loads[load], 30) == "Cut free"
    assert bench.state.list_waiting_pools() == [(10, "", 4), (40, "", 4)]
    assert not bench.state.loads[load].detours
    produced = [run for run in bench.state.runs.values() if run.op == 30 and 2 in run.pieces]
    assert [bool(run.count and any(2 in mark.pieces for mark in run.count.marks)) for run in produced] == [True, False]


def test_pieces_that_were_not_marked_wait_while_others_are_reworked(bench: Bench) -> None:
    load = at_count(bench, 20)
    count(bench, load, MarkedPieces("thin", ("A1",)))

    assert bench.state.loads[load].at == 20
    bench.through(load, 20)
    assert bench.state.loads[load].at == 30
    bench.begin(load)
    assert bench.run_of(load).pieces == (1, 2, 3, 4)


def test_two_routes_at_once_are_gone_one_after_the_other(bench: Bench) -> None:
    load = at_count(bench, 30)
    count(bench, load, MarkedPieces("bare", ("A1",)), MarkedPieces("shallow", ("B2",)))

    assert [(d.rework, d.at, sorted(d.pieces)) for d in bench.state.loads[load].detours] == [
        ("touch up", 20, [1]),
        ("regroove", 10, [4]),
    ]
    bench.through(load, 10, 20, 30, 20, 30)
    assert bench.state.list_waiting_pools() == [(10, "", 4), (40, "", 4)]


def test_a_rework_within_a_rework_comes_back_to_where_it_left(bench: Bench) -> None:
    """CBP-52: a sub-procedure returns to where it was entered."""
    load = at_count(bench, 30)
    count(bench, load, MarkedPieces("shallow", ("A1", "A2")))
    bench.through(load, 10)
    count(bench, load, MarkedPieces("thin", ("A2",)))  # at op 20, on the way of the first rework
    assert [(d.found, d.at) for d in bench.state.loads[load].detours] == [(30, 30), (20, 20)]
    title = bench.state.format_op_title(bench.state.loads[load], 10, returns=True)
    assert title == "rework, back to op 20: Mill the groove", "of the inner one"

    bench.through(load, 20)
    assert bench.state.loads[load].at == 30
    bench.begin(load)
    assert bench.run_of(load).pieces == (1, 2)
    bench.through(load)
    assert bench.state.list_waiting_pools() == [(10, "", 4), (40, "", 4)]


def test_the_limit_on_passes_is_kept_and_one_more_goes_on_hold(bench: Bench) -> None:
    """REC-21: passes are logged against the piece; one more of the same kind goes on hold for a lead."""
    load = at_count(bench, 20)
    piece = bench.run_of(load).pieces[0]
    for many in (1, 2):
        count(bench, load, MarkedPieces("thin", ("A1",)))
        assert bench.state.passes[piece, "touch up"] == many

    count(bench, load, MarkedPieces("thin", ("A1",)), release=False)

    assert (bench.state.places[piece].where, bench.state.places[piece].reason) == ("hold", "thin")
    assert bench.state.passes[piece, "touch up"] == 2
    conserved(bench.state)


def test_a_piece_on_hold_for_a_second_rework_goes_there_only_by_a_lead() -> None:
    """REC-21: as in the shipped lists, where each rework is one pass; the lead who sends it again is on record."""
    bench = open_bench(lambda: edited(("back_to = 20\npasses = 2", "back_to = 20\npasses = 1")))
    load = at_count(bench, 20)
    piece, other, *_ = bench.run_of(load).pieces
    count(bench, load, MarkedPieces("thin", ("A1",)))
    bench.through(load, 20)
    count(bench, load, MarkedPieces("bare", ("A1", "A2")), release=False)

    assert [bench.state.passes[one, "touch up"] for one in (piece, other)] == [1, 1], "of one reason, each by its past"
    assert (bench.state.places[piece].where, bench.state.places[piece].reason) == ("hold", "bare")
    assert bench.refused(Dispose((piece,), "rework", "coat once more", "touch up")).why == "authority"
    entry = bench.say(Dispose((piece,), "rework", "coat once more", "touch up"), "LL")[0]

    assert (entry.by, bench.state.passes[piece, "touch up"]) == ("LL", 2)
    conserved(bench.state)


def at_packing(bench: Bench) -> int:
    load = bench.form(10)
    bench.through(load, 10, 20, 30)
    bench.through(bench.form(40), 40)
    return bench.form(50)


def test_rework_to_an_earlier_leg_rides_again_from_there_to_the_end(bench: Bench) -> None:
    tote = at_packing(bench)
    count(bench, tote, MarkedPieces("scratch", count=1))
    assert bench.state.list_waiting_pools() == [(10, "", 4), (20, "touch up", 1)]
    assert bench.where() == {"waiting": 5, "finished": 3}

    again = bench.form(20, rework="touch up")
    run = bench.begin(again)
    assert run.rework == "touch up"
    bench.through(again, 20, 30)
    bench.through(bench.form(40), 40)
    bench.through(bench.form(50), 50)

    assert bench.where() == {"waiting": 4, "finished": 4}
    conserved(bench.state)


def test_rework_on_its_own_load_lets_the_others_go_on() -> None:
    """One bad place in the coat, found when the pallet is cut free: three do not wait for a second coat to cure."""
    bench = open_bench(lambda: edited(OWN_LOAD))
    load = at_count(bench, 30)
    count(bench, load, MarkedPieces("bare", ("A2",)))

    assert bench.state.loads[load].dissolved is not None, "the three others are through their leg"
    assert bench.state.list_waiting_pools() == [(10, "", 4), (20, "touch up", 1), (40, "", 3)]
    bench.through(bench.form(40), 40)
    bench.through(bench.form(50), 50)
    assert bench.where() == {"waiting": 5, "finished": 3}
    again = bench.form(20, rework="touch up")
    assert bench.state.loads[again].carrier == "pallet"
    assert bench.begin(again).rework == "touch up"
    bench.through(again, 20, 30)
    bench.through(bench.form(40), 40)
    bench.through(bench.form(50), 50)
    assert bench.where() == {"waiting": 4, "finished": 4}
    conserved(bench.state)


def test_on_its_own_load_a_piece_leaves_the_others_in_the_middle_of_their_leg() -> None:
    bench = open_bench(lambda: edited(OWN_LOAD))
    load = at_count(bench, 20)
    count(bench, load, MarkedPieces("thin", ("A1",)))

    assert (bench.state.loads[load].at, bench.state.loads[load].detours) == (30, [])
    assert bench.state.find_next_pieces(bench.state.loads[load]) == (2, 3, 4)
    assert (20, "touch up", 1) in bench.state.list_waiting_pools()
    conserved(bench.state)


def test_rework_waits_apart_from_pieces_that_come_for_the_first_time(bench: Bench) -> None:
    tote = at_packing(bench)
    count(bench, tote, MarkedPieces("scratch", count=1))

    assert bench.refused(FormLoad(20)).wrong == "no pieces wait for op 20 Coat"
    assert bench.refused(FormLoad(20, rework="regroove")).why == "count"


# --- hold and its disposition


def test_held_pieces_stay_behind_until_a_lead_decides(bench: Bench) -> None:
    """REC-12: kept from unintended use; REC-14: what is wrong, what is done, who had the authority."""
    load = at_count(bench, 30)
    count(bench, load, MarkedPieces("soft", ("A1",)))

    assert bench.state.held()[1].reason == "soft"
    assert any(
        "on hold" in line.text for section in build_handover_page(bench.state, bench.clock()) for line in section.lines
    )
    tray = bench.form(40)
    assert 1 not in bench.state.loads[tray].pieces
    assert bench.refused(Dispose((1,), "use as is", "hard by now"), by="AA").why == "authority"
    assert bench.refused(Dispose((1,), "use as is", ""), by="LL").why == "input"
    assert bench.refused(Dispose((1, 1), "scrap", "no need"), by="LL").why == "unknown"
    assert bench.refused(Dispose((), "scrap", "no need"), by="LL").why == "unknown"
    assert bench.refused(Dispose((2,), "scrap", "no need"), by="LL").why == "unknown"
    assert bench.refused(Dispose((1,), "eat", "hungry"), by="LL").why == "input"  # type: ignore[arg-type]


def test_use_as_is_after_the_load_has_gone_waits_for_the_next_operation(bench: Bench) -> None:
    load = at_count(bench, 30)
    count(bench, load, MarkedPieces("soft", ("A1",)))
    bench.form(40)

    bench.say(Dispose((1,), "use as is", "hard by now"), by="LL")

    assert bench.state.list_waiting_pools() == [(10, "", 4), (40, "", 1)]
    conserved(bench.state)


def test_use_as_is_goes_back_to_its_place_on_a_load_that_has_not_gone_on(bench: Bench) -> None:
    load = bench.form(10)
    bench.begin(load)
    bench.say(SetPiecesAside("hold", "scratched?", load=load, positions=("B1",), off=True))
    bench.through(load, 10)
    bench.say(Dispose((3,), "use as is", "only dirt"), by="LL")
    assert bench.state.places[3].where == "waiting", "it has missed op 10, so it waits for it"
    assert bench.state.places[3].op == 10

    bench.say(SetPiecesAside("hold", "scratched?", load=load, positions=("A1",)))
    bench.say(Dispose((1,), "use as is", "only dirt"), by="LL")

    assert bench.state.present(bench.state.loads[load]) == (1, 2, 4)
    conserved(bench.state)


def test_a_held_piece_is_reworked_or_scrapped(bench: Bench) -> None:
    load = at_count(bench, 30)
    count(bench, load, MarkedPieces("soft", ("A1", "A2")))

    refused = bench.refused(Dispose((1,), "rework", "coat again"), by="LL")
    assert refused.remedy == "one of: touch up, regroove"
    bench.say(Dispose((1,), "rework", "coat again", "touch up"), by="LL")
    bench.say(Dispose((2,), "scrap", "coat ran"), by="LL")

    assert bench.state.list_waiting_pools() == [(10, "", 4), (20, "touch up", 1), (40, "", 2)]
    assert bench.where() == {"waiting": 7, "scrap": 1}
    assert bench.state.passes[(1, "touch up")] == 1


def held_on_a_pallet(*places: str) -> tuple[Bench, int]:
    """Pieces held at the last count on their pallet, which is emptied then: they lie apart."""
    bench = open_bench()
    load = at_count(bench, 30)
    count(bench, load, MarkedPieces("soft", places))
    return bench, load


@pytest.mark.parametrize(("decision", "ends"), [("regrade", "regraded"), ("return to supplier", "returned")])
def test_a_piece_regraded_or_returned_is_out_of_the_order_for_good_and_still_counted_once(
    decision: Any, ends: Any
) -> None:
    """REC-16, ISO 9000:2015 3.12.4 and ISO 9001:2015 8.7.1 b: it is good for something else, or goes back."""
    bench, _ = held_on_a_pallet("A1", "A2")
    usable = bench.state.count_usable()
    refused = bench.refused(Dispose((1,), decision, "not as ordered"), by="LL")
    assert (refused.why, refused.field) == ("input", "to")
    assert bench.refused(Dispose((1,), decision, "not as ordered", to="B stock"), by="AA").why == "authority"

    (entry,) = bench.say(Dispose((1,), decision, "not as ordered", to="B stock, 26-4"), by="LL")

    assert bench.where() == {"waiting": 6, "hold": 1, ends: 1}
    assert bench.state.count_usable() == usable - 1
    assert "B stock, 26-4" in describe(bench.state, entry)
    assert "Pallet 1 A1 (piece 1), op 30" in describe(bench.state, entry)
    assert 1 not in find_suspect_pieces(bench.state, bench.state.runs[1]), "nobody can hold it back any more"
    assert bench.refused(Dispose((1,), "use as is", "good after all"), by="LL").why == "unknown"
    at = {one.op: one for one in list_op_outcomes(bench.state)}[30]
    assert at.produced == at.good + at.scrap + at.hold + at.otherwise == 4
    assert (at.scrap, at.hold, at.otherwise) == (0, 1, 1), "REC-05: lost to the order, and not scrapped or recycled"
    whole = compute_time_elements(bench.state, ONE_SHIFT.calendar, bench.clock().at).whole.amounts
    assert (whole[Input.PQ], whole[Input.GQ], whole[Input.SQ]) == (4, 2, 0), "ISO 22400-2: one held, one lost: no scrap"
    assert sum(many for loss, many in count_losses(bench.state).items() if loss.to == "scrap") == 1
    page = [line.text for section in build_handover_page(bench.state, bench.clock()) for line in section.lines]
    assert any(decision in line for line in page), "the next shift is told"
    conserved(bench.state)

    bench.say(StrikeOut(entry.seq, "the wrong piece"), by="LL")
    assert set(bench.state.held()) == {1, 2}
    conserved(bench.state)


@pytest.mark.parametrize("decision", ["regrade", "return to supplier"])
def test_a_piece_that_still_sits_on_its_carrier_is_taken_off_before_it_goes(bench: Bench, decision: Any) -> None:
    load = bench.form(10)
    bench.begin(load)
    bench.say(SetPiecesAside("hold", "scratched?", load=load, positions=("A1",)))
    assert bench.state.places[1].sits
    decided = Dispose((1,), decision, "not as ordered", to="B stock")

    refused = bench.refused(decided, by="LL")
    assert (refused.why, refused.wrong) == ("not now", "1 piece still sits on the carrier")
    bench.say(TakeOff((1,)))
    bench.say(decided, by="LL")

    assert not bench.state.held()
    assert not bench.state.places[1].sits
    conserved(bench.state)


def test_a_repair_takes_the_customers_word_and_is_counted_by_its_route_before_it_is_good() -> None:
    """REC-16 and -17, ISO 9000:2015 3.12.9: a repaired piece is fit for use and still not as drawn."""
    bench, _ = held_on_a_pallet("A1")
    refused = bench.refused(Dispose((1,), "repair", "thin", "touch up"), by="LL")
    assert refused.field == "granted_by"
    assert bench.refused(Dispose((1,), "repair", "thin", concession=VANCE), by="LL").why == "unknown"

    (entry,) = bench.say(Dispose((1,), "repair", "thin", "touch up", concession=VANCE), by="LL")

    assert describe(bench.state, entry) == "held piece 1: repair, thin, concession of Ms Vance 2026-02-27, 26-114"
    assert bench.state.list_waiting_pools() == [(10, "", 4), (20, "touch up", 1), (40, "", 3)]
    assert bench.state.passes[(1, "touch up")] == 1
    assert sum(many for loss, many in count_losses(bench.state).items() if loss.to == "rework") == 1
    load = bench.form(20, rework="touch up")
    bench.through(load, 20)
    bench.through(load, 30)
    assert bench.state.list_waiting_pools() == [(10, "", 4), (40, "", 4)]
    conserved(bench.state)


def test_a_rework_that_starts_later_than_the_piece_has_come_is_refused(bench: Bench) -> None:
    load = bench.form(10)
    bench.begin(load)
    bench.say(SetPiecesAside("hold", "odd", load=load, positions=("A1",)))

    assert bench.refused(Dispose((1,), "rework", "coat it", "touch up"), by="LL").why == "not now"


def test_a_piece_held_at_the_last_operation_is_finished_when_it_is_used_as_it_is(bench: Bench) -> None:
    tote = at_packing(bench)
    count(bench, tote, MarkedPieces("doubtful", count=1))
    bench.say(Dispose(tuple(bench.state.held()), "use as is", "customer accepts"), by="LL")

    assert bench.where() == {"waiting": 4, "finished": 4}


# --- set aside, start more, close


def test_pieces_set_aside_in_a_run_leave_its_count(bench: Bench) -> None:
    load = at_count(bench, 20)
    bench.say(SetPiecesAside("scrap", "dropped", load=load, positions=("A1",)))
    bench.prove(load, "counted 1", pieces=3)

    assert counted_off(bench, load, 4).endswith("4 good and 0 marked make 4, 3 went in: 1 piece too many")
    bench.through(load)
    assert bench.state.runs[2].count is not None
    assert bench.state.runs[2].count.went_in == 3


def test_between_count_and_release_nothing_is_set_aside(bench: Bench) -> None:
    load = bench.form(10)
    count(bench, load, release=False)

    refused = bench.refused(SetPiecesAside("scrap", "dropped", load=load, count=1))

    assert refused.remedy == "release it first, or strike the count out"


def test_a_run_whose_last_piece_is_set_aside_ends_and_frees_station_and_carrier(bench: Bench) -> None:
    load = at_count(bench, 30)
    bench.say(SetPiecesAside("hold", "door left open", load=load, count=4, off=True))

    assert bench.state.list_live_loads() == []
    assert bench.state.list_open_runs() == []
    other = bench.form(10)
    bench.begin(other)
    bench.say(Dispose((1, 2, 3, 4), "use as is", "nothing happened"), by="LL")
    assert bench.state.list_waiting_pools() == [(30, "", 4)]
    conserved(bench.state)


def test_the_last_piece_of_a_detour_set_aside_brings_the_load_together_again(bench: Bench) -> None:
    load = at_count(bench, 30)
    count(bench, load, MarkedPieces("bare", ("A1",)))
    bench.begin(load)
    assert bench.run_of(load).pieces == (1,)

    bench.say(SetPiecesAside("scrap", "dropped", load=load, positions=("A1",)))

    assert bench.state.loads[load].detours == []
    assert bench.state.list_waiting_pools() == [(10, "", 4), (40, "", 3)], "the others were through op 30 and this leg"
    conserved(bench.state)


@pytest.mark.parametrize(
    ("command", "why"),
    [
        (SetPiecesAside("sell", "why not", load=1, count=1), "input"),
        (SetPiecesAside("scrap", "x", load=1, count=1), "input"),
        (SetPiecesAside("scrap", "dropped", load=1, positions=("A1", "A1")), "input"),
        (SetPiecesAside("scrap", "dropped", load=1, positions=("C7",)), "unknown"),
        (SetPiecesAside("scrap", "dropped", load=1, count=5), "count"),
        (SetPiecesAside("scrap", "dropped", load=9, count=1), "unknown"),
        (SetPiecesAside("scrap", "dropped", op=20, count=1), "count"),
        (SetPiecesAside("scrap", "dropped"), "input"),
    ],
)
def test_what_is_not_there_is_not_set_aside(bench: Bench, command: SetPiecesAside, why: str) -> None:
    bench.form(10)

    assert bench.refused(command).why == why


def test_pieces_that_wait_are_set_aside_by_number_in_rework_too(bench: Bench) -> None:
    tote = at_packing(bench)
    count(bench, tote, MarkedPieces("scratch", count=2))
    bench.say(SetPiecesAside("scrap", "not found", op=20, count=1, rework="touch up"))
    bench.say(SetPiecesAside("scrap", "not found", op=10, count=4))

    assert bench.where() == {"waiting": 1, "scrap": 5, "finished": 2}


def test_more_pieces_are_started_mid_batch(bench: Bench) -> None:
    bench.through(bench.form(10), 10)
    bench.say(StartPieces(3))

    assert bench.state.started == 11
    assert bench.state.list_waiting_pools() == [(10, "", 7)]
    assert set(bench.state.started_at) == set(range(1, 12))
    for bad in (0, -1, 5000, True, 2.5):
        assert bench.refused(StartPieces(bad)).why == "input"  # type: ignore[arg-type]
    conserved(bench.state)


def test_closing_names_every_open_point_and_closing_short_needs_a_lead() -> None:
    bench = open_bench(start=8, order=8)
    tote = at_packing(bench)
    count(bench, tote, MarkedPieces("doubtful", count=1), MarkedPieces("bent", count=1))
    bench.form(10, count=2)

    refused = bench.refused(CloseBatch("enough"), by="LL")
    assert refused.wrong == ("batch B0001 cannot be closed: loads under way: 4; pieces waiting: 2; pieces on hold: 1")
    bench.say(Dispose(tuple(bench.state.held()), "scrap", "bent too"), by="LL")
    bench.say(SetPiecesAside("scrap", "not wanted", load=4, count=2))
    bench.say(SetPiecesAside("scrap", "not wanted", op=10, count=2))

    assert bench.refused(CloseBatch("enough"), by="AA").why == "authority"
    assert bench.refused(CloseBatch(""), by="LL").why == "input"
    entry = bench.say(CloseBatch("customer takes two"), by="LL")[0]
    assert entry.body == {"reason": "customer takes two", "finished": 2}
    for command in (StartPieces(1), FormLoad(10), BeginRun(4), CloseBatch("again")):
        assert bench.refused(command, by="LL").why == "closed"


@pytest.mark.parametrize("to", ["scrap", "hold"])
def test_nothing_is_set_aside_of_a_load_that_is_counted_and_not_released(to: Any) -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "release")
    refused = bench.refused(SetPiecesAside(to, "dropped", load=load, positions=("A1",)))
    assert (refused.why, refused.wrong) == ("not now", "load 1 is counted but not released")
    assert refused.remedy == "release it first, or strike the count out"
    bench.hand().work(load)
    bench.say(SetPiecesAside(to, "dropped", load=load, positions=("A1",)))
    assert bench.state.total(to) == 1


def test_the_marks_of_a_struck_count_are_known_until_their_pieces_are_gone(bench: Bench) -> None:
    load = at_count(bench)
    run = bench.run_of(load)
    assert list_struck_marks(bench.state, run) == []
    counted = bench.say(
        CountRun(run.number, 2, (MarkedPieces("deep", ("A2",)), MarkedPieces("other", ("B1",), note="bent")))
    )
    assert list_struck_marks(bench.state, bench.run_of(load)) == [], "it stands"
    bench.say(StrikeOut(counted[0].seq, "wrong place"))
    marks = list_struck_marks(bench.state, bench.run_of(load))
    assert [(mark.reason, mark.pieces, mark.note) for mark in marks] == [("deep", (2,), ""), ("other", (3,), "bent")]
    bench.say(SetPiecesAside("hold", "doubtful", load=load, positions=("A2",)))
    assert [mark.reason for mark in list_struck_marks(bench.state, bench.run_of(load))] == ["other"]


def test_a_run_begun_anew_takes_no_marks_of_the_one_that_was_struck_out(bench: Bench) -> None:
    """It may have its number."""
    load = at_count(bench)
    before = bench.run_of(load)
    bench.say(CountRun(before.number, 3, (MarkedPieces("deep", ("A2",)),)))
    bench.strike_back_to(before.seq)
    now = bench.begin(load)
    assert now.number == before.number
    assert list_struck_marks(bench.state, now) == []


@pytest.mark.parametrize("again", [None, FormLoad(10, count=2), FormLoad(10, pieces=(4, 3, 2, 1))])
def test_a_loss_keeps_the_place_and_operation_of_its_own_load_once_another_has_that_number(
    bench: Bench, again: FormLoad | None
) -> None:
    formed = bench.say(FormLoad(10))[0]
    bench.say(SetPiecesAside("hold", "found cracked", load=1, positions=("A1",), off=True))
    bench.say(StrikeOut(formed.seq, "the wrong pallet"))
    bench.say(Dispose((1,), "use as is", "no crack after all", concession=VANCE), by="LL")
    if again is not None:
        assert bench.say(again)[0].body["load"] == 1, "the number is free again"
    ((loss, many),) = count_losses(bench.state).items()
    assert (loss.to, loss.found, loss.position, many) == ("hold", 10, "A1", 1)


def test_a_loss_is_counted_when_its_piece_is_not_on_the_load_that_has_the_number_now(bench: Bench) -> None:
    formed = bench.say(FormLoad(10))[0]
    bench.say(SetPiecesAside("scrap", "dropped", load=1, positions=("B2",), off=True))
    bench.say(StrikeOut(formed.seq, "the wrong pallet"))
    bench.say(FormLoad(10, count=2))
    assert [(loss.found, loss.position) for loss in count_losses(bench.state)] == [(10, "B2")]
