"""Entries as bytes: canonical JSON, and the hash that links each to the one before.

Canonical means as written by ``json.dumps(x, sort_keys=True, separators=(",", ":"))``: sorted keys, no blanks, ASCII
only. With ASCII the file reads the same in any locale and holds no control character a terminal would obey. The hash
is SHA-256 (FIPS 180-4) of the entry without its ``hash`` field. On disk that field comes last, so the hash is checked
against the exact bytes and nothing is rewritten.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from hashlib import sha256
from typing import Any

from floor.entry import Draft, Entry, Moment, format_time
from floor.ledger.errors import NotStorable

ZERO = "0" * 64
"""Previous hash named by the first entry."""

MAX_ENTRY = 4 << 20
"""Most bytes of one entry on disk. A frozen checklist of 40 operations is below 0.2 MB."""

_TAIL = len(',"hash":""}') + 64
_decode = json.JSONDecoder().raw_decode
_encode = json.JSONEncoder(sort_keys=True, separators=(",", ":"), allow_nan=False).encode


def encode_canonical(value: Any) -> str:
    """Write plain JSON data canonically.

    Raises:
        NotStorable: for anything plain JSON cannot hold: NaN, a lone surrogate, an object, too deep nesting.
    """
    try:
        text = _encode(value)
        if "\\ud" in text:  # surrogates: a pair is one character, a lone one is none
            json.dumps(value, ensure_ascii=False).encode()
    except UnicodeEncodeError:
        raise NotStorable("The text holds half a character (a lone surrogate). Type it again.") from None
    except (TypeError, ValueError, RecursionError) as error:
        raise NotStorable(f"The record holds plain JSON only: {error}. Nothing was written.") from None
    return text


def chain_drafts(drafts: Sequence[Draft], moment: Moment, by: str, seq: int, prev: str) -> tuple[bytes, list[Entry]]:
    """Chain drafts after entry `seq`, whose hash is `prev`: returns the bytes of one group, and its entries."""
    offset = moment.at.utcoffset()
    if offset is None:
        raise NotStorable("The clock gave a time without a zone. Nothing was written.")
    at, tz = format_time(moment.at), round(offset.total_seconds() / 60)
    items, entries = [], []
    for draft in drafts:
        seq += 1
        core = encode_canonical(
            {
                "at": at,
                "body": draft.body,
                "boot": moment.boot,
                "by": by,
                "kind": draft.kind,
                "prev": prev,
                "seq": seq,
                "tz": tz,
                "up": moment.up,
            }
        )
        prev = sha256(core.encode()).hexdigest()
        text = f'{core[:-1]},"hash":"{prev}"}}'
        if len(text) > MAX_ENTRY:
            raise NotStorable(
                f"An entry may be {MAX_ENTRY >> 20} MB long at most; this one has "
                f"{len(text) / (1 << 20):.1f} MB. Shorten its text."
            )
        items.append(f'"{seq}":{text}')
        entries.append(Entry(**json.loads(text)))  # read back, so the writer holds what a reader will get
    return ",".join(items).encode(), entries


def encode_group(entries: Sequence[Entry]) -> bytes:
    """Encode entries that are already chained, as one group.

    Raises:
        NotStorable: an entry's hash is not that of its canonical form.
    """
    items = []
    for entry in entries:
        core = encode_canonical(strip_hash(entry))
        if sha256(core.encode()).hexdigest() != entry.hash:
            raise NotStorable(f"Entry {entry.seq} does not carry the hash of its own content.")
        items.append(f'"{entry.seq}":{core[:-1]},"hash":"{entry.hash}"}}')
    return ",".join(items).encode()


def strip_hash(entry: Entry) -> dict[str, Any]:
    """An entry's fields without its hash."""
    return {
        "at": entry.at,
        "body": entry.body,
        "boot": entry.boot,
        "by": entry.by,
        "kind": entry.kind,
        "prev": entry.prev,
        "seq": entry.seq,
        "tz": entry.tz,
        "up": entry.up,
    }


def decode_entry(text: str, raw: bytes, pos: int, seq: int, prev: str) -> tuple[Entry, int] | None:
    """Read the entry ``"seq":{...}`` at `pos`, if it is complete and its number, link and hash are right.

    Args:
        text: the same as `raw`, one character per byte.

    Returns:
        The entry and the position after it, or None.
    """
    key = f'"{seq}":'
    if not text.startswith(key, pos):
        return None
    start = pos + len(key)
    try:
        fields, stop = _decode(text, start)
        core = stop - _TAIL
        digest = sha256(raw[start:core] + b"}").hexdigest()
        if text[core:stop] != f',"hash":"{digest}"}}':
            return None
        entry = Entry(**fields)
    except (ValueError, TypeError, RecursionError):
        return None
    return (entry, stop) if entry.seq == seq and entry.prev == prev else None
