"""Readings from a temperature logger's file: channels in °C, and what is wrong with the file, line by line.

Nothing is known beforehand: not the columns, separator, decimal mark or units. Anything uncertain is reported, and a
channel of unknown unit gives no readings. A file never raises: if it cannot be read, it has a finding that says so,
and no readings.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import field
from datetime import datetime, tzinfo
from enum import StrEnum
from itertools import islice
from math import isnan, nan
from typing import TypeVar

from floor.dataclass import dataclass
from floor.evidence.logger_cells import (
    NOTHING,
    SEPARATORS,
    Quantity,
    decode,
    find_quantity,
    find_stated_unit,
    is_unit_row,
    read_value,
    split_cells,
    split_lines,
)
from floor.evidence.logger_times import (
    ClockNews,
    DateOrder,
    Stamp,
    WallClock,
    find_date_order,
    read_split_stamp,
    read_stamp,
)
from floor.figures.soak import Reading

COLDEST, HOTTEST = -100.0, 1500.0
"""Range in °C of a thermocouple in a shop; anything outside is an open wire (common practice, no source)."""
MOST_BYTES = 16 * 2**20
"""Size of the largest file read: lines of 30 bytes, one a second, fill it in six days, and a bake takes hours."""
LONGEST_LINE = 10_000
"""Characters: a line of 500 sensors is shorter, a longer one is no line of readings (common practice, no source)."""
SAMPLE = 200
"""Lines sampled to find the layout."""
SAMPLE_SIZE = 100_000
"""Characters of these lines in all: nobody can stop the search, and a thousand cells a line took it seconds."""
LINES_NAMED = 20
"""Most lines a finding lists; it counts all."""
LONGEST_NAME = 40
"""Characters of a header that are kept as a channel's name."""


class LoggerFindingKind(StrEnum):
    """What is wrong with a file, or was assumed."""

    EMPTY = "empty"
    TOO_LARGE = "too large"
    NOT_TEXT = "not text"
    LINE_TOO_LONG = "line too long"
    NO_READINGS = "no readings"
    """No line has a date, a time and a number."""
    ENCODING_GUESSED = "encoding guessed"
    LINE_UNREAD = "line unread"
    """A line among the readings that is not one."""
    CELLS_OFF = "cells off"
    """More or fewer cells than columns, as from decimal commas between commas: skipped."""
    HEADER_AGAIN = "header again"
    """The logger was restarted, or files were joined."""
    NO_VALUE = "no value"
    """An empty cell."""
    NO_NUMBER = "no number"
    OUT_OF_RANGE = "out of range"
    """An impossible temperature or humidity: skipped."""
    COLUMN_PASSED_OVER = "column passed over"
    """By its header neither temperature nor humidity."""
    UNIT_UNKNOWN = "unit unknown"
    """The channel gives no readings until somebody states the unit."""
    UNIT_CONFLICT = "unit conflict"
    """A cell in a different unit than its column: skipped."""
    DATE_ORDER_ASSUMED = "date order assumed"
    """Nothing tells day from month; assumed month first."""
    OUT_OF_ORDER = "out of order"
    """Earlier than the line before."""
    HOUR_REPEATED = "hour repeated"
    """Clocks went back; what follows is in the second pass."""
    HOUR_AMBIGUOUS = "hour ambiguous"
    """In an hour that clocks show twice; nothing tells which pass."""
    HOUR_SKIPPED = "hour skipped"
    """In an hour that clocks skip."""


_NEWS = {
    ClockNews.BACK: LoggerFindingKind.OUT_OF_ORDER,
    ClockNews.HOUR_REPEATED: LoggerFindingKind.HOUR_REPEATED,
    ClockNews.HOUR_AMBIGUOUS: LoggerFindingKind.HOUR_AMBIGUOUS,
    ClockNews.HOUR_SKIPPED: LoggerFindingKind.HOUR_SKIPPED,
}


@dataclass(frozen=True, slots=True)
class LoggerFinding:
    """One kind of finding, with all its lines."""

    kind: LoggerFindingKind
    lines: tuple[int, ...]
    """The first lines, counted from 1; empty if it is about the whole file."""
    count: int
    channel: str
    """Empty if it is not about a channel."""
    text: str
    """The first text found there, shortened."""


@dataclass(frozen=True, slots=True)
class LoggerReading:
    """One value of a channel."""

    line: int
    """Line, from 1."""
    at: datetime
    """With the zone's offset at that time."""
    value: float
    """°C, or percent of relative humidity."""


