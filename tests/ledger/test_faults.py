"""Whatever the disk refuses, and wherever, the journal is unchanged, and goes on when the disk does."""

from __future__ import annotations

import errno
import os
import resource
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from tinydb import TinyDB

from floor.entry import Draft, Entry, Moment
from floor.ledger import REAL_FILES, Journal, JournalFolder, LedgerError, ReadOnly, WriteFailed
from floor.ledger.backup import back_up_journals, restore_folder
from floor.ledger.bundle import receive_bundle, write_bundle
from floor.ledger.copies import list_copies
from floor.ledger.verify import verify_journal
from tests.ledger.faults import FaultyFiles

ERRORS = (errno.ENOSPC, errno.EIO)


def add(journal: Journal, moment: Moment, size: int, count: int = 1) -> list[Entry]:
    with journal.turn() as turn:
        return turn.append([Draft("x", {"part": part, "text": "y" * size}) for part in range(count)], moment, "AB")


def refusal(step: Callable[[], object]) -> str:
    """What was said when a step was refused; nothing where it was not."""
    try:
        step()
    except LedgerError as error:
        return str(error)
    return ""


def changes_of(work: Callable[[FaultyFiles], object]) -> int:
    """How many changes of the disk a piece of work makes when nothing fails."""
    files = FaultyFiles()
    work(files)
    return len(files.done)


def append_with(files: FaultyFiles, folder: Path, moment: Moment) -> None:
    """Appends of one and of several entries, with and without growth of the file; all that fails is tried once more.

    The disk is well again at the second try. After each failure nothing may have changed.
    """
    journal = JournalFolder(folder, files=files).open("B1")
    witness = JournalFolder(folder).open("B1")
    for size, count in ((10, 1), (700, 3), (80_000, 2), (10, 1)):
        before = list(journal.entries)
        said = refusal(lambda size=size, count=count: add(journal, moment, size, count))
        if said:
            assert "Writing to the record of B1 did not work: the disk" in said
            assert list(journal.entries) == before
            if "could not be taken back" not in said:
                assert witness.refresh() == []
                assert list(JournalFolder(folder).open("B1").entries) == before
            files.heal()
            assert journal.refresh() == []
            add(journal, moment, size, count)
        assert len(journal.entries) == len(before) + count
        assert journal.entries[len(before)].body["text"] == "y" * size
        assert len(witness.refresh()) == count
        with TinyDB(journal.path, access_mode="r") as stock:
            assert len(stock.table("entries")) == len(journal.entries)
    assert len(journal.entries) == 7
    assert verify_journal(journal).sound
    journal.close()
    witness.close()


def test_what_is_acknowledged_was_written_and_synced(folder: Path, moment: Moment) -> None:
    """One write and one sync for a group; a new file's folder is synced too."""
    files = FaultyFiles()
    journals = JournalFolder(folder, files=files)
    files.done.clear()
    journal = journals.create("B1")
    assert files.done == ["write", "sync", "rename", "sync_folder", "sync"]

    files.done.clear()
    add(journal, moment, 10, 3)
    assert files.done == ["write", "sync"]

    files.done.clear()
    add(journal, moment, 80_000, 1)
    assert files.done == ["write", "write", "sync"]  # the file grew first

    files.done.clear()
    journals.archive("B1")
    assert files.done == ["resize", "sync", "rename", "sync_folder", "sync_folder"]


@pytest.mark.parametrize("error", ERRORS, ids=errno.errorcode.get)
@pytest.mark.parametrize("kind", ["once", "lasting", "torn"])
def test_append_survives_a_fault_at_every_call(folder: Path, moment: Moment, error: int, kind: str) -> None:
    def trial(files: FaultyFiles) -> None:
        JournalFolder(folder).create("B1").close()
        append_with(files, folder, moment)
        shutil.rmtree(folder)

    calls = changes_of(trial)
    assert calls >= 10
    for nth in range(calls):
        files = FaultyFiles(nth, error, lasting=kind != "once", torn=kind == "torn")
        trial(files)
        assert "write" in files.done


def test_what_could_not_be_taken_back_is_part_of_the_record_once_built_on(folder: Path, moment: Moment) -> None:
    """The disk fails at the sync and stays away; another terminal has read the entry meanwhile and gone on."""
    JournalFolder(folder).create("B1").close()
    files = FaultyFiles(2, errno.EIO, lasting=True)  # 0: the sync at opening, 1: the write, 2: the sync
    journal = JournalFolder(folder, files=files).open("B1")
    with pytest.raises(WriteFailed, match="look whether it is in the record before entering it again"):
        add(journal, moment, 10)
    other = JournalFolder(folder).open("B1")
    built_on = add(other, moment, 20)

    files.heal()

    assert [entry.seq for entry in journal.refresh()] == [1, 2]
    assert journal.head == built_on[0].hash


