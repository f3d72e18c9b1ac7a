"""What somebody who is not a lead could try to remove a proof from released pieces: each way raises a question."""

from __future__ import annotations

import pytest

from floor.batch.corrections.commands import SettleUnproved, StrikeOut
from floor.batch.corrections.unproved_work import find_open_unproved_work, find_suspect_pieces, find_unproved_pieces
from floor.batch.counting.commands import CountRun, Dispose, HoldBack, MarkedPieces
from floor.batch.gates.commands import Waive
from floor.batch.gates.open_lot import OpenLot
from floor.batch.lifecycle.commands import CloseBatch, SetPiecesAside
from floor.batch.open_items import Unproved
from floor.batch.stations.commands import Disturb, TakeDown
from floor.batch.walk.commands import EndCycle, Release, StartCycle
from floor.entry import Entry
from tests.batch.factory import Bench, conserved, open_bench


def last(bench: Bench, kind: str, line: str = "") -> Entry:
    return next(
        entry for entry in reversed(bench.state.entries)
        if entry.kind == kind and entry.seq not in bench.state.struck and (not line or entry.body.get("line") == line)
    )  # fmt: skip


def strike(bench: Bench, entry: Entry, by: str = "AA") -> Entry:
    struck = bench.say(StrikeOut(entry.seq, "entered wrong"), by)[0]
    conserved(bench.state)
    return struck


def asked(bench: Bench) -> list[str]:
    return [one.title for one in find_open_unproved_work(bench.state)]


def only(bench: Bench) -> Unproved:
    (one,) = find_open_unproved_work(bench.state)
    return one


def at_probing() -> tuple[Bench, int]:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "probed 1")
    return bench, load


# --- (a) a failed try is no proof


def test_a_failed_value_does_not_stand_in_for_the_good_one_that_is_struck_out() -> None:
    bench, load = at_probing()
    bench.prove(load, "probed 1", X=5, Z=0)
    good = bench.prove(load, "probed 1", X=0.5, Z=0)
    bench.through(load)
    strike(bench, good)

    assert asked(bench) == ["Probe G54 X Z"]


def test_nor_for_a_waiver_that_is_struck_out() -> None:
    bench, load = at_probing()
    bench.prove(load, "probed 1", X=5, Z=0)
    waiver = bench.say(Waive(bench.run_of(load).number, "probed 1", "near enough"), by="LL")[0]
    bench.through(load)
    strike(bench, waiver, "LL")

    assert asked(bench) == ["Probe G54 X Z"]


# --- (b) what was proved again in the run, struck out too


@pytest.mark.parametrize("order", [(0, 1), (1,)])
def test_proved_twice_and_both_struck_out(order: tuple[int, ...]) -> None:
    bench, load = at_probing()
    first = bench.prove(load, "probed 1", X=0.5, Z=0)
    bench.until(load, "end")
    strike(bench, first)
    assert bench.current(load).key == "probed 1"
    second = bench.prove(load, "probed 1", X=0.4, Z=0)
    bench.through(load)
    assert asked(bench) == [], "proved again by the run itself"
    strike(bench, second)

    assert asked(bench) == ["Probe G54 X Z"]


def test_a_cut_before_the_repeated_proof_is_asked_about_too() -> None:
    """The carrier was lifted in mid-cycle and probed again: that proves nothing about the cut before."""
    bench, load = at_probing()
    first = bench.prove(load, "probed 1", X=0.5, Z=0)
    bench.until(load, "end")
    bench.say(Disturb("mill", "lifted", load=load))
    bench.until(load, "probed 1")
    bench.prove(load, "probed 1", X=0.4, Z=0)
    bench.through(load)
    assert asked(bench) == []
    strike(bench, first)

    assert asked(bench) == ["Probe G54 X Z"]


