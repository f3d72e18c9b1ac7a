"""Pieces counted or set aside as scrap that were good after all.

The count is corrected where it stands, so figures count them as good; what was entered first stays readable. They come
back on hold, wherever their load has gone meanwhile: a lead looks at them and decides as on any held piece.
"""

from __future__ import annotations

from floor.batch import events
from floor.batch.command import Context, Refused, refuse_closed_batch, require_reason
from floor.batch.counting.follow_up import list_follow_ups
from floor.batch.events import Counted, SetAside, make_drafts, read_event
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Draft
from floor.text import name_pieces

SPOILED = ("scrap marked", "scrap destroyed")
"""What makes scrap no good piece for ever; one not found may turn up."""


@dataclass(frozen=True, slots=True)
class CorrectCount:
    """A lead takes pieces back that an entry counted as scrap: on hold, to be decided on."""

    seq: int
    """The entry that counted them, or set them aside."""
    pieces: tuple[int, ...]
    why: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        there = self.allowed(batch, context)
        if not self.pieces or len(set(self.pieces)) < len(self.pieces) or not set(there).issuperset(self.pieces):
            wrong = f"entry {self.seq} did not scrap all of these"
            raise Refused("unknown", wrong, f"choose from {name_pieces(there)}, each once", field="which")
        for entry, event in list_follow_ups(batch):
            spoiled = set(event.pieces) & set(self.pieces)
            if spoiled and event.what in SPOILED:
                wrong = f"{name_pieces(spoiled)}: {event.what} by entry {entry.seq}"
                raise Refused("not now", wrong, "strike that out first if it was another piece", field="which")
        why = require_reason(self.why, "correcting a count")
        return make_drafts(events.CountCorrected(of=self.seq, pieces=self.pieces, reason=why))

    def allowed(self, batch: Batch, context: Context) -> tuple[int, ...]:
        """The pieces that may come back; check this before asking which. Raises `Refused`."""
        refuse_closed_batch(batch)
        there = list_scrap_of(batch, self.seq)
        if not there:
            wrong = f"entry {self.seq} scrapped no piece that can come back"
            raise Refused("unknown", wrong, "choose the count of a released run, or an entry that set pieces aside")
        context.need_lead("correcting a count")
        return there


def list_scrap_of(batch: Batch, seq: int) -> tuple[int, ...]:
    """The pieces that this entry scrapped and that may come back: none while its count can still be taken back itself,
    nor of those set aside with a rework to do, which the record has lost then.
    """
    entry = batch.entries[seq - 1] if 0 < seq <= len(batch.entries) else None
    if entry is None or entry.seq in batch.struck or entry.kind not in (Counted.KIND, SetAside.KIND):
        return ()
    event = read_event(entry)
    lies = [piece for piece, place in batch.places.items() if (place.where, place.seq) == ("scrap", seq)]
    if isinstance(event, Counted):
        return tuple(lies) if batch.runs[event.run].released is not None else ()
    mended = {piece for (piece, _), passes in batch.passes.items() if passes}
    return tuple(piece for piece in lies if piece not in mended)
