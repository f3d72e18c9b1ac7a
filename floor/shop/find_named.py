"""What in the shop goes by words: batches, loads, tools, lots, gauges, people; where each of them is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import islice

from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.shop.find_tagged import (
    BatchPlace,
    GaugePlace,
    PersonPlace,
    Place,
    RunPlace,
    WaitingPlace,
    list_lot_places,
    list_tool_places,
)
from floor.shop.shop import Shop


@dataclass(frozen=True, slots=True)
class Named:
    """Something with a name, and its place."""

    text: str
    place: Place


def find_named(named: Iterable[Named], words: str, most: int = 9) -> list[Named]:
    """Those that have all of these words in their names, at most so many, in their order.

    Args:
        words: as typed; case does not matter, and a word may be a part of one.
    """
    wanted = words.casefold().split()
    found = (one for one in named if wanted and all(word in one.text.casefold() for word in wanted))
    return list(islice(found, most))


def list_named(shop: Shop) -> list[Named]:
    """Everything with a name: batches first, then what is in them. Lots take a reading of all open records."""
    return list(_list_all(shop))


def _list_all(shop: Shop) -> Iterator[Named]:
    open_ = [batch for batch in shop.batches if not batch.gone]
    for batch in open_:
        part = batch.checklist.part
        yield Named(f"Batch {batch.id} {part.number} {part.revision} {part.name}", BatchPlace(batch.id, closed=False))
    for batch in open_:
        yield from _list_loads(batch)
    yield from _list_tools(open_)
    for lot in list_lot_places(open_):
        yield Named(f"Lot {lot.lot} {lot.what}", lot)
    for serial, gauge in shop.people.gauges.items():
        yield Named(f"Gauge {serial} {gauge.name}", GaugePlace(serial))
    for person in shop.people.active:
        yield Named(f"Sign in {person.initials} {person.name}", PersonPlace(person.initials))
    for id in reversed(shop.closed()):
        yield Named(f"Closed batch {id}", BatchPlace(id, closed=True))


def _list_loads(batch: Batch) -> Iterator[Named]:
    """Loads by carrier, number, operation and station."""
    for load in batch.list_live_loads():
        name = batch.format_load(load.number)
        if load.run is not None:
            run = batch.runs[load.run]
            where = f"op {run.op} {batch.operation(run.op).title}, {batch.checklist.station(run.station).name}"
            yield Named(f"{name} of {batch.id}: {where}", RunPlace(batch.id, load.run))
        else:
            waits = f"waits for op {load.at}" if load.at is not None else "waits"
            yield Named(f"{name} of {batch.id}: {waits}", WaitingPlace(batch.id, load.number))


def _list_tools(batches: list[Batch]) -> Iterator[Named]:
    checklists = {batch.id: batch.checklist for batch in batches}
    for place in list_tool_places(batches):
        checklist = checklists[place.batches[0]]
        tool = checklist.tool(place.tool)
        assert tool is not None, "it is one of that checklist's"
        yield Named(f"Tool {tool.number} {tool.name}, {checklist.station(place.station).name}", place)
