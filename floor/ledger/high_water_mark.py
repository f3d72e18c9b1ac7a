"""The high-water mark: how far a journal is known to go, so a record cut short does not pass for a complete one.

The chain vouches for everything before its last entry, but not that nothing came after. So each commit, once on disk,
is noted in a small file beside the journal: number of entries, and hash of the last. The mark is overwritten in place
and not synced, which takes microseconds: after a power cut it may lag, never lead. If it is missing, nothing is wrong;
the copies are asked instead.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

from floor.entry import Entry
from floor.ledger.files import REAL_FILES, open_regular, read_whole
from floor.ledger.hash_chain import ZERO

_LENGTH = 120
"""Bytes of a mark; fixed and within one sector, so an overwrite is never partial. A longer file is not a mark."""
_ENDING = ".mark"


class HighWaterMark(NamedTuple):
    """The last acknowledged entry of a journal."""

    entries: int
    head: str


def locate_mark(journal: Path) -> Path:
    return journal.with_name(f".{journal.stem}{_ENDING}")


def read_mark(journal: Path) -> HighWaterMark | None:
    """The mark beside a journal; None if there is none, or it cannot be read."""
    try:
        found = json.loads(read_whole(REAL_FILES, locate_mark(journal), _LENGTH))
        mark = HighWaterMark(found["entries"], found["head"])
    except (OSError, ValueError, TypeError, KeyError):
        return None
    return mark if type(mark.entries) is int and mark.entries >= 0 and isinstance(mark.head, str) else None


def write_mark(journal: Path, entries: int, head: str) -> None:
    """Mark how far a journal goes; a disk that refuses is no reason to stop."""
    with suppress(OSError):
        fd = open_mark(journal)
        try:
            overwrite_mark(fd, entries, head)
        finally:
            os.close(fd)


def open_mark(journal: Path) -> int:
    """The mark's file, open for `overwrite_mark`. Raises `OSError`."""
    return open_regular(REAL_FILES, locate_mark(journal), os.O_WRONLY | os.O_CREAT)


def overwrite_mark(fd: int, entries: int, head: str) -> None:
    """Overwrite the mark. Raises `OSError`."""
    os.pwrite(fd, f'{{"entries":{entries},"head":"{head}"}}'.ljust(_LENGTH - 1).encode() + b"\n", 0)


def has_marked_entry(mark: HighWaterMark, entries: Sequence[Entry]) -> bool:
    """Whether the entry named by a mark is there."""
    if mark.entries > len(entries):
        return False
    return mark.head == (entries[mark.entries - 1].hash if mark.entries else ZERO)


def list_marked(folder: Path) -> list[str]:
    """Names of a folder's journals that have a mark, sorted; the journal itself may be gone."""
    try:
        files = os.listdir(folder)
    except OSError:
        return []
    return sorted(file[1 : -len(_ENDING)] for file in files if file.startswith(".") and file.endswith(_ENDING))
