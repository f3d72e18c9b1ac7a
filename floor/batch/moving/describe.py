"""Pieces moved by hand, in words."""

from __future__ import annotations

from floor.batch.describe_registry import describes
from floor.batch.events import PiecesMoved
from floor.batch.state import Batch
from floor.text import format_count


@describes(PiecesMoved)
def _moved(batch: Batch, event: PiecesMoved) -> str:
    loose = f"{format_count(len(event.pieces), 'loose piece')}: "
    said = f"{event.where} of load {event.left[0]}: " if event.left else loose
    if not event.load:
        return f"{said}taken off, waiting loose for op {event.op}"
    kind = batch.checklist.carrier(event.carrier)
    places = ", ".join(kind.positions[event.slots.index(piece)] for piece in event.pieces) if kind.positions else ""
    if event.joined in event.left:
        return f"{said}moved to {places}, load {event.load} from there on"
    joins = f", joining load {event.joined}" if event.joined else ""
    return f"{said}moved onto {f'{kind.label(event.number)} {places}'.strip()}{joins}, load {event.load} from there on"
