"""What a count does to pieces and loads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from floor.batch.events import Counted
from floor.batch.fold_registry import handles, move_piece, open_run, require
from floor.batch.gates.fold_lots import find_lots_in_use
from floor.batch.gates.tool_life import compute_wasted_tool_life
from floor.batch.load import Detour, Load, PiecePlace
from floor.batch.run import Count, CountMark, Run
from floor.batch.state import Batch
from floor.batch.walk.fold_rejudging import rejudge_before
from floor.batch.walk.shared_cycles import find_emptied_runs
from floor.checklist.gates import LotRecorded
from floor.checklist.operation import Rework
from floor.entry import Entry


def is_reworked_in_place(batch: Batch, run: Run, route: Rework) -> bool:
    """Whether pieces of this run are reworked without leaving their carrier."""
    return batch.is_rework_in_place(batch.loads[run.load], route, run.op)


@handles(Counted)
def _counted(batch: Batch, entry: Entry, event: Counted, at: datetime) -> None:
    run = open_run(batch, entry, event)
    require(entry, run.count is None, "the run is counted already")
    marks = tuple(CountMark(mark.to, mark.reason, mark.pieces, mark.note) for mark in event.marks)
    marked = [piece for mark in marks for piece in mark.pieces]
    require(
        entry, len(set(marked)) == len(marked) and set(marked) <= set(run.pieces), "pieces counted that are not in it"
    )
    require(entry, event.good + len(marked) == len(run.pieces) == event.went_in, "the count does not add up")
    require(entry, all(batch.places[piece].where == "load" for piece in run.pieces), "a piece is no longer on the load")
    rejudge_before(batch, run, entry, "count")
    run.count = Count(entry.seq, at, entry.by, event.went_in, event.good, marks)
    _pass_turns(batch, run)
    sits = {piece for mark in event.marks if mark.sits for piece in mark.pieces}
    for mark in marks:
        for piece in mark.pieces:
            if mark.to == "rework":
                _send_to_rework(batch, run, piece, mark, entry)
            else:
                on = _goes_on_with(batch, run, piece) if mark.to == "hold" else ""
                place = PiecePlace(mark.to, op=run.op, load=run.load, reason=mark.reason, on=on, seq=entry.seq)
                move_piece(batch, piece, replace(place, sits=piece in sits))
    _record_lots(batch, run)


def _pass_turns(batch: Batch, run: Run) -> None:
    """What was done before its turn need not be done again; what was let past is done now."""
    for piece in run.pieces:
        turn = batch.turn.get(piece)
        if turn is not None and run.op > turn:
            batch.early.setdefault(run.op, set()).add(piece)
        elif turn == run.op:
            del batch.turn[piece]


def repeat_way(batch: Batch, piece: int, route: Rework) -> None:
    """A rework passes its operations again, those too that were done before their turn."""
    for op in batch.checklist.list_way(route.id):
        batch.early.get(op, set()).discard(piece)


def _send_to_rework(batch: Batch, run: Run, piece: int, mark: CountMark, entry: Entry) -> None:
    """A piece found in the count of a run; in place, it stays on its load until that is released."""
    reason = batch.find_operation(run).reason(mark.reason)
    assert reason is not None
    route = batch.checklist.rework(reason.rework)
    assert route is not None
    batch.passes[(piece, route.id)] += 1
    batch.found[piece] = run.op
    repeat_way(batch, piece, route)
    if not is_reworked_in_place(batch, run, route):
        move_piece(batch, piece, PiecePlace("waiting", op=route.back_to, rework=route.id, seq=entry.seq))


def _record_lots(batch: Batch, run: Run) -> None:
    """What a run was worked with, as it is when it is counted: a lot that is recorded later changes nothing of it."""
    for _, step in batch.find_operation(run).numbered_steps:
        lots = find_lots_in_use(batch, run, step.what) if isinstance(step, LotRecorded) else ()
        if isinstance(step, LotRecorded) and lots:
            run.lots[step.what] = ", then ".join(lots)


def _goes_on_with(batch: Batch, run: Run, piece: int) -> str:
    """The rework that a piece counted in a run has not finished yet."""
    load = batch.loads[run.load]
    on = [one.rework for one in reversed(load.detours) if piece in one.pieces] or [load.rework]
    return on[0] if batch.checklist.is_apart(on[0], batch.checklist.after(run.op, on[0])) else ""


def end_run_of_load(batch: Batch, load: Load, not_done: int = 0) -> None:
    """End the run under way: pieces that missed part of it, or something before, make up for it now.

    Args:
        not_done: the run's operation if the load still has to pass it; all pieces then pass it together.
    """
    load.run = load.ahead = None
    ops = batch.list_leg_ops(load)
    while load.behind:
        detour = load.behind.pop()
        if detour.found == not_done:
            if detour.at == not_done:
                continue
            detour.found = ops[ops.index(not_done) - 1]
        push_detour(load.detours, detour)


def push_detour(detours: list[Detour], detour: Detour) -> None:
    """Push a detour, or merge it with the same one on top."""
    same = next((d for d in detours if (d.rework, d.found, d.at) == (detour.rework, detour.found, detour.at)), None)
    if same is not None:
        same.pieces |= detour.pieces
    else:
        detours.append(detour)


def end_detours(batch: Batch, load: Load, entry: Entry, at: datetime) -> None:
    """End detours that are finished or empty, and dissolve a load that is empty or has finished its leg.

    Pieces on hold that cannot leave the carrier keep the load, so that the carrier is not taken for free.
    """
    while load.detours and (load.detours[-1].at is None or not batch.find_next_pieces(load)):
        load.detours.pop()
    skip_done_ops(batch, load)
    if load.at is not None and (batch.present(load) or batch.sitting(load, "hold")):
        return
    for piece in batch.sitting(load):
        move_piece(batch, piece, replace(batch.places[piece], sits=False))
    following = batch.checklist.after(batch.list_leg_ops(load)[-1], load.rework)
    for piece in batch.present(load):
        set_waiting(batch, piece, following, load.rework, entry)
    load.dissolved = at


def skip_done_ops(batch: Batch, load: Load) -> None:
    """Pass a load over the operations that all on it have passed before their turn."""
    ops = batch.list_leg_ops(load)
    while load.next_op is not None and not load.detours and batch.present(load) and not batch.find_next_pieces(load):
        load.next_op = next((op for op in ops if op > (load.next_op or 0)), None)
    load.early = frozenset(op for op in load.early if load.next_op is not None and op >= load.next_op)


def set_waiting(batch: Batch, piece: int, op: int | None, rework: str, entry: Entry) -> None:
    """Let a piece wait loose for its next operation, with the others of its rework until the routes join again."""
    apart = rework if batch.checklist.is_apart(rework, op) else ""
    op = op if apart else batch.find_turn(piece, op)
    if op is None:
        move_piece(batch, piece, PiecePlace("finished", seq=entry.seq))
    else:
        move_piece(batch, piece, PiecePlace("waiting", op=op, rework=apart, seq=entry.seq))


def record_wear_of_emptied_run(batch: Batch, pieces: Sequence[int]) -> None:
    """If these are the last pieces of a stopped run, count its tool wear as a whole cycle."""
    for run in find_emptied_runs(batch, pieces):
        for tool, used in compute_wasted_tool_life(batch, run).items():
            batch.tools[run.station, tool].used += used


def leave_run(batch: Batch, piece: int, entry: Entry) -> None:
    load = batch.loads[batch.places[piece].load]
    if load.run is not None:
        run = batch.runs[load.run]
        require(entry, run.count is None, f"load {load.number} is counted but not released")
        run.pieces = tuple(one for one in run.pieces if one != piece)


def tidy_loads(batch: Batch, pieces: Sequence[int], entry: Entry, at: datetime) -> None:
    for number in {batch.places[piece].load for piece in pieces} - {0}:
        if batch.loads[number].dissolved is None:
            tidy_load(batch, batch.loads[number], entry, at)


def tidy_load(batch: Batch, load: Load, entry: Entry, at: datetime) -> None:
    """Tidy a load after pieces were taken from it: without pieces, its run, detours and the load itself end."""
    if load.run is not None and not batch.runs[load.run].pieces:
        run = batch.runs[load.run]
        run.released, run.released_by = at, entry.by
        end_run_of_load(batch, load, not_done=run.op)
    if load.run is None:
        end_detours(batch, load, entry, at)
