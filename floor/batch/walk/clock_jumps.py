"""What the shop's clock was moved by, and doubt about it.

Within one start of a machine its uptime measures a dwell, to the second, and whatever the clock was moved by is taken
out. Across starts and machines there is only the clock on the wall, and uptime proves nothing but how long that machine
has been on: it counts where the same machine was started anew, as the least that went by. A step back, more time gone
by than a machine is ever switched off, or an uptime that runs backwards, is in doubt: of it only what is proved counts
towards the earliest end, and all of it towards the latest, until a lead confirms the clock.

A clock that was set back may be set right where nobody sees it, while the machine is off or on another one: the wall
then shows that much more than went by. So it is kept how far the clock may be off since it was last known to be right.
A gap counts only for what it shows beyond that, and so does all the time since an earlier moment, taken together.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import inf

from floor.batch.open_items import ClockJump
from floor.batch.state import Batch
from floor.entry import Moment

TOLERANCE = 90.0
"""Seconds that the shop's clock may be moved by, all steps together, before it is said (shop decision: well above what
a time server sets it by, well below any dwell)."""
SLIGHT = 1.0
"""Seconds by which clock and uptime may disagree without a jump being kept: the two are not read at one instant."""
LONGEST_OFF = 31 * 86400.0
"""Seconds a machine may have been switched off, or a batch under way to another, before the clock is doubted (shop
decision: a works holiday is shorter)."""


def jump_between(batch: Batch, now: Moment, seq: int) -> ClockJump | None:
    """What the shop's clock was moved by between the last entry and this reading, if anything."""
    last, anchor = batch.last, batch.boots.get(now.boot) if now.boot else None
    wall = (now.at - last.at).total_seconds()
    backwards = ran_backwards(batch, now)
    low, high = off = _off(batch.jumps)
    if anchor is not None and now.boot == last.boot and not backwards:
        delta = _moved(anchor, now, [jump.delta for jump in batch.jumps if jump.seq > anchor[1]])
        return ClockJump(seq, now.at, delta, delta, True, low + delta, high + delta) if abs(delta) > SLIGHT else None
    sure = now.up if started_anew(last, now) and not backwards else 0.0
    there = _off(batch.jumps, batch.left[machine(now)]) if machine(now) in batch.left else (0.0, 0.0)
    known = anchor is not None or machine(now) == machine(last)  # then what is known of it says better
    gap = wall - max(-low, 0.0) - (0.0 if known else max(there[1], 0.0))
    counts = sure <= gap <= sure + LONGEST_OFF and not backwards
    # The most is what the clock says where it says more than is sure, however much that is.
    least, most = wall - (gap if counts else sure), min(wall - sure, 0.0)
    low, high = _off_after((min(low, there[0], 0.0), max(high, there[1], 0.0)), wall - sure, backwards)
    if anchor is not None and not backwards:  # back at a machine that ran on meanwhile: its uptime bounds what went by
        since = [jump for jump in batch.jumps if jump.seq > anchor[1]]
        least = max(least, _moved(anchor, now, [jump.delta for jump in since]))
        most = min(most, _moved(anchor, now, [jump.most for jump in since]))
        moved = _moved(anchor, now, [])
        before = _off(batch.jumps, anchor[1])[0], _ahead(batch.jumps, anchor[1])
        low, high = _agreed((low, high), [off + moved for off in before])
    if max(abs(least), abs(most)) > SLIGHT:
        return ClockJump(seq, now.at, least, most, False, low, high)
    return ClockJump(seq, now.at, 0.0, 0.0, True, low, high) if (low, high) != off else None


def ran_backwards(batch: Batch, now: Moment) -> bool:
    """Whether the uptime of this start of the machine is less than one seen before: a copy of it that was started
    again, where neither its clock nor its uptime tells what went by."""
    if now.boot not in batch.boots:
        return False
    before = batch.last if now.boot == batch.last.boot else batch.boots[now.boot][0]
    return now.up < before.up - SLIGHT


def started_anew(before: Moment, after: Moment) -> bool:
    """Whether a machine was switched off and on between two readings."""
    return machine(before) == machine(after) != "" and before.boot != after.boot


def machine(moment: Moment) -> str:
    """The machine of a reading; empty where it has no name."""
    name, _, start = moment.boot.partition("-")
    return name if start else ""


def _moved(anchor: tuple[Moment, int], now: Moment, known: Iterable[float]) -> float:
    """What the clock was moved by since an earlier reading in the same start of the machine, less what is known."""
    before = anchor[0]
    return (now.at - before.at).total_seconds() - (now.up - before.up) - sum(known)


def _off(jumps: Sequence[ClockJump], seq: float = inf) -> tuple[float, float]:
    """Seconds that the clock may be ahead of what it showed when it was last known to be right, at the least and at
    the most, as of this entry."""
    for jump in reversed(jumps):
        if jump.seq <= seq:
            return jump.low, jump.high
    return 0.0, 0.0


