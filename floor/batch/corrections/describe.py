"""Notes and strikes, in words."""

from __future__ import annotations

from floor.batch.corrections.strike_effects import describe_strike_effect
from floor.batch.describe_registry import describes
from floor.batch.events import (
    Noted,
    NoteDone,
    StruckOut,
    UnprovedSettled,
    read_if_kind,
)
from floor.batch.state import Batch
from floor.entry import parse_wall
from floor.text import format_wall_clock


@describes(StruckOut)
def _struck(batch: Batch, event: StruckOut) -> str:
    let_through = describe_strike_effect(batch, event)
    return f"entry {event.seq} struck out: {event.reason}" + (f"; {let_through}" if let_through else "")


@describes(Noted)
def _noted(batch: Batch, event: Noted) -> str:
    mark = "for the next shift: " if event.next_shift else "abnormal: " if event.abnormal else "note: "
    when = f"by {format_wall_clock(parse_wall(event.due, batch.opened))}" if event.due else ""
    return f"{mark}{'; '.join(filter(None, [event.text, event.owner, when]))}"


@describes(NoteDone)
def _note_done(batch: Batch, event: NoteDone) -> str:
    noted = read_if_kind(batch.entries[event.of - 1], Noted)
    return f"done: {noted.text if noted else f'entry {event.of}'}" + (f": {event.how}" if event.how else "")


@describes(UnprovedSettled)
def _unproved_settled(batch: Batch, event: UnprovedSettled) -> str:
    return f"left unproved by entry {event.strike}, decided: {event.how}, {event.reason}"
