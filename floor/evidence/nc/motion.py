"""Moves: where they end, how they widen the travel, how long they are. Most are straight."""

from __future__ import annotations

from math import hypot, isnan, sqrt

from floor.evidence.nc.arcs import compute_arc, compute_center, is_bad_arc
from floor.evidence.nc.moves_in_work import NO_LENGTH, note_depth, note_level, note_media, note_rapid
from floor.evidence.nc.program_facts import TRAVELS, Record, Values
from floor.evidence.nc.state import UNKNOWN, UNKNOWN_CODE, State
from floor.evidence.nc.summary import format_tool
from floor.evidence.nc.travel import Bounds, Gap, TravelLog

PLANES = {170: (0, 1, 2), 180: (2, 0, 1), 190: (1, 2, 0)}
"""Plane → its two axes, counterclockwise from first to second, and the axis across."""
_TOO_MANY = ("too many",)
_NOWHERE = [float("nan")] * 3
Given = tuple[float | None, float | None, float | None]


def move(s: State, r: Record, line: int, words: Given) -> None:
    """A straight move, rapid or feed, to the words' position in mm."""
    travel = s.travel or pick_travel(s, r, line)
    x, y, z = words
    if s.motion:
        bounds = travel.feed
        if not s.cutting:
            start_cut(s, r, travel, line, words)
    else:
        bounds = travel.rapid
        s.cutting = s.flat = False
    at = s.at
    start = at[2]
    base_x, base_y, base_z = get_base(s)
    dx = dy = dz = 0.0
    if x is not None:
        x += base_x
        dx, at[0] = x - at[0], x
        if not bounds.low[0] <= x <= bounds.high[0]:
            bounds.widen(0, x, line)
    if y is not None:
        y += base_y
        dy, at[1] = y - at[1], y
        if not bounds.low[1] <= y <= bounds.high[1]:
            bounds.widen(1, y, line)
    if z is not None:
        z += base_z
        dz, at[2] = z - at[2], z
        if not bounds.low[2] <= z <= bounds.high[2]:
            bounds.widen(2, z, line)
    size = sqrt(dx * dx + dy * dy + dz * dz)
    if not s.motion:
        note_rapid(s, r, line, words, start, not dx == dy == 0.0)
    if size != size:
        move_unknown(s, r, travel, line, words)
    elif s.motion:
        r.run_mm += size
        if dz or not s.flat:
            note_depth(s, r, line, dz, size)
    else:
        add_rapid(r, size, dx, dy, dz)


def move_rapid(s: State, r: Record, line: int, words: Given) -> None:
    """A rapid move of a block before its modal motion, whatever that is."""
    s.changed()  # other codes of the block came first
    motion, s.motion = s.motion, 0
    move(s, r, line, words)
    s.motion = motion


def get_base(s: State) -> list[float]:
    """What position words count from."""
    if s.incremental:
        return s.at
    return s.shift if s.incremental is not None else _NOWHERE


def move_unknown(s: State, r: Record, travel: TravelLog, line: int, words: Given) -> None:
    """A move from or to an unknown position."""
    r.unknown_moves += 1
    r.unknown_move_line = r.unknown_move_line or line
    if s.motion and words[2] is None:
        note_level(s, r, line)
    elif s.motion and not s.at[2] > r.work.top:
        note_media(s, r, line)
    for axis, word in enumerate(words):
        if word is None or not isnan(s.at[axis]):
            continue
        if isnan(word):
            s.why[axis] = ("no value", line) if s.why[axis][1] != line else s.why[axis]
        elif s.incremental is None:
            s.why[axis] = (s.why[axis][0], line)
        travel.miss(axis, *s.why[axis])


def add_rapid(r: Record, size: float, *steps: float) -> None:
    """Add a rapid move to the sums: each axis at its own rate; the slowest counts."""
    r.rapid_mm += size
    if r.dialect.rapid:
        r.rapid_seconds += 60 * max(abs(step) / rate for step, rate in zip(steps, r.dialect.rapid, strict=True))


