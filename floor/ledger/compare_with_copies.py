"""Compare the record with its copies: does it still agree, as far as they go?

A record can be sound in itself and still not be the original: rewritten from some entry on, or missing a batch whose
file and mark are both gone. An earlier copy shows it.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from itertools import zip_longest
from pathlib import Path

from floor.ledger.backup import is_same_shop
from floor.ledger.copies import list_copies
from floor.ledger.errors import LedgerError
from floor.ledger.file_format import CLOSING
from floor.ledger.files import REAL_FILES, read_whole
from floor.ledger.journal_folder import CLOSED, JournalFolder
from floor.ledger.recover_from_copies import PARTED, describe_copy, read_sound_part

_NUMBERED = re.compile(r"B(\d{4,})")


def find_differences(journals: JournalFolder, given_up: Collection[str] = ()) -> dict[str, str]:
    """How the record differs from its copies, one sentence per journal; the newest copy counts.

    Args:
        given_up: journals the shop decided to go on without.
    """
    found: dict[str, str] = {}
    here, lost = {*journals.names(), *journals.closed_names()}, {*journals.lost(), *journals.lost_closed()}
    if journals.copies is None or not journals.copies.is_dir():
        return found
    for copy in reversed(list_copies(journals.copies)):
        if not is_same_shop(copy, journals.folder):
            continue
        for path in sorted([*copy.glob("*.json"), *(copy / CLOSED).glob("*.json")]):
            name = path.stem
            if name in found or name in given_up or name in lost:
                continue
            if name not in here:
                found[name] = (
                    f"{name} is not in the record, and {describe_copy(path)} has it: bring it back with "
                    f"floor recover {name} --by INITIALS, or go on without it with --without."
                )
            elif said := _parting(journals, name, path):
                found[name] = said
    return found


def find_missing_numbers(
    journals: JournalFolder,
    came_in: Collection[str],
    given_up: Collection[str] = (),
    opened_here: Collection[str] = (),
) -> list[str]:
    """Batches with nothing left: opened here by the shop's own record, or unused numbers below that of one opened here.

    Args:
        came_in: batches from elsewhere, which may have any number.
    """
    names = {*journals.names(), *journals.closed_names(), *journals.lost(), *journals.lost_closed()}
    opened = [int(match[1]) for name in names - {*came_in} if (match := _NUMBERED.fullmatch(name))]
    numbered = {f"B{number:04d}" for number in range(1, max(opened, default=0))}
    return sorted({*numbered, *opened_here} - names - {*given_up})


def _parting(journals: JournalFolder, name: str, copy: Path) -> str:
    """Where a journal differs from a copy; empty if it continues the copy, or somebody decided on the difference."""
    try:
        raw, copied = journals.text(name).raw, read_whole(REAL_FILES, copy)
    except (LedgerError, OSError):
        return ""  # reported by the check of the journal itself
    if raw.startswith(copied.rstrip(b" ").removesuffix(CLOSING)):
        return ""
    ours, theirs = read_sound_part(raw).entries, read_sound_part(copied).entries
    same = next(
        (at for at, (a, b) in enumerate(zip_longest(ours, theirs)) if not a or not b or a.hash != b.hash), len(theirs)
    )
    if same >= len(theirs) or same in _decided(journals, name) or _gave_way(journals, name, theirs[-1].hash):
        return ""
    other = theirs[same]
    return (
        f"{name}: entry {same + 1} is not the one that {describe_copy(copy)} has, {other.kind!r:.40} by "
        f"{other.by!r:.10} of {other.at}: the record was rewritten or cut short since. Compare both."
    )


def _decided(journals: JournalFolder, name: str) -> set[int]:
    """After how many entries somebody decided to go on without the rest of a copy."""
    place = journals.place(name)
    return {
        len(read_sound_part(read_whole(REAL_FILES, file)).entries) for file in place.parent.glob(f"{name}.json.short-*")
    }


def _gave_way(journals: JournalFolder, name: str, head: str) -> bool:
    """Whether a copy holds what a bundle replaced."""
    needle = f'"hash":"{head}"'.encode()
    return any(needle in read_whole(REAL_FILES, file) for file in _parted(journals, name))


def _parted(journals: JournalFolder, name: str) -> Iterator[Path]:
    yield from journals.place(name).parent.glob(f"{name}.json.{PARTED}-*")
