"""Steps done at the same time or by several people (CBP-10), and lists that are do-confirm (CBP-17)."""

from __future__ import annotations

from functools import partial

import pytest

from floor.batch.walk.commands import DoStep, StartCycle
from floor.batch.walk.lines import describe_do_confirm, find_phase_title
from floor.checklist.loading import read_checklist
from floor.papers.traveler import write_traveler
from tests.batch.factory import Bench, edited, edited_text, open_bench

CLAMP = '{ do = "Clamp the pallet", at = "load" }'
TOGETHER = (
    CLAMP,
    '{ do = "Hold the far end", id = "hold", at = "load" },\n'
    '  { do = "Clamp the pallet", at = "load", people = 2, same_time_as = "hold" }',
)
AFTER = '{ do = "Brush the chips off", at = "after", cautions = ["cutter"] }'
LISTED = (
    (
        AFTER,
        '{ do = "Brush the chips off", at = "after" },\n  { do = "Wipe the bed", at = "after" },\n'
        '  { do = "Hang up the brush", at = "after" }',
    ),
    ('program = "KB7-10 A"\n', 'program = "KB7-10 A"\ndo_confirm = ["after"]\n'),
)
LIST = ("Brush the chips off", "Wipe the bed", "Hang up the brush")


def test_steps_at_the_same_time_are_both_marked_and_how_many_people_they_take() -> None:
    bench = open_bench(partial(edited, TOGETHER))
    load = bench.form(10)
    bench.until(load, "hold")
    titles = [line.title for line in bench.walk(load).lines if line.kind == "do" and line.phase == "load"][:3]
    assert titles == [
        "Hold the far end (at the same time: Clamp the pallet)",
        "Clamp the pallet (2 people; at the same time: Hold the far end)",
        "Shut the door",
    ]
    paper = " ".join(write_traveler(bench.state, load, bench.clock(), "0" * 64).split())
    assert "Clamp the pallet (2 people; at the same time: Hold the far end)" in paper


def repeated(text: str) -> tuple[str, str]:
    return CLAMP, CLAMP.replace(" }", f", repeat = {text} }}")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{ times = 5, until = "a wipe stays white" }', "(up to 5 times, until a wipe stays white)"),
        ("{ times = 3 }", "(3 times)"),
    ],
)
def test_a_repeated_step_says_how_often_and_what_ends_it(text: str, said: str) -> None:
    """CBP-09, on the walk and on paper; it is confirmed once, when it is over."""
    bench = open_bench(partial(edited, repeated(text)))
    load = bench.form(10)
    line = bench.until(load, "load step 1")
    assert line.title == f"Clamp the pallet {said}"
    paper = " ".join(write_traveler(bench.state, load, bench.clock(), "0" * 64).split())
    assert f"Clamp the pallet {said}" in paper
    bench.say(DoStep(bench.run_of(load).number, "load step 1"))
    assert bench.walk(load).line("load step 1").state == "done"  # type: ignore[union-attr]


@pytest.mark.parametrize("text", ["{ times = 1 }", "{ times = 100 }", '{ until = "a wipe stays white" }', "3"])
def test_how_often_is_a_number_of_times(text: str) -> None:
    loaded = read_checklist(edited_text(repeated(text)), "x.toml")
    assert loaded.checklist is None
    assert all("repeat" in one.place for one in loaded.problems), loaded.problems


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("Wipe the face twice", "twice"),
        ("Repeat the wipe", "Repeat"),
        ("Wipe the face 3 times", "3 times"),
        ("Cut off 3 times the diameter", ""),
        ("Wait until the spindle stops", ""),
    ],
)
def test_a_step_whose_words_have_it_repeated_is_asked_what_ends_it(words: str, found: str) -> None:
    """In an operation and in a rework; it can be used anyway."""
    in_rework = ("passes = 1\n", f'passes = 1\nsteps = [{{ do = "{words}", at = "load" }}]\n')
    edits = ((CLAMP, CLAMP.replace("Clamp the pallet", words)), in_rework)
    loaded = read_checklist(edited_text(*edits), "x.toml")
    assert loaded.checklist is not None
    asked = [one.wrong for one in loaded.warnings if "what ends it" in one.wrong]
    assert asked == ([f'"{found}" states neither how often at most nor what ends it'] * 2 if found else [])
    stated = tuple((old, new.replace(", at =", ", repeat = { times = 3 }, at =")) for old, new in edits)
    again = read_checklist(edited_text(*stated), "x.toml")
    assert not [one.wrong for one in again.warnings if "what ends it" in one.wrong]


