"""A program as text of at most 80 columns, and as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from typing import Any

from floor.dataclass import dataclass
from floor.evidence.nc.against_card import ExpectedProgram, find_program_number
from floor.evidence.nc.describe import describe_finding, describe_reason, format_length, format_limits, format_number
from floor.evidence.nc.finding_kinds import NOTES, NOTHING_READ, Finding
from floor.evidence.nc.summary import (
    CoolantUse,
    CycleTime,
    CycleUse,
    ProgramSummary,
    Reading,
    Span,
    ToolUse,
    Travel,
    Word,
)
from floor.evidence.nc.tools_against_card import ExpectedTool
from floor.evidence.nc.units import Units
from floor.figures.cutting.card import ToolKind
from floor.text import cut, format_count, format_span, wrap_text

_COMMENTS = 5
"""Most comments shown; the first ones tell what the program is."""
_COMMENT = 60
"""Most characters shown of one."""
_LEFT_OUT = {
    "moves": "moves from or to an unknown point", "feed": "cuts at an unknown feed", "dwell": "dwells",
    "rotary": "rotary moves", "calls": "subprograms not in the file", "jumps": "blocks after an unknown jump",
    "rapids": "rapids: no rapid rate is set", "tool changes": "tool changes: no time is set for them",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Comparison:
    """What a program was compared with."""

    name: str
    """``op 10 Mill the top``."""
    expected: ExpectedProgram


def write_program_text(
    summary: ProgramSummary, findings: Sequence[Finding], compared: Comparison | None = None, units: Units | None = None
) -> str:
    """The program's facts, what it was compared with, then every finding with its line.

    Args:
        units: units of lengths; default: the program's.
    """
    nothing = [one for one in findings if one.kind in NOTHING_READ]
    if nothing:
        return "\n".join(wrap_text(describe_finding(nothing[0]), f"{summary.name or 'program'}: ")) + "\n"
    shown: Units = units or ("inch" if summary.units.value == "inch" else "mm")
    lines = [line for part in _list_facts(summary) for line in wrap_text(part[1], f"{part[0]:<12}")]
    for tool in summary.tools:
        lines += ["", *_write_tool(summary, tool, shown)]
    if summary.holes_left_out:
        lines += ["", f"Cycles      and {format_count(summary.holes_left_out, 'hole')} more, not listed"]
    lines += ["", *_write_time(summary.cycle_time, shown)]
    lines += _write_compared(compared, summary, shown) if compared is not None else []
    lines += ["", *_write_findings(summary, findings, shown)]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _write_findings(summary: ProgramSummary, findings: Sequence[Finding], units: Units) -> Iterator[str]:
    """What is wrong, then what is only good to know."""
    faults = [one for one in findings if one.kind not in NOTES]
    notes = [one for one in findings if one.kind in NOTES]
    yield format_count(len(faults), "finding")
    for finding in faults:
        yield from _write_finding(finding, units)
    if summary.findings_left_out:
        yield f"  and {summary.findings_left_out} more, not listed"
    if notes:
        yield format_count(len(notes), "note")
    for finding in notes:
        yield from _write_finding(finding, units)


def _write_finding(finding: Finding, units: Units) -> list[str]:
    where = f"line {finding.line}: " if finding.line else "file: "
    again = f" (on {finding.count} lines)" if finding.count > 1 else ""
    return wrap_text(describe_finding(finding, units) + again, f"  {where}", "    ")


def _write_compared(compared: Comparison, summary: ProgramSummary, units: Units) -> Iterator[str]:
    """What was compared, so that nothing found says what was looked at, and what the card leaves open."""
    said = list(_list_compared(compared.expected, units))
    stated = "; ".join(f"{name} {value}" for name, value in said if value)
    yield ""
    yield from wrap_text(f"{compared.name}: {stated}", f"{'Compared':<12}")
    left = [name for name, value in said if not value]
    if left:
        yield from wrap_text(", ".join(left), f"{'Not checked':<12}")
    used = {word.text for word in summary.work_offsets}
    carriers = compared.expected.carriers
    places = [f"{name} in {offset}" if name else offset for offset, name in carriers.items() if offset not in used]
    if places and used & carriers.keys():
        yield from wrap_text(f"{', '.join(places)}: the program never moves there", f"{'Not for':<12}")


def _list_compared(expected: ExpectedProgram, units: Units) -> Iterator[tuple[str, str]]:
    """(what, the card's value); empty if the card does not say."""
    work = expected.work
    yield "number", find_program_number(expected.program) or ""
    yield "units", expected.units
    yield "offset", ", ".join(expected.carriers)
    yield "coolant", expected.coolant or ("dry, because of the hold-down" if expected.holds_dry else "")
    yield "top of the work", f"Z {format_length(work.top, units)}"
    if work.rapid_low != work.top:
        yield "rapids", f"down to Z {format_length(work.rapid_low, units)}"
    yield "lowest Z", "" if expected.lowest_z is None else format_length(expected.lowest_z, units)
    for axis, limits in (("X", expected.travel_x), ("Y", expected.travel_y)):
        yield f"travel in {axis}", "" if limits is None else format_limits(limits, units)
    if expected.speed_limit is not None:
        yield "station", f"at most {format_number(expected.speed_limit)} rpm"
    for tool in expected.tools or ():
        yield from _list_tool(tool)


def _list_tool(tool: ExpectedTool) -> Iterator[tuple[str, str]]:
    """What of a tool is compared, and what its card leaves open."""
    card = _list_card(tool)
    yield f"T{tool.number}", ", ".join(name for name, stated in card if stated) or "by number only"
    left = ", ".join(name for name, stated in card if not stated)
    if left:
        yield f"T{tool.number} {left}", ""


def _list_card(tool: ExpectedTool) -> list[tuple[str, bool]]:
    """What a tool's card may state, and whether it does; of a tap its pitch, of other holes no plunge."""
    tap, holes = tool.kind is ToolKind.TAP, tool.kind is not None and tool.kind.makes_holes
    found = [("kind", tool.kind is not None), ("speed", tool.speed is not None), ("feed", tool.feed is not None)]
    found += [] if holes else [("plunge", tool.plunge is not None)]
    found += [("pitch", tool.pitch is not None) if tap else ("depth", tool.depth is not None)]
    found += [("flute length", tool.flute_length is not None)] if holes and not tap else []
    found += [("stick-out", tool.stick_out is not None)] if holes else []
    least = ("least chip", tool.least_turn), ("least depth", tool.least_depth)
    return found + [(name, True) for name, stated in least if stated is not None]


def write_program_json(summary: ProgramSummary, findings: Sequence[Finding], compared: Comparison | None = None) -> str:
    """Everything, lengths in mm, feeds in mm/min; each finding with its sentence.

    ``format`` is raised if a field ever has to change.
    """
    whole = {"format": 1, **asdict(summary)}
    whole["compared"] = None if compared is None else _write_comparison(compared)
    whole["findings"] = [{**asdict(one), "sentence": describe_finding(one)} for one in findings]
    return json.dumps(whole, indent=2, ensure_ascii=False)


def _write_comparison(compared: Comparison) -> dict[str, Any]:
    """All that was compared; ``offset`` is the only one that the program may move in."""
    told = asdict(compared)
    only = list(compared.expected.carriers)
    told["expected"]["offset"] = only[0] if len(only) == 1 else None
    return told


def _list_facts(summary: ProgramSummary) -> Iterator[tuple[str, str]]:
    """(label, value) of the program as a whole."""
    yield "Program", _write_reading(summary.number)
    if summary.name:
        yield "File", summary.name
    yield "SHA-256", summary.sha256
    yield "Size", f"{summary.size} bytes, {format_count(summary.lines, 'line')}"
    yield "Units", _write_reading(summary.units)
    yield "Plane", _write_reading(summary.plane)
    yield "Distance", _write_reading(summary.distance_mode)
    yield "Offsets", "; ".join(_write_offsets(summary)) or "none"
    for label, words in (
        ("Machine", _write_words(summary.machine_moves)),
        ("Writes", _write_words(summary.writes)),
        ("Stops", _write_words(summary.stops)),
        ("Other M", _write_words(summary.other_m)),
        ("Staged", [f"T{format_number(number.value)} (line {number.line})" for number in summary.staged]),
        ("Calls", _write_words(summary.subprograms)),
        ("Loops", [f"line {loop.line}, {format_number(loop.value)} times" for loop in summary.loops]),
        ("Variables", _write_words(summary.variables)),
        ("End", _write_words([summary.end] if summary.end else [])),
        ("Comments", _write_comments(summary)),
    ):
        if words:
            yield label, _shorten(words)


def _write_words(words: Iterable[Word]) -> list[str]:
    return [f"{word.text} (line {word.line})" for word in words]


def _write_comments(summary: ProgramSummary) -> list[str]:
    said = [f"{word.line}: {cut(word.text, _COMMENT)}" for word in summary.comments[:_COMMENTS]]
    more = summary.comment_count - len(said)
    return [*said, f"and {more} more"] if more else said


def _write_offsets(summary: ProgramSummary) -> Iterator[str]:
    for word in summary.work_offsets:
        assumed = ", assumed" if word.line == summary.offset_assumed else ""
        yield f"{word.text} (line {word.line}{assumed})"


def _write_reading(reading: Reading[str]) -> str:
    if reading.sure == "unknown":
        return "not known"
    if reading.sure == "assumed":
        return f"{reading.value}, assumed"
    also = f"; in all {reading.why}" if reading.why else ""
    return f"{reading.value} (line {reading.line}){also}"


def _write_cycle(cycle: CycleUse, units: Units) -> str:
    """``G83 to Z -12 mm from 2 mm, Q 3 mm, 6 holes (line 20)``."""
    bottom, clearance = (
        "not known" if one is None else format_length(one, units) for one in (cycle.bottom, cycle.clearance)
    )
    peck = "" if cycle.peck is None else f", Q {format_length(cycle.peck, units)}"
    pitch = "" if cycle.pitch is None else f", pitch {format_length(cycle.pitch, units)}"
    levels = f"{cycle.code} from {clearance} to {bottom}{peck}{pitch}"
    return f"{levels}, {format_count(cycle.holes, 'hole')} (line {cycle.line})"


def _write_coolant(use: CoolantUse) -> str:
    return f"{use.code} {use.medium} (line {use.line}{', if not skipped' if use.optional else ''})"


def _write_tool(summary: ProgramSummary, tool: ToolUse, units: Units) -> Iterator[str]:
    name = "Tool in the spindle" if tool.number is None else f"T{tool.number}"
    yield f"{name}, line {tool.line}" + ("" if tool.first_feed else ", does not cut")
    offsets = [f"H{format_number(one.value)}" for one in tool.length_offsets]
    offsets += [f"D{format_number(one.value)}" for one in tool.radius_offsets]
    cycles = [_write_cycle(one, units) for one in summary.cycles if one.tool == tool.number]
    coolants = [_write_coolant(one) for one in tool.coolants]
    for label, words in (
        ("speed", [f"S{format_number(one.value)} (line {one.line})" for one in tool.speeds]),
        ("spindle", [f"{one.text} (line {one.line})" for one in tool.directions]),
        ("feed", [f"{_write_feed(one.value, one.unit, units)} (line {one.line})" for one in tool.feeds]),
        ("offsets", offsets),
        ("coolant", coolants or ["none"]),
        ("cycles", cycles),
    ):
        if words:
            yield from wrap_text(_shorten(words), f"  {label:<10}")
    for travel in tool.travels:
        yield from _write_travel(travel, units)


_LISTED = 12


def _shorten(words: Sequence[str]) -> str:
    more = len(words) - _LISTED
    return "; ".join(words[:_LISTED]) + (f"; and {more} more" if more > 0 else "")


def _write_feed(value: float, unit: str, units: Units) -> str:
    if unit.startswith("mm"):
        return format_length(value, units) + unit[2:]
    return f"{format_number(value)} {unit}"


def _write_travel(travel: Travel, units: Units) -> Iterator[str]:
    turned = [(letter, "not known" if angle is None else format_number(angle)) for letter, angle in travel.angles]
    where = travel.offset + "".join(f", {letter} {angle}" for letter, angle in turned)
    yield f"  in {where}, length offset {travel.length}, from line {travel.line}"
    reasons: list[str] = []
    for letter, whole, feed in zip("XYZ", travel.all, travel.feed, strict=True):
        text = _write_span(whole, travel, units)
        if letter == "Z" and whole.low is not None and feed.low is not None:
            text += f"; deepest cut {_write_place(feed.low.at, travel, units)} (line {feed.low.line})"
        why = [one for one in whole.why if one.line]
        if _is_before_length(whole):
            text, why = "not known before its length offset", []
        yield from wrap_text(text, f"    {letter} ", "      ")
        reasons += [f"{describe_reason(one.text)} (line {one.line})" for one in why]
    for reason in dict.fromkeys(reasons):
        yield from wrap_text(reason, "    - ", "      ")


def _is_before_length(whole: Span) -> bool:
    """Whether Z is only not known yet: moves in X and Y before G43 are how most programs begin."""
    return whole.low is None and {one.text for one in whole.why if one.line} == {"tool length"}


def _write_span(span: Span, travel: Travel, units: Units) -> str:
    if span.low is None or span.high is None:
        return "not known"
    ends = f"{_write_place(span.low.at, travel, units)} to {_write_place(span.high.at, travel, units)}"
    return {"known": ends, "assumed": f"{ends}, assumed", "unknown": f"not known; at least {ends}"}[span.sure]


def _write_place(value: float, travel: Travel, units: Units) -> str:
    return format_length(value, units) if travel.units == "mm" else format_number(value)


def _write_time(time: CycleTime, units: Units) -> Iterator[str]:
    parts = [f"feed {format_span(time.feed_seconds)} over {format_length(time.feed_mm, units)}"]
    rapid = "" if time.rapid_seconds is None else f" {format_span(time.rapid_seconds)}"
    parts.append(f"rapids{rapid} over {format_length(time.rapid_mm, units)}")
    if time.dwell_seconds:
        parts.append(f"dwells {format_span(time.dwell_seconds)}")
    if time.tool_changes:
        parts.append(format_count(time.tool_changes, "tool change"))
    yield from wrap_text("; ".join(parts), f"Time        at least {format_span(time.seconds)}: ", " " * 12)
    for word in time.untimed:
        line = f" (line {word.line})" if word.line else ""
        yield from wrap_text(f"not in it: {_LEFT_OUT[word.text]}{line}", " " * 12)
