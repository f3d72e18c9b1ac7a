"""Pieces turned over during a cycle: the program stops, the pieces are proved seated, the same cycle goes on."""

from __future__ import annotations

from datetime import timedelta

import pytest

from floor.batch.corrections import commands
from floor.batch.corrections.commands import Note, StrikeOut
from floor.batch.fold import Inapplicable, fold
from floor.batch.gates.commands import Waive
from floor.batch.handover.page import list_safety_lines
from floor.batch.stations.commands import Disturb
from floor.batch.walk.clocks import compute_planned_end
from floor.batch.walk.commands import DoStep, EndCycle, SkipStep, StartCycle
from floor.batch.walk.long_breaks import needs_person
from floor.batch.walk.next_run import find_next_run
from floor.batch.walk.shared_cycles import compute_run_seconds
from floor.batch.walk.stop_cycle import StopCycle
from floor.batch.worklist.due_task import DueTask
from floor.batch.worklist.large_view_content import build_large_view
from floor.batch.worklist.tasks import list_due_tasks
from floor.checklist.gate_base import Disturbance
from tests.batch.factory import ONE_CYCLE, TURNED, Bench, edited, open_bench, turned


@pytest.fixture
def bench() -> Bench:
    """A pallet whose first side is being cut since just now."""
    bench = open_bench(turned, start=4)
    bench.until(bench.form(10), "start")
    bench.say(StartCycle(1))
    bench.say(DoStep(1, "cycle step 1"))
    return bench


def due(bench: Bench) -> DueTask:
    return next(due for due in list_due_tasks([bench.state], bench.clock()) if due.load == 1)


def turn(bench: Bench, minutes: float = 10) -> None:
    bench.clock.forward(60 * minutes)
    bench.say(DoStep(bench.run_of(1).number, "turn"))


def test_the_turn_is_due_when_the_program_stops_for_it(bench: Bench) -> None:
    """20 min of cutting in two equal sides."""
    start = bench.run_of(1).started
    assert start is not None
    assert (due(bench).urgency, due(bench).what) == ("later", "Turn the pieces over")
    assert due(bench).when == start + timedelta(minutes=10)
    assert build_large_view(bench.state, bench.clock(), due(bench)).doing == "then Turn the pieces over"
    bench.clock.forward(10 * 60)
    assert due(bench).urgency == "now"


def test_the_planned_end_counts_the_turn_once(bench: Bench) -> None:
    """20 min of cutting, 1 min for each of 4 pieces."""
    run = bench.run_of(1)
    assert run.started is not None
    assert compute_planned_end(bench.state, run, bench.clock()) == run.started + timedelta(minutes=24)
    turn(bench)
    assert compute_planned_end(bench.state, bench.run_of(1), bench.clock()) is None, "it stands, nobody knows how long"
    bench.clock.forward(7 * 60)
    bench.prove(1, "confirmed 2")
    bench.say(DoStep(1, "second side"))
    assert bench.run_of(1).stood == 7 * 60
    assert compute_planned_end(bench.state, bench.run_of(1), bench.clock()) == run.started + timedelta(minutes=27)


def test_the_cycle_does_not_go_on_before_they_are_proved_to_sit(bench: Bench) -> None:
    turn(bench)
    assert bench.current(1).key == "confirmed 2"
    assert bench.refused(DoStep(1, "second side")).why == "not now"
    assert bench.refused(EndCycle(1)).why == "gate"
    bench.prove(1, "confirmed 2")
    bench.say(DoStep(1, "second side"))
    assert bench.current(1).key == "end"


def test_only_the_time_of_the_cuts_is_the_cycle(bench: Bench) -> None:
    turn(bench)
    bench.clock.forward(600)
    assert bench.run_of(1).ran(bench.clock().at) == 600
    bench.prove(1, "confirmed 2")
    bench.say(DoStep(1, "second side"))
    bench.clock.forward(660)
    bench.say(EndCycle(1))
    bench.clock.forward(3600)
    assert bench.run_of(1).ran(bench.clock().at) == 600 + 660


