"""What a person is qualified for by the shop's register: training or a medical examination, from a day to a day."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, timedelta

from floor.dataclass import dataclass
from floor.text import format_count

SOON = timedelta(days=30)
"""One that lapses within this time is named (shop decision)."""


@dataclass(frozen=True, slots=True)
class Qualification:
    """One thing that one person was trained or examined for."""

    what: str
    since: date
    until: date | None
    """The last day on which it holds; None where it has no end."""
    by: str
    """The lead who entered it."""
    withdrawn: str = ""
    """Why it was withdrawn; empty while it stands."""
    withdrawn_at: datetime | None = None

    def holds(self, at: datetime) -> bool:
        taken = self.withdrawn_at is not None and self.withdrawn_at <= at
        return self.since <= at.date() and not self.has_lapsed(at.date()) and not taken

    def has_lapsed(self, today: date) -> bool:
        return self.until is not None and self.until < today


Qualified = Mapping[str, Mapping[str, tuple[Qualification, ...]]]
"""Initials → folded name of a qualification → its entries, oldest first."""


def fold_qualification(text: str) -> str:
    """One qualification however it is written: ``Spray painting``, ``spray  painting``."""
    return " ".join(text.split()).casefold()


def is_qualified(known: Qualified, who: str, what: str, at: datetime) -> bool:
    one = find_in_force(known, who, what, at)
    return one is not None and one.holds(at)


def find_in_force(known: Qualified, who: str, what: str, at: datetime) -> Qualification | None:
    """The entry that counts: the newest whose first day has come, so that it also ends an older one early; else the
    newest of those to come."""
    entries = known.get(who, {}).get(fold_qualification(what), ())
    begun = [one for one in entries if one.since <= at.date()] or entries
    return begun[-1] if begun else None


def list_qualified(known: Qualified, wanted: Iterable[str], at: datetime) -> list[str]:
    """Who is qualified for all of these."""
    wanted = list(wanted)
    return sorted(who for who in known if all(is_qualified(known, who, what, at) for what in wanted))


def describe_lack(known: Qualified, who: str, what: str, at: datetime) -> str:
    """``spray painting of AA lapsed on 2026-02-01``, or that the register has none."""
    last = find_in_force(known, who, what, at)
    if last is None:
        return f"{who} is not in the register as qualified for {what}"
    if last.withdrawn_at is not None and last.withdrawn_at <= at:
        return f"{what} of {who} was withdrawn: {last.withdrawn}"
    if last.has_lapsed(at.date()):
        return f"{what} of {who} lapsed on {last.until}"
    return f"{what} of {who} holds from {last.since} only"


def list_states(entries: Mapping[str, tuple[Qualification, ...]], today: date) -> Iterator[tuple[Qualification, str]]:
    """The newest entry of each thing and how it stands, what needs somebody first."""
    newest = sorted(
        (found[-1] for found in entries.values()), key=lambda one: (bool(one.withdrawn), one.until or date.max)
    )
    for one in newest:
        if one.withdrawn:
            yield one, f"withdrawn: {one.withdrawn}"
        elif one.until is None:
            yield one, "no end date"
        elif one.has_lapsed(today):
            yield one, f"lapsed {one.until}"
        elif one.until - today <= SOON:
            yield one, f"until {one.until}, {format_count((one.until - today).days, 'day')} left"
        else:
            yield one, f"until {one.until}"
