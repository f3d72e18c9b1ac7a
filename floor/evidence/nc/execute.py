"""Apply the words of one block to the state, in the order of NIST IR 6556, table 8 (as quoted).

Nothing is run: the state just becomes what a control's would be.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import isnan, nan
from typing import Literal

from floor.dataclass import dataclass
from floor.evidence.nc.applied_block import LARGEST, Num, Step
from floor.evidence.nc.block import Block, Word, split_block
from floor.evidence.nc.canned_cycles import CYCLES, run_cycle, set_cycle
from floor.evidence.nc.code_actions import (
    ACTIONS,
    M_ACTIONS,
    MEDIA,
    MOTIONS,
    ORDER,
    load_tool,
    miss_everywhere,
    read_unknown,
    set_coolant,
    set_length_offset,
    stage_tool,
    stop,
)
from floor.evidence.nc.expressions import evaluate
from floor.evidence.nc.fast_path import Plain, read_tidied
from floor.evidence.nc.finding_kinds import LISTED
from floor.evidence.nc.lines import LONGEST
from floor.evidence.nc.modal_groups import find_clashes, format_code
from floor.evidence.nc.motion import PLANES, compute_rate, get_base, move, move_arc, pick_travel, set_feed
from floor.evidence.nc.moves_in_work import check_rapid
from floor.evidence.nc.program_facts import Record
from floor.evidence.nc.state import NO_MOTION, State
from floor.evidence.nc.summary import Word as Told
from floor.evidence.nc.summary import format_tool
from floor.evidence.nc.travel import AXES

PROBES = frozenset({310, 382, 383, 384, 385})
THREADING = frozenset({330, 331})


SignalKind = Literal["end", "return", "subprogram", "local", "external", "control", "percent"]
_CALLS: dict[int, SignalKind] = {97: "local", 98: "subprogram", 198: "external"}
"""M198 calls a program outside the control's memory (public control manuals; m)."""


@dataclass(frozen=True, slots=True)
class Signal:
    """Signals that a block other than the next may follow."""

    kind: SignalKind
    name: str = ""
    count: int = 1
    block: Block = Block()
    optional: bool = False


def read_line(s: State, r: Record, text: str, line: int, plain: Plain) -> Signal | None:
    """Read one line and change the state. A signal says where else it may continue."""
    if len(text) <= LONGEST and read_tidied(s, r, text, line, plain):
        return None
    if len(text) > LONGEST:
        r.log.add("long line", line)
        s.lose("bad word", line)
        text = text[:LONGEST]
    block = split_block(text)
    for comment in block.comments:
        r.comment(comment, line)
    for kind, subject in block.marks:
        r.log.add(kind, line, subject)
    if block.percent:
        return Signal("percent", block.name)
    if block.skip and r.dialect.block_delete == "on":
        return None
    optional = bool(block.skip) and r.dialect.block_delete is None
    return read_both_ways(s, r, block, line) if optional else read_block(s, r, block, line, False)


def read_both_ways(s: State, r: Record, block: Block, line: int) -> Signal | None:
    """A block that may be skipped: where it goes is assumed, and what it changes is one or the other after it."""
    r.flush_run(s.rate, line)
    before = s.copy()
    s.doubts["block delete"] = line
    s.changed()
    signal = read_block(s, r, block, line, True)
    r.flush_run(s.rate, line)
    s.doubts.pop("block delete")
    s.merge(before, line)
    return signal


def read_block(s: State, r: Record, block: Block, line: int, optional: bool) -> Signal | None:
    """Apply a parsed line."""
    step = Step(s, r, line, optional)
    words, unread = _take_number(r, block, line)
    r.started = r.started or bool(block.words)
    for text in unread:
        r.log.add("bad word", line, text[:80])
    _take_words(step, words)
    if block.control:
        return Signal("control", block=block, optional=optional)
    if step.g_codes or step.m_codes or step.words:
        _carry_out(step)
    _assign(step, block)
    if unread:
        _lose_unread(step, unread)
    other = _list_other_m(step, block)
    _list_unused(step)
    return other


def _take_number(r: Record, block: Block, line: int) -> tuple[tuple[Word, ...], tuple[str, ...]]:
    """The other words, and what is none. A number leads a program; in its middle it is an axis word gone wrong."""
    number = next((word for word in block.words[:2] if word.letter == "O"), None)
    if number is None:
        return block.words, block.unread
    others = tuple(word for word in block.words if word is not number)
    if number.text.isdecimal() and (not r.started or line in r.called_lines):
        if not r.started:
            r.numbers.append(Told(number.text, line))
        return others, block.unread
    return others, (*block.unread, number.letter + number.text)


