"""The outcome of the pieces at each operation, counting each piece once however often it passed (quantities of ISO
22400-2).
"""

from __future__ import annotations

from collections import Counter

from floor.batch.state import Batch
from floor.dataclass import dataclass


@dataclass(frozen=True, slots=True)
class OpOutcome:
    """Pieces counted at one operation.

    A piece reworked to good counts once as produced, once as reworked, once as good.
    """

    op: int
    produced: int
    good: int
    scrap: int
    rework: int
    hold: int
    """On hold from this operation now."""
    first_pass: int
    """Good at their first count, without rework."""


def list_op_outcomes(batch: Batch) -> list[OpOutcome]:
    """One line for each operation where something was counted, in the order of the route."""
    last: dict[int, dict[int, str]] = {}
    first: dict[int, dict[int, bool]] = {}
    sent: dict[int, set[int]] = {}
    for op, rework, said in batch.counts():
        for piece, to in said.items():
            first.setdefault(op, {}).setdefault(piece, to == "good" and not rework)
            last.setdefault(op, {})[piece] = to
            if to == "rework":
                sent.setdefault(op, set()).add(piece)
    found = []
    for op in batch.checklist.ops:
        if op not in last:
            continue
        ends = {piece: _now(batch, op, piece, to) for piece, to in last[op].items()}
        tally = Counter(ends.values())
        found.append(
            OpOutcome(
                op,
                len(ends),
                tally["good"],
                tally["scrap"],
                len(sent.get(op, ())),
                tally["hold"],
                sum(first[op].values()),
            )
        )
    return found


def _now(batch: Batch, op: int, piece: int, to: str) -> str:
    """The last count's outcome, or a later decision on a piece held or set aside here."""
    place = batch.places[piece]
    if place.where in ("scrap", "hold") and place.op == op:
        return place.where
    if to == "hold":
        return "rework" if place.rework else "good"  # decided since: it has gone on
    return to
