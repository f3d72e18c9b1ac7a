"""A program file's bytes as lines of text, whatever wrote it: encodings, byte order marks, line ends."""

from __future__ import annotations

import codecs
from collections.abc import Callable, Iterable, Iterator
from itertools import chain

from floor.evidence.encoding import HEAD, Encoding, decode_narrow, find_encoding, is_text
from floor.evidence.nc.finding_kinds import FindingLog

LONGEST = 4096
"""Most characters read per line. NIST IR 6556 allows 256; anything near this is not a program."""


_LEFT_BEHIND = dict.fromkeys((0x00, 0x1A, 0x7F))
"""NUL, Ctrl-Z and the rub-out of a tape."""


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
        return [decode_narrow(line)[0] for line in block.split(b"\n")]


def _recode(chunks: Iterable[bytes], log: FindingLog) -> Iterator[bytes]:
    """The chunks without byte order mark, wide encodings converted to UTF-8."""
    stream = iter(chunks)
    head = b""
    for chunk in stream:
        head += chunk
        if len(head) >= HEAD:
            break
    encoding = find_encoding(head)
    body: Iterator[bytes] = chain((head[len(encoding.mark) :],), stream)
    if not _is_program(head[len(encoding.mark) :], encoding):
        log.add("not text", 0)
        return (chunk for chunk in body if not chunk)  # read to its end, as the caller measures it
    if encoding.mark:
        log.add("byte order mark", 1)
    if encoding.is_wide:
        log.add("other encoding", 1, encoding.name)
        body = _narrow(body, codecs.getincrementaldecoder(encoding.name)("replace").decode)
    return (chunk for chunk in body if chunk)


def _is_program(head: bytes, encoding: Encoding) -> bool:
    """Whether the start of a file may be a program: text, but for what punched tapes and old editors left."""
    start = head[:HEAD]
    text = start.decode(encoding.name, "replace") if encoding.is_wide else decode_narrow(start)[0]
    return is_text(text.translate(_LEFT_BEHIND))


def _narrow(chunks: Iterable[bytes], decode: Callable[[bytes], str]) -> Iterator[bytes]:
    for chunk in chunks:
        yield decode(chunk).encode("utf-8", "replace")
