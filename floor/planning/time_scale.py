"""The scale of the time chart: a cell for each slice of open hours, and one narrow cell for all closed hours between.

Time runs from cell to cell without a gap, so what runs through a closed night or weekend crosses its one cell.
Drawn to scale, a weekend took 57 of the 64 cells that 80 columns have.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from heapq import merge
from itertools import groupby
from math import ceil, floor
from statistics import median_low

from floor.dataclass import dataclass
from floor.figures.calendar import WorkingTime, to_epoch
from floor.planning.plan import ShopPlan
from floor.wall import convert_to_zone, get_local_day, get_zone, resolve_local

ZOOMS = (5, 10, 15, 30, 60, 120, 240, 480, 1440)
"""Minutes per open cell."""
DUE, NOW = "D", "▼"

SPARE = timedelta(days=7)
"""Drawn beyond the end of the plan."""
LEAST_SHIFTS = 3
LEAST_TIME = timedelta(days=2)
"""What the first zoom shows of a longer plan: so many shifts, or this where the shop never closes."""
_TICKS = (1, 2, 3, 4, 6, 12, 24)
_LEAST_TICK = 4
"""Cells between two hours on the axis."""
_DAY_FORMS = (("%a %d %b", 11), ("%a %d", 7), ("%d", 3))
"""How to name a day that has this many cells: its name stays over its own cells, never over another day's."""

Span = tuple[float, float]
"""Epoch seconds."""


@dataclass(frozen=True, slots=True)
class TimeScale:
    """Cells side by side.

    Attributes:
        edges: epoch seconds; cell n lasts from edges[n] to edges[n + 1].
        closed: for each cell, whether it stands for closed hours, however long.
        minutes: length of an open cell.
        zone: where the wall clock of the axis hangs.
    """

    edges: tuple[float, ...]
    closed: tuple[bool, ...]
    minutes: int
    zone: tzinfo

    def find_cell(self, at: float) -> int:
        """The cell of an instant; -1 before the first, the number of cells after the last."""
        return bisect_right(self.edges, at) - 1

    def cover(self, begin: float, end: float) -> range:
        """The cells that a stretch touches; none where it lies outside, or lasts no time."""
        return range(max(0, self.find_cell(begin)), min(len(self.closed), bisect_left(self.edges, end)))

    def cut(self, first: int, width: int) -> TimeScale:
        """So many cells of it, or as many as there are."""
        edges, closed = self.edges[first : first + width + 1], self.closed[first : first + width]
        return TimeScale(edges, closed, self.minutes, self.zone)

    def find_window(self, at: datetime | None, width: int) -> int:
        """The first of so many cells from an instant on, or from the first there is."""
        there = 0 if at is None else self.find_cell(at.timestamp())
        return max(0, min(there, len(self.closed) - width))

    def read_wall(self, cell: int) -> datetime:
        """The wall clock where a cell begins."""
        return convert_to_zone(datetime.fromtimestamp(self.edges[cell], UTC), self.zone)


def build_scale(start: datetime, minutes: int, open_spans: Iterable[Span], until: float) -> TimeScale:
    """The scale from the last full cell at or before an instant.

    Args:
        minutes: per open cell; see `ZOOMS`.
        open_spans: when somebody is in, in order.
        until: epoch seconds that it reaches at least.
    """
    grid, cell = find_cell_start(start, minutes).timestamp(), minutes * 60
    edges, closed, there = [grid], [], 0

    def close(to: int) -> None:
        nonlocal there
        if to > there:
            edges.append(grid + to * cell)
            closed.append(True)
            there = to

    for begin, end in open_spans:
        close(floor((begin - grid) / cell))
        for n in range(there, ceil((min(end, until) - grid) / cell)):
            edges.append(grid + (n + 1) * cell)
            closed.append(False)
            there = n + 1
        if end >= until:
            break
    close(ceil((until - grid) / cell))
    return TimeScale(tuple(edges), tuple(closed), minutes, get_zone(start))


def build_plan_scale(shop_plan: ShopPlan, minutes: int, width: int) -> TimeScale:
    """The scale of a whole plan, and as far beyond its end as fills so many cells by the clock, and a week."""
    start = shop_plan.plan.start
    until = max(shop_plan.plan.end, start + timedelta(minutes=minutes * width)) + SPARE
    return build_scale(start, minutes, list_open_spans(shop_plan, until), until.timestamp())


def list_open_spans(shop_plan: ShopPlan, until: datetime) -> Iterator[Span]:
    """When somebody is in, breaks included, or is needed outside of all shifts; in order, without overlaps."""
    attended = sorted((part.start.timestamp(), part.end.timestamp()) for run in shop_plan.runs for part in run.attended)
    last = None
    for begin, end in merge(_list_shift_spans(shop_plan, until), attended):
        if last is not None and begin <= last[1]:
            last = last[0], max(last[1], end)
        else:
            if last is not None:
                yield last
            last = begin, end
    if last is not None:
        yield last