@dataclass(frozen=True, slots=True)
class Channel:
    """A column of readings."""

    name: str
    """Its header, or "column 3"."""
    quantity: Quantity
    """The unit in the file; `LoggerReading.value` is in °C or percent."""
    readings: tuple[LoggerReading, ...]
    unread: tuple[LoggerReading, ...] = ()
    """NaN, where the sensor was read but its cell holds no valid value."""


@dataclass(frozen=True, slots=True)
class LoggerFile:
    """The content of a logger file."""

    channels: tuple[Channel, ...]
    findings: tuple[LoggerFinding, ...]

    @property
    def readable(self) -> bool:
        """Whether it has any readings."""
        return any(channel.readings for channel in self.channels)


@dataclass(slots=True)
class _Findings:
    """Findings so far: (kind, channel) → lines, count and first text."""

    found: dict[tuple[LoggerFindingKind, str], tuple[list[int], list[int], str]] = field(default_factory=dict)

    def add(self, kind: LoggerFindingKind, line: int = 0, text: str = "", channel: str = "") -> None:
        lines, count, _ = self.found.setdefault((kind, channel), ([], [0], text.strip()[:60]))
        count[0] += 1
        if line and len(lines) < LINES_NAMED:
            lines.append(line)

    def list_all(self) -> tuple[LoggerFinding, ...]:
        if any(kind is LoggerFindingKind.HOUR_REPEATED for kind, _ in self.found):
            self.found.pop((LoggerFindingKind.HOUR_AMBIGUOUS, ""), None)
        return tuple(
            LoggerFinding(kind, tuple(lines), count[0], channel, text)
            for (kind, channel), (lines, count, text) in self.found.items()
        )


STEP = 2000
"""Lines after which somebody hears how far the reading is."""
Passed = TypeVar("Passed")


class _Meter:
    """How far the reading is: the lines, then their times, then their channels, each a third."""

    def __init__(self, progress: Callable[[float], None] | None, lines: int) -> None:
        self.progress, self.lines, self.done = progress, max(lines, 1), 0.0

    def pass_through(self, items: Iterable[Passed], share: float = 1 / 3) -> Iterator[Passed]:
        """The items, one by one, as they are taken; together they are this share of the reading."""
        start = self.done
        for n, one in enumerate(items):
            if n % STEP == 0 and self.progress is not None:
                self.progress(min(start + share * n / self.lines, 1.0))
            yield one
        self.done = start + share


@dataclass(frozen=True, slots=True)
class _Layout:
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

    def list_values(self, cells: Sequence[str]) -> list[int]:
        """Indexes of the cells that hold a number."""
        times = (self.day, self.clock)
        return [i for i, cell in enumerate(cells) if i not in times and read_value(cell, self.mark) is not None]


@dataclass(frozen=True, slots=True)
class _Line:
    number: int
    stamp: Stamp
    cells: list[str]


def read_logger_file(
    data: bytes,
    zone: tzinfo,
    *,
    unit: Quantity | None = None,
    date_order: DateOrder | None = None,
    progress: Callable[[float], None] | None = None,
) -> LoggerFile:
    """Read a logger's file. Never raises, whatever the bytes.

    Args:
        data: The whole file.
        zone: Zone of the logger's clock, for times that name none.
        unit: Unit of temperatures if the file states none.
        date_order: Order of ambiguous dates; None to find out.
        progress: Called with the share read, 0 to 1; what it raises ends the reading.
    """
    findings = _Findings()
    lines = _decode(data, findings)
    layout = _find_layout(lines)
    if layout is None:
        if lines:
            findings.add(LoggerFindingKind.NO_READINGS, *_find_first(lines))
        return LoggerFile((), findings.list_all())
    first = _find_start(lines, layout)
    columns = _find_columns(lines, first, layout)
    meter = _Meter(progress, len(lines))
    data_lines = list(_read_lines(lines, first, columns, layout, findings, meter))
    moments = _read_moments(data_lines, zone, date_order, findings, meter)
    channels = _read_channels(data_lines, moments, columns.names, layout, columns.stated or unit, findings, meter)
    if not any(channel.readings for channel in channels):
        findings.add(LoggerFindingKind.NO_READINGS, first + 1, lines[first])
    return LoggerFile(tuple(channels), findings.list_all())


def to_soak_readings(channel: Channel) -> list[Reading]:
    """A channel's readings as input for time at temperature, in the order of the file, NaN where it shows nothing."""
    in_order = sorted((*channel.readings, *channel.unread), key=lambda one: one.line)
    return [Reading(one.at.timestamp(), one.value) for one in in_order]


