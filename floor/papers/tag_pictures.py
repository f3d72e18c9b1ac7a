"""A tag as a picture for a label printer: its code with the words beside it, as PNG or SVG, dot by dot the same.

Both come from one raster with words in block letters, so neither needs a font or an imaging library.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Sequence
from html import escape
from itertools import groupby
from zlib import compress, crc32

from floor.block_letters import GLYPHS, HEIGHT, count_squares, draw_block_letters, wrap_squares
from floor.papers.tag_codes import Code, CodeKind, make_code

DOTS = 8
"""Dots in a millimeter: the 203 dpi of most label printers (common practice, no source)."""
MODULE: dict[CodeKind, int] = {"qr": 4, "128": 2}
"""Dots of a module: 0.5 mm and 0.25 mm, which scanners of a shop read at arm's length (common practice, no source)."""
HEADING, WORDS = 5, 3
"""Dots of a square of the large and of the small letters: 3.1 and 1.9 mm high."""
WIDTH = 400
"""Dots for the words beside a QR code: 50 mm."""
BARS_HEIGHT = 12 * DOTS
"""Dots: 12 mm, above the 5 mm or 15 % of the length that ISO/IEC 15417 asks for (from memory)."""
MARGIN = 2 * DOTS
Dots = list[list[bool]]
"""Rows from the top; true is ink."""


def draw_tag(text: str, words: Sequence[str], kind: CodeKind = "qr") -> Dots:
    """A tag in dots.

    Args:
        text: for its code; it stands below in letters too, as ISO/IEC 15417 asks for.
        words: what it is on, the first one large.

    Raises:
        ValueError: the text is too long for bars.
    """
    code = _enlarge(make_code(text, kind), kind)
    if kind == "qr":
        return _frame(_side_by_side(code, _write(text, words, WIDTH)))
    width = len(code[0])
    lines = _write(text, words, width)
    return _frame([*_pad(lines, width), *_blank(MARGIN, width), *code])


def encode_png(dots: Dots) -> bytes:
    """A PNG (ISO/IEC 15948) of one bit a dot, which says its size in meters."""
    height, width = len(dots), len(dots[0])
    rows = b"".join(b"\0" + _pack(row) for row in dots)
    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    size = struct.pack(">IIB", DOTS * 1000, DOTS * 1000, 1)
    chunks = ((b"IHDR", head), (b"pHYs", size), (b"IDAT", compress(rows, 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(*one) for one in chunks)


def encode_svg(dots: Dots, title: str) -> str:
    """An SVG of the tag's size in millimeters, of one path."""
    height, width = len(dots), len(dots[0])
    path = "".join(f"M{x} {y}h{w}v{h}h-{w}z" for x, y, w, h in _list_boxes(dots))
    size = f'width="{width / DOTS:g}mm" height="{height / DOTS:g}mm" viewBox="0 0 {width} {height}"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size}><title>{escape(_keep_printable(title))}</title>'
        f'<path fill="#fff" d="M0 0h{width}v{height}h-{width}z"/><path d="{path}"/></svg>\n'
    )


def _keep_printable(text: str) -> str:
    """XML has no control characters."""
    return "".join(one for one in text if one.isprintable())


def _enlarge(code: Code, kind: CodeKind) -> Dots:
    """A code in dots with its quiet zone."""
    module, quiet = MODULE[kind], [False] * code.quiet
    rows = [[dot for one in (*quiet, *row, *quiet) for dot in [one] * module] for row in code.rows]
    if kind == "128":
        return [rows[0]] * BARS_HEIGHT
    edge = _blank(code.quiet * module, len(rows[0]))
    return [*edge, *(row for row in rows for _ in range(module)), *edge]


def _write(text: str, words: Sequence[str], width: int) -> Dots:
    """The words, and the text of the code in small letters, in lines of at most a width."""
    lines: Dots = []
    sizes = [HEADING, *[WORDS] * (len(words) - 1)]
    for words_here, size in zip(words, sizes, strict=True):
        for line in wrap_squares(draw_block_letters(words_here), width // size, 2):
            lines += [*_draw_line(line, size), *_blank(size, 1)]
    for part in _fold(text, width // WORDS):
        lines += [*_blank(WORDS, 1), *_draw_line(part, WORDS)]
    return lines


def _fold(text: str, width: int) -> Iterator[str]:
    """A text without losing a letter, in parts of at most a width in squares."""
    part = ""
    for letter in draw_block_letters(text):
        if part and count_squares(part + letter) > width:
            yield part
            part = ""
        part += letter
    yield part


def _draw_line(text: str, size: int) -> Dots:
    bits = ["0".join(GLYPHS[letter][y] for letter in text) for y in range(HEIGHT)]
    return [[bit == "#" for bit in row for _ in range(size)] for row in bits for _ in range(size)]


def _side_by_side(left: Dots, right: Dots) -> Dots:
    """The words in mid-height beside the code, or the code beside the words."""
    height = max(len(left), len(right))
    both = []
    for part in (left, right):
        width = max(map(len, part))
        above = (height - len(part)) // 2
        both.append([*_blank(above, width), *_pad(part, width), *_blank(height - len(part) - above, width)])
    return [[*one, *other] for one, other in zip(*both, strict=True)]


def _frame(dots: Dots) -> Dots:
    width = len(dots[0]) + 2 * MARGIN
    rows = [[False] * MARGIN + row + [False] * MARGIN for row in dots]
    return [*_blank(MARGIN, width), *rows, *_blank(MARGIN, width)]


def _pad(dots: Dots, width: int) -> Dots:
    return [[*row, *[False] * (width - len(row))] for row in dots]


def _blank(height: int, width: int) -> Dots:
    return [[False] * width for _ in range(height)]


def _pack(row: Sequence[bool]) -> bytes:
    """Eight dots in a byte, ink as 0."""
    bits = "".join("0" if dot else "1" for dot in row)
    return int(bits.ljust(-len(bits) % 8 + len(bits), "1"), 2).to_bytes((len(bits) + 7) // 8)


def _chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", crc32(name + data))


def _list_boxes(dots: Dots) -> Iterator[tuple[int, int, int, int]]:
    """Boxes of ink: x, y, width, height; rows that are alike make one."""
    y = 0
    for row, same in groupby(dots):
        height, x = len(list(same)), 0
        for ink, run in groupby(row):
            width = len(list(run))
            if ink:
                yield x, y, width, height
            x += width
        y += height
