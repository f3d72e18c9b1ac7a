"""A cycle that stops early: tool breakage, crash, power loss; and a clock set while one runs."""

from __future__ import annotations

from datetime import timedelta

import pytest

from floor.batch.corrections.commands import Note, StrikeOut
from floor.batch.counting.commands import HoldBack
from floor.batch.describe import describe
from floor.batch.gates.commands import Prove
from floor.batch.handover.page import (
    build_handover_page,
    list_safety_lines,
)
from floor.batch.handover.risks import (
    find_risks,
)
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.run import Run
from floor.batch.stations.commands import Disturb
from floor.batch.walk.clocks import compute_planned_end, compute_window_spans, judge_clock
from floor.batch.walk.commands import EndCycle, StartCycle
from floor.batch.walk.lines import Line
from floor.batch.walk.stop_cycle import STOPS, StopCycle
from floor.batch.worklist.tasks import list_due_tasks
from floor.checklist.gates import Cured
from floor.wall import shift_time
from tests.batch.factory import MORNING, Bench, conserved, open_bench, thermal_break
from tests.batch.test_clocks import H

CYCLE = 20 * 60.0


def cutting(bench: Bench) -> tuple[int, Run]:
    load = bench.form(10)
    bench.until(load, "end")
    return load, bench.run_of(load)


def ends_in(bench: Bench, load: int) -> float:
    ends = compute_planned_end(bench.state, bench.run_of(load), bench.clock())
    assert ends is not None
    return (ends - bench.clock().at).total_seconds()


@pytest.mark.parametrize(
    ("why", "void"),
    [
        ("tool broke", {"tool loaded 1", "signed 1"}),
        ("crash", {"tool loaded 1", "signed 1", "probed 1"}),
        ("power lost", {"probed 1", "program loaded 1", "signed 1", "confirmed 1"}),
        ("alarm", set()),
        ("stopped", set()),
    ],
)
def test_what_is_void_is_proved_again_and_then_the_cycle_goes_on(why: str, void: set[str]) -> None:
    """Common practice, no source: a crash puts zero and tool in doubt, a power loss everything the control knew."""
    bench = open_bench()
    load, run = cutting(bench)
    bench.say(StopCycle(run.number, why, tool=1))
    assert not bench.run_of(load).running
    assert {line.key for line in bench.walk(load).lines if line.kind == "gate" and not line.is_satisfied
            and line.phase in ("arrive", "setup", "load")} == void  # fmt: skip
    assert bench.refused(EndCycle(run.number)).why in ("not now", "gate")
    for key in [line.key for line in bench.walk(load).lines if line.key in void]:
        assert bench.current(load).key == key
        bench.say(bench.hand()._proof(bench.run_of(load), bench.current(load)))  # type: ignore[arg-type]
    start = bench.current(load)
    assert (start.key, start.state) == ("start", "reopened")
    assert why in start.title
    bench.say(StartCycle(run.number))
    assert bench.current(load).key == "end"
    bench.through(load)
    conserved(bench.state)


def test_the_time_it_stood_is_left_out_of_the_time_it_ran() -> None:
    bench = open_bench()
    load, run = cutting(bench)
    left = ends_in(bench, load)
    bench.clock.forward(300)
    bench.say(StopCycle(run.number, "alarm", at=bench.clock().at - timedelta(seconds=60)))
    assert compute_planned_end(bench.state, bench.run_of(load), bench.clock()) is None
    bench.clock.forward(3600)
    bench.say(StartCycle(run.number))

    assert ends_in(bench, load) == left - 240
    assert bench.run_of(load).ran(bench.clock().at) == CYCLE - left + 240
    stopped, resumed = bench.state.entries[-2:]
    assert describe(bench.state, stopped) == "load 1, op 10: cycle stopped: alarm, 1 min before this was entered"
    assert describe(bench.state, resumed) == "load 1, op 10: cycle resumed"


def test_a_restarted_cycle_takes_its_whole_time_and_wears_the_tool_twice() -> None:
    bench = open_bench()
    load, run = cutting(bench)
    bench.clock.forward(300)
    bench.say(StopCycle(run.number, "stopped"))
    before = bench.state.tools["mill", 1].used
    bench.clock.forward(600)
    bench.say(StartCycle(run.number, anew=True))

    assert ends_in(bench, load) == CYCLE
    bench.through(load)
    assert bench.state.tools["mill", 1].used - before == 2 * 4 * 300


