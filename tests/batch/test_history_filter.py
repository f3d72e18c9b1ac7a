"""Which entries the history shows, and which piece sits where."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

import pytest

from floor.batch.corrections.commands import Note
from floor.batch.describe import DESCRIBED
from floor.batch.fold import HANDLERS
from floor.batch.search.history_filter import GROUPS, Filter, find_load_and_op, list_entry_pieces
from floor.batch.search.matching import find_matching_entries
from floor.batch.search.trace import find_piece_at
from tests.batch.factory import open_bench
from tests.papers.half_done import half_done


def test_every_kind_of_entry_belongs_to_one_group() -> None:
    grouped = [kind for kinds in GROUPS.values() for kind in kinds]

    assert sorted(grouped) == sorted(event.KIND for event in DESCRIBED)
    assert set(grouped) >= {event.KIND for event in HANDLERS}


@pytest.mark.parametrize(
    ("wanted", "holds"),
    [
        (Filter(load=2), lambda batch, entry: find_load_and_op(batch, entry)[0] == 2),
        (Filter(op=20), lambda batch, entry: find_load_and_op(batch, entry)[1] == 20),
        (Filter(by="LL"), lambda batch, entry: entry.by == "LL"),
        (Filter(group="counts"), lambda batch, entry: entry.kind in ("counted", "set_aside", "disposed")),
        (Filter(says="COOLANT"), lambda batch, entry: "Coolant" in entry.body.get("text", "")),
        (Filter(load=1, op=30, group="steps"), lambda batch, entry: find_load_and_op(batch, entry) == (1, 30)),
    ],
    ids=lambda value: value.said() if isinstance(value, Filter) else "",
)
def test_a_filter_lets_through_what_it_names_in_order(wanted: Filter, holds: object) -> None:
    batch = half_done().state

    found = find_matching_entries(batch, wanted)

    assert found
    assert all(holds(batch, entry) for entry in found)  # type: ignore[operator]
    assert [entry.seq for entry in found] == sorted(entry.seq for entry in found)
    if wanted.group is None:
        left = [entry for entry in batch.entries if entry not in found]
        assert not any(holds(batch, entry) for entry in left)  # type: ignore[operator]


def test_an_empty_filter_shows_everything_and_a_filter_says_itself() -> None:
    batch = half_done().state

    assert find_matching_entries(batch, Filter()) == batch.entries
    assert Filter().said() == ""
    assert Filter(3, 20, "AA", "counts", "chip").said() == 'load 3, op 20, by AA, counts, "chip"'
    since = datetime(2026, 11, 25, 7, tzinfo=timezone(timedelta(hours=1)))
    every = Filter(station="mill", kinds=("noted", "set_aside"), since=since, until=since, words="chip", struck=False)
    assert every.said() == (
        'at mill, noted or set aside, since 2026-11-25 07:00, before 2026-11-25 07:00, "chip", not struck out'
    )
    assert Filter(struck=True).said() == "struck out"
    assert Filter(kinds=GROUPS["steps"]).said() == "steps"
    assert Filter(kinds=(*GROUPS["steps"], "counted")).said() == "steps or counted"
    assert Filter(kinds=GROUPS["steps"][:3]).said() == "run begun or run put back or cautions read"
    assert Filter(kinds=GROUPS["steps"][:6]).said() == "run begun or run put back or cautions read or 3 other kinds"


def test_an_entry_knows_its_pieces() -> None:
    bench = half_done()
    formed = next(entry for entry in bench.state.entries if entry.kind == "load_formed")
    started = next(entry for entry in bench.state.entries if entry.kind == "cycle_started")
    note = bench.say(Note("nothing special"))[0]

    assert list_entry_pieces(bench.state, formed) == (1, 2, 3, 4)
    assert list_entry_pieces(bench.state, started) == bench.state.runs[started.body["run"]].pieces
    assert list_entry_pieces(bench.state, note) == ()


def test_an_empty_place_on_a_carrier_is_no_piece() -> None:
    bench = open_bench(start=3)
    bench.form(10)
    assert bench.state.loads[1].slots == (1, 2, 3, None)
    assert list_entry_pieces(bench.state, bench.state.entries[-1]) == (1, 2, 3)


@pytest.mark.parametrize(
    ("load", "position", "piece"),
    [(1, "A1", 1), (2, "b2 ", 8), (1, "C1", None), (9, "A1", None), (1, "", None)],
)
def test_a_piece_is_found_by_load_and_position(load: int, position: str, piece: int | None) -> None:
    assert find_piece_at(half_done().state, load, position) == piece