def test_a_repeated_proof_counts_even_if_void_since_the_count() -> None:
    bench, load = at_probing()
    bench.until(load, "end")
    strike(bench, last(bench, "proved", "tool loaded 1"))
    bench.until(load, "tool loaded 1")
    bench.prove(load, "tool loaded 1", tool=1, length=100)
    bench.until(load, "release")
    bench.say(Disturb("mill", "tool changed", tool=1))
    bench.through(load)

    assert asked(bench) == [], "proved again by the run itself, and nothing is cut with the new one"


# --- (c) a strike that is struck out


def test_a_lift_in_the_cycle_that_counts_again_after_the_release() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "end")
    bench.say(Disturb("mill", "lifted", load=load))
    lifted = last(bench, "disturbed")
    taken_back = strike(bench, lifted)
    bench.through(load)
    assert asked(bench) == []
    strike(bench, taken_back)

    assert {line for _, line in only(bench).pairs} == {"confirmed 1", "probed 1"}, "to be proved again before the end"


def test_a_tool_change_that_counts_again_after_the_release() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "start")
    bench.say(Disturb("mill", "tool changed", tool=1))
    taken_back = strike(bench, last(bench, "disturbed"))
    bench.through(load)
    assert asked(bench) == []
    strike(bench, taken_back)

    assert {line for _, line in only(bench).pairs} == {"tool loaded 1", "signed 1"}, "who signed saw the other tool"
    assert only(bench).strike == last(bench, "struck_out").seq
    again = strike(bench, last(bench, "struck_out"))
    assert asked(bench) == [], "taken back once more: the record stands as it did when the load went on"
    strike(bench, again)
    assert {line for _, line in only(bench).pairs} == {"tool loaded 1", "signed 1"}


def test_a_superseded_try_that_counts_again_after_the_release() -> None:
    """Good, then a wrong one by mistake, which is struck out: to strike that strike leaves the wrong one."""
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "probed 1")
    bench.prove(load, "probed 1", X=0.5, Z=0)
    bench.until(load, "end")
    bench.say(Disturb("mill", "power lost"))
    bench.until(load, "probed 1")
    bench.prove(load, "probed 1", X=5, Z=0)
    wrong = last(bench, "proved")
    taken_back = strike(bench, wrong)
    bench.until(load, "probed 1")
    bench.prove(load, "probed 1", X=0.5, Z=0)
    bench.through(load)
    assert asked(bench) == []
    strike(bench, last(bench, "proved", "probed 1"))
    assert asked(bench) == ["Probe G54 X Z"]
    assert bench.state.struck[wrong.seq] == taken_back.seq


# --- (d) what another batch said


def test_that_another_batch_set_the_station_up_is_not_taken_back() -> None:
    bench = open_bench()
    bench.through(bench.form(10))
    bench.say(TakeDown("mill", "B0002"))

    refused = bench.refused(StrikeOut(last(bench, "setup_taken_down").seq, "still on the machine"), "LL")
    assert "locked" in refused.wrong
    assert not refused.signs, "not by a lead either"


# --- (e) heaps


def heap() -> tuple[Bench, int]:
    """Eight pieces in one tote; two of them went through a run of their own at op 10."""
    bench = open_bench()
    first, second = bench.form(10, 2), bench.form(10, 4)
    third = bench.form(10, 2)
    for op in (10, 20, 30):
        for load in (first, second, third):
            bench.through(load, op)
    trays = [bench.form(40), bench.form(40)]
    for tray in trays:
        bench.through(tray, 40)
    return bench, bench.form(50)


def test_two_of_eight_stay_in_question_while_any_of_the_heap_may_be_one_of_them() -> None:
    bench, tote = heap()
    probe = next(entry for entry in bench.state.entries if entry.body.get("line") == "probed 1")
    strike(bench, probe)
    one = only(bench)
    run = bench.state.runs[probe.body["run"]]
    assert len(run.pieces) == 2
    assert find_unproved_pieces(bench.state, one) == set(range(1, 9))
    load = bench.state.loads[tote]
    assert set(load.slots[-2:]) == {7, 8}, "set aside by number: the last ones"
    for left in range(7, 0, -1):
        bench.say(SetPiecesAside("scrap", "fell down", load=tote, count=1))
        assert len(find_unproved_pieces(bench.state, only(bench))) == left
    bench.say(SetPiecesAside("scrap", "fell down", load=tote, count=1))
    assert asked(bench) == []


