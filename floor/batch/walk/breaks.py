"""When the work of a run was broken off for so long that cautions and safety checks are gone through again."""

from __future__ import annotations

from datetime import datetime, timedelta

from floor.batch.run import Run
from floor.batch.state import Batch

LONG_BREAK = timedelta(hours=2)
"""After a longer break in a run its cautions are read again before the work goes on (shop decision)."""


def needs_person(run: Run) -> bool:
    """A cycle that runs by itself is no break; one that stands for work by hand is."""
    return not run.running or run.stands is not None


def was_left_since(batch: Batch, run: Run, since: datetime, now: datetime) -> bool:
    """Whether nobody was at a run for longer than `LONG_BREAK` at some time after a moment.

    Where the moment lies in an earlier run on the same set-up, the time between two runs is a break as well.
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
