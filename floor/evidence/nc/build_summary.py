"""Turn the record of a program into a frozen summary."""

from __future__ import annotations

import re
from collections.abc import Iterable
from math import isinf, isnan

from floor.dataclass import dataclass
from floor.evidence.nc.program_facts import Record, ToolLog
from floor.evidence.nc.state import UNKNOWN
from floor.evidence.nc.summary import (
    CutWith,
    CycleTime,
    End,
    Feed,
    Number,
    ProgramSummary,
    Reading,
    Span,
    Sure,
    ToolUse,
    Travel,
    Word,
)
from floor.evidence.nc.travel import Bounds, TravelLog

_HEADER_LINES = 30
_HEADER = re.compile(
    r"\bPROG(?:RAM)?\s*(?:NO\.?|NUMBER|NUM|#)\s*[:=#]?\s*O?(\d{1,8})\b"
    r"|(?:\bPROG(?:RAM)?\s*[:=]?\s*O?|^\s*O)(\d{3,8})\b",
    re.ASCII | re.IGNORECASE,
)
"""A program number in a comment: ``(PROGRAM NO. 1234)``, ``(O1234 TOP SIDE)``. Common practice, no source.

Without the word "number", at least three digits: ``(PROGRAM 2 OF 3)`` and ``(O5 DRILL)`` are not program numbers.
"""


@dataclass(frozen=True, slots=True)
class FileFacts:
    """What is known about the file itself."""

    name: str
    sha256: str
    size: int
    lines: int


def collect_summary(r: Record, file: FileFacts) -> ProgramSummary:
    """Freeze the record."""
    return ProgramSummary(
        **{name: getattr(file, name) for name in ("name", "sha256", "size", "lines")},
        number=_collect_number(r.numbers),
        header_number=_find_header_number(r.comments),
        comments=tuple(r.comments),
        comment_count=r.comment_count,
        units=_collect_mode(r.units, ""),
        unit_words=tuple(Word(name, line) for name, line in r.units.items()),
        plane=_collect_mode(r.planes, "G17"),
        distance_mode=_collect_mode(r.distances, "G90"),
        work_offsets=tuple(Word(name, line) for name, line in r.offsets.items()),
        offset_assumed=next((one.line for one in r.log.list() if one.kind == "offset assumed"), 0),
        feed_mode_assumed=r.feed_mode_assumed,
        tools=tuple(_collect_tool(one, r.levels is not None) for one in r.tools.values() if _did_something(one)),
        staged=tuple(Number(tool, line) for tool, line in r.staged.items()),
        other_m=tuple(r.other_m.values()),
        stops=tuple(r.stops),
        writes=tuple(r.writes),
        work=r.work,
        levels=tuple((r.levels or {}).values()),
        cycles=tuple(r.cycles.values()),
        holes_left_out=r.holes_left_out,
        machine_moves=tuple(Word(name, line) for name, line in r.machine_moves.items()),
        subprograms=tuple(r.calls.values()),
        loops=tuple(Number(count, line) for line, count in r.loops.items()),
        variables=tuple(Word(name, line) for name, line in r.variables.items()),
        end=r.end,
        cycle_time=_collect_time(r),
        findings=r.log.list(),
        findings_left_out=r.log.left_out,
    )


def _collect_number(numbers: list[Word]) -> Reading[str]:
    if not numbers:
        return Reading("unknown", why="no word")
    first = numbers[0]
    plain = first.text.split(".")[0].removeprefix("O")
    return Reading("known", str(int(plain)) if plain.isdigit() else first.text, line=first.line)


def _find_header_number(comments: Iterable[Word]) -> Reading[str]:
    """A program number in a comment near the top."""
    for comment in comments:
        found = _HEADER.search(comment.text) if comment.line <= _HEADER_LINES else None
        if found:
            return Reading("known", str(int(found[1] or found[2])), line=comment.line)
    return Reading("unknown", why="no word")


def _collect_mode(lines: dict[str, int], usual: str) -> Reading[str]:
    """A mode the program sets: the first one; if several, ``why`` lists them."""
    if not lines:
        return Reading("assumed", usual, "no word") if usual else Reading("unknown", why="no word")
    name, line = next(iter(lines.items()))
    return Reading("known", name, ", ".join(lines) if len(lines) > 1 else "", line)


def _did_something(tool: ToolLog) -> bool:
    return tool.number is not None or bool(tool.first_feed or tool.coolants or tool.travels or tool.lengths.first)


