"""Batches that take no entries any more, closed or transferred, and were measured with a gauge that proved suspect.

Their records cannot be told, so the shop's own names them: their papers say it, and somebody recalls the parts.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from typing import NamedTuple

from floor.batch.events import make_drafts, read_event
from floor.batch.gates.suspect_gauges import ReportSuspectGauge, list_checks_with
from floor.batch.gauge import fold_serial
from floor.batch.state import Batch
from floor.dataclass import dataclass
from floor.entry import Draft, format_wall
from floor.shop.events import GaugeFoundSuspect, GaugeWithdrawn
from floor.text import format_count

_BETWEEN = rb'(?:\\u[0-9a-f]{4}|[^0-9a-z"\\])*'
"""What people leave out of a serial number or add to it, in the file's own writing."""


@dataclass(frozen=True, slots=True)
class SuspectAfterwards:
    """A gauge that proved suspect after a batch was closed or transferred."""

    serial: str
    name: str
    reason: str
    by: str
    at: datetime
    checks: int

    def __str__(self) -> str:
        checks = format_count(self.checks, "check")
        said = f"gauge {self.serial} {self.name} was found suspect on {format_wall(self.at)[:10]}"
        return f"{said} ({self.reason}, {self.by}): {checks} here used it"


class ClosedUses(NamedTuple):
    """The closed batches of a shop that may have been measured with a gauge, as far as they were looked through."""

    looked_at: frozenset[str] = frozenset()
    """The names of all that were looked through."""
    batches: tuple[tuple[str, Batch | None], ...] = ()
    """Those with a check that used it, and those whose record cannot be read, or not to its end."""


def choose_uses(closed: Iterable[tuple[str, Batch | None]], serial: str) -> tuple[tuple[str, Batch | None], ...]:
    """Of closed batches, those that may have been measured with a gauge; no other is kept in memory."""
    return tuple(
        (name, batch)
        for name, batch in closed
        if batch is None or batch.damage or list_checks_with(batch, serial, since=None)
    )


def may_name(raw: bytes, serial: str) -> bool:
    """Whether a journal's bytes may have this serial number, however it is written: folding each takes far longer."""
    folded = fold_serial(serial)
    if not (folded.isascii() and folded.isalnum()):
        return True
    pattern = _BETWEEN.join(one.encode() for one in folded)
    return re.search(pattern, raw, re.IGNORECASE) is not None


def name_closed_batches(
    drafts: Sequence[Draft], reports: Sequence[ReportSuspectGauge], closed: Iterable[tuple[str, Batch | None]]
) -> list[Draft]:
    """The same drafts, each one that calls a gauge suspect with the closed batches that it measured since."""
    closed, since = list(closed), {one.serial: one.since for one in reports}
    found = []
    for draft in drafts:
        said = read_event(draft)
        if isinstance(said, GaugeWithdrawn | GaugeFoundSuspect) and said.serial in since:
            uses = tuple(_list_uses(closed, said.serial, since[said.serial]))
            found += make_drafts(replace(said, closed=uses))
        else:
            found.append(draft)
    return found


def _list_uses(
    closed: Sequence[tuple[str, Batch | None]], serial: str, since: datetime | None
) -> Iterator[tuple[str, str, int]]:
    for name, batch in closed:
        checks = len(list_checks_with(batch, serial, since)) if batch is not None else 0
        if batch is not None and checks:
            yield name, batch.entries[0].hash, checks
        elif batch is None or batch.damage:
            yield name, "", 0
