"""Make a verified copy of the whole record folder, and restore one.

A copy is a folder like the record folder, with the same files. It gets its name only once it is complete and read
back, so anything named like a copy is one.
"""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from floor.ledger.copies import SHOP_JOURNAL, copy_age, finish_restoring, list_copies, make_name_beside
from floor.ledger.errors import BackupFailed
from floor.ledger.file_format import read_header
from floor.ledger.files import REAL_FILES, Files, find_free_path, read_whole, translate_os_errors, write_whole
from floor.ledger.hash_chain import ZERO, decode_entry
from floor.ledger.high_water_mark import write_mark
from floor.ledger.verify import describe_missing_end, verify_bytes, verify_journal

if TYPE_CHECKING:
    from floor.ledger.journal_folder import JournalFolder

KEEP = 14
"""Copies kept by default: two weeks, one a day."""

_SHOP = f"{SHOP_JOURNAL}.json"


def back_up_journals(
    journals: JournalFolder, target: Path | str, at: datetime, *, keep: int = KEEP, files: Files = REAL_FILES
) -> Path:
    """Copy every journal, verify the copy, and delete this shop's oldest copies beyond `keep`.

    Copies of another shop, and copies dated in the future by a clock that was ahead, are neither counted nor deleted;
    the new one is always kept.

    Args:
        at: the time in the copy's name; aware.

    Returns:
        The new copy.

    Raises:
        BackupFailed: a journal is damaged. The copy is made anyway, and no older one is deleted.
        WriteFailed: no copy was made, and no older one deleted.
    """
    if keep < 1:
        raise BackupFailed("At least one copy must be kept.")
    target = Path(target)
    name = f"record-{at.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    aside = target / ".record.new"
    wrong = []
    with translate_os_errors(f"Making a backup in {target}"):
        files.make_folder(target)
        _remove(aside)
        files.make_folder(aside / "closed")
        for journal in [*journals.names(), *journals.closed_names()]:
            found = journals.text(journal)
            write_whole(files, aside / (there := found.place), text := found.raw.rstrip(b" "))
            if (copied := read_whole(files, aside / there)) != text:
                raise BackupFailed(
                    f"The copy of {journal} in {target} does not read back as it was written. "
                    "Use another disk; the older copies were kept."
                )
            verdict = verify_bytes(journal, copied)
            short = describe_missing_end(journals, found) if verdict.sound else ""
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
            raise BackupFailed(
                f"The copy {copy} was made, but not all of it is sound: {' '.join(wrong)} "
                "The older copies were all kept."
            )
        older = [
            old for old in list_copies(target) if copy_age(old) < copy_age(copy) and is_same_shop(old, journals.folder)
        ]
        for old in older[: max(len(older) + 1 - keep, 0)]:
            _remove(old)
    return copy


def is_same_shop(one: Path, other: Path) -> bool:
    """Whether two record folders belong to one shop: their shop journals start with the same entry.

    If one has no people yet, compare their batches. An empty folder may belong to any shop.
    """
    mine, theirs = _first(one / _SHOP), _first(other / _SHOP)
    if mine and theirs:
        return mine == theirs
    batches = [
        {
            path.name: _first(path)
            for path in sorted([*folder.glob("*.json"), *folder.glob("closed/*.json")])
            if path.name != _SHOP
        }
        for folder in (one, other)
    ]
    shared = batches[0].keys() & batches[1].keys()
    return any(batches[0][name] == batches[1][name] for name in shared) or not (batches[0] and batches[1])


def _first(journal: Path) -> str:
    """Hash of the first entry of a journal's file; empty if there is none."""
    try:
        raw = read_whole(REAL_FILES, journal)
    except OSError:
        return ""
    found = read_header(raw)
    at = raw.find(b'"1":', found[1]) if found is not None else -1
    end = raw.find(b"\n", at)
    text = raw[: end if end > 0 else len(raw)].decode("ascii", "replace")
    entry = decode_entry(text, raw, at, 1, ZERO) if at >= 0 else None
    return entry[0].hash if entry is not None else ""


def require_journals(copy: Path) -> list[Path]:
    """The journals of a copy. Raises `BackupFailed`: it holds none."""
    journals = [*copy.glob("*.json"), *copy.glob("closed/*.json")]
    if not journals:
        copies = sorted(copy.glob("record-*"))
        which = f"{copies[-1]}, not of all of them" if copies else "backups/record-… in the shop's folder"
        raise BackupFailed(f"{copy} holds no record. Give the folder of one copy, such as {which}.")
    return journals


def restore_folder(copy: Path | str, folder: Path | str, *, files: Files = REAL_FILES) -> Path | None:
    """Restore a copy as the record folder. The former record folder is kept beside it.

    Open terminals notice at their next entry and write nothing to the old one.

    Returns:
        Where the former record folder is now; None if there was none.

    Raises:
        BackupFailed: the copy is incomplete or damaged; nothing was changed.
        WriteFailed
    """
    copy, folder = Path(copy), Path(folder)
    journals = require_journals(copy)
    ends = {}
    for journal in journals:
        verdict = verify_journal(journal)
        ends[journal] = verdict.entries, verdict.head or ZERO
        if not verdict.sound:
            raise BackupFailed(f"The copy is not sound. {verdict.sentence} Take another copy; nothing was changed.")
    with translate_os_errors(f"Bringing back {copy}"):
        part, whole = make_name_beside(folder, "restoring"), make_name_beside(folder, "restored")
        finish_restoring(folder, files)
        _remove(part)
        _remove(whole)
        files.make_folder(part / "closed")
        for journal in journals:
            write_whole(files, there := part / journal.relative_to(copy), read_whole(files, journal))
            write_mark(there, *ends[journal])  # gone back on purpose: must not look like a record cut short
        files.sync_folder(part)
        files.rename(part, whole)
        files.sync_folder(folder.parent)
        former = None
        if folder.exists():
            former = find_free_path(folder, "before")
            files.rename(folder, former)
        finish_restoring(folder, files)
    return former


def _remove(folder: Path) -> None:
    if folder.exists():
        shutil.rmtree(folder)
