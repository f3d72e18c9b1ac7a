"""Jumps of the shop's clock, and doubt about it.

Within one start of a machine, uptime measures a dwell to the second, and clock jumps are taken out. Across starts and
machines there is only the wall clock; uptime only proves how long that machine has been on, the least that went by if
the same machine was restarted. A step back, a longer gap than a machine is ever off, or an uptime that runs backward is
in doubt: until a lead confirms the clock, only what is proved counts toward the earliest end, and all of it toward the
latest.

A clock that was set back may be corrected unseen, while the machine is off or on another one: the wall then shows more
time than went by. So Floor keeps how far the clock may be off since it was last known to be right. A gap counts only
for what exceeds that, and so does the whole time since an earlier moment.

What a gap hides without any of these signs, no program can see without a second clock.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from math import inf

from floor.batch.open_items import ClockJump
from floor.batch.state import Batch
from floor.entry import Moment

TOLERANCE = 90.0
"""Seconds of jumps, taken together, before they are reported (shop decision: well above the steps of a time server,
well below any dwell).
"""
SLIGHT = 1.0
"""Seconds by which clock and uptime may disagree without counting as a jump: they are not read at one instant."""
LONGEST_OFF = 31 * 86400.0
"""Seconds a machine may be off, or a batch in transit, before the clock is doubted (shop decision: shop shutdowns are
shorter).
"""


def detect_clock_jump(batch: Batch, now: Moment, seq: int) -> ClockJump | None:
    """The jump of the shop's clock between the last entry and this reading, if any."""
    anchor = batch.boots.get(now.boot) if now.boot else None
    backwards = is_restarted_copy(batch, now)
    if anchor is not None and now.boot == batch.last.boot and not backwards:
        return _jump_within_start(batch, anchor, now, seq)
    return _jump_between_starts(batch, anchor, now, seq, backwards)


def _jump_within_start(batch: Batch, anchor: tuple[Moment, int], now: Moment, seq: int) -> ClockJump | None:
    """Within one start the uptime says to the second how far the clock was moved."""
    low, high = _off(batch.jumps)
    delta = _moved(anchor, now, [jump.delta for jump in batch.jumps if jump.seq > anchor[1]])
    return ClockJump(seq, now.at, delta, delta, True, low + delta, high + delta) if abs(delta) > SLIGHT else None


def _jump_between_starts(
    batch: Batch, anchor: tuple[Moment, int] | None, now: Moment, seq: int, backwards: bool
) -> ClockJump | None:
    """Across starts and machines there is the clock alone: bounds of what it was moved by, or the doubt."""
    least, most = _bound_unseen_gap(batch, anchor, now, backwards)
    low, high = off = _off(batch.jumps)
    there = _off_there(batch, now)
    shown = (now.at - batch.last.at).total_seconds() - _find_sure_gap(batch, now, backwards)
    low, high = _off_after((min(low, there[0], 0.0), max(high, there[1], 0.0)), shown, backwards)
    if anchor is not None and not backwards:  # back at a machine that stayed on: its uptime bounds what went by
        since = [jump for jump in batch.jumps if jump.seq > anchor[1]]
        least = max(least, _moved(anchor, now, [jump.delta for jump in since]))
        most = min(most, _moved(anchor, now, [jump.most for jump in since]))
        moved = _moved(anchor, now, [])
        before = _off(batch.jumps, anchor[1])[0], _ahead(batch.jumps, anchor[1], now.up - anchor[0].up)
        low, high = _agreed((low, high), [off + moved for off in before])
    if max(abs(least), abs(most)) > SLIGHT:
        return ClockJump(seq, now.at, least, most, False, low, high)
    return ClockJump(seq, now.at, 0.0, 0.0, True, low, high) if (low, high) != off else None


def _bound_unseen_gap(
    batch: Batch, anchor: tuple[Moment, int] | None, now: Moment, backwards: bool
) -> tuple[float, float]:
    """What the clock was moved by over a gap that no uptime saw, at the least and at the most."""
    wall, sure = (now.at - batch.last.at).total_seconds(), _find_sure_gap(batch, now, backwards)
    known = anchor is not None or find_machine(now) == find_machine(
        batch.last
    )  # then earlier readings of that start tell more
    ahead = 0.0 if known else max(_off_there(batch, now)[1], 0.0)
    gap = wall - max(-_off(batch.jumps)[0], 0.0) - ahead
    counts = sure <= gap <= sure + LONGEST_OFF and not backwards
    # The most is whatever the clock shows, if it shows more than is proved.
    return wall - (gap if counts else sure), min(wall - sure, 0.0)


def _find_sure_gap(batch: Batch, now: Moment, backwards: bool) -> float:
    """Seconds that went by for sure since the last entry: the uptime of a machine that was started anew since."""
    return now.up if was_restarted(batch.last, now) and not backwards else 0.0


def _off_there(batch: Batch, now: Moment) -> tuple[float, float]:
    """How far the clock of this machine was off when the batch left it."""
    return _off(batch.jumps, batch.left[find_machine(now)]) if find_machine(now) in batch.left else (0.0, 0.0)


def is_restarted_copy(batch: Batch, now: Moment) -> bool:
    """Whether this start shows less uptime than it did before: a restarted copy of the machine, where neither clock nor
    uptime can be trusted.
    """
    if now.boot not in batch.boots:
        return False
    before = batch.last if now.boot == batch.last.boot else batch.boots[now.boot][0]
    return now.up < before.up - SLIGHT


def was_restarted(before: Moment, after: Moment) -> bool:
    """Whether a machine was switched off and on between two readings."""
    return find_machine(before) == find_machine(after) != "" and before.boot != after.boot


