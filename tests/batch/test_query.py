"""What a search finds in a batch's record, compared with the same entries picked by hand."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floor.batch.corrections.commands import StrikeOut
from floor.batch.counting.commands import Dispose, HoldBack
from floor.batch.events import KINDS, read_run_numbers
from floor.batch.gates.open_lot import OpenLot
from floor.batch.lifecycle.commands import SetPiecesAside
from floor.batch.search.history_filter import GROUPS, Filter
from floor.batch.search.matching import (
    TYPED,
    find_matching_entries,
    list_decisions,
    list_run_entries,
    list_use_as_is_entries,
)
from floor.batch.state import Batch
from floor.batch.walk.commands import StartCycle
from floor.entry import Entry
from tests.batch.factory import Bench, one_cycle, open_bench
from tests.batch.test_kinds import everything_once

Holds = Callable[[Batch, Entry], bool]


@pytest.fixture(scope="module")
def lived() -> Bench:
    return everything_once()


def of_run(batch: Batch, entry: Entry, field: str) -> set[object]:
    """Load, op or station of the runs that an entry names."""
    return {getattr(batch.runs[run], field) for run in read_run_numbers(entry.body)}


LOOKED_FOR: dict[str, tuple[Filter, Holds]] = {
    "kinds": (Filter(kinds=("noted", "paused")), lambda _, e: e.kind in ("noted", "paused")),
    "group": (Filter(group="gates"), lambda _, e: e.kind in GROUPS["gates"]),
    "person": (Filter(by="BB"), lambda _, e: e.by == "BB"),
    "load": (Filter(load=1), lambda b, e: (
        1 in {e.body.get("load"), *e.body.get("left", ())} | of_run(b, e, "load"))),
    "op": (Filter(op=30), lambda b, e: 30 in {e.body.get("op")} | of_run(b, e, "op")),
    "station": (Filter(station="mill"), lambda b, e: "mill" in {e.body.get("station")} | of_run(b, e, "station")),
    "station by name": (Filter(station="MILL"), lambda b, e: (
        "mill" in {e.body.get("station")} | of_run(b, e, "station"))),
    "words": (Filter(words="HINGE greased"), lambda _, e: e.body.get("note") == "hinge greased"),
    "struck": (Filter(struck=True), lambda b, e: e.seq in b.struck),
    "not struck": (Filter(struck=False), lambda b, e: e.seq not in b.struck),
}  # fmt: skip


@pytest.mark.parametrize("name", LOOKED_FOR)
def test_each_thing_is_found_and_nothing_else(lived: Bench, name: str) -> None:
    wanted, holds = LOOKED_FOR[name]
    batch = lived.state

    expected = [entry.seq for entry in batch.entries if holds(batch, entry)]

    assert 0 < len(expected) < len(batch.entries)
    assert [entry.seq for entry in find_matching_entries(batch, wanted)] == expected


@given(st.sets(st.sampled_from(sorted(LOOKED_FOR))))
def test_several_things_at_once_are_all_asked_for(lived: Bench, names: set[str]) -> None:
    """If two ask for the same field, one of them is dropped."""
    wanted, field_of = Filter(), {}
    for name in sorted(names):
        asked, holds = LOOKED_FOR[name]
        (field,) = [field for field in Filter.__slots__ if getattr(asked, field) != getattr(Filter(), field)]
        wanted = replace(wanted, **{field: getattr(asked, field)})
        field_of[field] = holds
    batch = lived.state

    expected = [one for one in batch.entries if all(holds(batch, one) for holds in field_of.values())]

    assert find_matching_entries(batch, wanted) == expected


def test_a_time_is_from_its_moment_on_and_until_before_its_end(lived: Bench) -> None:
    batch = lived.state
    first, last = batch.entries[40].time, batch.entries[60].time
    here = [entry for entry in batch.entries if first <= entry.time <= last]

    assert find_matching_entries(batch, Filter(since=first, until=last + timedelta(milliseconds=1))) == here
    assert find_matching_entries(batch, Filter(since=first, until=last)) == [
        entry for entry in here if entry.time < last
    ]
    assert (
        find_matching_entries(batch, Filter(since=first.astimezone(), until=last + timedelta(days=1)))[: len(here)]
        == here
    )


@pytest.mark.parametrize("words", [
    "deep", "phone", "clamped already", "broke", "probe broken", "set by indicator", "alarm", "chip under the gauge",
    "the chip was on A1 only", "odd", "misread", "the control keeps a log", "door jams", "hinge greased", "smells",
    "does not", "cracked", "soon", "now", "why?", "because", "counted the stop twice", "radio", "L-2", "for stock",
    "enough of them", "one came back", "nothing was done yet", "spare", "scrap", "which lacquer?",
    "gloss", "even", "wiped off again", "it dries faster", "op 20: lacquer A",
])  # fmt: skip
def test_whatever_was_typed_in_the_life_of_a_batch_is_found_by_its_words(lived: Bench, words: str) -> None:
    found = find_matching_entries(lived.state, Filter(words=words))

    assert found
    assert all(words in str(entry.body) for entry in found)


@pytest.mark.parametrize(("words", "kind"), [("odd", "counted"), ("other", "counted"), ("deep", "entered_late")])
def test_words_are_found_within_what_an_entry_lists(lived: Bench, words: str, kind: str) -> None:
    assert find_matching_entries(lived.state, Filter(words=words, kinds=(kind,)))


NO_WORDS = {
    "acted", "again", "approved_by", "back", "before", "carrier", "cautions", "checklist", "counts", "depth", "digest",
    "due", "last",
    "earlier", "file", "findings", "for", "from", "gate", "id", "in_service", "key", "line", "lines", "lots_before",
    "mark", "name", "offset", "offsets", "on", "owner", "page", "points", "relief", "response", "rework", "risks",
    "said_by", "sampled", "second", "seen_by", "setups", "sha256", "since", "source", "station", "strongest", "subject",
    "supervisor", "talked", "title", "told", "unit", "unmet", "use_by", "value", "what", "where", "whose", "worn",
}  # fmt: skip
"""Fields that hold text, or may, of which the program knows the words: names, times, what stands elsewhere too."""


def test_every_field_with_text_holds_somebodys_words_or_is_known_not_to() -> None:
    """A new field of a kind is searched for its words, or marked as having none."""
    texts = {
        field.metadata.get("name", field.name)
        for kind in KINDS.values() if kind.GROUP != "shop"
        for field in dataclasses.fields(kind)  # type: ignore[arg-type]
        if not {"int", "float", "bool"}.issuperset(re.findall(r"[A-Za-z_]+", _named(field.type)))
    }  # fmt: skip

    assert texts == TYPED | NO_WORDS
    assert not TYPED & NO_WORDS


def _named(annotation: object) -> str:
    """A type by its bare names: ``tuple[int, ...] | None`` is int."""
    name = getattr(annotation, "__name__", "") if isinstance(annotation, type) and not get_args(annotation) else ""
    return re.sub(r"tuple|None|NoneType", "", name or str(annotation))


def test_what_the_program_says_is_not_taken_for_somebodys_words(lived: Bench) -> None:
    assert find_matching_entries(lived.state, Filter(says="cycle started"))
    assert find_matching_entries(lived.state, Filter(words="cycle started")) == []
    assert find_matching_entries(lived.state, Filter(words="load step")) == [], (
        "the name of a line is no word of anybody"
    )


def test_an_entry_about_several_loads_is_found_by_each() -> None:
    bench = open_bench(one_cycle, start=8)
    loads = (bench.form(10), bench.form(10))
    for load in loads:
        bench.until(load, "start")
    started = bench.say(StartCycle(1))[0]

    assert started.body["run"] == 1
    for load in loads:
        assert started in find_matching_entries(bench.state, Filter(load=load, kinds=("cycle_started",)))


def test_a_lot_is_found_by_the_loads_it_goes_into() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10)
    bench.until(load, "mix")
    opened = bench.say(OpenLot("lacquer", "L-77", "2027-01-31", (load,)))[0]

    assert find_matching_entries(bench.state, Filter(load=load, words="l-77"))[-1] == opened


def test_what_is_held_of_a_run_is_found_by_its_load() -> None:
    bench = open_bench()
    load = bench.form(10)
    bench.through(load, 10)
    held = bench.say(HoldBack(1, "probed with the wrong tip"), by="LL")[0]

    assert held.body.get("load") is None
    assert held in find_matching_entries(bench.state, Filter(load=load, op=10, words="wrong tip"))


def test_what_was_decided_on_pieces_or_on_values_of_their_runs_is_found(lived: Bench) -> None:
    batch = lived.state
    of_pieces = ("set_aside", "count_corrected", "disposed")
    kinds = {*of_pieces, "out_decided", "out_settled", "before_decided", "measured_again"}
    pieces = set(next(entry.body["pieces"] for entry in batch.entries if entry.kind == "disposed"))
    runs = frozenset({1})

    expected = [
        entry for entry in batch.entries
        if entry.kind in kinds and entry.seq not in batch.struck
        and (entry.body.get("run") in runs or (
            entry.kind in of_pieces and not pieces.isdisjoint(entry.body["pieces"])))
    ]  # fmt: skip

    found = list_decisions(batch, pieces, runs)
    assert found == expected
    assert {entry.kind for entry in found} >= {"out_decided", "before_decided", "measured_again", "disposed"}
    assert list_decisions(batch, (), frozenset()) == []


def test_the_entries_of_runs_are_those_that_stand(lived: Bench) -> None:
    batch = lived.state

    found = list_run_entries(batch, frozenset({1, 2}))

    assert found == [
        one for one in batch.entries if {1, 2} & set(read_run_numbers(one.body)) and one.seq not in batch.struck
    ]
    assert any(set(read_run_numbers(one.body)) & {1, 2} and one.seq in batch.struck for one in batch.entries)


def test_what_was_struck_out_decided_nothing() -> None:
    bench = open_bench()
    aside = bench.say(SetPiecesAside("hold", "dull", op=10, count=1))[0]
    (piece,) = aside.body["pieces"]
    disposed = bench.say(Dispose((piece,), "use as is", "looks fine"), by="LL")[0]
    assert list_use_as_is_entries(bench.state) == [disposed]
    assert list_decisions(bench.state, (piece,), ()) == [aside, disposed]

    bench.say(StrikeOut(disposed.seq, "the wrong piece"), by="LL")

    assert list_use_as_is_entries(bench.state) == []
    assert list_decisions(bench.state, (piece,), ()) == [aside]