def pick_travel(s: State, r: Record, line: int) -> TravelLog:
    """The log for moves from here on, by what is in force."""
    tool = r.tool(s.tool, line, s.tool_sure)
    angles = tuple(sorted(s.angles.items()))
    key: tuple[object, ...] = s.offset, s.length, str(angles), bool(s.units), bool(s.axes_changed), s.lost
    if key not in tool.travels and len(tool.travels) >= TRAVELS:
        angles, key = (), _TOO_MANY
    travel = tool.travels.get(key)
    if travel is None:
        travel = TravelLog(s.offset, s.length, angles, "mm" if s.units else UNKNOWN, line)
        tool.travels[key] = travel
    for axis in range(3):
        _note_basis(s, travel, axis, line)
        if key == _TOO_MANY:
            travel.miss(axis, "rotary", line)
    if not s.offset_given:
        r.log.add("offset assumed", line)
    r.offsets.setdefault(s.offset, line)
    s.travel = travel
    return travel


def _note_basis(s: State, travel: TravelLog, axis: int, line: int) -> None:
    """What a position on an axis is based on: gaps and doubts from what is in force."""
    if s.lost:
        travel.miss(axis, *s.lost)
    for word_line in s.axes_changed.values():
        travel.miss(axis, "axes changed", word_line)
    for angle in s.angles.values():
        if isnan(angle):
            travel.miss(axis, "rotary", line)
    if s.offset == UNKNOWN:
        travel.miss(axis, "skipped", line)
    for doubt, doubt_line in s.doubts.items():
        travel.doubt(axis, doubt, doubt_line)
    if not s.distance_given:
        travel.doubt(axis, "distance mode", line)
    if not s.offset_given:
        travel.doubt(axis, "work offset", line)
    if not s.units:
        travel.doubt(axis, "units", line)
    if s.shift[axis]:
        travel.doubt(axis, "local shift", line)
    if axis == 2 and not s.length.startswith("H"):
        travel.doubt(axis, "tool length", line)
    if axis < 2 and s.comp != 400:
        travel.doubt(axis, "radius compensation", line)


def start_cut(s: State, r: Record, travel: TravelLog, line: int, words: Given) -> None:
    """The first feed move after a rapid or modal word: its start, its feed, and what is in force."""
    for axis in range(3):
        if not isnan(s.at[axis]):
            travel.feed.widen(axis, s.at[axis], line)
        elif words[axis] is None:
            travel.miss(axis, *s.why[axis])  # it cuts there, wherever it is
        elif not s.incremental:
            travel.miss(axis, "unknown point", line)
    tool = r.tool(s.tool, line, s.tool_sure)
    note_feed(s, r)
    if s.feed <= 0:
        r.log.add("feed zero", line, format_tool(s.tool))
    if not s.rate > 0 and s.feed_mode != 930:
        r.untimed_line = r.untimed_line or line
    if not s.checked:
        check_cut(s, r, line)
        s.checked = True
    tool.first_feed = tool.first_feed or line
    s.cutting = True


def note_feed(s: State, r: Record) -> None:
    """Record the feed the tool cuts at."""
    length = "mm" if s.units else "?"
    name = {940: f"{length}/min", 950: f"{length}/rev", 930: "1/min"}.get(s.feed_mode, "?")
    tool = r.tool(s.tool, s.feed_line, s.tool_sure)
    values = tool.feeds.get(name)
    if values is None:
        values = tool.feeds[name] = Values()
    values.add(s.feed * s.scale if s.feed_mode in (940, 950) else s.feed, s.feed_line)


def check_cut(s: State, r: Record, line: int) -> None:
    """Check what must be in force before a tool cuts."""
    tool, who = r.tool(s.tool, line, s.tool_sure), format_tool(s.tool)
    _check_given(s, r, line)
    if s.spindle == "off" or s.speed == 0:
        r.log.add("spindle off", line, who)
    else:
        tool.directions.setdefault(s.spindle, s.spindle_line)
    if isnan(s.speed):
        tool.speed_gap = tool.speed_gap or line
        if s.spindle not in ("off", UNKNOWN) and not s.speed_line:
            r.log.add("no speed", line, who)
    elif not s.surface_speed:
        tool.speeds.add(s.speed, s.speed_line)
    else:
        tool.speed_gap = tool.speed_gap or line
    if isnan(s.feed):
        tool.feed_gap = tool.feed_gap or line
        if not s.feed_line:
            r.log.add("no feed", line, who)
    if s.length in NO_LENGTH:
        r.log.add("no length offset", line, who)


def _check_given(s: State, r: Record, line: int) -> None:
    """Units, the part on the table, how F counts."""
    if not s.units:
        r.log.add("no units", line)
    if r.exchanged_line:
        r.log.add("pallet exchanged", r.exchanged_line)
    if not r.feed_mode_line:
        r.feed_mode_assumed = r.feed_mode_assumed or line


