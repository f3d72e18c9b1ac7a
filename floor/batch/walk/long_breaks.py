"""When a break in a run was long enough that cautions, safety checks or the steps done last are repeated."""

from __future__ import annotations

from datetime import datetime, timedelta

from floor.batch.run import Run
from floor.batch.state import Batch
from floor.checklist.units import Time
from floor.entry import Moment
from floor.text import format_clock, format_span

LONG_BREAK = timedelta(hours=2)
"""After a break longer than this, cautions are read again before work goes on (shop decision)."""


def needs_person(run: Run) -> bool:
    """Whether a run needs a person: an unattended cycle is no break, one stopped for attended work is."""
    return not run.running or run.stands is not None


def find_interruption(run: Run, recheck_after: Time | None, now: datetime) -> datetime | None:
    """When the manual work of a run was last left for longer than its operation lets it (CBP-35); None if never."""
    if recheck_after is None or run.touched is None:
        return None
    left = needs_person(run) and (now - run.touched).total_seconds() > recheck_after.base
    return run.touched if left else run.left


def say_long_break(by: str, what: str, at: datetime, now: Moment) -> str:
    """Why something is done again after a long break; ``what`` is ``confirmed it``."""
    away = format_span(LONG_BREAK.total_seconds())
    return f"work stopped for more than {away} after {by} {what} at {format_clock(at, now.at)}"


def was_left_since(batch: Batch, run: Run, since: datetime, now: datetime) -> bool:
    """Whether a run was left for longer than `LONG_BREAK` after a moment.

    If the moment lies in an earlier run on the same set-up, the time between the runs counts as a break too.
    """
    if run.touched is not None and now - run.touched > LONG_BREAK and needs_person(run):
        return True
    if run.resumed is not None and since < run.resumed:
        return True
    if since >= run.begun:
        return False
    same = (other for other in batch.runs.values() if other.setup == run.setup and other.number < run.number)
    last = max((other.touched for other in same if other.touched is not None), default=since)
    return run.begun - max(last, since) > LONG_BREAK
