"""What a proof lapses on: CBP-31 and CBP-44 of the guidance followed (the rules by kind are a decision of our own)."""

from __future__ import annotations

from datetime import timedelta
from functools import partial

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.fold import fold
from floor.batch.gates.lapse_causes import DISTURBANCES
from floor.batch.lifecycle.enter_half_done import EnterLate
from floor.batch.lifecycle.half_done import PlacedPieces
from floor.batch.state import RULES
from floor.batch.stations.commands import Disturb
from floor.batch.walk.commands import DoStep, StartCycle
from floor.batch.walk.long_breaks import LONG_BREAK
from floor.batch.walk.stop_cycle import STOPS, StopCycle
from floor.checklist.gate_base import Disturbance
from floor.checklist.loading import read_checklist
from floor.checklist.operation import Do
from floor.checklist.usual_lapses import LAPSES, find_usual_lapses
from floor.text import format_clock
from tests.batch.factory import HERE, Bench, edited, open_bench, part, thermal_break

PROBE = '{ gate = "probed", offset = "G54", axes = [{ name = "X"'
HUMIDITY = 'high = "85 pct", waive = "never" }'
ROCK = '{ gate = "confirmed", do = "Press each corner: nothing rocks", at = "load", waive = "never" }'


def disturb(bench: Bench, station: str, what: Disturbance, load: int) -> None:
    bench.say(Disturb(station, what, load if what == "lifted" else None, 1 if what == "tool changed" else None))


def by_the_first_edition(bench: Bench) -> Bench:
    """The same batch as opened by an earlier version: its entry names no edition."""
    assert bench.state.rules == RULES
    bench.state.rules = 1
    return bench


@pytest.mark.parametrize("what", DISTURBANCES)
def test_a_reading_of_the_station_is_void_once_the_power_was_lost(what: Disturbance) -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "coat")
    assert bench.line(load, "measured 1").state == "done"

    disturb(bench, "bench", what, load)

    assert (bench.line(load, "measured 1").state != "done") == (what == "power lost")


def test_a_reading_of_the_station_stood_in_batches_of_the_first_edition() -> None:
    bench = by_the_first_edition(open_bench())
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "coat")

    disturb(bench, "bench", "power lost", load)

    assert bench.line(load, "measured 1").state == "done"


@pytest.mark.parametrize(("what", "void"), [("lifted", True), ("refixtured", True), ("power lost", False)])
def test_a_measurement_before_the_cycle_is_void_once_the_piece_is_clamped_again(what: Disturbance, void: bool) -> None:
    measured = '{ gate = "measured", what = "height over the vise", at = "load", of = "piece", low = "2 mm" }'
    bench = open_bench(partial(edited, (ROCK, f"{ROCK}, {measured}")))
    load = bench.form(10)
    bench.until(load, "start")

    disturb(bench, "mill", what, load)

    assert (bench.line(load, "measured 1").state != "done") == void


def test_what_is_measured_of_a_piece_after_its_cycle_stands() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "count")

    for what in DISTURBANCES:
        disturb(bench, "mill", what, load)

    assert bench.line(load, "measured 1").state == "done"


@pytest.mark.parametrize(("says", "what", "void"), [
    ('["tool changed"]', "tool changed", True), ('["tool changed"]', "power lost", False), ("[]", "lifted", False),
])  # fmt: skip
def test_the_checklist_may_say_what_a_proof_lapses_on(says: str, what: Disturbance, void: bool) -> None:
    bench = open_bench(partial(edited, (ROCK, ROCK.replace(" }", f", lapses_on = {says} }}"))))
    load = bench.form(10)
    bench.until(load, "start")

    disturb(bench, "mill", what, load)

    assert (bench.line(load, "confirmed 1").state != "done") == void


def test_an_unknown_event_is_refused_with_its_line() -> None:
    text = (HERE / "part.toml").read_text().replace(ROCK, ROCK.replace(" }", ', lapses_on = ["rained on"] }'))
    problems = read_checklist(text, "part.toml").problems
    assert len(problems) == 1
    assert problems[0].line == 1 + text[: text.index("rained on")].count("\n")


