"""What earlier batches of the shop tell of a part: read when somebody asks, never to open the shop.

Of a closed batch only the first entry is read to see which part it is of; those of the part are read whole, the newest
`MOST_SAME`, and a few others done at the same stations. A closed batch never changes, so what was read is kept.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from floor.batch.fold import Inapplicable, fold
from floor.batch.quality.batch_facts import BatchFacts, EarlierBatches, gather_facts
from floor.batch.state import Batch
from floor.checklist.model import Checklist
from floor.figures.calendar import Calendar
from floor.ledger import JournalFolder, LedgerError
from floor.shop.lessons import list_yields_taken
from floor.shop.open_batches import RECORD, OpenBatches
from floor.shop.shop_record import fold_part_number

MOST_SAME = 12
"""Batches of the part that are read, the newest: older ones hardly count."""
MOST_OTHERS = 12
"""Batches of other parts that are read, for what they did at the same stations."""

Stamp = tuple[int, int, int]
"""What a file looks like: something else whenever it was written."""


class Asked(NamedTuple):
    """What is to be told of, copied from the shop at one moment: its open batches go on changing."""

    folder: Path
    part: str
    stations: frozenset[str]
    calendar: Calendar
    own: BatchFacts | None
    """Of the batch that asks; None of a new one."""
    open_batches: tuple[BatchFacts, ...]
    names: tuple[str, ...]
    """Of the closed batches."""
    in_file: dict[str, frozenset[int]]
    """Hash of a batch's first entry → operations whose yield in the checklist holds its pieces."""


def ask_of_batch(shop: OpenBatches, batch: Batch, calendar: Calendar) -> Asked:
    """What `read_earlier` needs of the shop to set others beside a batch: those that were opened before it."""
    stations = frozenset(one.id for one in batch.checklist.stations)
    return _ask(shop, batch.checklist, batch.file, calendar, stations, gather_facts(batch, calendar))


def ask_of_new(shop: OpenBatches, checklist: Checklist, file: str, calendar: Calendar) -> Asked:
    """The same for a plan before there is a batch, which takes nothing of other parts."""
    return _ask(shop, checklist, file, calendar, frozenset(), None)


def _ask(
    shop: OpenBatches,
    checklist: Checklist,
    file: str,
    calendar: Calendar,
    stations: frozenset[str],
    own: BatchFacts | None,
) -> Asked:
    part = checklist.part.number
    there = tuple(
        gather_facts(batch, calendar)
        for batch in shop.batches
        if _comes_before(batch.entries[0].hash, batch.opened, own)
        and (_is_of(part, batch.checklist.part.number) or stations & {one.id for one in batch.checklist.stations})
    )
    in_file = list_yields_taken(shop.people, checklist, file)
    return Asked(shop.folder, part, stations, calendar, own, there, tuple(shop.closed()), in_file)


def _comes_before(first: str, opened: datetime, own: BatchFacts | None) -> bool:
    return own is None or (first != own.first and opened <= own.opened)


def read_earlier(asked: Asked, should_stop: Callable[[], bool] = lambda: False) -> EarlierBatches:
    """The batches of the part and of its stations, open and closed; what cannot be read is named and left out."""
    left_out: dict[str, str] = {}
    openings: list[_Opening] = []
    if (asked.folder / RECORD).is_dir():
        openings = _list_openings(JournalFolder(asked.folder / RECORD), asked, left_out, should_stop)

    def read(of_part: bool, most: int) -> tuple[BatchFacts, ...]:
        found = [one for one in asked.open_batches if _is_of(asked.part, one.part) is of_part]
        for one in [one for one in openings if _is_of(asked.part, one.part) is of_part][:most]:
            if should_stop():
                break
            facts = _read_facts(str(one.path), _stamp(one.path), asked.calendar)
            if isinstance(facts, str):
                left_out[one.name] = facts
            else:
                found.append(facts)
        return tuple(found)

    older = sum(_is_of(asked.part, one.part) for one in openings) - MOST_SAME
    return EarlierBatches(read(True, MOST_SAME), read(False, MOST_OTHERS), left_out, max(older, 0))


class _Opening(NamedTuple):
    """What the first entry of a closed batch says."""

    name: str
    path: Path
    first: str
    part: str
    stations: frozenset[str]
    opened: datetime


def _list_openings(
    journals: JournalFolder, asked: Asked, left_out: dict[str, str], should_stop: Callable[[], bool]
) -> list[_Opening]:
    """Of the closed batches that may tell something, the newest first."""
    found = []
    for name in asked.names:
        if should_stop():
            break
        path = journals.place(name)
        opening = _read_opening(str(path), _stamp(path))
        if opening is None:
            left_out[name] = "its first entry cannot be read"
        elif _comes_before(opening.first, opening.opened, asked.own) and _is_wanted(opening, asked):
            found.append(opening)
    return sorted(found, key=lambda one: (one.opened, one.name), reverse=True)


def _is_wanted(one: _Opening, asked: Asked) -> bool:
    return _is_of(asked.part, one.part) or bool(one.stations & asked.stations)


@lru_cache(maxsize=4096)
def _read_opening(path: str, stamp: Stamp) -> _Opening | None:
    place = Path(path)
    entry = JournalFolder(place.parent.parent).read_first(place.stem)
    if entry is None:
        return None
    try:
        checklist = entry.body["checklist"]
        stations = frozenset(str(one["id"]) for one in checklist["stations"])
        return _Opening(place.stem, place, entry.hash, str(checklist["part"]["number"]), stations, entry.time)
    except (KeyError, TypeError, ValueError):
        return None


@lru_cache(maxsize=128)
def _read_facts(path: str, stamp: Stamp, calendar: Calendar) -> BatchFacts | str:
    """The facts of a closed batch, or why it cannot be read."""
    place = Path(path)
    journals = JournalFolder(place.parent.parent)
    try:
        journal = journals.open(place.stem)
        if journal.condition.kind == "read-only" and journal.condition.place:
            return journal.condition.sentence
        return gather_facts(fold(journal.entries), calendar)
    except (LedgerError, Inapplicable, ValueError, ArithmeticError) as error:
        return str(error)
    finally:
        journals.close()


def _stamp(path: Path) -> Stamp:
    try:
        found = path.stat()
    except OSError:
        return (0, 0, 0)
    return found.st_ino, found.st_size, found.st_mtime_ns


def _is_of(part: str, other: str) -> bool:
    return fold_part_number(part) == fold_part_number(other)
