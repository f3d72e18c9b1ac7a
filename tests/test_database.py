"""The record queried by TinyDB's own queries, which change nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict

import pytest
from tinydb import Query, TinyDB, where
from tinydb.storages import MemoryStorage

from floor.database import EntryDatabase, RecordIsReadOnly, open_database, query_entries
from floor.entry import Entry


def entry(seq: int, kind: str, by: str = "AB", **body: object) -> Entry:
    return Entry(seq, f"2026-11-25T10:02:0{seq}.123Z", 60, "boot", 1.0, by, kind, body, "0" * 64, str(seq) * 64)


def record() -> list[Entry]:
    return [entry(1, "made"), entry(2, "loaded", run=7), entry(3, "count", "CD", good=[4, 5]), entry(4, "count", run=7)]


def test_queries_are_tinydbs_and_find_the_entries_themselves() -> None:
    entries = record()
    table = open_database(entries).table("entries")

    assert table.search(where("kind") == "count") == entries[2:]
    assert table.get(doc_id=4) is entries[3]
    assert table.get(doc_id=5) is None
    assert table.all() == entries

    entries.append(entry(5, "count"))

    assert [found["seq"] for found in table.search(where("kind") == "count")] == [3, 4, 5]
    assert open_database(entries).tables() == {"entries"}


@pytest.mark.parametrize(
    "query",
    [
        where("kind") == "count",
        where("body")["run"] == 7,
        where("body").good.any([5]),
        ~(where("by") == "AB") | (where("seq") < 2),
        (where("at") >= "2026-11-25T10:02:02") & (where("at") < "2026-11-25T10:02:04"),
        where("nothing").exists(),
        where("body")["run"].exists() & (where("kind") != "count"),
        Query().fragment({"by": "CD", "tz": 60}),
        Query().fragment({"by": "CD", "nothing": 1}),
    ],
)  # fmt: skip - without ids: the text of a query changes from one process to the next
def test_a_query_finds_what_it_finds_in_a_stock_database(query: Query) -> None:
    stock = TinyDB(storage=MemoryStorage)
    stock.insert_multiple(asdict(one) for one in record())

    assert [found["seq"] for found in query_entries(record(), query)] == [found["seq"] for found in stock.search(query)]


@pytest.mark.parametrize("change", [
    lambda db: db.insert({"kind": "x"}),
    lambda db: db.insert_multiple([{"kind": "x"}]),
    lambda db: db.update({"kind": "x"}),
    lambda db: db.upsert({"kind": "x"}, where("seq") == 1),
    lambda db: db.remove(doc_ids=[1]),
    lambda db: db.truncate(),
    lambda db: db.drop_tables(),
    lambda db: db.drop_table("entries"),
    lambda db: db.table("other").insert({}),
])  # fmt: skip
def test_no_entry_is_changed_or_taken_away(change: Callable[[EntryDatabase], object]) -> None:
    entries = record()

    with pytest.raises(RecordIsReadOnly, match="Strike it out"):
        change(open_database(entries))

    assert entries == record()
