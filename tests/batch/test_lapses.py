"""What a proof lapses on: CBP-31 and CBP-44 of the guidance followed (the rules by kind are a decision of our own)."""

from __future__ import annotations

from functools import partial

import pytest

from floor.batch.gates.lapse_causes import DISTURBANCES
from floor.batch.stations.commands import Disturb
from floor.batch.walk.long_breaks import LONG_BREAK
from floor.checklist.gate_base import Disturbance
from floor.checklist.loading import read_checklist
from floor.text import format_clock
from tests.batch.factory import HERE, Bench, edited, open_bench

PROBE = '{ gate = "probed", offset = "G54", axes = [{ name = "X"'
HUMIDITY = 'high = "85 pct", waive = "never" }'
ROCK = '{ gate = "confirmed", do = "Press each corner: nothing rocks", at = "load", waive = "never" }'


def disturb(bench: Bench, station: str, what: Disturbance, load: int) -> None:
    bench.say(Disturb(station, what, load if what == "lifted" else None, 1 if what == "tool changed" else None))


def by_the_first_edition(bench: Bench) -> Bench:
    """The same batch as opened by an earlier version: its entry names no edition."""
    assert bench.state.rules == 3
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
    assert bench.state.rules == 3
    assert bench.state.entries[0].body["rules"] == 3
