"""A journal: one chain of entries in one file, written by several terminals, readable by any TinyDB."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from floor.entry import Draft, Entry, Moment
from floor.ledger.errors import LedgerError, ReadOnly, Replaced, WriteFailed
from floor.ledger.file_format import CHUNK, CLOSING, JournalContent, TailKind, encode_commit, make_padding, read_groups
from floor.ledger.files import PATIENCE, REAL_FILES, Files, hold_lock, translate_os_errors, try_lock, unlock
from floor.ledger.hash_chain import ZERO, chain_drafts, encode_group
from floor.ledger.high_water_mark import has_marked_entry, locate_mark, open_mark, overwrite_mark, read_mark
from floor.ledger.open_and_repair import JournalCondition, cut_torn_tail, make_damaged_condition, open_and_repair


class JournalWriter:
    """A terminal's turn at a journal: nobody else writes to it meanwhile, and it has what others wrote."""

    def __init__(self, journal: Journal, news: list[Entry]) -> None:
        self._journal = journal
        self.news = news
        """Entries other terminals wrote since this journal last looked."""

    def need_writable(self) -> None:
        """Raise `ReadOnly` if `append` would, before anything else is done."""
        self._journal._allow()

    def append(self, drafts: Sequence[Draft], moment: Moment, by: str) -> list[Entry]:
        """Write a group of entries, all or none. On return they are on the disk.

        Raises:
            ReadOnly, NotStorable: nothing was written.
            WriteFailed: nothing was kept; the sentence says what to do. A later append may succeed.
        """
        return self._journal._append(drafts, moment, by)

    def adopt(self, entries: Sequence[Entry]) -> None:
        """Write entries already chained and hashed, as from a bundle: all or none."""
        self._journal._adopt(entries)


