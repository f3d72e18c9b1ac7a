"""The time chart as text: a row for each place of a station and each carrier, a cell for each slice of time.

Work differs by shape, so it reads without color: attended work, set-up, unattended cycle, cure.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime, time, timedelta
from itertools import groupby

from floor.dataclass import dataclass
from floor.figures.calendar import Calendar, WorkingTime, to_epoch
from floor.figures.schedule import PhaseKind, PlannedRun
from floor.planning.plan import ShopPlan
from floor.wall import convert_to_zone, get_local_day, get_zone, resolve_local

SIGNS: dict[PhaseKind, str] = {
    PhaseKind.SETUP: "▓",
    PhaseKind.ATTENDED: "█",
    PhaseKind.UNATTENDED: "▒",
    PhaseKind.CURE: "~",
    PhaseKind.WAIT: "-",
}
HELD = "·"
LATE = "!"
NOW, DUE = "▼", "D"
NOW_LINE = "│"
LEGEND = "█ attended ▓ set-up ▒ unattended ~ cure - wait · occupied ▼ now ! late D due"

ZOOMS = (5, 10, 15, 30, 60, 120, 240, 480, 1440)
"""Minutes per cell."""

_TICKS = (1, 2, 3, 4, 6, 12, 24)
_DAY_FORMS = (("%a %d %b", 11), ("%a %d", 7), ("%d", 3))
"""How to name a day that has this many cells: its name stays over its own cells, never over another day's."""
_LEAST_TICK = 6
"""Cells between two hours on the axis."""


@dataclass(frozen=True, slots=True)
class ChartRow:
    """A row of the chart."""

    label: str
    cells: str


@dataclass(frozen=True, slots=True)
class Chart:
    """A stretch of the plan."""

    days: str
    hours: str
    rows: tuple[ChartRow, ...]


