"""No load takes a station before its checks on arrival can be met, and a run only started can be put back."""

from __future__ import annotations

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.counting.commands import CountRun, MarkedPieces
from floor.batch.describe import describe
from floor.batch.fold import fold
from floor.batch.gates.commands import Waive
from floor.batch.search.trace import trace
from floor.batch.stations.commands import Disturb, TakeDown
from floor.batch.walk.commands import BeginRun, DoStep, SkipStep
from floor.batch.walk.next_run import judge_arrival_gates, list_unmet_arrival_gates
from floor.batch.walk.put_back import PutBack
from floor.batch.worklist.tasks import list_due_tasks
from tests.batch.factory import Bench, conserved, edited, open_bench


def coated() -> tuple[Bench, int]:
    """A pallet that is coated and cures: 12 h until it is cut free."""
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10, 20)
    return bench, load


# --- begin ---------------------------------------------------------------------------------------------------------


def test_a_load_that_cures_takes_no_station_unasked() -> None:
    bench, load = coated()
    refused = bench.refused(BeginRun(load))
    assert refused.why == "gate"
    assert "cure needs 11 h 59 more" in refused.wrong
    assert "Ready 19:" in str(refused)
    assert "start anyway, and Mill is taken until then" in str(refused)

    bench.clock.forward(12 * 3600)
    assert not list_unmet_arrival_gates(bench.state, bench.state.loads[load], bench.clock())
    assert "unmet" not in bench.say(BeginRun(load))[0].body


def test_begun_all_the_same_it_is_on_record_what_stood_in_the_way() -> None:
    bench, load = coated()
    begun = bench.say(BeginRun(load, anyway=True))[0]
    assert "cure needs 11 h 59 more" in begun.body["unmet"]
    assert "although" in describe(bench.state, begun)
    assert "cure needs 11 h" in describe(bench.state, begun)


def test_a_window_that_has_closed_stands_in_the_way_too() -> None:
    bench, load = coated()
    bench.clock.forward(13 * 3600)
    bench.through(load, 30)
    tray = bench.form(40)
    bench.through(tray, 40)
    tote = bench.form(50)
    bench.clock.forward(9 * 3600)  # cooling: within 8 h
    refused = bench.refused(BeginRun(tote))
    assert (refused.why, "time limit passed" in refused.wrong) == ("gate", True)
    assert "set the pieces aside" in refused.remedy


def test_what_can_be_entered_at_the_station_keeps_nobody_from_going_there() -> None:
    """Lots, measurements and confirmations are entered on arrival; only clocks and blocked checks keep a load away."""
    bench = open_bench()
    load = bench.form(10)
    asked = judge_arrival_gates(bench.state, bench.state.loads[load], bench.clock())
    assert [one.verdict.status for one in asked] == ["ask"]
    bench.say(BeginRun(load))


def test_a_tool_that_is_loaded_at_the_station_is_not_asked_of_the_next_load() -> None:
    tool = '{ gate = "tool loaded", tool = 1'
    bench = open_bench(lambda: edited((tool, f'{tool}, at = "arrive"')))
    first, second = bench.form(10), bench.form(10)
    for load, status in ((first, "ask"), (second, "met")):
        asked = judge_arrival_gates(bench.state, bench.state.loads[load], bench.clock())
        assert [one.verdict.status for one in asked if one.gate.gate == "tool loaded"] == [status]
        bench.through(load, 10)


def test_what_is_to_be_done_on_arrival_keeps_nobody_away() -> None:
    lot = '{ gate = "lot recorded", what = "bar stock", at = "arrive"'
    bench = open_bench(lambda: edited((lot, f'{{ do = "Fetch the bars", at = "arrive" }}, {lot}')))
    load = bench.form(10)
    (asked,) = judge_arrival_gates(bench.state, bench.state.loads[load], bench.clock())
    assert asked.gate.gate == "lot recorded"
    bench.say(BeginRun(load))


def test_looking_changes_nothing() -> None:
    bench, load = coated()
    before = fold(bench.state.entries)
    list_unmet_arrival_gates(bench.state, bench.state.loads[load], bench.clock())
    assert bench.state == before


