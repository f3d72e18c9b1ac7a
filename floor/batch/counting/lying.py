"""What lies in each place of a carrier, as somebody who stands before it finds it."""

from __future__ import annotations

from typing import Literal, NamedTuple

from floor.batch.load import Load
from floor.batch.state import Batch

Lies = Literal["good", "rework", "waits", "hold", "scrap", "away", ""]
"""waits: until the others have been through their rework. away: loaded here, and has left. Empty: none was."""


class InPlace(NamedTuple):
    """A place of a carrier."""

    piece: int | None
    """The one that was loaded here, there still or not."""
    lies: Lies


def list_what_lies(batch: Batch, load: Load) -> dict[str, InPlace]:
    """What lies where on the carrier of a load, row by row; empty where it has no places, or is emptied."""
    names = batch.checklist.carrier(load.carrier).positions
    if load.dissolved is not None:
        return {}
    lies = _find_lies(batch, load)
    return {
        name: InPlace(piece, lies.get(piece, "away") if piece is not None else "")
        for name, piece in zip(names, load.slots, strict=False)
    }


def _find_lies(batch: Batch, load: Load) -> dict[int, Lies]:
    """Piece → what it is, of all that are on the carrier."""
    next_ones, in_rework = set(batch.find_next_pieces(load)), batch.find_rework(load) is not None
    found: dict[int, Lies] = {
        piece: ("rework" if in_rework else "good") if piece in next_ones else "waits" for piece in batch.present(load)
    }
    run = batch.runs.get(load.run or 0)
    if run is not None:
        marks = [*run.decided.values(), *(run.count.marks if run.count is not None else ())]
        found |= {piece: mark.to for mark in marks for piece in mark.pieces if piece in found}
    for where in ("hold", "scrap"):
        found |= dict.fromkeys(batch.sitting(load, where), where)
    return found
