"""Search criteria read from words: kinds of entries, times, and whether what is named exists."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress
from datetime import date, datetime, timedelta
from difflib import get_close_matches
from itertools import chain

from floor.batch.command import Refused
from floor.batch.search.history_filter import GROUPS, Filter
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.text import capitalize_first
from floor.wall import WHEN, find_start_of_day, format_local, get_local_day, get_zone, parse_typed_time

BATCH_KINDS = tuple(kind for kinds in GROUPS.values() for kind in kinds)
DAYS = {"today": 0, "yesterday": 1}


@dataclass(frozen=True, slots=True)
class TypedCriteria:
    """Search criteria as typed; an empty field matches everything."""

    kinds: Sequence[str] = ()
    by: str = ""
    load: int | str | None = None
    """Its number, or its carrier as shown."""
    op: int | None = None
    station: str = ""
    since: str = ""
    until: str = ""
    text: str = ""
    struck: bool | None = None

    def read(self, now: datetime) -> Filter:
        """The filter they mean.

        Raises:
            Refused: input; an unknown kind, or an unreadable time.
        """
        load = str(self.load or "").strip()
        number = load.lower().removeprefix("load").strip()
        return Filter(
            load=int(number) if number.isdecimal() else None,
            carrier="" if number.isdecimal() else load,
            op=self.op,
            by=self.by.strip().upper(),
            kinds=read_kinds(self.kinds),
            station=self.station.strip(),
            since=_moment(self.since, now)[0] if self.since else None,
            until=_moment(self.until, now)[1] if self.until else None,
            words=self.text.strip(),
            struck=self.struck,
        )


def read_kinds(given: Iterable[str]) -> tuple[str, ...]:
    """The named kinds or groups of kinds, separated by commas; ``load formed`` is ``load_formed``.

    Raises:
        Refused: input; an unknown one.
    """
    found: dict[str, None] = {}
    groups = {_plain(group): kinds for group, kinds in GROUPS.items()}
    for name in (name for text in given for name in text.split(",")):
        plain = _plain(name)
        if plain not in groups and plain not in BATCH_KINDS:
            close = get_close_matches(plain, [*BATCH_KINDS, *groups], n=1, cutoff=0.6)
            meant = f"did you mean {close[0]}? " if close else ""
            wrong = f'there is no kind "{name.strip()[:40]}"'
            raise Refused("input", wrong, f"{meant}See every kind in floor find --help")
        found |= dict.fromkeys(groups.get(plain, (plain,)))
    return tuple(found)


def need_known(wanted: Filter, batches: Sequence[Batch]) -> None:
    """Refuse a person, load, operation or station that no batch has: a typing error would silently find nothing.

    Raises:
        Refused: unknown.
    """
    where = " or ".join(batch.id for batch in batches) if len(batches) < 4 else f"the {len(batches)} batches"
    _need_person(wanted, batches, where)
    if wanted.load is not None:
        loads = set(chain.from_iterable(batch.loads for batch in batches))
        _need(wanted.load, loads, f"there is no load {wanted.load} in {where}")
    if wanted.carrier and not any(find_loads_on(batch, wanted.carrier) for batch in batches):
        names = {batch.format_carrier(load) for batch in batches for load in batch.loads.values()}
        _need(wanted.carrier, names, f'no load was on "{wanted.carrier[:40]}" in {where}')
    if wanted.op is not None:
        ops = set(chain.from_iterable(batch.checklist.ops for batch in batches))
        _need(wanted.op, ops, f"there is no op {wanted.op} in {where}")
    _need_station(wanted, batches, where)


def _need_person(wanted: Filter, batches: Sequence[Batch], where: str) -> None:
    if wanted.by:
        people = {entry.by for batch in batches for entry in batch.entries}
        _need(wanted.by, people, f"{wanted.by[:20]} entered nothing in {where}")


def _need_station(wanted: Filter, batches: Sequence[Batch], where: str) -> None:
    if wanted.station and not any(find_stations_called(batch, wanted.station) for batch in batches):
        stations = [station for batch in batches for station in batch.checklist.stations]
        wrong = f'there is no station "{wanted.station[:40]}" in {where}'
        names, ids = {station.name for station in stations}, {station.id for station in stations}
        _need(wanted.station, names, wrong, ids)


def find_loads_on(batch: Batch, carrier: str) -> tuple[int, ...]:
    """The loads that were on the carrier of this name, ignoring case."""
    sought = carrier.casefold()
    return tuple(one.number for one in batch.loads.values() if batch.format_carrier(one).casefold() == sought)


def find_stations_called(batch: Batch, station: str) -> frozenset[str]:
    """The stations with this name or id, ignoring case."""
    sought = station.casefold()
    return frozenset(one.id for one in batch.checklist.stations if sought in (one.id.casefold(), one.name.casefold()))


def _need(one: str | int, known: set[str] | set[int], wrong: str, too: Iterable[str] = ()) -> None:
    """Refuse an unknown name, listing the known ones and the likely meant one."""
    if one in known:
        return
    names = [str(name) for name in sorted(known)]
    close = get_close_matches(str(one), [*names, *too], n=1, cutoff=0.6) if isinstance(one, str) else []
    meant = f"did you mean {close[0]}? " if close else ""
    listed = ", ".join(names) if len(names) <= 20 else f"{names[0]} to {names[-1]}"
    there = f"choose from {listed}" if names else "there are none"
    raise Refused("unknown", wrong, f"{meant}{capitalize_first(there)}")


def _moment(text: str, now: datetime) -> tuple[datetime, datetime]:
    """A day or a typed time: its first moment, and the moment after its last."""
    text = text.strip()
    day = get_local_day(now) - timedelta(days=DAYS[text.lower()]) if text.lower() in DAYS else None
    with suppress(ValueError, OverflowError):
        day = day or date.fromisoformat(text)
        return find_start_of_day(day, get_zone(now)), find_start_of_day(day + timedelta(days=1), get_zone(now))
    with suppress(ValueError, OverflowError):
        at = parse_typed_time(text, now, past=True)
        if at is not None:
            return at, at + timedelta(minutes=1)
    like = f"{format_local(now, WHEN)}, {format_local(now, '%Y-%m-%d')}, 14:30, today or yesterday"
    raise Refused("input", f'"{text[:40]}" is not a time the clock shows', f"write it like {like}")


def _plain(name: str) -> str:
    return name.strip().lower().replace(" ", "_").replace("-", "_")
