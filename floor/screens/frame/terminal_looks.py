"""What a terminal can show: signs from ASCII where it has no others, named colors where it has sixteen, none at all.

Done to each line as it goes out, so no screen knows of it: what is drawn in signs and colors of the theme leaves in
those that the terminal has, in the same cells.
"""

from __future__ import annotations

import codecs
import unicodedata
from collections.abc import Mapping
from contextlib import suppress
from functools import lru_cache
from pathlib import Path
from typing import Literal

from rich.cells import cell_len
from rich.color import Color, ColorType
from rich.segment import Segment
from rich.style import Style
from textual.color import Color as ScreenColor
from textual.filter import LineFilter

from floor.screens.frame.theme import DAY, NIGHT, SIGNAL_PANELS

Depth = Literal["all", "sixteen", "none"]
ASKED_LOOKS = ("NO_COLOR", "FLOOR_SIGNS")
"""What a person sets on purpose."""
PLAIN_TERMINALS = ("linux", "vt", "dumb", "ansi", "cons")
"""Beginnings of the names of terminals whose fonts lack most signs."""
TWINS = {
    "✓": "v", "▶": ">", "◔": ":", "✕": "X", "↺": "<", "·": ".", "○": "o", "●": "o", "■": "#", "⚠": "!", "…": "~",
    "→": ">", "←": "<", "↑": "^", "↓": "v", "▸": ">", "►": ">", "◄": "<", "▼": "V", "×": "x", "–": "-",
    "—": "-", "°": "'", "─": "-", "━": "-", "│": "|", "┃": "|", "├": "|", "┤": "|", "┌": "+", "┐": "+", "└": "+",
    "┘": "+", "┼": "+", "█": "#", "▓": "%", "▒": "=", "░": ".", "▀": '"', "▄": "_", "▌": "|", "▐": "|", "▏": "|",
    "▎": "|", "▊": "|", "▍": "|", "▋": "|", "▉": "|", "▔": "-", "▁": "_", "▂": "_", "▃": "_", "▅": "#", "▆": "#",
    "▇": "#", "Ø": "D", "＠": "@", "＝": "=", "－": "-", "＋": "+", "◊": "H",
}  # fmt: skip
"""Sign → its twin in ASCII, as wide; the word always stands beside it."""


def needs_plain_signs(environ: Mapping[str, str]) -> bool:
    """Whether the terminal is asked, or known, to have no signs but those of ASCII."""
    asked = environ.get("FLOOR_SIGNS", "").casefold()
    if asked in ("ascii", "all"):
        return asked == "ascii"
    if environ.get("TERM", "").startswith(PLAIN_TERMINALS):
        return True
    named = environ.get("LC_ALL") or environ.get("LC_CTYPE") or environ.get("LANG") or ""
    _, dot, encoding = named.partition(".")
    return bool(dot) and not _is_unicode(encoding.partition("@")[0])


def name_plainly(key: str, environ: Mapping[str, str], headless: bool) -> str:
    """How a key is shown: the twin of the sign of Enter would be taken for another key."""
    return "Enter" if key == "⏎" and needs_plain_signs(_list_asked(environ, headless)) else key


def _list_asked(environ: Mapping[str, str], headless: bool) -> Mapping[str, str]:
    return {name: text for name, text in environ.items() if name in ASKED_LOOKS} if headless else environ


def find_depth(environ: Mapping[str, str], color_system: str | None) -> Depth:
    """How many colors go out: none with NO_COLOR (no-color.org), sixteen where the terminal has no more."""
    if environ.get("NO_COLOR"):
        return "none"
    return "sixteen" if color_system in ("standard", "windows") else "all"


def fit_terminal(environ: Mapping[str, str], color_system: str | None, headless: bool) -> list[LineFilter]:
    """What each line goes through on its way out.

    Args:
        headless: no terminal is there: what is asked for counts, not what this one could show.
    """
    environ = _list_asked(environ, headless)
    return [FewColors(find_depth(environ, color_system)), PlainSigns(needs_plain_signs(environ))]


def choose_theme(environ: Mapping[str, str], kept: str) -> str:
    """The colors chosen last; else light ones where the terminal says that its ground is light (COLORFGBG)."""
    if kept in (NIGHT.name, DAY.name):
        return kept
    ground = environ.get("COLORFGBG", "").rpartition(";")[2]
    return DAY.name if ground in ("7", "15") else NIGHT.name


