"""What a count, a release, setting aside and a disposition do to pieces and loads."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from floor.batch.folding.base import kind, need, open_run, put
from floor.batch.folding.passing import pass_by, pass_out
from floor.batch.folding.runs import start_clocks
from floor.batch.gates import emptied, wasted
from floor.batch.state import (
    Batch,
    Count,
    CountMark,
    Detour,
    Load,
    Place,
    Run,
)
from floor.checklist.gates import LotRecorded
from floor.entry import Entry


def reworked_in_place(batch: Batch, run: Run, back_to: int) -> bool:
    """Whether pieces of this run can be reworked without leaving their carrier."""
    return back_to in batch.checklist.leg_of(run.op).ops and batch.loads[run.load].first_op <= back_to


@kind
def _counted(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    run = open_run(batch, entry)
    need(entry, run.count is None, "the run is counted already")
    marks = tuple(
        CountMark(mark["to"], mark["reason"], tuple(mark["pieces"]), mark.get("note", "")) for mark in body["marks"]
    )
    marked = [piece for mark in marks for piece in mark.pieces]
    need(entry, len(set(marked)) == len(marked) and set(marked) <= set(run.pieces), "pieces counted that are not in it")
    need(entry, body["good"] + len(marked) == len(run.pieces) == body["in"], "the count does not add up")
    need(entry, all(batch.places[piece].where == "load" for piece in run.pieces), "a piece is no longer on the load")
    pass_by(batch, run, entry, "count")
    run.count = Count(entry.seq, at, entry.by, body["in"], body["good"], marks)
    for mark in marks:
        for piece in mark.pieces:
            if mark.to == "rework":
                reason = batch.operation_of(run).reason(mark.reason)
                assert reason is not None
                route = batch.checklist.rework(reason.rework)
                assert route is not None
                batch.passes[(piece, route.id)] += 1
                if not reworked_in_place(batch, run, route.back_to):
                    put(batch, piece, Place("waiting", op=route.back_to, rework=route.id, seq=entry.seq))
            else:
                put(batch, piece, Place(mark.to, op=run.op, load=run.load, reason=mark.reason, seq=entry.seq))
    for _, step in batch.operation_of(run).numbered_steps:
        if isinstance(step, LotRecorded) and step.what in batch.lots:
            run.lots[step.what] = ", then ".join(run.taken.get(step.what, (batch.lots[step.what].lot,)))


@kind
def _released(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    run = open_run(batch, entry)
    need(entry, run.count is not None, "the run is not counted")
    load = batch.loads[run.load]
    pass_out(batch, run, entry)
    run.released, run.released_by = at, entry.by
    load.run = None
    start_clocks(batch, run, "release", at, entry.seq)
    leg = batch.checklist.leg_of(run.op).ops
    after = next((op for op in leg if op > run.op), None)
    if load.detours:
        load.detours[-1].at = None if run.op == load.detours[-1].found else after
    else:
        load.next_op = after
    assert run.count is not None
    _send_back(batch, run, load)
    end_detours(batch, load, entry, at)


def _send_back(batch: Batch, run: Run, load: Load) -> None:
    """Put each rework route marked in the count, as far as it stays on the carrier, on top of the load's detours."""
    assert run.count is not None
    for mark in run.count.marks:
        reason = batch.operation_of(run).reason(mark.reason)
        route = batch.checklist.rework(reason.rework) if reason and mark.to == "rework" else None
        if route is None or not reworked_in_place(batch, run, route.back_to):
            continue
        same = next((d for d in load.detours if (d.rework, d.found, d.at) == (route.id, run.op, route.back_to)), None)
        if same is not None:
            same.pieces |= frozenset(mark.pieces)
        else:
            load.detours.append(Detour(route.id, frozenset(mark.pieces), run.op, route.back_to))


def end_detours(batch: Batch, load: Load, entry: Entry, at: datetime) -> None:
    """Detours that are through, or without a piece, end; a load without a piece, or through its leg, is dissolved."""
    while load.detours and (load.detours[-1].at is None or not batch.next_pieces(load)):
        load.detours.pop()
    if batch.present(load) and load.at is not None:
        return
    following = batch.checklist.after(batch.checklist.leg_of(load.first_op).ops[-1])
    for piece in batch.present(load):
        if following is None:
            put(batch, piece, Place("finished", seq=entry.seq))
        else:
            put(batch, piece, Place("waiting", op=following, seq=entry.seq))
    load.dissolved = at


