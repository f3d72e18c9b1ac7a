"""Scrap of which nobody has said yet that it is marked or destroyed, and the word that it is.

What is scrapped is marked "conspicuously and permanently", or positively controlled, "until physically rendered
unusable" (AS9100D, 8.7.1, from memory): a scrapped piece looks like a good one once it is off its carrier.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import get_args

from floor.batch import events
from floor.batch.command import Context, Refused, refuse_closed_batch
from floor.batch.counting.follow_up import list_follow_ups
from floor.batch.events import Counted, Disposed, ScrapEnd, SetAside, iter_events, make_drafts
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Draft, Entry
from floor.text import format_count, name_pieces, sanitize


@dataclass(frozen=True, slots=True)
class EndScrap:
    """Record that scrapped pieces were marked permanently or destroyed, or are lost; anybody may, as it frees none."""

    pieces: tuple[int, ...]
    how: ScrapEnd
    where: str = ""
    """Where what is marked lies; empty where nobody names a place."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        if self.how not in get_args(ScrapEnd):
            raise Refused("input", "scrap is marked, destroyed or not found", "choose one of these")
        scrap = {piece for piece, place in batch.places.items() if place.where == "scrap"}
        if not self.pieces or len(set(self.pieces)) < len(self.pieces) or not scrap.issuperset(self.pieces):
            raise Refused("unknown", "not all of these are scrap", "choose scrapped pieces, each once")
        return make_drafts(
            events.FollowedUp(
                what=self.how,
                pieces=self.pieces,
                person=context.by.initials,
                on=context.now.at.date().isoformat(),
                text=sanitize(self.where, 60) if self.how == "scrap marked" else "",
            )
        )


def list_open_scrap(batch: Batch) -> tuple[int, ...]:
    """Scrapped pieces of which nobody has said that they are marked or destroyed."""
    if not batch.total("scrap"):
        return ()
    told = {
        piece: entry.seq
        for entry, event in list_follow_ups(batch)
        if event.what in get_args(ScrapEnd)
        for piece in event.pieces
    }
    return tuple(
        piece
        for piece, place in batch.places.items()
        if place.where == "scrap" and told.get(piece, 0) < place.seq  # one that came back is asked about again
    )


def list_scrapped_by(batch: Batch, entries: Iterable[Entry]) -> tuple[int, ...]:
    """Of the scrap that is neither marked nor destroyed, what these entries scrapped."""
    entries = list(entries)
    found = {piece for _, event in iter_events(entries, SetAside) for piece in event.pieces}
    found |= {piece for _, event in iter_events(entries, Disposed) for piece in event.pieces}
    found |= {piece for _, event in iter_events(entries, Counted) for mark in event.marks for piece in mark.pieces}
    return tuple(piece for piece in list_open_scrap(batch) if piece in found)


def say_open_scrap(batch: Batch, hidden: Collection[str] = ()) -> str:
    """``2 pieces of scrap not on record as marked or destroyed``; no figure while pieces are counted by hand."""
    pieces = list_open_scrap(batch)
    many = "pieces" if hidden else format_count(len(pieces), "piece")
    return f"{many} of scrap not on record as marked or destroyed" if pieces else ""


def say_scrapped(batch: Batch, pieces: Collection[int]) -> str:
    """``pieces 3-4, op 10: Groove too deep``: scrapped by one entry."""
    places = [batch.places[piece] for piece in pieces]
    codes = [(batch.operation(place.op).reason(place.reason), place.reason) for place in places]
    reasons = dict.fromkeys(code.text if code is not None else reason for code, reason in codes)
    return f"{name_pieces(pieces)}, op {places[0].op}: {'; '.join(reasons)}"