def read_kept_colors(file: Path | None) -> str:
    """The name of the colors chosen last; empty where none are kept."""
    try:
        return file.read_text(encoding="utf-8").strip() if file is not None else ""
    except (OSError, UnicodeDecodeError):
        return ""


def keep_colors(file: Path | None, name: str) -> None:
    """For the next start; where that cannot be written, this one has them all the same."""
    with suppress(OSError):
        if file is not None:
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(f"{name}\n", encoding="utf-8")


class PlainSigns(LineFilter):
    """Each sign as its twin in ASCII."""

    def apply(self, segments: list[Segment], background: ScreenColor) -> list[Segment]:
        return [
            segment if segment.text.isascii() else Segment(to_plain(segment.text), segment.style, segment.control)
            for segment in segments
        ]


class FewColors(LineFilter):
    """The theme in the sixteen named colors, or in bold and reverse alone."""

    def __init__(self, depth: Depth) -> None:
        super().__init__(depth != "all")
        self.depth = depth

    def apply(self, segments: list[Segment], background: ScreenColor) -> list[Segment]:
        return [
            Segment(text, style if style is None else _fewer(style, self.depth), control)
            for text, style, control in segments
        ]


@lru_cache(4096)
def to_plain(text: str) -> str:
    """The same cells in ASCII: a letter without its accent, ``?`` where there is no twin."""
    return "".join(map(_twin, text))


def _twin(character: str) -> str:
    if character.isascii():
        return character
    found = TWINS.get(character)
    if found is not None:
        return found
    width = cell_len(character)
    if not width:
        return ""
    letter = unicodedata.normalize("NFKD", character)[:1]
    return (letter if letter.isascii() and letter.isprintable() else "?") + " " * (width - 1)


def _is_unicode(encoding: str) -> bool:
    try:
        return codecs.lookup(encoding).name.startswith("utf")
    except LookupError:
        return False


NAMED: dict[str, tuple[int | None, int | None, bool]] = {
    SIGNAL_PANELS["DANGER"][1]: (15, 1, False),
    SIGNAL_PANELS["WARNING"][1]: (0, 3, False),
    SIGNAL_PANELS["CAUTION"][1]: (0, 11, False),
    SIGNAL_PANELS["NOTICE"][1]: (15, 4, False),
} | {
    theme.variables[name]: look
    for theme in (NIGHT, DAY)
    for name, look in (
        ("hung", (None, None, True)),
        ("block-cursor-background", (None, None, True)),
        ("chalk", (None, None, True)),
        ("blued", (None, None, False)),
    )
}
"""Ground of the theme → letters and ground by the numbers of named colors (None: the terminal's own); reversed."""
QUIET_WRONG = 13
"""Bright magenta: what is wrong, as text."""
WRONG = frozenset(str(theme.error) for theme in (NIGHT, DAY))
"""Letters of what is wrong."""
RULED = {theme.variables["ruled"] for theme in (NIGHT, DAY)}
"""Lines and bars of charts."""
BLUE = 12
"""Bright blue: at least 4 to 1 on a black ground and on a white one."""


@lru_cache(2048)
def _fewer(style: Style, depth: Depth) -> Style:
    """A style without the colors that the terminal has not."""
    ground, letters = _to_hex(style.bgcolor), _to_hex(style.color)
    on, under, reverse = NAMED.get(ground, (None, None, False))
    panel = under is not None
    if depth == "none":
        on, under, reverse = None, None, reverse or panel
    elif letters in WRONG and not panel and not reverse:
        on = QUIET_WRONG
    elif letters in RULED and not reverse:
        on = BLUE
    return style + Style(
        color=Color.default() if on is None else Color.from_ansi(on),
        bgcolor=Color.default() if under is None else Color.from_ansi(under),
        reverse=reverse != bool(style.reverse),
        bold=style.bold or panel or letters in WRONG,
        dim=False,
    )


def _to_hex(color: Color | None) -> str:
    if color is None or color.type is not ColorType.TRUECOLOR or color.triplet is None:
        return ""
    return color.triplet.hex.upper()