def _decode(data: bytes, findings: _Findings) -> list[str]:
    """The lines; empty, with a finding, if the file cannot be read."""
    decoded = decode(data) if len(data) <= MOST_BYTES else None
    if decoded is None:
        large = len(data) > MOST_BYTES
        findings.add(LoggerFindingKind.TOO_LARGE if large else LoggerFindingKind.NOT_TEXT, 1)
        return []
    text, certain = decoded
    if not text.strip():
        findings.add(LoggerFindingKind.EMPTY)
        return []
    if not certain:
        findings.add(LoggerFindingKind.ENCODING_GUESSED)
    lines = split_lines(text)
    for number, line in enumerate(lines, 1):
        if len(line) > LONGEST_LINE:
            findings.add(LoggerFindingKind.LINE_TOO_LONG, number, line[:60])
            return []
    return lines


def _find_first(lines: Sequence[str]) -> tuple[int, str]:
    """The first non-blank line, and its number."""
    return next(((i, line) for i, line in enumerate(lines, 1) if line.strip()), (1, ""))


def _find_layout(lines: Sequence[str]) -> _Layout | None:
    """The separator, decimal mark and columns of times by which most lines of a sample are readings."""
    sample = list(_take_sample(lines))
    quoted = any('"' in line for line in sample)
    found = [
        (*_score(rows, layout), layout)
        for separator in SEPARATORS
        if (rows := [split_cells(line, separator) for line in sample])
        for layout in _list_layouts(rows, separator, quoted)
    ]
    best = max(found, key=lambda one: one[:2], default=None)
    return best[2] if best and best[0] else None


def _take_sample(lines: Sequence[str]) -> Iterator[str]:
    left = SAMPLE_SIZE
    for line in islice((line for line in lines if line.strip()), SAMPLE):
        left -= len(line)
        if left < 0:
            return
        yield line


def _list_layouts(rows: Sequence[list[str]], separator: str, quoted: bool) -> Iterator[_Layout]:
    """Candidates, with the time cells most lines have; between commas, a decimal comma only counts in quotes."""
    times = Counter(filter(None, map(_find_times, rows))).most_common(1)
    for mark in (".", ","):
        if times and (mark != separator or quoted):
            yield _Layout(separator, mark, *times[0][0])


def _score(rows: Sequence[list[str]], layout: _Layout) -> tuple[int, int]:
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


def _find_start(lines: Sequence[str], layout: _Layout) -> int:
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
class _Columns:
    """What the lines above the readings say."""

    names: list[str]
    count: int
    rows: list[list[str]]
    """The lines that name the columns, to recognize them later."""
    stated: Quantity | None
    """Unit of temperature stated on another line."""


_TIME_WORDS = ("time", "date", "zeit", "datum")


def _find_columns(lines: Sequence[str], first: int, layout: _Layout) -> _Columns:
    """The column names: the last line above the readings with as many cells, or with a word for time.

    A line of units below the names belongs with them.
    """
    above = [line for line in lines[:first] if line.strip()]
    rows = [split_cells(line, layout.separator) for line in above]
    cells = len(split_cells(lines[first], layout.separator))
    at = next((i for i in reversed(range(len(rows))) if len(rows[i]) == cells or _names_time(rows[i])), None)
    if at is None:
        return _Columns([], cells, [], find_stated_unit(above))
    names, start = rows[at], at
    if is_unit_row(names) and at and len(rows[at - 1]) == len(names):
        start = at - 1
        names = [f"{name} {unit}".strip() for name, unit in zip(rows[start], names, strict=True)]
    return _Columns(names, len(names), rows[start : at + 1], find_stated_unit(above[:start]))


def _names_time(cells: Sequence[str]) -> bool:
    return len(cells) > 1 and any(word in cell.lower() for cell in cells for word in _TIME_WORDS)


def _read_lines(
    lines: Sequence[str], first: int, columns: _Columns, layout: _Layout, findings: _Findings, meter: _Meter
) -> Iterator[_Line]:
    """The lines of readings from the first on; all others become findings."""
    for number, line in enumerate(meter.pass_through(lines[first:]), first + 1):
        if not line.strip():
            continue
        cells = split_cells(line, layout.separator)
        stamp = layout.read_stamp(cells)
        if stamp is None:
            again = cells in columns.rows
            findings.add(LoggerFindingKind.HEADER_AGAIN if again else LoggerFindingKind.LINE_UNREAD, number, line)
        elif not _fits(cells, columns.count):
            findings.add(LoggerFindingKind.CELLS_OFF, number, line)
        else:
            yield _Line(number, stamp, cells)


