"""What the top screen paints, cell by cell: text, foreground and background, as the terminal gets them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from rich.color import ColorType
from textual.app import App
from textual.pilot import Pilot

Rgb = tuple[int, int, int]


@dataclass(frozen=True)
class Patch:
    """A run of cells of one style."""

    row: int
    column: int
    text: str
    letters: Rgb
    ground: Rgb
    bold: bool


def patches(app: App[Any]) -> list[Patch]:
    """Everything painted, from top to bottom; what shows through around a dialog is left out."""
    found = []
    dialogs = list(app.screen.query(".dialog"))
    for row, strip in enumerate(app.screen._compositor.render_strips()):
        column = 0
        for segment in strip:
            here, column = column, column + segment.cell_length
            if dialogs and not dialogs[0].region.contains(here, row):
                continue
            style = segment.style
            if style is None or (style.color is None and not segment.text.strip()):
                continue  # nothing is written there
            assert style.color is not None
            assert style.bgcolor is not None
            letters, ground = _rgb(style.color), _rgb(style.bgcolor)
            if style.reverse:
                letters, ground = ground, letters
            found.append(Patch(row, here, segment.text, letters, ground, bool(style.bold)))
    return found


def _rgb(color: Any) -> Rgb:
    assert color.type is ColorType.TRUECOLOR, f"{color}: no color of the terminal's own palette carries a meaning"
    return tuple(color.triplet)  # type: ignore[return-value]


def rows(app: App[Any]) -> list[str]:
    """The screen as lines of text."""
    return [strip.text for strip in app.screen._compositor.render_strips()]


def flat(text: str) -> str:
    """Text regardless of line breaks."""
    return " ".join(text.split())


async def painted(pilot: Pilot[Any]) -> str:
    """The whole screen as one line of text, once it is laid out."""
    await pilot.pause()
    return flat(" ".join(rows(pilot.app)))


def luminance(color: Rgb) -> float:
    """Relative luminance (WCAG 2.2, definitions)."""
    parts = [one / 255 for one in color]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: Rgb, other: Rgb) -> float:
    """Contrast ratio, 1 to 21 (WCAG 2.2, definitions)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