@kind
def _set_aside(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    pieces = body["pieces"]
    if "of_run" in body:  # from now on it is decided piece by piece
        batch.held_back[body["of_run"]] = entry.seq
    for piece in pieces:
        need(entry, batch.places[piece].where not in ("hold", "scrap"), f"piece {piece} is not in work")
    worn_by(batch, pieces)
    for piece in pieces:
        place, owes = batch.places[piece], batch.owes(piece)
        load, op = place.load, place.op
        if place.where == "finished":  # so that it is known later that nothing is left to be done to it
            counted = batch.last_counted(piece)
            assert counted is not None
            load, op = counted.load, counted.op
        elif place.where == "load":
            leave_run(batch, piece, entry)
            op = batch.loads[load].at or 0
        if owes:  # found where it was counted last, however far back it was sent
            counted = batch.last_counted(piece)
            op = max(op, counted.op if counted else 0)
        rework = owes if body["to"] == "hold" else ""
        put(batch, piece, Place(body["to"], op=op, load=load, reason=body["reason"], rework=rework, seq=entry.seq))
    close_up_all(batch, pieces, entry, at)


def worn_by(batch: Batch, pieces: Sequence[int]) -> None:
    """Where these are the last of a run, its cycle had stopped; what it cut by then is counted as all of it."""
    for run in emptied(batch, pieces):
        for tool, used in wasted(batch, run).items():
            batch.tools[run.station, tool].used += used


def leave_run(batch: Batch, piece: int, entry: Entry) -> None:
    load = batch.loads[batch.places[piece].load]
    if load.run is not None:
        run = batch.runs[load.run]
        need(entry, run.count is None, f"load {load.number} is counted and not released")
        run.pieces = tuple(one for one in run.pieces if one != piece)


def close_up_all(batch: Batch, pieces: Sequence[int], entry: Entry, at: datetime) -> None:
    for number in {batch.places[piece].load for piece in pieces} - {0}:
        if batch.loads[number].dissolved is None:
            _close_up(batch, batch.loads[number], entry, at)


def _close_up(batch: Batch, load: Load, entry: Entry, at: datetime) -> None:
    """What is left of a load after pieces were taken from it: without a piece, no run, no detour and no load."""
    if load.run is not None and not batch.runs[load.run].pieces:
        run = batch.runs[load.run]
        run.released, run.released_by, load.run = at, entry.by, None
    if load.run is None:
        end_detours(batch, load, entry, at)


@kind
def _disposed(batch: Batch, entry: Entry, body: dict[str, Any], at: datetime) -> None:
    for piece in body["pieces"]:
        place = batch.places[piece]
        need(entry, place.where == "hold", f"piece {piece} is not on hold")
        if body["decision"] == "scrap":
            put(batch, piece, Place("scrap", op=place.op, load=place.load, reason=place.reason, seq=entry.seq))
        elif body["decision"] == "rework":
            route = batch.checklist.rework(body["rework"])
            assert route is not None
            batch.passes[(piece, route.id)] += place.rework != route.id  # it was sent there already
            put(batch, piece, Place("waiting", op=route.back_to, rework=route.id, seq=entry.seq))
        else:
            need(entry, not place.rework or body.get("waives_rework", False), f"piece {piece} is still to be reworked")
            _use_as_is(batch, piece, place, entry)


def _joins(load: Load, piece: int, place: Place) -> int | None:
    """The operation at which a piece is on its load again: where it is on a detour with it, that of the detour."""
    on_detour = bool(load.detours) and piece in load.detours[-1].pieces
    return load.at if on_detour and not place.rework else load.next_op


def _use_as_is(batch: Batch, piece: int, place: Place, entry: Entry) -> None:
    """Back onto its load where that has not gone further without it, else to wait for the next operation."""
    load, last = batch.loads.get(place.load), batch.last_counted(piece)
    if place.rework:  # its rework is waived: it goes on from where it was sent back
        target = batch.checklist.after(last.op) if last else batch.checklist.operations[0].op
    else:
        counted = last is not None and last.op == place.op and last.load == place.load and last.how != "rework"
        target = batch.checklist.after(place.op) if counted else place.op
    if load is not None and load.dissolved is None and load.run is None and target == _joins(load, piece, place):
        put(batch, piece, Place("load", load=load.number, seq=entry.seq))
    elif target is None:
        put(batch, piece, Place("finished", seq=entry.seq))
    else:
        put(batch, piece, Place("waiting", op=target, seq=entry.seq))