def test_a_safety_check_is_made_again_after_a_long_break() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "start")
    proof = next(proof for key, proof in bench.state.proofs.items() if key.gate == "confirmed")
    at = format_clock(proof.at, bench.clock().at)
    bench.clock.forward(LONG_BREAK.total_seconds())
    assert bench.line(load, "confirmed 1").state == "done"

    bench.clock.forward(1)
    verdict = bench.current(load).verdict
    assert bench.current(load).key == "confirmed 1"
    assert verdict is not None
    assert verdict.why == f"work stopped for more than 2 h 00 after AA confirmed it at {at}"

    bench.prove(load, "confirmed 1")
    assert bench.line(load, "confirmed 1").state == "done"


def test_it_stood_in_batches_of_the_first_edition() -> None:
    bench = by_the_first_edition(open_bench())
    load = bench.form(10)
    bench.until(load, "start")
    bench.clock.forward(LONG_BREAK.total_seconds() + 1)
    assert bench.line(load, "confirmed 1").state == "done"


def test_what_is_no_safety_check_stands_over_a_break() -> None:
    bench = open_bench(partial(edited, (ROCK, ROCK.replace(', waive = "never"', ""))))
    load = bench.form(10)
    bench.until(load, "start")
    bench.clock.forward(LONG_BREAK.total_seconds() + 1)
    assert bench.line(load, "confirmed 1").state == "done"


def test_a_cycle_that_runs_by_itself_is_no_break() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "end")
    bench.clock.forward(5 * 3600)
    assert bench.current(load).key == "end"


SAFE_SETUP = (
    '{ gate = "confirmed", id = "draws", do = "The extraction draws", at = "setup", per = "setup", waive = "never" }'
)


@pytest.mark.parametrize(("hours", "again"), [(1.5, False), (3, True)])
def test_one_for_the_set_up_is_made_again_where_the_next_load_comes_after_a_break(hours: float, again: bool) -> None:
    bench = open_bench(partial(edited, (ROCK, f"{ROCK}, {SAFE_SETUP}")))
    one, two = bench.form(10), bench.form(10)
    bench.through(one, 10)
    assert bench.state.runs[1].touched is not None
    bench.clock.forward(hours * 3600)
    bench.begin(two)

    assert (bench.line(two, "draws").state != "done") == again


def test_work_on_other_loads_of_the_set_up_is_no_break() -> None:
    bench = open_bench(partial(edited, (ROCK, f"{ROCK}, {SAFE_SETUP}")), start=12)
    loads = [bench.form(10) for _ in range(3)]
    for load in loads[:2]:
        bench.through(load, 10)
        bench.clock.forward(1.5 * 3600)
    bench.begin(loads[2])
    assert bench.line(loads[2], "draws").state == "done"


def test_the_edition_of_the_rules_stands_in_the_record() -> None:
    bench = open_bench()
    assert bench.state.rules == RULES
    assert bench.state.entries[0].body["rules"] == RULES == 5


# --- steps

DOOR = '{ do = "Shut the door", at = "load", cautions = ["cutter"] }'
SHUT = (DOOR, '{ do = "Shut the door", id = "door", at = "load", skip = false, cautions = ["cutter"] }')
"""An edit of the test part: nobody may skip the door, the last line before the start."""


def at_the_start(*edits: tuple[str, str]) -> tuple[Bench, int]:
    bench = open_bench(partial(edited, *(edits or (SHUT,))))
    load = bench.form(10)
    bench.until(load, "start")
    return bench, load


@pytest.mark.parametrize("what", DISTURBANCES)
def test_a_door_is_shut_again_after_whatever_took_hands_at_the_machine(what: Disturbance) -> None:
    """The guard is in place before the cycle: 29 CFR 1910.212(a)(1), from memory; by which events, our own decision."""
    bench, load = at_the_start()
    disturb(bench, "mill", what, load)
    bench.until(load, "door")
    assert bench.current(load).key == "door"
    verdict = bench.current(load).verdict
    assert verdict is not None
    assert DISTURBANCES[what] in verdict.why
    assert bench.refused(StartCycle(bench.run_of(load).number)).why == "gate"

    bench.say(DoStep(bench.run_of(load).number, "door"))
    bench.until(load, "start")
    assert fold(bench.state.entries) == bench.state


@pytest.mark.parametrize("why", STOPS)
def test_a_door_is_shut_again_before_a_stopped_cycle_goes_on(why: str) -> None:
    bench, load = at_the_start()
    bench.say(StartCycle(bench.run_of(load).number))
    assert bench.line(load, "door").state == "done"

    bench.say(StopCycle(bench.run_of(load).number, why, tool=1))

    bench.until(load, "door")
    assert bench.current(load).state == "reopened"
    assert f"the cycle stopped ({why})" in str(bench.current(load).verdict)
    bench.until(load, "start")


