"""Pictures of the screens as text: one file per state, with its lines at each size and, below them, how they look.

A look is a pair of colors and what else a terminal does to letters, in each theme; it has one letter in all pictures.
``pictures/legend.toml`` says what each letter is in each theme, so one picture holds all of them. Below the lines stand
the letters of each row as runs: ``3-5  a2 b78`` means that rows 3 to 5 begin with two cells of look ``a``. Around a
dialog, where the screen beneath shows through, nothing is held: ``~``.
"""

from __future__ import annotations

import asyncio
import re
import string
import tomllib
from collections.abc import Awaitable, Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from difflib import unified_diff
from functools import cache
from itertools import groupby, pairwise, product
from pathlib import Path

from rich.cells import cell_len
from rich.color import Color, ColorType
from rich.segment import Segment
from rich.style import Style
from textual.color import Color as ScreenColor
from textual.pilot import Pilot
from textual.strip import Strip

from floor.app import FloorApp
from floor.screens.frame.terminal_looks import Depth, FewColors
from floor.screens.frame.theme import DAY, NIGHT, SIGNAL_PANELS

FOLDER = Path(__file__).parent / "pictures"
LEGEND = FOLDER / "legend.toml"
SIZES = ((80, 24), (160, 50), (60, 20))
THEMES = {theme.name: theme for theme in (NIGHT, DAY)}
FEWER: dict[str, Depth] = {"16 colors": "sixteen", "no color": "none"}
"""Looks that are the same by night and by day → what they are drawn with."""
LETTERS = string.ascii_letters + string.digits + "!#$%&*+-/<=>?@^_"
BENEATH = "~"
ATTRIBUTES = ("bold", "dim", "italic", "underline", "strike")
HEAD = """\
# What each letter of the pictures beside this file is, in each theme. `--snapshot-update` adds what is new; whoever
# changes a color of a theme changes it here.
"""

Size = tuple[int, int]
Run = Callable[[Pilot[None]], Awaitable[None]]
Row = list[tuple[str, Style | None]]
"""Each cell; the second of a wide character is empty; without a style where the screen beneath a dialog shows."""
Rows = list[Row]
Looks = tuple[str, ...]
"""Of the same cell, by night and by day."""


# --- seeing --------------------------------------------------------------------------------------------------------


def see(app: FloorApp, press: Iterable[str], run_before: Run | None, sizes: Sequence[Size]) -> dict[Size, list[Rows]]:
    """Bring a state up and see it at each size, by night and then by day."""
    return asyncio.run(_see(app, press, run_before, sizes))


async def _see(
    app: FloorApp, press: Iterable[str], run_before: Run | None, sizes: Sequence[Size]
) -> dict[Size, list[Rows]]:
    seen: dict[Size, list[Rows]] = {size: [] for size in sizes}
    async with app.run_test(size=sizes[0]) as pilot:
        app.theme = NIGHT.name
        await pilot.pause()
        if run_before is not None:
            await run_before(pilot)
        await pilot.pause()
        await pilot.press(*press)
        await pilot.wait_for_scheduled_animations()
        for n, size in enumerate(sizes):
            if n > 0:
                await pilot.resize_terminal(*size)
            for theme in THEMES:
                app.theme = theme
                await pilot.pause()
                await pilot.pause()
                seen[size].append(list(list_rows(app)))
    return seen


def list_rows(app: FloorApp) -> Iterator[Row]:
    """What the top screen paints, cell by cell."""
    dialogs = list(app.screen.query(".dialog"))
    for y, strip in enumerate(app.screen._compositor.render_strips()):
        row = list(list_cells(strip))
        if dialogs:
            around = dialogs[0].region
            row = [(text, style if around.contains(x, y) else None) for x, (text, style) in enumerate(row)]
        yield row


def list_cells(strip: Strip) -> Iterator[tuple[str, Style]]:
    for segment in strip:
        style = segment.style or Style.null()
        for character in segment.text:
            yield character, style
            if not character.isascii():
                yield from [("", style)] * (cell_len(character) - 1)


# --- naming a look -------------------------------------------------------------------------------------------------


