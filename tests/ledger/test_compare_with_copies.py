"""The record against its copies: each difference is reported once, by the newest copy, and nothing else."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from floor.entry import Draft, Moment
from floor.ledger import JournalFolder
from floor.ledger.backup import back_up_journals
from floor.ledger.bundle import receive_bundle, write_bundle
from floor.ledger.compare_with_copies import find_differences, find_missing_numbers
from floor.ledger.copies import list_copies
from floor.ledger.high_water_mark import locate_mark


def add(journals: JournalFolder, name: str, moment: Moment, kind: str = "count") -> None:
    with journals.open(name).turn() as turn:
        turn.append([Draft(kind, {})], moment, "AB")


def lose(journals: JournalFolder, name: str) -> None:
    """Delete a file and its mark."""
    path = journals.place(name)
    path.unlink()
    locate_mark(path).unlink()


@pytest.fixture
def target(tmp_path: Path) -> Path:
    return tmp_path / "copies"


@pytest.fixture
def kept(folder: Path, target: Path, moment: Moment, now: datetime) -> JournalFolder:
    """Three batches and the people, copied twice."""
    journals = JournalFolder(folder, copies=target)
    for name in ("shop", "B0001", "B0002", "B0003"):
        journals.create(name)
        add(journals, name, moment)
    back_up_journals(journals, target, now)
    back_up_journals(journals, target, now + timedelta(days=1))
    return journals


def test_a_record_without_copies_differs_from_none(kept: JournalFolder, tmp_path: Path) -> None:
    assert find_differences(kept) == {}
    assert find_differences(JournalFolder(kept.folder)) == {}
    assert find_differences(JournalFolder(kept.folder, copies=tmp_path / "none yet")) == {}


def test_what_is_gone_is_reported_once_by_the_newest_copy_and_in_order(kept: JournalFolder) -> None:
    for name in ("B0003", "B0001", "B0002"):
        lose(kept, name)

    said = find_differences(kept, {"B0002"})

    assert list(said) == ["B0001", "B0003"], "not what was given up"
    assert all("record-20261126T100201Z has it" in sentence for sentence in said.values())


def test_what_a_mark_already_misses_is_not_reported_again(kept: JournalFolder) -> None:
    kept.place("B0002").unlink()

    assert kept.lost() == ["B0002"]
    assert find_differences(kept) == {}


def test_a_copy_of_another_shop_says_nothing_of_this_one(
    kept: JournalFolder, tmp_path: Path, moment: Moment, now: datetime
) -> None:
    """They share a memory stick."""
    other = JournalFolder(tmp_path / "other")
    for name in ("shop", "B0002", "B0009"):
        other.create(name)
        add(other, name, Moment(moment.at, "boot-2", 1.0))
    assert kept.copies is not None
    back_up_journals(other, kept.copies, now + timedelta(days=2))

    assert find_differences(kept) == {}


@pytest.mark.parametrize("where", ["here", "in the copies"])
def test_what_cannot_be_read_is_left_to_who_checks_it(kept: JournalFolder, target: Path, where: str) -> None:
    for folder in [kept.folder] if where == "here" else target.iterdir():
        (folder / "B0001.json").unlink()
        (folder / "B0001.json").mkdir()
    lose(kept, "B0003")

    assert list(find_differences(kept)) == ["B0003"]


def test_a_file_replaced_by_a_bundle_is_not_reported_again(
    kept: JournalFolder, tmp_path: Path, target: Path, moment: Moment, now: datetime
) -> None:
    """A lead replaced it with the bundle; a copy still has what was there."""
    there = JournalFolder(tmp_path / "there")
    write_bundle(kept.open("B0001"), tmp_path / "out")
    receive_bundle(there, tmp_path / "out")
    add(there, "B0001", moment, "loaded")
    write_bundle(there.open("B0001"), tmp_path / "back")
    add(kept, "B0001", Moment(moment.at, "boot-2", 3.0), "scrap")
    back_up_journals(kept, target, now + timedelta(days=2))

    receive_bundle(kept, tmp_path / "back", instead=True)

    assert find_differences(kept) == {}


def test_a_record_rewritten_since_a_copy_is_reported_with_the_first_entry_that_differs(
    kept: JournalFolder, target: Path, moment: Moment, now: datetime
) -> None:
    """It is sound in itself; only the copies have what was acknowledged."""
    add(kept, "B0002", moment, "scrap")
    back_up_journals(kept, target, now + timedelta(days=2))
    kept.close()
    lose(kept, "B0002")
    again = JournalFolder(kept.folder)
    again.place("B0002").write_bytes((list_copies(target)[0] / "B0002.json").read_bytes())
    add(again, "B0002", moment, "count")

    said = find_differences(kept)

    assert list(said) == ["B0002"]
    assert said["B0002"].startswith(
        "B0002: entry 2 is not the one that record-20261127T100201Z has, 'scrap' by 'AB' of 2026-11-25T10:02:01.123Z"
    )


def test_a_number_that_nothing_is_left_of_is_missed(kept: JournalFolder) -> None:
    lose(kept, "B0001")
    lose(kept, "B0002")

    assert find_missing_numbers(kept, ()) == ["B0001", "B0002"]
    assert find_missing_numbers(kept, (), {"B0001"}) == ["B0002"], "the other was given up"
    assert find_missing_numbers(kept, {"B0003"}) == [], "a batch from elsewhere may bear any number"


def test_a_shop_without_a_batch_misses_none(tmp_path: Path) -> None:
    assert find_missing_numbers(JournalFolder(tmp_path / "record"), ()) == []
