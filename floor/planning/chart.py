"""The time chart as text: a row for each place of a station or each carrier, a cell for each slice of open hours.

Work differs by shape, so it reads without color: attended work, set-up, unattended cycle, cure.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Literal

from floor.dataclass import dataclass
from floor.figures.calendar import WorkingTime
from floor.figures.schedule import Bottleneck, PhaseKind, PlannedRun, PlannedStretch
from floor.planning.plan import ShopPlan
from floor.planning.plan_text import list_attendance
from floor.planning.time_scale import DUE, NOW, TimeScale, draw_axis
from floor.wall import format_local, get_local_day

SIGNS: dict[PhaseKind, str] = {
    PhaseKind.SETUP: "▓",
    PhaseKind.ATTENDED: "█",
    PhaseKind.UNATTENDED: "▒",
    PhaseKind.CURE: "~",
    PhaseKind.WAIT: "-",
}
HELD, LATE, CLOSED, LIMITS = "·", "!", "│", "►"
WORDS: dict[str, str] = {
    LATE: "late",
    LIMITS: "bottleneck",
    "█": "attended",
    "▓": "set-up",
    "▒": "runs alone",
    "~": "cure",
    "-": "waits",
    HELD: "occupied",
    CLOSED: "closed",
    NOW: "now",
    DUE: "due",
}
"""What each sign means, the one that is least known without it first where room is short."""
_IDLE = {SIGNS[PhaseKind.WAIT], HELD}
_ALONE = {SIGNS[PhaseKind.UNATTENDED], SIGNS[PhaseKind.CURE]}

Side = Literal["stations", "carriers"]


@dataclass(frozen=True, slots=True)
class ChartSpan:
    """What a row shows of a run: at a station until that is free, on a carrier all of it, of the people a stretch."""

    start: datetime
    end: datetime
    run: PlannedRun


@dataclass(frozen=True, slots=True)
class ChartRow:
    """A row of the chart.

    Attributes:
        kind: "station", "carrier" or "hands", as for the use of resources.
        name: of the station or the kind of carrier.
        spans: of the whole plan, in order.
    """

    kind: str
    name: str
    label: str
    cells: str
    spans: tuple[ChartSpan, ...]

    def is_limit(self, bottleneck: Bottleneck | None) -> bool:
        """Whether the bottleneck is this row's: the shift hours are the people's."""
        if bottleneck is None:
            return False
        if self.kind == "hands":
            return bottleneck.kind in ("hands", "calendar")
        return (bottleneck.kind, bottleneck.name) == (self.kind, self.name)


@dataclass(frozen=True, slots=True)
class Chart:
    """A stretch of the plan; the last row is the people's."""

    days: str
    hours: str
    rows: tuple[ChartRow, ...]


class _Line:
    """A row being filled: seconds of each kind of work per cell."""

    def __init__(self, scale: TimeScale, width: int) -> None:
        self.scale, self.width = scale, width
        self.seconds: list[dict[str, float]] = [defaultdict(float) for _ in range(width)]
        self.over: dict[int, str] = {}

    def fill(self, begin: float, end: float, sign: str) -> range:
        """Add a stretch; the cells it touches."""
        edges, cells = self.scale.edges, self.scale.cover(begin, end)
        for n in cells:
            self.seconds[n][sign] += min(end, edges[n + 1]) - max(begin, edges[n])
        return cells

    def write(self, at: int, text: str) -> None:
        for n, letter in enumerate(text, at):
            if 0 <= n < self.width:
                self.over[n] = letter

    def write_end(self, stretch: range, run: range, sign: str, texts: Sequence[str]) -> None:
        """Write when a stretch ends in closed hours, where its place in the one cell cannot show it.

        The longest text that fits is written: in what waits after the stretch, after its run, or over the stretch.
        """
        for text in texts:
            over = range(stretch.stop - 1 - len(text), stretch.stop - 1)
            for cells, signs in (
                (range(stretch.stop, stretch.stop + len(text)), _IDLE),
                (range(run.stop, run.stop + len(text)), {HELD}),
                (over if over.start > stretch.start else range(-1, 0), {sign, HELD}),
            ):
                if self._is_free(cells, signs):
                    self.write(cells.start, text)
                    return

    def _is_free(self, cells: range, signs: set[str]) -> bool:
        return cells.start >= 0 and all(
            n < len(self.scale.closed)
            and not self.scale.closed[n]
            and n not in self.over
            and self.seconds[n].keys() <= signs
            for n in cells
        )

    def text(self) -> str:
        return "".join(self.over.get(n) or self._sign(n) for n in range(self.width))

    def _sign(self, n: int) -> str:
        """What takes most of a cell; work before what only stands there, and in closed hours before all that waits."""
        cell = self.seconds[n]
        if n < len(self.scale.closed) and self.scale.closed[n]:
            return max(cell, key=lambda sign: (sign not in _IDLE, cell[sign]), default=CLOSED)
        return max(cell, key=lambda sign: (sign != HELD, cell[sign]), default=" ")


