"""One verified copy of the whole record folder, and bringing such a copy back.

A copy is a folder like the record folder itself, with the same files in it. It gets its name only when it
is whole and was read back, so what bears a copy's name is a copy.
"""

from __future__ import annotations

import os
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from floor.ledger.chain import ZERO, decode
from floor.ledger.errors import BackupFailed
from floor.ledger.file_format import read_header
from floor.ledger.files import REAL_FILES, Files, read_whole, said_plainly, spare_path, write_whole
from floor.ledger.high_water_mark import write_mark
from floor.ledger.journal_folder import SHOP_BOOK

if TYPE_CHECKING:
    from floor.ledger.journal_folder import Shelf

KEEP = 14
"""Copies kept, where nothing else is said: two weeks of nights."""

_SHOP = f"{SHOP_BOOK}.json"
_COPY = re.compile(r"record-\d{8}T\d{6}Z(-\d+)?")


def backup(shelf: Shelf, target: Path | str, at: datetime, *, keep: int = KEEP, files: Files = REAL_FILES) -> Path:
    """Copy every book, verify the copy, and let go of this shop's oldest copies beyond `keep`.

    Copies of another shop, and those whose names say a time still to come, as of a clock that was ahead, are neither
    counted nor let go; the new one is always kept.

    Args:
        at: the time by which the copy is named; aware.

    Returns:
        The new copy.

    Raises:
        BackupFailed: a book is damaged. The copy is made all the same, and no older one is let go.
        WriteFailed: no copy was made, and no older one let go.
    """
    from floor.ledger.verify import judge_text, missing

    if keep < 1:
        raise BackupFailed("At least one copy must be kept.")
    target = Path(target)
    name = f"record-{at.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    aside = target / ".record.new"
    wrong = []
    with said_plainly(f"Making a backup in {target}"):
        files.make_folder(target)
        _remove(aside)
        files.make_folder(aside / "closed")
        for book in [*shelf.names(), *shelf.closed_names()]:
            found = shelf.text(book)
            write_whole(files, aside / (there := found.place), text := found.raw.rstrip(b" "))
            if (copied := read_whole(files, aside / there)) != text:
                raise BackupFailed(f"The copy of {book} in {target} does not read back as it was written. "
                                   "Use another disk; the older copies were kept.")
            verdict = judge_text(book, copied)
            short = missing(shelf, found) if verdict.sound else ""
            if short or not verdict.sound:
                wrong.append(short or verdict.sentence)
        files.sync_folder(aside)
        copy = target / name
        number = 1
        while copy.exists():
            number += 1
            copy = target / f"{name}-{number}"
        files.rename(aside, copy)
        files.sync_folder(target)
        if wrong:
            raise BackupFailed(f"The copy {copy} was made, but not all of it is sound: {' '.join(wrong)} "
                               "The older copies were all kept.")
        older = [old for old in copies(target) if _age(old) < _age(copy) and same_shop(old, shelf.folder)]
        for old in older[: max(len(older) + 1 - keep, 0)]:
            _remove(old)
    return copy


def same_shop(one: Path, other: Path) -> bool:
    """Whether two record folders are of one shop: their own books, or where one has no people yet, their batches,
    begin with the same entry. A folder that holds nothing may be of any."""
    mine, theirs = _first(one / _SHOP), _first(other / _SHOP)
    if mine and theirs:
        return mine == theirs
    batches = [{path.name: _first(path) for path in sorted([*folder.glob("*.json"), *folder.glob("closed/*.json")])
                if path.name != _SHOP} for folder in (one, other)]  # fmt: skip
    shared = batches[0].keys() & batches[1].keys()
    return any(batches[0][name] == batches[1][name] for name in shared) or not (batches[0] and batches[1])


def _first(book: Path) -> str:
    """Hash of the first entry of a book's file; empty where there is none."""
    try:
        raw = read_whole(REAL_FILES, book)
    except OSError:
        return ""
    found = read_header(raw)
    at = raw.find(b'"1":', found[1]) if found is not None else -1
    end = raw.find(b"\n", at)
    text = raw[: end if end > 0 else len(raw)].decode("ascii", "replace")
    entry = decode(text, raw, at, 1, ZERO) if at >= 0 else None
    return entry[0].hash if entry is not None else ""


def copies(target: Path | str) -> list[Path]:
    """The copies in a folder, oldest first by the times that they are named by."""
    return sorted((path for path in Path(target).iterdir() if _COPY.fullmatch(path.name)), key=_age)


def restore(copy: Path | str, folder: Path | str, *, files: Files = REAL_FILES) -> Path | None:
    """Bring a copy back as the record folder. What was the record folder is kept beside it.

    Terminals that are open notice at their next entry, and write nothing to the old one.

    Returns:
        Where the former record folder is now; None where there was none.

    Raises:
        BackupFailed: the copy is not whole or not sound; nothing was changed.
        WriteFailed
    """
    from floor.ledger.verify import verify_book

    copy, folder = Path(copy), Path(folder)
    books = [*copy.glob("*.json"), *copy.glob("closed/*.json")]
    if not books:
        raise BackupFailed(f"{copy} holds no record. Give the folder of one copy, {copy}/record-…, not of all of them.")
    ends = {}
    for book in books:
        verdict = verify_book(book)
        ends[book] = verdict.entries, verdict.head or ZERO
        if not verdict.sound:
            raise BackupFailed(f"The copy is not sound. {verdict.sentence} Take another copy; nothing was changed.")
    with said_plainly(f"Bringing back {copy}"):
        part, whole = _beside(folder, "restoring"), _beside(folder, "restored")
        finish_restoring(folder, files)
        _remove(part)
        _remove(whole)
        files.make_folder(part / "closed")
        for book in books:
            write_whole(files, there := part / book.relative_to(copy), read_whole(files, book))
            write_mark(there, *ends[book])  # gone back on purpose: not to be taken for a record that was cut short
        files.sync_folder(part)
        files.rename(part, whole)
        files.sync_folder(folder.parent)
        former = None
        if folder.exists():
            former = spare_path(folder, "before")
            files.rename(folder, former)
        finish_restoring(folder, files)
    return former


def finish_restoring(folder: Path, files: Files) -> None:
    """Where a copy was brought back and the power failed between the last two renames, do the last one."""
    whole = _beside(folder, "restored")
    if whole.exists() and not folder.exists():
        files.rename(whole, folder)
        files.sync_folder(folder.parent)


def _beside(folder: Path, word: str) -> Path:
    return folder.with_name(f".{folder.name}.{word}")


def _age(copy: Path) -> tuple[str, int]:
    stamp, _, number = copy.name.partition("Z")
    return stamp, int(number.lstrip("-") or 1)


def _remove(folder: Path) -> None:
    for path in sorted(folder.rglob("*"), reverse=True) if folder.exists() else []:
        path.rmdir() if path.is_dir() else os.unlink(path)
    if folder.exists():
        folder.rmdir()
