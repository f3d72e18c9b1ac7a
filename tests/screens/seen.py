"""What a person sees: the text of the whole screen, line by line, taken from a screenshot."""

from __future__ import annotations

import html
import re

from floor.app import FloorApp

_TEXT = re.compile(r'<text class="[^"]*-r\d+" x="([\d.]+)" y="([\d.]+)"[^>]*>(.*?)</text>')


def seen(app: FloorApp) -> str:
    return text_of(app.export_screenshot())


def text_of(picture: str) -> str:
    """The text of a screenshot, whether it was taken now or long ago."""
    lines: dict[float, list[tuple[float, str]]] = {}
    for x, y, text in _TEXT.findall(picture):
        lines.setdefault(float(y), []).append((float(x), html.unescape(text).replace("\xa0", " ")))
    return "\n".join("".join(text for _, text in sorted(parts)) for _, parts in sorted(lines.items()))