def draw_chart(shop_plan: ShopPlan, scale: TimeScale, width: int, side: Side = "stations") -> Chart:
    """Draw the plan on the cells of a scale.

    Args:
        width: cells of each row; those beyond the scale are blank.
    """
    rows = _draw_stations if side == "stations" else _draw_carriers
    # If the last shift ends at midnight, the mark stays on that day.
    due = [one.due - timedelta(seconds=1) for one in shop_plan.problem.batches if one.due is not None]
    days, hours = draw_axis(scale, width, shop_plan.plan.start, due)
    return Chart(days, hours, (*rows(shop_plan, scale, width), _draw_people(shop_plan, scale, width)))


def list_legend(chart: Chart, limits: bool) -> list[str]:
    """What the signs on view mean.

    Args:
        limits: whether a row is marked as the bottleneck.
    """
    on_view = {sign for row in chart.rows for sign in row.cells} | set(chart.hours) | ({LIMITS} if limits else set())
    return [f"{sign} {words}" for sign, words in WORDS.items() if sign in on_view]


def find_span(row: ChartRow, at: datetime, run: str = "") -> ChartSpan | None:
    """The span at an instant, else the next one, else the last; None where the row has none.

    Args:
        run: of several that start at that instant, the one of this run.
    """
    named = (span for span in row.spans if span.start == at and span.run.run == run)
    return next(
        named,
        next((span for span in row.spans if span.end > at), row.spans[-1] if row.spans else None),
    )


def _tags(kinds: Iterable[str]) -> dict[str, str]:
    """The shortest unambiguous name for each kind of carrier."""
    kinds = list(kinds)
    found = {}
    for kind in kinds:
        size = next((n for n in range(1, 4) if not any(other != kind and other[:n] == kind[:n] for other in kinds)), 3)
        found[kind] = kind[:size]
    return found


def _draw_stations(shop_plan: ShopPlan, scale: TimeScale, width: int) -> Iterable[ChartRow]:
    tags = _tags(shop_plan.problem.carriers)
    for station in shop_plan.problem.stations:
        runs = [run for run in shop_plan.runs if run.station == station.name]
        for place in range(1, station.places + 1):
            here = [run for run in runs if place in run.places]
            if not here and (place > 1 or not runs):
                continue
            line = _Line(scale, width)
            for run in here:
                number = shop_plan.carrier(run).rpartition(" ")[2]
                _fill_run(shop_plan, line, run, run.held_until, f"{tags.get(run.carrier or '', '')}{number}")
            for run in here:
                _write_ends(line, run, run.held_until)
            label = f"{station.name} {place}" if station.places > 1 else station.name
            yield ChartRow("station", station.name, label, line.text(), _spans((run, run.held_until) for run in here))


def _draw_carriers(shop_plan: ShopPlan, scale: TimeScale, width: int) -> Iterable[ChartRow]:
    by_carrier: dict[tuple[str, int], list[PlannedRun]] = defaultdict(list)
    for run in shop_plan.runs:
        if run.carrier is not None and run.carrier_number is not None:
            number = shop_plan.asked.numbers[run.carrier][run.carrier_number - 1]
            by_carrier[run.carrier, number].append(run)
    holding = {load.id for load in shop_plan.problem.loads if load.holds_carrier}
    for kind in shop_plan.problem.carriers:
        for number in sorted(number for known, number in by_carrier if known == kind):
            line = _Line(scale, width)
            runs = by_carrier[kind, number]
            by_load: dict[str, list[PlannedRun]] = defaultdict(list)
            for run in runs:
                by_load[run.load].append(run)
            for load, mine in by_load.items():
                _fill_load(shop_plan, line, mine, shop_plan.plan.start if load in holding else mine[0].start)
            for run in runs:
                _write_ends(line, run, run.end)
            yield ChartRow("carrier", kind, f"{kind} {number}", line.text(), _spans((run, run.end) for run in runs))


