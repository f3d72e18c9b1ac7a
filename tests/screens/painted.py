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


VISIONS: dict[str, tuple[tuple[float, float, float], ...]] = {
    "protanopia": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "deuteranopia": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881)),
    "tritanopia": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900)),
    "no color at all": ((0.2126, 0.7152, 0.0722),) * 3,
}
"""Linear red, green and blue as people without one kind of cone see them: Machado, Oliveira and Fernandes, "A
Physiologically-based Model for Simulation of Color Vision Deficiency", 2009, severity 1.0 (from memory; each row adds
up to 1, so gray stays gray). The last by luminance."""


def see_as(vision: str, color: Rgb) -> Rgb:
    """A color as somebody with this vision sees it."""
    linear = [_to_linear(part) for part in color]
    seen = [sum(weight * part for weight, part in zip(row, linear, strict=True)) for row in VISIONS[vision]]
    red, green, blue = (_from_linear(min(max(part, 0.0), 1.0)) for part in seen)
    return red, green, blue


def _to_linear(part: int) -> float:
    share = part / 255
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


def _from_linear(part: float) -> int:
    return round(255 * (12.92 * part if part <= 0.0031308 else 1.055 * part ** (1 / 2.4) - 0.055))


def luminance(color: Rgb) -> float:
    """Relative luminance (WCAG 2.2, definitions)."""
    linear = [_to_linear(one) for one in color]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: Rgb, other: Rgb) -> float:
    """Contrast ratio, 1 to 21 (WCAG 2.2, definitions)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
