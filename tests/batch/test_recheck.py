"""CBP-35: manual work left for too long: the steps done last are checked again before it goes on."""

from __future__ import annotations

from functools import partial

import pytest

from floor.batch.corrections.commands import Note, StrikeOut
from floor.batch.describe import describe, describe_parts
from floor.batch.walk.commands import CheckAgain, DoStep, Pause, StartCycle
from floor.papers.traveler import write_traveler
from tests.batch.factory import Bench, edited, open_bench

AFTER = ('program = "KB7-10 A"\n', 'program = "KB7-10 A"\nrecheck_after = "15 min"\n')
LIMIT = 15 * 60


@pytest.fixture
def bench() -> Bench:
    return open_bench(partial(edited, AFTER))


def at_the_start(bench: Bench) -> int:
    load = bench.form(10)
    bench.until(load, "start")
    return load


def test_after_a_short_break_nothing_is_asked(bench: Bench) -> None:
    load = at_the_start(bench)
    bench.clock.forward(LIMIT)
    assert bench.current(load).key == "start"


def test_after_a_long_one_the_last_steps_are_checked_again_and_nothing_goes_on_before(bench: Bench) -> None:
    load = at_the_start(bench)
    before = bench.walk(load)
    bench.clock.forward(LIMIT + 1)
    line, walked = bench.current(load), bench.walk(load)
    done = [one for one in before.lines[: before.place] if one.step is not None and one.kind != "caution"]
    assert line.kind == "recheck"
    assert line.title == f"Recheck: {'; '.join(one.title for one in done[-3:])}"
    assert [one.key for one in walked.lines if one.state in ("now", "reopened", "waits", "blocked")] == ["recheck"]
    assert (walked.step, walked.steps) == (before.step, before.steps), "it has no number of its own"
    run = bench.run_of(load)
    assert bench.refused(StartCycle(run.number)).wrong.startswith("Start the cycle: ")

    entry = bench.say(CheckAgain(run.number))[0]
    assert describe(bench.state, entry).endswith(line.title.replace("Recheck", "rechecked"))
    assert bench.current(load).key == "start"
    bench.say(StrikeOut(entry.seq, "not looked at"))
    assert bench.current(load).key == "recheck"


def test_a_note_or_a_pause_on_return_is_no_check(bench: Bench) -> None:
    load = at_the_start(bench)
    bench.clock.forward(LIMIT + 1)
    run = bench.run_of(load).number
    bench.say(Note("back again", run=run))
    bench.say(Pause(run, "called away"))
    assert bench.current(load).key == "recheck"


def test_only_steps_of_this_run_done_before_it_was_left_are_asked(bench: Bench) -> None:
    load = bench.form(10)
    bench.begin(load)
    first = bench.current(load)
    bench.clock.forward(LIMIT + 1)
    assert bench.current(load).key == first.key, "nothing was done yet"
    bench.until(load, "load step 1")
    bench.clock.forward(LIMIT + 1)
    assert "load step 1" not in bench.current(load).again
    keys = bench.current(load).again
    bench.say(CheckAgain(bench.run_of(load).number))
    bench.say(DoStep(bench.run_of(load).number, "load step 1"))
    assert bench.current(load).kind != "recheck"
    bench.clock.forward(LIMIT + 1)
    assert bench.current(load).again == (*keys, "load step 1")[-3:]


def test_a_running_cycle_is_no_interruption_and_what_was_before_it_is_not_asked_after_it(bench: Bench) -> None:
    load = at_the_start(bench)
    bench.until(load, "end")
    bench.clock.forward(LIMIT * 4)
    assert bench.current(load).kind != "recheck"
    bench.until(load, "count")
    done = [line.key for line in bench.walk(load).lines if line.phase == "after"]
    bench.clock.forward(LIMIT + 1)
    assert set(bench.current(load).again) <= set(done)
    assert bench.current(load).kind == "recheck"


def test_after_the_cycle_only_what_was_done_after_it_is_asked(bench: Bench) -> None:
    load = at_the_start(bench)
    bench.until(load, "measured 1")
    bench.clock.forward(LIMIT + 1)
    assert bench.current(load).again == ("after step 1",)


def test_once_counted_nothing_is_asked(bench: Bench) -> None:
    load = at_the_start(bench)
    bench.until(load, "release")
    bench.clock.forward(LIMIT + 1)
    assert bench.current(load).key == "release"


def test_what_was_done_for_an_earlier_load_of_the_set_up_is_not_asked(bench: Bench) -> None:
    bench.through(bench.form(10), 10)
    second = bench.form(10)
    bench.begin(second)
    assert bench.current(second).key == "load step 1"
    bench.clock.forward(LIMIT + 1)
    assert bench.current(second).key == "load step 1"


def test_while_it_waits_for_a_timer_nothing_is_asked() -> None:
    """Nobody works on it: what was done is looked at when the timer lets the work go on."""
    door = '{ do = "Shut the door", at = "load", cautions = ["cutter"] },\n]\nreasons = [\n  { code = "torn"'
    cured = '{ gate = "cured", clock = "cure", at = "load" },'
    bench = open_bench(
        partial(
            edited,
            ('{ gate = "cured", clock = "cure", at = "arrive" },', ""),
            (door, door.replace("},", "},\n  " + cured)),
            ('title = "Cut free"\n', 'title = "Cut free"\nrecheck_after = "15 min"\n'),
        )
    )
    load = bench.form(10)
    bench.through(load, 10, 20)
    bench.until(load, "cured 1", wait=False)
    bench.clock.forward(LIMIT + 1)
    assert (bench.current(load).key, bench.current(load).state) == ("cured 1", "waits")
    bench.clock.forward(12 * 3600)
    assert bench.current(load).kind == "recheck"


def test_without_the_field_nothing_is_asked() -> None:
    bench = open_bench()
    load = at_the_start(bench)
    bench.clock.forward(LIMIT * 3)
    assert bench.current(load).key == "start"


def test_the_traveler_asks_it_without_a_number(bench: Bench) -> None:
    load = at_the_start(bench)
    bench.clock.forward(LIMIT + 1)
    text = write_traveler(bench.state, load, bench.clock(), "0" * 64)
    [row] = [row for row in text.splitlines() if "Recheck: " in row]
    assert row.startswith("    ")


def test_where_its_run_is_struck_out_too_a_check_still_reads_in_the_history(bench: Bench) -> None:
    load = at_the_start(bench)
    bench.clock.forward(LIMIT + 1)
    checked = bench.say(CheckAgain(bench.run_of(load).number))[0]
    said = describe_parts(bench.state, checked).what
    bench.strike_back_to(bench.run_of(load).seq)
    assert describe_parts(bench.state, checked).what == said, "by the titles of its steps, not their keys"