def _spans(runs: Iterable[tuple[PlannedRun, datetime]]) -> tuple[ChartSpan, ...]:
    """Runs, each until the end that the row shows, in order of their starts."""
    found = (ChartSpan(run.start, end, run) for run, end in runs)
    return tuple(sorted(found, key=lambda span: (span.start.timestamp(), span.run.run)))


def _fill_load(shop_plan: ShopPlan, line: _Line, runs: Sequence[PlannedRun], since: datetime) -> None:
    """Fill in a load on its carrier, which it holds since then."""
    line.fill(since.timestamp(), max(run.end.timestamp() for run in runs), HELD)
    ripe = shop_plan.asked.ripens.get(runs[0].load)
    if ripe is not None:
        line.fill(since.timestamp(), ripe.timestamp(), SIGNS[PhaseKind.CURE])
    for run in runs:
        _fill_run(shop_plan, line, run, run.end, str(shop_plan.work(run).op))


def _fill_run(shop_plan: ShopPlan, line: _Line, run: PlannedRun, until: datetime, tag: str) -> None:
    """Fill in a run, at its station until that is free and on its carrier to its end; tagged, and marked if late."""
    first, last = line.width, 0
    for part in _list_parts(run, until):
        cells = line.fill(part.start.timestamp(), part.end.timestamp(), SIGNS[part.kind])
        if cells:
            first, last = min(first, cells.start), max(last, cells.stop)
    if last - first > len(tag):
        line.write(first, tag)
    if is_late(shop_plan, run):
        line.write(last - 1, LATE)  # nowhere, if the run is not on view


def _list_parts(run: PlannedRun, until: datetime) -> list[PlannedStretch]:
    return [part for part in run.stretches if part.start < until]


def _write_ends(line: _Line, run: PlannedRun, until: datetime) -> None:
    """Write when what runs alone ends, where that is while nobody is in."""
    scale = line.scale
    whole = scale.cover(run.start.timestamp(), min(run.end, until).timestamp())
    for part in _list_parts(run, until):
        cells = scale.cover(part.start.timestamp(), part.end.timestamp())
        if SIGNS[part.kind] not in _ALONE or not cells or not scale.closed[cells[-1]]:
            continue
        opens = scale.read_wall(cells.stop)
        if part.end < opens:
            at = format_local(part.end, "%H:%M" if get_local_day(part.end) == get_local_day(opens) else "%a %H:%M")
            line.write_end(cells, whole, SIGNS[part.kind], (f" ends {at}", f" {at}"))


def is_late(shop_plan: ShopPlan, run: PlannedRun) -> bool:
    """Whether a run ends after its batch is due, or must end while nobody is in."""
    due = shop_plan.due(run.batch)
    return (due is not None and run.end > due) or any(one.run == run.run for one in shop_plan.pressing)


def _draw_people(shop_plan: ShopPlan, scale: TimeScale, width: int) -> ChartRow:
    """The most people needed at once per cell; a dot where somebody is in but not needed."""
    needed: list[set[int]] = [set() for _ in range(width)]
    for part in (part for run in shop_plan.runs for part in run.attended):
        for n in scale.cover(part.start.timestamp(), max(part.end.timestamp(), part.start.timestamp() + 1)):
            needed[n] |= set(part.people)
    hours = WorkingTime(shop_plan.problem.calendar, int(scale.edges[0]), shop_plan.problem.hands)
    cells = [" "] * width
    for n, (begin, closed) in enumerate(zip(scale.edges, scale.closed, strict=False)):
        people = needed[n]
        worked = closed or hours.worked(int(begin), int(scale.edges[n + 1])) > 0
        cells[n] = f"{min(len(people), 9)}" if people else CLOSED if closed else HELD if worked else " "
    spans = tuple(ChartSpan(one.start, one.end, one.run) for one in list_attendance(shop_plan))
    return ChartRow("hands", "hands", "People", "".join(cells), spans)