def _off_after(off: tuple[float, float], shown: float, backwards: bool) -> tuple[float, float]:
    """The same after a gap over which the wall shows so much more than is sure: right, or as wrong as it was before, or
    as that machine was when entries last came from there.

    How far a clock was set back during a gap cannot be told, as nobody knows how long the gap was.
    """
    low, high = off
    if shown > LONGEST_OFF or backwards:
        high += max(shown, 0.0)
    if shown < -TOLERANCE or backwards:
        return -inf, high
    return low + min(shown, 0.0), high


def _agreed(by_gap: tuple[float, float], by_start: Sequence[float]) -> tuple[float, float]:
    """How far the clock may be off, by the gap before and by this start of its machine, which tells it better.

    Where they cannot both be right a clock was ahead of the true time, nobody knows which: then it is all of both.
    """
    low, high = by_start
    if low > by_gap[1] + SLIGHT or high < by_gap[0] - SLIGHT:
        return min(low, by_gap[0]), max(high, by_gap[1])
    return low, high


def moved_since(jumps: Sequence[ClockJump], seq: int) -> float:
    """What the clock was moved by since this entry, where a dwell counts as little as is proved.

    Gap by gap, or over all of them at once, whichever proves more: a clock that was right cannot show more time over
    all than went by, however often it was set back and right again.
    """
    moved = sum(jump.delta for jump in jumps if jump.seq > seq)
    if any(jump.right for jump in jumps if jump.seq > seq):
        return moved
    return min(moved, _off(jumps)[1] - _behind(jumps, seq))


def _ahead(jumps: Sequence[ClockJump], seq: int) -> float:
    """How far the clock may have been ahead at an entry: as far as a machine known better shows after it."""
    high, most = _off(jumps, seq)[1], 0.0
    for jump in jumps:
        if jump.seq > seq:
            most += jump.most
            if jump.low - most > high + SLIGHT:
                high = jump.high - most
    return high


def _behind(jumps: Sequence[ClockJump], seq: int) -> float:
    """How far the clock may have been behind at an entry: as far as it is seen to be set forward after it, too.

    A gap that ends within the tolerance of where it began may have been a long one, with the clock set back by it.
    """
    low, forward = min(_off(jumps, seq)[0], 0.0), 0.0  # that it was ahead is never proved by a gap
    for jump in jumps:
        if jump.seq > seq and jump.exact:
            forward += jump.delta
            low = min(low, -forward)
        elif jump.seq > seq:
            break
    return low


def most_moved_since(jumps: Sequence[ClockJump], seq: int) -> float:
    """What the clock was moved by since this entry, where a dwell counts as much as can be."""
    return min(sum(jump.most for jump in jumps if jump.seq > seq), moved_since(jumps, seq))


def confirmed(jumps: Sequence[ClockJump], seq: int) -> list[ClockJump]:
    """The jumps once a lead has said, in this entry, that the clock is right now.

    What it was moved by altogether since the first doubt is then nothing, or less where more time is proved, or more
    where it was known to have been set back before: it may have been set right since. The first gap in doubt takes up
    the difference for the least, the last for the most: what began in between is credited with none of it.
    """
    doubts = [place for place, jump in enumerate(jumps) if not jump.exact]
    found = list(jumps)
    if doubts:
        first, last = doubts[0], doubts[-1]
        least, most = sum(jump.delta for jump in jumps[first:]), sum(jump.most for jump in jumps[first:])
        right = min(least, max(-_off(jumps[:first])[0], 0.0))
        found[first] = replace(found[first], delta=found[first].delta - (least - right))
        found[last] = replace(found[last], most=found[last].most - (most - min(right, 0.0)))
    if _off(jumps) != (0.0, 0.0):
        found.append(ClockJump(seq, jumps[-1].at, 0.0, 0.0, True, right=True))
    return [replace(jump, exact=True) for jump in found]


def clock_in_doubt(batch: Batch, now: Moment | None = None) -> bool:
    """Whether the clock was moved and how far is not known; ends when a lead confirms the clock."""
    jumps = jumps_until(batch, now) if now is not None else batch.jumps
    return any(not jump.exact and max(abs(jump.delta), abs(jump.most)) > TOLERANCE for jump in jumps)


def clock_moved(batch: Batch, now: Moment | None = None) -> bool:
    """Whether it is to be said that the clock was moved: in doubt, or known and nobody has been told of it yet.

    Who takes over is told, and a lead who confirms the clock knows.
    """
    jumps = jumps_until(batch, now) if now is not None else batch.jumps
    told = [jump.delta for jump in jumps if jump.seq > batch.clock_told]
    return clock_in_doubt(batch, now) or abs(sum(told)) > TOLERANCE or any(abs(delta) > TOLERANCE for delta in told)


def jumps_until(batch: Batch, now: Moment) -> Sequence[ClockJump]:
    """The jumps on record, and one since the last entry."""
    latest = jump_between(batch, now, batch.seq + 1)
    return batch.jumps if latest is None else [*batch.jumps, latest]
