"""A gauge of the shop by its serial number, and what keeps it from being used."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta

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
    checked: datetime
    """When its due date was entered, or it came back: readings since then depend on it."""
    withdrawn: str = ""
    """Why it is out of use; empty if it is not."""

    def is_overdue(self, today: date) -> bool:
        return self.due < today


def normalize_serial(text: str) -> str:
    """A serial number as the register has it: in capitals, single blanks."""
    return " ".join(sanitize(text, 40).split()).upper()


def find_gauge(gauges: Mapping[str, Gauge], text: str) -> Gauge | None:
    """The gauge of a typed serial number; None if the register has none."""
    return gauges.get(normalize_serial(text))


def sort_gauges(gauges: Iterable[Gauge]) -> list[Gauge]:
    """What is due soonest first, overdue before all; withdrawn ones last."""
    return sorted(gauges, key=lambda one: (bool(one.withdrawn), one.due, one.serial))


def describe_gauge_state(gauge: Gauge, today: date) -> str:
    """``withdrawn: dropped``, ``overdue 3 days``, ``due in 12 days``; empty while there is nothing to do."""
    if gauge.withdrawn:
        return f"withdrawn: {gauge.withdrawn}"
    left = gauge.due - today
    if gauge.is_overdue(today):
        return f"overdue {format_count(-left.days, 'day')}"
    return ("due today" if not left else f"due in {format_count(left.days, 'day')}") if left <= SOON else ""