def test_of_a_heap_all_is_held_back_and_decided_piece_by_piece() -> None:
    bench, _ = heap()
    probe = next(entry for entry in bench.state.entries if entry.body.get("line") == "probed 1")
    strike(bench, probe)
    bench.say(HoldBack(probe.body["run"], "not probed"), "LL")

    assert bench.where() == {"hold": 8}
    assert asked(bench) == []
    bench.say(Dispose(tuple(range(1, 9)), "use as is", "measured"), "LL")
    assert asked(bench) == [], "a lead has decided on every one"


def test_pieces_keep_apart_where_the_carrier_has_places() -> None:
    bench = open_bench()
    loads = [bench.form(10, 2), bench.form(10, 4)]
    for load in loads:
        bench.through(load, 10)
    assert find_suspect_pieces(bench.state, bench.state.runs[1]) == (1, 2)


# --- pieces on hold


def test_pieces_come_off_hold_by_a_lead_only() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.say(SetPiecesAside("hold", "odd sound", load=load, positions=("A1",)))
    aside = last(bench, "set_aside")

    assert bench.refused(StrikeOut(aside.seq, "was nothing")).why == "authority"
    strike(bench, aside, "LL")
    assert bench.where() == {"load": 4, "waiting": 4}


def test_nor_by_striking_a_count_or_a_strike() -> None:
    bench = open_bench(start=4)
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.until(load, "count")
    bench.say(CountRun(bench.run_of(load).number, 3, (MarkedPieces("soft", ("A1",)),)))
    count = last(bench, "counted")
    assert bench.refused(StrikeOut(count.seq, "was hard")).why == "authority"

    taken_back = strike(bench, count, "LL")
    assert bench.where() == {"load": 4}
    strike(bench, taken_back, "LL")
    assert bench.where() == {"load": 3, "hold": 1}
    assert bench.refused(StrikeOut(last(bench, "struck_out").seq, "hard after all")).why == "authority"


# --- others of the kind


def test_a_question_is_not_closed_by_taking_the_release_back() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load)
    release = last(bench, "released")
    strike(bench, last(bench, "proved", "probed 1"))
    assert asked(bench)

    assert bench.refused(StrikeOut(release.seq, "not released yet")).why == "authority"
    strike(bench, release, "LL")
    assert bench.current(load).key == "probed 1"


def test_the_batch_is_not_closed_over_a_question() -> None:
    bench = open_bench(start=4)
    load = bench.form(10)
    bench.through(load, 10, 20, 30)
    bench.through(bench.form(40), 40)
    last_load = bench.form(50)
    bench.through(last_load, *(op for op in bench.state.checklist.ops if op >= 50))
    assert bench.where() == {"finished": 4}
    strike(bench, last(bench, "proved", "probed 1"))

    assert "to be decided" in str(bench.refused(CloseBatch("all of it"), "LL"))


def test_a_lot_that_is_changed_behind_released_pieces_is_asked_about() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "start")
    bench.prove(load, "lot recorded 1", lot="H2")
    bench.through(load)
    assert bench.state.runs[1].lots == {"bar stock": "H2"}
    strike(bench, last(bench, "proved", "lot recorded 1"))

    assert bench.state.runs[1].lots != {"bar stock": "H2"}
    assert asked(bench) == ["Record the lot of bar stock"]


def test_a_lot_typed_wrong_and_corrected_in_time_is_no_question() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "start")
    wrong = last(bench, "proved", "lot recorded 1")
    bench.prove(load, "lot recorded 1", lot="H2")
    bench.through(load)
    strike(bench, wrong)

    assert asked(bench) == []


