"""A proof struck out after a load relied on it is reported: it stays open until a lead decides."""

from __future__ import annotations

import pytest

from floor.batch.corrections.commands import SettleUnproved, StrikeOut
from floor.batch.corrections.unproved_work import find_open_unproved_work, say_run
from floor.batch.counting.commands import Dispose, HoldBack
from floor.batch.gates.commands import Waive
from floor.batch.handover.commands import OfferHandover
from floor.batch.handover.page import (
    build_handover_page,
    list_safety_lines,
)
from floor.batch.handover.risks import (
    find_risks,
)
from floor.batch.lifecycle.commands import CloseBatch, SetPiecesAside
from floor.batch.open_items import Unproved
from floor.batch.stations.commands import Disturb
from floor.batch.walk.lines import Line
from floor.batch.walk.station_walk import build_walk
from floor.batch.worklist.due_task import DueTask
from floor.batch.worklist.tasks import list_due_tasks
from floor.entry import Entry
from tests.batch.factory import Bench, conserved, open_bench

GATES = [
    f"{gate} 1"
    for gate in ("probed", "tool loaded", "measured", "first piece accepted", "program loaded", "signed", "confirmed")
]


def proof(bench: Bench, line: str, run: int = 1) -> Entry:
    """The entry that proves or does a line of a run."""
    return next(
        entry for entry in reversed(bench.state.entries)
        if entry.body.get("line") == line and entry.body.get("run") == run and entry.kind in ("proved", "step_done")
    )  # fmt: skip


def struck(bench: Bench, line: str, run: int = 1) -> Unproved:
    bench.say(StrikeOut(proof(bench, line, run).seq, "typed wrong"), by="LL")
    conserved(bench.state)
    (one,) = find_open_unproved_work(bench.state)
    return one


def released(bench: Bench) -> int:
    load = bench.form(10)
    bench.through(load, 10)
    return load


def due(bench: Bench) -> list[DueTask]:
    return [one for one in list_due_tasks([bench.state], bench.clock()) if one.go == "unproved"]


def line_of(bench: Bench, line: str, run: int = 1) -> Line:
    found = build_walk(bench.state, bench.state.runs[run], bench.clock(), "AA").line(line)
    assert found is not None
    return found


@pytest.mark.parametrize("line", [*GATES, "load step 1", "cycle step 1", "after step 1"])
def test_it_stands_open_wherever_one_looks(line: str) -> None:
    bench = open_bench()
    released(bench)
    assert line_of(bench, line).is_satisfied
    one = struck(bench, line)

    assert one.runs == {1}
    assert not line_of(bench, line).is_satisfied, "not 'met at the time'"
    assert line_of(bench, line).evidence == "", "nobody has decided yet"
    (said,) = due(bench)
    assert said.entry == one.strike
    assert "struck out after 4 pieces went ahead on it: load 1 (op 10) (LL: typed wrong)" in said.what
    assert "unproved" in find_risks(bench.state)
    assert any(text.key == f"unproved {one.strike}" for text in list_safety_lines(bench.state, bench.clock()))
    assert bench.refused(OfferHandover()).why == "handover"
    assert "struck out" in str(bench.refused(CloseBatch()))


def test_it_stays_until_a_lead_has_decided_and_the_decision_stays_readable() -> None:
    bench = open_bench()
    load = released(bench)
    one = struck(bench, "probed 1")
    bench.through(load, 20)
    assert due(bench), "the load went on, and it is still said"
    assert bench.refused(SettleUnproved(one.strike, "use as is", "typed X for Z")).why == "authority"
    assert bench.refused(SettleUnproved(one.strike, "use as is", ""), by="LL").why == "input"
    bench.say(SettleUnproved(one.strike, "use as is", "typed X for Z, the cut is right"), by="LL")

    assert not due(bench)
    assert find_risks(bench.state) == ()
    line = line_of(bench, "probed 1")
    assert line.state == "waived"
    assert line.evidence == "struck out; use as is · LL: typed X for Z, the cut is right"
    assert bench.refused(SettleUnproved(one.strike, "use as is", "again"), by="LL").why == "unknown"


def test_holding_the_pieces_back_hands_the_decision_to_the_hold_list() -> None:
    bench = open_bench()
    released(bench)
    struck(bench, "probed 1")
    bench.say(HoldBack(1, "probe not proved"), by="LL")

    assert not due(bench)
    assert len(bench.state.held()) == 4
    assert line_of(bench, "probed 1").evidence == "struck out; pieces held back"
    bench.say(Dispose(tuple(bench.state.held()), "use as is", "measured all four"), by="LL")
    assert not due(bench)


