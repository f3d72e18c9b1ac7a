"""What makes a handover more than routine, and so how deep it goes: risks, long shifts, who is new or was away."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Literal

from floor.batch.corrections.unproved_work import find_open_unproved_work
from floor.batch.events import (
    KINDS,
    Event,
    StepSkipped,
    iter_events,
    read_run_numbers,
)
from floor.batch.handover.events import Depth
from floor.batch.open_items import OpenHandover
from floor.batch.state import Batch
from floor.batch.walk.clock_jumps import is_clock_change_untold
from floor.entry import Moment

FAMILIAR = timedelta(days=3)
"""Who entered something on the batch within this time knows it (shop decision)."""
LONG_ABSENCE = timedelta(days=7)
"""Who has been away from the batch for longer has everything read back (shop decision)."""
REST = timedelta(hours=6)
"""A pause between two entries of a person longer than this parts two shifts (shop decision)."""
RiskKind = Literal[
    "condition", "waived", "unproved", "out of limits", "gauge", "mismatch", "clock", "maintenance", "stopped",
    "exception", "skipped", "relief", "absent", "new", "new there", "long shift", "no talk",
]  # fmt: skip

RISKS: dict[RiskKind, str] = {
    "condition": "a guard is off, a lock is on, or a fix is temporary",
    "waived": "a gate is waived",
    "unproved": "a proof was struck out after pieces went on",
    "out of limits": "a value out of limits is not decided",
    "gauge": "pieces measured with a suspect gauge are not decided",
    "mismatch": "a count does not match and is open",
    "clock": "the clock was changed",
    "maintenance": "maintenance continues over the shift change",
    "stopped": "a cycle stopped before its end",
    "exception": "a run was started by exception",
    "skipped": "steps were skipped this shift",
    "relief": "a relief for injury or illness",
    "absent": "whoever takes over has not worked on it for a week or more",
    "new": "whoever takes over has not worked on this batch yet",
    "new there": "whoever takes over has not worked on this batch yet at a station that runs now",
    "long shift": "whoever hands over has worked a long shift",
    "no talk": "whoever hands over and whoever takes over have not talked",
}
"""What makes a handover a higher risk, in words; whether the two talked is known only as it is accepted."""


OF_THE_PAGE: tuple[type[Event], ...] = tuple(kind for kind in KINDS.values() if kind.GROUP != "handover")
"""Kinds that may change a line of the page."""


def asks_for_talk(handover: OpenHandover) -> bool:
    """Whether the taker can talk with who hands over: nobody is there in a night alone, or after an injury."""
    return not handover.unattended and handover.relief != "illness"


def find_depth(batch: Batch, taker: str, now: Moment) -> Depth:
    """How deep the open handover goes for this taker (HND-21, HND-22, HND-20).

    Short: a break, nothing out of the ordinary, and the taker has worked here lately. Whole: for an injury or illness,
    or after a long absence of the taker.
    """
    handover = batch.handover
    if handover is None:
        return ""
    last = _find_last_work(batch, taker)
    away = now.at - last if last is not None else None
    if handover.relief == "illness" or (away is not None and away > LONG_ABSENCE):
        return "whole"
    familiar = away is not None and away <= FAMILIAR
    return "short" if handover.relief == "break" and familiar and not find_risks(batch, now, taker) else ""


def find_risks(
    batch: Batch, now: Moment | None = None, taker: str = "", long_shift_hours: float = 0.0
) -> tuple[RiskKind, ...]:
    """Why this handover takes more care than a routine one.

    Args:
        taker: who reads the page now: what is new to them counts; with the present moment, their absence too.
        long_shift_hours: hours after which a shift is a long one; 0: never.
    """
    runs, giver = batch.list_open_runs(), batch.handover.by if batch.handover else batch.responsible
    last = _find_last_work(batch, taker) if taker else None
    stands: dict[RiskKind, bool] = {
        "condition": bool(batch.conditions),
        "waived": bool(batch.list_open_waivers()),
        "unproved": bool(find_open_unproved_work(batch)),
        "out of limits": bool(batch.list_open_out_of_limits()),
        "gauge": bool(batch.list_open_suspect_gauges()),
        "mismatch": bool(batch.list_open_differences()),
        "clock": is_clock_change_untold(batch),
        "maintenance": bool(batch.outages),
        "stopped": any(run.stopped for run in runs),
        "exception": any(run.exception for run in runs),
        "skipped": any(
            entry.seq not in batch.struck for entry, _ in iter_events(batch.entries[batch.shift_seq :], StepSkipped)
        ),
        "relief": batch.handover is not None and batch.handover.relief == "illness",
        "absent": now is not None and last is not None and now.at - last > LONG_ABSENCE,
        "new": bool(taker) and last is None,
        "new there": last is not None and not _has_worked_where_it_runs(batch, taker),
        "long shift": now is not None and 0 < long_shift_hours <= find_hours_at_work(batch, giver, now),
    }
    return tuple(kind for kind, there in stands.items() if there)


def find_hours_at_work(batch: Batch, who: str, now: Moment) -> float:
    """Hours since this person came to work, by their entries on the batch: a rest ends the shift before."""
    began = now.at
    for entry in reversed(batch.entries):
        if entry.by != who:
            continue
        if began - entry.time > REST:
            break
        began = min(began, entry.time)
    return (now.at - began) / timedelta(hours=1)


def _find_last_work(batch: Batch, who: str) -> datetime | None:
    """When this person last entered something on the batch; a handover is not work."""
    kinds = {kind.KIND for kind in OF_THE_PAGE}
    return next((one.time for one in reversed(batch.entries) if one.by == who and one.kind in kinds), None)


def _has_worked_where_it_runs(batch: Batch, who: str) -> bool:
    """Whether this person has entered something at every station of the batch where a cycle runs now."""
    at = {run.station: set[int]() for run in batch.list_open_runs() if run.running}
    for number, run in batch.runs.items():
        if run.station in at:
            at[run.station].add(number)
    own = {number for entry in batch.entries if at and entry.by == who for number in read_run_numbers(entry.body)}
    return all(numbers & own for numbers in at.values())
