"""Canned drilling cycles: rapid over the hole, rapid to the clearance level R, feed to the bottom, and out again."""

from __future__ import annotations

from math import ceil, hypot, isnan, nan
from typing import Literal

from floor.evidence.nc.applied_block import Step
from floor.evidence.nc.finding_kinds import LISTED
from floor.evidence.nc.modal_groups import format_code
from floor.evidence.nc.motion import PLANES, add_rapid, get_base, pick_travel, start_cut
from floor.evidence.nc.moves_in_work import SLACK_MM, check_rapid, note_media
from floor.evidence.nc.program_facts import Record
from floor.evidence.nc.state import UNKNOWN_CODE, Cycle, State
from floor.evidence.nc.summary import CycleUse, format_tool
from floor.evidence.nc.travel import AXES, TravelLog

CYCLES = frozenset({730, 740, 760, 810, 820, 830, 840, 850, 860, 870, 880, 890})
FEED_OUT = frozenset({740, 840, 850, 890})
"""Tapping, and boring that feeds back out."""
PECKING = frozenset({730, 830})
TAPPING = {740: ("M4", "left-hand"), 840: ("M3", "right-hand")}
"""Tapping cycle → the spindle on the way in, and the thread (common practice, no source)."""
VARY = frozenset({760, 870, 880})
"""Fine boring (threading on some controls), back boring, boring with a manual return."""
LEAST_PECK_MM = 0.02
"""A peck of less is a slip of the pen, or none at all: Q0, a bare Q5 read as 0.005 mm (shop decision)."""
_SAME = 1e-6
"""Levels closer than this, in mm, are the same."""
Turn = Literal["no", "yes", "maybe"]


def set_cycle(step: Step, code: int) -> None:
    """Start a canned cycle; its words stay in force until G80 or another motion."""
    s = step.state
    if s.plane not in PLANES:
        return
    across = PLANES[s.plane][2]
    if s.cycle is None:
        s.cycle = Cycle(code, s.at[across])
    s.cycle.code = code
    if code in VARY:
        step.record.log.add("cycle varies", step.line, format_code("G", code))


def run_cycle(step: Step, turned: bool) -> None:
    """Execute a block while a canned cycle is in force; ``turned`` if it has a rotary word."""
    s, cycle = step.state, step.state.cycle
    if cycle is None or s.plane not in PLANES:
        _lose_hole(step)
        return
    u, v, w = PLANES[s.plane]
    fires = _find_fire(step, AXES[u] + AXES[v], AXES[w], turned)
    for word, field in (("R", "clearance"), (AXES[w], "bottom"), ("Q", "peck")):
        value = step.take_length(word)
        if value is not None:
            setattr(cycle, field, value)
            cycle.given |= {word}
            cycle.levels = None
    dwell = step.take("P")
    if dwell:
        cycle.dwell, cycle.dwell_bare = dwell.value, dwell.bare
    count = _take_count(step)
    du, dv = step.take_length(AXES[u]), step.take_length(AXES[v])
    for word in "IJ" if cycle.code in VARY else "":
        step.take(word)  # a shift at the bottom, away from the wall
    if fires == "no" or count == 0:
        return
    _check_words(step, cycle, AXES[w])
    travel = s.travel or pick_travel(s, step.record, step.line)
    if fires == "maybe":
        step.record.log.add("two readings", step.line, "cycle_fires")
        for axis in (u, v):
            travel.doubt(axis, "cycle fires", step.line)
    _drill(step, travel, cycle, (du, dv), count)


def _check_words(step: Step, cycle: Cycle, drill_letter: str) -> None:
    """Words a hole cannot do without, and the hand of a thread."""
    name, log = format_code("G", cycle.code), step.record.log
    for word in ("R", drill_letter, *("Q" if cycle.code in PECKING else "")):
        if word not in cycle.given:
            log.add("cycle word left out", step.line, name, word)
    if cycle.code in PECKING and cycle.peck < LEAST_PECK_MM:
        log.add("no peck", step.line, name, cycle.peck)
    turns, hand = TAPPING.get(cycle.code, ("", ""))
    if turns and step.state.spindle in ("M3", "M4") and step.state.spindle != turns:
        log.add("tap direction", step.line, name, step.state.spindle, hand)


def _lose_hole(step: Step) -> None:
    """A cycle in a plane that depends on the block delete switch."""
    s = step.state
    axes = [axis for axis in range(3) if AXES[axis] in step.words]
    for letter in "XYZRPQLKIJ":
        step.take(letter)
    if axes:
        travel = s.travel or pick_travel(s, step.record, step.line)
        for axis in range(3):
            travel.miss(axis, "skipped", step.line)
        s.lose("skipped", step.line)


