"""A table of numbers from a phone's or a logger's file, and one number made of its columns.

Nothing is known beforehand: not the columns, the separator or the decimal mark. A cell without a number is a gap and
is counted, never filled; a column that is not taken is named with the cell that was not read.

Thousands marks are read where the cell leaves no doubt: an apostrophe, a narrow or fixed space, or the mark that is
no decimal one, before each group of three digits. A blank is none, as it may part two numbers. One mark before three
digits is read by the marks of the column, else of the file, and else as a decimal one; unless it is a point, a column
that shows nothing else is named with what its cell was read as.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from typing import NamedTuple

from floor.dataclass import dataclass
from floor.evidence.logger_cells import SEPARATORS, decode, read_value, split_cells, split_lines
from floor.evidence.logger_file import LONGEST_LINE, STEP
from floor.evidence.logger_layout import fits, name_columns, take_sample
from floor.figures.quality.missing import LARGEST

MOST_BYTES = 8 * 2**20
"""Size of the largest file read: three axes, 100 a second, fill it in half an hour."""
_FULL = 0.5
"""Share of a column's cells that hold none, above which it is text."""


class UnreadableTable(Exception):
    """Why a file gives no numbers, and what would help."""

    def __init__(self, wrong: str, right: str) -> None:
        super().__init__(f"{wrong}; {right}")
        self.wrong, self.right = wrong, right


class LeftOut(NamedTuple):
    """A column that is not taken."""

    name: str
    cell: str
    """The first of it that is not read; empty where all are."""
    other: str = ""
    """One that is, where the column has two decimal marks."""


class ReadAs(NamedTuple):
    """A column whose marks may be thousands marks or decimal ones."""

    name: str
    cell: str
    value: float


@dataclass(frozen=True, slots=True)
class Table:
    """The columns that hold numbers."""

    columns: Mapping[str, tuple[float | None, ...]]
    """By their names in the file, or "column 2"; None for a gap."""
    rows: int
    passed_over: int
    """Lines that are no rows of it: without a number, or with more or fewer cells."""
    left_out: tuple[LeftOut, ...] = ()
    in_doubt: tuple[ReadAs, ...] = ()


def read_table(data: bytes, progress: Callable[[float], None] | None = None) -> Table:
    """Read the numbers of a file.

    Args:
        progress: called with the share read; what it raises ends the reading.

    Raises:
        UnreadableTable
    """
    lines = _decode(data)
    separator, mark, width = _find_layout(lines)
    rows: list[list[str]] = []
    above: list[list[str]] = []
    passed_over = 0
    for number, line in enumerate(lines):
        if progress is not None and number % STEP == 0:
            progress(number / len(lines))
        cells = split_cells(line, separator) if line.strip() else []
        if fits(cells, width) and any(_read_cell(cell, either) is not None for cell in cells for either in ".,"):
            rows.append(cells[:width])
        elif cells:
            if not rows and len(cells) >= width:
                above.append(cells)
            passed_over += bool(rows)
    names = name_columns(_join_heading(above), range(width))
    return _pick_columns(names, rows, mark, passed_over)


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
    lined, _, _, _, width, separator, mark = max(found, key=lambda one: one[:4])
    if not lined:
        raise UnreadableTable("it has no numbers", "export it as CSV, with a column of numbers")
    return separator, mark, width


def _score(rows: Sequence[Sequence[str]], mark: str) -> tuple[int, bool, int, int, int]:
    """Rows with a number that are as wide as most; whether the line above is so too; numbers in all, and of them
    those without a thousands mark; that width.
    """
    numbers = [sum(value is not None for value in _read_row(row, mark)) for row in rows]
    widths = Counter(len(row) for row, many in zip(rows, numbers, strict=True) if many)
    if not widths:
        return 0, False, 0, 0, 0
    width, lined = widths.most_common(1)[0]
    first = next(n for n, many in enumerate(numbers) if many)
    plain = sum(read_value(cell, mark) is not None for row in rows for cell in row)
    return lined, first == 0 or fits(rows[first - 1], width), sum(numbers), plain, width


def _read_row(cells: Sequence[str], mark: str) -> list[float | None]:
    return [_read_cell(cell, mark) for cell in cells]


