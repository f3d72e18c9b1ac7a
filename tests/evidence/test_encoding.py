"""How the bytes of a file are text. Byte order marks after the Unicode Standard, section 23.8 (from memory)."""

from __future__ import annotations

import codecs

import pytest

from floor.evidence.encoding import HEAD, Encoding, decode_narrow, find_encoding

TEXT = "%\nO1 (ÄÖ)\nG21\nM30\n"


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (TEXT.encode("utf-8-sig"), Encoding(codecs.BOM_UTF8, "utf-8")),
        (codecs.BOM_UTF16_LE + TEXT.encode("utf-16-le"), Encoding(codecs.BOM_UTF16_LE, "utf-16-le")),
        (codecs.BOM_UTF16_BE + TEXT.encode("utf-16-be"), Encoding(codecs.BOM_UTF16_BE, "utf-16-be")),
        (codecs.BOM_UTF32_LE + TEXT.encode("utf-32-le"), Encoding(codecs.BOM_UTF32_LE, "utf-32-le")),
        (codecs.BOM_UTF32_BE + TEXT.encode("utf-32-be"), Encoding(codecs.BOM_UTF32_BE, "utf-32-be")),
        (TEXT.encode("utf-16-le"), Encoding(b"", "utf-16-le")),
        (TEXT.encode("utf-16-be"), Encoding(b"", "utf-16-be")),
        (("°" + "ł" + TEXT * 4).encode("utf-16-le"), Encoding(b"", "utf-16-le")),  # some bytes of it are not zero
        (TEXT.encode(), Encoding(b"", "")),
        (TEXT.encode("latin-1"), Encoding(b"", "")),
        (b"G1 X5\0 F9.", Encoding(b"", "")),  # a single NUL is dirt
        (b"\0" * 100, Encoding(b"", "")),
        (b"\0A", Encoding(b"", "")),
        (b"", Encoding(b"", "")),
        (TEXT.encode() * 100 + b"\0A" * HEAD, Encoding(b"", "")),
    ],
)
def test_an_encoding_is_found_by_its_mark_or_its_zeros(data: bytes, found: Encoding) -> None:
    assert find_encoding(data) == found
    assert found.is_wide == found.name.startswith(("utf-16", "utf-32"))


def test_other_text_is_utf_8_if_it_can_be() -> None:
    assert decode_narrow("Fräser".encode()) == ("Fräser", True)
    assert decode_narrow("Fräser".encode("latin-1")) == ("Fräser", False)