def test_pieces_that_are_scrapped_are_no_question_any_more() -> None:
    bench = open_bench()
    load = released(bench)
    one = struck(bench, "probed 1")
    bench.say(SetPiecesAside("scrap", "cut in the wrong place", load=load, count=3))
    assert "1 piece went ahead" in due(bench)[0].what
    bench.say(SetPiecesAside("scrap", "cut in the wrong place", load=load, count=1))
    assert not due(bench)
    assert not any(line.key == f"unproved {one.strike}" for line in list_safety_lines(bench.state, bench.clock()))


def test_all_loads_that_a_set_up_proof_had_served_are_named() -> None:
    bench = open_bench()
    released(bench)
    released(bench)
    one = struck(bench, "tool loaded 1")

    assert one.runs == {1, 2}
    assert "8 pieces" in due(bench)[0].what
    assert "load 1 (op 10), 2 (op 10)" in due(bench)[0].what
    bench.say(HoldBack(2, "no tool"), by="LL")
    assert "4 pieces" in due(bench)[0].what


def test_a_run_under_way_proves_it_again_and_only_those_released_are_for_a_lead() -> None:
    bench = open_bench()
    released(bench)
    load = bench.form(10)
    bench.until(load, "count")
    one = struck(bench, "tool loaded 1")

    assert one.runs == {1}
    assert bench.current(load).key == "tool loaded 1"
    assert bench.current(load).state == "reopened"
    bench.through(load)


def test_a_value_that_was_corrected_before_the_load_went_on_is_no_doubt() -> None:
    """The wrong one is struck out, the right one was recorded in time; whichever of them came first."""
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "probed 1")
    wrong = bench.prove(load, "probed 1", X=5, Z=0)
    bench.prove(load, "probed 1", X=0.5, Z=0)
    bench.through(load)
    bench.say(StrikeOut(wrong.seq, "misread"))

    assert not find_open_unproved_work(bench.state)


def test_a_waiver_that_is_struck_out_leaves_its_gate_unproved() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "probed 1")
    waiver = bench.say(Waive(bench.run_of(load).number, "probed 1", "probe broken"), by="LL")[0]
    bench.through(load)
    bench.say(StrikeOut(waiver.seq, "not agreed"), by="LL")

    assert [one.title for one in find_open_unproved_work(bench.state)] == ["Probe G54 X Z"]


def test_a_strike_that_is_struck_out_takes_the_doubt_with_it() -> None:
    bench = open_bench()
    released(bench)
    one = struck(bench, "probed 1")
    bench.say(StrikeOut(one.strike, "the wrong entry"), by="LL")

    assert not due(bench)
    assert line_of(bench, "probed 1").is_satisfied


def test_a_proof_that_was_void_by_then_had_let_nothing_through_but_its_own_load() -> None:
    bench = open_bench()
    released(bench)
    bench.say(Disturb("mill", "tool changed", tool=1))
    released(bench)
    one = struck(bench, "tool loaded 1")

    assert one.runs == {1}


def test_a_piece_that_went_on_with_another_load_is_said_to_be_told_by_the_order_of_loading() -> None:
    bench = open_bench()
    load = released(bench)
    run = bench.state.runs[1]
    assert say_run(bench.state, run) == "run 1: load 1, op 10 Mill the groove, released; 4 pieces"
    piece = bench.state.loads[load].pieces[0]
    bench.say(SetPiecesAside("hold", "chatter marks", load=load, positions=("A1",), off=True))
    assert say_run(bench.state, run).endswith("4 pieces, 1 on hold")
    bench.through(load, 20)
    bench.say(Dispose((piece,), "use as is", "within the drawing"), by="LL")
    assert say_run(bench.state, run).endswith("released; 4 pieces"), "it waits beside the others"
    bench.form(20)

    assert bench.state.places[piece].load == 2
    assert say_run(bench.state, run).endswith("released; 4 pieces, by the order of loading")


def test_the_page_names_it_once() -> None:
    bench = open_bench()
    released(bench)
    one = struck(bench, "probed 1")
    keys = [line.key for section in build_handover_page(bench.state, bench.clock()) for line in section.lines]

    assert keys.count(f"unproved {one.strike}") == 1
