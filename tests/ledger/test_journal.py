"""A journal keeps what it acknowledged, in order, and every terminal sees the same."""

from __future__ import annotations

import hashlib
import json
import os
import stat
from pathlib import Path

import pytest
from tinydb import TinyDB

from floor.entry import Draft, Entry, Moment
from floor.ledger import Busy, Journal, JournalFolder, NotStorable, Replaced
from floor.ledger.hash_chain import MAX_ENTRY, ZERO, encode_canonical


def add(journal: Journal, moment: Moment, *kinds: str) -> list[Entry]:
    with journal.turn() as turn:
        return turn.append([Draft(kind, {}) for kind in kinds], moment, "AB")


def test_entry_carries_who_when_and_its_place(journal: Journal) -> None:
    first, second = journal.entries[0], journal.entries[1]

    assert (first.seq, first.at, first.tz, first.boot, first.up) == (1, "2026-11-25T10:02:01.123Z", 120, "boot-1", 61.5)
    assert (first.by, first.kind, first.body) == ("AB", "made", {"pieces": 12, "note": "Prüfung made"})
    assert first.prev == ZERO
    assert second.prev == first.hash
    assert journal.head == journal.entries[-1].hash


def test_hash_is_sha256_of_canonical_json_in_stock_tinydb_too(journal: Journal, folder: Path) -> None:
    """The chain can be checked with Python's json and hashlib alone, from what stock TinyDB reads."""
    with TinyDB(folder / "B0007.json", access_mode="r") as stock:
        documents = stock.table("entries").all()

    prev = "0" * 64
    for number, document in enumerate(documents, 1):
        digest = document.pop("hash")
        core = json.dumps(document, sort_keys=True, separators=(",", ":"))
        assert hashlib.sha256(core.encode()).hexdigest() == digest
        assert (document["seq"], document.doc_id, document["prev"]) == (number, number, prev)
        prev = digest
    assert (len(documents), prev) == (4, journal.head)


def test_every_commit_leaves_a_file_stock_tinydb_reads(journals: JournalFolder, folder: Path, moment: Moment) -> None:
    journal = journals.create("shop")
    for count in range(1, 4):
        add(journal, moment, "note")
        with TinyDB(folder / "shop.json", access_mode="r") as stock:
            assert len(stock.table("entries")) == count


def test_reopened_journal_says_the_same(journal: Journal, folder: Path) -> None:
    again = JournalFolder(folder).open("B0007")

    assert list(again.entries) == list(journal.entries)
    assert (again.head, again.condition.kind) == (journal.head, "fine")


def test_other_terminal_sees_what_was_written(journal: Journal, folder: Path, moment: Moment) -> None:
    other = JournalFolder(folder).open("B0007")
    assert other.refresh() == []

    written = add(journal, moment, "scrap", "count")

    assert other.refresh() == written
    assert other.refresh() == []
    assert other.head == journal.head


def test_turn_decides_on_the_newest_state(journal: Journal, folder: Path, moment: Moment) -> None:
    """A turn starts by reading what others wrote: nothing is appended to a stale state."""
    other = JournalFolder(folder).open("B0007")
    written = add(journal, moment, "load taken")

    with other.turn() as turn:
        assert turn.news == written
        assert other.entries[-1].kind == "load taken"
        assert turn.append([Draft("seen", {})], moment, "CD")[0].prev == journal.head


def test_journal_held_by_a_terminal_that_hangs_is_reported_and_free_afterwards(
    journal: Journal, folder: Path, moment: Moment
) -> None:
    other = JournalFolder(folder, patience=0.0).open("B0007")
    with journal.turn():
        with pytest.raises(Busy, match="B0007 is held by another terminal"), other.turn():
            pass
        assert other.refresh() == []

    add(other, moment, "count")
    assert journal.refresh()[0].kind == "count"


