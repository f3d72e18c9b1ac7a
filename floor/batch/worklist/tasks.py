"""What needs a person, now and later, over all open batches, the most pressing first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime

from floor.batch.command import Context, OtherBatches, Person
from floor.batch.corrections.put_off import list_put_off
from floor.batch.corrections.unproved_work import find_open_unproved_work, format_unproved_work
from floor.batch.counting.blind_count import find_blind_subjects, format_count_subject, hides_total
from floor.batch.counting.surplus import find_undecided_surplus, format_order_filled, is_wanted_at
from floor.batch.gates.out_of_limits import list_undecided_readings, say_open
from floor.batch.gates.suspect_gauges import describe_suspect_gauge
from floor.batch.lifecycle.commands import PointKind, open_points, say_points
from floor.batch.load import Where
from floor.batch.state import Batch
from floor.batch.worklist.due_task import Destination, DueTask, Urgency
from floor.batch.worklist.load_tasks import find_begin_task, find_form_task, find_run_task, has_own_row
from floor.entry import Moment
from floor.text import format_count
from floor.wall import shift_time

STILL_GOOD: tuple[Where, ...] = ("load", "waiting", "hold")
"""Where pieces may still become good ones."""
NO_ROW: tuple[PointKind, ...] = ("waiver", "question", "put off")
"""What keeps a batch open and has no row of its own."""
_ORDER: dict[Urgency, int] = {"overdue": 0, "now": 1, "soon": 2, "later": 3, "blocked": 4}


def list_due_tasks(
    batches: Iterable[Batch], now: Moment, elsewhere: dict[str, OtherBatches] | None = None
) -> list[DueTask]:
    """All tasks, the most pressing first: closed windows, what waits now, then by time."""
    found: list[DueTask] = []
    for batch in batches:
        if batch.closed is None and not batch.gone:
            context = Context(now, Person("-"), (elsewhere or {}).get(batch.id, OtherBatches()))
            found += _of_batch(batch, context)
    far = shift_time(now.at, 3650 * 86400)
    return sorted(
        found,
        key=lambda due: (
            due.go != "surplus",
            _ORDER[due.urgency],
            due.closes or due.when or far,
            due.batch,
            due.load or 0,
        ),
    )


def _of_batch(batch: Batch, context: Context) -> list[DueTask]:
    hidden = find_blind_subjects(batch)
    return [
        *_surplus_due(batch, hidden),
        *_decisions_due(batch, hidden),
        *_put_off_due(batch, context.now.at),
        *_loads_due(batch, context, hidden),
        *_end_due(batch),
    ]


def _batch_due(
    batch: Batch,
    what: str,
    go: Destination,
    where: str = "batch",
    entry: int | None = None,
    *,
    lead: bool = False,
) -> DueTask:
    """What the whole batch waits for, now."""
    return DueTask("now", None, batch.id, what, where, go=go, entry=entry, needs_lead=lead)


def _decisions_due(batch: Batch, hidden: frozenset[str]) -> Iterator[DueTask]:
    """What somebody has to decide, count or take over before anything else is sure."""
    if batch.handover is not None:
        yield _batch_due(batch, f"Take over from {batch.handover.by}", "handover")
    for difference in batch.list_open_differences():
        what = f"{format_count_subject(batch, difference.subject)}: counts do not match, recount"
        yield _batch_due(batch, what, "difference")
    for one in find_open_unproved_work(batch):
        what = f"Decide (lead): {format_unproved_work(batch, one)}"
        yield _batch_due(batch, what, "unproved", entry=one.strike, lead=True)
    for out in list_undecided_readings(batch):
        lead = "" if out.gate.of_piece else " (lead)"
        yield _batch_due(
            batch, f"Decide{lead}: {say_open(batch, out)}", "out", entry=out.seq, lead=not out.gate.of_piece
        )
    for gauge in batch.list_open_suspect_gauges():
        what = f"Decide (lead): {describe_suspect_gauge(batch, gauge)}"
        yield _batch_due(batch, what, "gauge", entry=gauge.seq, lead=True)
    held = batch.total("hold")
    if held:
        held_pieces = "the held pieces" if hides_total(batch, "hold", hidden) else format_count(held, "held piece")
        yield _batch_due(batch, f"Decide on {held_pieces} (lead)", "hold", "hold", lead=True)


def list_decisions_due(batch: Batch) -> list[DueTask]:
    """What is to be decided before the batch is sure of its pieces again, except pieces on hold: they have a list."""
    decisions = _decisions_due(batch, find_blind_subjects(batch))
    return [due for due in decisions if due.go not in ("handover", "hold")]


def _put_off_due(batch: Batch, now: datetime) -> Iterator[DueTask]:
    """Work that a note put off until a time; without one it stands on the handover page alone."""
    for one in list_put_off(batch):
        if one.due is not None:
            due = _batch_due(batch, one.describe(now), "handover")
            yield due if one.is_overdue(now) else replace(due, urgency="later", when=one.due)


def _loads_due(batch: Batch, context: Context, hidden: frozenset[str]) -> Iterator[DueTask]:
    """Loads under way, loads that wait to begin, and pieces that wait for a carrier."""
    for load in batch.list_live_loads():
        if load.run is not None:
            run = batch.runs[load.run]
            if has_own_row(batch, run, context.now):
                yield find_run_task(batch, load, run, context.now, hidden)
        elif is_wanted_at(batch, load.at):
            yield find_begin_task(batch, load, context)
    for op, rework, count in batch.list_waiting_pools():
        if is_wanted_at(batch, op):
            yield find_form_task(batch, op, rework, count, context, hidden)


def _end_due(batch: Batch) -> Iterator[DueTask]:
    """The batch can be closed, or could be but for what has no row of its own."""
    points = open_points(batch)
    rest = [point for point in points if point.kind in NO_ROW]
    if not points:
        yield _batch_due(batch, "Close the batch: every piece is accounted for", "close")
    elif rest and not (batch.list_live_loads() or batch.total("waiting") or batch.total("hold")):
        yield _batch_due(batch, f"Resolve, then close the batch: {say_points(rest)}", "settle")


def _surplus_due(batch: Batch, hidden: frozenset[str]) -> list[DueTask]:
    """The task to decide on surplus pieces of a filled order, or on spares it needs again."""
    if find_undecided_surplus(batch):
        return [_batch_due(batch, format_order_filled(batch, hidden), "surplus")]
    finished, spare = batch.total("finished"), batch.total("spare")
    short = batch.order - finished - sum(batch.total(where) for where in STILL_GOOD)
    if spare and short > 0:
        spares = (
            "spares are" if "spare" in hidden else f"{format_count(spare, 'spare')} {'is' if spare == 1 else 'are'}"
        )
        few = (
            "pieces" if any(hides_total(batch, where, hidden) for where in STILL_GOOD) else format_count(short, "piece")
        )
        what = f"{few} short of the order, and {spares} there: take back what is needed"
        return [_batch_due(batch, what, "surplus")]
    return []
