"""Counts, and pieces set aside, dispositioned or surplus, in words."""

from __future__ import annotations

from floor.batch.counting.conformance import say_why_used
from floor.batch.describe_registry import describes
from floor.batch.events import (
    Counted,
    Disposed,
    FollowedUp,
    SetAside,
    SurplusBroughtBack,
    SurplusGoesOn,
    SurplusTakenOut,
    TakenOff,
)
from floor.batch.state import Batch
from floor.text import format_count


@describes(Counted)
def _counted(batch: Batch, event: Counted) -> str:
    parts = [f"{event.good} good"]
    for mark in event.marks:
        where = f" at {', '.join(mark.places)}" if mark.places else ""
        note = f" ({mark.note})" if mark.note else ""
        parts.append(f"{len(mark.pieces)} {mark.to} {mark.reason}{where}{note}")
    return f"counted {event.went_in}: {', '.join(parts)}"


@describes(SetAside)
def _aside(batch: Batch, event: SetAside) -> str:
    where = f"load {event.load}" if event.load else f"waiting for op {event.op}"
    if event.of_run:
        where = f"of run {event.of_run}"
    pieces = event.where or format_count(len(event.pieces), "piece")
    return f"{where}: {pieces} set aside as {event.to}: {event.reason}"


@describes(SurplusTakenOut)
def _taken_out(batch: Batch, event: SurplusTakenOut) -> str:
    where = f" waiting for op {event.op}" if event.op else ""
    where = f" of load {event.load}" if event.load else where
    how = "kept as spares" if event.to == "spare" else "stopped"
    return f"order filled: {format_count(len(event.pieces), 'piece')}{where} {how}: {event.reason}"


@describes(SurplusGoesOn)
def _goes_on(batch: Batch, event: SurplusGoesOn) -> str:
    until = "" if event.until == batch.checklist.operations[-1].op else f" up to op {event.until}"
    return f"order filled: pieces in process go on{until}: {event.reason}"


@describes(Disposed)
def _disposed(batch: Batch, event: Disposed) -> str:
    return (
        f"{format_count(len(event.pieces), 'held piece')}: {event.decision}"
        + (f" {event.to}" if event.to else "")
        + (", the rework waived" if event.waives_rework else "")
        + f", {say_why_used(event)}"
        + (f" ({event.where})" if event.where else "")
    )


@describes(SurplusBroughtBack)
def _surplus_brought_back(batch: Batch, event: SurplusBroughtBack) -> str:
    return f"{format_count(len(event.pieces), 'piece')} back in process at op {event.op}: {event.reason}"


@describes(FollowedUp)
def _followed_up(batch: Batch, event: FollowedUp) -> str:
    pieces = ", ".join(f"piece {piece}" for piece in event.pieces)
    reference = f", {event.reference}" if event.reference else ""
    return f"{event.what}: {event.text} ({event.person} {event.on}{reference}); {pieces}"


@describes(TakenOff)
def _taken_off(batch: Batch, event: TakenOff) -> str:
    return f"taken off the carrier: {event.where}"
