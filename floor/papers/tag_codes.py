"""The code of a tag as rows of modules: a QR code for imagers, Code 128 for laser scanners.

The library is imported when a code is drawn, as opening the program does not need it.
"""

from __future__ import annotations

from typing import Literal

from floor.dataclass import dataclass
from floor.papers.code_128 import encode_code_128

CodeKind = Literal["qr", "128"]
LONGEST_BARS = 60
"""Characters of a Code 128; a longer one is wider than a 7 in label at the usual 10 mil (shop decision)."""


@dataclass(frozen=True, slots=True)
class Code:
    """A code without its quiet zone."""

    kind: CodeKind
    rows: tuple[tuple[bool, ...], ...]
    """Whether each module is dark; of bars one row."""
    quiet: int
    """Modules left light: around it (QR), before and after it (Code 128)."""


def make_code(text: str, kind: CodeKind) -> Code:
    """The code of a text in ASCII.

    Raises:
        ValueError: it is too long for bars.
    """
    return make_qr(text) if kind == "qr" else make_bars(text)


def make_qr(text: str) -> Code:
    """ISO/IEC 18004, error correction Q, as a tag gets dirty: up to a quarter may be unreadable. Quiet zone 4."""
    import segno

    found = segno.make_qr(text, error="q", boost_error=False)
    return Code("qr", tuple(tuple(bool(module) for module in row) for row in found.matrix), 4)


def make_bars(text: str) -> Code:
    """Code 128, ISO/IEC 15417. Quiet zone 10.

    Raises:
        ValueError: longer than `LONGEST_BARS`.
    """
    if len(text) > LONGEST_BARS:
        raise ValueError(f"{text[:40]}… is too long for bars; choose a QR code")
    return Code("128", (tuple(encode_code_128(text)),), 10)


def draw_half_blocks(code: Code) -> list[str]:
    """A QR code in characters for paper, two modules each: dark is ink. Its quiet zone is part of it."""
    rows = _with_quiet_zone(code)
    if len(rows) % 2:
        rows.append([False] * len(rows[0]))
    signs = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}
    return ["".join(signs[pair] for pair in zip(*two, strict=True)) for two in zip(rows[::2], rows[1::2], strict=True)]


def draw_ascii(code: Code) -> list[str]:
    """The same where there is only ASCII: two characters to a module, as they are half as wide as high."""
    return ["".join("##" if module else "  " for module in row) for row in _with_quiet_zone(code)]


def _with_quiet_zone(code: Code) -> list[list[bool]]:
    side = [False] * code.quiet
    rows = [[*side, *row, *side] for row in code.rows]
    edge = [[False] * len(rows[0]) for _ in range(code.quiet)]
    return [*edge, *rows, *edge]
