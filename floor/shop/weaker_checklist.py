"""Whether a checklist asks less than those by which the part was worked before."""

from __future__ import annotations

from contextlib import suppress

from floor.batch.command import Refused
from floor.batch.lifecycle.commands import Before
from floor.batch.state import Batch
from floor.checklist.model import Checklist
from floor.checklist.weakening import list_weakenings
from floor.shop.open_batches import OpenBatches
from floor.shop.shop_record import fold_part_number


def find_weaker(shop: OpenBatches, checklist: Checklist) -> Before | None:
    """The newest batch of the part, open or closed, if its checklist protects more than this one.

    With what was given up before, since the strongest: many small steps are seen as one. None too where no batch of the
    part is here any more.
    """
    return compare_with_earlier(shop, checklist)[0]


def compare_with_earlier(shop: OpenBatches, checklist: Checklist) -> tuple[Before | None, str]:
    """What `find_weaker` finds, and the batch with which later checklists are compared besides this one; empty if this
    asks for all that it does.
    """
    known = _find_batches(shop, checklist)
    last, first = shop.people.find_newest_and_strongest(checklist.part.number)
    newest = max(known.values(), key=lambda batch: (batch.opened, batch.id == last), default=None)
    strongest = known.get(first)
    lost = list_weakenings(newest.checklist, checklist) if newest is not None else ()
    in_all = list_weakenings(strongest.checklist, checklist) if strongest is not None else ()
    still = first if in_all else ""
    if newest is None or not lost:
        return None, still
    if strongest is None or strongest is newest:
        return Before(newest.id, lost), still
    return Before(newest.id, lost, first, tuple(one for one in in_all if one not in lost)), still


def _find_batches(shop: OpenBatches, checklist: Checklist) -> dict[str, Batch]:
    """Batches of the part by id: those open here, and the newest and the strongest even if closed."""
    number = fold_part_number(checklist.part.number)
    found = {batch.id: batch for batch in shop.batches if fold_part_number(batch.checklist.part.number) == number}
    for id in shop.people.find_newest_and_strongest(checklist.part.number):
        if id and id not in found:
            with suppress(Refused):  # brought back from a copy without it, or sent away
                found[id] = shop.batch(id)
    return found
