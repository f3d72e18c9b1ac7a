"""Where a scanned tag leads: a place in the shop, or why there is none. Nothing is recorded by looking."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Literal

from floor.batch.command import Refused
from floor.batch.load import Load
from floor.batch.search.recorded_lots import list_recorded_lots
from floor.batch.state import Batch
from floor.batch.tag import OWNED_BY_BATCH, NotRead, Tag, TagKind, make_mark, parse_tag, spell_plain
from floor.dataclass import dataclass
from floor.shop.closed_summaries import read_closed
from floor.shop.shop import Shop


@dataclass(frozen=True, slots=True)
class RunPlace:
    """A load with a run under way."""

    batch: str
    run: int


@dataclass(frozen=True, slots=True)
class WaitingPlace:
    """A load that no run has: it waits for its next operation, or to be emptied."""

    batch: str
    load: int


@dataclass(frozen=True, slots=True)
class BatchPlace:
    """A batch, by the tag of a box of its pieces."""

    batch: str
    closed: bool


@dataclass(frozen=True, slots=True)
class ToolPlace:
    """A tool at its station."""

    station: str
    tool: int
    batches: tuple[str, ...]
    """Open batches that use it."""


@dataclass(frozen=True, slots=True)
class PersonPlace:
    initials: str


@dataclass(frozen=True, slots=True)
class LotPlace:
    """A lot of a material."""

    what: str
    lot: str
    batches: tuple[str, ...]
    """Open batches that it was recorded in."""


@dataclass(frozen=True, slots=True)
class GaugePlace:
    serial: str


@dataclass(frozen=True, slots=True)
class StationPlace:
    """A station: what is next there."""

    station: str
    batches: tuple[str, ...]
    """Open batches that have it."""


Place = RunPlace | WaitingPlace | BatchPlace | ToolPlace | PersonPlace | LotPlace | GaugePlace | StationPlace
Why = Literal[
    "no tag", "misread", "not ours", "unknown", "several", "empty", "emptied", "closed", "transferred", "unread", "left"
]


@dataclass(frozen=True, slots=True)
class NoPlace:
    """Why a text leads nowhere."""

    why: Why
    """no tag: it does not begin like one. misread: not as it was printed. not ours: of another shop or batch of that
    name. unknown: nothing here has that name. several: more than one thing has. empty: a carrier without a load.
    emptied: a load whose pieces went on. closed, transferred, unread: its batch is closed, gone to another machine,
    or cannot be read. left: a person who no longer works here."""
    kind: TagKind | None = None
    names: tuple[str, ...] = ()
    """What the tag is on."""
    batch: str = ""
    load: int = 0


def find_tagged(shop: Shop, text: str) -> Place | NoPlace:
    """The place of what a tag is on.

    Args:
        text: as a scanner types it; spaces and line ends around it do not count.
    """
    try:
        tag = parse_tag(text)
    except NotRead as wrong:
        return NoPlace("misread" if wrong.misread else "no tag")
    owned = tag.kind in OWNED_BY_BATCH
    if not owned and not (shop.first_hash and tag.mark == make_mark(shop.first_hash)):
        return _nowhere(tag, "not ours")
    return _FINDERS[tag.kind](shop, tag)


def name_tagged(shop: Shop, text: str, tool_at: str = "") -> str:
    """What a tag scanned into a field stands for: a lot, serial number or initials as on record; empty if none.

    The tag's own text is in capitals and would make a second lot.

    Args:
        tool_at: the field asks for the number of a tool at this station, and takes no other tag.
    """
    place = find_tagged(shop, text)
    if tool_at:
        return str(place.tool) if isinstance(place, ToolPlace) and place.station == tool_at else ""
    match place:
        case LotPlace(lot=name) | GaugePlace(serial=name) | PersonPlace(initials=name):
            return name
    return ""


def list_tool_places(batches: Iterable[Batch]) -> list[ToolPlace]:
    """Each tool at each station that may hold it, once."""
    used: dict[tuple[str, int], list[str]] = {}
    for batch in batches:
        for station in batch.checklist.stations:
            for tool in batch.checklist.tools_at(station.id):
                used.setdefault((station.id, tool.number), []).append(batch.id)
    return [ToolPlace(station, tool, tuple(ids)) for (station, tool), ids in used.items()]


def list_station_places(batches: Iterable[Batch]) -> list[StationPlace]:
    """Each station, once."""
    used: dict[str, list[str]] = {}
    for batch in batches:
        for station in batch.checklist.stations:
            used.setdefault(station.id, []).append(batch.id)
    return [StationPlace(station, tuple(ids)) for station, ids in used.items()]


def list_lot_places(batches: Iterable[Batch]) -> list[LotPlace]:
    """Each lot on record, once."""
    used: dict[tuple[str, str], list[str]] = {}
    for batch in batches:
        for recorded in list_recorded_lots(batch):
            used.setdefault(recorded, []).append(batch.id)
    return [LotPlace(what, lot, tuple(ids)) for (what, lot), ids in used.items()]


def _active(shop: Shop) -> list[Batch]:
    return [batch for batch in shop.batches if not batch.gone]


def _find_in_batch(shop: Shop, tag: Tag) -> Place | NoPlace:
    """A load, or a box of a batch: by the batch's hash, and the name it has here or had where the tag was made."""
    name = tag.names[0]
    for batch in shop.batches:
        if tag.mark == make_mark(batch.entries[0].hash) and name in _spell_names(batch):
            if batch.gone:
                return _nowhere(tag, "transferred", batch.id)
            return BatchPlace(batch.id, closed=False) if tag.kind == "box" else _find_load(batch, tag)
    if any(name == spell_plain(one) for one in shop.out):
        return _nowhere(tag, "unread")
    return _find_among_closed(shop, tag) or _nowhere(
        tag, "not ours" if any(name == spell_plain(one.id) for one in shop.batches) else "unknown"
    )


