"""What counts and readings say of the process: which runs spoiled which pieces, under which conditions; all values."""

from __future__ import annotations

import pytest

from floor.batch.corrections.commands import StrikeOut
from floor.batch.counting.commands import CountRun, Dispose, MarkedPieces
from floor.batch.events import Disturbed
from floor.batch.gates.commands import Prove
from floor.batch.quality.loss_causes import LossPath, RunOutcome, list_outcomes_by_cause
from floor.batch.quality.measured_values import MeasuredValue, list_measured_values
from floor.batch.quality.tool_age import ToolStay, compute_tool_ages
from floor.batch.stations.commands import Disturb
from floor.batch.walk.commands import Release
from tests.batch.factory import Bench, edited, open_bench


@pytest.fixture
def bench() -> Bench:
    return open_bench()


def count(bench: Bench, load: int, *marks: MarkedPieces) -> None:
    bench.until(load, "count")
    run = bench.run_of(load)
    bench.say(CountRun(run.number, len(run.pieces) - sum(len(mark.positions) for mark in marks), marks))
    bench.say(Release(run.number))


def spoiled(runs: list[RunOutcome]) -> list[list[str]]:
    """The places of the spoiled pieces, a list for each run."""
    return [[one.place for one in run.pieces if one.spoiled] for run in runs]


def test_a_loss_counts_against_the_run_that_caused_it(bench: Bench) -> None:
    first, second = bench.form(10), bench.form(10)
    for load in (first, second):
        bench.through(load, 10)
        bench.through(load, 20)
    count(bench, first, MarkedPieces("soft", ("A2",)), MarkedPieces("torn", ("B1",)))
    count(bench, second)
    found = list_outcomes_by_cause(bench.state)
    assert set(found) == {LossPath(20, 30), LossPath(30, 30)}
    assert spoiled(found[LossPath(20, 30)]) == [["A2"], []]
    assert spoiled(found[LossPath(30, 30)]) == [["B1"], []]
    assert {run.op for run in found[LossPath(20, 30)]} == {20}


def test_a_run_is_left_out_until_all_its_pieces_came_through_the_count(bench: Bench) -> None:
    first, second = bench.form(10), bench.form(10)
    for load in (first, second):
        bench.through(load, 10)
        bench.through(load, 20)
    count(bench, first, MarkedPieces("soft", ("A2",)))
    found = list_outcomes_by_cause(bench.state)[LossPath(20, 30)]
    assert [run.load for run in found] == [first]


def test_a_piece_that_another_cause_took_out_before_is_not_among_them(bench: Bench) -> None:
    load = bench.form(10)
    count(bench, load, MarkedPieces("deep", ("A1",)))
    bench.through(load, 20)
    count(bench, load, MarkedPieces("soft", ("A2",)))
    found = list_outcomes_by_cause(bench.state)
    assert [one.place for one in found[LossPath(10, 10)][0].pieces] == ["A1", "A2", "B1", "B2"]
    assert [one.place for one in found[LossPath(20, 30)][0].pieces] == ["A2", "B1", "B2"]


def test_a_piece_held_and_then_used_as_is_was_not_spoiled(bench: Bench) -> None:
    load = bench.form(10)
    bench.through(load, 10)
    bench.through(load, 20)
    count(bench, load, MarkedPieces("soft", ("A2",)))
    held = next(piece for piece, place in bench.state.places.items() if place.where == "hold")
    assert LossPath(20, 30) in list_outcomes_by_cause(bench.state)
    bench.say(Dispose((held,), "use as is", "hard after a day"), "LL")
    assert list_outcomes_by_cause(bench.state) == {}


def test_a_count_that_was_struck_out_says_nothing(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "count")
    counted = bench.say(CountRun(bench.run_of(load).number, 3, (MarkedPieces("deep", ("A1",)),)))
    assert list_outcomes_by_cause(bench.state)
    bench.say(StrikeOut(counted[0].seq, "wrong pallet"), "LL")
    assert list_outcomes_by_cause(bench.state) == {}


def test_the_conditions_of_a_run_are_told(bench: Bench) -> None:
    first, second = bench.form(10), bench.form(10)
    count(bench, first, MarkedPieces("deep", ("A1",)))
    count(bench, second)
    one, other = list_outcomes_by_cause(bench.state)[LossPath(10, 10)]
    assert (one.carrier, one.station, one.by, one.handovers) == ("Pallet 1", "mill", "AA", 0)
    assert (one.first_of_setup, other.first_of_setup) == (True, False)
    assert one.setup == other.setup
    assert list(one.lots) == ["bar stock"]
    assert list(one.tools.values()) == [0]
    assert list(other.tools.values()) == [4]


def test_a_tool_is_new_after_its_change(bench: Bench) -> None:
    first, second = bench.form(10), bench.form(10)
    bench.through(first, 10)
    changed = bench.say(Disturb("mill", "tool changed", tool=1))
    bench.through(second, 10)
    runs = sorted(compute_tool_ages(bench.state).items())
    assert [dict(ages) for _, ages in runs] == [{ToolStay("mill", 1, 0): 0}, {ToolStay("mill", 1, 1): 0}]
    assert any(entry.kind == Disturbed.KIND for entry in changed)


FIRST_DEPTH = (
    'gate = "first piece accepted", independent = true }',
    'gate = "first piece accepted", independent = true, characteristics = [\n'
    '    { what = "groove depth", low = "2.9 mm", high = "3.1 mm" } ] }',
)
"""The first piece's depth is entered too, after that of the sample."""


@pytest.mark.parametrize("inside", [True, False])
def test_a_first_piece_in_the_sample_is_one_value(inside: bool) -> None:
    """Of the same piece the last value counts; another piece has its own."""
    bench = open_bench(lambda: edited(FIRST_DEPTH))
    load = bench.form(10)
    bench.until(load, "measured 1")
    bench.prove(load, "measured 1", value=[3.02, 2.98])
    sample = [one.place for one in find_depths(bench)]
    bench.until(load, "first piece accepted 1")
    other = next(one for one in ("A1", "A2", "B1", "B2") if one not in sample)
    values = {ask.name: 3.05 for ask in bench.current(load).gate.asks() if ask.short == "groove depth"}
    bench.prove(load, "first piece accepted 1", person="BB", place=sample[0] if inside else other, **values)
    assert [one.value for one in find_depths(bench)] == ([2.98, 3.05] if inside else [3.02, 2.98, 3.05])


def find_depths(bench: Bench) -> list[MeasuredValue]:
    (found,) = [some for shape, some in list_measured_values(bench.state).items() if shape.what == "groove depth"]
    return found


def test_values_stand_by_characteristic_with_who_and_when(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "measured 1")
    run = bench.run_of(load)
    line = bench.current(load)
    entry = bench.say(Prove(run.number, line.key, {"value": ["3.02", "2.98"]}))[0]
    (shape, values), *_ = [one for one in list_measured_values(bench.state).items() if one[0].what == "groove depth"]
    assert (shape.op, shape.unit, shape.low, shape.high, shape.of_piece) == (10, "mm", 2.9, 3.1, True)
    assert [one.value for one in values] == [3.02, 2.98]
    assert {(one.seq, one.by, one.load, one.run) for one in values} == {(entry.seq, "AA", load, run.number)}
    assert shape.is_out(2.89)
    assert not shape.is_out(3.1)
    bench.say(StrikeOut(entry.seq, "typed wrong"), "LL")
    assert shape not in list_measured_values(bench.state)
