"""Timers of the route: where each stands against its windows, and when these open and close.

A dwell is measured between two entries, without the clock jumps in between (`floor.batch.walk.clock_jumps`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from math import inf

from floor.batch.open_items import ClockJump
from floor.batch.run import Run
from floor.batch.state import Batch
from floor.batch.walk.clock_jumps import compute_largest_shift_since, compute_shift_since, list_clock_jumps
from floor.batch.walk.cure_air import Opening, Slow, find_slowing
from floor.batch.walk.shared_cycles import compute_cycle_seconds, compute_turn_seconds, count_turns_left, cut_until
from floor.checklist.gates import Cured
from floor.checklist.operation import Clock, Do, Window
from floor.dataclass import dataclass
from floor.entry import Moment
from floor.text import format_clock
from floor.wall import shift_time


def convert_to_present_clock(batch: Batch, at: datetime, seq: int, now: Moment) -> datetime:
    """The time of an earlier entry as the clock would have shown it if it had been set as now."""
    return shift_time(at, compute_shift_since(list_clock_jumps(batch, now), seq))


def compute_planned_end(batch: Batch, run: Run, now: Moment) -> datetime | None:
    """When the run's cycle should end by the checklist, on the present clock; None if it is not running."""
    if run.started is None or run.stopped is not None or run.stands is not None:
        return None
    planned = (
        compute_cycle_seconds(batch, run) + run.stood + count_turns_left(batch, run) * compute_turn_seconds(batch, run)
    )
    return shift_time(convert_to_present_clock(batch, run.started, run.started_seq, now), planned)


def find_overrun(batch: Batch, run: Run, now: Moment) -> datetime | None:
    """When a cycle that still runs should have ended by the checklist; None while it has time to go."""
    ends = compute_planned_end(batch, run, now) if run.running else None
    return ends if ends is not None and ends < now.at else None


def compute_turn_due(batch: Batch, run: Run, line: str, now: Moment) -> datetime | None:
    """When the program should stop for a step of the cycle; None if it is not running toward it."""
    step = dict(batch.find_operation(run).numbered_steps).get(line)
    if not (isinstance(step, Do) and step.cycle == "stands") or run.started is None or not run.running or run.stands:
        return None
    turns = batch.find_operation(run).turns
    cut = cut_until(compute_cycle_seconds(batch, run), turns, count_turns_left(batch, run))
    return shift_time(convert_to_present_clock(batch, run.started, run.started_seq, now), cut + run.stood)


@dataclass(frozen=True, slots=True)
class Dwell:
    """How long a timer has run: least and most, in seconds."""

    least: float
    most: float


@dataclass(frozen=True, slots=True)
class Ripeness:
    """Where a timer stands against its windows, for a group of pieces.

    ``opens``: clock time when the next window opens (None: open now, or never again). ``closes``: when the open one
    closes (None: it does not); before that, when one closes that will not have opened by then.
    """

    status: str
    """``not started``, ``open``, ``wait``, ``misses`` (as things stand, the last window closes before it opens) or
    ``late``."""
    opens: datetime | None = None
    closes: datetime | None = None
    since: datetime | None = None
    missing: int = 0
    rate: float = 1.0
    """wait: what a second is worth now; less than 1 where cold or damp air slows a cure, 0 where it stands still."""


def _dwell(
    starts: Sequence[tuple[datetime, int]], jumps: Sequence[ClockJump], now: datetime
) -> tuple[Dwell, datetime, datetime]:
    """The dwell over all starts, and the moments on the present clock that its least and most count from.

    After a step back, a later start can read earlier, so corrected times are compared.
    """

    distinct = set(starts)
    last = max(shift_time(at, compute_shift_since(jumps, seq)) for at, seq in distinct)
    first = min(shift_time(at, compute_largest_shift_since(jumps, seq)) for at, seq in distinct)
    return Dwell((now - last).total_seconds(), (now - first).total_seconds()), last, first


def judge_windows(
    windows: Iterable[Window],
    starts: Sequence[tuple[datetime, int]],
    jumps: Sequence[ClockJump],
    now: datetime,
    slow: Slow | None = None,
) -> Ripeness:
    """Judge the windows of a timer that started at these times (one per piece; not empty), slowed by the air or not."""
    dwell, last, first = _dwell(starts, jumps, now)
    opens: Opening | None = None
    missed: tuple[Opening, datetime] | None = None
    for earliest, latest in sorted(map(_get_limits, windows)):
        if dwell.most > latest:
            continue
        closes = shift_time(first, latest) if latest < inf else None
        opening = _find_opening(last, earliest, slow)
        if dwell.least >= earliest and (slow is None or opening.at <= now):
            return Ripeness("open", closes=closes, since=last)
        if closes is not None and closes < opening.at:
            missed = missed or (opening, closes)
        else:
            opens = opens or opening
    if opens is not None:
        return Ripeness("wait", opens.at, missed[1] if missed else None, last, rate=opens.rate)
    if missed is not None:
        return Ripeness("misses", missed[0].at, missed[1], last, rate=missed[0].rate)
    return Ripeness("late", since=last)


