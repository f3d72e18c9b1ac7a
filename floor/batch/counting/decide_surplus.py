"""What becomes of pieces that a filled order does not need."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from floor.batch import events
from floor.batch.command import (
    Context,
    Refused,
    refuse_closed_batch,
    require_load,
    require_reason,
    require_whole_number,
)
from floor.batch.counting.surplus import is_order_filled, list_removable_pieces, list_unfinished_pieces
from floor.batch.events import make_drafts
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Draft
from floor.text import format_count


def _need_filled(batch: Batch) -> None:
    refuse_closed_batch(batch)
    if not is_order_filled(batch):
        short = batch.order - batch.total("finished")
        raise Refused(
            "not now",
            f"the order is not filled: {format_count(short, 'good piece')} still to come",
            "go on; set suspect or lost pieces aside (m)",
        )


@dataclass(frozen=True, slots=True)
class TakeOutSurplus:
    """Take pieces that the filled order does not need out of work: kept as spares, or stopped for good by a lead.

    Without a load or operation: all pieces in work that can be taken out now.
    """

    to: Literal["spare", "stopped"]
    why: str
    load: int | None = None
    op: int | None = None
    rework: str = ""
    """With ``op``: the rework route that the waiting pieces are on."""
    count: int | None = None

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        _need_filled(batch)
        if self.to not in ("spare", "stopped"):
            raise Refused("input", "surplus is kept as spares or stopped", "choose one of the two")
        if self.to == "stopped":
            context.need_lead("stopping pieces for good")
        why = require_reason(self.why, "stopping pieces" if self.to == "stopped" else "keeping spares")
        there = self._there(batch)
        if not there:
            raise Refused("count", "no surplus piece is in process there", "choose others")
        pieces = list_removable_pieces(batch, there)
        if not pieces:
            wrong = f"{format_count(len(there), 'piece')} in a running cycle, decided on, or counted but not released"
            raise Refused("not now", wrong, "release the load first")
        if self.count is not None:
            most = len(pieces)
            pieces = pieces[-require_whole_number(self.count, "the pieces", 1, most) :]
        return make_drafts(
            events.SurplusTakenOut(to=self.to, pieces=tuple(pieces), reason=why, load=self.load, op=self.op)
        )

    def _there(self, batch: Batch) -> list[int]:
        open_ = list_unfinished_pieces(batch)
        if self.load is not None:
            on = set(batch.present(require_load(batch, self.load)))
            return [piece for piece in open_ if piece in on]
        if self.op is not None:
            return batch.waiting(self.op, self.rework)
        return open_


@dataclass(frozen=True, slots=True)
class BringBackSurplus:
    """Take spares back into work where they left it; stopped pieces only by a lead."""

    op: int
    """The operation that they would go through next."""
    why: str
    where: Literal["spare", "stopped"] = "spare"
    rework: str = ""
    count: int | None = None
    """Left out: all of them."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        if self.where == "stopped":
            context.need_lead("taking stopped pieces back into process")
        why = require_reason(self.why, "taking pieces back into process")
        there = list_pieces_taken_out(batch, self.where, self.op, self.rework)
        if not there:
            raise Refused("count", f"there is no {self.where} piece before op {self.op}", "choose one from the list")
        count = len(there) if self.count is None else require_whole_number(self.count, "the pieces", 1, len(there))
        return make_drafts(events.SurplusBroughtBack(pieces=tuple(there[:count]), op=self.op, reason=why))


def list_pieces_taken_out(batch: Batch, where: str, op: int, rework: str = "") -> Sequence[int]:
    """Pieces that were taken out before an operation, in the order they were taken out."""
    found = [
        (place.seq, piece)
        for piece, place in batch.places.items()
        if (place.where, place.op, place.rework) == (where, op, rework)
    ]
    return [piece for _, piece in sorted(found)]


@dataclass(frozen=True, slots=True)
class LetSurplusGoOn:
    """Let surplus pieces of a filled order go on: to the end, or up to an operation."""

    why: str
    until: int | str | None = None
    """The last operation, None for the end of the route; text is refused."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        _need_filled(batch)
        why = require_reason(self.why, "going on with a filled order")
        ops = batch.checklist.route
        until = ops[-1] if self.until is None else self.until
        if not isinstance(until, int) or until not in ops:
            raise Refused("unknown", f"there is no op {until} in the route", "choose one from the list")
        return make_drafts(events.SurplusGoesOn(until=until, reason=why))
