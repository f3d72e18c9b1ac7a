"""The history as a paper: what people wrote stands there as they wrote it."""

from __future__ import annotations

from floor.batch.corrections.commands import Note, StrikeOut
from floor.papers.history import write_history
from tests.batch.factory import Bench, open_bench

LIKE_A_MARK = "see op 20 (struck out)"


def lines_of(bench: Bench) -> str:
    return " ".join(write_history(bench.state, bench.clock(), bench.state.entries[-1].hash).split())


def test_words_that_end_like_a_mark_of_the_paper_stay() -> None:
    bench = open_bench()
    bench.say(Note(LIKE_A_MARK))

    assert f"note: {LIKE_A_MARK}" in lines_of(bench)


def test_a_struck_entry_is_marked_once_and_keeps_its_words() -> None:
    bench = open_bench()
    seq = bench.say(Note(LIKE_A_MARK))[0].seq
    strike = bench.say(StrikeOut(seq, "not so"))[0].seq

    assert f"STRUCK OUT by entry {strike}: note: {LIKE_A_MARK}" in lines_of(bench)
    assert lines_of(bench).count("(struck out)") == 1
