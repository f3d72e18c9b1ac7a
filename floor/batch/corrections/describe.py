"""Notes and strikes, in words."""

from __future__ import annotations

from floor.batch.corrections.strike_effects import describe_strike_effect
from floor.batch.describe_registry import describes
from floor.batch.events import (
    Noted,
    StruckOut,
    UnprovedSettled,
)
from floor.batch.state import Batch


@describes(StruckOut)
def _struck(batch: Batch, event: StruckOut) -> str:
    let_through = describe_strike_effect(batch, event)
    return f"entry {event.seq} struck out: {event.reason}" + (f"; {let_through}" if let_through else "")


@describes(Noted)
def _noted(batch: Batch, event: Noted) -> str:
    mark = "for the next shift: " if event.next_shift else "abnormal: " if event.abnormal else "note: "
    return f"{mark}{event.text}"


@describes(UnprovedSettled)
def _unproved_settled(batch: Batch, event: UnprovedSettled) -> str:
    return f"left unproved by entry {event.strike}, decided: {event.how}, {event.reason}"
