"""Check a journal against itself, and against a head hash on paper.

The chain proves that no entry was altered, removed, inserted or reordered without rewriting every later one. But
anybody who can write the file can rewrite all of it, or remove its last entries. A head hash on paper, in a drawer,
closes that gap up to the entry it names.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from floor.dataclass import dataclass
from floor.ledger.chain_fault import ChainFault
from floor.ledger.errors import NoSuchJournal
from floor.ledger.file_format import TailKind, encode_header, read_groups, read_header
from floor.ledger.files import REAL_FILES, Files, hold_lock, open_file, translate_os_errors
from floor.ledger.open_and_repair import check_format
from floor.ledger.recover_from_copies import find_shortfall, read_sound_part

if TYPE_CHECKING:
    from floor.ledger.journal import Journal
    from floor.ledger.journal_folder import JournalFolder, RawJournal

MIN_PINNED = 8
"""Fewest characters of a head hash from paper."""


@dataclass(frozen=True, slots=True)
class VerifyResult:
    """The result of checking a journal."""

    name: str
    entries: int
    """How many entries are sound, from the first on."""
    head: str
    """Hash of the last sound entry; empty if there is none."""
    fault: ChainFault | None
    sentence: str

    @property
    def sound(self) -> bool:
        """Whether everything is right."""
        return self.fault is None


def verify_journal(journal: Journal | Path | str, pinned: str = "", *, files: Files = REAL_FILES) -> VerifyResult:
    """Check every byte of a journal's file; changes nothing.

    Args:
        pinned: a head hash from a paper, or its first digits.

    Raises:
        NoSuchJournal, NewerFormat, Busy
    """
    path = Path(journal) if isinstance(journal, (Path, str)) else journal.path
    return verify_bytes(path.stem, _read(path, files), pinned)


def verify_bytes(name: str, raw: bytes, pinned: str = "") -> VerifyResult:
    """Check the text of a journal's file."""
    first = encode_header(name)
    if not raw.startswith(first):
        return _at_length(name, raw, pinned)
    reading = read_groups(raw, start=len(first))
    if reading.end is TailKind.DAMAGED:
        return _at_length(name, raw, pinned)
    hashes = [entry.hash for entry in reading.entries]
    if reading.end is TailKind.TORN:
        seq = len(hashes) + 1
        return _verdict(
            name,
            hashes,
            ChainFault(
                "cut off",
                seq,
                (f"What follows entry {seq - 1} was cut off while it was being written. Opening {name} repairs it."),
            ),
        )
    return _verdict(name, hashes, _pin(hashes, pinned))


def describe_missing_end(journals: JournalFolder, text: RawJournal) -> str:
    """What is missing at the end of a journal sound as far as it goes; empty if nothing is known to be."""
    short = find_shortfall(journals.folder / text.place, read_sound_part(text.raw), text.mark, journals.copies)
    return short.sentence if short is not None else ""


def _at_length(name: str, raw: bytes, pinned: str) -> VerifyResult:
    from floor.ledger.diagnosis import diagnose  # only if something is wrong

    found = diagnose(raw)
    check_format(name, found.about)
    hashes = [entry.hash for entry in found.entries]
    fault = found.fault
    if fault is None and found.about.get("book", name) != name:
        fault = ChainFault(
            "altered", 1, f"The file says that it is the record of {found.about['book']}, not of {name}."
        )
    if fault is None and (first := read_header(raw)) is not None:
        reading = read_groups(raw, start=first[1])
        seq = len(reading.entries) + 1
        where = (
            "The first line of the file is" if reading.end is TailKind.WHOLE else f"The bytes around entry {seq} are"
        )
        fault = ChainFault("altered", seq, f"{where} not as Floor wrote it, though every entry gives its hash.")
    fault = fault or _pin(hashes, pinned)
    return _verdict(name, hashes, fault, "" if fault else " The file was laid out by another program.")


def _pin(hashes: list[str], pinned: str) -> ChainFault | None:
    pinned = pinned.strip().lower()
    if not pinned or len(pinned) >= MIN_PINNED and any(digest.startswith(pinned) for digest in hashes):
        return None
    return ChainFault(
        "removed",
        len(hashes),
        (
            f"No entry has the hash {pinned} that the paper names: the record was rewritten or cut short since."
            if len(pinned) >= MIN_PINNED
            else f"Give at least {MIN_PINNED} characters of the hash on the paper."
        ),
    )


def _verdict(name: str, hashes: list[str], fault: ChainFault | None, more: str = "") -> VerifyResult:
    head = hashes[-1] if hashes else ""
    if fault is not None:
        return VerifyResult(name, len(hashes), head, fault, f"{name}: {fault.sentence}")
    said = f"{name}: {'1 entry' if len(hashes) == 1 else f'all {len(hashes)} entries'} intact."
    return VerifyResult(name, len(hashes), head, None, said + (f" Head {head}." if head else "") + more)


def _read(path: Path, files: Files) -> bytes:
    try:
        fd = open_file(files, path, os.O_RDONLY, path.stem)
    except FileNotFoundError:
        raise NoSuchJournal(f"There is no record {path}.") from None
    try:
        with hold_lock(fd, f"The record of {path.stem}", shared=True), translate_os_errors(f"Reading {path}"):
            return files.read(fd, os.fstat(fd).st_size, 0)
    finally:
        files.close(fd)
