"""Clocks of the route, and doubt about the shop's own clock.

A dwell is measured between two entries; what the shop's clock was moved by in between is taken out again, so
that setting it never ripens a cure. Where the machine restarted in between, a step back is known only as "at
least so much": it then delays the earliest end and counts towards the latest.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from floor.batch.state import Batch, Jump
from floor.checklist.model import Clock, Window
from floor.entry import Moment

TOLERANCE = 90.0
"""Seconds by which the shop's clock and the machine's uptime may drift apart between two entries without being
called a jump (common practice, no source: well above a time server's slewing, well below any dwell)."""


def jump_between(before: Moment, after: Moment, seq: int) -> Jump | None:
    """The jump of the shop's clock between two readings, if there was one."""
    wall = (after.at - before.at).total_seconds()
    if before.boot and before.boot == after.boot:
        delta = wall - (after.up - before.up)
        return Jump(seq, after.at, delta, True) if abs(delta) > TOLERANCE else None
    return Jump(seq, after.at, wall, False) if wall < -TOLERANCE else None


@dataclass(frozen=True, slots=True)
class Dwell:
    """How long a clock has run, in seconds, at the least and at the most."""

    least: float
    most: float


@dataclass(frozen=True, slots=True)
class Ripeness:
    """Where a clock stands against its windows, for a group of pieces.

    ``opens`` and ``closes`` are readings of the shop's clock: when the next window opens (None: open now or never
    again), when the one that is open closes (None: it does not).
    """

    status: str
    """``not started``, ``open``, ``wait`` or ``late``."""
    opens: datetime | None = None
    closes: datetime | None = None
    since: datetime | None = None
    missing: int = 0


def _dwell(starts: Sequence[tuple[datetime, int]], jumps: Sequence[Jump], now: datetime) -> tuple[Dwell, float, float]:
    """Dwell over all starts, and the corrections (seconds) of its latest and its earliest start."""

    def moved(seq: int, exact_only: bool) -> float:
        return sum(jump.delta for jump in jumps if jump.seq > seq and (jump.exact or not exact_only))

    last_at, last_seq = max(starts)
    first_at, first_seq = min(starts)
    least_correction = moved(last_seq, exact_only=True)
    most_correction = moved(first_seq, exact_only=False)
    return (
        Dwell((now - last_at).total_seconds() - least_correction, (now - first_at).total_seconds() - most_correction),
        least_correction,
        most_correction,
    )


def ripeness(
    windows: Iterable[Window], starts: Sequence[tuple[datetime, int]], jumps: Sequence[Jump], now: datetime
) -> Ripeness:
    """Judge the windows of a clock that started at these times (one for each piece; not empty)."""
    dwell, least_correction, most_correction = _dwell(starts, jumps, now)
    last_at, first_at = max(starts)[0], min(starts)[0]
    opens: datetime | None = None
    for window in sorted(windows, key=lambda window: window.earliest.base if window.earliest else 0.0):
        earliest = window.earliest.base if window.earliest else 0.0
        latest = window.latest.base if window.latest else None
        if latest is not None and dwell.most > latest:
            continue
        if dwell.least >= earliest:
            closes = None if latest is None else first_at + timedelta(seconds=latest + most_correction)
            return Ripeness("open", closes=closes, since=last_at)
        starts_at = last_at + timedelta(seconds=earliest + least_correction)
        opens = starts_at if opens is None else min(opens, starts_at)
    return Ripeness("wait" if opens else "late", opens=opens, since=last_at)


def standing(batch: Batch, clock: Clock, pieces: Sequence[int], now: Moment) -> Ripeness:
    """Where a clock of the batch stands for these pieces."""
    jumps = batch.jumps
    latest = jump_between(batch.last, now, batch.seq + 1)
    if latest is not None:
        jumps = [*jumps, latest]
    if clock.per == "batch":
        start = batch.batch_clocks.get(clock.id)
        return ripeness(clock.windows, [start], jumps, now.at) if start else Ripeness("not started")
    started = batch.piece_clocks.get(clock.id, {})
    starts = [started[piece] for piece in pieces if piece in started]
    if len(starts) < len(pieces) or not starts:
        return Ripeness("not started", missing=len(pieces) - len(starts))
    return ripeness(clock.windows, starts, jumps, now.at)