def test_a_tool_that_broke_is_a_new_one_and_not_worn_by_what_the_old_one_cut() -> None:
    bench = open_bench()
    load, run = cutting(bench)
    bench.clock.forward(300)
    bench.say(StopCycle(run.number, "tool broke", tool=1))
    bench.clock.forward(60)
    bench.until(load, "start")
    bench.say(StartCycle(run.number, anew=True))
    assert bench.state.tools["mill", 1].used == 0


def test_it_is_reported_wherever_one_looks_until_it_goes_on() -> None:
    bench = open_bench()
    load, run = cutting(bench)
    bench.say(StopCycle(run.number, "crash", tool=1, note="clamp stood up"))

    assert "stopped" in find_risks(bench.state)
    assert [line.text for line in list_safety_lines(bench.state, bench.clock()) if "STOPPED" in line.text] == [
        "Mill: load 1, op 10 Mill the groove, cycle STOPPED since 07:04: crash"
    ]
    assert [due.urgency for due in list_due_tasks([bench.state], bench.clock()) if due.load == load] == ["now"]
    assert any(
        "clamp stood up" in line.text
        for section in build_handover_page(bench.state, bench.clock())
        for line in section.lines
    )


def test_the_pieces_may_be_set_aside_and_the_run_is_over_with_the_last() -> None:
    bench = open_bench(start=4)
    load, run = cutting(bench)
    bench.say(StopCycle(run.number, "crash", tool=1))
    bench.say(SetPiecesAside("scrap", "hit by the clamp", load=load, count=3))
    assert len(bench.run_of(load).pieces) == 1
    bench.say(SetPiecesAside("hold", "hit by the clamp", load=load, count=1))
    assert bench.state.runs[run.number].released is not None
    conserved(bench.state)


def test_a_stop_that_cannot_be_is_refused() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "probed 1")
    run = bench.run_of(load).number
    assert bench.refused(StopCycle(run, "alarm")).why == "not now"
    bench.until(load, "end")
    assert bench.refused(StopCycle(run, "bored")).why == "input"
    assert bench.refused(StopCycle(run, "tool broke")).why == "input"
    now = bench.clock().at
    for at in (now + timedelta(minutes=1), MORNING - timedelta(hours=1)):
        assert bench.refused(StopCycle(run, "alarm", at=at)).why == "input"
    assert set(STOPS) == {"tool broke", "crash", "power lost", "alarm", "stopped"}


def test_striking_a_stop_out_lets_the_cycle_run_on() -> None:
    bench = open_bench()
    load, run = cutting(bench)
    stop = bench.say(StopCycle(run.number, "alarm"))[0]
    bench.say(StrikeOut(stop.seq, "the other machine"))
    assert bench.run_of(load).running
    assert bench.current(load).key == "end"


# --- the shop's clock is set while a cycle runs ---------------------------------------------------------------------


@pytest.mark.parametrize("step", [-5 * H, 5 * H, 400 * 86400.0])
@pytest.mark.parametrize("noticed", [True, False], ids=["an entry after it", "no entry after it"])
def test_setting_the_clock_during_a_cycle_moves_its_end_along(step: float, noticed: bool) -> None:
    bench = open_bench()
    load, run = cutting(bench)
    left = ends_in(bench, load)
    bench.clock.forward(60)
    bench.clock.step(step)
    if noticed:
        bench.say(Note("the clock was wrong"))

    assert ends_in(bench, load) == left - 60
    (due,) = (one for one in list_due_tasks([bench.state], bench.clock()) if one.load == load)
    assert due.urgency == "later"
    running = next(line.text for line in list_safety_lines(bench.state, bench.clock()) if line.text.startswith("Mill"))
    assert running.endswith(f"running {int(CYCLE - left + 60) // 60} min of 20 min")


def test_a_clock_at_the_end_of_the_calendar_stops_nobody() -> None:
    bench = open_bench()
    load, _ = cutting(bench)
    bench.clock.step((MORNING.replace(year=9999, month=12, day=31) - bench.clock().at).total_seconds())
    bench.say(Note("somebody typed 9999"))

    assert list_due_tasks([bench.state], bench.clock())
    assert build_handover_page(bench.state, bench.clock())
    assert shift_time(bench.clock().at, 1e12).year == 9998
    assert shift_time(MORNING, -1e12).year == 2