def _collect_tool(tool: ToolLog, passes: bool) -> ToolUse:
    """``passes``: whether it is cut in levels, and not as a surface in space."""
    feeds = [Feed(value, unit, line) for unit, values in tool.feeds.items() for value, line in values.list()]  # type: ignore[arg-type]
    return ToolUse(
        number=tool.number,
        sure=tool.sure,
        line=tool.line,
        speeds=_collect_numbers(tool.speeds.list()),
        feeds=tuple(sorted(feeds, key=lambda one: one.line)),
        sideways=_collect_numbers(tool.sideways.list()),
        least_turn=Number(*tool.least_turn) if tool.least_turn[1] else None,
        ramped=_collect_numbers(tool.ramped.list()),
        directions=tuple(Word(name, line) for name, line in tool.directions.items()),
        length_offsets=_collect_numbers(tool.lengths.list()),
        radius_offsets=_collect_numbers(tool.radii.list()),
        coolants=tuple(tool.coolants.values()),
        cut_with=tuple(
            CutWith(None if media is None else tuple(sorted(media)), line) for media, line in tool.cut_with.items()
        ),
        fed_down=tool.fed_down,
        steepest=Number(*tool.steepest) if tool.steepest[1] else None,
        stroke=Number(*tool.stroke) if tool.stroke[1] else None,
        ramp=Number(*tool.ramp) if tool.ramp[1] and passes else None,
        travels=tuple(_collect_travel(one) for one in tool.travels.values() if _went_somewhere(one)),
        first_feed=tool.first_feed,
        speed_gap=tool.speed_gap,
        feed_gap=tool.feed_gap,
    )


def _collect_numbers(values: Iterable[tuple[float, int]]) -> tuple[Number, ...]:
    return tuple(Number(value, line) for value, line in values)


def _went_somewhere(travel: TravelLog) -> bool:
    ends = travel.feed.low + travel.rapid.low
    return any(travel.gaps) or not all(isinf(end) for end in ends)


def _collect_travel(travel: TravelLog) -> Travel:
    both = Bounds()
    for bounds in (travel.feed, travel.rapid):
        for axis in range(3):
            if not isinf(bounds.low[axis]):
                both.widen(axis, bounds.low[axis], bounds.low_line[axis])
                both.widen(axis, bounds.high[axis], bounds.high_line[axis])
    feed, whole = ([_collect_span(travel, one, axis) for axis in range(3)] for one in (travel.feed, both))
    return Travel(
        travel.offset,
        travel.length,
        tuple((letter, None if isnan(angle) else angle) for letter, angle in travel.angles),
        "mm" if travel.units != UNKNOWN else "unknown",
        travel.first_line,
        (feed[0], feed[1], feed[2]),
        (whole[0], whole[1], whole[2]),
    )


def _collect_span(travel: TravelLog, bounds: Bounds, axis: int) -> Span:
    gaps, doubts = travel.gaps[axis], travel.doubts[axis]
    why = tuple(Word(text, line) for text, line in (*gaps.items(), *doubts.items()))
    low, high = bounds.low[axis], bounds.high[axis]
    if isinf(low) or isinf(high):
        return Span("unknown", None, None, why or (Word("no word", travel.first_line),))
    sure: Sure = "unknown" if gaps else "assumed" if doubts else "known"
    return Span(sure, End(low, bounds.low_line[axis]), End(high, bounds.high_line[axis]), why)


def _collect_time(r: Record) -> CycleTime:
    rapid = r.rapid_seconds if r.dialect.rapid else None
    changes = None if r.dialect.tool_change_seconds is None else r.tool_changes * r.dialect.tool_change_seconds
    untimed = {
        "moves": r.unknown_move_line,
        "feed": r.untimed_line,
        "dwell": r.dwell_gap_line,
        "rotary": r.rotary_line,
        "calls": min((one.line for one in r.calls.values() if one.text in r.missing), default=0),
        "jumps": r.lost_line,
        "rapids": -1 if rapid is None and r.rapid_mm else 0,
        "tool changes": -1 if changes is None and r.tool_changes else 0,
    }
    return CycleTime(
        seconds=r.feed_seconds + r.dwell_seconds + (rapid or 0.0) + (changes or 0.0),
        feed_seconds=r.feed_seconds,
        rapid_seconds=rapid,
        dwell_seconds=r.dwell_seconds,
        tool_change_seconds=changes,
        feed_mm=r.feed_mm,
        rapid_mm=r.rapid_mm,
        tool_changes=r.tool_changes,
        untimed=tuple(Word(name, max(line, 0)) for name, line in untimed.items() if line),
    )
