"""The shop's register of gauges: who may change what of it.

A lead adds a gauge, changes it and brings it back; anybody may withdraw one that was dropped or is suspect.

Once a gauge is called suspect, its readings since its last good check are in doubt; all of them, where no good check is
known. Only a calibration moves that check, to the first moment of its day: a corrected due date says nothing of what
the gauge measured.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

from floor.batch.command import Refused, require_reason
from floor.batch.events import Event, TakenIn, make_drafts, read_event
from floor.batch.gates.entered_values import read_date
from floor.batch.gates.suspect_gauges import ReportSuspectGauge
from floor.batch.gauge import Gauge, find_gauge, fold_serial, normalize_serial
from floor.batch.state import Batch
from floor.entry import Draft, format_wall, parse_wall
from floor.shop.events import GaugeAdded, GaugeChanged, GaugeFoundSuspect, GaugeReturned, GaugeWithdrawn
from floor.text import sanitize
from floor.wall import find_start_of_day, get_zone

FARTHEST = timedelta(days=3653)
"""The farthest from today that a calibration may be due (shop decision)."""


NO = "n"
"""Entered for the day of a calibration that there was none, or that nobody knows it."""


def fold_gauge(gauges: dict[str, Gauge], said: Event, at: datetime) -> None:
    """What an entry about a gauge changes in the register."""
    match said:
        case GaugeAdded():
            checked = at if said.calibrated is None else _read_moment(said.calibrated, at)
            gauges[said.serial] = Gauge(said.serial, said.name, date.fromisoformat(said.due), checked, at)
        case GaugeChanged():
            old, due = gauges[said.serial], date.fromisoformat(said.due)
            checked = at if said.calibrated is None and due != old.due else old.checked
            checked = _read_moment(said.calibrated, at) if said.calibrated else checked
            _change(gauges, old, at, name=said.name, due=due, checked=checked)
        case GaugeWithdrawn():
            old = gauges[said.serial]
            since = old.checked if said.suspect else None
            _change(
                gauges, old, at, withdrawn=said.reason, suspect=said.suspect, suspect_since=since, closed=said.closed
            )
        case GaugeFoundSuspect():
            since = _read_moment(said.since, at)
            found = {"suspect": True, "suspect_since": since, "closed": said.closed}
            _change(gauges, gauges[said.serial], at, withdrawn=said.reason, **found)
        case GaugeReturned():
            due = date.fromisoformat(said.due)
            good = {"withdrawn": "", "suspect": False, "suspect_since": None, "closed": ()}
            _change(gauges, gauges[said.serial], at, due=due, checked=at, **good)


def _change(gauges: dict[str, Gauge], old: Gauge, at: datetime, **now: Any) -> None:
    gauges[old.serial] = replace(old, **now, as_of=at, former=old)


def _read_moment(text: str, at: datetime) -> datetime | None:
    return parse_wall(text, at) if text else None


def draft_gauge(
    gauges: dict[str, Gauge],
    leads: Collection[str],
    serial: str,
    name: str,
    due: str,
    calibrated: str,
    by: str,
    now: datetime,
) -> list[Draft]:
    """Add a gauge.

    Args:
        calibrated: the day of its last calibration, or `NO` if nobody knows.
    """
    _need_lead(leads, by, "adding a gauge")
    known = find_gauge(gauges, serial)
    if known is not None:
        raise Refused("input", f"{known.serial} is in the register: {known.name}", "enter another", field="serial")
    if not fold_serial(serial):
        raise Refused("input", "serial number: nothing entered", "enter it", field="serial")
    return make_drafts(
        GaugeAdded(
            serial=normalize_serial(serial),
            name=_read_name(name),
            due=_read_due(due, now.date()).isoformat(),
            calibrated=_read_day(calibrated, "calibrated", f"enter the day, or {NO} if nobody knows", now),
        )
    )


def draft_gauge_change(
    gauges: dict[str, Gauge],
    leads: Collection[str],
    serial: str,
    name: str,
    due: str,
    calibrated: str,
    by: str,
    now: datetime,
) -> list[Draft]:
    """Change the name, or the due date, after a calibration or because it was wrong.

    Args:
        calibrated: the day of a calibration, or `NO` if there was none; may be empty if the due date stays.
    """
    _need_lead(leads, by, "changing a gauge")
    gauge = require_gauge(gauges, serial)
    until = gauge.due if sanitize(due) == gauge.due.isoformat() else _read_due(due, now.date())
    answer = NO if until == gauge.due and not sanitize(calibrated) else calibrated
    day = _read_day(answer, "calibrated", f"enter the day, or {NO} if only the due date was wrong", now)
    return make_drafts(GaugeChanged(serial=gauge.serial, name=_read_name(name), due=until.isoformat(), calibrated=day))


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


def draft_gauge_suspicion(gauges: dict[str, Gauge], serial: str, reason: str, since: str, now: datetime) -> list[Draft]:
    """Call the readings of a withdrawn gauge suspect, as the laboratory's word may come weeks later.

    Args:
        since: the day of its last good check, or `NO` if nobody knows.
    """
    gauge = require_gauge(gauges, serial)
    if not gauge.withdrawn:
        raise Refused("not now", f"{gauge.serial} is in use", "withdraw it first")
    why = require_reason(reason, "calling its readings suspect")
    day = _read_day(since, "since", f"enter the day of its last good check, or {NO} if nobody knows", now)
    return make_drafts(GaugeFoundSuspect(serial=gauge.serial, reason=why, since=day))


def describe_half_told(gauges: Mapping[str, Gauge], batches: Iterable[Batch]) -> list[str]:
    """Gauges that a batch was told are suspect and the register was not, as when the program is killed in between: the
    batches are told first. What to do is the same act again, which asks them about nothing twice.
    """
    found: dict[str, str] = {}
    for batch in batches:
        for one in batch.suspect_gauges.values():
            gauge, at = find_gauge(gauges, one.serial), batch.entries[one.seq - 1].time
            came = max((entry.seq for entry in batch.entries if entry.kind == TakenIn.KIND), default=0)
            if gauge is None or one.seq < came or _was_suspect_since(gauge, at):
                continue
            found.setdefault(
                gauge.serial,
                f"Gauge {gauge.serial} was reported suspect to {batch.id} ({one.reason}, {one.by}), but the register "
                "still has it as good: the entry was cut off. Report it suspect again (c).",
            )
    return list(found.values())


def _was_suspect_since(gauge: Gauge, at: datetime) -> bool:
    then: Gauge | None = gauge
    while then is not None and then.as_of >= at:
        if then.suspect:
            return True
        then = then.former
    return False


def find_suspect_reports(gauges: dict[str, Gauge], drafts: Iterable[Draft], now: datetime) -> list[ReportSuspectGauge]:
    """What to tell the batches that were measured with a gauge."""
    reports = []
    for said in map(read_event, drafts):
        if isinstance(said, GaugeFoundSuspect) or (isinstance(said, GaugeWithdrawn) and said.suspect):
            gauge = gauges[said.serial]
            since = gauge.checked if isinstance(said, GaugeWithdrawn) else _read_moment(said.since, now)
            reports.append(ReportSuspectGauge(gauge.serial, gauge.name, said.reason, since))
    return reports


def draft_gauge_return(
    gauges: dict[str, Gauge], leads: Collection[str], serial: str, due: str, reason: str, by: str, now: datetime
) -> list[Draft]:
    """Bring a gauge back into use once it was found good."""
    _need_lead(leads, by, "bringing a gauge back")
    gauge = require_gauge(gauges, serial)
    if not gauge.withdrawn:
        raise Refused("not now", f"{gauge.serial} is in use already", "nothing to bring back")
    until = _read_due(due, now.date())
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
        raise Refused(
            "input",
            f"calibration due {due} is past",
            "enter the date on its newest certificate; with none, set the gauge aside",
            field="due",
        )
    if due - today > FARTHEST:
        raise Refused("input", f"calibration due {due} is more than ten years away", "check the year", field="due")
    return due


def _read_day(text: str, field: str, remedy: str, now: datetime) -> str:
    """The first moment of a day gone by, as the record has it; empty for `NO`."""
    if not sanitize(text):
        raise Refused("input", f"{field}: nothing entered", remedy, field=field)
    if sanitize(text).casefold() in (NO, "no"):
        return ""
    day = read_date(text, field, field)
    if day > now.date():
        raise Refused("input", f"{field} {day} is still to come", remedy, field=field)
    if now.date() - day > FARTHEST:
        raise Refused("input", f"{field} {day} is more than ten years ago", "check the year", field=field)
    return format_wall(find_start_of_day(day, get_zone(now)))
