"""Plain text of at most 80 columns: wrapping, tables and the head that every paper has."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from floor.batch.command import clean
from floor.batch.state import Batch
from floor.entry import Moment
from floor.wall import shown

WIDTH = 80
"""Columns of a paper."""


def cells(text: str) -> int:
    """Columns that a text takes in a fixed-width face: wide letters two, combining marks none."""
    return sum(
        0 if unicodedata.combining(letter) else 2 if unicodedata.east_asian_width(letter) in "WF" else 1
        for letter in text
    )


def cut(text: str, width: int) -> str:
    """The text in at most so many columns, with a mark where something was left off."""
    if cells(text) <= width:
        return text
    kept = ""
    for letter in text:
        if cells(kept + letter) > width - 1:
            break
        kept += letter
    return kept + "…"


def wrapped(text: str, first: str = "", then: str | None = None, width: int = WIDTH) -> list[str]:
    """The text in lines of at most ``width`` columns, broken at spaces, longer words anywhere.

    Args:
        first: what the first line begins with.
        then: what the others begin with; as many spaces as ``first`` has columns unless given.
    """
    lead = " " * cells(first) if then is None else then
    lines: list[str] = []
    line, empty = first, True
    for word in clean(text, len(text)).split(" "):
        while word:
            gap = "" if empty else " "
            if cells(line) + len(gap) + cells(word) <= width:
                line, empty = line + gap + word, False
                break
            if empty:
                head = _head(word, width - cells(line))
                line, word = line + head, word[len(head) :]
            lines.append(line.rstrip())
            line, empty = lead, True
    if not empty or not lines:
        lines.append(line.rstrip())
    return lines


def set_out(parts: Sequence[str], width: int, gap: str = "   ") -> list[str]:
    """Parts in lines of at most so many columns, broken between two of them; a longer one at its spaces."""
    lines: list[str] = []
    for part in parts:
        if lines and cells(lines[-1] + gap + part) <= width:
            lines[-1] += gap + part
        else:
            lines += wrapped(part, width=width)
    return lines


def _head(word: str, room: int) -> str:
    """As many letters as fit, one at least."""
    kept = word[0]
    for letter in word[1:]:
        if cells(kept + letter) > room:
            break
        kept += letter
    return kept


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table; a width of 0 takes the room that is left."""

    title: str
    width: int = 0
    right: bool = False


def table(columns: Sequence[Column], rows: Iterable[Sequence[object]], indent: str = "  ") -> list[str]:
    """Rows under their titles; what does not fit its column is cut."""
    taken = sum(column.width for column in columns) + 2 * (len(columns) - 1) + cells(indent)
    open_ = [column for column in columns if not column.width]
    widths = [column.width or max((WIDTH - taken) // len(open_), 4) for column in columns]
    lines = []
    for row in ([column.title for column in columns], *rows):
        parts = []
        for column, width, value in zip(columns, widths, row, strict=True):
            text = cut(clean(str(value)), width)
            pad = " " * (width - cells(text))
            parts.append(pad + text if column.right else text + pad)
        lines.append((indent + "  ".join(parts)).rstrip())
    return lines


@dataclass(slots=True)
class Paper:
    """A paper while it is written."""

    lines: list[str] = field(default_factory=list)

    def title(self, text: str) -> None:
        """A section's title, with a rule to the right edge."""
        self.lines += ["", f"{text} {'-' * (WIDTH - cells(text) - 1)}"]

    def say(self, text: str, first: str = "  ", then: str | None = None) -> None:
        self.lines += wrapped(text, first, then)

    def add(self, lines: Iterable[str]) -> None:
        self.lines += lines

    def text(self) -> str:
        return "\n".join(self.lines).rstrip() + "\n"


def head(kind: str, batch: Batch, now: Moment, head_hash: str) -> Paper:
    """The head of a paper: what it is, of which batch and part, when it was written, and what pins the record."""
    part = batch.checklist.part
    left, right = f"{kind}  {batch.id}", f"{shown(now.at, '%Y-%m-%d %H:%M')} {_zone(now.at)}"
    paper = Paper(["=" * WIDTH, left + " " * (WIDTH - cells(left) - cells(right)) + right])
    paper.say(f"{part.number} revision {part.revision} of {part.revised}: {part.name}", "")
    order = [f"order {batch.order}", f"started {batch.started}"]
    order += [f"due {batch.due}"] if batch.due else []
    order += [f"reference {batch.reference}"] if batch.reference else []
    paper.say(", ".join(order), "")
    paper.say(f"record up to entry {batch.seq}, whose hash is", "")
    paper.say(head_hash, "")
    if batch.damage:
        paper.say(f"THE RECORD IS DAMAGED, and this paper is not complete. {batch.damage}", "! ")
    paper.lines.append("=" * WIDTH)
    return paper


def _zone(at: datetime) -> str:
    return at.strftime("%z")[:3] + ":" + at.strftime("%z")[3:5]


def stamp(at: datetime, now: Moment) -> str:
    """A time on paper always has its date: paper is read on another day."""
    return shown(at, "%Y-%m-%d %H:%M", now.at)


def person(initials: str, names: Mapping[str, str]) -> str:
    """Initials, with the name where it is known."""
    return f"{initials} {names[initials]}" if initials in names else initials
