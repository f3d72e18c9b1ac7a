"""Compare what a program does with each tool with the tool's card."""

from __future__ import annotations

from collections.abc import Iterator

from floor.dataclass import dataclass
from floor.evidence.nc.finding_kinds import Finding
from floor.evidence.nc.moves_in_work import SLACK_MM
from floor.evidence.nc.state import UNKNOWN
from floor.evidence.nc.summary import CycleUse, Feed, Level, Number, ProgramSummary, ToolUse, format_tool
from floor.figures.cutting.card import ToolKind
from floor.figures.cutting.misfits import TAP_ROUNDED

ROUNDED = 0.005
"""How far a programmed figure may be off the card's: a last digit (shop decision)."""
SLACK_SHARE = 1e-9
"""Tolerance for products of floats."""
TAPPING = {"G84": "right-hand", "G74": "left-hand"}
PECKING = ("G73", "G83")
ONE_STROKE = ("G81", "G82")
BORING = ("G76", "G85", "G86", "G88", "G89")
"""Cycles that go to the bottom in one stroke too, and that no peck could replace."""

Limits = tuple[float, float]
"""Least and most, both included."""


@dataclass(frozen=True, slots=True)
class ExpectedTool:
    """A tool on the card: mm, mm/min, rpm. None is not checked."""

    number: int
    speed: Limits | None = None
    feed: Limits | None = None
    sideways: Limits | None = None
    """Feed of a cut that stays at its level; going down and out, and in the air, any within ``feed``."""
    least_turn: float | None = None
    """Least feed per turn that cuts instead of rubbing, sideways and on a ramp."""
    least_depth: float | None = None
    """A pass less deep rubs."""
    left_hand: bool | None = None
    """Whether it cuts under M4 instead of M3."""
    length_offset: int | None = None
    """H of this tool, if the card gives it (`ExpectedProgram.h_rule` "as card")."""
    kind: ToolKind | None = None
    plunge: float | None = None
    """Greatest feed straight down."""
    depth: float | None = None
    """Deepest pass, stroke or peck."""
    pitch: float | None = None
    """Of a tap."""
    flute_length: float | None = None
    stick_out: float | None = None
    """From the holder's face to the tip."""


def check_tool(tool: ToolUse, card: ExpectedTool, summary: ProgramSummary, h_as_card: bool) -> Iterator[Finding]:
    """What a program does with a tool that its card does not allow."""
    yield from _check_spindle(tool, card)
    yield from _check_feeds(tool, card)
    yield from _check_sideways(tool, card)
    if h_as_card and card.length_offset is not None:
        for number in tool.length_offsets:
            if number.value != card.length_offset:
                yield Finding("H not T", number.line, format_tool(tool.number), (number.value,))
    yield from _check_passes(tool, card, summary)
    yield from _check_skims(tool, card, summary)
    cycles = [cycle for cycle in summary.cycles if cycle.tool == tool.number]
    yield from _check_reach(tool, card, cycles, summary.work.top)
    if card.kind is ToolKind.TAP:
        yield from _check_tap(tool, card, cycles)
    else:
        yield from _check_holes(tool, card, cycles, summary.work.top)


def _check_spindle(tool: ToolUse, card: ExpectedTool) -> Iterator[Finding]:
    if card.speed is not None:
        for speed in tool.speeds:
            if not _is_within(speed.value, card.speed):
                yield Finding("speed off card", speed.line, format_tool(tool.number), (speed.value, *card.speed))
        if tool.speed_gap:
            yield Finding("speed not known", tool.speed_gap, format_tool(tool.number))
    if card.left_hand is not None:
        right = "M4" if card.left_hand else "M3"
        for word in tool.directions:
            if word.text == UNKNOWN:
                yield Finding("spindle not known", word.line, format_tool(tool.number), (right,))
            elif word.text != right:
                yield Finding("spindle reversed", word.line, format_tool(tool.number), (word.text, right))


def _check_feeds(tool: ToolUse, card: ExpectedTool) -> Iterator[Finding]:
    if card.feed is not None:
        for feed in tool.feeds:
            value = _convert_feed(feed, tool)
            if value is None:
                yield Finding("feed not known", feed.line, format_tool(tool.number), (feed.unit,))
            elif not _is_within(value, card.feed):
                yield Finding("feed off card", feed.line, format_tool(tool.number), (value, *card.feed))
        if tool.feed_gap:
            yield Finding("feed not known", tool.feed_gap, format_tool(tool.number), ("",))
    # A ramp goes down by a share of its feed: a flat one may be as fast as a side cut, a steep one is nearly a plunge.
    if card.plunge is not None and tool.steepest is not None and _is_over(tool.steepest.value, card.plunge):
        values = (tool.steepest.value, card.plunge)
        yield Finding("plunge off card", tool.steepest.line, format_tool(tool.number), values)