def _find_fire(step: Step, plane_letters: str, drill_letter: str, turned: bool) -> Turn:
    """Whether the words of the block make it drill a hole."""
    setting = step.record.dialect.cycle_fires
    if step.has_any(plane_letters):
        return "yes"
    if turned:
        return {"any axis": "yes", None: "maybe"}.get(setting, "no")  # type: ignore[return-value]
    if drill_letter in step.words:
        return {"X Y Z": "yes", None: "maybe"}.get(setting, "no")  # type: ignore[return-value]
    return "no"


def _take_count(step: Step) -> int:
    """How often the cycle runs in this block, by L or K."""
    setting = step.record.dialect.repeats
    given = {letter: step.take_whole(letter) for letter in "LK" if letter in step.words and setting in (None, letter)}
    if not given:
        return 1
    count = next(iter(given.values()))
    if setting is None and count not in (1, None):
        step.record.log.add("two readings", step.line, "repeats", *given)
    if count is None or not 0 <= count <= 100_000:
        step.state.lose("no value", step.line)
        return 1
    return count


def _drill(step: Step, travel: TravelLog, cycle: Cycle, steps: tuple[float | None, float | None], count: int) -> None:
    s, r, line = step.state, step.record, step.line
    u, v, w = PLANES[s.plane]
    base, at = get_base(s), s.at
    clearance = cycle.clearance + base[w]
    bottom = cycle.bottom + (clearance if s.incremental else base[w])
    ends = [at[axis] if word is None else word + base[axis] for axis, word in ((u, steps[0]), (v, steps[1]))]
    moved = [ends[0] - at[u], ends[1] - at[v]]
    for axis, end, word in ((u, ends[0], steps[0]), (v, ends[1], steps[1])):
        travel.rapid.widen(axis, end, line)
        if isnan(end):
            travel.miss(axis, "no value" if word is not None and isnan(word) else s.why[axis][0], line)
    if count > 1 and s.incremental:
        _repeat(r, travel, line, (u, v), ends, moved, count)
    clearance, bottom = _settle_levels(s, r, travel, line, cycle, clearance, bottom)
    before = at[w]
    _check_levels(s, r, line, any(moved), clearance)
    at[u], at[v] = ends
    _go_down(s, r, travel, line, cycle, clearance, bottom)
    home = at[w] = _find_return(s, cycle, clearance)
    if isnan(home):
        s.why[w] = ("skipped" if s.retract == UNKNOWN_CODE else "no value"), line
    travel.rapid.widen(w, home, line)
    _note_use(step, cycle, clearance, bottom, count)
    _add_time(r, cycle, s, (moved[0], moved[1], before, clearance, bottom, home), count, line)


def _check_levels(s: State, r: Record, line: int, aside: bool, clearance: float) -> None:
    """Rapids of a hole in G17: across at the level before it, then down to R."""
    if s.plane != 170:
        return
    if clearance < r.work.rapid_low - SLACK_MM:
        r.log.add("R too low", line, format_tool(s.tool), clearance, r.work.rapid_low)
    elif aside and s.at[2] < r.work.rapid_low:
        check_rapid(s, r, line, s.at[2], True)


def _repeat(
    r: Record, travel: TravelLog, line: int, axes: tuple[int, int], ends: list[float], moved: list[float], count: int
) -> None:
    """The holes after the first, each as far on as the first."""
    for n, axis in enumerate(axes):
        ends[n] += moved[n] * (count - 1)
        travel.rapid.widen(axis, ends[n], line)
        if r.dialect.repeats is None:
            travel.doubt(axis, "cycle repeats", line)


def _find_return(s: State, cycle: Cycle, clearance: float) -> float:
    """The level it ends on: by G98 the one it started from, where that is higher."""
    higher = cycle.initial > clearance
    if s.retract == UNKNOWN_CODE and (higher or isnan(cycle.initial)):
        return nan
    return cycle.initial if s.retract == 980 and higher else clearance


def _settle_levels(
    s: State, r: Record, travel: TravelLog, line: int, cycle: Cycle, clearance: float, bottom: float
) -> tuple[float, float]:
    """The levels of a hole whose block gives none: where they were, or counted again from here in G91."""
    if clearance < bottom and cycle.code != 870:
        r.log.add("R below Z", line, format_code("G", cycle.code))
    if cycle.levels is None:
        cycle.levels = clearance, bottom
    first, last = cycle.levels
    w = PLANES[s.plane][2]
    if isnan(clearance + bottom):
        travel.miss(w, *s.why[w])
    elif abs(first - clearance) > _SAME or abs(last - bottom) > _SAME:
        r.log.add("two readings", line, "cycle levels", bottom, last)
        travel.rapid.widen(w, clearance, line)
        travel.feed.widen(w, bottom, line)
        travel.miss(w, "two readings", line)
    return first, last


