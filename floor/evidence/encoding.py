"""How the bytes of a file from a machine are text: byte order marks, and UTF-16 without one."""

from __future__ import annotations

import codecs
import re
from typing import NamedTuple

HEAD = 1024
"""Bytes from the start that `find_encoding` looks at."""
_MARKS = (
    (codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF32_LE, "utf-32-le"), (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"),
)  # fmt: skip
"""Longest first if one is the start of another."""
_CONTROL = re.compile("[\x00-\x08\x0e-\x1f\x7f]")
_MOST_CONTROL = 0.01
"""Largest share of control characters in a text file."""
_FEWEST = 4
_MOST_ZEROS, _FEWEST_ZEROS = 0.1, 0.8


class Encoding(NamedTuple):
    """A byte order mark, and the name of an encoding: ``utf-8`` by its mark or a wide one; empty if nothing tells."""

    mark: bytes
    name: str

    @property
    def is_wide(self) -> bool:
        """More than one byte for a character of ASCII."""
        return self.name not in ("", "utf-8")


def find_encoding(data: bytes) -> Encoding:
    """The encoding by the byte order mark, else UTF-16 by its zeros: nearly every other byte of plain text is one."""
    for mark, name in _MARKS:
        if data.startswith(mark):
            return Encoding(mark, name)
    head = data[: HEAD - HEAD % 2]
    half = len(head) // 2
    zeros = [head[first::2].count(0) / half if half else 0.0 for first in (0, 1)]
    if len(head) >= _FEWEST:
        for first, name in ((1, "utf-16-le"), (0, "utf-16-be")):
            if zeros[first] > _FEWEST_ZEROS and zeros[1 - first] < _MOST_ZEROS:
                return Encoding(b"", name)
    return Encoding(b"", "")


def decode_narrow(data: bytes) -> tuple[str, bool]:
    """Text in UTF-8, or else one byte per character; and whether it is certain."""
    try:
        return data.decode("utf-8"), True
    except UnicodeDecodeError:
        return data.decode("latin-1"), False


def is_text(text: str) -> bool:
    """Whether a file's text, or the start of it, is text at all, by its few control characters."""
    return len(_CONTROL.findall(text)) <= max(_MOST_CONTROL * len(text), 1)