def upkeep(files: FaultyFiles, folder: Path, moment: Moment) -> None:
    """Create, repair, rewrite, archive, bundle, receive, back up and restore, each tried until it works."""

    def persist(step: Callable[[], object]) -> None:
        said = refusal(step)
        if said:
            assert "did not work" in said
            files.heal()
            said = refusal(step)  # unless it had worked, and only the last sync of a folder had not
            assert not said or "already" in said or "taken in before" in said

    record, target = folder / "record", folder / "copies"
    journals = None

    def opened() -> None:
        nonlocal journals
        journals = JournalFolder(record, files=files)

    persist(opened)
    persist(lambda: journals.create("B1"))
    persist(lambda: journals.open("B1"))
    persist(lambda: add(journals.open("B1"), moment, 10, 2))
    path = record / "B1.json"
    journals.close()
    path.write_bytes(path.read_bytes().rstrip() + b'x"torn')
    persist(lambda: journals.open("B1"))
    assert len(journals.open("B1").entries) == 2
    journals.close()
    path.write_bytes(path.read_bytes().replace(b'"format":1', b'"format":0', 1))
    persist(lambda: journals.open("B1"))
    assert journals.open("B1").path.read_bytes().startswith(b'{"floor":{"1":{"book":"B1","format":1}}')
    persist(lambda: write_bundle(journals.open("B1"), folder / "B1.bundle", files=files))
    persist(lambda: receive_bundle(JournalFolder(folder / "other", files=files), folder / "B1.bundle", files=files))
    persist(lambda: journals.archive("B1"))
    persist(lambda: journals.archive("B1"))
    assert (journals.names(), journals.closed_names()) == ([], ["B1"])
    persist(lambda: back_up_journals(journals, target, moment.at, files=files))
    persist(lambda: restore_folder(list_copies(target)[-1], record, files=files))

    for found in (JournalFolder(record), JournalFolder(folder / "other")):
        assert len(found.open("B1").entries) == 2
        assert verify_journal(found.open("B1")).sound
        found.close()
    journals.close()


@pytest.mark.parametrize("error", ERRORS, ids=errno.errorcode.get)
@pytest.mark.parametrize("lasting", [False, True], ids=["once", "lasting"])
def test_upkeep_survives_a_fault_at_every_call(tmp_path: Path, moment: Moment, error: int, lasting: bool) -> None:
    calls = changes_of(lambda files: upkeep(files, tmp_path / "whole", moment))
    assert calls >= 40
    for nth in range(calls):
        upkeep(FaultyFiles(nth, error, lasting=lasting), tmp_path / str(nth), moment)


def test_a_file_that_may_not_grow_refuses_and_goes_on_afterwards(journals: JournalFolder, moment: Moment) -> None:
    """The kernel's limit, not ours: everything acknowledged before it is there, and nothing else."""
    journal = journals.create("B1")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, hard))
    try:
        assert "the disk is full" in [refusal(lambda: add(journal, moment, 900)) for _ in range(200)][-1]
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        signal.signal(signal.SIGXFSZ, handler)
    kept = list(journal.entries)
    assert 30 < len(kept) < 110
    assert list(JournalFolder(journals.folder).open("B1").entries) == kept

    add(journal, moment, 900)

    assert list(JournalFolder(journals.folder).open("B1").entries)[:-1] == kept


def test_a_full_disk_and_a_read_only_one() -> None:
    """On a real small file system if the machine allows mounting one, else by the kernel's limits; see `disks`."""
    done = subprocess.run([sys.executable, "-m", "tests.ledger.disks"], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1] == "full, freed, read-only, writable again: nothing lost"


def test_a_folder_without_the_right_to_write_is_read(journal: Journal, folder: Path, moment: Moment) -> None:
    class Denied(FaultyFiles):
        def open(self, path: Path, flags: int) -> int:
            if flags & os.O_RDWR:
                raise PermissionError(errno.EACCES, "denied")
            return super().open(path, flags)

    reader = JournalFolder(folder, files=Denied()).open("B0007")
    assert list(reader.entries) == list(journal.entries)
    assert reader.condition.kind == "read-only"
    with reader.turn() as turn, pytest.raises(ReadOnly, match="can be read but not written to"):
        turn.append([Draft("x", {})], moment, "AB")
    written = add(journal, moment, 10)
    assert reader.refresh() == written


def test_real_files_carry_a_short_write_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.pwrite
    monkeypatch.setattr(os, "pwrite", lambda fd, data, offset: real(fd, data[:3], offset))
    fd = REAL_FILES.open(tmp_path / "file", os.O_RDWR | os.O_CREAT)
    REAL_FILES.write(fd, b"0123456789", 0)
    REAL_FILES.close(fd)
    assert (tmp_path / "file").read_bytes() == b"0123456789"
