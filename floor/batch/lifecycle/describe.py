"""A batch opened, loaded, closed and moved, in words."""

from __future__ import annotations

from floor.batch.describe_registry import describes
from floor.batch.events import (
    BatchClosed,
    BatchOpened,
    ChecklistWeakened,
    EnteredLate,
    GoneOver,
    LoadFormed,
    PiecesStarted,
    TakenIn,
)
from floor.batch.gates.samples import describe_lots_before
from floor.batch.lifecycle.half_done import PlacedPieces, say_sum
from floor.batch.state import Batch
from floor.batch.trials.pieces import format_test_pieces
from floor.checklist.weakening import describe_weakening
from floor.entry import parse_wall
from floor.text import format_count, format_wall_clock


@describes(EnteredLate)
def _entered_late(batch: Batch, event: EnteredLate) -> str:
    rows = [PlacedPieces.read(row, batch.opened) for row in event.rows]
    as_of = format_wall_clock(parse_wall(event.acted, batch.opened))
    seen = f", {event.seen_by} saw the papers" if event.seen_by else ""
    proved = f", {format_count(len(event.proofs), 'proof')}" if event.proofs else ""
    return f"entered late, as of {as_of}{seen}: {say_sum(rows)}{proved}"


@describes(LoadFormed)
def _loaded(batch: Batch, event: LoadFormed) -> str:
    carrier = batch.checklist.carrier(event.carrier).label(event.number)
    count = sum(1 for piece in event.slots if piece is not None)
    rework = " for rework" if event.rework else ""
    return f"load {event.load}: {format_count(count, 'piece')} on {carrier} for op {event.op}{rework}"


@describes(BatchOpened)
def _batch_opened(batch: Batch, event: BatchOpened) -> str:
    planned = f", planned by {', '.join(event.earlier.batches)} too" if event.earlier is not None else ""
    used = f", {format_test_pieces(dict(event.tests))}" if event.tests else ""
    goes_on = "".join(f"; {describe_lots_before(batch.checklist, one)}" for one in event.lots_before)
    approved = f", checklist approved by {event.approved_by}" if event.approved_by else ""
    approved = ", CHECKLIST NOT APPROVED" if event.unapproved else approved
    return f"batch {event.id} opened: {event.order} of {batch.checklist.part.number}{planned}{used}{goes_on}{approved}"


@describes(ChecklistWeakened)
def _checklist_weakened(batch: Batch, event: ChecklistWeakened) -> str:
    said, earlier = (
        "; ".join(describe_weakening(one.kind, one.subject, one.op, one.was, one.now) for one in points)
        for points in (event.points, event.earlier)
    )
    since = f". Since {event.strongest}: {earlier}" if earlier else ""
    return f"weaker than the checklist of {event.before}: {said}{since}. {event.why}"


@describes(PiecesStarted)
def _pieces_started(batch: Batch, event: PiecesStarted) -> str:
    return f"{format_count(event.count, 'piece')} started"


@describes(BatchClosed)
def _batch_closed(batch: Batch, event: BatchClosed) -> str:
    return (
        f"closed with {event.finished} finished"
        + (f", {format_count(event.spare, 'spare')}" if event.spare else "")
        + (f", {event.stopped} stopped" if event.stopped else "")
        + (f": {event.reason}" if event.reason else "")
    )


@describes(GoneOver)
def _gone_over(batch: Batch, event: GoneOver) -> str:
    return f"transferred to {event.to}"


@describes(TakenIn)
def _taken_in(batch: Batch, event: TakenIn) -> str:
    return f"taken in here: {event.reason}" if event.reason else "taken in here"
