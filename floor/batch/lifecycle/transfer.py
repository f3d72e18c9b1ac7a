"""Transferring a batch to another machine, so that it is never active in two places."""

from __future__ import annotations

from floor.batch import events
from floor.batch.command import Context, Refused, refuse_closed_batch, require_reason
from floor.batch.events import make_drafts
from floor.batch.state import Batch
from floor.batch.stations.conditions import draft_known_conditions
from floor.batch.stations.out_of_service import draft_known_outages
from floor.dataclass import dataclass
from floor.entry import Draft
from floor.text import sanitize


@dataclass(frozen=True, slots=True)
class TransferBatch:
    """Mark the batch as transferred; it takes no more work here."""

    to: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        context.need_lead("sending a batch over")
        to = sanitize(self.to, 60)
        if not to:
            raise Refused("input", "a batch is sent to somewhere", "name the machine or shop")
        return make_drafts(events.GoneOver(to=to))


@dataclass(frozen=True, slots=True)
class TakeInBatch:
    """Activate a batch that came with a bundle; or, with a reason, one whose bundle never arrived anywhere.

    It missed what happened at the stations meanwhile, so its set-ups and proofs there are void.
    """

    why: str = ""
    withdrawn: bool = False
    name: str = ""
    """Its name here, if another batch has its own."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        if not batch.gone:
            raise Refused("not now", f"batch {batch.id} is already active here", "go on with it")
        if self.withdrawn:
            context.need_lead("taking a batch back")
            why = require_reason(self.why, "taking a batch back without its bundle")
        else:
            why = sanitize(self.why)
        name = self.name if self.name != batch.id else ""
        # Others may have used its loaded tools here meanwhile.
        known = context.elsewhere.worn.items()
        worn = [(*tool, used) for tool, used in known if tool in batch.tools and batch.tools[tool].used < used]
        taken = make_drafts(
            events.TakenIn(
                name=name, reason=why, worn=tuple(worn), in_service=tuple(sorted(batch.outages)), untold=True
            )
        )
        known_here = draft_known_outages(batch.checklist, context) + draft_known_conditions(batch.checklist, context)
        return [*taken, *known_here]
