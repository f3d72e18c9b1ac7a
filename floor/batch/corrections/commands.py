"""Notes, striking out, and a lead's decisions on struck entries and on the clock."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from floor.batch import events
from floor.batch.command import (
    FREE_IT,
    Context,
    Refused,
    refuse_closed_batch,
    require_reason,
    require_within_ten_years,
)
from floor.batch.corrections.put_off import list_put_off
from floor.batch.corrections.strike_effects import find_dependent_runs
from floor.batch.corrections.unproved_work import find_open_unproved_work, find_unproved_work
from floor.batch.events import (
    Counted,
    CycleStarted,
    Disturbed,
    Proved,
    Released,
    StruckOut,
    make_drafts,
    read_event,
    read_if_kind,
)
from floor.batch.fold import Inapplicable, fold
from floor.batch.gates.open_lot import find_struck_lot
from floor.batch.gates.soak_outcome import is_from_file
from floor.batch.load import LOST
from floor.batch.state import Batch
from floor.batch.stations.capacity import count_places_in_use
from floor.dataclass import dataclass
from floor.entry import Draft, Entry, format_wall
from floor.text import format_clock, sanitize


@dataclass(frozen=True, slots=True)
class Note:
    """A remark; ``abnormal`` and ``next_shift`` bring it onto the handover page.

    With an owner or a time it is work put off, and stays there until it is marked done.
    """

    text: str
    load: int | None = None
    run: int | None = None
    abnormal: bool = False
    next_shift: bool = False
    owner: str = ""
    due: datetime | None = None
    """By when, aware."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        text = sanitize(self.text)
        if not text:
            raise Refused("input", "an empty note", "write something")
        if self.run is not None and self.run not in batch.runs:
            raise Refused("unknown", f"there is no run {self.run}", "choose one from the list")
        owner = sanitize(self.owner).upper()
        if owner:
            context.need_known(owner, "owner")
        if self.due is not None:
            _require_ahead(self.due, context.now.at)
        return make_drafts(
            events.Noted(
                text=text,
                load=self.load,
                run=self.run,
                abnormal=self.abnormal,
                next_shift=self.next_shift or bool(owner or self.due),
                owner=owner,
                due=format_wall(self.due) if self.due is not None else "",
            )
        )


def _require_ahead(due: datetime, now: datetime) -> None:
    require_within_ten_years(due, now, "enter when it is to be done, or leave it blank", "due")
    if due <= now:
        wrong = f"{format_clock(due, now)}, by when it is to be done, is past"
        raise Refused("input", wrong, "enter a later time, or leave it blank", field="due")


@dataclass(frozen=True, slots=True)
class MarkNoteDone:
    """Take work put off in a note off the handover page: it is done, or need not be any more."""

    note: int
    how: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        if all(one.seq != self.note for one in list_put_off(batch)):
            raise Refused("unknown", "there is no such note still to be done", "choose one from the list")
        return make_drafts(events.NoteDone(of=self.note, how=sanitize(self.how)))


@dataclass(frozen=True, slots=True)
class StrikeOut:
    """Take back an earlier entry, with a reason. It stays readable; the state is rebuilt without it."""

    seq: int
    why: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        entry = self.allowed(batch, context)
        return make_drafts(
            events.StruckOut(seq=self.seq, reason=require_reason(self.why, "striking out"), what=entry.kind)
        )

    def allowed(self, batch: Batch, context: Context) -> Entry:
        """The entry, if it may be struck out; check this before asking for the reason. Raises `Refused`."""
        refuse_closed_batch(batch)
        entry = next((entry for entry in batch.entries if entry.seq == self.seq), None)
        if entry is None:
            raise Refused("unknown", f"there is no entry {self.seq}", "choose one from the history")
        if entry.seq in batch.struck:
            raise Refused(
                "not now", f"entry {self.seq} is struck out already by entry {batch.struck[self.seq]}", "look there"
            )
        event = read_event(entry)
        if event.LOCKED:  # later remarks are added instead (HND-29 of the guidance this follows)
            wrong = f"entry {self.seq} ({entry.kind.replace('_', ' ')}) is locked"
            raise Refused("authority", wrong, "add a note instead", signs="")
        if isinstance(event, Disturbed | StruckOut) and event.told:
            where = event.note or "entered on another batch"
            wrong = f"entry {self.seq} came from another batch ({where}) and is locked here"
            raise Refused("authority", wrong, "strike it out there", signs="")
        if entry.by != context.by.initials:
            context.need_lead(f"striking out what {entry.by} entered")
        if isinstance(event, Proved) and is_from_file(event.values):  # nobody typed it, so nobody mistyped it
            context.need_lead("striking out what a file says")
        try:
            without = fold(batch.entries, (self.seq,), batch.checklist)
        except Inapplicable as error:
            later = error.entry
            raise Refused(
                "later entries",
                f"entry {later.seq} ({later.kind.replace('_', ' ')}) depends on entry {self.seq}: {error.why}",
                f"strike out entry {_release_of(batch, later) or later.seq} first",
            ) from error
        _refuse_standing_never_started(batch, without, self.seq)
        _need_lead_for(batch, without, context)
        _room_for(batch, without, context)
        return entry


