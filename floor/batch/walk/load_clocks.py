"""The timers that matter to a load from here on, in words: for the handover page, the traveler and the side panel."""

from __future__ import annotations

from datetime import datetime
from typing import Literal, NamedTuple

from floor.batch.gates.judge_process import COLD
from floor.batch.load import Load
from floor.batch.state import Batch
from floor.batch.walk.clocks import Ripeness, find_pieces_to_cure, judge_clock, say_what_closes_first
from floor.batch.walk.no_longer_asked import find_gates_no_longer_asked
from floor.checklist.gates import Cured
from floor.checklist.operation import Clock, Operation
from floor.entry import Moment
from floor.text import format_clock, format_span

Status = Literal["misses", "stalled", "wait", "closes", "open", "late"]
"""``misses``: a window closes before it is ready; ``closes``: open, and not for ever."""


class LoadClock(NamedTuple):
    """One timer, as it stands for a load."""

    name: str
    status: Status
    sentence: str
    turns: datetime | None
    """When it opens or closes next; None where nothing more comes by itself."""


def list_running_clocks(batch: Batch, now: Moment) -> list[tuple[Load, LoadClock]]:
    """Those of all loads together, the soonest first (CBP-51); what is late or stalled before them."""
    found = [
        (load, one)
        for load in batch.list_live_loads()
        for one in list_load_clocks(batch, load, now)
        if one.status != "open"
    ]
    return sorted(found, key=lambda pair: pair[1].turns or now.at)


def list_load_clocks(batch: Batch, load: Load, now: Moment) -> list[LoadClock]:
    """In the order in which the way ahead asks for them.

    One that its run has used is over, such as a recoat window once the next coat is on.
    """
    ripe: dict[str, tuple[int, Ripeness]] = {}
    for name, (op, pieces) in _find_clocks_ahead(batch, load).items():
        place = batch.checklist.clock(name)
        if place is None:
            continue
        one = judge_clock(batch, place[1], pieces, now)
        if place[1].per == "piece" or _concerns(batch, load, place, one):
            ripe[name] = op, one
    found = []
    for name, (op, one) in ripe.items():
        described = _describe_window(one, now)
        if described is None:
            continue
        status, said, turns = described
        others = [(it.closes, other) for other, (at, it) in ripe.items() if at == op and it.status == "open"]
        first = say_what_closes_first(one.opens, others, now)
        if first:
            turns = min(closes for closes, _ in others if closes is not None)
            found.append(LoadClock(name, "misses", f"{name}: {said}; {first}", turns))
        else:
            found.append(LoadClock(name, status, f"{name}: {said}", turns))
    return found


def _concerns(batch: Batch, load: Load, place: tuple[Operation, Clock], one: Ripeness) -> bool:
    """Whether what is said of a mix of the whole batch is said of a load too."""
    op, clock = place
    if op.op != load.at:
        return False  # others opened it; this load has not come to it
    if one.status != "late":
        return True
    run = batch.runs.get(load.run) if load.run is not None else None
    return run is not None and clock.starts.removeprefix("step ") in run.marks  # else its own mix is still to come


def _find_clocks_ahead(batch: Batch, load: Load) -> dict[str, tuple[int, tuple[int, ...]]]:
    """The clocks that a load's way ahead asks for, each with the operation that asks first, and of which pieces."""
    used = find_gates_no_longer_asked(batch, batch.runs[load.run]) if load.run is not None else set()
    rework = batch.find_rework(load)
    way = batch.checklist.list_way(rework.id if rework else "")
    wanted: dict[str, tuple[int, tuple[int, ...]]] = {}
    alone = load.detours[-1].found if load.detours else 0
    for op in [op for op in way if load.at is not None and op >= load.at]:
        there = batch.find_next_pieces(load) if op <= alone else batch.present(load)
        for key, step in batch.operation(op).numbered_steps:
            if isinstance(step, Cured) and step.clock not in wanted and not (op == load.at and key in used):
                wanted[step.clock] = op, find_pieces_to_cure(batch, step, op, there)
    return wanted


def _describe_window(ripe: Ripeness, now: Moment) -> tuple[Status, str, datetime | None] | None:
    """How a clock stands, in words, and when it turns; None if nothing is to be said of it."""
    if ripe.status in ("misses", "wait") and ripe.closes:
        left = format_span((ripe.closes - now.at).total_seconds())
        return "misses", f"closes {format_clock(ripe.closes, now.at)} (in {left}), before it is ready", ripe.closes
    if ripe.status == "wait" and not ripe.rate:
        return "stalled", f"stalled, {COLD}", None
    if ripe.status == "wait" and ripe.opens:
        left = format_span((ripe.opens - now.at).total_seconds())
        return "wait", f"ready {format_clock(ripe.opens, now.at)} (in {left})", ripe.opens
    if ripe.status == "open" and ripe.closes:
        left = format_span((ripe.closes - now.at).total_seconds())
        return "closes", f"do it by {format_clock(ripe.closes, now.at)} (in {left})", ripe.closes
    if ripe.status == "open":
        return "open", "ready", None
    return ("late", "time limit passed", None) if ripe.status == "late" else None
