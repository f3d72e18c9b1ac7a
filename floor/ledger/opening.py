"""Opening a book after whatever happened to it: what is safe to repair is repaired, anything else is left alone."""

from __future__ import annotations

import errno
import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from floor.ledger.errors import NewerFormat, NoSuchBook
from floor.ledger.files import Files, locked, reason, said_plainly, spare_path, write_whole
from floor.ledger.layout import CLOSING, FORMAT, End, Reading, blank, read_groups, read_header


@dataclass(frozen=True, slots=True)
class Opened:
    """An open file, what it holds, and what there is to say about it."""

    fd: int
    reading: Reading
    writable: bool = True
    sentence: str = ""
    place: str = ""


def begin(path: Path, closed: bool, files: Files, patience: float) -> Opened:
    """Open a book's file and read it, repairing a torn end unless the book is closed or may not be written to.

    Raises:
        NoSuchBook, NewerFormat, Busy, WriteFailed: the file is closed again and was not changed.
    """
    fd, denied = _open(path, closed, files)
    try:
        with said_plainly(f"Opening the record of {path.stem}"):
            return _read(fd, path, closed or bool(denied), denied, files, patience)
    except BaseException:
        files.close(fd)
        raise


def clean(files: Files, fd: int, path: Path, reading: Reading) -> str:
    """With the lock held: keep the bytes of a torn commit beside the book, and take them out of it.

    Returns:
        One sentence on what was done.
    """
    if len(reading.rest) <= len(CLOSING):
        said = (f"The closing braces of the record of {path.stem} were not whole and were written anew; "
                "no entry is missing.")
    else:
        spare = spare_path(path, "torn")
        write_whole(files, spare, reading.rest)
        said = (f"The last line of the record of {path.stem} was cut off while it was being written, before it was "
                f"acknowledged. It was taken out; its {len(reading.rest)} bytes are kept in {spare.name}.")
    size = os.fstat(fd).st_size
    files.write(fd, CLOSING + blank(max(0, size - reading.stop - len(CLOSING))), reading.stop)
    files.sync(fd)
    return said


def damage(name: str, reading: Reading, known: int) -> tuple[str, str]:
    """The sentence and the place of damage after the `known` entries that are sound."""
    place = f"entry {known + 1}, at byte {reading.stop + 1}"
    return (f"The record of {name} is damaged at {place}. The {known} entries before it are sound and can be read; "
            "nothing more is written to it. Bring back a backup, or receive the batch from another machine.", place)


def _open(path: Path, closed: bool, files: Files) -> tuple[int, str]:
    try:
        if closed:
            return files.open(path, os.O_RDONLY), ""
        try:
            return files.open(path, os.O_RDWR), ""
        except OSError as error:
            if error.errno not in (errno.EACCES, errno.EPERM, errno.EROFS):
                raise
            return files.open(path, os.O_RDONLY), reason(error)
    except FileNotFoundError:
        raise NoSuchBook(f"There is no record of {path.stem} in {path.parent}.") from None


def _read(fd: int, path: Path, fixed: bool, denied: str, files: Files, patience: float) -> Opened:
    what = f"The record of {path.stem}"
    with locked(fd, what, shared=True, patience=patience):
        reading, fault = _look(fd, path, files)
    said = ""
    if reading.end is End.TORN and not fixed:
        with locked(fd, what, patience=patience):
            reading, fault = _look(fd, path, files)  # it may have been a commit under way, whole by now
            if reading.end is End.TORN:
                said = clean(files, fd, path, reading)
    elif not fixed:
        with suppress(OSError):  # a disk that does not sync will say so at the first entry
            files.sync(fd)  # what a killed terminal wrote is not shown before it is on the disk
    if fault:
        return Opened(fd, reading, False, fault)
    if reading.end is End.DAMAGED:
        sentence, place = damage(path.stem, reading, len(reading.entries))
        return Opened(fd, reading, False, sentence, place)
    if denied:
        return Opened(fd, reading, False, f"{what} can be read but not written to: {denied}")
    return Opened(fd, reading, True, said)


def _look(fd: int, path: Path, files: Files) -> tuple[Reading, str]:
    """Read the whole file; where it is not this book's, say so."""
    raw = files.read(fd, os.fstat(fd).st_size, 0)
    found = read_header(raw)
    if found is None:
        return Reading(end=End.DAMAGED), ""
    about, start = found
    version = about.get("format")
    if not isinstance(version, int) or version > FORMAT:
        raise NewerFormat(f"The record of {path.stem} has format {version}; this Floor reads {FORMAT} and older. "
                          "Install the newer Floor here. Nothing was changed.")
    if about.get("book") != path.stem:
        return Reading(end=End.DAMAGED), (f"The file {path.name} says that it is the record of {about.get('book')}. "
                                          "Give it back its name; until then it is not written to.")
    return read_groups(raw, start=start), ""