class _Line:
    """A row being filled: seconds of each kind of work per cell."""

    def __init__(self, start: datetime, minutes: int, width: int) -> None:
        self.start, self.cell, self.width = start.timestamp(), minutes * 60, width
        self.seconds: list[dict[str, float]] = [defaultdict(float) for _ in range(width)]
        self.over: dict[int, str] = {}

    def shows(self, begin: datetime, end: datetime) -> bool:
        """Whether a stretch overlaps the row."""
        return end.timestamp() >= self.start and begin.timestamp() <= self.start + self.cell * self.width

    def fill(self, begin: float, end: float, sign: str) -> tuple[int, int]:
        """Add a stretch; the cells it touches, first and last+1."""
        first = max(0, int((begin - self.start) // self.cell))
        last = min(self.width, -int((self.start - end) // self.cell))
        for n in range(first, last):
            left = self.start + n * self.cell
            self.seconds[n][sign] += max(0.0, min(end, left + self.cell) - max(begin, left))
        return first, last

    def write(self, at: int, text: str) -> None:
        for n, letter in enumerate(text, at):
            if 0 <= n < self.width:
                self.over[n] = letter

    def text(self) -> str:
        return "".join(
            self.over.get(n) or max(cell, key=lambda sign: (sign != HELD, cell[sign]), default=" ")
            for n, cell in enumerate(self.seconds)
        )


def draw_chart(shop_plan: ShopPlan, start: datetime, minutes: int, width: int) -> Chart:
    """Draw the plan from an instant on.

    Args:
        minutes: per cell; see `ZOOMS`.
        width: cells.
    """
    tags = _tags(shop_plan.problem.carriers)
    rows = [*_stations(shop_plan, start, minutes, width, tags), *_carriers(shop_plan, start, minutes, width)]
    rows.append(_hands(shop_plan, start, minutes, width))
    now = shop_plan.plan.start
    # If the last shift ends at midnight, the mark stays on that day.
    due = [one.due - timedelta(seconds=1) for one in shop_plan.problem.batches if one.due is not None]
    days, hours = draw_axis(start, now, minutes, width, due)
    return Chart(days, hours, tuple(_now_line(row, _cell_of(now, start, minutes)) for row in rows))


def _cell_of(at: datetime, start: datetime, minutes: int) -> int:
    return int((at - start).total_seconds() // (minutes * 60))


def _now_line(row: ChartRow, at: int) -> ChartRow:
    """The row with a line at now, where it is idle."""
    if 0 <= at < len(row.cells) and row.cells[at] == " ":
        return ChartRow(row.label, f"{row.cells[:at]}{NOW_LINE}{row.cells[at + 1 :]}")
    return row


def _tags(kinds: Iterable[str]) -> dict[str, str]:
    """The shortest unambiguous name for each kind of carrier."""
    kinds = list(kinds)
    found = {}
    for kind in kinds:
        size = next((n for n in range(1, 4) if not any(other != kind and other[:n] == kind[:n] for other in kinds)), 3)
        found[kind] = kind[:size]
    return found


def _stations(
    shop_plan: ShopPlan, start: datetime, minutes: int, width: int, tags: dict[str, str]
) -> Iterable[ChartRow]:
    for station in shop_plan.problem.stations:
        runs = [run for run in shop_plan.runs if run.station == station.name]
        for place in range(1, station.places + 1):
            here = [run for run in runs if place in run.places]
            if not here and (place > 1 or not runs):
                continue
            line = _Line(start, minutes, width)
            for run in here:
                first, last = _run(line, run, held=True)
                number = shop_plan.carrier(run).rpartition(" ")[2]
                _tag(line, first, last, f"{tags.get(run.carrier or '', '')}{number}")
                _mark_late(shop_plan, line, run, first, last)
            yield ChartRow(f"{station.name} {place}" if station.places > 1 else station.name, line.text())


def _carriers(shop_plan: ShopPlan, start: datetime, minutes: int, width: int) -> Iterable[ChartRow]:
    by_carrier: dict[tuple[str, int], list[PlannedRun]] = defaultdict(list)
    for run in shop_plan.runs:
        if run.carrier is not None and run.carrier_number is not None:
            number = shop_plan.asked.numbers[run.carrier][run.carrier_number - 1]
            by_carrier[run.carrier, number].append(run)
    holding = {load.id for load in shop_plan.problem.loads if load.holds_carrier}
    for kind in shop_plan.problem.carriers:
        for number in sorted(number for known, number in by_carrier if known == kind):
            line = _Line(start, minutes, width)
            by_load: dict[str, list[PlannedRun]] = defaultdict(list)
            for run in by_carrier[kind, number]:
                by_load[run.load].append(run)
            for load, mine in by_load.items():
                _fill_load(shop_plan, line, mine, shop_plan.plan.start if load in holding else mine[0].start)
            yield ChartRow(f"{kind} {number}", line.text())


def _fill_load(shop_plan: ShopPlan, line: _Line, runs: Sequence[PlannedRun], since: datetime) -> None:
    """Fill in a load on its carrier, which it holds since then."""
    line.fill(since.timestamp(), max(run.end.timestamp() for run in runs), HELD)
    ripe = shop_plan.asked.ripens.get(runs[0].load)
    if ripe is not None:
        line.fill(since.timestamp(), ripe.timestamp(), SIGNS[PhaseKind.CURE])
    for run in runs:
        first, last = _run(line, run, held=False)
        _tag(line, first, last, str(shop_plan.work(run).op))
        _mark_late(shop_plan, line, run, first, last)


def _run(line: _Line, run: PlannedRun, held: bool) -> tuple[int, int]:
    """Fill in a run, at its station until that is free and on its carrier to its end; return the cells it touches."""
    first, last = line.width, 0
    if not line.shows(run.start, run.held_until if held else run.end):
        return first, last
    for part in run.stretches:
        if held and part.start >= run.held_until:
            continue
        begin, end = line.fill(part.start.timestamp(), part.end.timestamp(), SIGNS[part.kind])
        first, last = min(first, begin), max(last, end)
    return first, last


def _tag(line: _Line, first: int, last: int, tag: str) -> None:
    if last - first > len(tag):
        line.write(first, tag)


def _mark_late(shop_plan: ShopPlan, line: _Line, run: PlannedRun, first: int, last: int) -> None:
    due = shop_plan.due(run.batch)
    if due is not None and run.end > due and last > first:
        line.write(last - 1, LATE)


def _hands(shop_plan: ShopPlan, start: datetime, minutes: int, width: int) -> ChartRow:
    """The most people needed at once per cell; a dot where somebody is in but not needed."""
    needed: list[set[int]] = [set() for _ in range(width)]
    over = start + timedelta(minutes=minutes * width)
    for part in (part for run in shop_plan.runs if run.start <= over for part in run.attended):
        first = int((part.start - start).total_seconds() // (minutes * 60))
        last = -int((start - part.end).total_seconds() // (minutes * 60))
        for n in range(max(0, first), min(width, last)):
            needed[n] |= set(part.people)
    open_ = _open(shop_plan.problem.calendar, start, minutes, width, shop_plan.problem.hands)
    idle = (HELD if there else " " for there in open_)
    cells = (f"{min(len(people), 9)}" if people else empty for people, empty in zip(needed, idle, strict=True))
    return ChartRow("People", "".join(cells))


def _open(calendar: Calendar, start: datetime, minutes: int, width: int, hands: int) -> list[bool]:
    """Whether somebody is in, cell by cell."""
    first = to_epoch(start)
    hours = WorkingTime(calendar, first, hands)
    cell = minutes * 60
    return [hours.worked(first + n * cell, first + (n + 1) * cell) > 0 for n in range(width)]


def draw_axis(
    start: datetime, now: datetime, minutes: int, width: int, due: Iterable[datetime] = ()
) -> tuple[str, str]:
    """The days, and the hours below them with marks at now and where orders are due."""
    days, hours = [" "] * width, [" "] * width
    _write_all(days, _days_shown(start, minutes, width))
    _write_all(hours, _hours_shown(start, minutes, width))
    for at, mark in (*((one, DUE) for one in due), (now, NOW)):
        where = _cell_of(at, start, minutes)
        if 0 <= where < width:
            hours[where] = mark
    return "".join(days), "".join(hours)


def _write_all(cells: list[str], texts: Iterable[tuple[int, str]]) -> None:
    """Write texts at their cells, skipping any that would touch the one before or run over the edge."""
    free = 0
    for n, text in texts:
        if n >= free and n + len(text) <= len(cells):
            cells[n : n + len(text)] = text
            free = n + len(text) + 1


def _days_shown(start: datetime, minutes: int, width: int) -> Iterable[tuple[int, str]]:
    """The first cell of each day with its name, if that fits above the day's own cells."""
    form = next((form for form, least in _DAY_FORMS if least <= 1440 // minutes), _DAY_FORMS[1][0])
    walls = [convert_to_zone(start + timedelta(minutes=n * minutes), get_zone(start)) for n in range(width)]
    for day, cells in groupby(range(width), lambda n: walls[n].date()):
        n, *others = cells
        text = f"{day:{form}}"
        if len(text) <= len(others) or minutes == 1440:
            yield n, text


def _hours_shown(start: datetime, minutes: int, width: int) -> Iterable[tuple[int, str]]:
    """The first cell at or after each full hour of the scale."""
    step = next((tick for tick in _TICKS if tick * 60 >= _LEAST_TICK * minutes), None)
    if step is None:
        return
    for n in range(width * minutes // 1440 + 2):
        day = datetime.combine(get_local_day(start) + timedelta(days=n), time())
        for hour in range(0, 24, step):
            for at in resolve_local(day + timedelta(hours=hour), get_zone(start)):
                cell = -int((start - at).total_seconds() // (minutes * 60))
                if 0 <= cell < width:
                    yield cell, f"{hour:02d}"


def find_cell_start(at: datetime, minutes: int) -> datetime:
    """The last full cell at or before an instant."""
    midnight = datetime.combine(get_local_day(at), time())
    day = next(iter(resolve_local(midnight, get_zone(at))), at)
    past = int((at - day).total_seconds() // (minutes * 60))
    return day + timedelta(minutes=past * minutes)


def find_fitting_zoom(shop_plan: ShopPlan, width: int) -> int:
    """The finest zoom at which the whole plan, or two days of it, fits the width."""
    length = (shop_plan.plan.end - shop_plan.plan.start).total_seconds() / 60
    length = min(length, 2 * 1440)
    return next((minutes for minutes in ZOOMS if minutes * (width - 2) >= length), ZOOMS[-1])
