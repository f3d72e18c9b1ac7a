"""The shop's register of what its people are qualified for: a lead enters, renews and withdraws."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime, timedelta

from floor.batch.command import Refused, require_reason
from floor.batch.events import make_drafts
from floor.batch.gates.entered_values import read_date
from floor.batch.qualification import Qualification, fold_qualification
from floor.entry import Draft, Entry
from floor.shop.events import QualificationEntered, QualificationWithdrawn
from floor.text import sanitize

FARTHEST = timedelta(days=3653)
"""The farthest from today that either day may lie (shop decision)."""

Register = dict[str, dict[str, tuple[Qualification, ...]]]


def fold_qualifications(register: Register, said: object, entry: Entry) -> None:
    """What an entry changes in the register."""
    match said:
        case QualificationEntered():
            days = date.fromisoformat(said.since), date.fromisoformat(said.until) if said.until else None
            of = register.setdefault(said.initials, {})
            key = fold_qualification(said.what)
            of[key] = (*of.get(key, ()), Qualification(said.what, *days, entry.by))
        case QualificationWithdrawn():
            of, key = register[said.initials], fold_qualification(said.what)
            of[key] = tuple(
                one if one.withdrawn else Qualification(one.what, one.since, one.until, one.by, said.reason, entry.time)
                for one in of[key]
            )


def draft_qualification(
    leads: Collection[str], initials: str, what: str, since: str, until: str, by: str, now: datetime
) -> list[Draft]:
    """Enter what a person is qualified for, or renew it.

    Args:
        since, until: ISO dates, the first and the last day on which it holds; without an end the last is empty.
    """
    _need_lead(leads, by, "entering a qualification")
    name = " ".join(sanitize(what, 40).split())
    if len(name) < 3:
        raise Refused(
            "input", "qualification: nothing entered", "enter what it is, as checklists name it", field="what"
        )
    first = _read_day(since, "valid from", "since", now)
    last = _read_day(until, "valid until", "until", now) if until.strip() else None
    if last is not None and last < first:
        raise Refused("input", f"valid until {last} is before {first}", "enter both days again", field="until")
    if last is not None and last < now.date():
        raise Refused("input", f"valid until {last} is past", "enter the day of the renewal", field="until")
    ends = last.isoformat() if last is not None else ""
    return make_drafts(QualificationEntered(initials=initials, what=name, since=first.isoformat(), until=ends))


def _read_day(text: str, what: str, field: str, now: datetime) -> date:
    day = read_date(text, what, field)
    if abs(day - now.date()) > FARTHEST:
        raise Refused("input", f"{day} is more than ten years away", "check the year", field=field)
    return day


def draft_qualification_withdrawal(
    register: Register, leads: Collection[str], initials: str, what: str, reason: str, by: str
) -> list[Draft]:
    """Withdraw it, as when an examination says no more spraying."""
    _need_lead(leads, by, "withdrawing a qualification")
    entries = register.get(initials, {}).get(fold_qualification(what), ())
    if not entries or entries[-1].withdrawn:
        raise Refused("unknown", f"{initials} has no such qualification", "choose one from the list")
    why = require_reason(reason, "withdrawing a qualification")
    return make_drafts(QualificationWithdrawn(initials=initials, what=entries[-1].what, reason=why))


def _need_lead(leads: Collection[str], by: str, what: str) -> None:
    if by not in leads:
        raise Refused("authority", f"{what} needs a lead", f"ask {', '.join(sorted(leads)) or 'one'}")
