"""What each G- and M-code does to the state. An unknown code is listed, and the position after it is unknown."""

from __future__ import annotations

from collections.abc import Callable
from math import isnan, nan

from floor.evidence.nc.applied_block import Step
from floor.evidence.nc.canned_cycles import CYCLES, add_dwell
from floor.evidence.nc.dialect import Medium
from floor.evidence.nc.finding_kinds import LISTED
from floor.evidence.nc.modal_groups import format_code
from floor.evidence.nc.motion import compute_rate, move_rapid, pick_travel
from floor.evidence.nc.moves_in_work import check_machine_z, check_rapid, check_retracted
from floor.evidence.nc.state import UNKNOWN, UNKNOWN_TOOL
from floor.evidence.nc.summary import CoolantUse, Word, format_tool
from floor.evidence.nc.travel import AXES, Gap
from floor.figures.units import MM_PER_INCH

Action = Callable[[Step, int], None]
_TAKES_P = CYCLES | {40, 100, 650, 660}


def set_units(step: Step, code: int) -> None:
    s, units = step.state, "inch" if code == 200 else "mm"
    step.record.units.setdefault(units, step.line)
    if units == s.units:
        return
    if s.units:
        step.record.log.add("units changed", step.line, format_code("G", code))
    else:
        s.lose("no value", step.line)
    step.record.flush_run(s.rate, step.line)
    s.units, s.scale = units, MM_PER_INCH if units == "inch" else 1.0
    s.rate = compute_rate(s)


def set_plane(step: Step, code: int) -> None:
    step.state.plane, step.state.plane_given = code, True
    step.record.planes.setdefault(format_code("G", code), step.line)


def set_distance(step: Step, code: int) -> None:
    step.state.incremental, step.state.distance_given = code == 910, True
    step.record.distances.setdefault(format_code("G", code), step.line)


def set_arc_distance(step: Step, code: int) -> None:
    step.state.arc_absolute = code == 901


def set_feed_mode(step: Step, code: int) -> None:
    s = step.state
    step.record.flush_run(s.rate, step.line)
    if code != s.feed_mode:
        s.feed, s.feed_line = nan, 0
    s.feed_mode = code
    step.record.feed_mode_line = step.record.feed_mode_line or step.line
    s.rate = compute_rate(s)


def set_spindle_mode(step: Step, code: int) -> None:
    s = step.state
    step.record.flush_run(s.rate, step.line)
    s.surface_speed = code == 960
    s.rate = compute_rate(s)


def set_radius_compensation(step: Step, code: int) -> None:
    s = step.state
    s.comp = code
    number = step.take_whole("D")
    if code == 400:
        return
    step.record.log.add("radius compensation", step.line, format_code("G", code))
    radii = step.record.tool(s.tool, step.line, s.tool_sure).radii
    if number is None and not radii.first:
        step.record.log.add("D left out", step.line, format_tool(s.tool))
    elif number is not None:
        radii.add(number, step.line)
        if s.tool is not None and number != s.tool:
            step.record.log.add("D not T", step.line, format_tool(s.tool), number)


def set_length_offset(step: Step, code: int) -> None:
    """G43, G44, G43.1 and G49: Z of the tool tip is unknown until the next Z word."""
    s, log = step.state, step.record.log
    s.lose("no word", step.line, (2,))
    who = format_tool(s.tool)
    if code == 490:
        s.length = "none"
        return
    if code == 431:
        log.add("length from program", step.line, who)
        s.length = "program"
        return
    if code == 440:
        log.add("length subtracted", step.line, who)
    number = step.take_whole("H")
    if number is None:
        log.add("H left out", step.line, who)
        s.length = UNKNOWN
        return
    s.length = f"H{number}"
    step.record.tool(s.tool, step.line, s.tool_sure).lengths.add(number, step.line)
    if number == 0:
        log.add("H zero", step.line, who)
    elif s.tool is not None and number != s.tool:
        log.add("H not T", step.line, who, number)