@dataclass(frozen=True, slots=True)
class StrikeTold:
    """Another batch struck out something it had passed on to this one: it is struck out here too."""

    cited: str
    why: str
    other: str
    told: str

    def entries(self, batch: Batch) -> list[Entry]:
        """The entries it had passed on that still stand."""
        return [
            entry
            for entry in batch.entries
            if entry.seq not in batch.struck
            and isinstance(said := read_event(entry), Disturbed | StruckOut)
            and said.told == self.cited
        ]

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        struck = self.entries(batch)
        try:
            fold(batch.entries, [entry.seq for entry in struck], batch.checklist)
        except Inapplicable as error:
            later = error.entry
            raise Refused(
                "later entries",
                f"entry {later.seq} of {batch.id} ({later.kind.replace('_', ' ')}) depends on it: {error.why}",
                f"strike out entry {later.seq} of {batch.id} first",
            ) from error
        return [
            one
            for entry in struck
            for one in make_drafts(
                events.StruckOut(
                    seq=entry.seq, reason=self.why, what=entry.kind, told=self.told, note=f"entered on {self.other}"
                )
            )
        ]


def _refuse_standing_never_started(batch: Batch, without: Batch, seq: int) -> None:
    """A program stop goes before the start of its cycle; where an old record has it alone, other strikes go on."""
    for run in without.runs.values():
        known = batch.runs.get(run.number)
        if run.stands is not None and run.started is None and known is not None and known.started is not None:
            raise Refused(
                "later entries",
                f"entry {run.stands.seq} (step done) depends on entry {seq}: the cycle cannot stop before it starts",
                f"strike out entry {run.stands.seq} first",
            )


def _release_of(batch: Batch, entry: Entry) -> int:
    """The release of the run that an entry belongs to, which must be struck out first; 0 if there is none."""
    run = read_event(entry).first_run
    released = [
        one.seq for one in batch.entries if (over := read_if_kind(one, Released)) is not None and over.run == run
    ]
    return next((seq for seq in reversed(released) if seq not in batch.struck), 0)


def _need_lead_for(batch: Batch, without: Batch, context: Context) -> None:
    """Striking out does not bring held or questioned pieces back into work: a lead decides on them."""
    there = [without.places[piece].where for piece in batch.held() if piece in without.places]
    if any(where not in ("hold", *LOST) for where in there):
        context.need_lead("striking out what put pieces on hold")
    for number in {number for one in find_open_unproved_work(batch) for number in one.runs - one.held}:
        run = without.runs.get(number)
        if run is None or run.released is None:
            context.need_lead(f"taking back the release of run {number}, whose pieces are in question,")


def _room_for(batch: Batch, without: Batch, context: Context) -> None:
    """A load or run that comes back needs its carrier and station, which others may be using by now."""
    alive_before = {load.number for load in batch.list_live_loads()}
    for load in without.list_live_loads():
        other = context.elsewhere.carriers.get((load.carrier, load.carrier_number), "")
        if load.number not in alive_before and other:
            name = without.format_carrier(load)
            raise Refused("busy", f"{name} would carry load {load.number} again, but {other} has it", "empty it")
    open_before = {run.number for run in batch.list_open_runs()}
    for run in without.list_open_runs():
        station = without.checklist.station(run.station)
        others = context.elsewhere.runs.get(run.station, ())
        held = count_places_in_use(without, run.station) + context.elsewhere.taken(run.station)
        if run.number not in open_before and held > station.runs_at_once:
            raise Refused("busy", f"{station.name} busy: {', '.join(others)}", FREE_IT)


def find_dependent_entries(batch: Batch, seq: int) -> list[int]:
    """Later entries of the same run, and those by which other runs went on because of this one.

    Check them again when this one is struck out.
    """
    if not 0 < seq <= len(batch.entries) or not (own := set(read_event(batch.entries[seq - 1]).runs)):
        return []
    others = {run.number for run in find_dependent_runs(batch, seq)}
    later = ((one.seq, read_event(one)) for one in batch.entries[seq:] if one.seq not in batch.struck)
    return [
        number
        for number, event in later
        if own & set(event.runs) or (isinstance(event, CycleStarted | Counted | Released) and event.run in others)
    ]


@dataclass(frozen=True, slots=True)
class SettleUnproved:
    """A lead decides on loads that went on by a proof struck out later: proved in another way, or used as is.

    To hold the pieces instead, give `HoldBack` for each run.
    """

    strike: int
    how: Literal["proved afterwards", "use as is"]
    why: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        one = find_unproved_work(batch).get(self.strike)
        if one is None or not one.open:
            raise Refused("unknown", "there is nothing to decide about that", "choose one from the list")
        context.need_lead("deciding on what went on without its proof")
        if self.how not in ("proved afterwards", "use as is"):
            wrong = f'"{sanitize(str(self.how), 20)}" is not a decision'
            raise Refused("input", wrong, "one of: proved afterwards, use as is")
        lot = find_struck_lot(batch, self.strike) if self.how == "proved afterwards" else None
        if lot is not None:  # in words alone, the pieces would have no lot on record
            wrong = "which lot they were made with is not on record"
            raise Refused("input", wrong, f"enter the right lot of entry {lot.seq} (history: Del), or use them as is")
        why = require_reason(self.why, "this decision")
        return make_drafts(events.UnprovedSettled(strike=self.strike, how=self.how, reason=why))


@dataclass(frozen=True, slots=True)
class ConfirmClock:
    """A lead confirms that the shop's clock is right: earlier jumps no longer count as doubt."""

    why: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        context.need_lead("confirming the clock")
        return make_drafts(events.ClockConfirmed(reason=require_reason(self.why, "confirming the clock")))
