"""A copy gets its name only once complete and sound, and one call restores it."""

from __future__ import annotations

import errno
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from floor.entry import Draft, Moment
from floor.ledger import BackupFailed, Journal, JournalFolder, Replaced, WriteFailed
from floor.ledger.backup import back_up_journals, is_same_shop, restore_folder
from floor.ledger.copies import list_copies
from floor.ledger.verify import verify_journal
from tests.ledger.faults import FaultyFiles


@pytest.fixture
def target(tmp_path: Path) -> Path:
    return tmp_path / "copies"


@pytest.fixture
def shop(journals: JournalFolder, journal: Journal, moment: Moment) -> JournalFolder:
    """An open batch, a closed one, and the shop's own journal."""
    for name in ("shop", "B0001"):
        with journals.create(name).turn() as turn:
            turn.append([Draft("note", {"in": name})], moment, "AB")
    journals.archive("B0001")
    return journals


def test_copy_holds_every_journal_sound_and_without_blanks(shop: JournalFolder, target: Path, now: datetime) -> None:
    copy = back_up_journals(shop, target, now)

    assert copy == target / "record-20261125T100201Z"
    found = JournalFolder(copy)
    assert (found.names(), found.closed_names()) == (["B0007", "shop"], ["B0001"])
    for name in (*found.names(), *found.closed_names()):
        assert list(found.open(name).entries) == list(shop.open(name).entries)
        assert verify_journal(found.open(name)).sound
    assert [path.name for path in target.iterdir()] == [copy.name]
    assert (copy / "shop.json").stat().st_size < 1000


def test_as_many_copies_are_kept_as_asked_for(shop: JournalFolder, target: Path, now: datetime) -> None:
    (target / "something else").mkdir(parents=True)
    made = [back_up_journals(shop, target, now + timedelta(days=day), keep=3) for day in range(5)]
    assert list_copies(target) == made[2:]
    assert (target / "something else").exists()
    with pytest.raises(BackupFailed, match="At least one"):
        back_up_journals(shop, target, now, keep=0)


def test_copies_within_one_second_are_told_apart(shop: JournalFolder, target: Path, now: datetime) -> None:
    made = [back_up_journals(shop, target, now) for _ in range(11)]
    assert list_copies(target) == made
    assert [copy.name.removeprefix(made[0].name) for copy in made] == ["", *(f"-{n}" for n in range(2, 12))]


def test_damaged_journal_is_reported_and_no_older_copy_is_deleted(
    shop: JournalFolder, target: Path, now: datetime
) -> None:
    good = back_up_journals(shop, target, now, keep=1)
    path = shop.folder / "B0007.json"
    path.write_bytes(path.read_bytes().replace(b"loaded", b"Loaded"))

    with pytest.raises(BackupFailed, match="not all of it is sound: B0007: Entry 2 was altered.*were all kept"):
        back_up_journals(shop, target, now + timedelta(days=1), keep=1)

    assert list_copies(target)[0] == good
    assert len(list_copies(target)) == 2
    with pytest.raises(BackupFailed, match="The copy is not sound.*Entry 2 was altered.*Take another copy"):
        restore_folder(list_copies(target)[1], shop.folder)
    assert path.exists()


def test_copy_that_does_not_read_back_is_no_copy(shop: JournalFolder, target: Path, now: datetime) -> None:
    class Forgetful(FaultyFiles):
        def write(self, fd: int, data: bytes, offset: int) -> None:
            super().write(fd, data.replace(b"loaded", b"Loaded"), offset)

    with pytest.raises(BackupFailed, match="does not read back"):
        back_up_journals(shop, target, now, files=Forgetful())
    assert list_copies(target) == []


def test_full_disk_leaves_the_older_copies(shop: JournalFolder, target: Path, now: datetime) -> None:
    good = back_up_journals(shop, target, now, keep=1)
    with pytest.raises(WriteFailed, match="disk is full"):
        back_up_journals(shop, target, now, keep=1, files=FaultyFiles(3, errno.ENOSPC, lasting=True))
    assert list_copies(target) == [good]
    assert back_up_journals(shop, target, now + timedelta(1), keep=1) != good


def test_copy_comes_back_and_the_former_record_is_kept(
    shop: JournalFolder, journal: Journal, target: Path, now: datetime, moment: Moment
) -> None:
    copy = back_up_journals(shop, target, now)
    copied = list(journal.entries)
    with journal.turn() as turn:
        turn.append([Draft("after the copy", {})], moment, "AB")

    former = restore_folder(copy, shop.folder)

    assert list(JournalFolder(shop.folder).open("B0007").entries) == copied
    assert former == shop.folder.with_name("record.before-1")
    assert list(JournalFolder(former).open("B0007").entries)[:-1] == copied
    with pytest.raises(Replaced, match="a backup was brought back"), journal.turn():
        pass
    assert list(shop.open("B0007").entries) == copied
    assert len(shop.open("B0001").entries) == 1


def test_copy_comes_back_where_there_is_no_record(
    shop: JournalFolder, target: Path, now: datetime, tmp_path: Path
) -> None:
    copy = back_up_journals(shop, target, now)
    files = FaultyFiles()
    assert restore_folder(copy, tmp_path / "new", files=files) is None
    put = ["write", "sync", "rename", "sync_folder"]
    moved = ["sync_folder", "rename", "sync_folder", "rename", "sync_folder"]
    assert files.done == ["make_folder", *put, *put, *put, *moved]
    assert JournalFolder(tmp_path / "new").names() == ["B0007", "shop"]
    with pytest.raises(BackupFailed, match="holds no record. Give the folder of one copy"):
        restore_folder(target, tmp_path / "new")


def test_power_cut_between_the_last_renames_is_made_good_at_the_next_start(
    shop: JournalFolder, target: Path, now: datetime
) -> None:
    copy = back_up_journals(shop, target, now)

    class Cut(FaultyFiles):
        def rename(self, old: Path, new: Path) -> None:
            if new == shop.folder:
                raise KeyboardInterrupt
            super().rename(old, new)

    with pytest.raises(KeyboardInterrupt):
        restore_folder(copy, shop.folder, files=Cut())
    assert not shop.folder.exists()

    assert JournalFolder(shop.folder).names() == ["B0007", "shop"]


def test_without_people_two_records_are_of_one_shop_where_they_share_a_batch(tmp_path: Path, moment: Moment) -> None:
    def record(folder: str, **batches: str) -> Path:
        journals = JournalFolder(tmp_path / folder)
        for name, text in batches.items():
            with journals.create(name).turn() as turn:
                turn.append([Draft("x", {"text": text})], moment, "AB")
        journals.close()
        return tmp_path / folder

    mine = record("mine", B1="one", B2="two")
    for theirs, same in (
        (record("grown", B1="one", B2="two", B3="three"), True),
        (record("parted", B1="one", B2="other"), True),
        (record("others", B1="other"), False),
        (record("elsewhere", B7="one"), False),
        (record("empty"), True),
        (record("manned", B1="one", shop="people"), True),
    ):
        assert is_same_shop(mine, theirs) is is_same_shop(theirs, mine) is same, theirs.name
    assert is_same_shop(record("p", shop="people"), tmp_path / "manned")
    assert not is_same_shop(record("q", shop="others", B1="one"), tmp_path / "manned"), "their people tell them apart"