def test_a_soak_without_power_does_not_count_and_starts_again_with_its_step() -> None:
    """The heat goes with the power: earlier oven time is not added up (common practice, no source); toward the latest
    end it all counts."""
    bench = open_bench(thermal_break, 16, 16)
    pallet = bench.form(10)
    while bench.state.loads[pallet].dissolved is None:
        bench.hand().work(pallet)
    tray = bench.form(50)

    def soaking(line: Line) -> bool:
        return line.kind == "gate" and isinstance(line.step, Cured) and line.step.clock == "soak"

    bench.hand().work(tray, stop=soaking)
    run = bench.run_of(tray)
    found = bench.state.checklist.clock("soak")
    assert found is not None
    soak, began = found[1], bench.clock().at
    earliest, latest = soak.windows[0].earliest, soak.windows[0].latest
    assert earliest is not None
    assert latest is not None
    bench.clock.forward(earliest.base - 600)
    bench.say(StopCycle(run.number, "power lost"))
    assert judge_clock(bench.state, soak, run.pieces, bench.clock()).status == "not started"
    bench.clock.forward(1800)
    assert not bench.hand().work(tray, stop=soaking)
    again = judge_clock(bench.state, soak, run.pieces, bench.clock())
    assert again.status == "wait", "half an hour without power ripens nothing"
    assert again.opens is not None
    assert again.opens - bench.clock().at > timedelta(seconds=earliest.base - 120)

    [(opens, closes)] = compute_window_spans(bench.state, soak, run.pieces, bench.clock())
    assert opens == again.opens
    assert closes is not None
    assert abs(closes - began - timedelta(seconds=latest.base)) < timedelta(minutes=2)
    conserved(bench.state)


def test_power_that_is_lost_at_a_station_stops_whatever_runs_there() -> None:
    """Two trays in one oven: the power loss may be reported at either, or by another batch."""
    bench = open_bench()
    load, run = cutting(bench)
    bench.say(Disturb(run.station, "power lost"), by="BB")
    stopped = bench.run_of(load).stopped
    assert stopped is not None
    assert stopped.why == "power lost"
    assert bench.refused(EndCycle(run.number)).why in ("not now", "gate")
    bench.until(load, "start")
    bench.say(StartCycle(run.number))
    bench.through(load)
    conserved(bench.state)


def test_the_last_pieces_are_not_taken_out_of_a_cycle_that_runs() -> None:
    """The station would count as free while it runs. Tool wear of the cycle counts once it is given up."""
    bench = open_bench()
    load, run = cutting(bench)
    all_of_it = SetPiecesAside("scrap", "wrong stock", load=load, count=4)
    for command, by in ((all_of_it, "AA"), (HoldBack(run.number, "wrong stock"), "LL")):
        refused = bench.refused(command, by)
        assert refused.wrong == "the cycle of Pallet 1 (load 1) runs at Mill, and no piece would be left in it"
        assert refused.remedy == "end the cycle, or report that it stopped (x), then set them aside"
    bench.say(SetPiecesAside("scrap", "fell off", load=load, count=1))
    bench.say(StopCycle(run.number, "stopped"))

    bench.say(HoldBack(run.number, "wrong stock"), "LL")

    assert bench.state.list_open_runs() == []
    assert bench.state.tools["mill", 1].used == 3 * 300
    conserved(bench.state)


def test_a_new_tool_out_of_its_limits_does_not_let_the_cycle_go_on() -> None:
    """A repeated proof after a stop is judged like the first one."""
    bench = open_bench()
    load, run = cutting(bench)
    bench.say(StopCycle(run.number, "tool broke", tool=1))
    line = bench.current(load)
    assert line.key == "tool loaded 1"
    bench.say(Prove(run.number, line.key, {"tool": 7, "length": 4.0}))
    again = bench.current(load)
    assert (again.key, again.state) == (line.key, "reopened"), "another tool than the one that is wanted"
    assert bench.refused(StartCycle(run.number)).why in ("gate", "not now")
    bench.say(Prove(run.number, line.key, {"tool": 1, "length": 4.0}))
    bench.until(load, "start")
    assert bench.line(load, "tool loaded 1").is_satisfied


@pytest.mark.parametrize("anew", [True, False])
def test_a_cycle_starts_resumes_or_starts_over_and_the_entry_says_which(anew: bool) -> None:
    bench = open_bench()
    load, run = cutting(bench)
    [first] = [entry.body for entry in bench.state.entries if entry.kind == "cycle_started"]
    assert first == {"run": run.number, "op": 10}
    bench.say(StopCycle(run.number, "alarm"))
    bench.until(load, "start")
    [entry] = bench.say(StartCycle(run.number, anew=anew))
    assert entry.body == {"run": run.number, "op": 10, ("anew" if anew else "resumed"): True}