def set_work_offset(step: Step, code: int) -> None:
    s, name = step.state, format_code("G", code)
    if code == 541 or (code == 540 and "P" in step.words and not _has_other_p(step)):
        given, number = "P" in step.words, step.take_whole("P")
        name = f"G54.1 P{number if number is not None else '?' if given else 1}"
        if not given:
            step.record.log.add("two readings", step.line, "extra offset without P")
    if name != s.offset or name.endswith("?"):
        s.lose("offset change", step.line)
        s.approach, s.hole = nan, None
    s.offset, s.offset_given = name, True
    step.record.offsets.setdefault(name, step.line)


def _has_other_p(step: Step) -> bool:
    """Whether the P of a block is a subprogram, a dwell or something else, not an extra offset."""
    return not {970, 980, 990}.isdisjoint(step.m_codes) or not _TAKES_P.isdisjoint(step.g_codes)


def set_retract(step: Step, code: int) -> None:
    step.state.retract = code


def write_offsets(step: Step, code: int) -> None:
    """G10: the program itself writes an offset or the tool table."""
    s, log = step.state, step.record.log
    kind, number = step.take_whole("L"), step.take_whole("P")
    text = " ".join(["G10", *(f"{k}{v}" for k, v in (("L", kind), ("P", number)) if v is not None)])
    values = [f"{letter}{word.text}" for letter in "XYZABCR" if (word := step.take(letter))]
    note_write(step, " ".join([text, *values]))
    if kind == 20 and step.record.dialect.g10_l20 is None:
        log.add("two readings", step.line, "g10_l20")
    tables = kind in (1, 10, 11, 12, 13)
    log.add("tool table written" if tables else "offset written", step.line, text)
    s.lose("offset written", step.line, (2,) if tables else (0, 1, 2))


def note_write(step: Step, text: str) -> None:
    if len(step.record.writes) < LISTED:
        step.record.writes.append(Word(text, step.line))


def go_home(step: Step, code: int) -> None:
    """G28 and G30: via a point to home, whose part coordinates the program does not give."""
    given = [axis for axis in range(3) if AXES[axis] in step.words]
    s = step.state
    word = step.words.get("Z")
    if s.incremental is False and word is not None and word.value == 0:
        step.record.log.add("home through zero", step.line, format_code("G", code))
    step.record.machine_moves.setdefault(format_code("G", code), step.line)
    x, y, z = (None if s.incremental and value == 0 else value for value in step.take_place())
    if (x, y, z) != (None, None, None):
        move_rapid(s, step.record, step.line, (x, y, z))
    check_rapid(s, step.record, step.line, s.at[2], not given or given[0] < 2)
    s.lose("home", step.line, given or (0, 1, 2))
    s.angles = {letter: value for letter, value in s.angles.items() if letter not in step.words}
    for letter in "ABCP":
        step.take(letter)


def move_in_machine(step: Step, code: int) -> None:
    given = [axis for axis in range(3) if AXES[axis] in step.words]
    step.record.machine_moves.setdefault("G53", step.line)
    if step.state.incremental:
        step.record.log.add("G53 in G91", step.line)
    z = step.take_place()[2]
    if z is not None:
        check_machine_z(step.record, step.line, z)
    check_rapid(step.state, step.record, step.line, step.state.at[2], given[:1] in ([0], [1]))
    step.state.lose("machine coordinates", step.line, given)
    for letter in "ABC":
        if step.take(letter):
            step.state.angles[letter] = nan


def shift_locally(step: Step, code: int) -> None:
    """G52: moves the zero of the named axes within the work offset; the tool stays put."""
    s = step.state
    given = {axis: value for axis, value in enumerate(step.take_place()) if value is not None}
    s.shift = [given.get(axis, s.shift[axis]) for axis in range(3)]
    if any(s.shift):
        step.record.log.add("local shift", step.line)
    note_write(step, "G52 " + " ".join(f"{AXES[axis]}{value / s.scale:.10g}" for axis, value in given.items()))


def shift_zero(step: Step, code: int) -> None:
    """G92 and its relatives: the zero from here on depends on where the machine is."""
    s, name = step.state, format_code("G", code)
    note_write(step, " ".join([name, *(f"{one}{word.text}" for one in AXES if (word := step.words.get(one)))]))
    step.take_place()
    for letter in "ABC":
        step.take(letter)
    s.lose("shifted", step.line)
    if code in (921, 922):
        s.axes_changed.pop("G92", None)
    else:
        step.record.log.add("shift", step.line, name)
        s.axes_changed["G92"] = step.line