def _go_down(s: State, r: Record, travel: TravelLog, line: int, cycle: Cycle, clearance: float, bottom: float) -> None:
    """Widen the travel by the hole itself: the drill is at the clearance level, then at the bottom."""
    u, v, w = PLANES[s.plane]
    travel.rapid.widen(w, clearance, line)
    s.at[w] = clearance
    s.cutting = False
    start_cut(s, r, travel, line, (None, None, None))
    travel.feed.widen(w, bottom, line)
    if w != 2 or not bottom >= r.work.top:
        note_media(s, r, line)
    if isnan(clearance) or isnan(bottom):
        travel.miss(w, "no value" if s.why[w][1] != line else s.why[w][0], line)
    if cycle.code == 870:
        travel.miss(w, "cycle varies", line)
    elif cycle.code in VARY:
        for axis in (u, v, w):
            travel.doubt(axis, "cycle varies", line)


Return = Literal["G98", "G99", "unknown"]
_RETURNS: dict[int, Return] = {980: "G98", 990: "G99"}


def _note_use(step: Step, cycle: Cycle, clearance: float, bottom: float, count: int) -> None:
    s = step.state
    levels = tuple(None if isnan(value) else value for value in (clearance, bottom, cycle.peck, cycle.dwell))
    top, low, peck, dwell = levels
    pitch = s.feed * s.scale if s.feed_mode == 950 else s.rate / s.speed if s.speed else float("nan")
    shown = pitch if cycle.code in TAPPING and not isnan(pitch) else None
    returns: Return = _RETURNS.get(s.retract, "unknown")
    key = cycle.code, s.tool, levels, returns, shown
    known = step.record.cycles.get(key)
    if known is None and len(step.record.cycles) >= LISTED:
        step.record.holes_left_out += count
        return
    line, holes = (known.line, known.holes) if known else (step.line, 0)
    step.record.cycles[key] = CycleUse(
        format_code("G", cycle.code), s.tool, line, top, low, peck, dwell, returns, shown, holes + count
    )


def _add_time(r: Record, cycle: Cycle, s: State, places: tuple[float, ...], count: int, line: int) -> None:
    """Add rapids, feed down and out, pecks and dwells of the holes; each starts where the one before ended."""
    across_u, across_v, before, clearance, bottom, home = places
    depth = abs(clearance - bottom)
    out = cycle.code in FEED_OUT
    down = abs(before - clearance) + (count - 1) * abs(home - clearance)
    up = count * (abs(home - clearance) + (0.0 if out else depth))
    across = hypot(across_u, across_v) * count
    if isnan(depth + across + up):
        r.unknown_moves += 1
        r.unknown_move_line = r.unknown_move_line or line
    if isnan(depth + up):
        return
    r.run_mm += depth * count * (2 if out else 1)
    u, v, w = PLANES[s.plane]
    _add_rapid_on(r, w, up + count * _compute_pecking(cycle, depth) + (0.0 if isnan(down) else down))
    if not isnan(across):
        steps = [0.0, 0.0, 0.0]
        steps[u], steps[v] = across_u * count, across_v * count
        add_rapid(r, across, *steps)
    if cycle.dwell > 0:
        add_dwell(r, cycle.dwell, cycle.dwell_bare, count, line)


def _add_rapid_on(r: Record, axis: int, size: float) -> None:
    add_rapid(r, size, *(size if n == axis else 0.0 for n in range(3)))


def _compute_pecking(cycle: Cycle, depth: float) -> float:
    """Rapid travel of retracts between pecks: G83 goes to R and back, G73 hardly lifts."""
    if cycle.code != 830 or not cycle.peck > 0 or depth / cycle.peck > 1e6:
        return 0.0
    pecks = ceil(depth / cycle.peck)
    return cycle.peck * pecks * (pecks - 1)


def add_dwell(r: Record, value: float, bare: bool, count: int, line: int) -> None:
    """Add a dwell; without a decimal point it is in seconds or milliseconds."""
    setting = r.dialect.dwell
    if bare and setting is None:
        r.log.add("two readings", line, "dwell", value, value / 1000)
        r.dwell_gap_line = r.dwell_gap_line or line
        return
    r.dwell_seconds += count * (value / 1000 if setting == "milliseconds" and bare else value)
