"""A table of numbers from a phone's or a logger's file, and one number made of its columns.

Nothing is known beforehand: not the columns, the separator or the decimal mark. A cell without a number is a gap and
is counted, never filled.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence

from floor.dataclass import dataclass
from floor.evidence.logger_cells import SEPARATORS, decode, read_value, split_cells, split_lines
from floor.evidence.logger_file import LONGEST_LINE, STEP
from floor.evidence.logger_layout import fits, name_columns, take_sample
from floor.figures.quality.missing import LARGEST

MOST_BYTES = 8 * 2**20
"""Size of the largest file read: three axes, 100 a second, fill it in half an hour."""
_FULL = 0.5
"""Share of a column's cells that hold a number, or it is text."""


class UnreadableTable(Exception):
    """Why a file gives no numbers, and what would help."""

    def __init__(self, wrong: str, right: str) -> None:
        super().__init__(f"{wrong}; {right}")
        self.wrong, self.right = wrong, right


@dataclass(frozen=True, slots=True)
class Table:
    """The columns that hold numbers."""

    columns: Mapping[str, tuple[float | None, ...]]
    """By their names in the file, or "column 2"; None for a gap."""
    rows: int
    passed_over: int
    """Lines that are no rows of it: without a number, or with more or fewer cells."""


def read_table(data: bytes, progress: Callable[[float], None] | None = None) -> Table:
    """Read the numbers of a file.

    Args:
        progress: called with the share read; what it raises ends the reading.

    Raises:
        UnreadableTable
    """
    lines = _decode(data)
    separator, mark, width = _find_layout(lines)
    rows: list[list[float | None]] = []
    heading: list[str] = []
    passed_over = 0
    for number, line in enumerate(lines):
        if progress is not None and number % STEP == 0:
            progress(number / len(lines))
        cells = split_cells(line, separator) if line.strip() else []
        values = _read_row(cells, mark)
        if any(value is not None for value in values) and fits(cells, width):
            rows.append(values[:width])
        elif cells:
            heading = heading if rows or len(cells) < width else cells
            passed_over += bool(rows)
    return Table(_list_columns(rows, heading, width), len(rows), passed_over)


def _decode(data: bytes) -> list[str]:
    if len(data) > MOST_BYTES:
        raise UnreadableTable(f"it is larger than {MOST_BYTES >> 20} MB", "export only the part that matters")
    decoded = decode(data)
    if decoded is None:
        raise UnreadableTable("it is not text", "export it as CSV")
    lines = split_lines(decoded[0])
    if not any(map(str.strip, lines)):
        raise UnreadableTable("it is empty", "export it again")
    if any(len(line) > LONGEST_LINE for line in lines):
        raise UnreadableTable(f"a line has more than {LONGEST_LINE:,} characters", "export it again as CSV")
    return lines


def _find_layout(lines: Sequence[str]) -> tuple[str, str, int]:
    """Separator and decimal mark by which most lines of a sample are rows of numbers under their heading, and how many
    columns they have.
    """
    sample = take_sample(lines)
    quoted = any('"' in line for line in sample)
    found = [
        (*_score([split_cells(line, separator) for line in sample], mark), separator, mark)
        for separator in SEPARATORS
        for mark in ".,"
        if mark != separator or quoted
    ]
    lined, _, _, width, separator, mark = max(found, key=lambda one: one[:3])
    if not lined:
        raise UnreadableTable("it has no numbers", "export it as CSV, with a column of numbers")
    return separator, mark, width


def _score(rows: Sequence[Sequence[str]], mark: str) -> tuple[int, bool, int, int]:
    """Rows with a number that are as wide as most; whether the line above is so too; numbers in all; that width."""
    numbers = [sum(value is not None for value in _read_row(row, mark)) for row in rows]
    widths = Counter(len(row) for row, many in zip(rows, numbers, strict=True) if many)
    if not widths:
        return 0, False, 0, 0
    width, lined = widths.most_common(1)[0]
    first = next(n for n, many in enumerate(numbers) if many)
    return lined, first == 0 or fits(rows[first - 1], width), sum(numbers), width


def _read_row(cells: Sequence[str], mark: str) -> list[float | None]:
    return [_read_cell(cell, mark) for cell in cells]


def _read_cell(cell: str, mark: str) -> float | None:
    found = read_value(cell, mark)
    return found[0] if found is not None and abs(found[0]) <= LARGEST else None


def _list_columns(
    rows: Sequence[Sequence[float | None]], heading: Sequence[str], width: int
) -> dict[str, tuple[float | None, ...]]:
    """Name → values of those that hold numbers."""
    columns = ((name, tuple(row[n] for row in rows)) for n, name in name_columns(heading, range(width)).items())
    return {
        name: values for name, values in columns if sum(value is not None for value in values) >= _FULL * len(values)
    }


def _mean(rows: Sequence[Sequence[float]]) -> float:
    return math.fsum(map(_measure_length, rows)) / len(rows)


def _root_mean_square(rows: Sequence[Sequence[float]]) -> float:
    return math.sqrt(math.fsum(value * value for row in rows for value in row) / len(rows))


def _find_vibration(rows: Sequence[Sequence[float]]) -> float:
    """What is steady in each column is taken off first, so that neither gravity nor a zero point counts."""
    steady = [math.fsum(column) / len(rows) for column in zip(*rows, strict=True)]
    return _root_mean_square([[value - at for value, at in zip(row, steady, strict=True)] for row in rows])


def _find_largest(rows: Sequence[Sequence[float]]) -> float:
    return max(map(_measure_length, rows))


def _measure_length(row: Sequence[float]) -> float:
    """A single value as it is; several together as one length."""
    return row[0] if len(row) == 1 else math.hypot(*row)


EACH = "each row"
REDUCTIONS: Mapping[str, Callable[[Sequence[Sequence[float]]], float]] = {
    "mean": _mean,
    "RMS": _root_mean_square,
    "vibration": _find_vibration,
    "largest": _find_largest,
}
"""How the rows become one number. RMS: root mean square; vibration: RMS about the mean, as of an accelerometer."""


@dataclass(frozen=True, slots=True)
class Reduced:
    """What was made of a table."""

    values: tuple[float, ...]
    """One, or one of each row for `EACH`."""
    rows: int
    left_out: int
    """Rows with a gap in one of the columns."""


def reduce_table(table: Table, columns: Sequence[str], how: str) -> Reduced:
    """One number of some columns, or each row's.

    Args:
        columns: several count together: a row is as long as its vector.
        how: one of `REDUCTIONS`, or `EACH`.

    Raises:
        UnreadableTable: no row has a number in all of the columns.
    """
    picked = zip(*(table.columns[name] for name in columns), strict=True)
    rows = [row for row in picked if None not in row]
    if not rows:
        raise UnreadableTable(f"no row has a number in {', '.join(columns)}", "choose another column")
    full: list[tuple[float, ...]] = rows
    values = tuple(map(_measure_length, full)) if how == EACH else (REDUCTIONS[how](full),)
    return Reduced(values, len(rows), table.rows - len(rows))