def _check_sideways(tool: ToolUse, card: ExpectedTool) -> Iterator[Finding]:
    for number in tool.sideways:
        value, limits = number.value, card.sideways
        if limits and not _is_within(value, limits) and (card.feed is None or _is_within(value, card.feed)):
            yield Finding("sideways feed off card", number.line, format_tool(tool.number), (value, *limits))
    if card.least_turn is not None:
        turns = [*([tool.least_turn] if tool.least_turn is not None else []), *_list_ramped_turns(tool, card)]
        slow = [turn for turn in turns if _is_under(turn.value, card.least_turn)]
        for turn in sorted(slow, key=lambda one: one.value)[:1]:
            yield Finding("rubbing", turn.line, format_tool(tool.number), (turn.value, card.least_turn))


def _list_ramped_turns(tool: ToolUse, card: ExpectedTool) -> list[Number]:
    """Feed per turn on ramps faster than a plunge, which the card lets be slow; as long as that at the least speed.

    A ramp may have any feed from the plunge to the cut sideways: how much of it goes down is held by `steepest`, and a
    slow one only takes longer until it rubs (common practice, no source).
    """
    speeds = [speed.value for speed in tool.speeds if speed.value > 0]
    if tool.speed_gap or not speeds:
        return []
    fast = [one for one in tool.ramped if card.plunge is None or _is_over(one.value, card.plunge)]
    return [Number(one.value / min(speeds), one.line) for one in fast]


def _convert_feed(feed: Feed, tool: ToolUse) -> float | None:
    """Feed in mm/min; feed per revolution only converts if the tool runs at one speed."""
    if feed.unit == "mm/min":
        return feed.value
    if feed.unit == "mm/rev" and len(tool.speeds) == 1 and not tool.speed_gap:
        return feed.value * tool.speeds[0].value
    return None


def _is_within(value: float, limits: Limits) -> bool:
    slack = SLACK_SHARE * abs(value)
    return limits[0] - slack <= value <= limits[1] + slack


def _is_over(value: float, most: float) -> bool:
    return value > most * (1 + ROUNDED) + SLACK_MM


def _is_under(value: float, least: float) -> bool:
    return value < least * (1 - ROUNDED) - SLACK_MM


def _check_passes(tool: ToolUse, card: ExpectedTool, summary: ProgramSummary) -> Iterator[Finding]:
    """How deep each flat cut is below what was cut before it, by any tool, anywhere in its offset.

    Where on the work it was cut is not looked at, so a pass into untouched metal beside a deep one goes unnoticed.
    """
    own = [(n, level) for n, level in enumerate(summary.levels) if level.tool == tool.number]
    if card.kind is not None and card.kind.makes_holes:
        for _, level in own[:1]:
            yield Finding("cuts sideways", level.line, format_tool(tool.number), (card.kind.value, level.z))
    elif card.depth is not None:
        passes = [(level, summary.levels[:n]) for n, level in own]
        if card.kind is not None and card.kind.pointed:
            passes += _list_points(tool, summary)
        elif tool.ramp is not None and _is_over(tool.ramp.value, card.depth):
            yield Finding("pass too deep", tool.ramp.line, format_tool(tool.number), (tool.ramp.value, card.depth))
        for level, before in passes:
            deep = _find_floor(level, before, summary) - level.z
            if _is_over(deep, card.depth):
                yield Finding("pass too deep", level.line, format_tool(tool.number), (deep, card.depth))


def _check_skims(tool: ToolUse, card: ExpectedTool, summary: ProgramSummary) -> Iterator[Finding]:
    """A level nearer to the top than the lightest pass. One just below another cut may be a pass of its own."""
    top, least = summary.work.top, card.least_depth or 0.0
    for level in summary.levels:
        if level.tool == tool.number and _is_under(top - level.z, least):
            yield Finding("pass too light", level.line, format_tool(tool.number), (top - level.z, least))


def _list_points(tool: ToolUse, summary: ProgramSummary) -> list[tuple[Level, tuple[Level, ...]]]:
    """The deepest points of a pointed tool, which cuts as it goes up and down too, beside what other tools cut."""
    others = tuple(level for level in summary.levels if level.tool != tool.number)
    flat = {(level.offset, level.z) for level in summary.levels if level.tool == tool.number}
    lows = [(travel.offset, low) for travel in tool.travels if (low := travel.feed[2].low) is not None]
    points = [Level(offset, low.at, tool.number, low.line) for offset, low in lows if low.at < summary.work.top]
    return [(point, others) for point in points if (point.offset, round(point.z, 3)) not in flat]


