"""Words left with a load: whoever starts its next operation reads them first, on record (HND-28).

HSE on shift handover and DOE-STD-1038-93 (both from memory) ask for it between shifts; between operations it is common
practice, no source.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from floor.batch.corrections.commands import Note, StrikeOut
from floor.batch.describe import describe
from floor.batch.lifecycle.enter_half_done import EnterLate
from floor.batch.lifecycle.half_done import PlacedPieces
from floor.batch.moving.commands import MovePieces
from floor.batch.walk import words_left
from floor.batch.walk.commands import BeginRun
from floor.batch.walk.put_back import PutBack
from floor.batch.walk.words_left import list_words_left
from tests.batch.factory import Bench, open_bench


@pytest.fixture
def bench() -> Bench:
    return open_bench()


def leave(bench: Bench, load: int, text: str = "burr on A2", *, passed_on: bool = True, by: str = "AA") -> int:
    run = max(run.number for run in bench.state.runs.values() if run.load == load)
    return bench.say(Note(text, run=run, next_shift=passed_on), by)[0].seq


def list_texts(bench: Bench, load: int) -> list[str]:
    return [one.text for one in list_words_left(bench.state, bench.state.loads[load])]


def test_who_starts_the_next_operation_reads_first_what_was_left_and_is_on_record(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "count")
    word = leave(bench, load)
    bench.hand().work(load)
    refused = bench.refused(BeginRun(load, anyway=True), "BB")
    assert (refused.wrong, refused.remedy) == (
        "AA left a note with Pallet 1 (load 1): burr on A2",
        "read it, then start again",
    )

    begun = bench.say(BeginRun(load, anyway=True, read=(word, 1)), "BB")[0]

    assert (begun.by, begun.body["read"]) == ("BB", [word])
    assert describe(bench.state, begun).endswith("; read what was left with it: burr on A2 (AA)")
    assert list_texts(bench, load) == []


def test_with_nothing_to_say_nothing_is_asked(bench: Bench) -> None:
    load = bench.form(10)
    bench.until(load, "count")
    leave(bench, load, "swept the floor", passed_on=False)
    bench.say(StrikeOut(leave(bench, load, "wrong load"), "other pallet"))
    bench.say(Note("the door sticks", next_shift=True))
    bench.hand().work(load)
    assert "read" not in bench.say(BeginRun(load, anyway=True), "BB")[0].body


def test_a_word_left_after_the_release_goes_with_it_too_and_only_to_its_pieces(bench: Bench) -> None:
    load, other = bench.form(10), bench.form(10)
    bench.hand().work(load)
    bench.hand().work(other)
    leave(bench, load)
    assert (list_texts(bench, load), list_texts(bench, other)) == (["burr on A2"], [])


def test_whoever_puts_the_load_back_has_not_taken_it(bench: Bench) -> None:
    load = bench.form(10)
    bench.hand().work(load)
    word = leave(bench, load)
    begun = bench.say(BeginRun(load, anyway=True, read=(word,)), "BB")[0]
    assert list_texts(bench, load) == []
    bench.say(PutBack(begun.body["run"]), "BB")
    assert list_texts(bench, load) == ["burr on A2"]


def test_it_goes_with_the_pieces_to_each_part_of_a_load(bench: Bench) -> None:
    load = bench.form(10)
    bench.hand().work(load)
    word = leave(bench, load)
    pieces = bench.state.present(bench.state.loads[load])
    half = int(bench.say(MovePieces(load, pieces[:2], 2))[0].body["load"])
    assert list_texts(bench, half) == list_texts(bench, load) == ["burr on A2"]
    bench.say(BeginRun(half, anyway=True, read=(word,)), "BB")
    assert (list_texts(bench, half), list_texts(bench, load)) == ([], ["burr on A2"])


def test_it_goes_with_the_pieces_of_a_run_entered_late_too() -> None:
    bench = open_bench(start=12, order=10)
    since = bench.clock().at - timedelta(hours=1)
    there = PlacedPieces("load", 5, 40, 1, stands="runs", began=since), PlacedPieces("waiting", 7, 10)
    bench.say(EnterLate(there, bench.clock().at, (), ""), "LL")
    (load,) = (one.number for one in bench.state.list_live_loads())
    leave(bench, load)
    assert (list_texts(bench, load), list_texts(bench, bench.form(10))) == (["burr on A2"], [])


def test_where_nothing_was_left_the_entries_are_not_read(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is asked at every start, of thousands of entries."""
    load = bench.form(10)
    bench.until(load, "count")
    leave(bench, load, "swept the floor", passed_on=False)
    monkeypatch.setattr(words_left, "iter_events", _refuse_to_read)
    assert list_texts(bench, load) == []
    leave(bench, load)
    with pytest.raises(AssertionError):
        list_texts(bench, load)


def _refuse_to_read(*_: object) -> None:
    raise AssertionError("read")


def test_a_run_with_words_on_it_is_not_struck_out_before_them(bench: Bench) -> None:
    load = bench.form(10)
    begun = bench.begin(load).seq
    word = leave(bench, load)
    assert bench.refused(StrikeOut(begun, "wrong load")).remedy == f"strike out entry {word} first"
