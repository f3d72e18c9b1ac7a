"""What happened at a station, in words."""

from __future__ import annotations

from floor.batch.describe_registry import describes
from floor.batch.events import (
    BackInService,
    ConditionCleared,
    ConditionReported,
    Disturbed,
    OutOfService,
    SetupTakenDown,
    ToolWorn,
)
from floor.batch.gates.lapse_causes import DISTURBANCES
from floor.batch.state import Batch
from floor.entry import parse_wall
from floor.text import format_wall_clock


@describes(Disturbed)
def _disturbed(batch: Batch, event: Disturbed) -> str:
    what = DISTURBANCES[event.what]
    more = [f"load {event.load}"] if event.load else []
    more += [f"tool {event.tool}"] if event.tool else []
    more += [event.offset] if event.offset else []
    more += [event.note] if event.note else []
    return f"{event.station}: {what}" + (f" ({', '.join(more)})" if more else "")


@describes(ToolWorn)
def _worn(batch: Batch, event: ToolWorn) -> str:
    tools = [f"tool {number} {_used(batch, number, used)}" for number, used in event.tools]
    return f"{event.station}: {', '.join(tools)}, after a cycle of {event.other}"


def _used(batch: Batch, number: int, used: float) -> str:
    card = batch.checklist.tool(number)
    whole = card.life.base if card is not None and card.life is not None else 0.0
    return f"{100 * used / whole:.0f} % used up" if whole else "used further"


def _named(batch: Batch, station: str) -> str:
    return next((one.name for one in batch.checklist.stations if one.id == station), station)


@describes(OutOfService)
def _out_of_service(batch: Batch, event: OutOfService) -> str:
    back = f", expected back {format_wall_clock(parse_wall(event.back, batch.opened))}" if event.back else ""
    return f"{_named(batch, event.station)} is out of service: {event.why}{back}"


@describes(ConditionReported)
def _condition_reported(batch: Batch, event: ConditionReported) -> str:
    return f"{_named(batch, event.station)}: {event.what}: {event.note}"


@describes(ConditionCleared)
def _condition_cleared(batch: Batch, event: ConditionCleared) -> str:
    return f"{_named(batch, event.station)}: {event.what} cleared: {event.note}"


@describes(SetupTakenDown)
def _setup_taken_down(batch: Batch, event: SetupTakenDown) -> str:
    return f"{event.station}: set-up taken down for {event.other}"


@describes(BackInService)
def _back_in_service(batch: Batch, event: BackInService) -> str:
    return f"{_named(batch, event.station)} is back in service" + (f": {event.note}" if event.note else "")
