"""How far a handover has come for one person, as the record has it, and what that person can press there."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from floor.batch.handover.page import list_lines_to_read_back, list_subjects_to_count, list_unread_entries
from floor.batch.state import Batch
from floor.entry import Moment
from floor.text import format_clock

Stage = Literal["prepare", "offered", "read", "count", "read back", "accept"]

STEPS: dict[Stage, str] = {"read": "Read", "count": "Count", "read back": "Read back", "accept": "Ask and accept"}
"""Stages of the taker."""
TASKED: tuple[Stage, ...] = ("count", "read back", "accept")
"""Where the taker has something to do beside the page."""
AWAY = "v: back to the task   PgUp PgDn: scroll"
"""Keys where the page hides the task."""
_KEYS: dict[Stage, str] = {
    "prepare": "Enter: remarks, then sign   d: unattended, relief   ↑ ↓ PgUp PgDn: scroll",
    "offered": "Ctrl+L: the next person signs in and takes over   d: withdraw",
    "read": "Enter: next page; at the end, that you have read it   ↑ ↓ PgUp PgDn: scroll",
    "count": "Type the number and Enter   ↑ ↓: another place   Esc: leave the field",
    "read back": "Read the line aloud, then press its number   ↑: back to the counts",
    "accept": "y: accept and sign   ↑: back to the counts",
}


def find_stage(batch: Batch, now: Moment, who: str, counting: bool) -> Stage:
    """What this person has to do next.

    Args:
        counting: whether they are at the counts still though none is left.
    """
    handover = batch.handover
    if handover is None:
        return "prepare"
    if who == handover.by and not handover.unattended:
        return "offered"
    if who not in handover.readers or list_unread_entries(batch, who):
        return "read"
    if counting or list_subjects_to_count(batch, now, who) or batch.list_open_differences():
        return "count"
    return "read back" if list_lines_to_read_back(batch, now, who) else "accept"


def describe_responsible(batch: Batch, now: datetime) -> str:
    handover = batch.handover
    if handover is None:
        since = f" since {format_clock(batch.shift_began, now)}" if batch.shift_began else ""
        return f"{batch.responsible} has been responsible{since}. No handover is open."
    what = "Left unattended" if handover.unattended else "Offered"
    by = "" if handover.by == batch.responsible else f" by {handover.by}"
    said = f"{batch.responsible} is responsible until someone signs for it."
    return f"{said} {what} {format_clock(handover.at, now)}{by}."


def format_steps(stage: Stage) -> str:
    """``✓ Read   ▶ Count   · Read back   · Ask and accept``."""
    names = list(STEPS)
    at = names.index(stage) if stage in STEPS else -1
    signs = ["✓" if n < at else "▶" if n == at else "·" for n in range(len(names))]
    return "   ".join(f"{sign} {STEPS[name]}" for sign, name in zip(signs, names, strict=True))


def describe_keys(stage: Stage, batch: Batch, now: Moment, who: str, typed: bool) -> str:
    """What can be pressed at a stage.

    Args:
        typed: whether there are counts that Enter would record.
    """
    if stage == "count" and typed:
        return "Enter: record what you typed   ↑ ↓: another place   Esc: leave the field"
    if stage == "count" and not list_subjects_to_count(batch, now, who):
        if batch.list_open_differences():
            return "A count does not match: type it again, Enter   Esc, d: have a lead settle it"
        return "All counted. Enter: go on to read back   ↑ ↓: count a place again"
    if stage == "read" and (unread := list_unread_entries(batch, who)):
        others = ", ".join(sorted({entry.by for entry in unread}))
        return f"The page has changed since you read it ({others}). Enter: next page, to the end"
    return _KEYS[stage]