def find_machine(moment: Moment) -> str:
    """The machine of a reading; empty where it has no name."""
    name, _, start = moment.boot.partition("-")
    return name if start else ""


def _moved(anchor: tuple[Moment, int], now: Moment, known: Iterable[float]) -> float:
    """The clock's jump since an earlier reading in the same start, less the jumps already known."""
    before = anchor[0]
    return (now.at - before.at).total_seconds() - (now.up - before.up) - sum(known)


def _off(jumps: Sequence[ClockJump], seq: float = inf) -> tuple[float, float]:
    """(least, most) seconds that the clock may be ahead, as of this entry, since it was last known to be right."""
    for jump in reversed(jumps):
        if jump.seq <= seq:
            return jump.low, jump.high
    return 0.0, 0.0


def _off_after(off: tuple[float, float], shown: float, backwards: bool) -> tuple[float, float]:
    """The same after a gap over which the wall shows this much more than is proved: right, as wrong as before, or as
    wrong as that machine last was. How far a clock was set back in a gap is unknown, because the length of the gap is.
    """
    low, high = off
    if shown > LONGEST_OFF or backwards:
        high += max(shown, 0.0)
    if shown < -TOLERANCE or backwards:
        return -inf, high
    return low + min(shown, 0.0), high


def _agreed(by_gap: tuple[float, float], by_start: Sequence[float]) -> tuple[float, float]:
    """How far the clock may be off, by the gap before it and by this start of its machine, which knows better.

    If both cannot be right, some clock was ahead of the true time: then take the whole range of both.
    """
    low, high = by_start
    if low > by_gap[1] + SLIGHT or high < by_gap[0] - SLIGHT:
        return min(low, by_gap[0]), max(high, by_gap[1])
    return low, high


def compute_shift_since(jumps: Sequence[ClockJump], seq: int) -> float:
    """Jumps since this entry, for the shortest proved dwell: gap by gap, or over all gaps at once, whichever proves
    more. A right clock cannot show more time in all than went by, however often it was set back and corrected.
    """
    moved = sum(jump.delta for jump in jumps if jump.seq > seq)
    if any(jump.right for jump in jumps if jump.seq > seq):
        return moved
    return min(moved, _off(jumps)[1] - _behind(jumps, seq))


def _ahead(jumps: Sequence[ClockJump], seq: int, since: float) -> float:
    """How far the clock may have been ahead at an entry, judged by a better-known machine after it.

    Args:
        since: seconds since the entry; the gap before that machine may have taken as long.
    """
    high, most = _off(jumps, seq)[1], 0.0
    for jump in jumps:
        if jump.seq > seq:
            most += jump.most
            if jump.low - most > high + SLIGHT:
                high = jump.high - most + since
    return high


def _behind(jumps: Sequence[ClockJump], seq: int) -> float:
    """How far the clock may have been behind at an entry, also judged by later forward steps.

    A gap that seems to last no time may have been a long one, with the clock set back over it.
    """
    low, forward = min(_off(jumps, seq)[0], 0.0), 0.0  # a gap never proves that it was ahead
    for jump in jumps:
        if jump.seq > seq and jump.exact:
            forward += jump.delta
            low = min(low, -forward)
        elif jump.seq > seq:
            break
    return low


def compute_largest_shift_since(jumps: Sequence[ClockJump], seq: int) -> float:
    """Jumps since this entry, for the longest possible dwell."""
    return min(sum(jump.most for jump in jumps if jump.seq > seq), compute_shift_since(jumps, seq))


def confirm_jumps(jumps: Sequence[ClockJump], seq: int) -> list[ClockJump]:
    """The jumps once a lead confirms, in this entry, that the clock is right now.

    Their total since the first doubt is then zero; less if more time is proved, more if the clock was known to be set
    back before. The first gap in doubt takes up the difference for the least, the last for the most: what started in
    between gains nothing.
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


def is_clock_in_doubt(batch: Batch, now: Moment | None = None) -> bool:
    """Whether the clock was moved by an unknown amount, until a lead confirms it."""
    jumps = list_clock_jumps(batch, now) if now is not None else batch.jumps
    return any(not jump.exact and max(abs(jump.delta), abs(jump.most)) > TOLERANCE for jump in jumps)


def is_clock_change_untold(batch: Batch, now: Moment | None = None) -> bool:
    """Whether to report a moved clock: it is in doubt, or the jump is known and nobody has taken note yet.

    A takeover or a lead's confirmation counts as taking note.
    """
    jumps = list_clock_jumps(batch, now) if now is not None else batch.jumps
    told = [jump.delta for jump in jumps if jump.seq > batch.clock_told]
    return is_clock_in_doubt(batch, now) or abs(sum(told)) > TOLERANCE or any(abs(delta) > TOLERANCE for delta in told)


def find_latest_day(batch: Batch, now: Moment) -> date:
    """Today, for what may be used until a date: a clock that was set back makes nothing good again.

    Steps back count until a step forward makes up for them or a lead says that the clock is right.
    """
    behind = 0.0
    for jump in list_clock_jumps(batch, now):
        behind = 0.0 if jump.right else behind + jump.delta
    return (now.at - timedelta(seconds=min(behind, 0.0))).date()


def list_clock_jumps(batch: Batch, now: Moment) -> Sequence[ClockJump]:
    """The jumps on record, and one since the last entry."""
    latest = detect_clock_jump(batch, now, batch.seq + 1)
    return batch.jumps if latest is None else [*batch.jumps, latest]