# --- put back ------------------------------------------------------------------------------------------------------


def test_put_back_frees_the_station_and_leaves_the_load_where_it_stood() -> None:
    bench, load = coated()
    other = bench.form(10)
    run = bench.begin(load)
    taken = bench.refused(BeginRun(other))
    assert taken.wrong == "Mill busy: Pallet 1 (load 1) at op 30"
    assert "put it back" in taken.remedy
    pieces = run.pieces

    entry = bench.say(PutBack(run.number))[0]
    assert describe(bench.state, entry) == "load 1, op 30: put back, nothing done to the pieces"
    state = bench.state.loads[load]
    assert (state.run, state.at, bench.state.find_next_pieces(state)) == (None, 30, pieces)
    assert [due.urgency for due in list_due_tasks([bench.state], bench.clock()) if due.load == load] == ["later"]
    bench.say(BeginRun(other))
    conserved(bench.state)
    assert bench.state == fold(bench.state.entries)
    assert bench.refused(PutBack(run.number)).why == "not now"
    assert "start it again" in bench.refused(PutBack(run.number)).remedy
    assert all(stay.run.number != run.number for stay in trace(bench.state, pieces[0]).stays), "no piece was there"


def test_what_was_proved_of_the_load_falls_and_what_was_proved_at_the_station_stands() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "load step 2")
    run = bench.run_of(load)
    assert ("probed", load, "mill", "G54") in bench.state.proofs
    entry = bench.say(PutBack(run.number))[0]
    assert "of its walk to be done again" in describe(bench.state, entry)
    bench.say(BeginRun(load))
    done = {line.key for line in bench.walk(load).lines if line.is_satisfied}
    assert {"program loaded 1", "tool loaded 1", "tool loaded 2", "signed 1"} <= done, "the mill stays made ready"
    assert not done & {"probed 1", "confirmed 1", "load step 1"}, "the pallet was not on it"
    assert "put back" in bench.line(load, "probed 1").verdict.why  # type: ignore[union-attr]


def test_a_set_up_that_nobody_made_takes_the_one_before_it_down_no_more() -> None:
    bench = open_bench()
    first = bench.form(10)
    bench.through(first, 10)
    bench.through(first, 20)
    setup = bench.state.find_setup("mill")
    assert setup is not None
    assert setup.op == 10
    bench.say(PutBack(bench.begin(first).number))
    again = bench.state.find_setup("mill")
    assert again is not None
    assert (again.number, again.op) == (setup.number, 10)
    second = bench.form(10)
    bench.begin(second)
    assert bench.line(second, "program loaded 1").is_satisfied, "nothing at the mill was changed"


@pytest.mark.parametrize("said", [Disturb("mill", "refixtured"), TakeDown("mill", "B0002")])
def test_the_set_up_before_does_not_come_back_over_what_was_reported_since(said: Disturb | TakeDown) -> None:
    bench = open_bench()
    first = bench.form(10)
    bench.through(first, 10, 20)
    run = bench.begin(first)
    bench.say(said)
    bench.say(PutBack(run.number))
    assert bench.state.find_setup("mill") is None


def test_a_set_up_that_was_made_stays() -> None:
    bench, load = coated()
    bench.clock.forward(13 * 3600)
    bench.through(load, 30)
    other = bench.form(10)
    bench.until(other, "signed 1")
    bench.say(PutBack(bench.run_of(other).number))
    standing = bench.state.find_setup("mill")
    assert standing is not None
    assert standing.op == 10
    assert not bench.say(BeginRun(other))[0].body["new_setup"]


def test_a_waiver_of_what_was_put_back_is_no_longer_open() -> None:
    bench, load = coated()
    run = bench.begin(load)
    bench.say(Waive(run.number, "cured 1", "test pieces only"), by="LL")
    bench.say(PutBack(run.number))
    assert not bench.state.list_open_waivers()
    bench.say(BeginRun(load, anyway=True))
    assert bench.current(load).state == "waits", "it was waived for that run alone"