def test_somebody_is_needed_while_it_stands_and_the_next_shift_is_told(bench: Bench) -> None:
    assert not needs_person(bench.run_of(1))
    turn(bench)
    assert needs_person(bench.run_of(1))
    said = [line.text for line in list_safety_lines(bench.state, bench.clock())]
    assert any("program at its planned stop since" in text and "Turn the pieces over" in text for text in said)


def test_where_they_sat_was_probed_before_they_were_moved(bench: Bench) -> None:
    assert ("probed", 1, "mill", "G54") in bench.state.proofs
    probed = bench.line(1, "probed 1").evidence
    assert probed.startswith("X 0 mm, Z 0 mm · AA 07:0")
    turn(bench)
    assert ("probed", 1, "mill", "G54") not in bench.state.proofs
    assert bench.line(1, "probed 1").is_satisfied, "the first side was cut by it"
    assert bench.line(1, "probed 1").evidence == probed, "what was probed, by whom and when stays readable"
    assert "Turn the pieces over" in bench.state.voids["probed", 1, "mill", "G54"].why


def test_the_second_side_is_probed_where_the_checklist_asks() -> None:
    again = (
        TURNED[1][0],
        TURNED[1][1].replace(
            '{ gate = "confirmed", do = "Seated: no feeler goes in", at = "cycle", waive = "never" }',
            '{ gate = "probed", offset = "G54", axes = [{ name = "Z", low = "-0.1 mm", high = "0.1 mm" }], '
            'at = "cycle" }',
        ),
    )
    bench = open_bench(lambda: edited(TURNED[0], again), start=4)
    bench.until(bench.form(10), "turn")
    bench.say(DoStep(1, "turn"))
    assert bench.current(1).key == "probed 2"
    bench.prove(1, "probed 2", Z=0)
    bench.say(DoStep(1, "second side"))


def test_the_turn_is_neither_skipped_nor_done_twice(bench: Bench) -> None:
    bench.clock.forward(600)
    refused = bench.refused(SkipStep(1, "turn", "no time"))
    assert (refused.why, refused.signs) == ("authority", ""), "nor by a lead"
    bench.say(DoStep(1, "turn"))
    assert bench.refused(DoStep(1, "turn")).why == "not now"


def test_a_stop_while_it_stands_counts_its_time_once(bench: Bench) -> None:
    turn(bench)
    bench.clock.forward(60)
    bench.say(StopCycle(1, "alarm"))
    bench.clock.forward(300)
    bench.say(StartCycle(1))
    assert bench.run_of(1).stands is not None
    bench.clock.forward(60)
    bench.prove(1, "confirmed 2")
    bench.say(DoStep(1, "second side"))
    assert bench.run_of(1).stood == 60 + 300 + 60


def test_a_restarted_cycle_is_turned_again(bench: Bench) -> None:
    turn(bench)
    bench.prove(1, "confirmed 2")
    bench.say(DoStep(1, "second side"))
    bench.say(StopCycle(1, "alarm"))
    bench.until(1, "start")
    bench.say(StartCycle(1, anew=True))
    assert bench.current(1).key == "turn"
    assert bench.run_of(1).stood == 0
    turn(bench)
    assert bench.current(1).key == "confirmed 2"


def test_a_record_that_goes_on_without_a_turn_is_not_sound(bench: Bench) -> None:
    turn(bench)
    at = bench.state.entries[-1].seq
    bench.prove(1, "confirmed 2")
    bench.say(DoStep(1, "second side"))
    with pytest.raises(Inapplicable, match="the program does not stand"):
        fold([one for one in bench.state.entries if one.seq != at])


def test_struck_out_it_stands_again(bench: Bench) -> None:
    turn(bench)
    at = bench.state.entries[-1].seq
    bench.prove(1, "confirmed 2")
    bench.say(DoStep(1, "second side"))
    assert bench.refused(StrikeOut(at, "not turned")).why == "later entries"
    bench.say(StrikeOut(at + 2, "it did not go on"))
    assert bench.run_of(1).stands is not None
    assert bench.current(1).key == "second side"


