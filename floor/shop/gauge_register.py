"""The shop's register of gauges: who may change what of it.

A lead adds a gauge, changes it and brings it back; anybody may withdraw one that was dropped or is suspect.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import date, datetime, timedelta

from floor.batch.command import Refused, require_reason
from floor.batch.events import Event, make_drafts
from floor.batch.gates.entered_values import read_date
from floor.batch.gauge import Gauge, find_gauge, normalize_serial
from floor.entry import Draft
from floor.shop.events import GaugeAdded, GaugeChanged, GaugeReturned, GaugeWithdrawn
from floor.text import sanitize

FARTHEST = timedelta(days=3653)
"""The farthest from today that a calibration may be due (shop decision)."""


def fold_gauge(gauges: dict[str, Gauge], said: Event, at: datetime) -> None:
    """What an entry about a gauge changes in the register."""
    match said:
        case GaugeAdded():
            gauges[said.serial] = Gauge(said.serial, said.name, date.fromisoformat(said.due), at)
        case GaugeChanged():
            old, due = gauges[said.serial], date.fromisoformat(said.due)
            checked = at if due != old.due else old.checked
            gauges[said.serial] = replace(old, name=said.name, due=due, checked=checked)
        case GaugeWithdrawn():
            gauges[said.serial] = replace(gauges[said.serial], withdrawn=said.reason)
        case GaugeReturned():
            due = date.fromisoformat(said.due)
            gauges[said.serial] = replace(gauges[said.serial], due=due, checked=at, withdrawn="")


def draft_gauge(
    gauges: dict[str, Gauge], leads: Collection[str], serial: str, name: str, due: str, by: str, today: date
) -> list[Draft]:
    """Add a gauge."""
    _need_lead(leads, by, "adding a gauge")
    known = find_gauge(gauges, serial)
    if known is not None:
        raise Refused("input", f"{known.serial} is in the register: {known.name}", "enter another", field="serial")
    if not normalize_serial(serial):
        raise Refused("input", "serial number: nothing entered", "enter it", field="serial")
    return make_drafts(
        GaugeAdded(serial=normalize_serial(serial), name=_read_name(name), due=_read_due(due, today).isoformat())
    )


def draft_gauge_change(
    gauges: dict[str, Gauge], leads: Collection[str], serial: str, name: str, due: str, by: str, today: date
) -> list[Draft]:
    """Change the name, or the due date after a calibration."""
    _need_lead(leads, by, "changing a gauge")
    gauge = require_gauge(gauges, serial)
    until = gauge.due if sanitize(due) == gauge.due.isoformat() else _read_due(due, today)
    return make_drafts(GaugeChanged(serial=gauge.serial, name=_read_name(name), due=until.isoformat()))


def draft_gauge_withdrawal(gauges: dict[str, Gauge], serial: str, reason: str, suspect: bool) -> list[Draft]:
    """Take a gauge out of use.

    Args:
        suspect: whether what it measured since its last good check is suspect too.
    """
    gauge = require_gauge(gauges, serial)
    if gauge.withdrawn:
        raise Refused("not now", f"{gauge.serial} is already withdrawn: {gauge.withdrawn}", "a lead can bring it back")
    why = require_reason(reason, "withdrawing a gauge")
    return make_drafts(GaugeWithdrawn(serial=gauge.serial, reason=why, suspect=suspect))


def draft_gauge_return(
    gauges: dict[str, Gauge], leads: Collection[str], serial: str, due: str, reason: str, by: str, today: date
) -> list[Draft]:
    """Bring a gauge back into use once it was found good."""
    _need_lead(leads, by, "bringing a gauge back")
    gauge = require_gauge(gauges, serial)
    if not gauge.withdrawn:
        raise Refused("not now", f"{gauge.serial} is in use already", "nothing to bring back")
    until = _read_due(due, today)
    return make_drafts(
        GaugeReturned(
            serial=gauge.serial, due=until.isoformat(), reason=require_reason(reason, "bringing a gauge back")
        )
    )


def require_gauge(gauges: dict[str, Gauge], serial: str) -> Gauge:
    """
    Raises:
        Refused: the register has no such gauge.
    """
    gauge = find_gauge(gauges, serial)
    if gauge is None:
        shown = normalize_serial(serial)[:20] or "(none)"
        raise Refused("unknown", f"{shown} is not in the register of gauges", "a lead adds it")
    return gauge


def _need_lead(leads: Collection[str], by: str, what: str) -> None:
    if by not in leads:
        raise Refused("authority", f"{what} needs a lead", f"ask {', '.join(sorted(leads)) or 'one'}")


def _read_name(text: str) -> str:
    name = sanitize(text, 60)
    if not name:
        raise Refused("input", "gauge: nothing entered", "enter what it is, e.g. depth micrometer", field="name")
    return name


def _read_due(text: str, today: date) -> date:
    due = read_date(text, "calibration due", "due")
    if due < today:
        raise Refused("input", f"calibration due {due} is past", "enter the new date, or withdraw it", field="due")
    if due - today > FARTHEST:
        raise Refused("input", f"calibration due {due} is more than ten years away", "check the year", field="due")
    return due