def _list_shift_spans(shop_plan: ShopPlan, until: datetime) -> Iterator[Span]:
    hours = WorkingTime(
        shop_plan.problem.calendar, to_epoch(shop_plan.plan.start), shop_plan.problem.hands, breaks=False
    )
    while hours.known_until < until.timestamp() and hours.extend():
        pass
    ends = [*hours.times[1:], max(hours.known_until, hours.times[-1])]
    for begin, end, people in zip(hours.times, ends, hours.levels, strict=True):
        if people and end > begin:
            yield begin, end


def find_fitting_zoom(shop_plan: ShopPlan, width: int) -> int:
    """The finest zoom at which the whole plan, or its first shifts, fit so many cells."""
    start, end = shop_plan.plan.start, shop_plan.plan.end
    spans = [*list_open_spans(shop_plan, end + SPARE)]
    until = min([end.timestamp(), *(last for _, last in spans[LEAST_SHIFTS - 1 : LEAST_SHIFTS])])
    if spans and spans[0][1] - spans[0][0] > LEAST_TIME.total_seconds():
        until = min(until, (start + LEAST_TIME).timestamp())
    fits = (zoom for zoom in ZOOMS if len(build_scale(start, zoom, spans, until).closed) <= width)
    return next(fits, ZOOMS[-1])


def find_cell_start(at: datetime, minutes: int) -> datetime:
    """The last full cell at or before an instant."""
    midnight = datetime.combine(get_local_day(at), time())
    day = next(iter(resolve_local(midnight, get_zone(at))), at)
    past = int((at - day).total_seconds() // (minutes * 60))
    return day + timedelta(minutes=past * minutes)


def draw_axis(scale: TimeScale, width: int, now: datetime, due: Iterable[datetime] = ()) -> tuple[str, str]:
    """The days, and the hours below them with marks at now and where orders are due; each of this width."""
    days, hours = [" "] * width, [" "] * width
    at = {scale.find_cell(one.timestamp()): DUE for one in due} | {scale.find_cell(now.timestamp()): NOW}
    marks = {cell: mark for cell, mark in at.items() if 0 <= cell < len(scale.closed)}
    _write_all(days, _name_days(scale), {})
    _write_all(hours, _name_hours(scale), marks)
    for cell, mark in marks.items():
        hours[cell] = mark
    return "".join(days), "".join(hours)


def _write_all(cells: list[str], texts: Iterable[tuple[int, str]], taken: Mapping[int, str]) -> None:
    """Write texts at their cells, skipping any that would touch the one before, cover a mark or run over the edge."""
    free = 0
    for n, text in texts:
        if n >= free and n + len(text) <= len(cells) and not taken.keys() & range(n, n + len(text)):
            cells[n : n + len(text)] = text
            free = n + len(text) + 1


def _name_days(scale: TimeScale) -> Iterator[tuple[int, str]]:
    """The first open cell of each day with its name, if that fits above the day's own cells."""
    count = len(scale.closed)
    days = [(day, [*cells]) for day, cells in groupby(range(count), lambda n: scale.read_wall(n).date())]
    open_days = [(day, own) for day, cells in days if (own := _from_first_open(scale, cells))]
    if not open_days:
        return
    sizes = [len(own) for _, own in open_days]
    usual = median_low(sizes[1:-1]) if sizes[2:] else max(sizes)
    form = next((form for form, least in _DAY_FORMS if least <= usual), _DAY_FORMS[1][0])
    for day, own in open_days:
        text = f"{day:{form}}"
        if len(text) < len(own) or scale.minutes == ZOOMS[-1]:
            yield own[0], text


def _from_first_open(scale: TimeScale, cells: Sequence[int]) -> list[int]:
    """The cells from the first open one on."""
    first = next((n for n, cell in enumerate(cells) if not scale.closed[cell]), len(cells))
    return [*cells[first:]]


def _name_hours(scale: TimeScale) -> Iterator[tuple[int, str]]:
    """The first cell at or after each full hour of the ticks, which are counted from the hour of opening.

    None stands over closed hours, where it would take the room of the next opening.
    """
    step = next((tick for tick in _TICKS if tick * 60 >= _LEAST_TICK * scale.minutes), None)
    if step is None or not scale.closed:
        return
    opens = next((n for n in range(1, len(scale.closed)) if scale.closed[n - 1] and not scale.closed[n]), None)
    begin = scale.read_wall(opens) if opens is not None else None
    since = (begin.hour + (begin.minute > 0)) % step if begin is not None else 0
    day, last = scale.read_wall(0).date(), scale.read_wall(len(scale.closed)).date()
    while day <= last:
        yield from _name_hours_of(scale, day, range(since, 24, step))
        day += timedelta(days=1)


def _name_hours_of(scale: TimeScale, day: date, hours: Iterable[int]) -> Iterator[tuple[int, str]]:
    for hour in hours:
        for at in resolve_local(datetime.combine(day, time(hour)), scale.zone):
            cell = bisect_left(scale.edges, at.timestamp())
            late = cell < len(scale.closed) and scale.edges[cell] - at.timestamp() >= scale.minutes * 60
            if cell < len(scale.closed) and not late and not any(scale.closed[cell : cell + 2]):
                yield cell, f"{hour:02d}"