def test_a_door_stays_shut_for_what_happens_elsewhere_or_once_the_cycle_is_over() -> None:
    bench, load = at_the_start()
    other = bench.form(10)
    bench.say(Disturb("mill", "lifted", other))
    bench.say(Disturb("bench", "power lost"))
    assert bench.current(load).key == "start"

    bench.until(load, "count")
    bench.say(Disturb("mill", "power lost"))
    assert bench.line(load, "door").state == "done"


@pytest.mark.parametrize(
    ("says", "what", "again"),
    [('["refixtured"]', "power lost", False), ('["refixtured"]', "refixtured", True), ("[]", "refixtured", False)],
)
def test_the_checklist_may_say_what_a_step_lapses_on(says: str, what: Disturbance, again: bool) -> None:
    bench, load = at_the_start((DOOR, SHUT[1].replace("skip = false", f"skip = false, lapses_on = {says}")))
    disturb(bench, "mill", what, load)
    assert (bench.line(load, "door").state != "done") == again


TRAY = '  { do = "Take the tray out", at = "after"'
PURGE = '{ id = "purge", starts = "step exhaust on", windows = [{ earliest = "5 min"LATEST }], source = "Shop rule" }'


def at_the_oven(latest: str = "", says: str = ', lapses_on = ["power lost"]', to: str = "end") -> tuple[Bench, int]:
    """A load in the oven, by default its cycle running; the exhaust was started, and purged it for 5 minutes before."""
    lines = (
        f'  {{ do = "Start the exhaust", id = "exhaust on", at = "load", skip = false{says} }},\n'
        '  { gate = "cured", do = "Keep the heat off", clock = "purge", at = "load", waive = "never" },\n'
    )
    clock = PURGE.replace("LATEST", latest)
    oven = ('clocks = [{ id = "cooling"', f'clocks = [{clock}, {{ id = "cooling"')
    bench = open_bench(partial(edited, (TRAY, lines + TRAY), oven), start=4, order=4)
    bench.through(bench.form(10), 10, 20, 30)
    load = bench.form(40)
    bench.until(load, to)
    assert bench.run_of(load).running or to != "end"
    return bench, load


@pytest.mark.parametrize("stopped_first", [False, True])
def test_an_oven_is_purged_again_before_it_is_lit_again(stopped_first: bool) -> None:
    """Each light-off needs its purge before it: NFPA 86, from memory; that power lost stops a cycle is Floor's rule."""
    bench, load = at_the_oven()
    run = bench.run_of(load).number
    bench.clock.forward(1800)
    if stopped_first:
        bench.say(StopCycle(run, "alarm"))
        assert bench.line(load, "cured 2").state == "done", "the exhaust went on"
    bench.say(Disturb("oven", "power lost"))
    bench.until(load, "exhaust on")
    bench.say(DoStep(run, "exhaust on"))
    bench.until(load, "cured 2", wait=False)

    line = bench.current(load)
    assert line.key == "cured 2"
    assert line.verdict is not None
    assert line.verdict.status == "wait"
    assert bench.refused(StartCycle(run)).why == "gate"
    bench.clock.forward(301)
    bench.until(load, "start")
    bench.say(StartCycle(run))
    assert bench.run_of(load).running
    assert fold(bench.state.entries) == bench.state


@pytest.mark.parametrize(
    ("latest", "says"), [(', latest = "1 h"', ', lapses_on = ["power lost"]'), ("", ", lapses_on = []")]
)
def test_a_wait_that_must_end_in_time_or_whose_start_still_counts_is_not_asked_again(latest: str, says: str) -> None:
    bench, load = at_the_oven(latest, says)
    bench.say(Disturb("oven", "power lost"))
    assert "cured 2" not in bench.run_of(load).reopened


def test_a_wait_is_not_asked_again_in_batches_of_earlier_editions() -> None:
    bench, load = at_the_oven()
    bench.state.rules = 4
    bench.say(Disturb("oven", "power lost"))
    assert "exhaust on" in bench.run_of(load).reopened
    assert "cured 2" not in bench.run_of(load).reopened


def test_a_step_that_may_be_skipped_stays_done() -> None:
    bench, load = at_the_start((DOOR, SHUT[1].replace("skip = false, ", "")))
    bench.say(Disturb("mill", "power lost"))
    assert bench.line(load, "door").state == "done"


