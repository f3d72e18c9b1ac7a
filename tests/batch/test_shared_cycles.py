"""One cycle that takes several loads: started, watched and ended once, each load proved and counted by itself."""

from __future__ import annotations

from datetime import timedelta

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.corrections.from_paper import TranscribeAct
from floor.batch.describe import describe
from floor.batch.fold import fold
from floor.batch.gates.tool_life import compute_tool_life
from floor.batch.stations.commands import Disturb
from floor.batch.walk.clocks import compute_planned_end
from floor.batch.walk.commands import BeginRun, DoStep, EndCycle, StartCycle
from floor.batch.walk.put_back import PutBack
from floor.batch.walk.shared_cycles import count_pieces_in_cycle, find_runs_in_cycle
from floor.batch.walk.stop_cycle import StopCycle
from floor.batch.worklist.due_task import DueTask
from floor.batch.worklist.large_view_content import build_large_view
from floor.batch.worklist.tasks import list_due_tasks
from tests.batch.factory import ONE_CYCLE, TURNED, Bench, edited, one_cycle, open_bench, two_up


@pytest.fixture
def bench() -> Bench:
    """Two pallets on the bed of the mill, both at the start of their cycle."""
    bench = open_bench(one_cycle, start=8)
    for load in (bench.form(10), bench.form(10)):
        bench.until(load, "start")
    return bench


@pytest.fixture
def running(bench: Bench) -> Bench:
    bench.say(StartCycle(1))
    return bench


def rows(bench: Bench) -> dict[int | None, DueTask]:
    return {due.load: due for due in list_due_tasks([bench.state], bench.clock()) if due.go in ("run", "begin")}


def test_loads_there_before_cycle_start_share_the_cycle(bench: Bench) -> None:
    begun = [entry for entry in bench.state.entries if entry.kind == "run_begun"]
    assert [entry.body["cycle"] for entry in begun] == [1, 1]
    assert "for one cycle with load 1" in describe(bench.state, begun[1])
    assert bench.current(1).title == "Start the cycle, with Pallet 2"
    assert bench.current(2).title == "Start the cycle, with Pallet 1"


def test_one_start_one_watch_and_one_end_serve_all_of_them(bench: Bench) -> None:
    (started,) = bench.say(StartCycle(2))
    assert started.body["along"] == [1]
    assert describe(bench.state, started) == "load 2, op 10: cycle started, with load 1"
    for load in (1, 2):
        assert bench.run_of(load).running
        assert bench.run_of(load).started_by == "AA"
    (watched,) = bench.say(DoStep(1, "cycle step 1"))
    assert watched.body["along"] == [2]
    assert bench.current(2).key == "end"
    bench.clock.forward(1200)
    (ended,) = bench.say(EndCycle(1), "BB")
    assert describe(bench.state, ended) == "load 1, op 10: cycle ended, with load 2"
    assert {bench.run_of(load).ended_by for load in (1, 2)} == {"BB"}


def test_what_is_done_to_one_load_before_the_cycle_is_not_done_to_the_other() -> None:
    bench = open_bench(one_cycle, start=8)
    for load in (bench.form(10), bench.form(10)):
        bench.until(load, "load step 1")
    assert "along" not in bench.say(DoStep(1, "load step 1"))[0].body
    assert bench.current(2).key == "load step 1"


def test_what_is_watched_is_not_watched_for_a_load_that_has_to_be_probed_again(running: Bench) -> None:
    """Nor does the cycle end without it; and put back it is not, for it has been cut."""
    running.say(Disturb("mill", "lifted", load=2))
    assert running.current(2).key != "cycle step 1"
    assert "along" not in running.say(DoStep(1, "cycle step 1"))[0].body
    refused = running.refused(EndCycle(1))
    assert refused.remedy == "bring Pallet 2 (load 2) to the same line"


def test_each_load_is_counted_and_released_by_itself(running: Bench) -> None:
    assert running.hand().work(1)
    assert running.state.loads[1].at == 20
    assert running.run_of(2).count is None
    assert running.current(2).phase == "after"
    assert running.hand().work(2)


