"""Clocks of the route, and doubt about the shop's own clock.

A dwell is measured between two entries. Within one start of a machine its uptime measures it, to the second, and
whatever the shop's clock was moved by is taken out. Across starts and machines there is only the shop's clock, and
uptime proves nothing but how long that machine has been on: it counts where the same machine was started anew, as the
least that went by. A step back, or more time gone by than a machine is ever switched off, is in doubt: of it only
what is proved counts towards the earliest end, and all of it towards the latest, until a lead confirms the clock.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from floor.batch.state import Batch, Run
from floor.batch.unsettled import Jump
from floor.checklist.model import Clock, Window
from floor.entry import Moment

TOLERANCE = 90.0
"""Seconds that the shop's clock may be moved by, all steps together, before it is said (shop decision: well above what
a time server sets it by, well below any dwell)."""
SLIGHT = 1.0
"""Seconds by which clock and uptime may disagree without a jump being kept: the two are not read at one instant."""
LONGEST_OFF = 31 * 86400.0
"""Seconds a machine may have been switched off, or a batch under way to another, before the clock is doubted (shop
decision: a works holiday is shorter)."""


def jump_between(batch: Batch, now: Moment, seq: int) -> Jump | None:
    """What the shop's clock was moved by between the last entry and this reading, if anything."""
    last, anchor = batch.last, batch.boots.get(now.boot)
    wall = (now.at - last.at).total_seconds()
    if now.boot and now.boot == last.boot and anchor is not None:
        delta = _moved(anchor, now, [jump.delta for jump in batch.jumps if jump.seq > anchor[1]])
        return Jump(seq, now.at, delta, delta, True) if abs(delta) > SLIGHT else None
    sure = now.up if started_anew(last, now) else 0.0
    gap = wall - _behind(batch.jumps)
    # The most is what the clock says where it says more than is sure, however much that is.
    least, most = wall - (gap if sure <= gap <= sure + LONGEST_OFF else sure), min(wall - sure, 0.0)
    if now.boot and anchor is not None:  # back at a machine that ran on meanwhile: its uptime bounds what went by
        since = [jump for jump in batch.jumps if jump.seq > anchor[1]]
        least = max(least, _moved(anchor, now, [jump.delta for jump in since]))
        most = min(most, _moved(anchor, now, [jump.most for jump in since]))
    return Jump(seq, now.at, least, most, False) if max(abs(least), abs(most)) > SLIGHT else None


def started_anew(before: Moment, after: Moment) -> bool:
    """Whether a machine was switched off and on between two readings: the part of the name before ``-`` is its own."""
    machine, _, boot = after.boot.partition("-")
    return bool(machine and boot) and before.boot.startswith(f"{machine}-") and before.boot != after.boot


def _moved(anchor: tuple[Moment, int], now: Moment, known: Iterable[float]) -> float:
    """What the clock was moved by since an earlier reading in the same start of the machine, less what is known."""
    before = anchor[0]
    return (now.at - before.at).total_seconds() - (now.up - before.up) - sum(known)


def _behind(jumps: Iterable[Jump]) -> float:
    """Seconds that the clock is behind since a step back in doubt: no gap counts before it has made them up."""
    behind = 0.0
    for jump in jumps:
        if not jump.exact or jump.delta > 0:
            behind = max(behind - jump.delta, 0.0)
    return behind


def confirmed(jumps: Sequence[Jump]) -> list[Jump]:
    """The jumps once a lead has said that the clock is right now, as it was before the first that is in doubt.

    What it was moved by altogether since then is nothing, or less where more time is proved. The first gap in doubt
    takes up the difference for the least, the last for the most: what began in between is credited with none of it.
    """
    doubts = [place for place, jump in enumerate(jumps) if not jump.exact]
    if not doubts:
        return list(jumps)
    found = list(jumps)
    first, last = doubts[0], doubts[-1]
    least, most = sum(jump.delta for jump in jumps[first:]), sum(jump.most for jump in jumps[first:])
    right = min(least, 0.0)
    found[first] = replace(found[first], delta=found[first].delta - (least - right))
    found[last] = replace(found[last], most=found[last].most - (most - right))
    return [replace(jump, exact=True) for jump in found]


def clock_in_doubt(batch: Batch, now: Moment | None = None) -> bool:
    """Whether the clock was moved and how far is not known; ends when a lead confirms the clock."""
    jumps = _jumps(batch, now) if now is not None else batch.jumps
    return any(not jump.exact and max(abs(jump.delta), abs(jump.most)) > TOLERANCE for jump in jumps)


