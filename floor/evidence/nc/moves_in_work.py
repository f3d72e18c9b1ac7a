"""Moves below the top of the work: how steeply the tool goes down, at which levels it cuts, rapids into the metal.

The file does not say where the metal is. What lies below the top of the work counts as metal; a rapid may go down only
to where it is told to, or back into the hole it has just fed. Only Z is looked at: in G18 and G19 the work has other
sides.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from math import isnan
from typing import Literal

from floor.evidence.nc.finding_kinds import LISTED
from floor.evidence.nc.program_facts import Record, ToolLog
from floor.evidence.nc.state import State
from floor.evidence.nc.summary import Level, format_tool

SLACK_MM = 1e-6
"""Tolerance for sums of floats."""
CLEAR_MM = 25.0
"""This far above the work a tool may be changed, wherever it came in: about an inch (shop decision)."""
HOME_MM = 51.0
"""A move in machine coordinates to within two inches of home counts as clear of the work (shop decision)."""
NO_LENGTH = ("none", "old")
"""No length offset in force, or that of the last tool."""
_FINEST = 3
"""Decimals of a millimeter by which two levels differ."""
_HELIX = 30
"""The last of the plain feeds G1, G2, G3; threading goes down by its pitch."""


def note_depth(s: State, r: Record, line: int, rise: float, size: float) -> None:
    """A feed move, or an arc in G17: ``rise`` in Z, its length by ``size``, both in mm."""
    s.flat = s.flat and not rise
    if not rise:
        if not s.flat and size:
            note_level(s, r, line)
    elif min(s.at[2], s.at[2] - rise) < r.work.top and rise != size:
        note_media(s, r, line)
        if rise < 0.0 and s.motion <= _HELIX:
            _note_descent(s, r, line, -rise, size)


def _note_descent(s: State, r: Record, line: int, down: float, size: float) -> None:
    """It ends below the top: how fast it goes down, how far straight down, and where the hole is."""
    x, y, z = s.at
    tool = r.tool(s.tool, line, s.tool_sure)
    tool.fed_down = tool.fed_down or line
    rate = s.rate * down / size
    if rate > tool.steepest[0]:
        tool.steepest = rate, line
    if down != size:
        tool.ramped.add(s.rate, line)
        _note_ramp(s, r, tool, line, down)
        return
    if not (s.hole and s.hole[:2] == (x, y) and s.hole[2] < z):
        s.hole = x, y, z
    stroke = min(down, r.work.top - z)
    if stroke > tool.stroke[0]:
        tool.stroke = stroke, line


def _note_ramp(s: State, r: Record, tool: ToolLog, line: int, down: float) -> None:
    """A slanting move: how deep its end is in what no flat cut has freed before it, counted from its start at most."""
    if down <= tool.ramp[0] or r.levels is None:
        return
    z, work = s.at[2], r.work
    free = work.rapid_low if work.rapid_low >= z else work.top
    cut = r.floors.get(s.offset, [])
    above = cut[(n := bisect_left(cut, round(z, _FINEST))) : n + 1]
    deep = min([z + down, free, *above]) - z
    if deep > tool.ramp[0]:
        tool.ramp = deep, line


def note_level(s: State, r: Record, line: int) -> None:
    """A flat cut; the first of a tool at each level is noted, in the order in which they are cut."""
    s.flat = True
    if not s.at[2] > r.work.top:  # at the top it faces the work
        note_media(s, r, line)
        _note_sideways(s, r, line)
    z = round(s.at[2], _FINEST)
    if z < r.work.top and r.levels is not None:
        if (s.offset, z, s.tool) not in r.levels:
            r.levels[s.offset, z, s.tool] = Level(s.offset, z, s.tool, line)
            insort(r.floors.setdefault(s.offset, []), z)
        if len(r.levels) > LISTED:
            r.levels = None  # a surface in space: its steps are no passes


def _note_sideways(s: State, r: Record, line: int) -> None:
    """The feed of a cut that stays at its level, and the least per turn."""
    if s.motion > _HELIX:
        return
    tool = r.tool(s.tool, line, s.tool_sure)
    tool.sideways.add(s.rate, line)
    if s.speed > 0 and not s.surface_speed:
        turn = s.rate / s.speed
        if turn < tool.least_turn[0]:
            tool.least_turn = turn, line


def note_media(s: State, r: Record, line: int) -> None:
    """A move that cuts: which media are on. Feed moves in the air, and straight out of the work, need none."""
    if not s.media_noted:
        s.media_noted = True
        r.tool(s.tool, line, s.tool_sure).cut_with.setdefault(s.coolant, line)


def note_rapid(
    s: State, r: Record, line: int, words: tuple[float | None, float | None, float | None], start: float, aside: bool
) -> None:
    """A rapid by the words of a block, from ``start`` in Z; ``aside`` if it moves in X or Y."""
    if words[2] is not None and s.length in NO_LENGTH:
        r.log.add("no length offset", line, format_tool(s.tool))
    if isnan(s.approach):
        s.approach = s.at[2]
    if s.at[2] < r.work.rapid_low or start < r.work.rapid_low:
        check_rapid(s, r, line, start, aside)


def check_rapid(s: State, r: Record, line: int, start: float, aside: bool) -> None:
    """A rapid that starts or ends below where rapids may go."""
    x, y, z = s.at
    name, lowest = format_tool(s.tool), r.work.rapid_low
    if aside and min(z, start) < lowest - SLACK_MM:
        r.log.add("rapid across", line, name, min(z, start), lowest)
    elif z < lowest - SLACK_MM and not z >= start and not (s.hole and s.hole[:2] == (x, y) and z >= s.hole[2]):
        r.log.add("rapid down", line, name, z, lowest)


def check_machine_z(r: Record, line: int, z: float) -> None:
    """G53: where the work is in the machine, the program does not say; only up at home it is known to be clear."""
    if not z >= -HOME_MM:
        r.log.add("low in machine", line, "", "?" if isnan(z) else z)


def check_retracted(s: State, r: Record, line: int, kind: Literal["not retracted", "low at end"]) -> None:
    """At a tool change and at the end: the tool is as high as where it came in, or well clear of the work."""
    z, work = s.at[2], r.work
    clear = work.top if isnan(s.approach) else min(s.approach, work.top + CLEAR_MM)
    if z < clear - SLACK_MM:
        r.log.add(kind, line, format_tool(s.tool) or "the tool", z, clear)
