"""What can be done about a wrong count or decision that cannot be struck out any more, as the work has gone on."""

from __future__ import annotations

from collections.abc import Collection
from typing import Literal

from floor.batch.counting.correct_count import list_scrap_of
from floor.batch.events import Counted, Disposed, read_event
from floor.batch.state import Batch
from floor.entry import Entry

Way = Literal["decide", "correct", "set aside"]
"""Decide on what the entry put on hold; take back what it scrapped; set aside what it passed as good."""

IN_HAND = ("waiting", "load", "finished")
"""Where a piece may be set aside from."""


def list_other_ways(batch: Batch, entry: Entry) -> tuple[Way, ...]:
    """What the pieces of an entry allow now, other than striking it out."""
    ways: list[tuple[Way, bool]] = [
        ("decide", any(batch.places[piece].seq == entry.seq for piece in batch.held())),
        ("correct", bool(list_scrap_of(batch, entry.seq))),
        ("set aside", any(batch.places[piece].where in IN_HAND for piece in _list_passed(batch, entry))),
    ]
    return tuple(way for way, can_be in ways if can_be)


def _list_passed(batch: Batch, entry: Entry) -> Collection[int]:
    """The pieces that an entry counted as good, or used as is."""
    match read_event(entry):
        case Counted(run=run, marks=marks):
            return set(batch.runs[run].pieces).difference(*(mark.pieces for mark in marks))
        case Disposed(decision="use as is", pieces=pieces):
            return pieces
    return ()
