"""A lot recorded wrong, corrected for all that it was recorded for: a load, a set-up, or the batch from then on.

What was entered first stays on record. Pieces get the right lot as if it had been entered there, so a lot that was
struck out comes back as the right one.
"""

from __future__ import annotations

from floor.batch import events
from floor.batch.command import Context, Refused, refuse_closed_batch, require_reason
from floor.batch.corrections.commands import StrikeOut
from floor.batch.events import make_drafts, read_event
from floor.batch.gates.entered_values import read_date, read_lot_number
from floor.batch.gates.fold_lots import read_lot_of_entry
from floor.batch.gates.open_lot import find_lot_gate, refuse_far_date
from floor.batch.proof import is_past_use_by
from floor.batch.state import Batch
from floor.checklist.gates import LotRecorded
from floor.dataclass import dataclass
from floor.entry import Draft, Entry
from floor.text import format_wall_clock


@dataclass(frozen=True, slots=True)
class CorrectLot:
    """Give an entry the right lot: by who recorded it, or a lead; a second time only a lead.

    Where the entry was struck out, that is taken back, by who struck it out or a lead.
    """

    seq: int
    """The entry that recorded the lot."""
    lot: str
    use_by: str = ""
    why: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        entry, gate = self.allowed(batch, context)
        lot = read_lot_number(self.lot, gate.what, "lot number")
        use_by = _read_use_by(batch, entry, gate, lot, self.use_by)
        known = read_lot_of_entry(entry, batch.corrected_lots.get(entry.seq))
        assert known is not None, "it has the gate of a lot"
        strike, is_right = batch.struck.get(entry.seq), (lot, use_by) == known
        if is_right and strike is None:
            same = f"{gate.what} {lot} is on record already"
            raise Refused("input", same, "enter the right one, or Esc", field="lot")
        why = require_reason(self.why, "correcting a lot")
        drafts: list[Draft] = []
        if strike is not None:
            drafts += make_drafts(events.StruckOut(seq=strike, reason=why, what=events.StruckOut.KIND))
        if not is_right:  # one struck out that was right needs no more than that
            drafts += make_drafts(
                events.LotCorrected(
                    of=self.seq,
                    what=gate.what,
                    was=known[0],
                    lot=lot,
                    use_by=use_by,
                    reason=why,
                    run=read_event(entry).first_run,
                )
            )
        return drafts

    def allowed(self, batch: Batch, context: Context) -> tuple[Entry, LotRecorded]:
        """The entry and its gate, if its lot may be corrected; check this before asking for the right one."""
        refuse_closed_batch(batch)
        entry = next((entry for entry in batch.entries if entry.seq == self.seq), None)
        gate = find_lot_gate(batch, entry) if entry is not None else None
        if entry is None or gate is None:
            raise Refused("unknown", f"entry {self.seq} records no lot", "choose one from the history")
        if gate.serial:
            wrong = f"{gate.what} is a gauge, recorded by its serial number"
            raise Refused("not now", wrong, "strike out the entry, then record the right one")
        if entry.by != context.by.initials:
            context.need_lead(f"correcting a lot that {entry.by} recorded")
        if entry.seq in batch.corrected_lots:
            context.need_lead("correcting a lot twice")
        if entry.seq in batch.struck:
            StrikeOut(batch.struck[entry.seq]).allowed(batch, context)
        return entry, gate


def _read_use_by(batch: Batch, entry: Entry, gate: LotRecorded, lot: str, typed: str) -> str:
    """The date of the right lot, which must have been good when it was used.

    Raises:
        Refused: it is no date, was past then, or is too far away.
    """
    if not gate.asks_date:
        return ""
    until, then = read_date(typed, f"{gate.what}: {gate.until}", "use_by"), entry.done
    if is_past_use_by(until, then.date()):
        wrong = f"{gate.what}: {gate.until} {until}, already past when it was recorded ({format_wall_clock(then)})"
        strike = "" if entry.seq in batch.struck else "strike out the entry, then "
        remedy = f"{strike}a lead holds what was made with it, or uses it as is"
        attempt = events.AttemptRefused(
            what="past its date",
            subject=gate.what,
            values={"lot": lot, "use_by": until.isoformat()},
            run=read_event(entry).first_run,
        )
        raise Refused("gate", wrong, remedy, field="use_by", attempt=attempt)
    refuse_far_date(gate, until, then.date())
    return until.isoformat()
