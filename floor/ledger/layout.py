"""How a book lies on disk, and what its last bytes say after a crash.

A book is one TinyDB database in one file, valid JSON after every commit::

    {"floor":{"1":{"book":"B0007","format":1}},"entries":{
    "1":{...},
    "2":{...},"3":{...}
    }}
                         (blanks, kept ready for what comes)

One line is one commit, so a group of entries is read whole or not at all. A commit writes over the closing
braces: a comma, its line, new closing braces. What follows are blanks, which JSON allows: the file does not
grow on a commit, so that a commit costs one write of its own bytes and one sync, at any length of the book.

A commit that a power cut tore has left a patchwork: each 512-byte sector holds either the new bytes or the
old ones (blanks, or the old closing braces; zeros where the file was growing). `judge` knows that patchwork
from damage: it was never acknowledged and may be taken away. Anything else is left alone.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from enum import Enum

from floor.entry import Entry
from floor.ledger.chain import ZERO, decode

FORMAT = 1
CLOSING = b"\n}}\n"
SECTOR = 512
"""Bytes; the smallest piece that a disk writes as one."""
CHUNK = 64 << 10
"""Bytes by which a file grows, some 170 entries ahead."""

_HEADER = re.compile(rb'\{"floor":\{"1":(\{[^{}]{1,400}\})\},"entries":\{')


class End(Enum):
    """What follows the last whole group of a file."""

    WHOLE = "whole"
    TORN = "torn"
    DAMAGED = "damaged"


@dataclass(frozen=True, slots=True)
class Reading:
    """What a file, or its part after a known group, holds."""

    entries: list[Entry] = field(default_factory=list)
    stop: int = 0
    """Position in the file after the last whole group: where the next commit goes."""
    end: End = End.WHOLE
    rest: bytes = b""
    """What is not blank after `stop`, where the end is torn or damaged."""


def header(name: str, **more: str | int) -> bytes:
    """The first line of a book's file."""
    about = json.dumps({"book": name, "format": FORMAT} | more, sort_keys=True, separators=(",", ":"))
    return f'{{"floor":{{"1":{about}}},"entries":{{'.encode()


def read_header(raw: bytes) -> tuple[dict[str, object], int] | None:
    """What a file says about itself and where its entries begin; None where it is not laid out as a book."""
    match = _HEADER.match(raw)
    if match is None:
        return None
    try:
        about = json.loads(match[1])
    except ValueError:
        return None
    return about, match.end()


def line(group: bytes, after: int) -> bytes:
    """The bytes of a commit: `group` as the line after entry `after`, and the closing braces."""
    return (b",\n" if after else b"\n") + group + CLOSING


def blank(length: int) -> bytes:
    """Blanks."""
    return b" " * length


def read_groups(raw: bytes, base: int = 0, seq: int = 0, head: str = ZERO, start: int = 0) -> Reading:
    """Read every whole group.

    Args:
        raw: the file from its byte `base` to its end.
        seq, head: number and hash of the last entry before `raw`'s `start`.
    """
    text = raw.decode("ascii", "replace")
    entries: list[Entry] = []
    stop = start
    while text.startswith(lead := ",\n" if seq else "\n", stop):
        group: list[Entry] = []
        at, last = stop + len(lead), head
        while (found := decode(text, raw, at, seq + len(group) + 1, last)) is not None:
            entry, at = found
            group.append(entry)
            last = entry.hash
            if text.startswith((",\n", "\n"), at):
                break
            if not text.startswith(",", at):
                found = None
                break
            at += 1
        if found is None:
            break
        entries += group
        stop, seq, head = at, seq + len(group), last
    end = judge(raw, base, stop, seq)
    rest = b"" if end is End.WHOLE else raw[stop:].rstrip(b" \0")
    return Reading(entries, base + stop, end, rest)


def judge(raw: bytes, base: int, stop: int, seq: int) -> End:
    """Tell a commit that was cut off from damage, by what follows the last whole group at `stop`.

    Only what a cut-off commit can leave behind counts as torn. A single line that is all there and yet wrong
    may have been acknowledged, so it is damage.
    """
    tail = raw[stop:]
    if tail.rstrip(b" ") == CLOSING:
        return End.WHOLE
    rest = tail.rstrip(b" \0")
    if len(rest) <= len(CLOSING):
        return End.TORN  # no room for an entry: only the closing braces are not there
    if rest.startswith(b"\n" if seq else b"\n}"):
        return End.TORN  # the old closing braces stand: what follows them was never committed
    lead = b",\n" if seq else b"\n"
    if not rest.startswith(lead) or b"\n" in rest[len(lead):].removesuffix(CLOSING):
        return End.DAMAGED  # more than one line
    if not rest.endswith(b"}\n"):
        return End.TORN  # the line breaks off
    return End.TORN if _has_hole(tail[:len(rest)], base + stop) else End.DAMAGED


def _has_hole(part: bytes, offset: int) -> bool:
    """Whether a whole sector of `part`, which begins at byte `offset` of the file, was never written."""
    first = -offset % SECTOR
    return any(not part[at:at + SECTOR].strip(b" \0") for at in range(first, len(part) - SECTOR + 1, SECTOR))