def test_a_door_is_shut_again_after_a_long_break_before_the_start() -> None:
    bench, load = at_the_start()
    mark = bench.run_of(load).marks["door"]
    bench.clock.forward(LONG_BREAK.total_seconds() - 3600)
    assert bench.line(load, "door").state == "done"
    bench.clock.forward(3600 + 60)
    verdict = bench.until(load, "door").verdict
    assert verdict is not None
    since = format_clock(mark.at, bench.clock().at)
    assert verdict.why == f"work stopped for more than 2 h 00 after AA did it at {since}"
    assert bench.refused(StartCycle(bench.run_of(load).number)).why == "gate"

    bench.say(DoStep(bench.run_of(load).number, "door"))
    bench.until(load, "start")
    bench.say(StartCycle(bench.run_of(load).number))
    bench.clock.forward(20 * 3600)
    assert bench.line(load, "door").state == "done", "a cycle that runs by itself is no break"


def test_a_door_is_shut_again_if_a_stopped_cycle_was_left_for_long_before_it_goes_on() -> None:
    bench, load = at_the_start()
    bench.until(load, "end")
    bench.say(StopCycle(bench.run_of(load).number, "alarm"))
    bench.until(load, "start")
    bench.clock.forward(20 * 3600)
    bench.until(load, "door")
    bench.until(load, "start")


def test_a_door_stays_shut_over_a_break_in_batches_of_earlier_editions_and_where_the_checklist_says_so() -> None:
    bench, load = at_the_start()
    bench.state.rules = 4
    bench.clock.forward(20 * 3600)
    assert bench.line(load, "door").state == "done"
    bench, load = at_the_start((DOOR, SHUT[1].replace("skip = false", "skip = false, lapses_on = []")))
    bench.clock.forward(20 * 3600)
    assert bench.line(load, "door").state == "done"


def test_nothing_that_starts_a_clock_is_done_twice_because_of_a_break_behind_it() -> None:
    bench, load = at_the_oven(says="", to="start")
    bench.clock.forward(20 * 3600)
    assert bench.line(load, "exhaust on").state == "done"


def test_a_step_stays_done_in_batches_of_earlier_editions() -> None:
    bench, load = at_the_start()
    bench.state.rules = 3
    bench.say(Disturb("mill", "power lost"))
    assert bench.line(load, "door").state == "done"


def test_a_door_is_shut_again_if_the_carrier_behind_it_is_probed_again() -> None:
    """Nobody reports that the zero was overwritten: the other carrier's probing says it."""
    two = ('offsets = ["G54"]\n', 'offsets = ["G54"]\nruns_at_once = 2\n')
    bench, load = at_the_start(SHUT, two)
    other = bench.form(10)
    bench.until(other, "door")
    assert bench.line(load, "door").state == "done"
    bench.until(load, "probed 1")

    bench.until(load, "door")
    assert "probed again" in str(bench.current(load).verdict)


def test_a_step_that_lapsed_by_a_struck_event_was_done_twice() -> None:
    bench, load = at_the_start()
    [lost] = bench.say(Disturb("mill", "power lost"))
    bench.until(load, "start")
    bench.say(StrikeOut(lost.seq, "no power was lost"), "LL")
    assert bench.line(load, "door").state == "done"
    assert fold(bench.state.entries) == bench.state


def test_only_steps_of_a_load_lapse() -> None:
    text = (HERE / "part.toml").read_text()
    chips = '{ do = "Brush the chips off", at = "after"'
    scrape = '"Scrape the place to bare metal"'
    for was in (chips, f'{{ do = {scrape}, at = "load"'):
        problems = read_checklist(text.replace(was, f'{was}, lapses_on = ["lifted"]'), "part.toml").problems
        assert ["lapse" in one.wrong for one in problems] == [True], problems


@pytest.mark.parametrize("what", DISTURBANCES)
def test_a_door_of_a_shipped_list_is_shut_last_before_the_start(what: Disturbance) -> None:
    bench = open_bench(thermal_break, start=16, order=8)
    load = bench.form(10)
    bench.until(load, "start")
    disturb(bench, bench.run_of(load).station, what, load)
    door = next(line.key for line in bench.walk(load).lines if line.title == "Shut the door")
    bench.until(load, door)
    open_lines = [line for line in bench.walk(load).lines if not line.is_satisfied and line.phase == "load"]
    assert [line.title.partition(":")[0] for line in open_lines if line.kind in ("do", "gate")] in (
        ["Shut the door"],
        ["Shut the door", "Set the control to prove out"],
    )
    bench.until(load, "start")
    assert fold(bench.state.entries) == bench.state


