"""Plain text of at most 80 columns: wrapping, tables and the header of every paper."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field
from datetime import datetime

from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.text import WIDTH, count_cells, cut, sanitize, wrap_text
from floor.wall import format_local


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table; a width of 0 takes the remaining room."""

    title: str
    width: int = 0
    right: bool = False


def format_table(columns: Sequence[Column], rows: Iterable[Sequence[object]], indent: str = "  ") -> list[str]:
    """Rows under their titles; text too long for its column is cut."""
    taken = sum(column.width for column in columns) + 2 * (len(columns) - 1) + count_cells(indent)
    open_ = [column for column in columns if not column.width]
    widths = [column.width or max((WIDTH - taken) // len(open_), 4) for column in columns]
    lines = []
    for row in ([column.title for column in columns], *rows):
        parts = []
        for column, width, value in zip(columns, widths, row, strict=True):
            text = cut(sanitize(str(value)), width)
            pad = " " * (width - count_cells(text))
            parts.append(pad + text if column.right else text + pad)
        lines.append((indent + "  ".join(parts)).rstrip())
    return lines


@dataclass(slots=True)
class Paper:
    """A paper in the making."""

    lines: list[str] = field(default_factory=list)

    def title(self, text: str) -> None:
        """A section title, with a rule to the right edge."""
        self.lines += ["", f"{text} {'-' * (WIDTH - count_cells(text) - 1)}"]

    def say(self, text: str, first: str = "  ", then: str | None = None) -> None:
        self.lines += wrap_text(text, first, then)

    def add(self, lines: Iterable[str]) -> None:
        self.lines += lines

    def text(self) -> str:
        return "\n".join(self.lines).rstrip() + "\n"


def begin_paper(kind: str, batch: Batch, now: Moment, head_hash: str) -> Paper:
    """The header of a paper: what it is, batch and part, when written, and the hash that pins the record."""
    part = batch.checklist.part
    left, right = f"{kind}  {batch.id}", f"{format_local(now.at, '%Y-%m-%d %H:%M')} {_zone(now.at)}"
    paper = Paper(["=" * WIDTH, left + " " * (WIDTH - count_cells(left) - count_cells(right)) + right])
    paper.say(f"{part.number} revision {part.revision} of {part.revised}: {part.name}", "")
    order = [f"order {batch.order}", f"started {batch.started}"]
    order += [f"due {batch.due}"] if batch.due else []
    order += [f"reference {batch.reference}"] if batch.reference else []
    paper.say(", ".join(order), "")
    paper.say(f"record up to entry {batch.seq}, whose hash is", "")
    paper.say(head_hash, "")
    if batch.damage:
        paper.say(f"THE RECORD IS DAMAGED, and this paper is not complete. {batch.damage}", "! ")
    for said in batch.afterwards:
        paper.say(f"SINCE THEN: {said}. A lead decides on the parts.", "! ")
    paper.lines.append("=" * WIDTH)
    return paper


def _zone(at: datetime) -> str:
    return at.strftime("%z")[:3] + ":" + at.strftime("%z")[3:5]


def format_stamp(at: datetime, now: Moment) -> str:
    """A time with its date: paper gets read on another day."""
    return format_local(at, "%Y-%m-%d %H:%M", now.at)


def format_person(initials: str, names: Mapping[str, str]) -> str:
    """Initials, with the name if known."""
    return f"{initials} {names[initials]}" if initials in names else initials
