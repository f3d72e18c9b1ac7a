"""A program file's bytes as lines of text, whatever wrote it: encodings, byte order marks, line ends."""

from __future__ import annotations

import codecs
from collections.abc import Callable, Iterable, Iterator
from itertools import chain

from floor.evidence.nc.finding_kinds import FindingLog

LONGEST = 4096
"""Most characters read per line. NIST IR 6556 allows 256; anything near this is not a program."""
_HEAD = 512
_MARKS = ((codecs.BOM_UTF8, ""), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))


def split_lines(chunks: Iterable[bytes], log: FindingLog) -> Iterator[list[str]]:
    """Lists of lines without line ends, one list per chunk, so a long file is never all in memory.

    LF, CR LF and CR each end a line. A line is UTF-8, or else Latin-1. UTF-16 is detected by its byte order mark or
    its pattern of NULs. A line longer than `LONGEST` is cut one character past it.
    """
    rest = b""
    for chunk in _recode(chunks, log):
        whole = rest + chunk
        held = whole[-1:] == b"\r"  # its LF may come with the next chunk
        ends = (whole[:-1] if held else whole).replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        done, end, rest = ends.rpartition(b"\n")
        if len(rest) > LONGEST:
            rest = rest[: LONGEST + 1]
        rest += b"\r" if held else b""
        if end:
            yield _decode(done)
    if rest:
        yield _decode(rest.removesuffix(b"\r"))


def _decode(block: bytes) -> list[str]:
    try:
        return block.decode("ascii").split("\n")
    except UnicodeDecodeError:
        return [_decode_line(line) for line in block.split(b"\n")]


def _decode_line(line: bytes) -> str:
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        return line.decode("latin-1")


def _recode(chunks: Iterable[bytes], log: FindingLog) -> Iterator[bytes]:
    """The chunks without byte order mark, UTF-16 converted to UTF-8."""
    stream = iter(chunks)
    head = b""
    for chunk in stream:
        head += chunk
        if len(head) >= _HEAD:
            break
    mark, encoding = _find_encoding(head)
    if mark:
        log.add("byte order mark", 1)
    body: Iterator[bytes] = chain((head[len(mark) :],), stream)
    if encoding:
        log.add("other encoding", 1, encoding)
        body = _from_utf_16(body, codecs.getincrementaldecoder(encoding)("replace").decode)
    return (chunk for chunk in body if chunk)


def _from_utf_16(chunks: Iterable[bytes], decode: Callable[[bytes], str]) -> Iterator[bytes]:
    for chunk in chunks:
        yield decode(chunk).encode("utf-8", "replace")


def _find_encoding(head: bytes) -> tuple[bytes, str]:
    """(byte order mark, name of a 16-bit encoding), each empty if there is none."""
    for mark, encoding in _MARKS:
        if head.startswith(mark):
            return mark, encoding
    even, odd = head[0:_HEAD:2].count(0), head[1:_HEAD:2].count(0)
    half = min(len(head), _HEAD) / 2
    if half >= 4 and odd > 0.8 * half and even < 0.1 * half:
        return b"", "utf-16-le"
    if half >= 4 and even > 0.8 * half and odd < 0.1 * half:
        return b"", "utf-16-be"
    return b"", ""
