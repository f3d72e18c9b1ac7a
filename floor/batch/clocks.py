"""Clocks of the route, and doubt about the shop's own clock.

A dwell is measured between two entries; what the shop's clock was moved by in between is taken out again, so
that setting it never ripens a cure. Where the machine restarted in between, a step back, or more time gone by
than a machine is ever switched off, is in doubt: of it only the time since the restart counts towards the
earliest end, and all of it towards the latest, until a lead confirms that the clock is right.
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
LONGEST_OFF = 31 * 86400.0
"""Seconds a machine may have been switched off before its clock is doubted (shop decision: a works holiday is
shorter)."""


def jump_between(before: Moment, after: Moment, seq: int) -> Jump | None:
    """The jump of the shop's clock between two readings, if there was one."""
    wall = (after.at - before.at).total_seconds()
    if before.boot and before.boot == after.boot:
        delta = wall - (after.up - before.up)
        return Jump(seq, after.at, delta, True) if abs(delta) > TOLERANCE else None
    # What is sure is only the time since the restart, so less than that is a step back.
    plausible = after.up - TOLERANCE <= wall <= after.up + LONGEST_OFF
    return None if plausible else Jump(seq, after.at, wall - after.up, False)


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


def _dwell(
    starts: Sequence[tuple[datetime, int]], jumps: Sequence[Jump], now: datetime
) -> tuple[Dwell, datetime, datetime]:
    """Dwell over all starts, and the moments on the shop's present clock that its least and its most count from.

    A start after a step back reads earlier on the clock than one before it, so they are compared corrected.
    """

    def corrected(start: tuple[datetime, int], credit: bool) -> datetime:
        at, seq = start
        # A gap that is in doubt counts whole towards the most; a step back that is in doubt never counts backwards.
        moved = (jump.delta for jump in jumps if jump.seq > seq and not (credit and not jump.exact and jump.delta > 0))
        return at + timedelta(seconds=sum(moved))

    distinct = set(starts)
    last = max(corrected(start, credit=False) for start in distinct)
    first = min(corrected(start, credit=True) for start in distinct)
    return Dwell((now - last).total_seconds(), (now - first).total_seconds()), last, first


def ripeness(
    windows: Iterable[Window], starts: Sequence[tuple[datetime, int]], jumps: Sequence[Jump], now: datetime
) -> Ripeness:
    """Judge the windows of a clock that started at these times (one for each piece; not empty)."""
    dwell, last, first = _dwell(starts, jumps, now)
    opens: datetime | None = None
    for window in sorted(windows, key=lambda window: window.earliest.base if window.earliest else 0.0):
        earliest = window.earliest.base if window.earliest else 0.0
        latest = window.latest.base if window.latest else None
        if latest is not None and dwell.most > latest:
            continue
        if dwell.least >= earliest:
            closes = None if latest is None else first + timedelta(seconds=latest)
            return Ripeness("open", closes=closes, since=last)
        starts_at = last + timedelta(seconds=earliest)
        opens = starts_at if opens is None else min(opens, starts_at)
    return Ripeness("wait" if opens else "late", opens=opens, since=last)


def standing(batch: Batch, clock: Clock, pieces: Sequence[int], now: Moment) -> Ripeness:
    """Where a clock of the batch stands for these pieces."""
    jumps = _jumps(batch, now)
    if clock.per == "batch":
        start = batch.batch_clocks.get(clock.id)
        return ripeness(clock.windows, [start], jumps, now.at) if start else Ripeness("not started")
    starts = _starts(batch, clock, pieces)
    if len(starts) < len(pieces) or not starts:
        return Ripeness("not started", missing=len(pieces) - len(starts))
    return ripeness(clock.windows, starts, jumps, now.at)


def spans(
    batch: Batch, clock: Clock, pieces: Sequence[int], now: Moment
) -> list[tuple[datetime, datetime | None]]:
    """When each window of a clock opens and closes, on the shop's clock, for those of the pieces it has started for.

    Empty where it has started for none; None for a window that does not close. A window that closes for the oldest
    piece before it opens for the newest is left out.
    """
    starts = _starts(batch, clock, pieces)
    if not starts:
        return []
    _, last, first = _dwell(starts, _jumps(batch, now), now.at)
    found = []
    for window in clock.windows:
        opens = last + timedelta(seconds=window.earliest.base if window.earliest else 0.0)
        closes = first + timedelta(seconds=window.latest.base) if window.latest else None
        if closes is None or opens <= closes:
            found.append((opens, closes))
    return found


def _starts(batch: Batch, clock: Clock, pieces: Sequence[int]) -> list[tuple[datetime, int]]:
    if clock.per == "batch":
        return [batch.batch_clocks[clock.id]] if clock.id in batch.batch_clocks else []
    started = batch.piece_clocks.get(clock.id, {})
    return [started[piece] for piece in pieces if piece in started]


def _jumps(batch: Batch, now: Moment) -> Sequence[Jump]:
    """The jumps on record, and one since the last entry."""
    latest = jump_between(batch.last, now, batch.seq + 1)
    return batch.jumps if latest is None else [*batch.jumps, latest]