def test_a_lot_that_was_opened_between_two_loads() -> None:
    """Without its entry the second load had the old bars: the trace of its pieces would say so from now on."""
    bench = open_bench()
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10)
    bench.say(OpenLot("bar stock", "H9"))
    bench.through(second, 10)
    strike(bench, last(bench, "lot_opened"))

    assert only(bench).pairs == {(2, "lot recorded 1")}, "the first load had the old ones all along"


@pytest.mark.parametrize(("into", "question"), [(True, True), (False, False)])
def test_a_lot_that_was_opened_while_a_load_was_under_way(into: bool, question: bool) -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "end")
    bench.say(OpenLot("bar stock", "H9", into=(load,) if into else ()))
    bench.through(load)
    strike(bench, last(bench, "lot_opened"))

    assert bool(asked(bench)) == question


def test_the_first_lot_of_a_load_that_kept_it_when_another_was_opened() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "end")
    bench.say(OpenLot("bar stock", "H9"))
    bench.through(load)
    strike(bench, last(bench, "proved", "lot recorded 1"))

    assert asked(bench) == ["Record the lot of bar stock"]


@pytest.mark.parametrize("how", ["opened", "recorded"])
def test_a_lot_that_counts_again_after_the_release(how: str) -> None:
    """It was struck out, the load went on with the other one; then the strike is struck out."""
    bench = open_bench()
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10)
    bench.until(second, "start")
    if how == "opened":
        bench.say(OpenLot("bar stock", "H9", into=(second,)))
    else:
        bench.prove(second, "lot recorded 1", lot="H9")
    taken_back = strike(bench, last(bench, "lot_opened" if how == "opened" else "proved"))
    bench.through(second, 10)
    assert asked(bench) == []
    strike(bench, taken_back)

    assert only(bench).pairs == {(2, "lot recorded 1")}


def test_a_cycle_whose_end_is_struck_out_after_release() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load)
    end = last(bench, "cycle_ended")
    strike(bench, end)
    assert only(bench).pairs == {(1, "end")}
    strike(bench, last(bench, "cycle_started"))
    assert {line for one in find_open_unproved_work(bench.state) for _, line in one.pairs} == {"start", "end"}


def test_a_clock_that_is_taken_away_from_a_later_run() -> None:
    """The coat struck out: nobody knows when the cure started that the next operation relied on."""
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10, 20, 30)
    strike(bench, last(bench, "step_done", "coat"))

    one = only(bench)
    assert {(bench.state.runs[run].op, line) for run, line in one.pairs} == {(20, "coat"), (30, "cured 1")}


def test_a_mix_that_is_struck_out_leaves_its_pot_life_unknown() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10, 20)
    strike(bench, last(bench, "step_done", "mix"))

    assert {line for _, line in only(bench).pairs} == {"mix", "cured 1"}


def test_the_step_of_a_rework_is_a_proof_too() -> None:
    bench = open_bench(start=4)
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "count")
    bench.say(CountRun(bench.run_of(load).number, 3, (MarkedPieces("thin", ("A1",)),)))
    bench.say(Release(bench.run_of(load).number))
    bench.through(load, 20)
    strike(bench, last(bench, "step_done", "rework touch up 1"))

    assert asked(bench) == ["Scrape the place to bare metal"]


def test_what_a_lead_decided_before_it_was_struck_out_decides_nothing() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load)
    bench.say(HoldBack(1, "odd sound"), "LL")
    bench.say(Dispose((1, 2, 3, 4), "use as is", "measured"), "LL")
    strike(bench, last(bench, "proved", "probed 1"))

    assert asked(bench) == ["Probe G54 X Z"]


