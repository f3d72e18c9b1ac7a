"""All open batches now as one planning problem: they compete for stations, carriers and operators."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field
from datetime import date, datetime, time, timedelta

from floor.batch.counting.blind_count import find_blind_subjects
from floor.batch.counting.surplus import find_undecided_surplus, format_order_filled, is_wanted_at
from floor.batch.state import Batch
from floor.checklist.model import Checklist
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.figures import schedule as figures
from floor.figures.calendar import Calendar, NoWorkingTime, to_epoch, to_local
from floor.figures.schedule import Obstacle, SchedulingProblem, StationModel
from floor.figures.workdays import find_due_moment
from floor.planning.durations import TimeFactors
from floor.planning.forecast import ForecastInputs
from floor.planning.load_parts import BatchChange, PlanNames, PlannedWork
from floor.planning.loads import lay_out_batch
from floor.planning.run_deadlines import RunDeadline

ASSUMED = (
    "Every piece in process is taken to come out good; what scrap and rework to come may cost is in the band of "
    "the finish and in the forecast."
)


@dataclass(frozen=True, slots=True)
class Crew:
    """Who is in the shop, and when."""

    calendar: Calendar
    hands: int = 1


@dataclass(frozen=True, slots=True)
class YieldRisk:
    """What is known of a batch's yields, for its band; a copy that does not change with the batch."""

    checklist: Checklist
    paces: Mapping[int, TimeFactors]
    facts: ForecastInputs
    wanted: int
    """Good pieces still to come, without undecided holds."""
    sent: Mapping[int, int]
    """Piece in rework → the operation that sent it there."""
    passed: frozenset[tuple[int, int]]
    """(operation, piece) counted but not released."""
    aboard: Mapping[int, tuple[int, ...]]
    """Load number → its pieces that are still good."""


@dataclass(frozen=True, slots=True)
class PlanningRequest:
    """The planner's problem, with the meaning of its names in the record."""

    problem: SchedulingProblem
    works: Mapping[str, PlannedWork]
    """Run → what it is."""
    ripens: Mapping[str, datetime]
    """Load on its carrier → end of the cure running now."""
    numbers: Mapping[str, tuple[int, ...]]
    """Kind of carrier → carrier numbers in the planner's order, those with a load first."""
    obstacles: tuple[Obstacle, ...] = ()
    mixed: bool = True
    together: bool = True
    """Whether loads share cycles that may take several."""
    held: int = 0
    """Undecided pieces on hold; they are not in the plan."""
    names: PlanNames | None = None
    """The planner's names for things."""
    doubts: Mapping[str, YieldRisk] = field(default_factory=dict)
    """Per batch: what its yields may add to the plan."""
    closing: tuple[RunDeadline, ...] = ()
    """What must be done about runs under way, and by when."""
    filled: Mapping[str, str] = field(default_factory=dict)
    """Per batch with a filled order: the sentence on it and on the pieces in work."""
    due: Mapping[str, date] = field(default_factory=dict)
    """Per batch that has one: its due day."""
    undecided: Mapping[str, int] = field(default_factory=dict)
    """Per batch: undecided surplus pieces in work."""


def build_planning_request(
    batches: Iterable[Batch],
    now: Moment,
    crew: Crew,
    *,
    paces: Mapping[str, Mapping[int, TimeFactors]] | None = None,
    mixed: bool = True,
    together: bool = True,
    changes: Mapping[str, BatchChange] | None = None,
) -> PlanningRequest:
    """The planning problem of these batches now, without closed and transferred ones.

    Args:
        paces: by batch and operation;
        default: the checklist's times.
        mixed: fill each carrier with whatever comes next; otherwise pieces of one load stay apart from another's.
        together: put as many loads into one cycle as it may take; otherwise each has its own.
        changes: what-ifs, by batch.
    """
    alive = [batch for batch in batches if batch.closed is None and not batch.gone]
    names = collect_plan_names(alive)
    loads: list[figures.LoadModel] = []
    works: dict[str, PlannedWork] = {}
    ripens: dict[str, datetime] = {}
    obstacles: list[Obstacle] = []
    closing: list[RunDeadline] = []
    numbers: dict[str, list[int]] = {kind: [] for kind in names.carrier.values()}
    for batch in alive:
        change = (changes or {}).get(batch.id, BatchChange())
        known = (paces or {}).get(batch.id, {})
        laid = lay_out_batch(batch, now, names, known, mixed=mixed, together=together, change=change)
        loads += laid.loads
        works |= laid.works
        ripens |= laid.ripens
        obstacles += laid.obstacles
        closing += laid.closing
        for load in laid.loads:
            number = works[load.runs[0].id].load
            if load.holds_carrier and load.carrier is not None and number is not None:
                numbers[load.carrier].append(batch.loads[number].carrier_number)
    counts = _counts(alive, names)
    for kind, count in counts.items():
        standing = _standing_idle(alive, names, kind, numbers[kind])
        # Among free carriers the planner takes the last, people the lowest number.
        free = [number for number in range(count, 0, -1) if number not in numbers[kind]]
        numbers[kind] += [number for number in free if number not in standing]
        counts[kind] = len(numbers[kind])
    obstacles += _without_carrier(alive, names, loads, counts)
    problem = SchedulingProblem(
        now.at,
        crew.calendar,
        _stations(alive, names, now.at, crew.calendar),
        counts,
        crew.hands,
        tuple(figures.BatchModel(batch.id, _due(batch, crew.calendar)) for batch in alive),
        tuple(loads),
    )
    fixed = {kind: tuple(those) for kind, those in numbers.items()}
    held = sum(batch.total("hold") for batch in alive)
    filled = {batch.id: said for batch in alive if (said := format_order_filled(batch, find_blind_subjects(batch)))}
    waits = {batch.id: count for batch in alive if (count := len(find_undecided_surplus(batch)))}
    return PlanningRequest(
        problem,
        works,
        ripens,
        fixed,
        tuple(obstacles),
        mixed,
        together,
        held,
        names,
        closing=tuple(closing),
        filled=filled,
        undecided=waits,
        due={batch.id: batch.due for batch in alive if batch.due},
    )


