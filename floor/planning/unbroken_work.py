"""Attended work that may not be interrupted: how long it takes, and when it must start to be done in time."""

from __future__ import annotations

from bisect import bisect_right
from datetime import datetime

from floor.batch.state import Batch
from floor.batch.walk.lines import Walk
from floor.checklist.operation import BEFORE_CYCLE
from floor.dataclass import dataclass
from floor.figures.calendar import Calendar, NoWorkingTime, WorkingTime, to_epoch, to_local, to_seconds
from floor.figures.schedule import Phase, PhaseKind
from floor.planning.durations import build_phases, compute_run_duration
from floor.text import format_clock, format_span, join_sentences

DAY = 24 * 3600


@dataclass(frozen=True, slots=True)
class UnbrokenWork:
    """Attended work still to be started."""

    minutes: float
    begin: datetime | None
    """The first time it can start and be done before everybody leaves; None if no shift is long enough."""
    latest: datetime | None
    """If that is now: the latest start; None if somebody is in for a day or longer."""

    def said(self, now: datetime) -> str:
        """``In one go, 45 min attended. Start it by 10:45.``"""
        head = f"in one go, {format_span(self.minutes * 60)} attended"
        if self.begin is None:
            return join_sentences(head, "no stretch of work is that long: keep someone on, or make the load smaller")
        if self.begin > now:
            wrong = "does not fit before the next break or the end of the shift"
            return join_sentences(head, f"{wrong}: start it {self._at(now)}")
        return join_sentences(head, f"start it by {format_clock(self.latest, now)}" if self.latest else "")

    def _at(self, now: datetime) -> str:
        assert self.begin is not None, "asked where there is a time"
        return format_clock(self.begin, now)


def find_unbroken_work(batch: Batch, walked: Walk, calendar: Calendar, now: datetime) -> UnbrokenWork | None:
    """The uninterruptible attended work that is next on a walk; None if none, or if already started."""
    work = _work(batch, walked)
    if work is None or not work.minutes:
        return None
    at, length = to_epoch(now), to_seconds(work.minutes)
    hours = WorkingTime(calendar, at)
    try:
        begin, _ = hours.fit(at, length)
    except NoWorkingTime:
        return UnbrokenWork(work.minutes, None, None)
    ends = _ends(hours, at)
    latest = to_local(ends - length, calendar.tz) if begin <= at and ends is not None else None
    return UnbrokenWork(work.minutes, to_local(begin, calendar.tz) if begin > at else now, latest)


def _work(batch: Batch, walked: Walk) -> Phase | None:
    """The attended work just ahead on a walk, with nothing of it done."""
    run, operation, line = walked.run, walked.operation, walked.current
    if not operation.in_one_go or line is None:
        return None
    ahead = BEFORE_CYCLE if run.started is None else ("after",)
    begun = any(key in run.marks for key, step in operation.numbered_steps if step.at == ahead[-1])
    if line.phase not in ahead or begun or run.count is not None:
        return None
    each = build_phases(operation, compute_run_duration(operation, len(run.pieces)))
    work = each[-1] if run.started is not None else each[0]
    return work if work.kind is PhaseKind.ATTENDED and (run.started is None or len(each) > 1) else None


def _ends(hours: WorkingTime, at: int) -> int | None:
    """When everybody has left, counted from a moment when somebody is in; None if a day or more later."""
    for step in range(bisect_right(hours.times, at), len(hours.times)):
        if hours.levels[step] < 1:
            return hours.times[step] if hours.times[step] <= at + DAY else None
    return None