_OTHER = {".": ",", ",": "."}
_GROUPS = {
    mark: re.compile(
        rf"[+-]?[1-9]\d{{0,2}}(?P<by>['\u2019\u00a0\u2009\u202f{other}])\d{{3}}(?:(?P=by)\d{{3}})*(?!\d)", re.ASCII
    )
    for mark, other in _OTHER.items()
}
"""Decimal mark → a whole number with thousands marks, of one kind."""


def _read_cell(cell: str, mark: str) -> float | None:
    found = read_value(cell, mark)
    if found is None and (groups := _GROUPS[mark].match(cell)):
        found = read_value(groups[0].replace(groups["by"], "") + cell[groups.end() :], mark)
    return found[0] if found is not None and abs(found[0]) <= LARGEST else None


_SCALED = "(?:[TGMkhdcmµμunp]?(?:m|g|s|A|V|W|N|Pa|Hz|J|K|l|L)|da[NJ]|min|h|rev|in)(?:\\^?-?[23²³])?"
_UNIT = re.compile(
    rf"[\[(]?(?:%|-|°[CF]?|1/(?:min|s)|rpm|in\.|inch|psi|lbf?|bar|deg|dB|{_SCALED}(?:[/·*]{_SCALED})*)[\])]?"
)
"""As found in a line below the names of columns; "1" and the like are numbers, and make a row."""


def _join_heading(above: Sequence[Sequence[str]]) -> list[str]:
    """The last of the lines above the rows; where that holds units only, the names above it with them."""
    if not above:
        return []
    names = list(above[-1])
    units = [cell for cell in names if cell]
    if len(above) == 1 or len(above[-2]) != len(names) or not units or not all(map(_UNIT.fullmatch, units)):
        return names
    return [f"{name} {unit}".strip() for name, unit in zip(above[-2], names, strict=True)]


def _pick_columns(names: Mapping[int, str], rows: Sequence[Sequence[str]], mark: str, passed_over: int) -> Table:
    """Those that hold numbers, each by its own decimal mark; the others by what was not read."""
    columns: dict[str, tuple[float | None, ...]] = {}
    left_out: list[LeftOut] = []
    in_doubt: list[ReadAs] = []
    for n, name in names.items():
        cells = [row[n] for row in rows]
        own, values, against = _read_column(cells, mark)
        read = {cell: value for cell, value in zip(cells, values, strict=True) if value is not None}
        if against or values.count(None) > _FULL * len(values):
            left_out += _tell_left_out(name, cells, read, against)
        else:
            columns[name] = tuple(values)
            in_doubt += [ReadAs(name, cell, read[cell]) for cell in _find_doubt(read, own)]
    if not columns:
        raise UnreadableTable("no column of it holds numbers in most rows", "export it again, numbers only")
    return Table(columns, len(rows), passed_over, tuple(left_out), tuple(in_doubt))


def _tell_left_out(name: str, cells: Sequence[str], read: Collection[str], against: str) -> list[LeftOut]:
    """Nothing of a column without anything in it."""
    if against:
        return [LeftOut(name, against, next(cell for cell in read if "." in cell or "," in cell))]
    unread = next((cell for cell in cells if cell and cell not in read), "")
    return [LeftOut(name, unread)] if any(cells) else []


def _read_column(cells: Sequence[str], mark: str) -> tuple[str, list[float | None], str]:
    """The decimal mark by which more is read, else the file's; the values; a cell that only the other mark reads."""
    values = _read_row(cells, mark)
    if None not in values:
        return mark, values, ""
    other = _read_row(cells, _OTHER[mark])
    if other.count(None) < values.count(None):
        mark, values, other = _OTHER[mark], other, values
    both = zip(cells, values, other, strict=True)
    return mark, values, next((cell for cell, one, two in both if one is None and two is not None), "")


def _find_doubt(read: Iterable[str], mark: str) -> list[str]:
    """The first cell of a column that has more than one reading, if no other cell tells which."""
    marked = [cell for cell in read if "." in cell or "," in cell]
    if any(_read_cell(cell, _OTHER[mark]) is None for cell in marked):
        return []
    return [cell for cell in marked if mark != "." or read_value(cell, mark) is None][:1]


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