def clock_moved(batch: Batch, now: Moment | None = None) -> bool:
    """Whether it is to be said that the clock was moved: in doubt, or known and nobody has been told of it yet.

    Who takes over is told, and a lead who confirms the clock knows.
    """
    jumps = _jumps(batch, now) if now is not None else batch.jumps
    told = [jump.delta for jump in jumps if jump.seq > batch.clock_told]
    return clock_in_doubt(batch, now) or abs(sum(told)) > TOLERANCE or any(abs(delta) > TOLERANCE for delta in told)


def reading(batch: Batch, at: datetime, seq: int, now: Moment) -> datetime:
    """An earlier moment, that of this entry, as the shop's clock would have shown it had it stood then as now."""
    return shifted(at, sum(jump.delta for jump in _jumps(batch, now) if jump.seq > seq))


def planned_end(batch: Batch, run: Run, now: Moment) -> datetime | None:
    """When the cycle of a run should end by the checklist's times, on the present clock; None where it does not run."""
    if run.started is None or run.stopped is not None:
        return None
    cycle = batch.operation(run.op).time.seconds("cycle", len(run.pieces))
    return shifted(reading(batch, run.started, run.started_seq, now), cycle + run.stood)


def shifted(at: datetime, seconds: float) -> datetime:
    """A time so much later, no further than a calendar goes in every zone."""
    first, last = datetime(2, 1, 1, tzinfo=at.tzinfo), datetime(9998, 12, 31, tzinfo=at.tzinfo)
    try:
        return min(max(at + timedelta(seconds=seconds), first), last)
    except OverflowError:
        return last if seconds > 0 else first


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

    distinct = set(starts)
    last = max(shifted(at, sum(jump.delta for jump in jumps if jump.seq > seq)) for at, seq in distinct)
    first = min(shifted(at, sum(jump.most for jump in jumps if jump.seq > seq)) for at, seq in distinct)
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
            closes = None if latest is None else shifted(first, latest)
            return Ripeness("open", closes=closes, since=last)
        starts_at = shifted(last, earliest)
        opens = starts_at if opens is None else min(opens, starts_at)
    return Ripeness("wait" if opens else "late", opens=opens, since=last)


def standing(batch: Batch, clock: Clock, pieces: Sequence[int], now: Moment) -> Ripeness:
    """Where a clock of the batch stands for these pieces."""
    jumps = _jumps(batch, now)
    if clock.per == "batch":
        start = batch.batch_clocks.get(clock.id)
        return ripeness(clock.windows, _both(batch, [start]), jumps, now.at) if start else Ripeness("not started")
    starts = _starts(batch, clock, pieces)
    if len(starts) < len(pieces) or not starts:
        return Ripeness("not started", missing=len(pieces) - len(starts))
    return ripeness(clock.windows, _both(batch, starts), jumps, now.at)


def too_late(batch: Batch, clock: Clock, pieces: Sequence[int], now: Moment) -> list[int]:
    """Those of the pieces whose own last window has closed."""
    if clock.per == "batch":
        return []
    return [piece for piece in pieces if standing(batch, clock, (piece,), now).status == "late"]


def spans(batch: Batch, clock: Clock, pieces: Sequence[int], now: Moment) -> list[tuple[datetime, datetime | None]]:
    """When each window of a clock opens and closes, on the shop's clock, for those of the pieces it has started for.

    Empty where it has started for none; None for a window that does not close. A window that closes for the oldest
    piece before it opens for the newest is left out.
    """
    starts = _starts(batch, clock, pieces)
    if not starts:
        return []
    _, last, first = _dwell(_both(batch, starts), _jumps(batch, now), now.at)
    found = []
    for window in clock.windows:
        opens = shifted(last, window.earliest.base if window.earliest else 0.0)
        closes = shifted(first, window.latest.base) if window.latest else None
        if closes is None or opens <= closes:
            found.append((opens, closes))
    return found


def _starts(batch: Batch, clock: Clock, pieces: Sequence[int]) -> list[tuple[datetime, int]]:
    if clock.per == "batch":
        return [batch.batch_clocks[clock.id]] if clock.id in batch.batch_clocks else []
    started = batch.piece_clocks.get(clock.id, {})
    return [started[piece] for piece in pieces if piece in started]


def _both(batch: Batch, starts: Sequence[tuple[datetime, int]]) -> list[tuple[datetime, int]]:
    """The starts, and the earlier ones that count towards the latest end only.

    These are the time of the act where it was entered from paper, and the first start where a cycle had stopped.
    """
    acts = [(batch.on_paper[seq][0], seq) for _, seq in set(starts) if seq in batch.on_paper]
    return [*starts, *acts, *(batch.resumed[seq] for _, seq in set(starts) if seq in batch.resumed)]


def _jumps(batch: Batch, now: Moment) -> Sequence[Jump]:
    """The jumps on record, and one since the last entry."""
    latest = jump_between(batch, now, batch.seq + 1)
    return batch.jumps if latest is None else [*batch.jumps, latest]
