"""What is found out about nonconforming pieces, and told the customer, also after they were decided on.

The cause stands in the same record as what it explains; that the customer knows of nonconforming pieces has a name, a
day and their reference (ISO 9001:2015, 8.7.1 c and 10.2.1; 21 CFR 211.188(b)(12) for the cause).
"""

from __future__ import annotations

from typing import Literal

from floor.batch import events
from floor.batch.command import Context, Refused, refuse_closed_batch
from floor.batch.counting.commands import SHORTEST_NAME, read_day
from floor.batch.counting.losses import iter_loss_events
from floor.batch.events import FollowedUp, OutDecided, SetAside, iter_events, make_drafts
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Draft, Entry
from floor.text import format_count, sanitize


@dataclass(frozen=True, slots=True)
class FollowUp:
    """Record the cause found of a nonconformity, or that the customer was told of it."""

    pieces: tuple[int, ...]
    what: Literal["cause found", "customer told"]
    person: str
    on: str
    text: str
    reference: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        told = self.what == "customer told"
        good = set(self.pieces) - find_nonconforming_pieces(batch)
        if good or not self.pieces or len(set(self.pieces)) < len(self.pieces):
            many = format_count(len(good), "piece")
            wrong = f"{many} never found nonconforming" if good else "no pieces named, or one twice"
            raise Refused("unknown", wrong, "choose pieces that were marked, held or out of limits")
        person, text = sanitize(self.person, 40), sanitize(self.text)
        if sum(map(str.isalpha, person)) < SHORTEST_NAME:
            wrong = "nobody is named"
            raise Refused("input", wrong, f"enter who {'was told' if told else 'looked into it'}", field="person")
        on = read_day(self.on, "day", "on", context.now.at.date())
        if len(text) < 3:
            wrong = f"{'what they were told' if told else 'the cause'}: nothing entered"
            raise Refused("input", wrong, "write it in a few words", field="text")
        reference = sanitize(self.reference, 40) if told else ""
        return make_drafts(
            events.FollowedUp(what=self.what, pieces=self.pieces, person=person, on=on, text=text, reference=reference)
        )


def find_nonconforming_pieces(batch: Batch) -> set[int]:
    """Pieces that were ever counted as other than good, set aside, on hold, or out of limits."""
    found = {piece for _, event in iter_loss_events(batch, SetAside) for piece in event.pieces}
    found |= {piece for _, event in iter_loss_events(batch, OutDecided) for piece in event.pieces}
    found |= {piece for _, _, said in batch.counts() for piece, to in said.items() if to != "good"}
    stations = (one.among for one in batch.out.values() if not one.gate.of_piece)
    return found.union(batch.held(), *stations)


def list_follow_ups(batch: Batch, piece: int | None = None) -> list[tuple[Entry, FollowedUp]]:
    """Those that stand, about one piece or any, in their order."""
    return [
        (entry, event)
        for entry, event in iter_events(batch.list_entries(FollowedUp.KIND), FollowedUp)
        if entry.seq not in batch.struck and piece in (None, *event.pieces)
    ]
