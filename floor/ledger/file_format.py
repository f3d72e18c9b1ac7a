"""The layout of a journal on disk, and what its last bytes mean after a crash.

A journal is a TinyDB database in one file, valid JSON after every commit::

    {"floor":{"1":{"book":"B0007","format":1}},"entries":{
    "1":{...},
     "2":{...},"3":{...},
    "4":{...}
    }}
                         (blanks, kept ready for what comes)

One line is one commit, read whole or not at all: a group of n entries is indented by n - 1 blanks, so its first bytes
tell how many entries make it complete. A commit overwrites the closing braces with a comma, its line, and new closing
braces. The rest is blanks, which JSON allows. So the file does not grow on a commit, which costs one write of its own
bytes and one sync, at any length of the journal.

A commit torn by a power cut leaves a patchwork: each 512-byte sector holds either the new bytes or the old ones
(blanks, the old closing braces, or zeros where the file was growing). `classify_tail` tells that patchwork from
damage: it was never acknowledged and may be removed. Anything else is left alone.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from enum import Enum
from typing import NamedTuple

from floor.entry import Entry
from floor.ledger.hash_chain import ZERO, decode_entry, encode_group

FORMAT = 1
CLOSING = b"\n}}\n"
SECTOR = 512
"""Bytes; the smallest unit a disk writes at once."""
CHUNK = 64 << 10
"""Bytes by which a file grows: about 170 entries."""

_HEADER = re.compile(rb'\{"floor":\{"1":(\{[^{}]{1,400}\})\},"entries":\{')


class TailKind(Enum):
    """What follows the last complete group of a file."""

    WHOLE = "whole"
    TORN = "torn"
    DAMAGED = "damaged"


class JournalContent(NamedTuple):
    """Content of a file, or of its part after a known group."""

    entries: list[Entry]
    stop: int = 0
    """Position after the last complete group, where the next commit goes."""
    end: TailKind = TailKind.WHOLE
    rest: bytes = b""
    """The non-blank bytes after `stop`, if the end is torn or damaged."""


def encode_header(name: str, **more: str | int) -> bytes:
    """The first line of a journal's file."""
    about = json.dumps({"book": name, "format": FORMAT} | more, sort_keys=True, separators=(",", ":"))
    return f'{{"floor":{{"1":{about}}},"entries":{{'.encode()


def read_header(raw: bytes) -> tuple[dict[str, object], int] | None:
    """A file's header and where its entries start; None if it does not have the layout of a journal."""
    match = _HEADER.match(raw)
    if match is None:
        return None
    try:
        about = json.loads(match[1])
    except ValueError:
        return None
    return about, match.end()


def encode_commit(group: bytes, count: int, after: int) -> bytes:
    """The bytes of a commit: a group of `count` entries as the line after entry `after`, and the closing braces."""
    return (b",\n" if after else b"\n") + make_padding(count - 1) + group + CLOSING


def make_padding(length: int) -> bytes:
    """Blanks; none for a length below 0."""
    return b" " * length


def encode_journal(name: str, entries: Sequence[Entry]) -> bytes:
    """A whole file of chained entries, each on its own line."""
    lines = [encode_commit(encode_group([entry]), 1, entry.seq - 1)[: -len(CLOSING)] for entry in entries]
    data = encode_header(name) + b"".join(lines) + CLOSING
    return data + make_padding(CHUNK - len(data) % CHUNK)


def read_groups(raw: bytes, base: int = 0, seq: int = 0, head: str = ZERO, start: int = 0) -> JournalContent:
    """Read every complete group.

    Args:
        raw: the file from its byte `base` to its end.
        seq, head: number and hash of the last entry before `raw`'s `start`.
    """
    text = raw.decode("ascii", "replace")
    entries: list[Entry] = []
    stop = start
    while text.startswith(lead := ",\n" if seq else "\n", stop):
        group, at = _read_group(text, raw, stop + len(lead), seq, head)
        if not group:
            break
        entries += group
        stop, seq, head = at, group[-1].seq, group[-1].hash
    end = classify_tail(raw, base, stop, seq)
    rest = b"" if end is TailKind.WHOLE else raw[stop:].rstrip(b" \0")
    return JournalContent(entries, base + stop, end, rest)


def _read_group(text: str, raw: bytes, at: int, seq: int, head: str) -> tuple[list[Entry], int]:
    """The group that starts at `at` with its blanks, and the position after it; nothing if it is incomplete."""
    first = text.find('"', at)
    group: list[Entry] = []
    if first < 0 or text[at:first].strip(" "):
        return [], at
    size, at = first - at + 1, first
    while (found := decode_entry(text, raw, at, seq + 1, head)) is not None:
        entry, at = found
        group.append(entry)
        seq, head = entry.seq, entry.hash
        if len(group) == size:
            return group, at
        if not text.startswith(",", at):
            break
        at += 1
    return [], at


def classify_tail(raw: bytes, base: int, stop: int, seq: int) -> TailKind:
    """Tell a torn commit from damage by what follows the last complete group at `stop`.

    Only what a torn commit can leave behind counts as torn. A complete line that is wrong may have been acknowledged,
    so it is damage.
    """
    tail = raw[stop:]
    if tail.rstrip(b" ") == CLOSING:
        return TailKind.WHOLE
    rest = tail.rstrip(b" \0")
    if len(rest) <= len(CLOSING):
        return TailKind.TORN  # no room for an entry: only the closing braces are missing
    if rest.startswith(b"\n" if seq else b"\n}") or rest[3:4] == b"\n":
        return TailKind.TORN  # the first or last of the old closing braces is still there: no commit was complete here
    lead = b",\n" if seq else b"\n"
    if not rest.startswith(lead) or b"\n" in rest[len(lead) :].rstrip(b"\n}"):
        return TailKind.DAMAGED  # more than one line
    if not rest.endswith(b"}\n"):
        return TailKind.TORN  # the line breaks off
    return TailKind.TORN if _has_hole(tail[: len(rest)], base + stop) else TailKind.DAMAGED


def _has_hole(part: bytes, offset: int) -> bool:
    """Whether a full sector of `part`, which starts at byte `offset` of the file, was never written."""
    first = -offset % SECTOR
    return any(not part[at : at + SECTOR].strip(b" \0") for at in range(first, len(part) - SECTOR + 1, SECTOR))
