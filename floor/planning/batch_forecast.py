"""Will the order be filled? Yields learned from the counts so far, the pieces in hand, and how many more to start."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace

from floor.batch.counting.holds import find_decision
from floor.batch.load import LOST, Load
from floor.batch.state import Batch
from floor.batch.stations.standing_setup import describe_first_setup
from floor.batch.trials.pieces import count_pieces_to_use
from floor.checklist.equipment import MOST_PIECES
from floor.checklist.expected_yields import compute_yield_weights, list_operation_yields
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.figures.forecast import Forecast, WorkInProcess, forecast_good_count
from floor.figures.route_yields import OperationYield
from floor.figures.top_up import TopUp, compute_top_up
from floor.figures.yields import OperationBelief, YieldCounts, update_beliefs
from floor.planning.durations import AS_PLANNED, TimeFactors, compute_run_duration, compute_setup_minutes
from floor.text import format_chance


@dataclass(frozen=True, slots=True)
class Outlook:
    """The forecast of a batch, and what would fix a shortage."""

    forecast: Forecast
    top_up: TopUp | None
    """Pieces to start now to reach the chosen chance; None if it is reached, or nothing helps."""
    stands: bool
    """Whether the first operation is set up now."""
    beliefs: tuple[OperationBelief, ...]
    filled: bool = False
    """Whether the order is filled, so that no chance is left to state."""


@dataclass(frozen=True, slots=True)
class ForecastInputs:
    """The inputs of an outlook, copied from a batch at one moment, because the batch may change meanwhile."""

    ordered: int
    finished: int
    hand: tuple[WorkInProcess, ...]
    beliefs: tuple[OperationBelief, ...]
    minutes: tuple[float, ...]
    """Per piece at each operation."""
    stands: bool
    setup: float
    """Minutes of a new set-up of the first operation."""
    filled: bool = False
    """Whether as many are finished as were ordered, none of them still on a load."""


def collect_forecast_inputs(
    batch: Batch, now: Moment, paces: Mapping[int, TimeFactors] | None = None
) -> ForecastInputs:
    """The facts of a batch now.

    Held pieces count for nothing until somebody decides on them, as in the plan. The checklist's yields, with what
    earlier batches told of them, weigh as many pieces as they say; each counted piece weighs one.

    Raises:
        Impossible: the checklist's yields let nothing through.
    """
    hand, finished = count_work_in_process(batch)
    beliefs = update_beliefs(_yields(batch), compute_yield_weights(batch.expected), count_yields(batch))
    return ForecastInputs(
        ordered=batch.order,
        finished=finished,
        # Sent to a rework that is not known: they pass the operation that found them as if for the first time.
        hand=tuple(
            one if belief.reworkable else WorkInProcess(one.waiting + one.rework, 0, one.tests)
            for one, belief in zip(hand, beliefs, strict=True)
        ),
        beliefs=beliefs,
        minutes=tuple(_minutes_each(batch, op, (paces or {}).get(op, AS_PLANNED)) for op in batch.checklist.route),
        stands=describe_first_setup(batch, now)[0],
        setup=compute_setup_minutes(batch.checklist.operations[0]),
        filled=batch.total("finished") >= batch.order,
    )


def compute_outlook(known: ForecastInputs, level: float) -> Outlook:
    """The chance to fill the order, and what to start if it is below the level.

    Raises:
        Impossible: the yields let nothing through.
    """
    expected = forecast_good_count(known.ordered, known.finished, known.hand, known.beliefs)
    more = None
    if expected.probability < level:
        more = compute_top_up(
            known.ordered,
            known.finished,
            known.hand,
            known.beliefs,
            level=level,
            at=0,
            minutes=known.minutes,
            most=MOST_PIECES,
            known=expected,
        )
        if more is not None and not known.stands:
            more = replace(more, hours=more.hours + known.setup / 60)
    return Outlook(expected, more, known.stands, known.beliefs, known.filled)


def describe_outlook(batch: str, found: Outlook, first_op: int) -> str:
    """One sentence: the chance to fill the order, and what to start now, where, at what cost."""
    if found.filled:
        return f"{batch}: the order is filled; {found.forecast.expected:.0f} good pieces expected."
    said = f"{batch}: {format_chance(found.forecast.probability, 0)} chance to fill the order"
    if found.top_up is None:
        return f"{said}; {found.forecast.expected:.0f} good pieces expected."
    setup = "the set-up stands" if found.stands else "with a new set-up"
    return (
        f"{said}. Starting {found.top_up.pieces} more now at op {first_op} ({setup}) makes it "
        f"{format_chance(found.top_up.probability, 0)}, for about {found.top_up.hours:.1f} h of work."
    )


def _yields(batch: Batch) -> tuple[OperationYield, ...]:
    """The yields that it is planned by, each with the share that rework is expected to save."""
    found = []
    for known, op in zip(list_operation_yields(batch.expected), batch.checklist.route, strict=True):
        reasons = batch.operation(op).reasons if not known.rework else ()
        routes = [batch.checklist.rework(reason.rework) for reason in reasons if reason.to == "rework"]
        saves = [route.expected_yield for route in routes if route is not None]
        found.append(replace(known, rework_yield=min(saves)) if saves else known)
    return tuple(found)


def _minutes_each(batch: Batch, op: int, pace: TimeFactors) -> float:
    """Minutes of labor and machine per piece of a full carrier."""
    operation = batch.operation(op)
    full = batch.checklist.carrier(operation.carrier).capacity
    return compute_run_duration(operation, full, pace).total / full


def count_yields(batch: Batch) -> tuple[YieldCounts, ...]:
    """The outcome of each operation so far, each piece once: by its first count, or its last one after rework."""
    first: dict[tuple[int, int], str] = {}
    last: dict[tuple[int, int], str] = {}
    for op, _, said in batch.counts():
        for piece, to in said.items():
            first.setdefault((op, piece), to)
            last[op, piece] = to
    tally: Counter[tuple[int, str]] = Counter()
    for (op, piece), to in first.items():
        if to == "hold":
            to = find_decision(batch, op, piece)
        tally[op, to] += 1
        if to == "rework":
            end = last[op, piece]
            tally[op, {"good": "saved", "scrap": "lost"}.get(_given_up(batch, op, piece, end), "")] += 1
    return tuple(
        YieldCounts(*(tally[op, kind] for kind in ("good", "rework", "scrap", "saved", "lost")))
        for op in batch.checklist.route
    )


def _given_up(batch: Batch, op: int, piece: int, end: str) -> str:
    """The end of a reworked piece; scrap also if it was set aside on the way back."""
    place = batch.places[piece]
    return "scrap" if end == "rework" and place.where in LOST and place.op <= op else end


def count_work_in_process(batch: Batch) -> tuple[tuple[WorkInProcess, ...], int]:
    """Unfinished pieces at each operation, and how many are good at the end of the route; held ones are in neither."""
    waiting: Counter[int | None] = Counter()
    rework: Counter[int] = Counter()
    for op, route, count in batch.list_waiting_pools():
        if batch.checklist.own_way(route):
            rework.update(_sent_from(batch, piece) for piece in batch.waiting(op, route))
        else:
            waiting[op] += count
    for load in batch.list_live_loads():
        _count_load(batch, load, waiting, rework)
    tests = count_pieces_to_use(batch)
    hands = tuple(WorkInProcess(waiting[op], rework[op], tests[op]) for op in batch.checklist.route)
    return hands, batch.total("finished") + waiting[None]


def _sent_from(batch: Batch, piece: int) -> int:
    """The operation of the route that sent a piece to rework, or the next one where it was found in mid-rework."""
    return next(op for op in batch.checklist.route if op >= batch.found[piece])


def _count_load(batch: Batch, load: Load, waiting: Counter[int | None], rework: Counter[int]) -> None:
    """Count the pieces of a load at their next operation, those in rework at the operation that found them."""
    following = _find_following_op(batch, load)
    if _rides_for_rework(batch, load, following):
        rework.update(_sent_from(batch, piece) for piece in batch.present(load))
        return
    op, sent, passed = _read_run_count(batch, load)
    back = {piece: detour.found for detour in load.detours if detour.rework for piece in detour.pieces}
    missed = {piece: detour.at for detour in load.detours if not detour.rework for piece in detour.pieces}
    for piece in batch.present(load):
        if piece in sent:
            rework[op] += 1
        elif piece in back and not (piece in passed and op == back[piece]):
            rework[back[piece]] += 1
        elif piece in passed:
            waiting[batch.checklist.after(op)] += 1
        else:
            waiting[missed.get(piece, following)] += 1


def _find_following_op(batch: Batch, load: Load) -> int | None:
    """The operation that a load comes to next; None at the end of the route."""
    if load.next_op is not None:
        return load.next_op
    return batch.checklist.after(batch.list_leg_ops(load)[-1], load.rework)


def _rides_for_rework(batch: Batch, load: Load, following: int | None) -> bool:
    """Whether a load was formed of pieces in rework, and they are not back where they left the route."""
    checklist = batch.checklist
    return not load.detours and checklist.own_way(load.rework) and checklist.is_apart(load.rework, following)


def _read_run_count(batch: Batch, load: Load) -> tuple[int, set[int], set[int]]:
    """(operation, pieces sent to rework, pieces passed) of a load's run that is counted and not released yet."""
    run = batch.runs[load.run] if load.run is not None else None
    if run is None or run.count is None:
        return 0, set(), set()
    sent = {piece for mark in run.count.marks if mark.to == "rework" for piece in mark.pieces}
    return run.op, sent, set(run.pieces) - sent
