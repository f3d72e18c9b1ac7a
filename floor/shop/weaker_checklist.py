"""Whether a checklist protects less than that of the last batch of its part."""

from __future__ import annotations

from contextlib import suppress

from floor.batch.command import Refused
from floor.batch.lifecycle.commands import Before
from floor.checklist.model import Checklist
from floor.checklist.weakening import list_weakenings
from floor.shop.open_batches import OpenBatches


def find_weaker(shop: OpenBatches, checklist: Checklist) -> Before | None:
    """The newest batch of the part, open or closed, if its checklist protects more than this one.

    None too where no batch of the part is here any more.
    """
    number = checklist.part.number
    found = [batch for batch in shop.batches if batch.checklist.part.number == number]
    last = shop.people.newest.get(number)
    if last is not None and last not in [batch.id for batch in found]:
        with suppress(Refused):  # brought back from a copy without it, or sent away
            found.append(shop.batch(last))
    newest = max(found, key=lambda batch: batch.opened, default=None)
    lost = list_weakenings(newest.checklist, checklist) if newest is not None else ()
    return Before(newest.id, lost) if newest is not None and lost else None
