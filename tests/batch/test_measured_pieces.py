"""Which pieces are measured: chosen by the record, named at the field, kept with their values."""

from __future__ import annotations

from collections import Counter

import pytest

from floor.batch.counting.holds import list_held_pieces
from floor.batch.events import Proved, read_if_kind
from floor.batch.gates.decide_out_of_limits import DecideBefore
from floor.batch.gates.measured_pieces import (
    choose_measured_pieces,
    find_measured_pieces,
    find_pieces_outside,
    keep_values,
)
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.quality.measured_values import list_measured_values
from floor.checklist.gates import Measured
from floor.screens.walk.gate_form import list_gate_fields
from tests.batch.factory import Bench, decide_out, edited, open_bench

DEPTH = "measured 1"
FIRST_AND_LAST = ('high = "3.1 mm", sample = 2', 'high = "3.1 mm", sample = "first and last"')
ALL = ('high = "3.1 mm", sample = 2', 'high = "3.1 mm", sample = "all"')


@pytest.fixture
def bench() -> Bench:
    """With a pallet for each load."""
    return open_bench(lambda: edited(("columns = 2\ncount = 3", "columns = 2\ncount = 12")), start=40)


def at_depth(bench: Bench) -> int:
    load = bench.form(10)
    bench.until(load, DEPTH)
    return load


def places(bench: Bench, load: int) -> list[str]:
    """Of the pieces that the load's measurement asks for."""
    run = bench.run_of(load)
    gate = bench.state.find_operation(run).step(DEPTH)
    chosen = choose_measured_pieces(bench.state, run, DEPTH, gate)
    return [bench.state.format_slot(bench.state.loads[load], piece) for piece in chosen]


def test_other_places_are_asked_for_at_each_load_and_each_equally_often(bench: Bench) -> None:
    asked: Counter[str] = Counter()
    kinds = set()
    for _ in range(8):
        load = at_depth(bench)
        taken = places(bench, load)
        assert len(taken) == 2
        kinds.add(tuple(taken))
        asked.update(taken)
        bench.through(load)
    assert len(kinds) > 1
    assert max(asked.values()) - min(asked.values()) <= 1
    assert set(asked) == {"A1", "A2", "B1", "B2"}


def test_the_first_and_the_last_are_asked_for() -> None:
    bench = open_bench(lambda: edited(FIRST_AND_LAST))
    for _ in range(2):
        load = at_depth(bench)
        assert places(bench, load) == ["A1", "B2"]
        bench.through(load)


def test_all_are_asked_for_in_their_order() -> None:
    bench = open_bench(lambda: edited(ALL))
    assert places(bench, at_depth(bench)) == ["A1", "A2", "B1", "B2"]


def test_the_entry_says_which_pieces_the_values_are_of(bench: Bench) -> None:
    load = at_depth(bench)
    asked = places(bench, load)
    entry = bench.prove(load, DEPTH, value=[3.0, 3.05])
    proved = read_if_kind(entry, Proved)
    assert proved is not None
    assert [bench.state.format_slot(bench.state.loads[load], piece) for piece in proved.pieces] == asked
    values = next(some for shape, some in list_measured_values(bench.state).items() if shape.what == "groove depth")
    assert [(one.place, one.value) for one in values] == list(zip(asked, [3.0, 3.05], strict=True))


def test_the_piece_out_of_limits_is_known_and_the_other_value_stays_with_its_piece(bench: Bench) -> None:
    load = at_depth(bench)
    first, second = places(bench, load)
    seq = bench.prove(load, DEPTH, value=[3.3, 3.0]).seq
    out = bench.state.out[seq]
    (piece,) = find_pieces_outside(out)
    assert bench.state.format_slot(bench.state.loads[load], piece) == first
    bench.say(decide_out(bench.state, seq, "deep", (first,)))
    bench.say(DecideBefore(seq, 0, "all measured since, all good"), by="LL")
    run = bench.run_of(load)
    gate = bench.state.find_operation(run).step(DEPTH)
    chosen = choose_measured_pieces(bench.state, run, DEPTH, gate)
    assert len(chosen) == 2
    assert bench.state.format_slot(bench.state.loads[load], chosen[0]) == second
    kept = keep_values(gate, {"value": [3.3, 3.0]}, find_measured_pieces(bench.state, seq), chosen)
    assert kept == {"value": [3.0, ""]}, "the new piece is still to be measured"