def _standing_idle(batches: Sequence[Batch], names: PlanNames, kind: str, planned: Sequence[int]) -> set[int]:
    """Numbers of carriers under surplus loads, or loads entirely on hold."""
    return {
        load.carrier_number
        for batch in batches
        for load in batch.list_live_loads()
        if names.carrier[load.carrier] == kind
        and load.carrier_number not in planned
        and not (is_wanted_at(batch, load.at) and batch.find_next_pieces(load))
    }


def _without_carrier(
    batches: Sequence[Batch], names: PlanNames, loads: Iterable[figures.LoadModel], counts: Mapping[str, int]
) -> list[Obstacle]:
    """Loads without a carrier until somebody decides on the pieces that occupy all of them."""
    found = []
    for load in loads:
        kind = load.carrier
        if kind is None or counts[kind]:
            continue
        those = [batch for batch in batches if _standing_idle([batch], names, kind, ())]
        surplus = [batch.id for batch in those if find_undecided_surplus(batch)]
        on_hold = [batch.id for batch in those if batch.total("hold")]
        what = [text for text, ids in (("that a filled order does not need", surplus), ("on hold", on_hold)) if ids]
        keys = [f"{key} on batch {' and '.join(ids)}" for key, ids in (("u", surplus), ("d", on_hold)) if ids]
        run = load.runs[0]
        found.append(
            Obstacle(
                f"operation {run.operation}",
                f"every {kind} is under pieces {' or '.join(what)}",
                f"Decide on them: {', '.join(keys)}",
                run.id,
                load.id,
            )
        )
    return found


def collect_plan_names(batches: Sequence[Batch]) -> PlanNames:
    """Names from the checklists, with the id if two things share a name."""
    stations = [(one.id, one.name) for batch in batches for one in batch.checklist.stations]
    carriers = [(one.id, one.name) for batch in batches for one in batch.checklist.carriers]
    return PlanNames(_unique(stations), _unique(carriers), len(batches) > 1)


def _unique(pairs: Iterable[tuple[str, str]]) -> dict[str, str]:
    found: dict[str, str] = {}
    for id, name in pairs:
        if id not in found:
            found[id] = f"{name} ({id})" if name in found.values() else name
    return found


def _counts(batches: Sequence[Batch], names: PlanNames) -> dict[str, int]:
    """Carriers of each kind that the plan uses: the smallest number if checklists disagree."""
    counts: dict[str, int] = {}
    for batch in batches:
        for carrier in batch.checklist.carriers:
            kind = names.carrier[carrier.id]
            counts[kind] = min(counts.get(kind, carrier.count), carrier.count)
    return counts


def _stations(
    batches: Sequence[Batch], names: PlanNames, now: datetime, calendar: Calendar
) -> tuple[StationModel, ...]:
    down: dict[str, datetime | None] = {}
    places: dict[str, int] = {}
    ready: dict[str, str] = {}
    for batch in batches:
        for station in batch.checklist.stations:
            places[station.id] = max(places.get(station.id, 0), station.runs_at_once)
            outage = batch.outages.get(station.id)
            if outage is not None:  # unknown or past: not before the next day's work
                known = outage.back is not None and outage.back > now
                down[station.id] = outage.back if known else find_next_day_start(now, calendar)
            setup = batch.find_setup(station.id)
            if setup is not None:
                ready[station.id] = f"{batch.id} {setup.op}"
    return tuple(StationModel(names.station[id], count, ready.get(id), down.get(id)) for id, count in places.items())


def find_next_day_start(now: datetime, calendar: Calendar) -> datetime | None:
    """Start of the next day's work; None if there is no further shift."""
    day = to_local(to_epoch(now), calendar.tz).date() + timedelta(days=1)
    try:
        return calendar.span(datetime.combine(day, time(0), calendar.tz), 1)[0]
    except NoWorkingTime:
        return None


def _due(batch: Batch, calendar: Calendar) -> datetime | None:
    """A batch is due by the end of the last shift of its day."""
    return None if batch.due is None else find_due_moment(calendar, batch.due)


__all__ = ["ASSUMED", "PlanningRequest", "BatchChange", "Crew", "PlannedWork", "build_planning_request"]
