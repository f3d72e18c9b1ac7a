"""The file layer and the layout: sizes, locks between terminals, and what each error of the system is in words."""

from __future__ import annotations

import errno
import fcntl
import gc
import os
import stat
import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest

from floor.entry import Draft, Entry, Moment
from floor.ledger import REAL_FILES, Busy, Journal, JournalFolder, ReadOnly, WriteFailed
from floor.ledger.diagnosis import diagnose
from floor.ledger.errors import Replaced, Unreadable
from floor.ledger.file_format import (
    CHUNK,
    CLOSING,
    SECTOR,
    TailKind,
    encode_commit,
    encode_header,
    encode_journal,
    read_groups,
    read_header,
)
from floor.ledger.files import (
    Files,
    explain_os_error,
    find_free_path,
    hold_lock,
    open_file,
    read_whole,
    translate_os_errors,
    try_lock,
    unlock,
    write_whole,
)
from floor.ledger.hash_chain import ZERO, chain_drafts
from floor.ledger.high_water_mark import locate_mark, read_mark, write_mark
from floor.ledger.verify import verify_journal
from tests.ledger.faults import FaultyFiles

FULL = "the disk is full. Free some space and enter it again."
DENIED = "the record folder may not be written to. Ask whoever looks after this machine for the right to write."


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (errno.ENOSPC, FULL), (errno.EDQUOT, FULL), (errno.EFBIG, FULL),
        (errno.EACCES, DENIED), (errno.EPERM, DENIED), (errno.EROFS, DENIED),
        (errno.EIO, "the disk reported an error. Try again; if it happens twice, make a backup and change the disk."),
        (errno.EMFILE, "Too many open files. Try again; if it happens twice, ask whoever looks after this machine."),
    ],
)  # fmt: skip
def test_an_error_of_the_system_is_reported_with_what_to_do(number: int, said: str) -> None:
    assert explain_os_error(OSError(number, os.strerror(number))) == said
    with pytest.raises(WriteFailed) as failed, translate_os_errors("Writing"):
        raise OSError(number, os.strerror(number))
    assert str(failed.value) == f"Writing did not work: {said}"
    with pytest.raises(Busy), translate_os_errors("Writing"):
        raise Busy("held")


def test_an_error_without_a_number_is_reported_as_it_is() -> None:
    assert explain_os_error(OSError("odd")).startswith("odd. Try again")


@pytest.mark.parametrize(
    ("number", "why"),
    [
        (errno.EACCES, "this user may not read it. Ask whoever looks after this machine"),
        (errno.EPERM, "this user may not read it. Ask whoever looks after this machine"),
        (errno.EISDIR, "it is not a file. Move it away"),
        (errno.EINVAL, "it is not a file. Move it away"),
        (errno.EIO, f"{os.strerror(errno.EIO)}. Look what became of it"),
    ],
)
def test_a_journal_that_cannot_be_opened_says_why(tmp_path: Path, number: int, why: str) -> None:
    class Failing(Files):
        def open(self, path: Path, flags: int) -> int:
            raise OSError(number, os.strerror(number))

    path = tmp_path / "B1.json"
    with pytest.raises(Unreadable) as refused:
        open_file(Failing(), path, os.O_RDONLY, "B1")
    assert str(refused.value) == f"The record of B1 cannot be read, {path}: {why}."