def _find_among_closed(shop: Shop, tag: Tag) -> Place | NoPlace | None:
    """By the name that the batch has here, or had where the tag was made; None if no closed batch has that name."""
    closed = next((one for one in shop.closed() if spell_plain(one) == tag.names[0]), "")
    found = _find_closed(shop, tag, closed) if closed else None
    if found is not None and not (isinstance(found, NoPlace) and found.why == "not ours"):
        return found
    renamed = _find_renamed(shop, tag)
    return _find_closed(shop, tag, renamed) if renamed else found


def _find_renamed(shop: Shop, tag: Tag) -> str:
    """The closed batch that had the name of the tag where it was made and has another one here; empty if none."""
    name = tag.names[0].encode()
    for here, batch in read_closed(shop.folder, shop.closed(), lambda raw: name in raw.upper()):
        if batch and tag.mark == make_mark(batch.entries[0].hash) and tag.names[0] in _spell_names(batch):
            return here
    return ""


def _find_closed(shop: Shop, tag: Tag, name: str) -> Place | NoPlace:
    try:
        batch = shop.batch(name)
    except Refused:
        return _nowhere(tag, "unread")
    if tag.mark != make_mark(batch.entries[0].hash):
        return _nowhere(tag, "not ours")
    return BatchPlace(name, closed=True) if tag.kind == "box" else _nowhere(tag, "closed", name)


def _spell_names(batch: Batch) -> tuple[str, str]:
    return spell_plain(batch.id), spell_plain(str(batch.entries[0].body.get("id", "")))


def _find_load(batch: Batch, tag: Tag) -> Place | NoPlace:
    load = next((one for one in batch.loads.values() if str(one.number) == tag.names[1]), None)
    if load is None:
        return _nowhere(tag, "unknown", batch.id)
    return _nowhere(tag, "emptied", batch.id, load.number) if load.dissolved else _place(batch, load)


def _find_carrier(shop: Shop, tag: Tag) -> Place | NoPlace:
    """The load on a carrier; every load that is there counts, or a wrong one might be opened."""
    batches, (name, number) = _active(shop), tag.names
    loads = [
        _place(batch, load)
        for batch in batches
        for load in batch.list_live_loads()
        if spell_plain(load.carrier) == name and str(load.carrier_number) == number
    ]
    kinds = (kind for batch in batches for kind in batch.checklist.carriers if spell_plain(kind.id) == name)
    known = any(number.isdecimal() and 1 <= int(number) <= kind.count for kind in kinds)
    return _nowhere(tag, "empty") if known and not loads else _only(tag, loads)


def _place(batch: Batch, load: Load) -> RunPlace | WaitingPlace:
    return WaitingPlace(batch.id, load.number) if load.run is None else RunPlace(batch.id, load.run)


def _find_tool(shop: Shop, tag: Tag) -> Place | NoPlace:
    places = list_tool_places(_active(shop))
    return _only(tag, [one for one in places if (spell_plain(one.station), str(one.tool)) == tag.names])


def _find_station(shop: Shop, tag: Tag) -> Place | NoPlace:
    places = list_station_places(_active(shop))
    return _only(tag, [one for one in places if spell_plain(one.station) == tag.names[0]])


def _find_lot(shop: Shop, tag: Tag) -> Place | NoPlace:
    places = list_lot_places(_active(shop))
    return _only(tag, [one for one in places if (spell_plain(one.what), spell_plain(one.lot)) == tag.names])


def _find_gauge(shop: Shop, tag: Tag) -> Place | NoPlace:
    return _only(tag, [GaugePlace(one) for one in shop.people.gauges if spell_plain(one) == tag.names[0]])


def _find_person(shop: Shop, tag: Tag) -> Place | NoPlace:
    known = [one for one in shop.people.known.values() if spell_plain(one.initials) == tag.names[0]]
    here = [PersonPlace(one.initials) for one in known if not one.left]
    return _nowhere(tag, "left") if known and not here else _only(tag, here)


_FINDERS: dict[TagKind, Callable[[Shop, Tag], Place | NoPlace]] = {
    "carrier": _find_carrier,
    "load": _find_in_batch,
    "box": _find_in_batch,
    "tool": _find_tool,
    "person": _find_person,
    "lot": _find_lot,
    "gauge": _find_gauge,
    "station": _find_station,
}


def _only(tag: Tag, found: Iterable[Place]) -> Place | NoPlace:
    places = list(found)
    return places[0] if len(places) == 1 else _nowhere(tag, "several" if places else "unknown")


def _nowhere(tag: Tag, why: Why, batch: str = "", load: int = 0) -> NoPlace:
    return NoPlace(why, tag.kind, tag.names, batch, load)