class Journal:
    """The record of the shop or of one batch. Made by a `JournalFolder`."""

    def __init__(
        self,
        path: Path,
        *,
        closed: bool = False,
        files: Files = REAL_FILES,
        patience: float = PATIENCE,
        copies: Path | None = None,
        opening_patience: float | None = None,
    ) -> None:
        self.path = path
        self.name = path.stem
        self.closed = closed
        """Whether the batch is archived: it can be read, not written."""
        self._files = files
        self._patience = patience
        self._copies = copies
        self._owed: tuple[int, str] | None = None  # bytes and last hash of a failed commit not yet blanked
        self._in_turn = False
        self._mark_fd = -1
        self._thread = threading.RLock()  # the file lock belongs to the process, not the thread
        first = patience if opening_patience is None else opening_patience
        opened = open_and_repair(path, closed=closed, files=files, patience=first, copies=copies)
        self._fd = opened.fd
        self._entries, self._stop = opened.reading.entries, opened.reading.stop
        self._damaged = opened.damaged
        self.condition = opened.condition

    @property
    def entries(self) -> Sequence[Entry]:
        """All known entries, in order. Grows by `refresh` and by turns; do not change it."""
        return self._entries

    @property
    def head(self) -> str:
        """The hash of the last entry. With it on paper, anybody can tell whether an earlier entry was changed."""
        return self._entries[-1].hash if self._entries else ZERO

    def refresh(self) -> list[Entry]:
        """Read what other terminals wrote since, and return it. Never waits; within a turn it finds nothing.

        Costs one read of two bytes if nothing happened. A commit another terminal is writing is left for the next
        call.
        """
        if not self._thread.acquire(blocking=False):
            return []
        try:
            if self._fd < 0 or self._damaged or self._in_turn or self._unchanged():
                return []
            if not try_lock(self._fd, shared=self._owed is None):
                return []
            try:
                self._settle()
                reading = self._read_on()
                if reading.end is TailKind.DAMAGED:
                    self._spoilt(reading)
                elif reading.entries:
                    self._files.sync(self._fd)  # its writer may have been killed before it did
            finally:
                unlock(self._fd)
            return self._take_in(reading)
        except OSError:
            return []  # not known to be on disk, so not shown
        finally:
            self._thread.release()

    @contextmanager
    def turn(self) -> Iterator[JournalWriter]:
        """Lock the journal and read what others wrote, so decisions use the newest state.

        Raises:
            Busy: another terminal hangs while holding the journal.
            Replaced: the journal was closed, moved or restored meanwhile.
        """
        with self._thread:
            if self._in_turn:
                raise RuntimeError("a turn within a turn of the same journal")
            if self._fd < 0:
                raise Replaced(f"The record of {self.name} was let go. Open it again; nothing was written.")
            with hold_lock(self._fd, f"The record of {self.name}", patience=self._patience):
                self._in_turn = True
                try:
                    yield JournalWriter(self, self._catch_up())
                finally:
                    self._in_turn = False

    def text(self) -> bytes:
        """The lines of all known entries as on disk, without what comes before and after."""
        raw = self._files.read(self._fd, self._stop, 0)
        return raw[raw.index(b"\n") :] if self._entries else b""

    def in_place(self) -> bool:
        """Whether this is still the file under the journal's name."""
        try:
            return os.path.samestat(os.stat(self.path), os.fstat(self._fd))
        except OSError:  # it was moved away or let go, or its disk is away
            return False

    def put_aside(self, path: Path) -> None:
        """Within a turn: free the blanks after the last entry, and move the file to `path`."""
        if self.condition.kind != "read-only":
            self._files.resize(self._fd, self._stop + len(CLOSING))
            self._files.sync(self._fd)
        self._files.rename(self.path, path)
        with suppress(OSError):
            os.rename(locate_mark(self.path), locate_mark(path))
        self.path, self.closed = path, True

    def close(self) -> None:
        """Close the file."""
        with self._thread:
            if self._fd < 0:
                return
            if self._owed is not None and try_lock(self._fd):
                with suppress(OSError):
                    self._settle()
            self._files.close(self._fd)
            if self._mark_fd >= 0:
                os.close(self._mark_fd)
            self._fd = self._mark_fd = -1

    # -- reading

    def _unchanged(self) -> bool:
        start = CLOSING[:2]  # of the closing braces: a commit starts with a comma, the first one with its entry's line
        return self._owed is None and self._files.read(self._fd, len(start), self._stop) == start

    def _read_on(self) -> JournalContent:
        size = os.fstat(self._fd).st_size
        if size < self._stop:  # another program cut the file short
            return JournalContent([], self._stop, TailKind.DAMAGED)
        raw = self._files.read(self._fd, size - self._stop, self._stop)
        return read_groups(raw, self._stop, len(self._entries), self.head)

    def _take_in(self, reading: JournalContent) -> list[Entry]:
        self._entries += reading.entries
        self._stop = reading.stop
        return reading.entries

    def _catch_up(self) -> list[Entry]:
        """With the lock held: check that the file is still the journal, read what is new, repair a torn end."""
        if self._damaged or self.closed:
            return []
        if not self.in_place():
            raise Replaced(
                f"The record of {self.name} is no longer where it was: the batch was closed at another "
                "terminal, or a backup was brought back. Open it again; nothing was written."
            )
        with translate_os_errors(f"Reading the record of {self.name}"):
            self._settle()
            same = self._unchanged()
            reading = JournalContent([], self._stop, TailKind.WHOLE) if same else self._read_on()
            if reading.end is not TailKind.DAMAGED and self._cut_short(reading):
                return self._take_in(reading)
            if same:
                return []
            if reading.end is TailKind.TORN and self.condition.kind != "read-only":
                self.condition = cut_torn_tail(self._files, self._fd, self.path, reading, len(self._entries))
            else:
                self._files.sync(self._fd)
        news = self._take_in(reading)
        if reading.end is TailKind.DAMAGED:
            self._spoilt(reading)
        return news

    def _cut_short(self, reading: JournalContent) -> bool:
        """With the lock held: whether the file ends before its mark, though not before what is known here.

        That happens if it was cut while this terminal was behind. Nothing more is written to it then.
        """
        mark = read_mark(self.path)
        whole = [*self._entries, *reading.entries] if reading.entries else self._entries
        if mark is None or has_marked_entry(mark, whole):
            return False
        from floor.ledger.recover_from_copies import find_shortfall  # hardly ever needed

        short = find_shortfall(self.path, JournalContent(whole, reading.stop, reading.end), mark, self._copies)
        if short is None:
            return False
        self._damaged = True
        self.condition = JournalCondition("read-only", short.sentence, f"entry {short.seq}", "recover")
        return True

    def _spoilt(self, reading: JournalContent) -> None:
        """The file was changed or cut short while open here: write nothing more, and keep what is known."""
        from floor.ledger.recover_from_copies import save_known_entries  # hardly ever needed

        self._damaged = True
        self.condition = make_damaged_condition(self.name, reading, len(self._entries))
        if not reading.entries:
            with suppress(OSError, LedgerError):
                save_known_entries(self.path, self._entries, self._files)

    # -- writing

    def _append(self, drafts: Sequence[Draft], moment: Moment, by: str) -> list[Entry]:
        self._allow()
        if not drafts:
            return []
        group, entries = chain_drafts(drafts, moment, by, len(self._entries), self.head)
        self._commit(group, entries)
        return entries

    def _adopt(self, entries: Sequence[Entry]) -> None:
        self._allow()
        if entries:
            self._commit(encode_group(entries), entries)

    def _allow(self) -> None:
        if not self._in_turn:
            raise RuntimeError("a turn ends with its with-block")
        if self.closed:
            raise ReadOnly(f"{self.name} is closed. It can be read, but nothing more is entered.")
        if self.condition.kind == "read-only":
            raise ReadOnly(self.condition.sentence)

    def _commit(self, group: bytes, entries: Sequence[Entry]) -> None:
        data = encode_commit(group, len(entries), len(self._entries))
        try:
            with translate_os_errors(f"Writing to the record of {self.name}", self.path.parent):
                self._make_room(len(data))
                self._owed = len(data), entries[-1].hash
                self._files.write(self._fd, data, self._stop)
                self._files.sync(self._fd)
        except BaseException as error:
            untouched = False
            with suppress(OSError):
                untouched = self._is_untouched()
                self._take_back()
            if untouched:
                self._owed = None
            if self._owed is not None and isinstance(error, WriteFailed):
                raise WriteFailed(
                    f"{error} It could not be taken back yet either: look whether it is in the record "
                    "before entering it again."
                ) from error
            raise
        self._owed = None
        self._entries += entries
        self._stop += len(data) - len(CLOSING)
        self._note()

    def _note(self) -> None:
        """Mark how far the journal goes now."""
        with suppress(OSError):
            if self._mark_fd < 0:
                self._mark_fd = open_mark(self.path)
            overwrite_mark(self._mark_fd, len(self._entries), self.head)

    def _make_room(self, length: int) -> None:
        """Make sure the file has blanks to overwrite, so the commit itself needs no new disk space."""
        size = os.fstat(self._fd).st_size
        needed = self._stop + length
        if needed > size:
            new = -(-(needed + CHUNK // 2) // CHUNK) * CHUNK
            self._files.write(self._fd, make_padding(new - size), size)

    def _is_untouched(self) -> bool:
        """Whether a failed commit did not write a byte, as on a disk that is read-only now."""
        return self._owed is not None and self._files.read(self._fd, self._owed[0], self._stop).rstrip() == (
            CLOSING.rstrip()
        )

    def _take_back(self) -> None:
        """Blank what a failed commit may have left, on disk too."""
        if self._owed is None:
            return
        self._files.write(self._fd, CLOSING + make_padding(self._owed[0] - len(CLOSING)), self._stop)
        self._files.sync(self._fd)
        self._owed = None

    def _settle(self) -> None:
        """With the lock held: blank a failed commit that could not be blanked at the time.

        Unless another terminal has read it and continued from it: then it is part of the record.
        """
        if self._owed is None:
            return
        found = self._read_on().entries
        if found and found[-1].hash != self._owed[1]:
            self._owed = None
        else:
            self._take_back()
