"""A journal's entries as any JSON reader finds them, and what is wrong with the first bad one.

`file_format` reads what Floor itself wrote, byte by byte, and stops at the first fault. This module looks at the whole
file, whatever its layout, to tell an altered entry from a removed, inserted or reordered one.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from hashlib import sha256
from typing import Any

from floor.dataclass import dataclass
from floor.entry import Entry
from floor.ledger.chain_fault import ChainFault
from floor.ledger.errors import NotStorable
from floor.ledger.file_format import TailKind, read_groups, read_header
from floor.ledger.hash_chain import ZERO, encode_canonical, strip_hash

_OPENING = b'"entries":{'


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """What a file's header says, the entries before the first fault, and the fault."""

    about: dict[str, Any]
    entries: list[Entry]
    fault: ChainFault | None


@dataclass(frozen=True, slots=True)
class _Item:
    """One entry as found: ``entry`` is None if it is not an entry, ``own`` is whether its own hash is right."""

    key: str
    entry: Entry | None
    own: bool


def diagnose(raw: bytes) -> Diagnosis:
    """Examine a whole file."""
    about: dict[str, Any] = {}
    try:
        data = json.loads(raw, object_pairs_hook=_object)
        if isinstance(data.get("floor"), dict) and isinstance(data["floor"].get("1"), dict):
            about = data["floor"]["1"]
        table = data["entries"]
        items = [_item(key, value) for key, value in (table.items() if isinstance(table, dict) else table)]
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return _unreadable(raw)
    fault = find_first_fault(items)
    sound = items if fault is None else items[: fault.seq - 1]
    return Diagnosis(about, [item.entry for item in sound if item.entry is not None], fault)


def find_first_fault(items: Sequence[_Item]) -> ChainFault | None:
    """Find the first entry altered, removed, inserted or reordered, by how the hashes link."""
    places = {item.entry.hash: place for place, item in enumerate(items) if item.entry is not None}
    prev = ZERO
    for place, item in enumerate(items):
        seq, entry = place + 1, item.entry
        following = items[place + 1].entry if place + 1 < len(items) else None
        skipped = following is not None and (following.prev, following.seq) == (prev, seq) and following != entry
        if entry is None or not item.own:
            if skipped:
                return _inserted(seq, "the next one links past it")
            return ChainFault("altered", seq, f"Entry {seq} was altered: its content does not give its hash.")
        if skipped or (entry.prev, entry.seq, item.key) != (prev, seq, str(seq)):
            return _name_broken_link(item.key, entry, place, prev, places, skipped)
        prev = entry.hash
    return None


def _name_broken_link(
    key: str, entry: Entry, place: int, prev: str, places: Mapping[str, int], skipped: bool
) -> ChainFault:
    """What happened if an entry, intact in itself, does not follow the one before.

    Args:
        prev: the hash of the entry before it in the file.
        places: the last position of each entry, by hash.
        skipped: whether the next entry follows the one before it.
    """
    seq = place + 1
    if places[entry.hash] != place or entry.seq < seq:
        return _inserted(seq, f"it is entry {entry.seq} again")
    if places.get(entry.prev, -1) > place:
        return ChainFault("reordered", seq, f"Entries were reordered: entry {entry.seq} stands where {seq} belongs.")
    if skipped:
        return _inserted(seq, "the next one links past it")
    if entry.prev == prev:
        return ChainFault("altered", seq, f"Entry {seq} was altered: it is numbered {key} and {entry.seq}.")
    if entry.seq > seq:
        missing = f"Entry {seq} was" if entry.seq == seq + 1 else f"Entries {seq} to {entry.seq - 1} were"
        return ChainFault("removed", seq, f"{missing} removed: entry {entry.seq} follows entry {seq - 1}.")
    return ChainFault(
        "altered",
        seq - 1,
        f"Entry {seq - 1} was altered and given a new hash: entry {seq} was written after another one.",
    )


def _inserted(seq: int, why: str) -> ChainFault:
    return ChainFault("inserted", seq, f"What stands as entry {seq} was inserted: {why}.")


def _unreadable(raw: bytes) -> Diagnosis:
    """A file that is no longer JSON: sound as far as it can be read line by line."""
    found = read_header(raw)
    start = found[1] if found is not None else raw.find(_OPENING) + len(_OPENING)
    reading = read_groups(raw, start=start)
    if found is None and reading.entries and reading.end is TailKind.WHOLE:
        return Diagnosis(
            {},
            reading.entries,
            ChainFault("unreadable", 1, ("The first line of the file cannot be read; all entries after it are sound.")),
        )
    seq = len(reading.entries) + 1
    return Diagnosis(
        found[0] if found is not None else {},
        reading.entries,
        ChainFault("unreadable", seq, (f"From entry {seq} on, at byte {reading.stop + 1}, the file cannot be read.")),
    )


def _object(pairs: list[tuple[str, Any]]) -> Any:
    """Objects as dicts; if a key appears twice, as pairs, so nothing is hidden."""
    made = dict(pairs)
    return made if len(made) == len(pairs) else [list(pair) for pair in pairs]


def _item(key: str, value: Any) -> _Item:
    try:
        entry = Entry(**value)
        own = sha256(encode_canonical(strip_hash(entry)).encode()).hexdigest() == entry.hash
        linked = isinstance(entry.seq, int) and isinstance(entry.prev, str) and isinstance(entry.hash, str)
        return _Item(key, entry if linked else None, own)
    except (TypeError, NotStorable):
        return _Item(key, None, False)
