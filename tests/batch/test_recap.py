"""CBP-43: on return, the last step done, how long ago, who worked meanwhile, which gates lapsed."""

from __future__ import annotations

from datetime import timedelta

import pytest

from floor.batch.corrections.commands import Note, StrikeOut
from floor.batch.handover.commands import (
    AcceptHandover,
    CountSubjectPieces,
    OfferHandover,
    ReadBackLine,
    ReadHandoverPage,
)
from floor.batch.handover.page import list_count_subjects, list_safety_lines
from floor.batch.lifecycle.enter_half_done import EnterLate
from floor.batch.lifecycle.half_done import PlacedPieces
from floor.batch.stations.commands import Disturb
from floor.batch.walk.commands import Pause
from floor.batch.walk.recap import AT_WORK, AWAY, describe_other_person, find_last_walk, find_recap
from tests.batch.factory import Bench, edited, open_bench


@pytest.fixture
def bench() -> Bench:
    return open_bench()


def told(bench: Bench, load: int) -> str:
    recap = find_recap(bench.state, bench.run_of(load), bench.clock(), "AA")
    return str(recap) if recap is not None else ""


def test_a_short_absence_is_none(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "start")

    bench.clock.forward(AWAY.total_seconds() - 1)

    assert told(bench, load) == ""


def test_an_absence_is_long_from_15_min_on(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "load step 1")
    bench.clock.forward(15 * 60)
    assert told(bench, load).startswith("Last entry 15 min ago: Second look at tools and program")


def test_who_left_before_the_last_entry_was_not_there_since(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "load step 1")
    bench.say(Note("belt squeaks"), by="BB")
    bench.until(load, "start")
    bench.clock.forward(1800)
    recap = find_recap(bench.state, bench.run_of(load), bench.clock(), "AA")
    assert recap is not None
    assert recap.others == ()


def test_of_a_run_that_was_entered_half_done_everything_was_entered_since(bench: Bench) -> None:
    bench.clock.forward(7200)
    now = bench.clock().at
    row = PlacedPieces("load", 4, 10, 1, stands="runs", began=now - timedelta(minutes=10))
    bench.say(EnterLate((row, PlacedPieces("waiting", 4, 10)), now), by="LL")
    bench.say(Note("by the door"), by="BB")
    bench.say(Note("by the window"), by="AA")
    bench.clock.forward(1200)
    run = bench.run_of(1)
    assert str(find_recap(bench.state, run, bench.clock(), "CC")).startswith("Last entry ")
    assert "Since then, entries by AA, BB, LL" in str(find_recap(bench.state, run, bench.clock(), "CC"))


def test_after_a_longer_one_it_says_last_pause_others_and_what_lapsed(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "start")
    bench.say(Pause(bench.run_of(load).number, "called away"))
    bench.clock.forward(600)
    bench.say(Disturb("mill", "lifted", load=load), by="BB")

    bench.clock.forward(1800)

    said = told(bench, load)
    assert said.startswith("Last entry 40 min ago: paused: called away (AA). ")
    assert "paused: called away" in said
    assert "Since then, entries by BB." in said
    assert "To repeat: " in said
    assert "Probe G54" in said


def test_a_step_that_lapsed_meanwhile_is_told_too() -> None:
    door = '{ do = "Shut the door", at = "load", '
    bench = open_bench(lambda: edited((door, f"{door}skip = false, ")))
    load = bench.form(10)
    bench.until(load, "start")
    bench.say(Disturb("mill", "tool changed", tool=2), by="BB")
    bench.clock.forward(1800)
    recap = find_recap(bench.state, bench.run_of(load), bench.clock(), "AA")
    assert recap is not None
    assert "Shut the door" in recap.lapsed
    assert "Clamp the pallet" not in recap.lapsed