def test_each_strike_is_decided_by_itself() -> None:
    bench = open_bench()
    first = bench.form(10)
    bench.through(first)
    second = bench.form(10)
    bench.until(second, "end")
    strike(bench, last(bench, "proved", "tool loaded 1"))
    bench.say(SettleUnproved(only(bench).strike, "use as is", "it was in"), "LL")
    bench.until(second, "tool loaded 1")
    bench.prove(second, "tool loaded 1", tool=1, length=100)
    bench.through(second)
    assert asked(bench) == []
    strike(bench, last(bench, "proved", "tool loaded 1"))

    assert [one.runs for one in find_open_unproved_work(bench.state)] == [{2}], (
        "the first load is decided, this one is not"
    )


def test_a_note_that_is_struck_out_asks_nothing() -> None:
    from floor.batch.corrections.commands import Note

    bench = open_bench()
    load = bench.form(10)
    bench.say(Note("looks odd"))
    bench.through(load, 10, 20, 30)
    strike(bench, last(bench, "noted"))
    assert asked(bench) == []
    assert not any(run.unmet for run in bench.state.runs.values()), "judged anew, every run passed as it did then"


def test_a_cycle_restarted_in_the_run_asks_nothing() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "end")
    strike(bench, last(bench, "cycle_started"))
    number = bench.run_of(load).number
    bench.say(StartCycle(number))
    bench.until(load, "end")
    bench.say(EndCycle(number))
    bench.through(load)
    assert asked(bench) == []


def test_a_waiver_that_is_struck_out_after_its_run_was_released_a_second_time() -> None:
    bench, load = at_probing()
    bench.prove(load, "probed 1", X=5, Z=0)
    waiver = bench.say(Waive(bench.run_of(load).number, "probed 1", "near enough"), by="LL")[0]
    bench.through(load)
    strike(bench, last(bench, "released"))
    bench.through(load)
    assert asked(bench) == [], "taking the release back and letting it go on again takes nothing away"
    strike(bench, waiver, "LL")

    assert asked(bench) == ["Probe G54 X Z"]


def test_a_proof_that_is_struck_out_while_the_release_is_taken_back_is_proved_again() -> None:
    bench, load = at_probing()
    bench.prove(load, "probed 1", X=0.5, Z=0)
    bench.through(load)
    strike(bench, last(bench, "released"))
    strike(bench, last(bench, "proved", "probed 1"))
    assert asked(bench) == [], "it is open again"
    assert bench.current(load).key == "probed 1"
    bench.refused(Release(bench.run_of(load).number))
    bench.prove(load, "probed 1", X=0.5, Z=0)
    bench.through(load)
    assert asked(bench) == [], "proved by the run itself"
    strike(bench, last(bench, "proved", "probed 1"))

    assert asked(bench) == ["Probe G54 X Z"]


def test_a_release_that_counts_again_after_its_proof_was_struck_out() -> None:
    """The release struck out, then the proof, then the strike of the release: nobody has proved it again."""
    bench, load = at_probing()
    bench.prove(load, "probed 1", X=0.5, Z=0)
    bench.through(load)
    taken_back = strike(bench, last(bench, "released"))
    strike(bench, last(bench, "proved", "probed 1"))
    strike(bench, taken_back)

    assert asked(bench) == ["Probe G54 X Z"]


def test_a_proof_repeated_after_a_decision_and_struck_out_is_asked_about() -> None:
    """Decided by a lead, release struck out, proved again, released: the decision was not about this proof."""
    bench, load = at_probing()
    first = bench.prove(load, "probed 1", X=0.5, Z=0)
    bench.through(load)
    strike(bench, first)
    bench.say(SettleUnproved(only(bench).strike, "use as is", "measured all of them"), "LL")
    strike(bench, last(bench, "released"))
    assert bench.current(load).key == "probed 1"
    second = bench.prove(load, "probed 1", X=0.4, Z=0)
    bench.through(load)
    assert asked(bench) == []
    strike(bench, second)

    assert asked(bench) == ["Probe G54 X Z"]