@pytest.fixture
def bench() -> Bench:
    return open_bench(partial(edited, *LISTED))


def test_a_do_confirm_list_is_done_as_a_whole_and_confirmed_one_by_one(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "load step 1")
    assert describe_do_confirm(bench.walk(load)) == "", "all other lists are read, then done"
    bench.until(load, "after step 1")
    assert describe_do_confirm(bench.walk(load)) == f"Do all of these first, then confirm each: {'; '.join(LIST)}"
    run = bench.run_of(load).number
    assert bench.refused(DoStep(run, "after step 2")).why == "not now", "each is still confirmed in its turn"
    bench.say(DoStep(run, "after step 1"))
    assert describe_do_confirm(bench.walk(load)) == f"Do all of these first, then confirm each: {'; '.join(LIST[1:])}"
    bench.say(DoStep(run, "after step 2"))
    assert describe_do_confirm(bench.walk(load)) == "", "one step is no list"


def test_the_heading_of_each_list_says_how_it_is_used(bench: Bench) -> None:
    operation = bench.state.operation(10)
    assert find_phase_title(operation, "after") == "After the cycle: do, then confirm"
    assert find_phase_title(operation, "load") == "This load"


def test_a_step_with_a_caution_is_read_before_it_is_done() -> None:
    wipe = '{ do = "Wipe the bed", at = "after"'
    loaded = read_checklist(edited_text(*LISTED, (wipe, f'{wipe}, cautions = ["cutter"]')), "x.toml")
    assert any("has a caution, which is read before it" in one.wrong for one in loaded.problems), loaded.problems


def test_a_step_at_which_the_cycle_stops_or_goes_on_is_read_before_it_is_done() -> None:
    turn = (
        '{ do = "Watch the first cut", at = "cycle" }',
        '{ do = "Turn it over", at = "cycle", cycle = "stands" },\n'
        '  { do = "Cut the second side", at = "cycle", cycle = "goes on" }',
    )
    confirmed = ('program = "KB7-10 A"\n', 'program = "KB7-10 A"\ndo_confirm = ["cycle"]\n')
    loaded = read_checklist(edited_text(turn, confirmed), "x.toml")
    said = {one.wrong for one in loaded.problems}
    for step in ("Turn it over", "Cut the second side"):
        assert f'"{step}" stops, restarts or depends on what runs: its list is read, then done' in said


def test_no_step_is_done_at_the_same_time_as_one_of_another_phase() -> None:
    brush = '{ do = "Brush the chips off", at = "after"'
    later = (brush, brush.replace("{ do", '{ id = "brush", do'))
    loaded = read_checklist(edited_text(later, (CLAMP, CLAMP.replace(" }", ', same_time_as = "brush" }'))), "x.toml")
    assert [one.wrong for one in loaded.problems] == ['no other step of its phase is named "brush"']


def test_a_step_of_a_rework_stands_beside_no_other() -> None:
    steps = 'steps = [{ do = "Scrape it", same_time_as = "mix" }]'
    loaded = read_checklist(edited_text(("passes = 1\n", f"passes = 1\n{steps}\n")), "x.toml")
    assert [one.wrong for one in loaded.problems] == ["a step of a rework stands beside no other"]


def test_no_step_of_a_list_stands_in_for_the_start(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "load step 1")
    assert bench.refused(StartCycle(bench.run_of(load).number)).why == "gate"
