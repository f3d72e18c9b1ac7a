"""Checking a book against itself, and against a paper that carries its head hash.

The chain proves that no entry was altered, removed, inserted or reordered by anybody who did not write
every later entry anew. It does not prove that nobody did: whoever can write the file can rewrite all of it,
or take away its last entries. A head hash on paper, in a drawer, closes that gap up to the entry it names.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from floor.ledger.chain_fault import Fault
from floor.ledger.errors import NoSuchBook
from floor.ledger.file_format import End, header, read_groups, read_header
from floor.ledger.files import REAL_FILES, Files, locked, open_file, said_plainly
from floor.ledger.recovery import shortfall, sound_part
from floor.ledger.repair import check_format

if TYPE_CHECKING:
    from floor.ledger.journal import Book
    from floor.ledger.journal_folder import Shelf, Text

MIN_PINNED = 8
"""Characters of a head hash that a paper must give at least."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What came of checking a book."""

    name: str
    entries: int
    """How many are sound, counted from the first."""
    head: str
    """Hash of the last sound one; empty where there is none."""
    fault: Fault | None
    sentence: str

    @property
    def sound(self) -> bool:
        """Whether nothing is wrong."""
        return self.fault is None


def verify_book(book: Book | Path | str, pinned: str = "", *, files: Files = REAL_FILES) -> Verdict:
    """Check every byte of a book's file, without changing any.

    Args:
        pinned: a head hash from a paper, or its first digits.

    Raises:
        NoSuchBook, NewerFormat, Busy
    """
    path = Path(book) if isinstance(book, (Path, str)) else book.path
    return judge_text(path.stem, _read(path, files), pinned)


def judge_text(name: str, raw: bytes, pinned: str = "") -> Verdict:
    """Check the text of a book's file."""
    first = header(name)
    if not raw.startswith(first):
        return _at_length(name, raw, pinned)
    reading = read_groups(raw, start=len(first))
    if reading.end is End.DAMAGED:
        return _at_length(name, raw, pinned)
    hashes = [entry.hash for entry in reading.entries]
    if reading.end is End.TORN:
        seq = len(hashes) + 1
        return _verdict(name, hashes, Fault("cut off", seq, (
            f"What follows entry {seq - 1} was cut off while it was being written. Opening {name} repairs it.")))
    return _verdict(name, hashes, _pin(hashes, pinned))


def missing(shelf: Shelf, text: Text) -> str:
    """What is missing at the end of a book that is sound as far as it goes; empty where nothing is known to be."""
    short = shortfall(shelf.folder / text.place, sound_part(text.raw), text.mark, shelf.copies)
    return short.sentence if short is not None else ""


def _at_length(name: str, raw: bytes, pinned: str) -> Verdict:
    from floor.ledger.diagnosis import survey  # only where something is wrong

    found = survey(raw)
    check_format(name, found.about)
    hashes = [entry.hash for entry in found.entries]
    fault = found.fault
    if fault is None and found.about.get("book", name) != name:
        fault = Fault("altered", 1, f"The file says that it is the record of {found.about['book']}, not of {name}.")
    if fault is None and (first := read_header(raw)) is not None:
        reading = read_groups(raw, start=first[1])
        seq = len(reading.entries) + 1
        where = "The first line of the file is" if reading.end is End.WHOLE else f"The bytes around entry {seq} are"
        fault = Fault("altered", seq, f"{where} not as Floor wrote it, though every entry gives its hash.")
    fault = fault or _pin(hashes, pinned)
    return _verdict(name, hashes, fault, "" if fault else " The file was laid out by another program.")


def _pin(hashes: list[str], pinned: str) -> Fault | None:
    pinned = pinned.strip().lower()
    if not pinned or len(pinned) >= MIN_PINNED and any(digest.startswith(pinned) for digest in hashes):
        return None
    return Fault("removed", len(hashes), (
        f"No entry has the hash {pinned} that the paper names: the record was rewritten or cut short since."
        if len(pinned) >= MIN_PINNED else f"Give at least {MIN_PINNED} characters of the hash on the paper."))


def _verdict(name: str, hashes: list[str], fault: Fault | None, more: str = "") -> Verdict:
    head = hashes[-1] if hashes else ""
    if fault is not None:
        return Verdict(name, len(hashes), head, fault, f"{name}: {fault.sentence}")
    said = f"{name}: all {len(hashes)} entries intact."
    return Verdict(name, len(hashes), head, None, said + (f" Head {head}." if head else "") + more)


def _read(path: Path, files: Files) -> bytes:
    try:
        fd = open_file(files, path, os.O_RDONLY, path.stem)
    except FileNotFoundError:
        raise NoSuchBook(f"There is no record {path}.") from None
    try:
        with locked(fd, f"The record of {path.stem}", shared=True), said_plainly(f"Reading {path}"):
            return files.read(fd, os.fstat(fd).st_size, 0)
    finally:
        files.close(fd)
