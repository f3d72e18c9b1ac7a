"""The record folder of one shop: its journals, open and closed."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from floor.entry import Entry
from floor.ledger.copies import finish_restoring
from floor.ledger.errors import InvalidName, NameTaken, NoSuchJournal
from floor.ledger.file_format import encode_journal
from floor.ledger.files import PATIENCE, REAL_FILES, Files, hold_lock, open_file, translate_os_errors, write_whole
from floor.ledger.hash_chain import MAX_ENTRY, ZERO, decode_entry
from floor.ledger.high_water_mark import HighWaterMark, list_marked, read_mark, write_mark
from floor.ledger.journal import Journal

CLOSED = "closed"
"""Subfolder of closed journals, which opening a shop never reads."""

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}")
_ENDING = ".json"


class RawJournal(NamedTuple):
    """A journal's path within the record folder, its bytes, and its high-water mark."""

    place: Path
    raw: bytes
    mark: HighWaterMark | None


class JournalFolder:
    """All journals of one shop. Opening it reads none; each is read on demand."""

    def __init__(
        self, folder: Path | str, *, files: Files = REAL_FILES, patience: float = PATIENCE, copies: Path | None = None
    ) -> None:
        """Open the record folder, creating it if missing.

        Args:
            patience: seconds to wait for a terminal that holds a journal.
            copies: the folder of its copies, checked if a journal may have been cut short.
        """
        self.folder = Path(folder)
        self.copies = copies
        self._files = files
        self._patience = patience
        self._open: dict[str, Journal] = {}
        self._closed_folder = self.folder / CLOSED
        if not self._closed_folder.is_dir():
            with translate_os_errors(f"Making the record folder {self.folder}"):
                finish_restoring(self.folder, files)
                files.make_folder(self.folder)
                files.make_folder(self._closed_folder)

    def names(self) -> list[str]:
        """The open journals, sorted."""
        return _names(self.folder)

    def closed_names(self) -> list[str]:
        """The closed journals, sorted. Their files are not read."""
        return _names(self._closed_folder)

    def lost(self) -> list[str]:
        """Open journals that are gone: each has a mark and no file. Sorted."""
        return [name for name in list_marked(self.folder) if _NAME.fullmatch(name) and self._path(name) is None]

    def lost_closed(self) -> list[str]:
        """The same for closed journals. Opening a shop does not check these."""
        known = list_marked(self._closed_folder)
        return [name for name in known if _NAME.fullmatch(name) and self._path(name) is None]

    def bring_back_misplaced(self) -> list[str]:
        """Bring back journals that are among the closed ones, though their marks say that they are open.

        A hand moved the file, or a crash came between file and mark; who reads a closed one archives it again.

        Raises:
            WriteFailed
        """
        if not self._list_misplaced():
            return []
        with translate_os_errors("Bringing back a record from among the closed ones"), self._alone():
            found = self._list_misplaced()  # another terminal may have been about to move the mark
            for name in found:
                self._files.rename(self._closed_folder / f"{name}{_ENDING}", self.folder / f"{name}{_ENDING}")
            return found

    def _list_misplaced(self) -> list[str]:
        marked = [name for name in list_marked(self.folder) if _NAME.fullmatch(name)]
        return [name for name in marked if self._path(name) == self._closed_folder / f"{name}{_ENDING}"]

    def place(self, name: str) -> Path:
        """Where a journal's file is, or was if it is gone.

        Raises:
            InvalidName
        """
        found = self._path(check_name(name))
        if found is not None:
            return found
        return (self._closed_folder if name in self.lost_closed() else self.folder) / f"{name}{_ENDING}"

    def open(self, name: str, patience: float | None = None) -> Journal:
        """The journal of this name, closed or not. Opened once, then reused.

        Args:
            patience: seconds to wait for a terminal that holds it, if not the folder's own.

        Raises:
            NoSuchJournal, InvalidName, NewerFormat, Busy
        """
        check_name(name)
        journal = self._open.get(name)
        if journal is None or not journal.in_place():
            if journal is not None:
                journal.close()
            try:
                journal = self._journal(self.folder / f"{name}{_ENDING}", patience=patience)
            except NoSuchJournal:
                journal = self._journal(self._closed_folder / f"{name}{_ENDING}", closed=True, patience=patience)
            self._open[name] = journal
        return journal

    def create(self, name: str, entries: Sequence[Entry] = ()) -> Journal:
        """A new journal, empty or with chained entries.

        Raises:
            NameTaken: the name exists, open or closed, or another process was faster.
            InvalidName
        """
        check_name(name)
        data = encode_journal(name, entries)
        with translate_os_errors(f"Making the record of {name}"), self._alone():
            if self._path(name) is not None:
                raise NameTaken(f"There is a record named {name} already. Choose another name.")
            if name in (*self.lost(), *self.lost_closed()):
                from floor.ledger.recover_from_copies import describe_lost_journal  # hardly ever needed

                raise NameTaken(describe_lost_journal(self.place(name), self.copies))
            path = self.folder / f"{name}{_ENDING}"
            write_whole(self._files, path, data)
            write_mark(path, len(entries), entries[-1].hash if entries else ZERO)  # or a copy of one given up counts
        return self.open(name)

    def archive(self, name: str) -> None:
        """Archive a closed batch's journal where opening the shop does not read it. Repeating it changes nothing.

        One rename moves it, so a crash leaves it in one place or the other, never in between.

        Raises:
            NoSuchJournal, InvalidName, WriteFailed
        """
        check_name(name)
        here, there = self.folder / f"{name}{_ENDING}", self._closed_folder / f"{name}{_ENDING}"
        with translate_os_errors(f"Putting aside the record of {name}"), self._alone():
            if there.exists() and not here.exists():
                self._files.sync_folder(self._closed_folder)
                self._files.sync_folder(self.folder)
                return
            if there.exists():
                raise NameTaken(
                    f"There are two records named {name}, in {self.folder} and in {self._closed_folder}. "
                    "Compare them with `floor verify`, and move one out of the record folder."
                )
            journal = self.open(name)
            with journal.turn():
                journal.put_aside(there)
                self._files.sync_folder(self._closed_folder)
                self._files.sync_folder(self.folder)

    def text(self, name: str) -> RawJournal:
        """A journal as on disk between two commits."""
        path = self._path(check_name(name))
        if path is None:
            raise NoSuchJournal(f"There is no record of {name} in {self.folder}.")
        fd = open_file(self._files, path, os.O_RDONLY, name)
        try:
            with hold_lock(fd, f"The record of {name}", shared=True, patience=self._patience):
                raw, mark = self._files.read(fd, os.fstat(fd).st_size, 0), read_mark(path)
        finally:
            self._files.close(fd)
        return RawJournal(path.relative_to(self.folder), raw, mark)

    def read_first(self, name: str) -> Entry | None:
        """The first entry of a journal, the rest of the file not read; None where there is none to read."""
        path = self._path(check_name(name))
        if path is None:
            return None
        try:
            with path.open("rb") as file:
                file.readline(MAX_ENTRY)
                line = file.readline(2 * MAX_ENTRY).lstrip(b" ")
        except OSError:
            return None
        found = decode_entry(line.decode("ascii", "replace"), line, 0, 1, ZERO)
        return found[0] if found is not None else None

    def close(self) -> None:
        """Close every journal."""
        for journal in self._open.values():
            journal.close()
        self._open.clear()

    def _journal(self, path: Path, closed: bool = False, patience: float | None = None) -> Journal:
        return Journal(
            path,
            closed=closed,
            files=self._files,
            patience=self._patience,
            copies=self.copies,
            opening_patience=patience,
        )

    def _path(self, name: str) -> Path | None:
        for folder in (self.folder, self._closed_folder):
            if os.path.lexists(path := folder / f"{name}{_ENDING}"):
                return path
        return None

    @contextmanager
    def _alone(self) -> Iterator[None]:
        """Lock the list of journals, so no two terminals create or move one at once."""
        fd = os.open(self.folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            with hold_lock(fd, f"The record folder {self.folder}", patience=self._patience):
                yield
        finally:
            os.close(fd)


def check_name(name: str) -> str:
    """Return a valid journal name: letters, digits, ``-`` and ``_``, so no path leaves the folder.

    Raises:
        InvalidName
    """
    if not isinstance(name, str) or _NAME.fullmatch(name) is None:
        raise InvalidName(
            f"{name!r:.80} cannot be the name of a record: use 1 to 64 letters, digits, - and _, "
            "starting with a letter or a digit."
        )
    return name


def _names(folder: Path) -> list[str]:
    try:
        files = os.listdir(folder)
    except OSError:  # its disk is away for a moment, or a copy is being restored
        return []
    stems = (file[: -len(_ENDING)] for file in files if file.endswith(_ENDING))
    return sorted(stem for stem in stems if _NAME.fullmatch(stem))