def _fits(cells: Sequence[str], columns: int) -> bool:
    """Whether a line has a cell for each column, give or take an empty one at the end."""
    return len(cells) == columns or (len(cells) == columns + 1 and not cells[-1])


def _read_moments(
    lines: Sequence[_Line], zone: tzinfo, date_order: DateOrder | None, findings: _Findings, meter: _Meter
) -> list[datetime | None]:
    """When each line was written; None if there is no such day."""
    order, proved = find_date_order(line.stamp for line in lines)
    if date_order is not None:
        order, proved = date_order, True
    if not proved:
        findings.add(LoggerFindingKind.DATE_ORDER_ASSUMED, lines[0].number)
    clock = WallClock(zone)
    moments: list[datetime | None] = []
    for line in meter.pass_through(lines):
        wall = line.stamp.find_wall(order)
        if wall is None:
            findings.add(LoggerFindingKind.LINE_UNREAD, line.number)
            moments.append(None)
            continue
        at, news = clock.read(wall, line.stamp.offset)
        if news is not None:
            findings.add(_NEWS[news], line.number)
        moments.append(at)
    return moments


def _read_channels(
    lines: Sequence[_Line],
    moments: Sequence[datetime | None],
    header: Sequence[str],
    layout: _Layout,
    stated: Quantity | None,
    findings: _Findings,
    meter: _Meter,
) -> list[Channel]:
    sample = [*lines[:SAMPLE], *lines[SAMPLE :: 1 + len(lines) // SAMPLE]]
    columns = {i for line in sample for i in layout.list_values(line.cells)}
    channels: list[Channel] = []
    names: Counter[str] = Counter()
    for i in sorted(columns):
        heading = (header[i] if i < len(header) else "") or f"column {i + 1}"
        name = heading[:LONGEST_NAME].strip()
        names[name] += 1
        name = name if names[name] == 1 else f"{name} ({names[name]})"
        quantity = _choose_quantity(lines, i, heading, layout, stated)
        if quantity is Quantity.OTHER:
            findings.add(LoggerFindingKind.COLUMN_PASSED_OVER, channel=name)
            continue
        if quantity is None:
            findings.add(LoggerFindingKind.UNIT_UNKNOWN, lines[0].number, lines[0].cells[i], name)
            continue
        passing = meter.pass_through(lines, 1 / 3 / len(columns))
        found = list(_read_column(passing, moments, i, name, quantity, layout, findings))
        readings, unread = (tuple(one for one in found if isnan(one.value) is empty) for empty in (False, True))
        channels.append(Channel(name, quantity, readings, unread))
    return channels


def _choose_quantity(
    lines: Sequence[_Line], i: int, heading: str, layout: _Layout, stated: Quantity | None
) -> Quantity | None:
    """By the header, else the unit most cells have, else what the file states."""
    named = find_quantity(heading)
    if named is not None:
        return named
    cells = (read_value(line.cells[i], layout.mark) for line in lines[:SAMPLE])
    units = Counter(value[1] for value in cells if value is not None and value[1] is not None)
    if units:
        return units.most_common(1)[0][0]
    return stated


def _read_column(
    lines: Iterable[_Line],
    moments: Sequence[datetime | None],
    i: int,
    name: str,
    quantity: Quantity,
    layout: _Layout,
    findings: _Findings,
) -> Iterator[LoggerReading]:
    """The readings of a column, NaN where a cell holds no valid value; none for a cell that says it was not read."""
    for line, at in zip(lines, moments, strict=True):
        cell = line.cells[i]
        if cell.lower() in NOTHING:
            findings.add(LoggerFindingKind.NO_VALUE, line.number, cell, name)
            continue
        found = _read_cell(cell, quantity, layout.mark)
        if isinstance(found, LoggerFindingKind):
            findings.add(found, line.number, cell, name)
        if at is not None:
            yield LoggerReading(line.number, at, nan if isinstance(found, LoggerFindingKind) else found)


def _read_cell(cell: str, quantity: Quantity, mark: str) -> float | LoggerFindingKind:
    """A value in °C or percent, or what is wrong with the cell."""
    value = read_value(cell, mark)
    if value is None:
        return LoggerFindingKind.NO_NUMBER
    number, unit = value
    if unit is not None and unit is not quantity:
        return LoggerFindingKind.UNIT_CONFLICT
    low, high = (COLDEST, HOTTEST) if quantity.is_temperature else (0.0, 100.0)
    converted = quantity.convert(number)
    return converted if low <= converted <= high else LoggerFindingKind.OUT_OF_RANGE