@cache
def describe_look(style: Style, blank: bool = False) -> str:
    """Letters, ground and attributes as one text; of a blank, what is seen of it."""
    letters, ground, reverse = style.color, style.bgcolor, bool(style.reverse)
    if reverse and _is_exact(letters) and _is_exact(ground):
        letters, ground, reverse = ground, letters, False
    said = [] if blank and not reverse else [_name(letters)]
    said += ["on", _name(ground)]
    said += [name for name in ATTRIBUTES if getattr(style, name) and not (blank and name in ("bold", "dim", "italic"))]
    return " ".join([*said, "reversed"] if reverse else said)


def _is_exact(color: Color | None) -> bool:
    return color is not None and color.type is ColorType.TRUECOLOR


def _name(color: Color | None) -> str:
    if color is None or color.is_default:
        return "default"
    return color.triplet.hex.upper() if color.triplet is not None else color.name


@cache
def draw_fewer(style: Style, depth: Depth) -> Style:
    """A style as it goes out to a terminal with fewer colors."""
    ((_, made, _),) = FewColors(depth).apply([Segment("x", style)], ScreenColor(0, 0, 0))
    assert made is not None
    return made


class Legend:
    """What each letter is, in each theme."""

    def __init__(self, may_add: bool = False) -> None:
        """Read it from its file.

        Args:
            may_add: whether a look that has no letter gets one.
        """
        kept = tomllib.loads(LEGEND.read_text(encoding="utf-8")) if LEGEND.exists() else {}
        self.by_theme: dict[str, dict[str, str]] = {name: kept.get(name, {}) for name in (*THEMES, *FEWER)}
        self.may_add = may_add
        self.wrong: dict[str, str] = {}
        """What is not as the legend says → the first text where it was seen."""
        night, day = (self.by_theme[name] for name in THEMES)
        self._letters = {(look, day[letter]): letter for letter, look in night.items()}

    def write(self) -> None:
        parts = [HEAD]
        for theme, looks in self.by_theme.items():
            parts.append(f"\n[{theme}]\n" if " " not in theme else f'\n["{theme}"]\n')
            parts += [f'"{letter}" = "{look}"{name_roles(theme, look)}\n' for letter, look in looks.items()]
        LEGEND.write_text("".join(parts), encoding="utf-8")

    def name(self, piece: Piece) -> str:
        """The letter of a look. Whether it is what the legend says with fewer colors too is noted."""
        if not piece.looks:
            return BENEATH
        letter = self._letters.get(piece.looks, "")
        if not letter and self.may_add:
            letter = self._letters[piece.looks] = next(one for one in LETTERS if one not in self.by_theme[NIGHT.name])
            for name, look in zip(THEMES, piece.looks, strict=True):
                self.by_theme[name][letter] = look
        if not letter:
            self._miss(piece)
        elif piece.is_bare or piece.text.strip():
            for (name, depth), style in product(FEWER.items(), piece.styles):
                look = describe_look(draw_fewer(style, depth), piece.is_bare)
                if self.by_theme[name].setdefault(letter, look) != look:
                    self.wrong.setdefault(f"{letter} with {name} is {look}", piece.text)
        return letter or " "

    def _miss(self, piece: Piece) -> None:
        night, day = (self.by_theme[name] for name in THEMES)
        dark, light = piece.looks
        near = [letter for letter in night if dark == night[letter] or light == day[letter]]
        said = f" ({', '.join(near)} in one of them)" if near else ""
        self.wrong.setdefault(f"no letter is {dark} by night and {light} by day{said}", piece.text)


def name_roles(theme: str, look: str) -> str:
    """A remark: what the colors are called; where several names have one color, the first."""
    if theme not in THEMES:
        return ""
    of = THEMES[theme]
    named = [(name, getattr(of, name)) for name in ("foreground", "background", "surface", "panel", "error", "warning")]
    named += [(word, panel) for word, (_, panel) in SIGNAL_PANELS.items()]
    named += of.variables.items()
    roles = {str(color).upper(): name for name, color in reversed(named)}
    said = " ".join(roles.get(word, word) for word in look.split())
    return f"  # {said}" if said != look else ""


# --- drawing -------------------------------------------------------------------------------------------------------