def test_the_cycle_waits_for_the_load_that_is_not_ready(bench: Bench) -> None:
    bench.say(Disturb("mill", "lifted", load=2))
    for run in (1, 2):
        assert bench.refused(StartCycle(run)).why == "gate"
    said = str(bench.refused(StartCycle(1)))
    assert "Pallet 2 (load 2) is in this cycle too and is not ready: Press each corner" in said
    assert "put it back (u on its walk) and start without it" in said
    due = rows(bench)
    assert due[1].urgency == "blocked"
    assert "load 2 first (Press each corner: nothing rocks)" in due[1].what
    assert due[2].urgency == "now"


def test_a_load_that_is_put_back_is_left_out(bench: Bench) -> None:
    bench.say(PutBack(2))
    assert bench.current(1).title == "Start the cycle"
    (started,) = bench.say(StartCycle(1))
    assert "along" not in started.body
    assert bench.state.loads[2].run is None


def test_what_comes_after_the_start_is_of_the_next_cycle() -> None:
    bench = open_bench(one_cycle, start=8)
    first, second = bench.form(10), bench.form(10)
    bench.until(first, "end")
    run = bench.begin(second)
    assert find_runs_in_cycle(bench.state, run) == [run]
    assert bench.run_of(first).running


def test_no_more_loads_than_the_checklist_says() -> None:
    three = edited(
        ('offsets = ["G54"]\n', 'offsets = ["G54"]\nruns_at_once = 3\n'),
        ('program = "KB7-10 A"\n', 'program = "KB7-10 A"\nloads_per_cycle = 2\n'),
    )
    bench = open_bench(lambda: three, start=12)
    runs = [bench.begin(bench.form(10)) for _ in range(3)]
    assert [run.cycle for run in runs] == [1, 1, 3]


def test_the_planned_end_is_that_of_one_cycle() -> None:
    by_piece = edited(
        (
            'time = { before = "2 min", cycle = "20 min", after = "1 min" }',
            'loads_per_cycle = 2\ntime = { before = "2 min", cycle = "20 min", cycle_piece = "1 min" }',
        ),
        ('offsets = ["G54"]\n', 'offsets = ["G54"]\nruns_at_once = 2\n'),
    )
    bench = open_bench(lambda: by_piece, start=8)
    for load in (bench.form(10), bench.form(10)):
        bench.until(load, "start")
    bench.say(StartCycle(1))
    for load in (1, 2):
        ends = compute_planned_end(bench.state, bench.run_of(load), bench.clock())
        assert ends is not None
        assert (ends - bench.clock().at).total_seconds() == 60 * (20 + 8)


def test_the_tool_must_last_for_all_loads_and_is_worn_by_each_piece_once(bench: Bench) -> None:
    assert compute_tool_life(bench.state, bench.run_of(1), 1) == (3600.0, 8 * 300.0)
    bench.say(StartCycle(1))
    bench.say(DoStep(1, "cycle step 1"))
    bench.clock.forward(1200)
    bench.say(EndCycle(2))
    assert bench.state.tools["mill", 1].used == 8 * 300.0


def test_a_second_load_in_the_cycle_takes_its_share_of_the_tool() -> None:
    bench = open_bench(lambda: edited(*ONE_CYCLE, ('life = "60 min"', 'life = "30 min"')), start=8)
    first, second = bench.form(10), bench.form(10)
    bench.until(first, "start")
    bench.begin(second)
    line = bench.current(first)
    assert line.verdict is not None
    assert line.verdict.why == "tool 1 has 30 min left, these loads take 40 min"


def test_one_row_of_what_is_next_for_one_cycle(bench: Bench) -> None:
    due = rows(bench)
    assert list(due) == [1]
    assert due[1].what == "Start the cycle, with Pallet 2"
    bench.say(StartCycle(1))
    bench.say(DoStep(1, "cycle step 1"))
    due = rows(bench)
    assert list(due) == [1]
    assert (due[1].urgency, due[1].what) == ("later", "Confirm cycle complete, with Pallet 2")
    seen = build_large_view(bench.state, bench.clock(), due[1])
    assert (seen.carrier, seen.offset) == ("Pallet 1, 2 of 3", "G54, G55")
    bench.clock.forward(1200)
    bench.say(EndCycle(1))
    assert set(rows(bench)) == {1, 2}


def test_loads_of_one_cycle_have_a_row_each_while_something_is_done_to_each() -> None:
    """Both are at the same step, which one person does at one load and then at the other."""
    bench = open_bench(one_cycle, start=8)
    for load in (bench.form(10), bench.form(10)):
        bench.until(load, "load step 1")
    assert {load: due.what for load, due in rows(bench).items()} == {1: "Clamp the pallet", 2: "Clamp the pallet"}