BY_CLAMPS = '{ gate = "work held", by = "clamps", do = "Tighten the clamps", at = "load", second = true }'


@pytest.mark.parametrize(("gate", "line"), [("tool loaded", "tool loaded 1"), ("work held", "work held 1")])
def test_a_door_is_shut_again_if_hands_were_behind_it_to_prove_something_once_more(gate: str, line: str) -> None:
    bench, load = at_the_start(SHUT, (ROCK, BY_CLAMPS))
    [proved] = [entry for entry in bench.state.entries if entry.body.get("line") == line]
    bench.say(StrikeOut(proved.seq, "typed wrong"), "LL")
    bench.until(load, line)
    assert bench.line(load, "door").state == "done"

    bench.until(load, "door")
    assert f"{gate} again" in str(bench.current(load).verdict)


def test_what_comes_before_the_gate_that_is_proved_again_stays_done() -> None:
    clamp = '{ do = "Clamp the pallet", at = "load" }'
    bench, load = at_the_start(SHUT, (clamp, clamp.replace("at =", 'id = "clamp", skip = false, at =')))
    [proved] = [entry for entry in bench.state.entries if entry.body.get("gate") == "probed"]
    bench.say(StrikeOut(proved.seq, "typed wrong"), "LL")
    clamped = bench.run_of(load).marks["clamp"]
    bench.until(load, "door")
    assert bench.run_of(load).marks["clamp"] == clamped


def test_a_step_without_a_cycle_lapses_only_on_what_the_checklist_says_and_not_once_the_pieces_are_counted() -> None:
    coat = 'id = "coat", at = "load", skip = false'
    for says, again in (("", False), (', lapses_on = ["power lost"]', True)):
        bench = open_bench(partial(edited, (coat, coat + says)))
        load = bench.form(10)
        bench.through(load, 10)
        bench.until(load, "count")
        bench.say(Disturb("bench", "power lost"))
        assert (bench.line(load, "coat").state != "done") == again
        bench.until(load, "release")
        bench.say(Disturb("bench", "power lost"))
        assert bench.line(load, "coat").state == "done"


def test_a_door_is_shut_again_in_a_run_that_was_entered_half_done() -> None:
    """Nobody knows whether it was shut before; that the cycle stopped is known."""
    bench = open_bench(partial(edited, SHUT), start=4, order=1)
    now = bench.clock().at
    bench.say(EnterLate((PlacedPieces("load", 4, 10, 1, stands="runs", began=now - timedelta(minutes=5)),), now), "LL")
    assert bench.line(1, "door").is_satisfied
    bench.say(StopCycle(bench.run_of(1).number, "alarm"))
    assert not bench.line(1, "door").is_satisfied


def test_a_mix_has_its_clock_and_lapses_on_nothing_by_default() -> None:
    coat, mix = (part().ops[20].step(line) for line in ("coat", "mix"))
    assert isinstance(coat, Do)
    assert isinstance(mix, Do)
    assert (find_usual_lapses(coat), find_usual_lapses(mix)) == (LAPSES, frozenset())


def test_a_door_that_was_shut_again_before_a_struck_stop_was_shut_twice() -> None:
    bench, load = at_the_start()
    bench.say(StartCycle(bench.run_of(load).number))
    [stopped] = bench.say(StopCycle(bench.run_of(load).number, "alarm"))
    [again] = bench.say(DoStep(bench.run_of(load).number, "door"))
    bench.say(StrikeOut(stopped.seq, "it did not stop"), "LL")
    assert bench.run_of(load).running
    assert bench.run_of(load).marks["door"].seq == again.seq
    assert fold(bench.state.entries) == bench.state


def test_a_step_done_again_tells_no_old_cause_once_its_clock_asks_for_it() -> None:
    mix = 'id = "mix", at = "load", '
    bench = open_bench(partial(edited, (mix, f'{mix}lapses_on = ["power lost"], ')))
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "coat")
    bench.say(Disturb("bench", "power lost"))
    bench.clock.forward(24 * 3600)
    assert DISTURBANCES["power lost"] in str(bench.line(load, "mix").verdict)
    bench.until(load, "coat")
    bench.clock.forward(24 * 3600)
    assert not bench.line(load, "mix").is_satisfied
    assert DISTURBANCES["power lost"] not in str(bench.line(load, "mix").verdict)