def test_a_folder_a_pipe_and_nothing_in_a_journals_place(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    for name in ("folder", "pipe"):
        with pytest.raises(Unreadable, match="it is not a file. Move it away"):
            open_file(REAL_FILES, tmp_path / name, os.O_RDONLY, "B1")
    with pytest.raises(FileNotFoundError):
        open_file(REAL_FILES, tmp_path / "none", os.O_RDONLY, "B1")


def test_a_file_is_read_up_to_its_limit(tmp_path: Path) -> None:
    path = tmp_path / "file"
    write_whole(REAL_FILES, path, b"12345")
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert [entry.name for entry in tmp_path.iterdir()] == ["file"], "nothing is left beside it"
    assert read_whole(REAL_FILES, path, 5) == b"12345" == read_whole(REAL_FILES, path)
    with pytest.raises(ValueError, match="5"):
        read_whole(REAL_FILES, path, 4)


def test_what_is_kept_gets_the_next_free_number(tmp_path: Path) -> None:
    path = tmp_path / "B1.json"
    for number in (1, 2, 3):
        kept = find_free_path(path, "torn")
        assert kept == tmp_path / f"B1.json.torn-{number}"
        kept.touch()


def test_readers_share_a_file_and_a_writer_has_it_alone(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    one, two = (os.open(tmp_path / "file", os.O_RDWR) for _ in range(2))
    try:
        with hold_lock(one, "it", shared=True, patience=0.0):
            assert try_lock(two, shared=True)
            unlock(two)
            with pytest.raises(Busy, match="it is held by another terminal"), hold_lock(two, "it", patience=0.01):
                pass
        with hold_lock(one, "it"), pytest.raises(Busy), hold_lock(two, "it", shared=True, patience=0.0):
            pass
        assert try_lock(two), "and it is free afterwards"
    finally:
        os.close(one)
        os.close(two)


# --- the layout

MOMENT = Moment(datetime(2026, 11, 25, 12, 2, 1, 123000, UTC), "boot-1", 61.5)


def made(count: int, seq: int = 0, head: str = ZERO, text: str = "") -> tuple[bytes, list[Entry]]:
    return chain_drafts([Draft("x", {"n": n, "text": text}) for n in range(count)], MOMENT, "AB", seq, head)


@pytest.mark.parametrize(
    ("size", "chunks"),
    [(0, 1), (30_000, 1), (CHUNK // 2, 2), (CHUNK, 2), (CHUNK + CHUNK // 2, 3), (2 * CHUNK, 3)],
)
def test_a_file_grows_by_whole_chunks_with_half_a_one_to_spare(
    journals: JournalFolder, moment: Moment, size: int, chunks: int
) -> None:
    journal = journals.create("B1")
    assert journal.path.stat().st_size == CHUNK == 65536
    with journal.turn() as turn:
        turn.append([Draft("x", {"text": "y" * size})], moment, "AB")
    assert journal.path.stat().st_size == (1 if size < 60_000 else chunks) * CHUNK
    raw = journal.path.read_bytes()
    assert raw.rstrip(b" ").endswith(CLOSING)
    assert len(raw) - len(raw.rstrip(b" ")) >= (CHUNK // 2 if size >= 60_000 else 0)


def test_a_whole_file_ends_on_a_chunk() -> None:
    _, entries = made(3)
    data = encode_journal("B1", entries)
    assert len(data) == CHUNK
    assert data.startswith(b'{"floor":{"1":{"book":"B1","format":1}},"entries":{\n"1":{')
    assert read_groups(data, start=len(encode_header("B1"))).entries == entries
    assert read_header(encode_header("B1", entries=3)) == (
        {"book": "B1", "format": 1, "entries": 3},
        len(encode_header("B1", entries=3)),
    )
    assert read_header(b'{"floor":{"1":{"book"}},"entries":{') is None
    assert read_header(b"{}") is None


def test_a_group_of_n_entries_is_set_in_by_n_less_one_blanks() -> None:
    for count in (1, 2, 3):
        group, _ = made(count)
        assert encode_commit(group, count, 0) == b"\n" + b" " * (count - 1) + group + CLOSING
        assert encode_commit(group, count, 7) == b",\n" + b" " * (count - 1) + group + CLOSING


@pytest.mark.parametrize("wrong", ["number", "link"])
def test_an_entry_whose_hash_is_right_is_read_only_in_its_place(wrong: str) -> None:
    """Each alone is enough: the second entry bears another number, or names another one before it."""
    first, [one] = made(1)
    second, _ = made(1, 2, one.hash) if wrong == "number" else made(1, 1, ZERO)
    second = second.replace(b'"3":{', b'"2":{', 1)
    raw = encode_header("B1") + b"\n" + first + b",\n" + second + CLOSING
    reading = read_groups(raw, start=len(encode_header("B1")))
    assert reading.entries == [one]
    assert reading.end is TailKind.DAMAGED


HEAD = len(encode_header("B1"))


def ending(tail: bytes, count: int = 1) -> TailKind:
    group, _ = made(count)
    return read_groups(encode_header("B1") + b"\n" + b" " * (count - 1) + group + tail, start=HEAD).end


@pytest.mark.parametrize(
    ("tail", "kind"),
    [
        (b"\n}}\n", TailKind.WHOLE),
        (b"\n}}\n   ", TailKind.WHOLE),
        (b"", TailKind.TORN),
        (b"\n}}", TailKind.TORN),
        (b"\0\0\0\0", TailKind.TORN),
        (b",\n}\n", TailKind.TORN),
        (b"\n}}\nx", TailKind.TORN),
        (b',\n"2":{"at"', TailKind.TORN),
        (b',\n"2":{"at":1}', TailKind.TORN),
        (b',\n"2":{"at":1}}\n', TailKind.DAMAGED),
        (b',\n"2":{"at":1},\n"3":{', TailKind.DAMAGED),
        (b"xyzzy", TailKind.DAMAGED),
        (b"xyz\nz", TailKind.TORN),
    ],
)
def test_what_follows_the_last_whole_line_is_a_torn_commit_or_damage(tail: bytes, kind: TailKind) -> None:
    assert ending(tail) is kind
    assert ending(tail, 2) is kind


@pytest.mark.parametrize("blank", [b" ", b"\0"])
@pytest.mark.parametrize("sectors", [0, 1])
def test_a_line_that_is_all_there_but_for_a_sector_was_torn(blank: bytes, sectors: int) -> None:
    group, [one] = made(1)
    more, _ = made(1, 1, one.hash, "y" * 3 * SECTOR)
    raw = bytearray(encode_header("B1") + b"\n" + group + b",\n" + more + CLOSING)
    start = -(-(HEAD + len(group) + 200) // SECTOR) * SECTOR
    raw[start : start + sectors * SECTOR] = blank * (sectors * SECTOR)
    if not sectors:
        raw[start : start + SECTOR - 1] = blank * (SECTOR - 1)  # a byte less than a sector is no hole
    reading = read_groups(bytes(raw), start=HEAD)
    assert reading.entries == [one]
    assert reading.end is (TailKind.TORN if sectors else TailKind.DAMAGED)


def test_a_file_that_is_no_json_still_says_what_it_is() -> None:
    data = encode_header("B1") + b"\n???\n}}\n"
    found = diagnose(data)
    assert (found.about, found.entries) == ({"book": "B1", "format": 1}, [])
    assert found.fault is not None
    assert (found.fault.kind, found.fault.seq) == ("unreadable", 1)
    _, entries = made(2)
    spoilt = diagnose(b"?" + encode_journal("B1", entries))
    assert (spoilt.about, spoilt.entries) == ({}, entries)
    assert spoilt.fault is not None
    assert (spoilt.fault.kind, spoilt.fault.seq) == ("unreadable", 1)
    assert spoilt.fault.sentence == "The first line of the file cannot be read; all entries after it are sound."


# --- a journal among others


def add(journal: Journal, moment: Moment) -> list[Entry]:
    with journal.turn() as turn:
        return turn.append([Draft("x", {})], moment, "AB")


def test_looking_for_news_never_waits_for_a_turn_in_the_same_program(journal: Journal) -> None:
    inside, looked, free = threading.Event(), threading.Event(), []

    def hold() -> None:
        with journal.turn():
            inside.set()
            free.append(looked.wait(5))

    holder = threading.Thread(target=hold)
    holder.start()
    inside.wait(5)
    assert journal.refresh() == []
    looked.set()
    holder.join()
    assert free == [True], "it looked while the other was still at it"


def test_news_are_taken_in_while_others_read_and_not_while_one_writes(
    journal: Journal, folder: Path, moment: Moment
) -> None:
    other = JournalFolder(folder).open("B0007")
    news = add(other, moment)
    fd = os.open(journal.path, os.O_RDWR)
    try:
        fcntl.flock(fd, fcntl.LOCK_EX)
        assert journal.refresh() == []
        fcntl.flock(fd, fcntl.LOCK_SH)
        assert journal.refresh() == news
    finally:
        os.close(fd)
        other.close()


def test_a_journal_that_was_let_go_is_in_no_place(journal: Journal) -> None:
    assert journal.in_place()
    journal.close()
    assert not journal.in_place()
    journal.close()


@pytest.mark.parametrize("close", [True, False])
def test_what_could_not_be_taken_back_is_when_the_disk_is_well_again(folder: Path, moment: Moment, close: bool) -> None:
    JournalFolder(folder).create("B1").close()
    files = FaultyFiles(2, errno.EIO, lasting=True)  # 0: the sync at opening, 1: the write, 2: the sync
    journal = JournalFolder(folder, files=files).open("B1")
    with pytest.raises(WriteFailed, match="could not be taken back yet either"):
        add(journal, moment)
    assert verify_journal(journal.path).entries == 1, "it stands in the file, and nobody knows whether for good"
    files.heal()
    if close:
        journal.close()
    else:
        assert journal.refresh() == []
    found = verify_journal(journal.path)
    assert (found.entries, found.sound) == (0, True)
    journal.close()


def test_where_nothing_was_written_nothing_has_to_be_taken_back(folder: Path, moment: Moment) -> None:
    """A disk that turned read-only: the sentence names the folder, and asks for no look into the record."""
    JournalFolder(folder).create("B1").close()
    files = FaultyFiles(1, errno.EROFS, lasting=True)
    journal = JournalFolder(folder, files=files).open("B1")
    with pytest.raises(WriteFailed) as failed:
        add(journal, moment)
    assert str(failed.value) == (
        f"Writing to the record of B1 did not work: the folder {folder} may not be written to. "
        "Ask whoever looks after this machine for the right to write."
    )
    files.heal()
    assert [entry.seq for entry in add(journal, moment)] == [1]
    assert verify_journal(journal.path).sound
    journal.close()


def test_where_nobody_can_tell_whether_it_was_written_one_is_told_to_look(folder: Path, moment: Moment) -> None:
    """The disk fails at the sync, and lets nothing be read after it."""

    class Gone(FaultyFiles):
        def read(self, fd: int, count: int, offset: int) -> bytes:
            if self.failed:
                raise OSError(errno.EIO, os.strerror(errno.EIO))
            return super().read(fd, count, offset)

    JournalFolder(folder).create("B1").close()
    files = Gone(2, errno.EIO, lasting=True)  # 0: the sync at opening, 1: the write, 2: the sync
    journal = JournalFolder(folder, files=files).open("B1")
    with pytest.raises(WriteFailed, match="look whether it is in the record before entering it again"):
        add(journal, moment)
    journal.close()
    assert verify_journal(folder / "B1.json").entries == 1


def test_looking_for_news_within_a_turn_does_not_end_it(folder: Path, moment: Moment) -> None:
    """Not even with something to take back: whoever looks shares the lock of the turn."""
    JournalFolder(folder).create("B1").close()
    files = FaultyFiles(2, errno.EIO, lasting=True)
    journal, other = JournalFolder(folder, files=files).open("B1"), JournalFolder(folder, patience=0.0).open("B1")
    with journal.turn() as turn:
        with pytest.raises(WriteFailed):
            turn.append([Draft("x", {})], moment, "AB")
        files.heal()
        assert journal.refresh() == []
        with pytest.raises(Busy, match="B1 is held by another terminal"), other.turn():
            pass
    add(other, moment)


def test_a_file_swapped_while_its_torn_end_is_looked_at_is_not_mended(
    journals: JournalFolder, folder: Path, moment: Moment
) -> None:
    """Another terminal brings a copy back between the look and the lock."""
    add(journals.create("B1"), moment)
    journals.close()
    path = folder / "B1.json"
    sound = path.read_bytes()
    path.write_bytes(sound.rstrip() + b'x"torn')

    class Slow(Files):
        def read(self, fd: int, count: int, offset: int) -> bytes:
            raw = super().read(fd, count, offset)
            write_whole(REAL_FILES, path, sound)
            return raw

    with pytest.raises(Replaced, match="The record of B1 is being changed by another terminal. Open it again"):
        JournalFolder(folder, files=Slow()).open("B1")
    assert path.read_bytes() == sound
    assert not list(folder.glob("B1.json.torn-*"))


def test_what_another_terminal_holds_is_not_taken_back_on_closing(folder: Path, moment: Moment) -> None:
    JournalFolder(folder).create("B1").close()
    files = FaultyFiles(2, errno.EIO, lasting=True)
    journal = JournalFolder(folder, files=files).open("B1")
    with pytest.raises(WriteFailed):
        add(journal, moment)
    files.heal()
    before = journal.path.read_bytes()
    fd = os.open(journal.path, os.O_RDWR)
    try:
        fcntl.flock(fd, fcntl.LOCK_EX)
        journal.close()
        assert journal.path.read_bytes() == before
    finally:
        os.close(fd)


def test_entries_of_a_bundle_go_into_no_closed_journal_and_only_within_a_turn(
    journals: JournalFolder, moment: Moment
) -> None:
    one, other = journals.create("B1"), journals.create("B2")
    entries = add(one, moment)
    with other.turn() as turn:
        turn.adopt([])
        turn.adopt(entries)
    assert list(other.entries) == entries
    with pytest.raises(RuntimeError, match="a turn ends"):
        turn.adopt(entries)
    journals.archive("B2")
    with journals.open("B2").turn() as turn, pytest.raises(ReadOnly, match="B2 is closed"):
        turn.adopt(entries)


def test_what_was_taken_back_at_once_is_not_reported_to_be_open(folder: Path, moment: Moment) -> None:
    JournalFolder(folder).create("B1").close()
    for nth, failed_at in ((1, ["write"]), (2, ["write", "sync"])):
        files = FaultyFiles(nth, errno.ENOSPC)
        journal = JournalFolder(folder, files=files).open("B1")
        with pytest.raises(WriteFailed) as failed:
            add(journal, moment)
        assert str(failed.value) == f"Writing to the record of B1 did not work: {FULL}"
        assert files.done == ["sync", *failed_at, "write", "sync"], "and it is blank on the disk too"
        assert verify_journal(journal.path).entries == 0
        journal.close()


def test_a_closed_journal_is_opened_for_reading_only(journals: JournalFolder, folder: Path, moment: Moment) -> None:
    add(journals.create("B1"), moment)
    journals.archive("B1")
    asked: list[int] = []

    class Watched(Files):
        def open(self, path: Path, flags: int) -> int:
            asked.append(flags & os.O_ACCMODE)
            return super().open(path, flags)

    journals.create("B2")
    watched = JournalFolder(folder, files=Watched())
    assert len(watched.open("B1").entries) == 1
    assert asked[-1] == os.O_RDONLY
    watched.open("B2")
    assert asked[-1] == os.O_RDWR
    watched.close()


def test_nothing_keeps_a_file_open_that_is_done_with(journals: JournalFolder, folder: Path, moment: Moment) -> None:
    add(journals.create("B1"), moment)
    journals.close()
    path = folder / "B1.json"

    def held() -> int:
        gc.collect()
        return len(os.listdir("/proc/self/fd"))

    before = held()
    write_whole(REAL_FILES, folder / "whole", b"x")
    read_whole(REAL_FILES, folder / "whole")
    with pytest.raises(ValueError, match="1"):
        read_whole(REAL_FILES, folder / "whole", 0)
    journals.text("B1")
    verify_journal(path)
    read_mark(path)
    write_mark(path, 1, "x" * 64)
    with pytest.raises(Unreadable):
        open_file(REAL_FILES, folder / "closed", os.O_RDONLY, "closed")
    locate_mark(path).unlink()
    journal = JournalFolder(folder).open("B1")
    assert held() == before + 1
    add(journal, moment)
    assert held() == before + 2, "its note too, from the first entry on"
    journal.close()
    assert held() == before


def test_a_journal_without_a_note_gets_one_when_it_is_opened_and_one_with_a_note_keeps_it(
    journals: JournalFolder, folder: Path, moment: Moment
) -> None:
    entries = add(journals.create("B1"), moment)
    journals.close()
    path = folder / "B1.json"
    assert read_mark(path) == (1, entries[-1].hash)
    note = locate_mark(path)
    note.unlink()
    JournalFolder(folder).open("B1").close()
    assert read_mark(path) == (1, entries[-1].hash)
    os.utime(note, (1, 1))
    JournalFolder(folder).open("B1").close()
    assert note.stat().st_mtime == 1, "read and not written"