def test_what_is_next_says_that_a_load_comes_into_a_cycle() -> None:
    bench = open_bench(one_cycle, start=8)
    first, second = bench.form(10), bench.form(10)
    bench.until(first, "start")
    assert rows(bench)[second].what == "Start, for one cycle with Pallet 1"


def test_a_stop_stands_for_all_and_it_goes_on_with_all(running: Bench) -> None:
    stopped = running.say(StopCycle(2, "alarm"))[0]
    assert describe(running.state, stopped) == "load 2, op 10: cycle stopped, with load 1: alarm"
    assert not running.run_of(1).running
    running.clock.forward(300)
    assert running.say(StartCycle(1))[0].body["along"] == [2]
    for load in (1, 2):
        assert running.run_of(load).running
        assert running.run_of(load).stood == 300
    assert count_pieces_in_cycle(running.state, running.run_of(1)) == 8


def test_a_stop_that_voids_what_one_load_needs_holds_both(running: Bench) -> None:
    running.say(StopCycle(1, "crash"))
    refused = running.refused(StartCycle(1))
    assert refused.why == "gate"
    running.until(1, "start")
    assert "Pallet 2 (load 2) is in this cycle too" in running.refused(StartCycle(1)).wrong


def test_the_start_is_struck_out_for_all_or_for_none(running: Bench) -> None:
    start = running.state.entries[-1].seq
    running.say(StrikeOut(start, "it never ran"))
    assert not any(running.run_of(load).started for load in (1, 2))
    running.say(StartCycle(2))
    running.say(DoStep(1, "cycle step 1"))
    running.say(EndCycle(2))
    refused = running.refused(StrikeOut(running.state.entries[-3].seq, "it never ran"))
    assert refused.why == "later entries"


def test_a_start_from_paper_is_not_before_what_was_done_at_the_other_load(bench: Bench) -> None:
    bench.clock.forward(3600)
    last = bench.state.entries[-1].done
    refused = bench.refused(TranscribeAct(StartCycle(1), last.replace(minute=0)))
    assert refused.why == "input"
    bench.say(TranscribeAct(StartCycle(1), bench.clock().at))
    assert bench.run_of(2).running


def test_one_load_in_a_cycle_for_two_is_cut_alone() -> None:
    bench = open_bench(one_cycle, start=4)
    load = bench.form(10)
    assert bench.hand().work(load)


def test_a_checklist_without_it_says_nothing_of_cycles() -> None:
    bench = open_bench(two_up, start=8)
    entry = bench.say(BeginRun(bench.form(10)))[0]
    assert "cycle" not in entry.body
    assert fold(bench.state.entries).runs[1].cycle == 0


def test_from_paper_it_goes_on_no_earlier_than_the_other_load_was_proved_to_sit() -> None:
    bench = open_bench(lambda: edited(*ONE_CYCLE, *TURNED), start=8)
    for load in (bench.form(10), bench.form(10)):
        bench.until(load, "start")
    bench.say(StartCycle(1))
    bench.until(1, "turn")
    bench.say(DoStep(1, "turn"))
    bench.clock.forward(60)
    bench.prove(2, "confirmed 2")
    between = bench.clock().at
    bench.clock.forward(180)
    bench.prove(1, "confirmed 2")
    bench.clock.forward(600)

    refused = bench.refused(TranscribeAct(DoStep(2, "second side"), between + timedelta(minutes=1)))

    assert refused.why == "input"
    assert "before what was done last here" in refused.wrong


def test_a_load_put_back_is_not_listed_in_the_cycle(bench: Bench) -> None:
    bench.say(PutBack(1))

    [begun] = bench.say(BeginRun(1, anyway=True))

    assert "for one cycle with load 2" in describe(bench.state, begun)
    assert "with load 1" not in describe(bench.state, begun)


def test_a_run_started_alone_shares_no_cycle() -> None:
    bench = open_bench(start=8)
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10)
    bench.until(second, "start")

    begun = [describe(bench.state, entry) for entry in bench.state.entries if entry.kind == "run_begun"]
    assert len(begun) == 2
    assert not [said for said in begun if "for one cycle" in said]
