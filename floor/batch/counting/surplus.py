"""An order that is filled while pieces are still in work: how many are surplus, and what was decided about them.

A filled order waits for a decision: finish, keep as spares, or stop. Stopped is not scrap: no yield suffers.
"""

from __future__ import annotations

from collections.abc import Collection

from floor.batch.state import Batch
from floor.text import format_count


def is_order_filled(batch: Batch) -> bool:
    """Whether as many good pieces are finished as were ordered."""
    return batch.total("finished") >= batch.order


def find_last_op_wanted(batch: Batch) -> int | None:
    """The last operation at which pieces of a filled order are still wanted: 0 until somebody decides.

    None where the order is not filled: everything is wanted.
    """
    if not is_order_filled(batch):
        return None
    return batch.goes_on.until if batch.goes_on is not None else 0


def is_wanted_at(batch: Batch, op: int | None) -> bool:
    """Whether pieces should still go through this operation; False for None."""
    until = find_last_op_wanted(batch)
    return until is None or (op is not None and op <= until)


def list_unfinished_pieces(batch: Batch) -> list[int]:
    """Pieces in work with something still to be done to them."""
    return [
        piece
        for piece, place in batch.places.items()
        if place.where in ("waiting", "load") and batch.find_next_op(piece) is not None
    ]


def find_undecided_surplus(batch: Batch) -> list[int]:
    """The pieces in work that a filled order does not need and that nobody has decided on."""
    return (
        [piece for piece in list_unfinished_pieces(batch) if not is_wanted_at(batch, batch.find_next_op(piece))]
        if is_order_filled(batch)
        else []
    )


def list_removable_pieces(batch: Batch, pieces: Collection[int]) -> list[int]:
    """Those that can be taken out now: not in a running cycle, nor between count and release.

    Nor decided as scrap, rework or hold: they could come back as good ones.
    """
    stuck: set[int] = set()
    for run in batch.list_open_runs():
        stuck |= run.decided.keys()
        if run.running or run.count is not None:
            stuck |= batch.on.get(run.load, set())
    return [piece for piece in pieces if piece not in stuck]


def list_pieces_out_of_work(batch: Batch) -> list[tuple[str, int, str, int]]:
    """(spare or stopped, the operation that would be next, rework route, how many), in the order of the route."""
    return sorted(
        (where, op, rework, count)
        for (where, op, rework), count in batch.tally.items()
        if where in ("spare", "stopped") and count
    )


def format_surplus(batch: Batch, hidden: Collection[str] = ()) -> str:
    """``3 finished over the order, 31 spare, 4 stopped``; empty if there is none.

    Args:
        hidden: keys of handover subjects whose figures are left out.
    """
    over = batch.total("finished") - batch.order
    parts = [f"{over} finished over the order"] if over > 0 else []
    spare, stopped = batch.total("spare"), batch.total("stopped")
    parts += ["spares" if "spare" in hidden else format_count(spare, "spare")] if spare else []
    parts += [f"{stopped} stopped"] if stopped else []
    return ", ".join(parts)


def format_order_filled(batch: Batch, hidden: Collection[str] = ()) -> str:
    """``ORDER FILLED: 123 of 120 good; 31 pieces in process are not needed``, with what was decided; else empty.

    Args:
        hidden: keys of what is still to be counted at a handover; figures that would give them away are left out.
    """
    if not is_order_filled(batch):
        return ""
    said = f"ORDER FILLED: {batch.total('finished')} of {batch.order} good"
    waits, rest = find_undecided_surplus(batch), list_unfinished_pieces(batch)
    if waits:
        pieces = "pieces" if hidden else format_count(len(waits), "piece")
        return f"{said}; {pieces} in process {'is' if pieces == '1 piece' else 'are'} not needed: decide on them"
    if rest and batch.goes_on is not None:
        last = batch.goes_on.until == batch.checklist.operations[-1].op
        pieces = "pieces" if hidden else format_count(len(rest), "piece")
        goes = "goes" if pieces == "1 piece" else "go"
        until = "" if last else f" up to op {batch.goes_on.until}"
        return f"{said}; {pieces} {goes} on{until} ({batch.goes_on.by}: {batch.goes_on.reason})"
    return said