def _take_words(step: Step, words: tuple[Word, ...]) -> None:
    for letter, text in words:
        value, bare = _read_number(step, text)
        if letter == "G" or letter == "M":
            _take_code(step, letter, text, value)
        elif letter in step.words:
            step.record.log.add("word repeated", step.line, letter)
            step.words[letter] = Num(nan, text, False)
            if letter in AXES:
                step.state.why[AXES.index(letter)] = "bad word", step.line
        elif letter != "N":
            step.words[letter] = Num(value, text, bare)


def _read_number(step: Step, text: str) -> tuple[float, bool]:
    """(value, whether it is a bare number); NaN if unknown."""
    try:
        value, bare = float(text), "." not in text
    except ValueError:
        value, bare = evaluate(text, step.state.variables), False
    if abs(value) > LARGEST:
        step.record.log.add("bad word", step.line, text[:80])
        return nan, False
    return value, bare


def _take_code(step: Step, letter: str, text: str, value: float) -> None:
    code = -1 if isnan(value) else round(10 * value)
    if isnan(value) or value < 0 or abs(10 * value - code) > 1e-6 or (letter == "M" and code % 10):
        step.record.log.add("unknown code", step.line, letter + text[:80])
        if letter == "G":
            miss_everywhere(step, "unknown code")
        return
    if "." in text and code % 10 == 0:
        step.record.log.add("dot in code", step.line, letter + text)
    (step.g_codes if letter == "G" else step.m_codes).append(code)


def _carry_out(step: Step) -> None:
    s, r = step.state, step.record
    _list_clashes(step)
    _change_tool(step)
    other_dwell = 40 in step.g_codes and not step.has_any("PXU")  # S and F are its length on some controls
    speed = not other_dwell and _take_speed(step)
    stops_late = 50 in step.m_codes and step.has_any(AXES)
    _switch(step, passed_over=50 if stops_late else -1)
    motions = [code for code in step.g_codes if code in MOTIONS]
    _set_modes(step)
    feed = None if other_dwell else step.take("F")
    if feed:
        set_feed(s, r, feed.value, step.line)
    _keep_modal_numbers(step)
    if speed or step.m_codes or set(step.g_codes) - {0, 10, 20, 30}:
        s.changed()
    _go(step, motions, feed is not None)
    if stops_late:
        _stop_late(step)


def _set_modes(step: Step) -> None:
    """Act on the G-codes that are no motion, in the order in which a control does."""
    for code in sorted((code for code in step.g_codes if code not in MOTIONS), key=lambda code: ORDER.get(code, -1)):
        ACTIONS.get(code, read_unknown)(step, code)


def _take_speed(step: Step) -> bool:
    """Set the spindle's speed, if the block has one."""
    s, speed = step.state, step.take("S")
    if speed:
        step.record.flush_run(s.rate, step.line)
        s.speed, s.speed_line = speed.value, step.line
        s.rate = compute_rate(s)
    return speed is not None


def _stop_late(step: Step) -> None:
    """M5 beside a move: some controls stop the spindle before the move, some after."""
    s = step.state
    if s.motion > 0:
        step.record.log.add("two readings", step.line, "M5 beside a cut")
    s.spindle = "off"
    s.changed()


def _list_clashes(step: Step) -> None:
    for letter, codes in (("G", step.g_codes), ("M", step.m_codes)):
        for first, second in find_clashes(letter, codes) if len(codes) > 1 else ():
            both = f"{format_code(letter, first)} {format_code(letter, second)}"
            step.record.log.add("group clash", step.line, both)


def _change_tool(step: Step) -> None:
    if 60 in step.m_codes:
        load_tool(step)
    elif "T" in step.words:
        stage_tool(step)


