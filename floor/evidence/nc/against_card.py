"""Compare a program with the operation's card: each difference is a finding with its line."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import field, replace
from typing import Literal

from floor.dataclass import dataclass
from floor.evidence.nc.finding_kinds import Finding, Kind, rank
from floor.evidence.nc.moves_in_work import SLACK_MM
from floor.evidence.nc.offsets_against_card import find_offset_faults
from floor.evidence.nc.summary import ProgramSummary, Sure, ToolUse, Travel, Word, Work, format_tool
from floor.evidence.nc.tools_against_card import SLACK_SHARE, ExpectedTool, Limits, check_tool
from floor.evidence.nc.units import Units

WET = ("flood", "mist", "through tool")
_NUMBER = re.compile(r"O?0*(\d{1,8})(?:\.\w{1,5})?", re.ASCII | re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ExpectedProgram:
    """What an operation's card expects of its program; None is not checked. Lengths in mm."""

    units: Units
    carriers: dict[str, str] = field(default_factory=dict)
    """Work offset, such as ``G54`` or ``G54.1 P7`` → the carrier that is there; empty is not checked."""
    each: bool = False
    """Whether it is to work on all of them, as where several are in one cycle."""
    tools: tuple[ExpectedTool, ...] | None = None
    h_rule: Literal["H is T", "as card", "any"] = "H is T"
    coolant: Literal["", "dry", "air", "mist", "flood"] = ""
    """What the operation says; empty says nothing."""
    holds_dry: bool = False
    """Whether the workholding lets go when wet."""
    has_air_code: bool = False
    """Whether an M-code of this control turns air on; elsewhere it is turned on by hand."""
    work: Work = Work()
    lowest_z: float | None = None
    """Through-cut allowance: no move goes below this Z of the work offset."""
    travel_x: Limits | None = None
    travel_y: Limits | None = None
    """Extents of the carrier in its work offset: no move goes beyond them."""
    speed_limit: float | None = None
    """Most rpm of the station's spindle; for a tool whose card states no speed."""
    sha256: str | None = None
    """Hash of the file with which the first piece was accepted."""
    program: str = ""
    """As the card names it; compared if it is a number, such as ``O0310``."""
    file_name: str = ""


def find_program_number(name: str) -> str | None:
    """``310`` of ``O0310`` and ``O0310.nc``; None for any other name."""
    found = _NUMBER.fullmatch(name)
    return found[1] if found else None


def find_program_faults(summary: ProgramSummary, expected: ExpectedProgram) -> tuple[Finding, ...]:
    """Everything a person should see about a program before cycle start, by line, but a missing subprogram first.

    Includes the findings from reading it.
    """
    found = [one for one in summary.findings if one.kind != "H not T" or expected.h_rule == "H is T"]
    found += [one for check in _CHECKS for one in check(summary, expected)]
    return tuple(sorted(_join_equal(found), key=lambda one: rank(one.kind, one.line)))


def _join_equal(found: list[Finding]) -> list[Finding]:
    """What is found again with the same words counts."""
    joined: dict[tuple[object, ...], Finding] = {}
    for one in sorted(found, key=lambda one: one.line):
        same = tuple(round(value, 6) if isinstance(value, float) else value for value in one.values)
        first = joined.get((one.kind, one.subject, same))
        joined[one.kind, one.subject, same] = one if first is None else replace(first, count=first.count + one.count)
    return list(joined.values())


def _check_file(summary: ProgramSummary, expected: ExpectedProgram) -> Iterator[Finding]:
    if expected.sha256 and expected.sha256.lower() != summary.sha256:
        yield Finding("file changed", 0, "", (summary.sha256, expected.sha256.lower()))


def _check_number(summary: ProgramSummary, expected: ExpectedProgram) -> Iterator[Finding]:
    """Compare the numbers in the O word, header comment, file name and card."""
    told = [
        ("card", find_program_number(expected.program), 0),
        ("O word", summary.number.value, summary.number.line),
        ("header", summary.header_number.value, summary.header_number.line),
        ("file name", find_program_number(expected.file_name), 0),
    ]
    given = [(what, number, line) for what, number, line in told if number]
    for what, number, line in given[1:]:
        if number != given[0][1]:
            yield Finding("number differs", line or given[0][2], what, (number, given[0][0], given[0][1]))
    if told[0][1] and not (told[1][1] or told[2][1]):
        yield Finding("no number", 0, "", (expected.program,))


