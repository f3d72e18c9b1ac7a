"""What is due: a window that has closed is missed and comes first, and says for which pieces; carriers go by name."""

from __future__ import annotations

from floor.batch.command import OtherBatches
from floor.batch.corrections.commands import StrikeOut
from floor.batch.gates.commands import Waive
from floor.batch.handover.commands import OfferHandover
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.walk.commands import StartCycle
from floor.batch.walk.load_clocks import list_load_clocks
from floor.batch.walk.standing import say_waiver
from floor.batch.worklist.due_task import DueTask, say_when
from floor.batch.worklist.tasks import list_due_tasks
from tests.batch.factory import Bench, open_bench


def due(bench: Bench) -> list[DueTask]:
    return list_due_tasks([bench.state], bench.clock(), {"B0001": bench.elsewhere})


def baked(bench: Bench) -> int:
    """A tray out of the oven, its pieces put into a tote: they are packed between half an hour and eight hours on."""
    bench.through(bench.form(10), 10, 20, 30)
    bench.clock.forward(48 * 3600)
    bench.through(bench.form(40))
    return bench.form(50)


def test_a_window_that_has_closed_comes_first_before_and_in_its_run() -> None:
    bench = open_bench(order=2, start=8)
    tote = baked(bench)
    bench.clock.forward(9 * 3600)
    first = due(bench)[0]
    assert (first.urgency, first.load, first.go) == ("overdue", tote, "begin")
    assert first.what == "cooling time limit passed for Tote 1"
    assert say_when(first, bench.clock().at) == "missed"
    bench.begin(tote)
    bench.say(OfferHandover("something else that is due"))
    first = due(bench)[0]
    assert (first.urgency, first.go) == ("overdue", "run")
    assert first.what == "cooling time limit passed for Tote 1"


def test_it_says_which_pieces_of_the_carrier_were_too_old() -> None:
    """One plate was baked the day before the other three; they came together on one tray of six places."""
    bench = open_bench(order=2, start=4)
    bench.through(bench.form(10, count=1), 10, 20, 30)
    bench.clock.forward(48 * 3600)
    bench.through(bench.form(40))
    bench.through(bench.form(10, count=3), 10, 20, 30)
    bench.clock.forward(48 * 3600)
    bench.through(bench.form(40))
    bench.clock.forward(1800)
    tote = bench.form(50)
    bench.begin(tote)
    verdict = bench.current(tote).verdict
    assert verdict is not None
    assert verdict.why == "cooling time limit passed for Tote 1 (1 of 4 pieces)", "loose in a tote"
    assert verdict.clear == "set the pieces aside (m), or have a lead waive it"
    bench.say(SetPiecesAside("hold", "cooled too long", load=tote, count=1))


def test_a_station_is_taken_by_a_carrier_that_can_be_seen() -> None:
    bench = open_bench()
    one, _ = bench.form(10), bench.form(10)
    bench.begin(one)
    bench.elsewhere = OtherBatches(runs={})
    (blocked,) = (line for line in due(bench) if line.urgency == "blocked" and line.go == "begin")
    assert blocked.what == "Mill busy: Pallet 1 (load 1)"


def worn_out() -> tuple[Bench, int]:
    """Three pallets cut with a tool that lasts for them, and cure; the fourth stands at the mill and finds it worn."""
    bench = open_bench(start=16)
    for _ in range(2):
        bench.through(bench.form(10), 10, 20)
    bench.through(bench.form(10), 10)
    last = next(load.number for load in bench.state.list_live_loads() if load.at == 20)
    bench.through(last, 20)
    bench.clock.forward(12 * 3600)
    first = bench.state.list_live_loads()[0].number
    bench.through(first, 30)
    load = bench.form(10)
    bench.begin(load)
    bench.prove(load, "program loaded 1", program="KB7-10 A")
    return bench, load


def test_a_worn_tool_is_work_to_do_now_above_running_cures() -> None:
    bench, load = worn_out()
    tray = bench.form(40)
    bench.until(tray, "end")
    assert bench.current(load).state == "blocked"
    found = due(bench)
    change = next(one for one in found if one.load == load)
    assert (change.urgency, change.go) == ("now", "run")
    assert change.what == "Change the tool: tool 1 has 0 s left, this load takes 20 min"
    assert say_when(change, bench.clock().at) == "now"
    ripens = next(one for one in found if one.load == tray)
    assert ripens.urgency == "later"
    assert found.index(change) < found.index(ripens)


def test_what_only_a_decision_clears_in_a_run_is_work_to_do_now_too() -> None:
    """A clock that never started never finishes: only a lead can move the load on."""
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.clock.forward(13 * 3600)
    started = next(entry for entry in bench.state.entries if entry.body.get("line") == "coat")
    bench.begin(load)
    bench.say(StrikeOut(started.seq, "coated another pallet"), by="LL")
    assert bench.current(load).state == "blocked"
    (mine,) = (one for one in due(bench) if one.load == load)
    assert (mine.urgency, mine.what) == ("now", "cure has not started for 4 pieces")


def test_a_waiver_of_an_earlier_load_is_called_so() -> None:
    bench = open_bench(order=2, start=4)
    load = bench.form(10)
    bench.until(load, "probed 1")
    bench.say(Waive(bench.run_of(load).number, "probed 1", "probe broken"), by="LL")
    (waiver,) = bench.state.list_open_waivers()
    assert say_waiver(bench.state, waiver, load).startswith("Waived on this load: Probe G54")
    bench.through(load, 10, 20, 30)
    tray = bench.form(40)
    assert bench.state.list_open_waivers(bench.state.loads[tray]) == [waiver]
    assert say_waiver(bench.state, waiver, tray).startswith(f"Waived earlier, on load {load}: Probe G54")


def test_the_step_is_numbered_by_where_it_stands() -> None:
    """A mix that goes off sends the walk back to it: the same step as before, whatever was done since."""
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "mix")
    before = bench.walk(load).step
    bench.until(load, "coat")
    bench.clock.forward(41 * 60)
    assert bench.current(load).key == "mix"
    assert bench.walk(load).step == before


def test_a_window_that_was_open_at_the_start_is_no_matter_of_the_cycle_that_runs() -> None:
    """The oven was entered in time; the coat's clock no longer matters for the tray in it."""
    bench = open_bench(start=4, order=4)
    pallet = bench.form(10)
    bench.through(pallet, 10, 20)
    bench.clock.forward(49 * 3600)
    bench.through(pallet, 30)
    tray = bench.form(40)
    bench.until(tray, "start")
    load = bench.state.loads[tray]
    assert "recoat" in [name for name, *_ in list_load_clocks(bench.state, load, bench.clock())]
    bench.say(StartCycle(bench.run_of(tray).number))
    assert "recoat" not in [name for name, *_ in list_load_clocks(bench.state, bench.state.loads[tray], bench.clock())]
