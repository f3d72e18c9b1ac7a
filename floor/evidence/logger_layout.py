"""How the lines of a logger's file are laid out: separator, decimal mark, cells of date and time, names of columns."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import timedelta
from itertools import islice

from floor.dataclass import dataclass
from floor.evidence.logger_cells import (
    SEPARATORS,
    Quantity,
    find_stated_unit,
    is_unit_row,
    read_value,
    split_cells,
)
from floor.evidence.logger_times import Stamp, find_heading_offset, read_split_stamp, read_stamp

SAMPLE = 200
"""Lines sampled to find the layout."""
SAMPLE_SIZE = 100_000
"""Characters of these lines in all: nobody can stop the search, and a thousand cells a line took it seconds."""
LONGEST_NAME = 40
"""Characters of a header that are kept as a column's name."""


@dataclass(frozen=True, slots=True)
class Layout:
    """The layout of a file's lines."""

    separator: str
    mark: str
    """The decimal mark."""
    day: int
    """Index of the cell with the date."""
    clock: int
    """Index of the cell with the time; the same if one cell has both."""

    def read_stamp(self, cells: Sequence[str]) -> Stamp | None:
        if max(self.day, self.clock) >= len(cells):
            return None
        if self.day == self.clock:
            return read_stamp(cells[self.day])
        return read_split_stamp(cells[self.day], cells[self.clock])

    def find_offset(self, names: Sequence[str]) -> timedelta | None:
        """The offset from UTC that the heading of the times states; None if none."""
        found = (find_heading_offset(names[i]) for i in (self.clock, self.day) if i < len(names))
        return next((offset for offset in found if offset is not None), None)

    def list_values(self, cells: Sequence[str]) -> list[int]:
        """Indexes of the cells that hold a number."""
        times = (self.day, self.clock)
        return [i for i, cell in enumerate(cells) if i not in times and read_value(cell, self.mark) is not None]


def find_layout(lines: Sequence[str]) -> Layout | None:
    """The separator, decimal mark and columns of times by which most lines of a sample are readings."""
    sample = take_sample(lines)
    quoted = any('"' in line for line in sample)
    found = [
        (*_score(rows, layout), layout)
        for separator in SEPARATORS
        if (rows := [split_cells(line, separator) for line in sample])
        for layout in _list_layouts(rows, separator, quoted)
    ]
    best = max(found, key=lambda one: one[:2], default=None)
    return best[2] if best and best[0] else None


def take_sample(lines: Sequence[str]) -> list[str]:
    """The first lines that are not blank."""
    sample, left = [], SAMPLE_SIZE
    for line in islice((line for line in lines if line.strip()), SAMPLE):
        left -= len(line)
        if left < 0:
            break
        sample.append(line)
    return sample


def fits(cells: Sequence[str], columns: int) -> bool:
    """Whether a line has a cell for each column, give or take an empty one at the end."""
    return len(cells) == columns or (len(cells) == columns + 1 and not cells[-1])


def name_columns(header: Sequence[str], columns: Iterable[int]) -> Mapping[int, str]:
    """Column → its name in the header, or "column 3"; of several with the same name, all but the first are numbered."""
    named: dict[int, str] = {}
    seen: Counter[str] = Counter()
    for i in columns:
        name = (header[i] if i < len(header) else "")[:LONGEST_NAME].strip() or f"column {i + 1}"
        seen[name] += 1
        named[i] = name if seen[name] == 1 else f"{name} ({seen[name]})"
    return named


def _list_layouts(rows: Sequence[list[str]], separator: str, quoted: bool) -> Iterator[Layout]:
    """Candidates, with the time cells most lines have; between commas, a decimal comma only counts in quotes."""
    times = Counter(filter(None, map(_find_times, rows))).most_common(1)
    for mark in (".", ","):
        if times and (mark != separator or quoted):
            yield Layout(separator, mark, *times[0][0])


def _score(rows: Sequence[list[str]], layout: Layout) -> tuple[int, int]:
    """Number of lines that are readings, and of numbers in them."""
    numbers = [len(layout.list_values(row)) for row in rows if layout.read_stamp(row) is not None]
    return sum(1 for number in numbers if number), sum(numbers)


def _find_times(cells: Sequence[str]) -> tuple[int, int] | None:
    """The cells with the date and the time of a line."""
    for i, cell in enumerate(cells):
        if read_stamp(cell) is not None:
            return i, i
    for i in range(len(cells) - 1):
        if read_split_stamp(cells[i], cells[i + 1]) is not None:
            return i, i + 1
        if read_split_stamp(cells[i + 1], cells[i]) is not None:
            return i + 1, i
    return None


def find_start(lines: Sequence[str], layout: Layout) -> int:
    """Index of the first reading, or of earlier lines like it with no numbers yet."""
    rows = (split_cells(line, layout.separator) for line in lines)
    timed = ((i, row) for i, row in enumerate(rows) if layout.read_stamp(row) is not None)
    first, start, cells = 0, -1, 0
    for i, row in timed:
        if i - 1 != start or len(row) != cells:
            first = i
        start, cells = i, len(row)
        if layout.list_values(row):
            break
    return first


@dataclass(frozen=True, slots=True)
class Columns:
    """What the lines above the readings say."""

    names: list[str]
    count: int
    rows: list[list[str]]
    """The lines that name the columns, to recognize them later."""
    stated: Quantity | None
    """Unit of temperature stated on another line."""


_TIME_WORDS = ("time", "date", "zeit", "datum")


def find_columns(lines: Sequence[str], first: int, layout: Layout) -> Columns:
    """The column names: the last line above the readings with as many cells, or with a word for time.

    A line of units below the names belongs with them.
    """
    above = [line for line in lines[:first] if line.strip()]
    rows = [split_cells(line, layout.separator) for line in above]
    cells = len(split_cells(lines[first], layout.separator))
    at = next((i for i in reversed(range(len(rows))) if len(rows[i]) == cells or _names_time(rows[i])), None)
    if at is None:
        return Columns([], cells, [], find_stated_unit(above))
    names, start = rows[at], at
    if is_unit_row(names) and at and len(rows[at - 1]) == len(names):
        start = at - 1
        names = [f"{name} {unit}".strip() for name, unit in zip(rows[start], names, strict=True)]
    return Columns(names, len(names), rows[start : at + 1], find_stated_unit(above[:start]))


def _names_time(cells: Sequence[str]) -> bool:
    return len(cells) > 1 and any(word in cell.lower() for cell in cells for word in _TIME_WORDS)
