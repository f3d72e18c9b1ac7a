"""A guard off, a lock on, a temporary fix: on record from the first word until somebody clears it.

Reported to every open batch whose route uses the station, and to later ones; read back at each handover (HND-10, -11).
Each person has a lock of their own, and while one is on nothing begins there; a guard off or a bypass holds the start
of the cycle only, for a set-up may need it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

from floor.batch import events
from floor.batch.command import Context, Refused, refuse_closed_batch, require_reason
from floor.batch.events import Condition, make_drafts
from floor.batch.open_items import Conditions, StationCondition, make_condition_key
from floor.batch.state import Batch
from floor.batch.stations.out_of_service import require_station
from floor.checklist.model import Checklist
from floor.dataclass import dataclass
from floor.entry import Draft, format_time

CONDITIONS: Mapping[Condition, str] = {
    "lock on": "locked or tagged out: someone is working in it",
    "guard off": "a guard or shield is off",
    "interlock bypassed": "an interlock is bypassed",
    "safety equipment out": "exhaust, emergency stop or extinguisher is out of order",
    "temporary fix": "a temporary fix is in place",
}
"""Each in words, as the form offers them, the gravest first."""
HOLDS_STARTS: Collection[Condition] = ("guard off", "interlock bypassed", "lock on")
"""No cycle starts at a station while one of these stands."""


@dataclass(frozen=True, slots=True)
class ReportCondition:
    """Given again, it changes the note."""

    station: str
    what: Condition
    note: str

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        require_station(batch, self.station)
        if self.what not in CONDITIONS:
            raise Refused("unknown", "that is not on the list", "choose one from the list")
        note = require_reason(self.note, "leaving it this way", "note")
        before = _list_all(batch, context).get(make_condition_key(self.station, self.what, context.by.initials))
        since, by = (before.since, before.by) if before is not None else (context.now.at, context.by.initials)
        return _draft(self.station, StationCondition(self.what, note, by, since))


@dataclass(frozen=True, slots=True)
class ClearCondition:
    """It is as it was. A lock is taken off by who put it on, else by a lead (29 CFR 1910.147(e)(3))."""

    station: str
    what: Condition
    note: str
    whose: str = ""
    """Whose lock, if not one's own."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        require_station(batch, self.station)
        key = make_condition_key(self.station, self.what, self.whose or context.by.initials)
        if key not in _list_all(batch, context):
            name = batch.checklist.station(self.station).name
            raise Refused("not now", f'{name}: "{self.what}" is not on record', "look at the list again")
        if key.whose and key.whose != context.by.initials:
            context.need_lead(f"removing {key.whose}'s lock")
        note = require_reason(self.note, "clearing it", "note")
        return make_drafts(events.ConditionCleared(station=self.station, what=self.what, note=note, whose=key.whose))


def draft_known_conditions(checklist: Checklist, context: Context) -> list[Draft]:
    """For a batch that comes into the shop: what stands at the stations of its route."""
    ours = {station.id for station in checklist.stations}
    known = context.elsewhere.conditions.items()
    return [one for key, stands in known if key.station in ours for one in _draft(key.station, stands)]


def list_conditions_at(batch: Batch, station: str) -> list[StationCondition]:
    return [stands for key, stands in batch.conditions.items() if key.station == station]


def refuse_unsafe_start(batch: Batch, station: str, context: Context, *, cuts: bool = True) -> None:
    """
    Args:
        cuts: whether the machine turns or the work begins with it; a set-up may need a guard off, never a lock on.

    Raises:
        Refused: a lock is on there, or a guard off or an interlock bypassed.
    """
    stands = find_hold(_list_all(batch, context), station, cuts=cuts)
    if stands is not None:
        name = batch.checklist.station(station).name
        raise Refused("busy", f"{name}: {stands.said(context.now.at)}", "put it right, then clear it (x)")


def find_hold(conditions: Conditions, station: str, *, cuts: bool) -> StationCondition | None:
    """What holds a start at a station; see `refuse_unsafe_start`."""
    for key, stands in conditions.items():
        if key.station == station and (key.what == "lock on" or (cuts and key.what in HOLDS_STARTS)):
            return stands
    return None


def _list_all(batch: Batch, context: Context) -> Conditions:
    """As the batch knows it, and as the shop's own record says: a batch that could not be told knows less."""
    return context.elsewhere.conditions | batch.conditions


def _draft(station: str, stands: StationCondition) -> list[Draft]:
    return make_drafts(
        events.ConditionReported(
            station=station, what=stands.what, note=stands.note, said_by=stands.by, since=format_time(stands.since)
        )
    )