def _find_floor(level: Level, before: tuple[Level, ...], summary: ProgramSummary) -> float:
    """The lowest level above a cut, or at it, that is free already."""
    work = summary.work
    free = work.rapid_low if work.rapid_low >= level.z else work.top
    return min([free, *(one.z for one in before if one.offset == level.offset and one.z >= level.z)])


def _check_tap(tool: ToolUse, card: ExpectedTool, cycles: list[CycleUse]) -> Iterator[Finding]:
    """A tap comes out as it went in: only its cycle turns the spindle back at the bottom."""
    hand = "left-hand" if card.left_hand else "right-hand"
    right = next(code for code, cuts in TAPPING.items() if cuts == hand)
    if tool.fed_down:
        yield Finding("tap without cycle", tool.fed_down, format_tool(tool.number), ("G1", right))
    for cycle in cycles:
        if cycle.code not in TAPPING:
            yield Finding("tap without cycle", cycle.line, format_tool(tool.number), (cycle.code, right))
        elif card.left_hand is not None and cycle.code != right:
            yield Finding("tap cycle", cycle.line, format_tool(tool.number), (hand, cycle.code, right))
        elif card.pitch and cycle.pitch is not None and abs(cycle.pitch / card.pitch - 1) > TAP_ROUNDED:
            yield Finding("tap pitch", cycle.line, format_tool(tool.number), (cycle.pitch, card.pitch))


def _check_holes(tool: ToolUse, card: ExpectedTool, cycles: list[CycleUse], top: float) -> Iterator[Finding]:
    for cycle in cycles:
        if cycle.code in TAPPING and card.kind is not None:
            yield Finding("not a tap", cycle.line, format_tool(tool.number), (card.kind.value, cycle.code))
        elif card.depth is not None and cycle.clearance is not None and cycle.bottom is not None:
            yield from _check_hole(cycle, min(cycle.clearance, top) - cycle.bottom, card.depth)
    drills = card.kind is not None and card.kind.makes_holes
    if drills and card.depth is not None and tool.stroke is not None and _is_over(tool.stroke.value, card.depth):
        yield Finding("stroke too deep", tool.stroke.line, format_tool(tool.number), (tool.stroke.value, card.depth))


def _check_reach(tool: ToolUse, card: ExpectedTool, cycles: list[CycleUse], top: float) -> Iterator[Finding]:
    """How deep its deepest hole is, beside how long it is. A tap's thread may go in behind its flutes."""
    holes = _list_holes(cycles, top)
    if not holes and card.kind is not None and card.kind.makes_holes:
        lows = [travel.feed[2].low for travel in tool.travels if travel.units == "mm"]
        holes = [(top - low.at, low.line) for low in lows if low is not None]
    depth, line = max(holes, default=(0.0, 0))
    name = format_tool(tool.number)
    if card.stick_out and depth > card.stick_out + SLACK_MM:
        yield Finding("holder too low", line, name, (depth, card.stick_out))
    elif card.flute_length and card.kind is not ToolKind.TAP and depth > card.flute_length + SLACK_MM:
        yield Finding("past flutes", line, name, (depth, card.flute_length))


def _list_holes(cycles: list[CycleUse], top: float) -> list[tuple[float, int]]:
    """(depth, line) of what is known of the holes of cycles."""
    known = [(one.clearance, one.bottom, one.line) for one in cycles]
    return [
        (min(clearance, top) - bottom, line)
        for clearance, bottom, line in known
        if clearance is not None and bottom is not None
    ]


def _check_hole(cycle: CycleUse, depth: float, most: float) -> Iterator[Finding]:
    """How far a cycle drills before it clears the chips."""
    peck = cycle.peck if cycle.code in PECKING else None
    if peck is not None and _is_over(min(peck, depth), most):
        yield Finding("peck too deep", cycle.line, format_tool(cycle.tool), (peck, most))
    elif cycle.code in ONE_STROKE and _is_over(depth, most):
        yield Finding("stroke too deep", cycle.line, format_tool(cycle.tool), (depth, most))
    elif cycle.code in BORING and _is_over(depth, most):
        yield Finding("bored too deep", cycle.line, format_tool(cycle.tool), (depth, most, cycle.code))