def change_axes(step: Step, code: int) -> None:
    """Rotation, scaling, polar words, mirror, splines: positions in the offset are unknown until they are off."""
    name = format_code("G", code)
    step.record.log.add("axes changed", step.line, name)
    step.state.axes_changed[_TURNED_OFF_AS.get(code, name)] = step.line
    for letter in "XYZRIJKP":
        step.take(letter)
    step.state.lose("axes changed", step.line)


def restore_axes(step: Step, code: int) -> None:
    if step.state.axes_changed.pop(format_code("G", code), None):
        step.state.lose("axes changed", step.line)


_TURNED_OFF_AS = {680: "G69", 510: "G50", 160: "G15", 511: "G50.1"}


def dwell(step: Step, code: int) -> None:
    word = next((found for letter in "PXU" if (found := step.words.pop(letter, None))), None)
    if word is None or isnan(word.value):
        step.record.dwell_gap_line = step.record.dwell_gap_line or step.line
        return
    if word.value:
        add_dwell(step.record, word.value, word.bare, 1, step.line)


def call_macro(step: Step, code: int) -> None:
    """G65 and G66: what a macro does with its arguments is unknown."""
    number = step.take_whole("P")
    step.words.clear()
    name = f"O{number}" if number is not None else "?"
    step.record.calls.setdefault(name, Word(name, step.line))
    step.record.missing.add(name)
    step.record.log.add("macro call", step.line, name)
    miss_everywhere(step, "macro call")


def miss_everywhere(step: Step, gap: Gap) -> None:
    """Something outside the file moves: this tool's travel is unknown, and so is every mode after it."""
    s = step.state
    step.record.flush_run(s.rate, step.line)
    travel = s.travel or pick_travel(s, step.record, step.line)
    for axis in range(3):
        travel.miss(axis, gap, step.line)
    s.lose_modes(gap, step.line)


def read_lathe(step: Step, code: int) -> None:
    step.record.log.add("lathe", step.line, format_code("G", code))
    step.state.lose("unknown code", step.line)


def pass_over(step: Step, code: int) -> None:
    """Exact stop, path tolerance: nothing of interest here."""
    for letter in "PQR" if code in (640, 80) else "":
        step.take(letter)


def read_spline(step: Step, code: int) -> None:
    """G5: without axis words a control setting, with them a curve of unknown path."""
    if not step.has_any("XYZ"):
        for letter in "PQR":
            step.take(letter)
        return
    step.record.log.add("axes changed", step.line, format_code("G", code))
    step.words.clear()
    miss_everywhere(step, "axes changed")


def read_g70(step: Step, code: int) -> None:
    """G70 and G71: inches and millimeters on some controls, cycles on lathes."""
    if code == 720 or step.has_any("PQUWRD"):
        step.record.log.add("lathe", step.line, format_code("G", code))
        step.words.clear()
    else:
        step.record.log.add("two readings", step.line, "G70 and G71")
    step.state.lose("unknown code", step.line)


def read_unknown(step: Step, code: int) -> None:
    """A code not in the list may move anything; what follows assumes it changed no mode."""
    step.record.log.add("unknown code", step.line, format_code("G", code))
    step.state.lose("unknown code", step.line)
    step.state.doubts.setdefault("unknown code", step.line)


def _table(*rows: tuple[Action, tuple[int, ...]]) -> dict[int, Action]:
    return {code: action for action, codes in rows for code in codes}


ACTIONS: dict[int, Action] = _table(
    (set_feed_mode, (930, 940, 950)),
    (dwell, (40,)),
    (set_spindle_mode, (960, 970)),
    (set_plane, (170, 180, 190)),
    (set_units, (200, 210)),
    (set_radius_compensation, (400, 410, 411, 420, 421)),
    (set_length_offset, (430, 431, 440, 490)),
    (set_work_offset, (540, 541, 550, 560, 570, 580, 590, 591, 592, 593)),
    (pass_over, (80, 90, 610, 611, 640)),
    (set_distance, (900, 910)),
    (set_arc_distance, (901, 911)),
    (set_retract, (980, 990)),
    (call_macro, (650, 660, 661)),
    (restore_axes, (670, 690, 500, 501, 150)),
    (change_axes, (680, 510, 511, 160)),
    (read_spline, (50, 51, 52)),
    (write_offsets, (100,)),
    (go_home, (280, 300)),
    (shift_locally, (520,)),
    (shift_zero, (920, 921, 922, 923)),
    (move_in_machine, (530,)),
    (read_lathe, (70,)),
    (read_g70, (700, 710, 720)),
)
"""G-code → what it does, in the order a block executes (NIST IR 6556, table 8, as quoted)."""
ORDER = {code: place for place, code in enumerate(ACTIONS)}
MOTIONS = frozenset({0, 10, 20, 30, 310, 330, 331, 382, 383, 384, 385, 800}) | CYCLES