def test_a_turn_that_fails_writes_nothing_and_lets_go(journal: Journal, folder: Path, moment: Moment) -> None:
    with pytest.raises(ZeroDivisionError), journal.turn():
        raise ZeroDivisionError

    assert add(JournalFolder(folder, patience=0.0).open("B0007"), moment, "count")[0].seq == 5


@pytest.mark.parametrize(("body", "sentence"), [
    ({"note": "half \ud83d"}, "half a character"),
    ({"note": "\ud83d\ude00"}, "half a character"),  # two halves put together by hand would read back as one
    ({"\udc00": 1}, "half a character"),
    ({"x": float("nan")}, "plain JSON"),
    ({"x": float("inf")}, "plain JSON"),
    ({"x": object()}, "plain JSON"),
    ({"x": b"bytes"}, "plain JSON"),
    ({"x": 1, 2: 2}, "plain JSON"),
    ({"x": "y" * MAX_ENTRY}, "4 MB long at most"),
])  # fmt: skip
def test_what_json_cannot_hold_is_refused_with_a_sentence(
    journal: Journal, moment: Moment, body, sentence: str
) -> None:
    before = journal.path.read_bytes()

    with journal.turn() as turn, pytest.raises(NotStorable, match=sentence):
        turn.append([Draft("good", {}), Draft("bad", body)], moment, "AB")

    assert journal.path.read_bytes() == before
    assert add(journal, moment, "good")[0].seq == 5


@pytest.mark.parametrize(
    "text", ["\x1b[31m", "\x00", "\x9b2J", "\n}}\n", '","hash":"', "\u2028", "é\U0001f600", "=1+1", " " * 2000]
)
def test_any_other_text_comes_back_as_it_was(journal: Journal, folder: Path, moment: Moment, text: str) -> None:
    with journal.turn() as turn:
        turn.append([Draft(text, {text: text})], moment, text)

    entry = JournalFolder(folder).open("B0007").entries[-1]
    assert (entry.kind, entry.by, entry.body) == (text, text, {text: text})
    assert all(32 <= byte < 127 or byte == 10 for byte in journal.path.read_bytes())


def test_numbers_come_back_as_they_were() -> None:
    values = [0.1, 1e-9, 1e22, -0.0, 123456789.123, 2**70]
    assert json.loads(encode_canonical(values)) == values


def test_what_the_writer_holds_is_not_the_callers(journal: Journal, moment: Moment) -> None:
    body = {"list": [1]}
    with journal.turn() as turn:
        (entry,) = turn.append([Draft("x", body)], moment, "AB")
    body["list"].append(2)
    assert entry.body == {"list": [1]}


def test_file_and_folder_are_for_owner_and_group_only(journal: Journal, folder: Path) -> None:
    before = os.umask(0)
    try:
        JournalFolder(folder / "second").create("shop")
    finally:
        os.umask(before)
    for path in (folder, folder / "second", folder / "second" / "closed"):
        assert stat.S_IMODE(path.stat().st_mode) & 0o027 == 0
    for path in (journal.path, folder / "second" / "shop.json"):
        assert stat.S_IMODE(path.stat().st_mode) & 0o137 == 0


def test_growing_past_a_chunk_keeps_everything(journals: JournalFolder, folder: Path, moment: Moment) -> None:
    journal = journals.create("B1")
    for size in (10, 70_000, 10, 300_000, 65_000, 10):
        with journal.turn() as turn:
            turn.append([Draft("text", {"x": "y" * size})], moment, "AB")

    again = JournalFolder(folder).open("B1")
    assert [len(entry.body["x"]) for entry in again.entries] == [10, 70_000, 10, 300_000, 65_000, 10]
    assert again.condition.kind == "fine"


def test_replaced_file_is_noticed_before_anything_is_written(journal: Journal, moment: Moment) -> None:
    copy = journal.path.with_suffix(".copy")
    copy.write_bytes(journal.path.read_bytes())
    copy.rename(journal.path)

    with pytest.raises(Replaced, match="no longer where it was"):
        add(journal, moment, "count")
