"""Readings from a temperature logger's file: channels in °C, and what is wrong with the file, line by line.

Nothing is known beforehand: not the columns, separator, decimal mark or units. Anything uncertain is reported, and a
channel of unknown unit gives no readings. A file never raises: if it cannot be read, it has a finding that says so,
and no readings.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime, timedelta, tzinfo
from math import isnan, nan
from typing import TypeVar

from floor.dataclass import dataclass
from floor.evidence.logger_cells import (
    NOTHING,
    Quantity,
    decode,
    find_quantity,
    is_set_point,
    read_value,
    split_cells,
    split_lines,
)
from floor.evidence.logger_findings import Findings, LoggerFinding, LoggerFindingKind
from floor.evidence.logger_layout import (
    SAMPLE,
    Columns,
    Layout,
    find_columns,
    find_layout,
    find_start,
    fits,
    name_columns,
)
from floor.evidence.logger_times import ClockNews, DateOrder, Stamp, WallClock, find_date_order
from floor.figures.soak import Reading

COLDEST, HOTTEST = -100.0, 1500.0
"""Range in °C of a thermocouple in a shop; anything outside is an open wire (common practice, no source)."""
MOST_BYTES = 16 * 2**20
"""Size of the largest file read: lines of 30 bytes, one a second, fill it in six days, and a bake takes hours."""
LONGEST_LINE = 10_000
"""Characters: a line of 500 sensors is shorter, a longer one is no line of readings (common practice, no source)."""
_NEWS = {
    ClockNews.BACK: LoggerFindingKind.OUT_OF_ORDER,
    ClockNews.HOUR_REPEATED: LoggerFindingKind.HOUR_REPEATED,
    ClockNews.HOUR_AMBIGUOUS: LoggerFindingKind.HOUR_AMBIGUOUS,
    ClockNews.HOUR_SKIPPED: LoggerFindingKind.HOUR_SKIPPED,
}


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
    findings = Findings()
    lines = _decode(data, findings)
    layout = find_layout(lines)
    if layout is None:
        if lines:
            findings.add(LoggerFindingKind.NO_READINGS, *_find_first(lines))
        return LoggerFile((), findings.list_all())
    first = find_start(lines, layout)
    columns = find_columns(lines, first, layout)
    meter = _Meter(progress, len(lines))
    data_lines = list(_read_lines(lines, first, columns, layout, findings, meter))
    moments = _read_moments(data_lines, layout.find_offset(columns.names), zone, date_order, findings, meter)
    channels = _read_channels(data_lines, moments, columns.names, layout, columns.stated or unit, findings, meter)
    if not any(channel.readings for channel in channels):
        findings.add(LoggerFindingKind.NO_READINGS, first + 1, lines[first])
    return LoggerFile(tuple(channels), findings.list_all())


def to_soak_readings(channel: Channel) -> list[Reading]:
    """A channel's readings as input for time at temperature, in the order of the file, NaN where it shows nothing."""
    in_order = sorted((*channel.readings, *channel.unread), key=lambda one: one.line)
    return [Reading(one.at.timestamp(), one.value) for one in in_order]


def _decode(data: bytes, findings: Findings) -> list[str]:
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


def _read_lines(
    lines: Sequence[str], first: int, columns: Columns, layout: Layout, findings: Findings, meter: _Meter
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
        elif not fits(cells, columns.count):
            findings.add(LoggerFindingKind.CELLS_OFF, number, line)
        else:
            yield _Line(number, stamp, cells)


def _read_moments(
    lines: Sequence[_Line],
    offset: timedelta | None,
    zone: tzinfo,
    date_order: DateOrder | None,
    findings: Findings,
    meter: _Meter,
) -> list[datetime | None]:
    """When each line was written; None if there is no such day.

    Args:
        offset: of times that state none, by their heading.
    """
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
        at, news = clock.read(wall, offset if line.stamp.offset is None else line.stamp.offset)
        if news is not None:
            findings.add(_NEWS[news], line.number)
        moments.append(at)
    return moments


def _read_channels(
    lines: Sequence[_Line],
    moments: Sequence[datetime | None],
    header: Sequence[str],
    layout: Layout,
    stated: Quantity | None,
    findings: Findings,
    meter: _Meter,
) -> list[Channel]:
    sample = [*lines[:SAMPLE], *lines[SAMPLE :: 1 + len(lines) // SAMPLE]]
    shown = {i for line in sample for i in layout.list_values(line.cells)}
    columns = name_columns(header, sorted(shown | _find_named(header, layout)))
    channels: list[Channel] = []
    for i, name in columns.items():
        quantity = _choose_quantity(lines, i, header[i] if i < len(header) else "", layout, stated)
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


def _find_named(header: Sequence[str], layout: Layout) -> set[int]:
    """Columns that their headings call temperatures: one that shows none is a sensor too, of which nothing is known."""
    named = {i: find_quantity(heading) for i, heading in enumerate(header) if i not in (layout.day, layout.clock)}
    return {i for i, quantity in named.items() if quantity is not None and quantity.is_temperature}


def _choose_quantity(
    lines: Sequence[_Line], i: int, heading: str, layout: Layout, stated: Quantity | None
) -> Quantity | None:
    """By the header, else the unit most cells have, else what the file states."""
    named = Quantity.OTHER if is_set_point(heading) else find_quantity(heading)
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
    layout: Layout,
    findings: Findings,
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
