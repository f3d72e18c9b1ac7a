"""A gauge of the shop by its serial number, and what keeps it from being used."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import lru_cache

from floor.dataclass import dataclass
from floor.text import format_count, sanitize

SOON = timedelta(days=30)
"""A gauge due within this time is named first (shop decision)."""


@dataclass(frozen=True, slots=True)
class Gauge:
    """One gauge or instrument in the shop's register."""

    serial: str
    """Its id, in capitals."""
    name: str
    due: date
    """The last day of its calibration."""
    checked: datetime | None
    """Its last good check: readings since then depend on it, and all of them if none is known."""
    as_of: datetime
    """When the register was told so."""
    withdrawn: str = ""
    """Why it is out of use; empty if it is not."""
    suspect: bool = False
    """Whether its readings are suspect too."""
    suspect_since: datetime | None = None
    """From when on; all of them if that is not known."""
    closed: tuple[tuple[str, str, int], ...] = ()
    """(batch, hash of its first entry, checks) of each batch that is closed or transferred and has suspect readings."""
    former: Gauge | None = None
    """What the register said of it before."""

    def is_overdue(self, today: date) -> bool:
        return self.due < today

    def look_back(self, at: datetime) -> Gauge:
        """The gauge as it was then, as far as the register knows; out of use if its readings proved suspect since."""
        then, suspect = self, None
        while then.as_of > at and then.former is not None:
            if then.suspect and (then.suspect_since is None or then.suspect_since <= at):
                suspect = then
            then = then.former
        return then if suspect is None else replace(then, withdrawn=suspect.withdrawn, suspect=True)


def normalize_serial(text: str) -> str:
    """A serial number as the register has it: in capitals, single blanks."""
    return " ".join(sanitize(text, 40).split()).upper()


@lru_cache(maxsize=4096)
def fold_serial(text: str) -> str:
    """A serial number without what people leave out or add: ``M2``, ``m-2`` and ``M 2`` are one gauge."""
    return "".join(one for one in normalize_serial(text) if unicodedata.category(one) not in ("Pd", "Zs", "Sm"))


def find_gauge(gauges: Mapping[str, Gauge], text: str) -> Gauge | None:
    """The gauge of a typed serial number; None if the register has none.

    Registers of earlier versions may hold both ``M2`` and ``M-2``: there the one written as typed is meant.
    """
    exact = gauges.get(normalize_serial(text))
    if exact is not None:
        return exact
    folded = fold_serial(text)
    return next((one for serial, one in gauges.items() if fold_serial(serial) == folded), None)


def is_named(gauge: Gauge, asked: str) -> bool:
    """Whether a gauge is what a check asks for: case and blanks aside, its name is that, or goes on after it.

    ``Depth micrometer 0 to 25 mm`` is a depth micrometer, a thread gauge is no caliper.
    """
    words, wanted = gauge.name.casefold().split(), asked.casefold().split()
    return words[: len(wanted)] == wanted


def look_back(gauges: Mapping[str, Gauge], at: datetime) -> dict[str, Gauge]:
    """The register as it was at a past time; a gauge added since is as it was then."""
    return {serial: gauge.look_back(at) for serial, gauge in gauges.items()}


def sort_gauges(gauges: Iterable[Gauge]) -> list[Gauge]:
    """What is due soonest first, overdue before all; withdrawn ones last."""
    return sorted(gauges, key=lambda one: (bool(one.withdrawn), one.due, one.serial))


def describe_gauge_state(gauge: Gauge, today: date) -> str:
    """``withdrawn: dropped``, ``overdue 3 days``, ``due in 12 days``; empty while there is nothing to do."""
    if gauge.withdrawn:
        return f"withdrawn{', suspect' if gauge.suspect else ''}: {gauge.withdrawn}"
    left = gauge.due - today
    if gauge.is_overdue(today):
        return f"overdue {format_count(-left.days, 'day')}"
    return ("due today" if not left else f"due in {format_count(left.days, 'day')}") if left <= SOON else ""


def describe_closed_uses(closed: Iterable[tuple[str, str, int]]) -> str:
    """``B0002 (3 checks), B0004 (record cannot be read)``; empty if there are none."""
    return ", ".join(
        f"{name} ({format_count(checks, 'check') if first else 'record cannot be read'})"
        for name, first, checks in closed
    )
