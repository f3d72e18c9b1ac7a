"""Pieces set aside between counts, and decisions on held pieces."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import datetime
from typing import get_args

from floor.batch.counting.fold import (
    leave_run,
    push_detour,
    record_wear_of_emptied_run,
    repeat_way,
    set_waiting,
    tidy_load,
    tidy_loads,
)
from floor.batch.events import ENDS, CountCorrected, Disposed, FollowedUp, ScrapEnd, SetAside, TakenOff
from floor.batch.fold_registry import handles, move_piece, require
from floor.batch.load import LOST, Detour, Load, PiecePlace
from floor.batch.run import Count, Run
from floor.batch.state import Batch
from floor.checklist.operation import Do
from floor.entry import Entry


@handles(SetAside)
def _set_aside(batch: Batch, entry: Entry, event: SetAside, at: datetime) -> None:
    pieces = event.pieces
    if event.of_run is not None:  # from here on each piece is decided by itself
        batch.held_back[event.of_run] = entry.seq
    for piece in pieces:
        require(entry, batch.places[piece].where not in ("hold", *LOST), f"piece {piece} is not in process")
    record_wear_of_emptied_run(batch, pieces)
    for piece in pieces:
        move_piece(batch, piece, _find_place_aside(batch, entry, event, piece))
    tidy_loads(batch, pieces, entry, at)


def _find_place_aside(batch: Batch, entry: Entry, event: SetAside, piece: int) -> PiecePlace:
    """Where a piece is once it is set aside, and which operation found it; it has left its run then."""
    place, owes = batch.places[piece], batch.owes(piece)
    on = "" if owes else batch.find_rework_under_way(piece)[0]
    sits = bool(place.where == "load" and event.sits) and batch.may_stay_in_place(place.load, event.to)
    load, op = place.load, place.op
    counted = batch.find_last_result(piece)
    if place.where == "finished":  # so that it is known later that nothing is left to be done to it
        assert counted is not None
        load, op = counted.load, counted.op
    elif place.where == "load":
        leave_run(batch, piece, entry)
        op = _next_of(batch, batch.loads[load], piece) if sits else batch.loads[load].at or 0
    if owes:  # found where it was counted last, however far back it was sent
        op = max(op, counted.op if counted else 0)
    held = event.to == "hold"
    return PiecePlace(
        event.to,
        op=op,
        load=load,
        reason=event.reason,
        rework=owes if held else "",
        on=on if held else "",
        seq=entry.seq,
        sits=sits,
        off=event.off,
    )


@handles(CountCorrected)
def _count_corrected(batch: Batch, entry: Entry, event: CountCorrected, at: datetime) -> None:
    counts = ((run, run.count) for run in batch.runs.values() if run.count is not None)
    run, count = next(((run, count) for run, count in counts if count.seq == event.of), (None, None))
    require(entry, run is None or run.released is not None, "the run is not released")
    on = _find_unfinished_rework(batch, run) if run is not None else ""
    for piece in event.pieces:
        place = batch.places[piece]
        require(entry, (place.where, place.seq) == ("scrap", event.of), f"piece {piece} is not scrap by that entry")
        back = replace(place, where="hold", reason=event.reason, on=on, off=not place.sits, seq=entry.seq)
        move_piece(batch, piece, back)
    good = frozenset(event.pieces)
    batch.corrected_counts[event.of] = batch.corrected_counts.get(event.of, frozenset()) | good
    if run is not None and count is not None:
        run.count = _count_as_good(count, good)


def _find_unfinished_rework(batch: Batch, run: Run) -> str:
    """The rework that a run is part of and that goes on after it; empty if none."""
    after = batch.checklist.after(run.op, run.rework)
    return run.rework if batch.checklist.is_apart(run.rework, after) else ""


def _count_as_good(count: Count, good: Collection[int]) -> Count:
    left = [replace(mark, pieces=tuple(p for p in mark.pieces if p not in good)) for mark in count.marks]
    return replace(count, good=count.good + len(good), marks=tuple(mark for mark in left if mark.pieces))


@handles(Disposed)
def _disposed(batch: Batch, entry: Entry, event: Disposed, at: datetime) -> None:
    for piece in event.pieces:
        place = batch.places[piece]
        require(entry, place.where == "hold", f"piece {piece} is not on hold")
        end = ENDS.get(event.decision)
        if end is not None:
            require(entry, end == "scrap" or not place.sits, f"piece {piece} still sits on its carrier")
            move_piece(batch, piece, replace(place, where=end, rework="", seq=entry.seq))
        elif event.rework:
            route = batch.checklist.rework(event.rework)
            assert route is not None
            batch.passes[(piece, route.id)] += place.rework != route.id  # it was sent there already
            batch.found[piece] = batch.find_op_reached(piece)
            repeat_way(batch, piece, route)
            if piece in event.stays:
                load = batch.loads[place.load]
                move_piece(batch, piece, PiecePlace("load", load=load.number, seq=entry.seq))
                _goes_back(batch, load, piece, Detour(route.id, frozenset({piece}), batch.found[piece], route.back_to))
            else:
                move_piece(batch, piece, PiecePlace("waiting", op=route.back_to, rework=route.id, seq=entry.seq))
        else:
            require(entry, not place.rework or event.waives_rework, f"piece {piece} is still to be reworked")
            _use_as_is(batch, piece, place, entry, own_way=event.own_way)
        if place.sits:
            tidy_load(batch, batch.loads[place.load], entry, at)


def _next_of(batch: Batch, load: Load, piece: int) -> int:
    """The operation that one piece of a load is in or goes to next; the last of the leg if it has finished that."""
    leg, op = batch.list_leg_ops(load), batch.find_next_op(piece)
    return op if op is not None and (op in leg or batch.operation(op).rework_only) else leg[-1]


def _joins(load: Load, piece: int, place: PiecePlace) -> int | None:
    """The operation at which a piece rejoins its load: that of the detour if both are on one."""
    on_detour = bool(load.detours) and piece in load.detours[-1].pieces
    return load.at if on_detour and not place.rework else load.next_op


def _goes_on_at(batch: Batch, piece: int, place: PiecePlace) -> int | None:
    """The operation a held piece goes to next if used as is; None after the last."""
    last = batch.find_last_result(piece)
    if place.rework:  # its rework is waived: it resumes where it was sent back
        return batch.checklist.after(last.op) if last else batch.checklist.operations[0].op
    ridden = {place.load, *(batch.loads[place.load].made_of if place.load in batch.loads else ())}
    counted = last is not None and last.op == place.op and last.load in ridden and last.how != "rework"
    return batch.checklist.after(place.op, place.on) if counted else place.op


def _goes_back(batch: Batch, load: Load, piece: int, detour: Detour) -> None:
    """Send one piece of a load back alone; it then makes up for what the load passed without it."""
    leg = batch.list_leg_ops(load)
    passed = [
        op for op in leg if load.next_op is None or op < load.next_op or (op == load.next_op and batch.is_at_work(load))
    ]
    _leave_detours(load, piece)
    way = [detour]
    missed = next((op for op in passed if op > detour.found), None)
    if missed is not None:
        way.append(Detour("", detour.pieces, passed[-1], missed))
    onto = load.behind if load.run is not None else load.detours
    for one in way if load.run is not None else reversed(way):  # detours that end first come first
        push_detour(onto, one)


def _leave_detours(load: Load, piece: int) -> None:
    for one in (*load.detours, *load.behind):
        one.pieces -= {piece}


def _use_as_is(batch: Batch, piece: int, place: PiecePlace, entry: Entry, *, own_way: bool) -> None:
    """Return it to its load if that has not moved on, else let it wait for its next operation.

    Args:
        own_way: whether to check where else it belongs; absent in older records.
    """
    target, load = _goes_on_at(batch, piece, place), batch.loads.get(place.load)
    if not batch.checklist.is_apart(place.on, target):
        target = batch.find_turn(piece, target)
    if load is None or not _returns_to_load(batch, load, piece, place, target, entry, own_way=own_way):
        set_waiting(batch, piece, target, place.on, entry)


def _returns_to_load(
    batch: Batch, load: Load, piece: int, place: PiecePlace, target: int | None, entry: Entry, *, own_way: bool
) -> bool:
    """Put a piece that is used as it is back onto its load, where that has not gone further without it."""
    if own_way and place.rework:
        _leave_detours(load, piece)
    on_outer_detour = place.sits and any(piece in one.pieces for one in load.detours[:-1])
    if own_way and on_outer_detour:
        _put_on_load(batch, load, piece, entry)
        return True
    if place.sits and _goes_on_in_place(batch, load, piece, place, target, entry):
        return True
    there = load.dissolved is None and load.run is None and not place.off
    if there and target == _joins(load, piece, place):
        _put_on_load(batch, load, piece, entry)
        return True
    return False


def _put_on_load(batch: Batch, load: Load, piece: int, entry: Entry) -> None:
    move_piece(batch, piece, PiecePlace("load", load=load.number, seq=entry.seq))


def _goes_on_in_place(
    batch: Batch, load: Load, piece: int, place: PiecePlace, target: int | None, entry: Entry
) -> bool:
    """Return a piece that never left its carrier to its load, and to the run if it missed nothing of it.

    It makes up alone for what the load passed without it; one that is ahead of the load leaves it. What the load passed
    without it, it makes up for by itself. One that is further than the load leaves it.
    """
    own = _find_own_detour(load, piece, place)
    gone_on = place.on and place.on not in (load.rework, own.rework if own else "")
    if gone_on and target is not None:  # those that were on the same rework are through it
        _put_on_load(batch, load, piece, entry)
        _goes_back(batch, load, piece, Detour(place.on, frozenset({piece}), batch.found[piece], target))
        return True
    if _was_counted_here(batch, load, piece):
        _put_on_load(batch, load, piece, entry)
        return True  # it goes on with the others when they are released
    leg = batch.list_leg_ops(load) if own is None else batch.list_detour_ops(load, own)
    ahead = _index(leg, target)
    there = _index(leg, _joins(load, piece, place))
    if ahead > there:
        return False
    _put_on_load(batch, load, piece, entry)
    _make_up(batch, load, piece, place, leg, ahead, there)
    return True


def _was_counted_here(batch: Batch, load: Load, piece: int) -> bool:
    """Whether a piece was counted in the run that its load is still in."""
    run = batch.runs[load.run] if load.run is not None else None
    return run is not None and run.count is not None and piece in run.pieces


def _index(leg: Sequence[int], op: int | None) -> int:
    """The place of an operation in a leg; behind its end where it is not in it."""
    return leg.index(op) if op in leg else len(leg)


def _make_up(
    batch: Batch, load: Load, piece: int, place: PiecePlace, leg: Sequence[int], ahead: int, there: int
) -> None:
    """Let a piece join the run that its load is in, or pass by itself what it missed.

    Args:
        leg: the operations that it passes on its load.
        ahead: which of these it has before it.
        there: which of these its load has before it, or is in.
    """
    run = batch.runs[load.run] if load.run is not None else None
    on_it = run is not None and there < len(leg) and leg[there] == run.op
    if run is not None and on_it and ahead == there and _missed_nothing(batch, load, run, piece, place):
        run.pieces = tuple(one for one in load.pieces if one == piece or one in run.pieces)
    elif ahead < there or on_it:
        passed = leg[there] if on_it else leg[there - 1]
        push_detour(
            load.detours if run is None else load.behind, Detour(place.on, frozenset({piece}), passed, leg[ahead])
        )


def _find_own_detour(load: Load, piece: int, place: PiecePlace) -> Detour | None:
    """The detour that a piece was on with its load when it was set aside."""
    on_detour = load.detours and piece in load.detours[-1].pieces and not place.rework
    return load.detours[-1] if on_detour else None


def _missed_nothing(batch: Batch, load: Load, run: Run, piece: int, place: PiecePlace) -> bool:
    """Whether a piece was in a run, or on its carrier, for all that was done to the pieces of it so far."""
    if run.count is not None or any(piece in detour.pieces for detour in load.behind):
        return False
    if run.started is not None and place.seq < run.started_seq:
        return False
    return not (_clock_began_since(batch, run, place.seq) or _work_was_done_since(batch, run, place.seq))


def _clock_began_since(batch: Batch, run: Run, seq: int) -> bool:
    """Whether a clock of the operation began for pieces of the run after this entry."""
    clocks = [batch.piece_clocks.get(one.id, {}) for one in batch.find_operation(run).clocks if one.per == "piece"]
    return any(begun[piece][1] > seq for begun in clocks for piece in run.pieces if piece in begun)


def _work_was_done_since(batch: Batch, run: Run, seq: int) -> bool:
    """Whether a step that is the work itself, where there is no cycle, was marked after this entry."""
    operation = batch.find_operation(run)
    work = ("load", "cycle", "after") if not operation.cycle else ()
    steps = {key for key, step in operation.numbered_steps if isinstance(step, Do) and step.at in work}
    return any(mark.seq > seq for key, mark in run.marks.items() if key in steps)


@handles(FollowedUp)
def _followed_up(batch: Batch, entry: Entry, event: FollowedUp, at: datetime) -> None:
    require(entry, set(event.pieces) <= batch.places.keys(), "there is no such piece")
    if event.what in get_args(ScrapEnd):
        scrap = all(batch.places[piece].where == "scrap" for piece in event.pieces)
        require(entry, scrap, "a piece is not scrap")


@handles(TakenOff)
def _taken_off(batch: Batch, entry: Entry, event: TakenOff, at: datetime) -> None:
    for piece in event.pieces:
        place = batch.places[piece]
        require(entry, place.sits, f"piece {piece} does not sit on a carrier any more")
        move_piece(batch, piece, replace(place, sits=False, off=True))
    tidy_loads(batch, event.pieces, entry, at)  # not one by one: a load of nothing but scrap ends with it on
