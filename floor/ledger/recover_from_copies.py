"""A record cut short: notice it, say what is missing and which copy has it, and recover it.

Missing entries are searched for in the shop's copies, and in what a terminal saved beside the journal when its file
was cut short while open.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from pathlib import Path

from floor.dataclass import dataclass
from floor.entry import Entry
from floor.ledger.copies import list_copies as copies_in
from floor.ledger.errors import NoSuchJournal, NothingMissing
from floor.ledger.file_format import JournalContent, TailKind, encode_journal, read_groups, read_header
from floor.ledger.files import (
    PATIENCE,
    Files,
    find_free_path,
    hold_lock,
    open_file,
    read_whole,
    translate_os_errors,
    write_whole,
)
from floor.ledger.hash_chain import ZERO
from floor.ledger.high_water_mark import HighWaterMark, has_marked_entry, locate_mark, read_mark, write_mark

PARTED = "parted"
"""Ending of a file replaced by a bundle: never a copy of the record."""


@dataclass(frozen=True, slots=True)
class LongerCopy:
    """A copy that continues past a journal's end."""

    path: Path
    entries: list[Entry]


@dataclass(frozen=True, slots=True)
class Shortfall:
    """Why a journal counts as cut short."""

    sentence: str
    seq: int
    """The first entry missing or different."""
    longer: LongerCopy | None = None


@dataclass(frozen=True, slots=True)
class RecoveryResult:
    """What was done about a journal cut short."""

    before: int
    """Entries found before."""
    now: int
    """Entries it has now."""
    acknowledged: int
    """Entries it is known to have had; at least `now`."""
    source: Path | None
    """The copy the others came from."""
    kept: Path | None
    """The file as it was; None if there was none."""


def find_shortfall(
    path: Path, reading: JournalContent, mark: HighWaterMark | None, copies: Path | None = None
) -> Shortfall | None:
    """Whether a journal lacks acknowledged entries at its end.

    Args:
        reading: the file's content, not damaged in the middle.
        mark: the mark beside it, read under the same lock.
        copies: the folder of the shop's copies, checked if the mark does not settle it.
    """
    if mark is not None and has_marked_entry(mark, reading.entries) and reading.end is not TailKind.TORN:
        return None
    have, name = len(reading.entries), path.stem
    more = find_longer_copy(path, reading.entries, copies, mark)
    if mark is not None and mark.entries > have:
        said = (
            f"The record of {name} ends at entry {have}, but entry {mark.entries} was acknowledged: "
            f"{_entries(mark.entries - have, ' is', ' are')} missing."
        )
        seq = have + 1
    elif mark is not None and not has_marked_entry(mark, reading.entries):
        said = (
            f"Entry {mark.entries} of the record of {name} is not the one that was acknowledged: another file was "
            "put in its place."
        )
        seq = mark.entries
    elif more is not None:
        said, seq = f"The record of {name} ends at entry {have}, but a copy goes on from there.", have + 1
    else:
        return None
    return Shortfall(f"{said} {_remedy(name, have, more)}", seq, more)


def describe_lost_journal(path: Path, copies: Path | None = None) -> str:
    """What to say about a journal with a mark and no file."""
    mark, name = read_mark(path), path.stem
    had = f"though it held {_entries(mark.entries)}" if mark is not None else "though it was"
    more = find_longer_copy(path, [], copies, mark)
    return f"The record of {name} is not in {path.parent} any more, {had}. {_remedy(name, 0, more)}"


def read_sound_part(raw: bytes) -> JournalContent:
    """The sound entries from the start of a file, even if its first line is damaged."""
    found = read_header(raw)
    if found is not None:
        return read_groups(raw, start=found[1])
    from floor.ledger.diagnosis import diagnose  # hardly ever needed

    return JournalContent(diagnose(raw).entries, end=TailKind.DAMAGED)


def find_longer_copy(
    path: Path, entries: Sequence[Entry], copies: Path | None, mark: HighWaterMark | None
) -> LongerCopy | None:
    """The copy with all these entries and the most after them; of equals the newest.

    A copy that has a different entry where the mark is belongs to another branch and does not count, nor does a file
    replaced by a bundle. A copy that ends before the mark counts only if there is no other.
    """
    best: LongerCopy | None = None
    have, rank = len(entries), (False, False, 0)
    given_up = {entry.hash for file in path.parent.glob(f"{path.name}.{PARTED}-*") for entry in _entries_of(file)}
    for candidate in _candidates(path, copies):
        found = _entries_of(candidate)
        if len(found) <= have or (have and found[have - 1].hash != entries[-1].hash):
            continue
        noted = mark is not None and has_marked_entry(mark, found)
        if mark is not None and not noted and len(found) >= mark.entries:
            continue
        this = (noted, found[-1].hash not in given_up, len(found))
        if this > rank:
            best, rank = LongerCopy(candidate, found), this
    return best


def save_known_entries(path: Path, entries: Sequence[Entry], files: Files) -> Path | None:
    """Save this terminal's entries of a journal cut short while open; None if already saved."""
    data = encode_journal(path.stem, entries).rstrip(b" ")
    if any(kept.stat().st_size >= len(data) for kept in path.parent.glob(f"{path.name}.seen-*")):
        return None
    write_whole(files, kept := find_free_path(path, "seen"), data)
    return kept