MEDIA: dict[int, Medium] = {7: "mist", 8: "flood", 9: "off"}
"""M7 and M8 as on most controls; some swap them or number pumps: a dialect setting."""


def set_spindle(step: Step, code: int) -> None:
    """M19 holds it at an angle, by P or R on some controls, so it no longer turns."""
    for letter in "PR" if code == 190 else "":
        step.take(letter)
    step.state.spindle, step.state.spindle_line = {30: "M3", 40: "M4"}.get(code, "off"), step.line


def set_coolant(step: Step, number: int, medium: Medium) -> None:
    s = step.state
    if medium == "off":
        s.coolant = frozenset()
    if medium in ("off", "none"):
        return
    s.coolant = None if s.coolant is None else s.coolant | {medium}
    name = f"M{number}"
    tool = step.record.tool(s.tool, step.line, s.tool_sure)
    tool.coolants.setdefault((name, step.optional), CoolantUse(name, medium, step.line, step.optional))


def load_tool(step: Step) -> None:
    """M6: load the tool selected by T, in this block or before."""
    s, r = step.state, step.record
    check_retracted(s, r, step.line, "not retracted")
    number, staged = _take_tool(step), s.staged
    loaded = next((one for one in (number, staged, s.tool) if one is not None), UNKNOWN_TOOL)
    if number is not None and staged is not None and number != staged and staged != s.tool:
        setting = r.dialect.tool_change
        if setting is None:
            r.log.add("two readings", step.line, "tool_change", _name_tool(number), _name_tool(staged))
            s.doubts.setdefault("tool", step.line)
        elif setting == "staged":
            loaded = staged
    s.staged = number if number is not None and loaded != number else None
    s.tool_sure = loaded != UNKNOWN_TOOL
    s.tool = loaded if s.tool_sure else None
    if s.tool is None:
        r.log.add("tool unknown", step.line)
    else:
        r.staged.pop(s.tool, None)
        r.tool(s.tool, step.line)
    r.tool_changes += 1
    s.spindle = "off"
    s.coolant = frozenset()  # a tool change stops it; the next tool turns it on again (common practice, no source)
    s.approach, s.hole = nan, None
    s.length = "old" if s.length.startswith("H") else s.length
    s.lose("tool change", step.line)


def stage_tool(step: Step) -> None:
    """T without M6: stage the tool."""
    word = step.words["T"]
    number = step.state.staged = _take_tool(step)
    if len(word.text) == 4 and word.bare and number and number // 100 == number % 100:
        step.record.log.add("lathe", step.line, f"T{word.text}")
    if number is not None and number != UNKNOWN_TOOL:
        step.record.staged.setdefault(number, step.line)


def _take_tool(step: Step) -> int | None:
    """The tool of a T word, or `UNKNOWN_TOOL`; None without one."""
    if "T" not in step.words:
        return None
    number = step.take_whole("T")
    return UNKNOWN_TOOL if number is None or number < 0 else number


def _name_tool(number: int) -> int | str:
    return "?" if number == UNKNOWN_TOOL else number


def stop(step: Step, name: str) -> None:
    if len(step.record.stops) < LISTED:
        step.record.stops.append(Word(name, step.line))


def exchange_pallet(step: Step, code: int) -> None:
    """M60: a stop on many controls, another pallet on most with a changer."""
    stop(step, format_code("M", code))
    step.record.exchanged_line = step.line


M_ACTIONS: dict[int, Action] = _table(
    (set_spindle, (30, 40, 50, 190)),
    (lambda step, code: stop(step, format_code("M", code)), (0, 10)),
    (exchange_pallet, (600,)),
    (lambda step, code: None, (290, 480, 490)),
)