def set_feed(s: State, r: Record, value: float, line: int) -> None:
    """A feed word, in the units of the program."""
    r.flush_run(s.rate, line)
    s.feed, s.feed_line = value, line
    s.cutting = s.flat = False
    s.rate = compute_rate(s)


def compute_rate(s: State) -> float:
    """Feed in mm/min; NaN in inverse time, as each block has its own time."""
    if s.feed_mode == 940:
        return s.feed * s.scale
    return s.feed * s.scale * s.speed if s.feed_mode == 950 and not s.surface_speed else float("nan")


def move_arc(
    s: State, r: Record, line: int, words: Given, centers: Given, radius: float | None = None, turns: int = 1
) -> None:
    """An arc or helix in the plane in force, by center words or radius, in mm."""
    travel = s.travel or pick_travel(s, r, line)
    start_cut(s, r, travel, line, words)
    base, at = get_base(s), s.at
    target = [at[axis] if word is None else word + base[axis] for axis, word in enumerate(words)]
    if s.plane == UNKNOWN_CODE or (s.arc_absolute == UNKNOWN and radius is None):
        s.at = target
        _lose_arc(s, r, travel, line, words, "skipped")
        return
    u, v, w = PLANES[s.plane]
    start = at[u], at[v]
    across = target[w] - at[w]
    center = _find_center(s, r, line, start, (target[u], target[v]), centers, radius)
    s.at = target
    if center is None:
        _lose_arc(s, r, travel, line, words, "bad arc")
        return
    arc = compute_arc(*start, target[u], target[v], *center, s.motion == 20, turns)
    size = hypot(arc.length, across)
    if size != size:
        r.unknown_moves += 1
        r.unknown_move_line = r.unknown_move_line or line
        _lose_arc(s, r, travel, line, words, "unknown point")
        return
    r.run_mm += size
    if w == 2:
        note_depth(s, r, line, across, size)
    elif (arc.u_low if u == 2 else arc.v_low) < r.work.top:
        note_media(s, r, line)
    _widen(travel.feed, u, arc.u_low, arc.u_high, line)
    _widen(travel.feed, v, arc.v_low, arc.v_high, line)
    travel.feed.widen(w, target[w], line)
    if not s.plane_given:
        travel.doubt(u, "arc plane", line)
        travel.doubt(v, "arc plane", line)


def _widen(bounds: Bounds, axis: int, low: float, high: float, line: int) -> None:
    bounds.widen(axis, low, line)
    bounds.widen(axis, high, line)


def _find_center(
    s: State,
    r: Record,
    line: int,
    start: tuple[float, float],
    end: tuple[float, float],
    centers: Given,
    radius: float | None,
) -> tuple[float, float] | None:
    """Center in the plane; None if the arc is bad, which is a finding."""
    u, v, _ = PLANES[s.plane]
    if radius is not None:
        center = compute_center(*start, *end, radius, s.motion == 20)
        if center is None:
            r.log.add("bad arc", line, "R", radius)
        return center
    cu, cv = centers[u], centers[v]
    if cu is None and cv is None:
        r.log.add("bad arc", line, "no center")
        return None
    relative = start[0] + (cu or 0.0), start[1] + (cv or 0.0)
    absolute = (start[0] if cu is None else cu + s.shift[u]), (start[1] if cv is None else cv + s.shift[v])
    asked = r.dialect.arc_centers == "absolute" if s.arc_absolute is None else s.arc_absolute
    center, other = (absolute, relative) if asked else (relative, absolute)
    if not is_bad_arc(*start, *end, *center):
        return center
    if s.arc_absolute is None and r.dialect.arc_centers is None and not is_bad_arc(*start, *end, *other):
        r.log.add("two readings", line, "arc_centers")
        return None
    r.log.add("bad arc", line, "radii")
    return None


def _lose_arc(s: State, r: Record, travel: TravelLog, line: int, words: Given, gap: Gap) -> None:
    """Of an arc that cannot be followed, only the ends are known."""
    if s.plane != 170 or not s.at[2] > r.work.top:
        note_media(s, r, line)
    for axis in range(3):
        if words[axis] is not None and isnan(s.at[axis]) and isnan(words[axis] or 0.0):
            travel.miss(axis, "no value" if s.why[axis][1] != line else s.why[axis][0], line)
        travel.feed.widen(axis, s.at[axis], line)
        travel.miss(axis, gap, line)