def _check_units(summary: ProgramSummary, expected: ExpectedProgram) -> Iterator[Finding]:
    for word in summary.unit_words:
        if word.text != expected.units:
            yield Finding("wrong units", word.line, word.text, (expected.units,))
    if not summary.unit_words and not any(one.kind == "no units" for one in summary.findings):
        yield Finding("no units", 0)


def _check_offset(summary: ProgramSummary, expected: ExpectedProgram) -> Iterator[Finding]:
    return find_offset_faults(summary.work_offsets, expected.carriers, each=expected.each)


def _check_tools(summary: ProgramSummary, expected: ExpectedProgram) -> Iterator[Finding]:
    if expected.tools is None:
        return
    card = {tool.number: tool for tool in expected.tools}
    for tool in summary.tools:
        if tool.number is None:
            if tool.first_feed:
                yield Finding("tool unknown", tool.first_feed)
        elif tool.number in card:
            yield from check_tool(tool, card[tool.number], summary, expected.h_rule == "as card")
        else:
            yield Finding("tool not on card", tool.line, format_tool(tool.number))
    called = {tool.number for tool in summary.tools}
    for number in card:
        if number not in called:
            yield Finding("tool not called", 0, f"T{number}")


def _check_speed_limit(summary: ProgramSummary, expected: ExpectedProgram) -> Iterator[Finding]:
    """A speed on a card is compared itself, and `floor check` compares it with the station."""
    most = expected.speed_limit
    if most is None:
        return
    stated = {tool.number for tool in expected.tools or () if tool.speed is not None}
    for tool in summary.tools:
        for speed in tool.speeds if tool.number not in stated else ():
            if speed.value > most * (1 + SLACK_SHARE):
                name = format_tool(tool.number) or "the tool"
                yield Finding("speed over limit", speed.line, name, (speed.value, most))


_FITS = {
    "dry": {"air"},
    "air": {"air"},
    "mist": {"mist", "air"},
    "flood": {"flood", "through tool", "air"},
}
"""Coolant of an operation → the media that its program may turn on. Air only clears chips; the card has no word of its
own for coolant through the tool."""
_GIVES = {"air": {"air"}, "mist": {"mist"}, "flood": {"flood", "through tool"}}
"""Coolant of an operation → the media of which one must be on at each cut."""


def _check_coolant(summary: ProgramSummary, expected: ExpectedProgram) -> Iterator[Finding]:
    for tool in summary.tools:
        wrong = list(_find_wrong_media(tool, expected))
        yield from wrong or _find_missing_media(tool, expected)


def _check_other_m(summary: ProgramSummary, expected: ExpectedProgram) -> Iterator[Finding]:
    """What a code of this machine does, only its manual says: it may turn coolant on, open a vise, change pallets."""
    for word in summary.other_m:
        yield Finding("unlisted M-code", word.line, word.text)


def _check_feed_mode(summary: ProgramSummary, expected: ExpectedProgram) -> Iterator[Finding]:
    if summary.feed_mode_assumed:
        yield Finding("no feed mode", summary.feed_mode_assumed)


def _find_wrong_media(tool: ToolUse, expected: ExpectedProgram) -> Iterator[Finding]:
    for use in tool.coolants:
        if expected.holds_dry and use.medium in WET:
            yield Finding("coolant on dry", use.line, use.code, (use.medium, int(use.optional)))
        elif expected.coolant and use.medium not in _FITS[expected.coolant]:
            yield Finding("coolant off card", use.line, use.code, (use.medium, expected.coolant))


def _find_missing_media(tool: ToolUse, expected: ExpectedProgram) -> Iterator[Finding]:
    wanted = _GIVES.get(expected.coolant)
    if wanted is None or (expected.coolant == "air" and not expected.has_air_code):
        return
    name = format_tool(tool.number) or "the tool"
    for cut in tool.cut_with:
        if cut.media is None:
            yield Finding("coolant not known", cut.line, name, (expected.coolant,))
        elif wanted.isdisjoint(cut.media):
            yield Finding("coolant missing", cut.line, name, (expected.coolant,))


def _check_travel(summary: ProgramSummary, expected: ExpectedProgram) -> Iterator[Finding]:
    for tool in summary.tools:
        name = format_tool(tool.number)
        for travel in tool.travels:
            if travel.units != "mm":
                continue  # nobody knows how far it goes: "no units"
            if expected.lowest_z is not None:
                yield from _check_depth(travel, name, expected.lowest_z)
            for axis, limits in _list_sides(expected):
                yield from _check_side(travel, axis, name, limits)