def draw(seen: dict[Size, list[Rows]], legend: Legend) -> str:
    """The file of a state."""
    parts = []
    for (width, height), (night, day) in seen.items():
        lines = ["".join(text for text, _ in row).rstrip() for row in night]
        again = ["".join(text for text, _ in row).rstrip() for row in day]
        assert lines == again, f"By day at {width} x {height} it is:\n{diff(lines, again)}"
        parts += [f"== {width} x {height}", *lines, "--"]
        first = 1
        for runs, same in groupby(draw_runs(*rows, legend) for rows in zip(night, day, strict=True)):
            last = first + len(list(same)) - 1
            parts.append(f"{f'{first}-{last}' if last > first else first:<6} {runs}")
            first = last + 1
    return "\n".join(parts) + "\n"


@dataclass
class Piece:
    """Cells side by side that look the same."""

    text: str
    styles: list[Style]
    """By night and by day; none where the screen beneath a dialog shows."""

    def __post_init__(self) -> None:
        self.grounds: Looks = tuple(describe_look(style, blank=True) for style in self.styles)
        self.is_bare = not self.text.strip(" ") and self.text != ""
        self.looks = self.grounds if self.is_bare else tuple(map(describe_look, self.styles))

    def follow(self, neighbor: Piece) -> None:
        """Nobody sees the ink of a blank: it is taken to be that of its neighbor."""
        if self.is_bare and not neighbor.is_bare and self.grounds == neighbor.grounds:
            self.looks, self.is_bare = neighbor.looks, False


def draw_runs(night: Row, day: Row, legend: Legend) -> str:
    """The letters of a row, each with how many cells it goes on."""
    cells = [(text, dark, light) for (text, dark), (_, light) in zip(night, day, strict=True)]
    pieces, sizes = [], []
    for (_, dark, light), same in groupby(cells, key=lambda cell: (cell[0] == " ", *cell[1:])):
        texts = [text for text, _, _ in same]
        pieces.append(Piece("".join(texts), [style for style in (dark, light) if style is not None]))
        sizes.append(len(texts))
    for before, after in pairwise(pieces):
        after.follow(before)
    for after, before in pairwise(reversed(pieces)):
        before.follow(after)
    letters = [legend.name(piece) * size for piece, size in zip(pieces, sizes, strict=True)]
    return " ".join(f"{letter}{len(list(run))}" for letter, run in groupby("".join(letters)))


def diff(kept: Sequence[str], seen: Sequence[str]) -> str:
    return "\n".join(unified_diff(kept, seen, "kept", "seen", n=2, lineterm=""))


@dataclass
class Page:
    """A state at one size, as its file says."""

    size: Size
    lines: list[str]
    letters: list[str]
    """Of each row: a letter per cell."""


PAGE = re.compile(r"(?m)^== (\d+) x (\d+)\n")
ROWS = re.compile(r"(\d+)(?:-(\d+))? +(.*)")


def read_pages(file: Path) -> Iterator[Page]:
    _, *parts = PAGE.split(file.read_text(encoding="utf-8"))
    for width, height, text in zip(parts[::3], parts[1::3], parts[2::3], strict=True):
        rows = text.splitlines()
        lines, runs = rows[: int(height)], rows[int(height) + 1 :]
        letters = []
        for first, last, said in (ROWS.fullmatch(row).groups() for row in runs):  # type: ignore[union-attr]
            row = "".join(run[0] * int(run[1:]) for run in said.split())
            letters += [row] * (int(last or first) - int(first) + 1)
        yield Page((int(width), int(height)), lines, letters)


# --- keeping -------------------------------------------------------------------------------------------------------


def check_picture(file: Path, seen: dict[Size, list[Rows]]) -> None:
    """Compare a state with its file, and its looks with the legend."""
    legend = Legend()
    drawn = draw(seen, legend)
    kept = file.read_text(encoding="utf-8") if file.exists() else ""
    different = diff(kept.splitlines(), drawn.splitlines())
    wrong = "".join(f"{what}, as at {text!r}\n" for what, text in legend.wrong.items())
    assert not wrong + different, f"{wrong}{different}\nLook at it; if it is right: --snapshot-update -n 0"


def keep_picture(file: Path, seen: dict[Size, list[Rows]]) -> None:
    """Write the file of a state, and what is new into the legend."""
    legend = Legend(may_add=True)
    drawn = draw(seen, legend)
    assert not legend.wrong, (legend.wrong, legend.by_theme)
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(drawn, encoding="utf-8")
    legend.write()