def _get_limits(window: Window) -> tuple[float, float]:
    """(earliest, latest) in seconds from the start."""
    return window.earliest.base if window.earliest else 0.0, window.latest.base if window.latest else inf


def _find_opening(last: datetime, earliest: float, slow: Slow | None) -> Opening:
    return Opening(shift_time(last, earliest)) if slow is None or not earliest else slow(last, earliest)


def judge_clock(batch: Batch, clock: Clock, pieces: Sequence[int], now: Moment) -> Ripeness:
    """Where a timer of the batch stands for these pieces."""
    jumps = list_clock_jumps(batch, now)
    slow = find_slowing(batch, clock, jumps, now.at)
    if clock.per == "batch":
        start = batch.batch_clocks.get(clock.id)
        if start is None:
            return Ripeness("not started")
        return judge_windows(clock.windows, _both(batch, clock, (), [start]), jumps, now.at, slow)
    starts = _starts(batch, clock, pieces)
    if len(starts) < len(pieces) or not starts:
        return Ripeness("not started", missing=len(pieces) - len(starts))
    return judge_windows(clock.windows, _both(batch, clock, pieces, starts), jumps, now.at, slow)


def find_pieces_to_cure(batch: Batch, gate: Cured, op: int, pieces: Sequence[int]) -> tuple[int, ...]:
    """The pieces that must be inside the window at an operation, without those that already met it once and for all."""
    started = batch.piece_clocks.get(gate.clock, {})
    if not gate.once:
        return tuple(pieces)
    through = {
        piece: run.count.seq
        for run in batch.runs.values()
        if run.op == op and run.count is not None
        for piece in run.pieces
    }
    if batch.late is not None:
        through = dict.fromkeys(batch.late.counted.get(op, ()), batch.late.seq) | through
    return tuple(one for one in pieces if one not in through or (one in started and through[one] < started[one][1]))


def say_what_closes_first(opens: datetime | None, closing: Iterable[tuple[datetime | None, str]], now: Moment) -> str:
    """``recoat closes 14:00 first``: which open window closes before another opens; empty if none does.

    Args:
        closing: when each open window closes, and its clock.
    """
    before = sorted((at, name) for at, name in closing if at is not None and opens is not None and at < opens)
    return f"{before[0][1]} closes {format_clock(before[0][0], now.at)} first" if before else ""


def list_pieces_too_late(batch: Batch, clock: Clock, pieces: Sequence[int], now: Moment) -> list[int]:
    """The pieces whose own last window has closed."""
    if clock.per == "batch":
        return []
    return [piece for piece in pieces if judge_clock(batch, clock, (piece,), now).status == "late"]


def compute_window_spans(
    batch: Batch, clock: Clock, pieces: Sequence[int], now: Moment
) -> list[tuple[datetime, datetime | None]]:
    """(opens, closes) of each window of a timer, on the shop's clock, for the pieces it has started for; closes is None
    for one that does not close. Empty if it has started for none. A window that closes for the oldest piece before it
    opens for the newest is left out.
    """
    starts = _starts(batch, clock, pieces)
    if not starts:
        return []
    jumps = list_clock_jumps(batch, now)
    slow = find_slowing(batch, clock, jumps, now.at)
    _, last, first = _dwell(_both(batch, clock, pieces, starts), jumps, now.at)
    found = []
    for earliest, latest in map(_get_limits, clock.windows):
        opens = _find_opening(last, earliest, slow).at
        closes = shift_time(first, latest) if latest < inf else None
        if closes is None or opens <= closes:
            found.append((opens, closes))
    return found


def _starts(batch: Batch, clock: Clock, pieces: Sequence[int]) -> list[tuple[datetime, int]]:
    if clock.per == "batch":
        return [batch.batch_clocks[clock.id]] if clock.id in batch.batch_clocks else []
    started = batch.piece_clocks.get(clock.id, {})
    return [started[piece] for piece in pieces if piece in started]


def _both(
    batch: Batch, clock: Clock, pieces: Sequence[int], starts: Sequence[tuple[datetime, int]]
) -> list[tuple[datetime, int]]:
    """The starts, and earlier ones that count toward the latest end only: the act of an entry from paper, the stated
    start in a batch entered late, the first start if the cycle stopped.
    """
    claimed = batch.late.claimed.get(clock.id, {}) if batch.late is not None else {}
    running = batch.piece_clocks.get(clock.id, {}) if claimed else {}
    told = [claimed[piece] for piece in pieces if piece in claimed and claimed[piece][1] == running[piece][1]]
    acts = [(batch.on_paper[seq][0], seq) for _, seq in set(starts) if seq in batch.on_paper]
    return [*starts, *told, *acts, *(batch.resumed[seq] for _, seq in set(starts) if seq in batch.resumed)]