def _check_turned(summary: ProgramSummary, expected: ExpectedProgram) -> Iterator[Finding]:
    """The limits are those of the part as it is clamped; a turned one shows another face, of which the card says none.

    A work offset says where its zero is, not how it lies, so one of its own settles nothing.
    """
    for tool in summary.tools:
        for travel in tool.travels:
            turned = [
                f"{letter}{'?' if angle is None else f'{angle:g}'}" for letter, angle in travel.angles if angle != 0
            ]
            if turned:
                yield Finding("part turned", travel.line, " ".join(turned))


def _list_sides(expected: ExpectedProgram) -> list[tuple[int, Limits]]:
    """(axis, its limits) as far as they are stated."""
    sides = (0, expected.travel_x), (1, expected.travel_y)
    return [(axis, limits) for axis, limits in sides if limits is not None]


def _check_depth(travel: Travel, name: str, lowest: float) -> Iterator[Finding]:
    low = travel.all[2].low
    if low is not None and low.at < lowest - SLACK_MM:
        yield Finding("Z too deep", low.line, f"{name} {travel.offset}".strip(), (low.at, lowest))


def _check_side(travel: Travel, axis: int, name: str, limits: Limits) -> Iterator[Finding]:
    span, letter = travel.all[axis], "XYZ"[axis]
    for end, wrong in (
        (span.low, span.low is not None and span.low.at < limits[0] - SLACK_MM),
        (span.high, span.high is not None and span.high.at > limits[1] + SLACK_MM),
    ):
        if end is not None and wrong:
            subject = f"{letter} {name} {travel.offset}".replace("  ", " ")
            yield Finding("outside carrier", end.line, subject, (end.at, *limits))


_GUESSED = {
    "distance mode", "unknown code", "block delete", "tool", "cycle varies", "arc plane",
}  # fmt: skip
"""Doubts about the machine's state; other doubts have findings or notes of their own."""


def _check_travel_known(summary: ProgramSummary, expected: ExpectedProgram) -> Iterator[Finding]:
    """A proof needs known travel: what keeps it unknown or assumed, each once for the whole program."""
    axes = [axis for axis, _ in _list_sides(expected)] + ([] if expected.lowest_z is None else [2])
    found: dict[tuple[Sure, str], list[tuple[int, str, str]]] = {}
    for tool in summary.tools:
        for travel in tool.travels:
            place = f"{format_tool(tool.number)} {travel.offset}".strip()
            for axis in axes:
                for sure, word in _list_gaps(travel, axis):
                    found.setdefault((sure, word.text), []).append((word.line, "XYZ"[axis], place))
    for (sure, why), gaps in found.items():
        letters = " ".join(sorted({letter for _, letter, _ in gaps}))
        places = {place for _, _, place in gaps}
        subject = f"{letters} {places.pop()}" if len(places) == 1 else letters
        unknown: Kind = "Z not known" if letters == "Z" else "travel not known"
        lines = {line for line, _, _ in gaps}
        yield Finding(unknown if sure == "unknown" else "travel assumed", min(lines), subject, (why,), len(lines))


def _list_gaps(travel: Travel, axis: int) -> Iterator[tuple[Sure, Word]]:
    """Why the travel on an axis is unknown, or assumed."""
    span = travel.all[axis]
    cuts = axis == 2 and span.low is None and (travel.feed[0].low is not None or travel.feed[1].low is not None)
    gap = span.why[0] if span.sure == "unknown" and span.why else None
    if gap and (span.low is not None or cuts or gap.text not in ("no word", *_NO_MOVE)):
        yield "unknown", gap
    for doubt in span.why if span.sure == "assumed" else ():
        if doubt.text in _GUESSED:
            yield "assumed", doubt


_NO_MOVE = (
    "tool length", "distance mode", "work offset", "units", "local shift", "radius compensation", "unknown code",
    "block delete", "tool", "cycle fires", "cycle repeats", "cycle varies", "arc plane",
)  # fmt: skip
"""Doubts about an axis that never moved."""

_CHECKS: tuple[Callable[[ProgramSummary, ExpectedProgram], Iterator[Finding]], ...] = (
    _check_file, _check_number, _check_units, _check_offset, _check_tools, _check_speed_limit, _check_coolant,
    _check_other_m, _check_travel, _check_turned, _check_travel_known, _check_feed_mode,
)  # fmt: skip