def test_a_value_that_stays_with_its_piece_keeps_its_digits(bench: Bench) -> None:
    load = at_depth(bench)
    seq = bench.prove(load, DEPTH, value=["3.3", "3.00"]).seq
    first, good = bench.state.out[seq].pieces
    bench.say(decide_out(bench.state, seq, "deep", (bench.state.format_slot(bench.state.loads[load], first),)))
    bench.say(DecideBefore(seq, 0, "all measured since, all good"), by="LL")
    gate = bench.state.find_operation(bench.run_of(load)).step(DEPTH)
    assert isinstance(gate, Measured)
    kept = keep_values(gate, dict(bench.state.out[seq].values), (first, good), (good, 99))
    fields = list_gate_fields(gate.asks(), 2, kept)
    assert [field.value for field in fields] == ["3.00", ""]


def test_values_of_pieces_that_nobody_knows_stay_in_the_order_entered(bench: Bench) -> None:
    """An older record does not say which pieces they were of."""
    load = at_depth(bench)
    gate = bench.current(load).step
    assert isinstance(gate, Measured)
    assert keep_values(gate, {"value": [3.3, 3.0]}, (), (1, 2)) == {"value": [3.3, 3.0]}


def test_whoever_names_another_piece_says_whose_value_it_was(bench: Bench) -> None:
    load = at_depth(bench)
    other = next(place for place in ("A1", "A2", "B1", "B2") if place not in places(bench, load))
    seq = bench.prove(load, DEPTH, value=[3.3, 3.0]).seq
    bench.say(decide_out(bench.state, seq, "", (other,)))
    named = find_pieces_outside(bench.state.out[seq])
    assert [bench.state.format_slot(bench.state.loads[load], piece) for piece in named] == [other]


def test_a_held_piece_is_shown_with_its_own_value_only(bench: Bench) -> None:
    load = at_depth(bench)
    first, second = places(bench, load)
    seq = bench.prove(load, DEPTH, value=[3.3, 3.0]).seq
    bench.say(decide_out(bench.state, seq, "", (first,)))
    bench.say(DecideBefore(seq, 0, "all measured since, all good"), by="LL")
    bench.say(SetPiecesAside("hold", "dropped", load=load, positions=(second,)))
    bench.until(load, "count")
    bench.through(load)
    held = {one.place: f"{one.reason} {one.note} {one.measured}" for one in list_held_pieces(bench.state)}
    assert next(said for where, said in held.items() if where.endswith(first)).count("groove depth 3.3") == 1
    assert "groove depth" not in next(said for where, said in held.items() if where.endswith(second))


def test_a_piece_set_aside_before_it_was_named_is_shown_with_its_value(bench: Bench) -> None:
    load = at_depth(bench)
    first, _ = places(bench, load)
    seq = bench.prove(load, DEPTH, value=[3.3, 3.0]).seq
    bench.say(SetPiecesAside("hold", "looks deep", load=load, positions=(first,)))
    bench.say(decide_out(bench.state, seq, "", (first,)))
    (held,) = list_held_pieces(bench.state)
    assert held.measured.startswith("groove depth 3.3, must be")


def test_nobody_can_tell_which_piece_is_which_where_they_have_no_places() -> None:
    loose = ("capacity = 4\nrows = 2\ncolumns = 2\ncount = 3", "capacity = 4\ncount = 3")
    bench = open_bench(lambda: edited(loose))
    load = at_depth(bench)
    assert places(bench, load) == []
    assert find_measured_pieces(bench.state, bench.prove(load, DEPTH, value=[3.0, 3.0]).seq) == ()


def test_a_reading_of_the_station_is_of_no_piece(bench: Bench) -> None:
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "measured 1")
    run = bench.run_of(load)
    gate = bench.state.find_operation(run).step("measured 1")
    assert isinstance(gate, Measured)
    assert not gate.of_piece
    assert choose_measured_pieces(bench.state, run, "measured 1", gate) == ()
