"""Counts, and pieces set aside, dispositioned or surplus, in words."""

from __future__ import annotations

from floor.batch.counting.conformance import find_where, say_why_used
from floor.batch.describe_registry import describes
from floor.batch.events import (
    CountCorrected,
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
from floor.text import format_count, name_pieces


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
    where = f"load {event.load}" if event.load else f"waiting for op {event.op}" if event.op else "finished"
    if event.of_run:
        where = f"of run {event.of_run}"
    load = event.load
    loose = load is None or (load in batch.loads and not batch.find_carrier(load).positions)
    pieces = name_pieces(event.pieces) if loose or not event.where else event.where
    return f"{where}: {pieces} set aside as {event.to}: {event.reason}"


@describes(CountCorrected)
def _count_corrected(batch: Batch, event: CountCorrected) -> str:
    return f"{name_pieces(event.pieces)} not scrap after all, entry {event.of} corrected: {event.reason}; on hold"


@describes(SurplusTakenOut)
def _taken_out(batch: Batch, event: SurplusTakenOut) -> str:
    where = f" waiting for op {event.op}" if event.op else ""
    where = f" of load {event.load}" if event.load else where
    how = "kept as spares" if event.to == "spare" else "stopped"
    return f"order filled: {name_pieces(event.pieces)}{where} {how}: {event.reason}"


@describes(SurplusGoesOn)
def _goes_on(batch: Batch, event: SurplusGoesOn) -> str:
    until = "" if event.until == batch.checklist.operations[-1].op else f" up to op {event.until}"
    return f"order filled: pieces in process go on{until}: {event.reason}"


@describes(Disposed)
def _disposed(batch: Batch, event: Disposed) -> str:
    where = find_where(event)
    pieces = format_count(len(event.pieces), "held piece") if where else f"held {name_pieces(event.pieces)}"
    return (
        f"{pieces}: {event.decision}"
        + (f" {event.to}" if event.to else "")
        + (", the rework waived" if event.waives_rework else "")
        + f", {say_why_used(event)}"
        + (f" ({where})" if where else "")
    )


@describes(SurplusBroughtBack)
def _surplus_brought_back(batch: Batch, event: SurplusBroughtBack) -> str:
    return f"{name_pieces(event.pieces)} back in process at op {event.op}: {event.reason}"


@describes(FollowedUp)
def _followed_up(batch: Batch, event: FollowedUp) -> str:
    reference = f", {event.reference}" if event.reference else ""
    text = f": {event.text}" if event.text else ""
    return f"{event.what}{text} ({event.person} {event.on}{reference}); {name_pieces(event.pieces)}"


@describes(TakenOff)
def _taken_off(batch: Batch, event: TakenOff) -> str:
    return f"taken off the carrier: {event.where}"
