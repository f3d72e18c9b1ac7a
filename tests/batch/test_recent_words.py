"""Words that people used lately are offered again (keystroke-level model: Card, Moran & Newell 1980, from memory)."""

from __future__ import annotations

from floor.batch.corrections.commands import Note, StrikeOut
from floor.batch.events import Noted, Waived
from floor.batch.search.recent_words import LONGEST_WORDS, MOST_WORDS, list_recent_words
from tests.batch.factory import Bench, open_bench


def list_notes(*benches: Bench) -> tuple[str, ...]:
    return list_recent_words([bench.state for bench in benches], Noted, lambda one: [one.text])


def test_the_newest_come_first_each_once_over_all_batches() -> None:
    here, there = open_bench(), open_bench()
    assert list_notes(here, there) == ()
    here.say(Note("Coolant low"))
    there.clock.forward(60)
    there.say(Note("chips in the vise"))
    here.clock.forward(120)
    here.say(Note("coolant LOW"))
    assert list_notes(here, there) == ("coolant LOW", "chips in the vise")
    assert list_recent_words([here.state], Waived, lambda one: [one.reason]) == (), "of its own kind only"


def test_a_few_are_offered_and_no_struck_or_long_ones() -> None:
    bench = open_bench()
    for number in range(MOST_WORDS + 2):
        bench.clock.forward(60)
        bench.say(Note(f"tool {number} squeals"))
    bench.say(StrikeOut(bench.state.seq, "it does not"))
    bench.say(Note("x" * (LONGEST_WORDS + 1)))
    assert list_notes(bench) == tuple(f"tool {number} squeals" for number in range(MOST_WORDS, 0, -1))
    bench.clock.forward(60)
    bench.say(Note("x" * LONGEST_WORDS))
    assert list_notes(bench)[0] == "x" * LONGEST_WORDS