def test_a_released_run_needs_none(bench: Bench) -> None:
    load = bench.form(10)
    run = bench.begin(load)
    bench.hand().work(load)

    bench.clock.forward(7200)

    assert find_recap(bench.state, run, bench.clock(), "AA") is None


def hand_over(bench: Bench, taker: str = "BB") -> None:
    bench.say(OfferHandover("as usual"))
    for subject in list_count_subjects(bench.state):
        bench.say(CountSubjectPieces(subject.key, subject.expected), taker)
    for line in list_safety_lines(bench.state, bench.clock()):
        bench.say(ReadBackLine(line.key), taker)
    bench.say(ReadHandoverPage(), taker)
    bench.say(AcceptHandover(talked="face to face"), taker)


def seen_by(bench: Bench, load: int, who: str) -> str:
    return describe_other_person(bench.state, bench.run_of(load), bench.clock(), who)


def test_who_was_at_the_load_a_moment_ago_is_named_to_the_other(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "start")

    assert seen_by(bench, load, "BB").startswith("AA is also working on this load: last entry ")
    assert seen_by(bench, load, "AA") == ""

    bench.clock.forward(AT_WORK.total_seconds() + 1)
    assert seen_by(bench, load, "BB") == ""


def test_who_wrote_a_note_at_the_load_is_at_it_and_a_note_of_the_batch_is_at_none(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "start")
    bench.say(Note("oil low"), "BB")
    assert seen_by(bench, load, "AA") == ""

    bench.say(Note("chips long", run=bench.run_of(load).number), "BB")

    assert seen_by(bench, load, "AA").startswith("BB is also working on this load: last entry ")


def test_who_handed_over_is_no_longer_at_the_load(bench: Bench) -> None:
    """Until he enters something there again; a third person, who stays, is named as before."""
    load, other = bench.form(10), bench.form(10)
    bench.until(load, "start")
    hand_over(bench)

    assert seen_by(bench, load, "BB") == ""

    bench.clock.forward(10)
    bench.say(Pause(bench.run_of(load).number, "helps on"))
    assert seen_by(bench, load, "BB").startswith("AA is also working on this load")
    bench.through(load)
    bench.begin(other, by="CC")
    bench.say(OfferHandover("as usual"), "BB")
    for subject in list_count_subjects(bench.state):
        bench.say(CountSubjectPieces(subject.key, subject.expected), "AA")
    bench.say(ReadHandoverPage(), "AA")
    for line in list_safety_lines(bench.state, bench.clock()):
        bench.say(ReadBackLine(line.key), "AA")
    bench.say(AcceptHandover(talked="face to face"), "AA")
    assert seen_by(bench, other, "AA").startswith("CC is also working on this load")


def test_handing_over_does_not_count_as_work_on_the_batch(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "start")
    hand_over(bench)
    bench.clock.forward(AWAY.total_seconds())

    assert "Meanwhile" not in str(find_recap(bench.state, bench.run_of(load), bench.clock(), "BB"))


def test_the_last_walk_is_that_of_the_newest_entry_whatever_it_says(bench: Bench) -> None:
    """After a crash one key leads back to it: a note does no work, and still it was written on that walk."""
    assert find_last_walk([bench.state], "AA") is None
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10)
    one, two = bench.begin(first).number, bench.begin(second).number
    assert find_last_walk([bench.state], "AA") == (bench.state.id, two)

    bench.clock.forward(60)
    said = bench.say(Note("oil low", run=one))[0]
    assert find_last_walk([bench.state], "AA") == (bench.state.id, one)
    bench.clock.forward(60)
    bench.say(Note("chips long", run=two), "BB")
    assert find_last_walk([bench.state], "AA") == (bench.state.id, one), "one's own before another's"
    assert find_last_walk([bench.state], "CC") == (bench.state.id, two), "else anybody's"
    bench.say(StrikeOut(said.seq, "not of this run"))
    assert find_last_walk([bench.state], "AA") == (bench.state.id, two), "what is struck out was not"
