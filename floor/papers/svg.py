"""A drawing for paper as SVG, measured in millimeters from its upper left corner.

Black, white and gray only, and lines told apart by their dashes: shops print in black.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import Enum
from typing import Literal, NamedTuple
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from floor.text import sanitize

TITLE, TEXT, SMALL = 4.2, 3.2, 2.8
"""Heights of letters in millimeters: about 12, 9 and 8 points."""
_LETTER = 0.56
"""Width of a usual letter, in heights of its font (Helvetica and its likes)."""
_DECIMALS = 4


class Stroke(NamedTuple):
    """Width in millimeters, dashes, and how dark."""

    width: float
    dashes: str = ""
    color: str = "#000"


SOLID, HEAVY, THIN = Stroke(0.35), Stroke(0.7), Stroke(0.2, "", "#999")
DASHED, DOTTED = Stroke(0.35, "2 1"), Stroke(0.3, "0.4 1")


class Sign(Enum):
    """How a point is drawn."""

    OPEN = "open circle"
    DOT = "dot"
    SIGNAL = "square"
    """One that is told of."""


class Drawing:
    """SVG in the making; each part may have a kind, which is its class."""

    def __init__(self, width: float, height: float, title: str) -> None:
        self.width, self.height = width, height
        self._root = Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "width": f"{width:g}mm",
                "height": f"{height:g}mm",
                "viewBox": f"0 0 {width:g} {height:g}",
                "font-family": "Helvetica, Arial, sans-serif",
            },
        )
        SubElement(self._root, "title").text = sanitize(title)
        self.draw_box(0, 0, width, height, "#fff")

    def draw_line(self, points: Iterable[tuple[float, float]], stroke: Stroke = SOLID, kind: str = "") -> None:
        """Through all points, in their order."""
        part = self._add("polyline", kind, fill="none", stroke=stroke.color)
        part.set("points", " ".join(f"{_format(x)},{_format(y)}" for x, y in points))
        part.set("stroke-width", f"{stroke.width:g}")
        if stroke.dashes:
            part.set("stroke-dasharray", stroke.dashes)

    def draw_box(
        self, x: float, y: float, width: float, height: float, fill: str, stroke: Stroke | None = None, kind: str = ""
    ) -> None:
        part = self._add("rect", kind, x=x, y=y, width=width, height=height, fill=fill)
        if stroke is not None:
            part.set("stroke", stroke.color)
            part.set("stroke-width", f"{stroke.width:g}")

    def draw_point(self, x: float, y: float, sign: Sign, kind: str = "") -> None:
        if sign is Sign.SIGNAL:
            self.draw_box(x - 1.1, y - 1.1, 2.2, 2.2, "#000", kind=kind)
            return
        part = self._add("circle", kind, cx=x, cy=y, r=0.7, fill="#fff" if sign is Sign.OPEN else "#000")
        part.set("stroke", "#000")
        part.set("stroke-width", "0.25")

    def write_text(
        self,
        x: float,
        y: float,
        text: str,
        size: float = TEXT,
        anchor: Literal["start", "middle", "end"] = "start",
        *,
        turned: bool = False,
        bold: bool = False,
    ) -> None:
        """A line of text on its base line.

        Args:
            turned: reads from below upward.
        """
        part = self._add("text", "", x=x, y=y)
        part.set("font-size", f"{size:g}")
        part.set("text-anchor", anchor)
        if bold:
            part.set("font-weight", "bold")
        if turned:
            part.set("transform", f"rotate(-90 {_format(x)} {_format(y)})")
        part.text = sanitize(text)

    def write(self) -> str:
        indent(self._root, "")  # a line for each part: a file that can be compared
        return tostring(self._root, encoding="unicode") + "\n"

    def _add(self, tag: str, kind: str, **values: float | str) -> Element:
        said = {name: value if isinstance(value, str) else _format(value) for name, value in values.items()}
        return SubElement(self._root, tag, {**({"class": kind} if kind else {}), **said})


def count_letters(width: float, size: float = TEXT) -> int:
    """How many letters go into so many millimeters."""
    return int(width / (size * _LETTER))


def _format(value: float) -> str:
    return f"{round(value, _DECIMALS) + 0.0:.{_DECIMALS}f}".rstrip("0").rstrip(".")