def _switch(step: Step, passed_over: int) -> None:
    """Spindle, stops and coolant."""
    for code in step.m_codes:
        if code in M_ACTIONS and code != passed_over:
            M_ACTIONS[code](step, code)
    media = {**MEDIA, **dict(step.record.dialect.m_codes)}
    for code in step.m_codes:
        if code // 10 in media:
            set_coolant(step, code // 10, media[code // 10])


def _turn_angles(step: Step, probes: bool) -> bool:
    """Rotary words turn another face of the part toward the tool, by the block's motion; False without any."""
    s = step.state
    turned = [letter for letter in "ABC" if letter in step.words]
    if not turned:
        return False
    for letter in turned:
        value = step.take_value(letter)
        base = 0.0 if s.incremental is False else s.angles.get(letter, nan) if s.incremental else nan
        s.angles[letter] = value + base
    if s.motion == 0:
        check_rapid(s, step.record, step.line, s.at[2], True)
    s.changed()
    step.record.rotary_line = step.record.rotary_line or step.line
    if step.has_any(AXES) and (probes or (s.motion > 0 and s.motion not in CYCLES)):
        travel = s.travel or pick_travel(s, step.record, step.line)
        for axis in range(3):
            travel.miss(axis, "rotary", step.line)
    return True


def _go(step: Step, motions: list[int], has_feed: bool) -> None:
    """Apply the block's motion, by its own code or the modal one."""
    s = step.state
    for code in motions:
        _set_motion(step, code)
    probes = not PROBES.isdisjoint(motions)
    turned = _turn_angles(step, probes)
    if probes:
        _probe(step)
    elif s.motion in CYCLES:
        run_cycle(step, turned)
    elif step.has_any("XYZ") or (s.motion in (20, 30) and step.has_any("IJK")):
        _move(step, motions)
    if s.feed_mode == 930 and step.record.run_mm:
        _time_inverse(step, has_feed)


def _set_motion(step: Step, code: int) -> None:
    s = step.state
    if code == 800 or code in PROBES:
        s.motion, s.cycle = NO_MOTION, None
    elif code in CYCLES:
        s.motion = code
        set_cycle(step, code)
    else:
        s.motion, s.cycle = code, None
    s.plain = s.is_plain()


def _move(step: Step, motions: list[int]) -> None:
    s, r = step.state, step.record
    axes = [axis for axis in range(3) if AXES[axis] in step.words]
    if s.motion < 0:
        s.lose("no word", step.line, axes)
    if s.motion == NO_MOTION:
        _maybe_move(step, axes)
        return
    place = step.take_place()
    if s.motion in (20, 30):
        radius = step.take_length("R")
        turns = step.take_whole("P")
        move_arc(s, r, step.line, place, _take_centers(step, radius), radius, max(1, turns or 1))
    elif s.motion in THREADING:
        _thread(step, place)
    elif s.motion >= 0:
        move(s, r, step.line, place)
    else:
        travel = s.travel or pick_travel(s, r, step.line)
        for axis in axes:
            travel.miss(axis, "no word", step.line)


def _take_centers(step: Step, radius: float | None) -> tuple[float | None, float | None, float | None]:
    """I, J and K of the plane; beside R, or across the plane, they are left over, and listed."""
    across = PLANES[step.state.plane][2] if step.state.plane in PLANES else -1
    i, j, k = [
        None if radius is not None or (axis == across and letter in step.words and step.words[letter].value)
        else step.take_length(letter)
        for axis, letter in enumerate("IJK")
    ]  # fmt: skip
    return i, j, k


def _maybe_move(step: Step, axes: list[int]) -> None:
    """No motion in force, as after G80: some controls move by the G0 or G1 before it, others do not."""
    s = step.state
    step.record.log.add("no motion", step.line, " ".join(AXES[axis] + step.words[AXES[axis]].text for axis in axes))
    travel = s.travel or pick_travel(s, step.record, step.line)
    base = get_base(s)
    for axis, word in enumerate(step.take_place()):
        if word is not None:
            travel.rapid.widen(axis, word + base[axis], step.line)
            travel.miss(axis, "two readings", step.line)
            s.lose("two readings", step.line, (axis,))


def _thread(step: Step, place: tuple[float | None, float | None, float | None]) -> None:
    """Threading: a straight move at a feed set by the spindle; rigid tapping comes back."""
    s, r = step.state, step.record
    before, feed = list(s.at), (s.feed_mode, s.feed, s.feed_line, s.rate)
    pitch = step.take_length("K")
    r.flush_run(s.rate, step.line)
    if pitch is not None:
        s.feed_mode, s.feed, s.feed_line = 950, pitch / s.scale, step.line
        s.rate = compute_rate(s)
    s.cutting = s.checked = False
    move(s, r, step.line, place)
    if s.motion == 331:
        r.run_mm *= 2
        s.at = before
    r.flush_run(s.rate if pitch is not None else nan, step.line)
    s.feed_mode, s.feed, s.feed_line, s.rate = feed
    s.changed()


def _probe(step: Step) -> None:
    """A probing move ends where it touches, which only the machine knows."""
    s = step.state
    axes = [axis for axis in range(3) if AXES[axis] in step.words]
    step.record.log.add("probe", step.line)
    if s.spindle in ("M3", "M4"):
        step.record.log.add("probe turning", step.line)
    step.take_place()
    for letter in "PQRL":
        step.take(letter)
    travel = s.travel or pick_travel(s, step.record, step.line)
    for axis in axes:
        travel.miss(axis, "probe", step.line)
    s.lose("probe", step.line, axes)


def _time_inverse(step: Step, has_feed: bool) -> None:
    """Inverse time: each block gives its own duration, 1/F minutes."""
    s, r = step.state, step.record
    if has_feed and s.feed > 0:
        r.feed_seconds += 60 / s.feed
        r.feed_mm, r.run_mm = r.feed_mm + r.run_mm, 0.0
    else:
        r.log.add("no feed", step.line, format_tool(s.tool))
        r.flush_run(nan, step.line)


def _keep_modal_numbers(step: Step) -> None:
    """H during a length offset, D during radius compensation: the new number takes effect."""
    s = step.state
    if "H" in step.words and s.length.startswith("H"):
        set_length_offset(step, 430)
        s.changed()
    if "D" in step.words and s.comp != 400:
        number = step.take_whole("D")
        if number is not None:
            step.record.tool(s.tool, step.line, s.tool_sure).radii.add(number, step.line)


def _assign(step: Step, block: Block) -> None:
    """Set variables after the block's words have used the old values."""
    s = step.state
    values = [(_find_name(one.name, s.variables), evaluate(one.text, s.variables)) for one in block.assignments]
    for name, value in values:
        if not name:
            s.variables.clear()  # it may be any of them
            continue
        _set_system_variable(step, name)
        if len(step.record.variables) < LISTED:
            step.record.variables.setdefault(f"#{name}", step.line)
        if isnan(value):
            s.variables.pop(name, None)
        else:
            s.variables[name] = value


def _find_name(name: str, variables: Mapping[str, float]) -> str:
    """Name of a variable that is set: ``1`` of ``#1``, by its value of ``#[#2+1]`` and ``##2``; empty if not known."""
    if name[0] not in "[#":
        return name
    number = evaluate(name, variables)
    return "" if isnan(number) else str(int(number))


def _set_system_variable(step: Step, name: str) -> None:
    """A variable of the control itself: an offset, an output, a stop (public control manuals; m)."""
    number = int(name) if name.isdigit() else 0
    if number in (3000, 3006):  # alarm; stop with a message
        stop(step, f"#{number}")
    elif number >= 1000:
        step.record.log.add("system variable", step.line, f"#{number}")
        step.state.lose("offset written", step.line)


def _lose_unread(step: Step, unread: tuple[str, ...]) -> None:
    """Mark as unknown what an unreadable word would have moved."""
    s = step.state
    clear = all(text[0] in AXES and not text[1:2].isalpha() for text in unread)
    axes = sorted({AXES.index(text[0]) for text in unread}) if clear else [0, 1, 2]
    s.lose("bad word", step.line, axes)
    if clear or s.travel or step.g_codes:
        travel = s.travel or pick_travel(s, step.record, step.line)
        for axis in axes:
            travel.miss(axis, "bad word", step.line)


def _list_other_m(step: Step, block: Block) -> Signal | None:
    """M-codes that stop, end, call or return, and machine-specific ones."""
    signal = None
    media = dict(step.record.dialect.m_codes)
    for code in step.m_codes:
        number = code // 10
        if number in (2, 30):
            signal = Signal("end", format_code("M", code), optional=step.optional)
        elif number in _CALLS:
            kind = _CALLS[number]
            name, count = step.take_whole("P"), step.take_whole("L")
            shown = "" if name is None else str(name)
            signal = Signal(kind, shown, 1 if count is None else count, optional=step.optional)
        elif number == 99:
            target = step.take_whole("P")
            signal = Signal("return", "" if target is None else str(target), optional=step.optional)
        elif code not in M_ACTIONS and code != 60 and number not in MEDIA and number not in media:
            text = " ".join([format_code("M", code), *block.comments])
            if len(step.record.other_m) < LISTED:
                step.record.other_m.setdefault(number, Told(text, step.line))
            for letter in "PQR":
                step.take(letter)
    return signal


def _list_unused(step: Step) -> None:
    """List words that no code of the block uses."""
    for letter, word in step.words.items():
        if letter in "UW":
            step.record.log.add("lathe", step.line, letter)
            step.state.lose("unknown code", step.line)
        else:
            step.record.log.add("word without use", step.line, letter + word.text[:80])