def test_a_start_is_not_struck_out_from_under_the_turn(bench: Bench) -> None:
    start = bench.run_of(1).started_seq
    turn(bench)
    stands = bench.run_of(1).stands
    assert stands is not None
    refused = bench.refused(StrikeOut(start, "wrong load"))
    assert (refused.why, refused.remedy) == ("later entries", f"strike out entry {stands.seq} first")
    bench.say(StrikeOut(stands.seq, "not turned"))
    bench.say(StrikeOut(start, "wrong load"))
    assert bench.run_of(1).started is None


def test_where_an_old_record_has_the_turn_alone_other_entries_are_struck_out(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    start = bench.run_of(1).started_seq
    turn(bench)
    note = bench.say(Note("chips"))[0].seq
    with monkeypatch.context() as as_before:
        as_before.setattr(commands, "_refuse_standing_never_started", lambda *_: None)
        bench.say(StrikeOut(start, "wrong load"))
    run = bench.run_of(1)
    assert (run.started, run.stands is None) == (None, False)
    bench.say(StrikeOut(note, "no chips"))
    assert note in bench.state.struck


@pytest.mark.parametrize("goes_on", [False, True])
def test_when_the_power_goes_at_the_turn_or_after_it_the_seat_is_proved_before_the_cycle_is_resumed(
    bench: Bench, goes_on: bool
) -> None:
    """Behind the start, the feeler would be pushed into a running machine."""
    turn(bench)
    bench.prove(1, "confirmed 2")
    if goes_on:
        bench.say(DoStep(1, "second side"))
    bench.say(Disturb("mill", "power lost"))
    bench.until(1, "confirmed 2")
    assert bench.refused(StartCycle(1)).why == "gate", "seated was said before power failure"
    bench.prove(1, "confirmed 2")
    assert bench.until(1, "start").title.endswith("resume after it stopped (power lost)")
    bench.say(StartCycle(1))
    assert bench.current(1).key == ("end" if goes_on else "second side")


SHUT = (
    '  { do = "Start the second side"',
    '  { do = "Shut the door again", id = "door", at = "cycle", skip = false },\n  { do = "Start the second side"',
)


def shut_at_the_turn() -> Bench:
    bench = open_bench(lambda: edited(*TURNED, SHUT), start=4)
    bench.until(bench.form(10), "turn")
    turn(bench)
    bench.prove(1, "confirmed 2")
    bench.say(DoStep(1, "door"))
    return bench


def test_it_stays_shut_in_batches_of_earlier_editions() -> None:
    bench = shut_at_the_turn()
    bench.state.rules = 4
    bench.say(Disturb("mill", "power lost"))
    assert bench.line(1, "door").state == "done"


@pytest.mark.parametrize("what", ["lifted", "refixtured", "tool changed", "rezeroed", "power lost"])
def test_a_door_shut_at_the_turn_is_shut_again_after_hands_were_in(what: Disturbance) -> None:
    bench = shut_at_the_turn()
    load, tool = 1 if what == "lifted" else None, 1 if what == "tool changed" else None
    bench.say(Disturb("mill", what, load, tool))
    assert bench.line(1, "door").state != "done"
    bench.until(1, "second side")
    assert bench.line(1, "door").state == "done"
    keys = [line.key for line in bench.walk(1).lines]
    assert keys.index("confirmed 2") < keys.index("door") < keys.index("second side")


def test_loads_of_one_cycle_are_turned_over_together() -> None:
    bench = open_bench(lambda: edited(*ONE_CYCLE, *TURNED), start=8)
    for load in (bench.form(10), bench.form(10)):
        bench.until(load, "start")
    bench.say(StartCycle(1))
    bench.say(DoStep(1, "cycle step 1"))
    bench.clock.forward(600)
    assert bench.say(DoStep(2, "turn"))[0].body["along"] == [1]
    assert all(bench.run_of(load).stands for load in (1, 2))
    bench.prove(1, "confirmed 2")
    refused = bench.refused(DoStep(1, "second side"))
    assert "Pallet 2 (load 2) is in this cycle too and is not ready: Seated" in refused.wrong
    bench.prove(2, "confirmed 2")
    bench.say(DoStep(1, "second side"))
    assert not any(bench.run_of(load).stands for load in (1, 2))


def test_an_operator_works_it_to_the_end_and_the_pieces_are_counted_once(bench: Bench) -> None:
    assert bench.hand().work(1)
    assert bench.state.loads[1].at == 20
    assert bench.state.tools["mill", 1].used == 4 * 300.0


SOAK = (
    '  { gate = "first piece accepted", independent = true },\n]',
    '  { gate = "first piece accepted", independent = true },\n'
    '  { gate = "cured", clock = "soak", at = "after" },\n]\nclocks = [{ id = "soak", starts = "start", '
    'windows = [{ earliest = "1 min" }], source = "Shop rule" }]',
)
WAIVABLE = (
    'do = "Seated: no feeler goes in", at = "cycle", waive = "never"',
    'do = "Seated: no feeler goes in", at = "cycle"',
)


def test_what_is_turned_stays_turned_when_the_cycle_stops_and_a_clock_of_it_stands() -> None:
    """A clock started in the cycle makes later steps repeat; pieces already turned over are not turned again."""
    bench = open_bench(lambda: edited(*TURNED, SOAK), start=4)
    bench.until(bench.form(10), "turn")
    bench.say(DoStep(1, "turn"))
    bench.say(StopCycle(1, "alarm"))
    bench.until(1, "start")
    bench.say(StartCycle(1))

    assert bench.refused(DoStep(1, "turn")).why == "not now"
    bench.until(1, "second side")
    bench.say(DoStep(1, "second side"))
    bench.through(1)
    assert fold(bench.state.entries) == bench.state


def test_a_waiver_does_not_count_for_a_restarted_cycle() -> None:
    bench = open_bench(lambda: edited(*TURNED, WAIVABLE), start=4)
    bench.until(bench.form(10), "turn")
    bench.say(DoStep(1, "turn"))
    bench.say(Waive(1, "confirmed 2", "the feeler is lost"), by="LL")
    bench.say(DoStep(1, "second side"))
    bench.say(StopCycle(1, "alarm"))
    bench.until(1, "start")
    bench.say(StartCycle(1, anew=True))
    bench.until(1, "turn")
    bench.say(DoStep(1, "turn"))

    assert bench.current(1).key == "confirmed 2"
    assert bench.refused(DoStep(1, "second side")).why == "not now"
    assert [waiver.title for waiver in bench.state.list_open_waivers()] == ["Seated: no feeler goes in"], (
        "it stays in sight"
    )


def test_how_long_a_run_takes_has_the_turning_over_and_the_other_loads_of_its_cycle() -> None:
    """Each load is made ready and seen to by itself, the cycle is one, and it stands while all of them are turned."""
    one = open_bench(turned, start=4)
    load = one.state.loads[one.form(10)]
    assert compute_run_seconds(one.state, find_next_run(one.state, load, one.clock())) == 60 * (2 + 20 + 4 * 1 + 1)

    two = open_bench(lambda: edited(*ONE_CYCLE), start=8)
    first, second = two.form(10), two.form(10)
    two.until(first, "start")
    run = find_next_run(two.state, two.state.loads[second], two.clock())
    assert compute_run_seconds(two.state, run) == 60 * (2 * 2 + 20 + 2 * 1)

    both = open_bench(lambda: edited(*ONE_CYCLE, *TURNED), start=8)
    first, second = both.form(10), both.form(10)
    both.until(first, "start")
    run = find_next_run(both.state, both.state.loads[second], both.clock())
    assert compute_run_seconds(both.state, run) == 60 * (2 * 2 + 20 + 8 * 1 + 2 * 1)


def test_an_operator_starts_nothing_that_outlasts_the_shift_with_its_turning_over() -> None:
    """27 minutes in total, 4 of them for turning over."""
    for left, begins in ((26, False), (27, True)):
        bench = open_bench(turned, start=4)
        load = bench.form(10)
        hand = bench.hand()
        what = due(bench)
        ends = bench.clock().at + timedelta(minutes=left)

        hand._take(what, lambda run: (), ends)

        assert (bench.state.loads[load].run is not None) == begins
