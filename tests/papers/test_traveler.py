"""The traveler says what the screen says (NUREG-0700: screen and paper use the same numbers and words)."""

from __future__ import annotations

import re

import pytest

from floor.batch.corrections.commands import Note
from floor.batch.walk.station_walk import build_walk
from floor.papers.traveler import write_traveler
from floor.text import WIDTH, count_cells
from tests.batch.factory import edited, open_bench
from tests.papers.half_done import half_done


def test_numbers_wording_and_order_are_those_of_the_walk() -> None:
    bench = half_done()
    walked = bench.walk(3)

    text = write_traveler(bench.state, 3, bench.clock(), "h" * 64)

    flat = " ".join(text.split())
    at = 0
    steps = [line for line in walked.lines if line.kind != "caution"]
    for number, line in enumerate(steps, 1):
        found = re.compile(rf"(?<!\d){number} \[.\][>H]? {re.escape(line.title)}").search(flat, at)
        assert found, f"{number} {line.title}"
        at = found.end()
    assert f"step {walked.step} of {walked.steps}" in text
    assert len(re.findall(r"\[ \]>", text.split("[x] done")[0])) == 1, "one place"
    assert "[W]" in text
    assert "WAIVED: op 20 Count the pieces on the pallet" in flat
    assert all(count_cells(line) <= WIDTH for line in text.splitlines())


def test_a_load_that_waits_gets_the_walk_as_it_will_be() -> None:
    """The copy made before the run begins and the walk right after it began name the same lines."""
    bench = open_bench()
    load = bench.form(10)
    before = bench.state.seq
    text = write_traveler(bench.state, load, bench.clock(), "h" * 64)
    assert (bench.state.seq, bench.state.runs, bench.state.setups) == (before, {}, {}), "nothing was started by it"
    bench.begin(load)

    lines = build_walk(bench.state, bench.run_of(load), bench.clock()).lines
    flat = " ".join(text.split())

    at = 0
    for line in lines:
        if line.kind != "caution":
            at = flat.index(line.title, at)
    assert "not started yet" in text
    assert "G54 Z (-0.1 to 0.1 mm): ____" in text
    assert "*** WARNING: Turning cutter" in text
    assert text.index("*** WARNING: Turning cutter") < text.index("Shut the door")


def test_a_hold_point_ahead_is_marked_on_paper_too() -> None:
    """As on screen, and the legend says what the letter is."""
    bench = open_bench()
    text = write_traveler(bench.state, bench.form(10), bench.clock(), "h" * 64)
    rows = {row[9:].split("  ")[0].strip(): row[4:9] for row in text.splitlines() if row[4:5] == "["}
    assert rows["Probe G54 X Z"] == "[ ]H "
    assert rows["Shut the door"] == "[ ]  "
    assert "H hold point" in text


def test_what_was_left_with_a_load_is_on_its_copy() -> None:
    """HND-28: who goes on from paper reads it there; not on the copy of another load."""
    bench = open_bench()
    load, other = bench.form(10), bench.form(10)
    bench.begin(load)
    bench.say(Note("burr at A2, stone it first", run=bench.run_of(load).number, next_shift=True), "AA")
    copy = " ".join(write_traveler(bench.state, load, bench.clock(), "h" * 64).split())
    assert re.search(r"! left by AA, op 10, [\d: -]+: burr at A2, stone it first", copy)
    assert "stone it first" not in write_traveler(bench.state, other, bench.clock(), "h" * 64)


def test_a_load_that_is_through_has_no_copy() -> None:
    bench = half_done()
    bench.state.loads[1].dissolved = bench.clock().at

    with pytest.raises(ValueError, match="load 1 is finished"):
        write_traveler(bench.state, 1, bench.clock(), "h" * 64)


def test_what_was_read_out_of_limits_is_on_the_copy_with_the_decision_that_is_open() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.until(load, "measured 1")
    before = write_traveler(bench.state, load, bench.clock(), "h" * 64)
    assert "! read" not in before
    bench.prove(load, "measured 1", value=[3.0, 3.2])

    said = " ".join(write_traveler(bench.state, load, bench.clock(), "h" * 64).split())
    assert "! read groove depth: 3, 3.2 (AA)" in said
    assert ("! to be decided: B2: groove depth 3.2, must be 2.9 to 3.1 mm: decide what becomes of it"
            in said)  # fmt: skip


def test_the_cautions_of_the_end_are_on_the_copy_while_the_cycle_still_runs() -> None:
    """On screen they come once it is over; the copy is taken before."""
    bench = open_bench(lambda: edited(('program = "KB7-10 A"\n', 'program = "KB7-10 A"\nend_cautions = ["hot"]\n')))
    load = bench.form(10)
    bench.until(load, "end", wait=False)
    assert bench.walk(load).line("caution end") is None

    text = write_traveler(bench.state, load, bench.clock(), "h" * 64)

    assert text.count("*** CAUTION: ") == 1
    assert text.index("*** CAUTION: ") < text.index(bench.line(load, "end").title)


def test_where_a_caution_is_to_be_read_first_the_copy_points_to_its_step() -> None:
    bench = open_bench()
    load = bench.form(10)
    line = bench.until(load, "caution load step 2")

    (here,) = [
        one for one in write_traveler(bench.state, load, bench.clock(), "h" * 64).splitlines() if one[4:8] == "[ ]>"
    ]
    step = bench.line(load, line.key.removeprefix("caution "))
    assert step.title in here


def test_how_and_why_stands_at_the_end_for_the_steps_still_to_be_done() -> None:
    clamp, shut = '{ do = "Clamp the pallet", ', '{ do = "Shut the door", '
    told = (clamp, f'{clamp}more = ["Why: it tilts."], '), (shut, f'{shut}more = ["Why: coolant.", "How: gently."], ')
    bench = open_bench(lambda: edited(*told))
    load = bench.form(10)
    bench.until(load, "load step 2")
    text = write_traveler(bench.state, load, bench.clock(), "h" * 64)
    said = text[text.index("How and why -") :]
    assert said.splitlines()[1:4] == ["  9 Shut the door", "    Why: coolant.", "    How: gently."]
    assert "Why: it tilts." not in text, "done, and told before"
    plain = open_bench()
    assert "How and why" not in write_traveler(plain.state, plain.form(10), plain.clock(), "h" * 64)


def test_a_correction_by_hand_keeps_the_old_entry_readable_and_has_room_for_who_when_and_why() -> None:
    """EU GMP chapter 4, as quoted by others: the old entry readable, signed, dated, with the reason."""
    bench = open_bench()
    text = write_traveler(bench.state, bench.form(10), bench.clock(), "h" * 64)

    said = text[text.index("Corrections by hand") :]
    assert "Draw one line through the error so that it stays readable" in said
    rooms = [line for line in said.splitlines() if line.startswith("  - step ____")]
    assert len(rooms) == 3
    assert all(word in rooms[0] for word in ("is ____", "because ____", "initials ____", "date ____"))