def test_a_waiver_of_another_load_stays_open() -> None:
    bench, load = coated()
    run = bench.begin(load)
    bench.say(Waive(run.number, "cured 1", "test pieces only"), by="LL")
    bench.through(load)
    other = bench.begin(bench.form(10))
    bench.say(PutBack(other.number))
    assert [waiver.run for waiver in bench.state.list_open_waivers()] == [run.number]


@pytest.mark.parametrize(
    ("op", "key", "wrong", "remedy"),
    [
        (10, "end", "its cycle was started", "strike the start out"),
        (10, "after step 1", "its cycle was started", "end it, count and release"),
        (10, "release", "is counted", "strike the count out"),
        (20, "coat", "Mix lacquer and hardener is done", "finish it"),
    ],
)
def test_once_the_work_began_it_is_finished_instead(op: int, key: str, wrong: str, remedy: str) -> None:
    bench = open_bench()
    load = bench.form(10)
    if op == 20:
        bench.through(load, 10)
    bench.until(load, key)
    refused = bench.refused(PutBack(bench.run_of(load).number))
    assert refused.why == "not now"
    assert wrong in refused.wrong
    assert remedy in refused.remedy


def test_what_was_reworked_cannot_be_put_back() -> None:
    bench, load = coated()
    bench.clock.forward(13 * 3600)
    bench.until(load, "count")
    bench.say(CountRun(bench.run_of(load).number, 3, (MarkedPieces("bare", ("A1",)),)))
    bench.hand().work(load)
    assert bench.state.loads[load].at == 20
    bench.until(load, "rework touch up 1")
    run = bench.run_of(load).number
    bench.say(DoStep(run, "rework touch up 1"))
    assert "Scrape the place to bare metal is done" in bench.refused(PutBack(run)).wrong


def test_nor_what_was_reworked_before_a_cycle() -> None:
    again = "back_to = 10\npasses = 1"
    pick = f'{again}\nsteps = [{{ do = "Pick the groove clean", at = "load" }}]'
    bench = open_bench(lambda: edited((again, pick)), start=4)
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.through(load, 30, marks=(MarkedPieces("shallow", ("A1",)),))
    bench.until(load, "rework regroove 1")
    run = bench.run_of(load).number
    bench.say(DoStep(run, "rework regroove 1"))
    assert "Pick the groove clean is done" in bench.refused(PutBack(run)).wrong


def test_where_there_is_no_cycle_a_step_that_was_done_is_the_work_and_one_skipped_is_none() -> None:
    bench = open_bench(start=4)
    load = bench.form(10)
    bench.through(load, 10, 20, 30)
    bench.through(bench.form(40), 40)
    tote = bench.form(50)
    bench.until(tote, "load step 1")
    bench.say(SkipStep(bench.run_of(tote).number, "load step 1", "packed loose"))
    bench.say(PutBack(bench.run_of(tote).number))
    bench.until(tote, "load step 1")
    run = bench.run_of(tote).number
    bench.say(DoStep(run, "load step 1"))
    assert "Bag each piece is done" in bench.refused(PutBack(run)).wrong


def test_a_start_that_was_struck_out_does_not_count_again_once_the_load_was_put_back() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "end")
    started = next(entry for entry in bench.state.entries if entry.kind == "cycle_started")
    struck = bench.say(StrikeOut(started.seq, "it never ran"))[0]
    bench.say(PutBack(bench.run_of(load).number))
    assert bench.refused(StrikeOut(struck.seq, "it did run")).why == "later entries"


def test_putting_back_can_be_struck_out_unless_the_load_went_on() -> None:
    bench, load = coated()
    run = bench.begin(load)
    entry = bench.say(PutBack(run.number))[0]
    bench.say(StrikeOut(entry.seq, "wrong load"))
    assert bench.run_of(load).number == run.number
    assert bench.run_of(load).pieces

    entry = bench.say(PutBack(run.number))[0]
    bench.say(BeginRun(load, anyway=True))
    assert bench.refused(StrikeOut(entry.seq, "wrong load")).why == "later entries"


def test_who_has_no_run_to_put_back_is_told() -> None:
    bench = open_bench()
    assert bench.refused(PutBack(7)).why == "unknown"
