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
from floor.planning.batch_forecast import ForecastInputs
from floor.planning.durations import TimeFactors
from floor.planning.loads import lay_out_batch
from floor.planning.planned_loads import AS_IT_IS, BatchChange, LaidOutBatch, PlanNames, PlannedWork
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
        paces: by batch and operation; default: the checklist's times.
        mixed: fill each carrier with whatever comes next; otherwise pieces of one load stay apart from another's.
        together: put as many loads into one cycle as it may take; otherwise each has its own.
        changes: what-ifs, by batch.
    """
    alive = [batch for batch in batches if _is_alive(batch)]
    names = collect_plan_names(alive)
    laid = LaidOutBatch()
    for batch in alive:
        change = (changes or {}).get(batch.id, AS_IT_IS)
        known = (paces or {}).get(batch.id, {})
        laid.add(lay_out_batch(batch, now, names, known, mixed=mixed, together=together, change=change))
    numbers = _number_carriers(alive, names, laid)
    counts = {kind: len(numbers[kind]) for kind in _count_carriers(alive, names)}
    problem = SchedulingProblem(
        now.at,
        crew.calendar,
        _model_stations(alive, names, now.at, crew.calendar),
        counts,
        crew.hands,
        tuple(figures.BatchModel(batch.id, _find_due_moment(batch, crew.calendar)) for batch in alive),
        tuple(laid.loads),
    )
    return PlanningRequest(
        problem,
        laid.works,
        laid.ripens,
        numbers,
        (*laid.obstacles, *_find_loads_without_carrier(alive, names, laid.loads, counts)),
        mixed,
        together,
        sum(batch.total("hold") for batch in alive),
        names,
        closing=tuple(laid.closing),
        filled=_describe_filled_orders(alive),
        undecided=_count_undecided(alive),
        due={batch.id: batch.due for batch in alive if batch.due},
    )


def _describe_filled_orders(batches: Iterable[Batch]) -> dict[str, str]:
    words = {batch.id: format_order_filled(batch, find_blind_subjects(batch)) for batch in batches}
    return {id: said for id, said in words.items() if said}


def _count_undecided(batches: Iterable[Batch]) -> dict[str, int]:
    counts = {batch.id: len(find_undecided_surplus(batch)) for batch in batches}
    return {id: count for id, count in counts.items() if count}


def _is_alive(batch: Batch) -> bool:
    return batch.closed is None and not batch.gone


def _number_carriers(batches: Sequence[Batch], names: PlanNames, laid: LaidOutBatch) -> dict[str, tuple[int, ...]]:
    """Kind of carrier → the numbers on those that the plan can use: under its loads, then free ones."""
    by_id = {batch.id: batch for batch in batches}
    numbers: dict[str, list[int]] = {kind: [] for kind in names.carrier.values()}
    for load in laid.loads:
        number = laid.works[load.runs[0].id].load
        if load.holds_carrier and load.carrier is not None and number is not None:
            numbers[load.carrier].append(by_id[load.batch].loads[number].carrier_number)
    for kind, count in _count_carriers(batches, names).items():
        standing = _find_idle_carriers(batches, names, kind, numbers[kind])
        # Among free carriers the planner takes the last, people the lowest number.
        free = [number for number in range(count, 0, -1) if number not in numbers[kind]]
        numbers[kind] += [number for number in free if number not in standing]
    return {kind: tuple(those) for kind, those in numbers.items()}


def _find_idle_carriers(batches: Sequence[Batch], names: PlanNames, kind: str, planned: Sequence[int]) -> set[int]:
    """Numbers of carriers under surplus loads, or loads entirely on hold."""
    return {
        load.carrier_number
        for batch in batches
        for load in batch.list_live_loads()
        if names.carrier[load.carrier] == kind
        and load.carrier_number not in planned
        and not (is_wanted_at(batch, load.at) and batch.find_next_pieces(load))
    }


def _find_loads_without_carrier(
    batches: Sequence[Batch], names: PlanNames, loads: Iterable[figures.LoadModel], counts: Mapping[str, int]
) -> list[Obstacle]:
    """Loads without a carrier until somebody decides on the pieces that occupy all of them."""
    found = []
    for load in loads:
        kind = load.carrier
        if kind is None or counts[kind]:
            continue
        those = [batch for batch in batches if _find_idle_carriers([batch], names, kind, ())]
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


def _count_carriers(batches: Sequence[Batch], names: PlanNames) -> dict[str, int]:
    """Carriers of each kind that the plan uses: the smallest number if checklists disagree."""
    counts: dict[str, int] = {}
    for batch in batches:
        for carrier in batch.checklist.carriers:
            kind = names.carrier[carrier.id]
            counts[kind] = min(counts.get(kind, carrier.count), carrier.count)
    return counts


def _model_stations(
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


def _find_due_moment(batch: Batch, calendar: Calendar) -> datetime | None:
    """A batch is due by the end of the last shift of its day."""
    return None if batch.due is None else find_due_moment(calendar, batch.due)


__all__ = ["ASSUMED", "PlanningRequest", "BatchChange", "Crew", "PlannedWork", "build_planning_request"]
