"""An operation before its turn: which ones a load may pass now although others come before them in the route.

A piece that was let past an operation passes it later (`Batch.turn`), and what it passed before its turn it does not
pass again (`Batch.early`), wherever it is by then: on its load, on another, held or loose.

This is known of the piece, not of its load, which may be split or joined meanwhile. A load's order is still its route:
only `find_turn` and `find_next_pieces` look here. A route of its own for each load would have to be joined again
wherever pieces of two loads meet.
"""

from __future__ import annotations

from floor.batch.load import Load
from floor.batch.state import Batch


def list_later_ops(batch: Batch, load: Load) -> tuple[int, ...]:
    """The operations on its carrier that come after a load's next one; none while some or all of it is in rework."""
    if load.next_op is None or load.detours or load.rework or load.run is not None:
        return ()
    on = batch.on.get(load.number, set())
    ops = (op for op in batch.list_leg_ops(load) if op > load.next_op)
    return tuple(op for op in ops if op not in load.early and not on <= batch.early.get(op, set()))


def is_any_order(batch: Batch, load: Load, op: int) -> bool:
    """Whether the checklist lets a load do an operation before those ahead of it.

    One between them that is not in any order keeps them apart, even if a lead let it be done before its turn.
    """
    between = [one for one in batch.list_leg_ops(load) if (load.next_op or 0) <= one <= op]
    return all(batch.operation(one).any_order for one in between)