def recover_journal(
    path: Path,
    copies: Path | None,
    *,
    without: bool,
    files: Files,
    patience: float = PATIENCE,
    was_here: bool = False,
) -> RecoveryResult:
    """Restore the entries only a copy has; or, `without` them, let the journal continue from its end.

    Entries in the file after a damaged place follow, if they link to the copy. The file as it was is kept beside the
    journal. Open terminals notice that the journal was swapped.

    Args:
        was_here: whether it is known from elsewhere to have been here, so it may be given up though nothing is left.

    Raises:
        NothingMissing: no copy has more; or, with `without`, nothing is missing.
        NoSuchJournal, Busy, WriteFailed: nothing was changed.
    """
    if not path.exists():
        return _anew(path, copies, without, files, was_here)
    fd = open_file(files, path, os.O_RDWR, path.stem)
    try:
        what = f"The record of {path.stem}"
        with translate_os_errors(f"Fixing the record of {path.stem}"), hold_lock(fd, what, patience=patience):
            raw = files.read(fd, os.fstat(fd).st_size, 0)
            reading = read_sound_part(raw)
            entries, mark = reading.entries, read_mark(path)
            more = find_longer_copy(path, entries, copies, mark)
            short = (
                reading.end is not TailKind.WHOLE
                or (mark is not None and not has_marked_entry(mark, entries))
                or more is not None
            )
            if not short:
                raise NothingMissing(f"Nothing is known to be missing from the record of {path.stem}.")
            taken = None if without else more
            if taken is None and not without:
                raise NothingMissing(
                    f"No copy has more of the record of {path.stem} than its "
                    f"{_entries(len(entries))}. {_remedy(path.stem, len(entries), None)}"
                )
            whole = entries if taken is None else taken.entries + _beyond(raw, taken.entries[-1])
            write_whole(files, kept := find_free_path(path, "short"), raw)
            write_whole(files, path, _laid_out(path, whole))
    finally:
        files.close(fd)
    write_mark(path, len(whole), whole[-1].hash if whole else ZERO)
    known = max(len(whole), mark.entries if mark else 0, len(more.entries) if more else 0)
    return RecoveryResult(len(entries), len(whole), known, taken.path if taken else None, kept)


def _anew(path: Path, copies: Path | None, without: bool, files: Files, was_here: bool) -> RecoveryResult:
    """The same for a journal whose file is gone."""
    mark = read_mark(path)
    more = find_longer_copy(path, [], copies, mark)
    known = max(mark.entries if mark else 0, len(more.entries) if more else 0)
    if without and (mark or more or was_here):
        locate_mark(path).unlink(missing_ok=True)
        return RecoveryResult(0, 0, known, None, None)
    if more is None:
        raise NoSuchJournal(f"There is no record of {path.stem} in {path.parent}, and no copy of it. Nothing was done.")
    with translate_os_errors(f"Bringing back the record of {path.stem}"):
        write_whole(files, path, _laid_out(path, more.entries))
    write_mark(path, len(more.entries), more.entries[-1].hash)
    return RecoveryResult(0, len(more.entries), known, more.path, None)


def _laid_out(path: Path, entries: Sequence[Entry]) -> bytes:
    data = encode_journal(path.stem, entries)
    return data.rstrip(b" ") if path.parent.name == "closed" else data


def _candidates(path: Path, copies: Path | None) -> Iterator[Path]:
    """Existing files that may hold more of a journal, newest first."""
    beside = sorted(path.parent.glob(f"{path.name}.*-*"), reverse=True)
    yield from (file for file in beside if not file.name.startswith(f"{path.name}.{PARTED}-"))
    for copy in reversed(copies_in(copies)) if copies is not None and copies.is_dir() else []:
        yield from (copy / path.name, copy / "closed" / path.name)


def _entries_of(path: Path) -> list[Entry]:
    """The sound entries from the start of a file; none if it is not a journal."""
    try:
        return read_sound_part(read_whole(Files(), path)).entries
    except OSError:
        return []


def _beyond(raw: bytes, last: Entry) -> list[Entry]:
    """A file's entries after this one, possibly past its damaged place."""
    line_end = raw.find(b"\n", max(raw.find(f'"hash":"{last.hash}"'.encode()), 0))
    return read_groups(raw, seq=last.seq, head=last.hash, start=max(line_end - 1, 0)).entries


def describe_copy(path: Path) -> str:
    """How to name the copy a file is from: its folder among the copies, or the file beside the journal."""
    return next((folder.name for folder in path.parents[:2] if folder.name.startswith("record-")), path.name)


def _entries(count: int, one: str = "", more: str = "") -> str:
    return f"{count} entry{one}" if count == 1 else f"{count} entries{more}"


def _remedy(name: str, have: int, more: LongerCopy | None) -> str:
    if more is None:
        offer = (
            f"No copy in this shop has more. Look for one elsewhere; to go on without what is missing, "
            f"floor recover {name} --without --by INITIALS."
        )
    else:
        offer = (
            f"{describe_copy(more.path)} has {len(more.entries) - have} more: bring them back with "
            f"floor recover {name} --by INITIALS, or go on without them with --without."
        )
    return f"{offer} Nothing more is written to it until then."
