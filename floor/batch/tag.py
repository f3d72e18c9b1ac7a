"""The text in the code of a tag, which a scanner types: ``%L%B0007%3%7KQ2X4``.

A percent sign, the letter of the kind, the names, and six characters, each after a percent sign: four tell whose it
is, two tell a misread. Names are in capitals, without accents.

It holds what never changes: ids and numbers, no counts, dates or states. It proves nothing: a badge is initials, not a
PIN. Two names that read alike are refused, never guessed.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Literal
from zlib import crc32

from floor.dataclass import dataclass

PREFIX = "%"
"""Begins every tag, so no tag is taken for keys. It is no key here, not on the keypad, in the smallest alphabet of a
QR code, and on Shift+5 of US, UK, German, Spanish, Italian and Nordic keyboards (from memory): a scanner types it
right where dash, slash and colon come out as something else."""
TagKind = Literal["carrier", "load", "box", "tool", "person", "lot", "gauge", "station"]
LETTERS: dict[str, TagKind] = {
    "C": "carrier",
    "L": "load",
    "B": "box",
    "T": "tool",
    "P": "person",
    "M": "lot",
    "G": "gauge",
    "S": "station",
}
"""Printed on tags in use: never given to another kind. M is for material."""
NAMES: dict[TagKind, int] = {
    "carrier": 2, "load": 2, "box": 1, "tool": 2, "person": 1, "lot": 2, "gauge": 1, "station": 1,
}  # fmt: skip
"""How many names each kind has: id and number of a carrier, batch and number of a load, batch of a box, station and
number of a tool, initials, material and lot, serial number, id of a station."""
OWNED_BY_BATCH: frozenset[TagKind] = frozenset({"load", "box"})
"""What goes with its batch to another shop; everything else is the shop's."""
_DIGITS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""32 signs, without I, L, O and U, which people misread."""
_HEAD = re.compile(rf"\s*{PREFIX}[^{PREFIX}]*{PREFIX}")
_BEGUN = re.compile(rf"{PREFIX}([{''.join(LETTERS)}]({PREFIX}.*)?)?", re.IGNORECASE)
_MARK, _CHECK = 4, 2
"""Signs for the owner (one in a million) and against a misread (one in a thousand)."""
LONGEST_NAME = 40
"""Signs kept of a name, so that every code goes on a small label (shop decision)."""


@dataclass(frozen=True, slots=True)
class Tag:
    """What a tag is on."""

    kind: TagKind
    names: tuple[str, ...]
    """As `spell_plain` has them."""
    mark: str
    """Whose it is: `make_mark` of the shop, or of the batch."""


class NotRead(ValueError):
    """A text is no tag, or not as one was printed."""

    def __init__(self, misread: bool) -> None:
        super().__init__("misread" if misread else "no tag")
        self.misread = misread
        """Whether it begins like a tag."""


def make_tag(kind: TagKind, names: tuple[str | int, ...], owner: str) -> Tag:
    """A tag.

    Args:
        owner: hash of the first entry of the shop's record, or of the batch.
    """
    assert len(names) == NAMES[kind]
    return Tag(kind, tuple(spell_plain(str(name)) for name in names), make_mark(owner))


def is_tag(text: str) -> bool:
    """Whether a typed text is that of a tag, be it misread: it begins with a percent sign, and has another."""
    return _HEAD.match(text) is not None


def may_become_tag(text: str) -> bool:
    """Whether a text that is still being typed can become that of a tag."""
    return _BEGUN.fullmatch(text) is not None


def format_tag(tag: Tag) -> str:
    """The text for its code."""
    letter = next(letter for letter, kind in LETTERS.items() if kind == tag.kind)
    text = PREFIX + PREFIX.join((letter, *tag.names, tag.mark))
    return text + _check(text)


def parse_tag(text: str) -> Tag:
    """What a scanner typed; caps lock may be on.

    Raises:
        NotRead
    """
    read = text.strip().upper()
    if not is_tag(read):
        raise NotRead(misread=False)
    whole, check = read[:-_CHECK], read[-_CHECK:]
    letter, *names = whole[1:].split(PREFIX)
    mark = names.pop() if names else ""
    kind = LETTERS.get(letter)
    right = kind is not None and len(names) == NAMES[kind] and len(mark) == _MARK and check == _check(whole)
    if kind is None or not right:
        raise NotRead(misread=True)
    return Tag(kind, tuple(names), mark)


def spell_plain(name: str) -> str:
    """A name as scanners can type it: capitals without accents, single blanks; ``*`` for what has no such letter.

    Cut at `LONGEST_NAME`.
    """
    letters = (one for one in unicodedata.normalize("NFKD", name.upper()) if not unicodedata.combining(one))
    plain = (one if one.isascii() and one.isprintable() and one != PREFIX else "*" for one in letters)
    return " ".join("".join(plain).upper().split())[:LONGEST_NAME].rstrip()


def make_mark(owner: str) -> str:
    """The first 20 bits of a hash in hexadecimal digits, as four signs."""
    return _encode(int(owner[:5], 16), _MARK)


def _check(text: str) -> str:
    """Ten bits of the CRC-32 of the text as two signs."""
    return _encode(crc32(text.encode()) & 1023, _CHECK)


def _encode(number: int, signs: int) -> str:
    return "".join(_DIGITS[number >> 5 * place & 31] for place in reversed(range(signs)))
