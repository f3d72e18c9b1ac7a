"""A station out of service and back: reported to every open batch whose route uses it, and to later ones."""

from __future__ import annotations

from datetime import datetime

from floor.batch import events
from floor.batch.command import Context, Refused, refuse_closed_batch, require_reason, require_within_ten_years
from floor.batch.events import make_drafts
from floor.batch.open_items import Outage
from floor.batch.state import Batch
from floor.checklist.model import Checklist
from floor.dataclass import dataclass
from floor.entry import Draft, format_time, format_wall
from floor.text import format_clock, sanitize


@dataclass(frozen=True, slots=True)
class TakeOutOfService:
    """Block starts at a station, broken or under maintenance, until it is reported back.

    Given again, it changes the reason or time.
    """

    station: str
    why: str
    back: datetime | None = None
    """When it is expected back, aware; None where nobody knows."""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        require_station(batch, self.station)
        why = require_reason(self.why, "taking a station out of service")
        if self.back is not None:
            require_within_ten_years(self.back, context.now.at, "enter when it is back, or leave it blank", "back")
        if self.back is not None and self.back <= context.now.at:
            raise Refused(
                "input",
                f"expected back {format_clock(self.back, context.now.at)} is past",
                "enter a later time, or none where nobody knows",
                field="back",
            )
        before = _outage(batch, self.station, context)
        since = before.since if before is not None else context.now.at
        return _out(self.station, Outage(why, context.by.initials, since, self.back))


@dataclass(frozen=True, slots=True)
class ReturnToService:
    """Allow starts at the station again; proofs there stand unless something else voids them."""

    station: str
    note: str = ""

    def decide(self, batch: Batch, context: Context) -> list[Draft]:
        refuse_closed_batch(batch)
        require_station(batch, self.station)
        if _outage(batch, self.station, context) is None:
            raise Refused("not now", f"{batch.checklist.station(self.station).name} is in service", "go on with it")
        return make_drafts(events.BackInService(station=self.station, note=sanitize(self.note)))


def draft_known_outages(checklist: Checklist, context: Context) -> list[Draft]:
    """For a batch that comes into the shop: stations of its route already out of service."""
    stations = [station.id for station in checklist.stations if station.id in context.elsewhere.outages]
    return [one for station in stations for one in _out(station, context.elsewhere.outages[station])]


def refuse_out_of_service(batch: Batch, station: str, context: Context) -> None:
    outage = _outage(batch, station, context)
    if outage is not None:
        raise Refused(
            "busy",
            f"{batch.checklist.station(station).name} is {outage.said(context.now.at)} ({outage.by})",
            "wait, or report it back in service (x)",
        )


def _outage(batch: Batch, station: str, context: Context) -> Outage | None:
    """The outage as the batch knows it, else from the shop's own record."""
    return batch.outages.get(station) or context.elsewhere.outages.get(station)


def require_station(batch: Batch, id: str) -> None:
    """
    Raises:
        Refused: the route has no such station.
    """
    if not any(station.id == id for station in batch.checklist.stations):
        raise Refused("unknown", f"there is no station {sanitize(id, 40)}", "choose one from the list")


def _out(station: str, outage: Outage) -> list[Draft]:
    back = format_wall(outage.back) if outage.back is not None else ""
    return make_drafts(
        events.OutOfService(
            station=station, why=outage.why, said_by=outage.by, since=format_time(outage.since), back=back
        )
    )
