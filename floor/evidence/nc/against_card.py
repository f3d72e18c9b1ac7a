"""Compare a program with the operation's card: each difference is a finding with its line."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Literal

from floor.dataclass import dataclass
from floor.evidence.nc.finding_kinds import Finding
from floor.evidence.nc.moves_in_work import SLACK_MM
from floor.evidence.nc.summary import ProgramSummary, Span, ToolUse, Travel, Work, format_tool
from floor.evidence.nc.tools_against_card import ExpectedTool, Limits, check_tool
from floor.evidence.nc.units import Units

WET = ("flood", "mist", "through tool")
_NUMBER = re.compile(r"O?0*(\d{1,8})(?:\.\w{1,5})?", re.ASCII | re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ExpectedProgram:
    """What an operation's card expects of its program; None is not checked. Lengths in mm."""

    units: Units
    offset: str | None = None
    """Work offset of the carrier, such as ``G54`` or ``G54.1 P7``."""
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
    """Everything a person should see about a program before cycle start, by line.

    Includes the findings from reading it.
    """
    found = [one for check in _CHECKS for one in check(summary, expected)]
    found += [one for one in summary.findings if one.kind != "H not T" or expected.h_rule == "H is T"]
    return tuple(sorted(found, key=lambda one: one.line))


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


def _check_units(summary: ProgramSummary, expected: ExpectedProgram) -> Iterator[Finding]:
    for word in summary.unit_words:
        if word.text != expected.units:
            yield Finding("wrong units", word.line, word.text, (expected.units,))
    if not summary.unit_words and not any(one.kind == "no units" for one in summary.findings):
        yield Finding("no units", 0)


def _check_offset(summary: ProgramSummary, expected: ExpectedProgram) -> Iterator[Finding]:
    if expected.offset is None:
        return
    for word in summary.work_offsets:
        if word.text == "unknown":
            yield Finding("offset not known", word.line)
        elif word.text != expected.offset:
            yield Finding("wrong offset", word.line, word.text, (expected.offset,))


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
    if expected.holds_dry or expected.coolant in ("dry", "air"):
        for word in summary.other_m:
            yield Finding("unlisted M-code", word.line, word.text)


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
    for cut in tool.cut_with:
        if cut.media is None:
            yield Finding("coolant not known", cut.line, format_tool(tool.number), (expected.coolant,))
        elif wanted.isdisjoint(cut.media):
            yield Finding("coolant missing", cut.line, format_tool(tool.number), (expected.coolant,))


def _check_travel(summary: ProgramSummary, expected: ExpectedProgram) -> Iterator[Finding]:
    for tool in summary.tools:
        name = format_tool(tool.number)
        for travel in tool.travels:
            if expected.lowest_z is not None:
                yield from _check_depth(travel, name, expected.lowest_z)
            for axis, limits in ((0, expected.travel_x), (1, expected.travel_y)):
                if limits is not None:
                    yield from _check_side(travel, axis, name, limits)


def _check_depth(travel: Travel, name: str, lowest: float) -> Iterator[Finding]:
    span = travel.all[2]
    cuts = travel.feed[0].low is not None or travel.feed[1].low is not None
    yield from _check_known(travel, span, "Z", name, span.low is None and cuts)
    if span.low is not None and travel.units == "mm" and span.low.at < lowest - SLACK_MM:
        yield Finding("Z too deep", span.low.line, f"{name} {travel.offset}".strip(), (span.low.at, lowest))


def _check_side(travel: Travel, axis: int, name: str, limits: Limits) -> Iterator[Finding]:
    span, letter = travel.all[axis], "XYZ"[axis]
    yield from _check_known(travel, span, letter, name, False)
    if travel.units != "mm":
        return
    for end, wrong in (
        (span.low, span.low is not None and span.low.at < limits[0] - SLACK_MM),
        (span.high, span.high is not None and span.high.at > limits[1] + SLACK_MM),
    ):
        if end is not None and wrong:
            subject = f"{letter} {name} {travel.offset}".replace("  ", " ")
            yield Finding("outside carrier", end.line, subject, (end.at, *limits))


_GUESSED = {
    "distance mode", "work offset", "unknown code", "block delete", "tool", "local shift", "cycle varies", "arc plane",
}  # fmt: skip
"""Doubts about the machine's state; other doubts have findings of their own."""


def _check_known(travel: Travel, span: Span, letter: str, name: str, missing: bool) -> Iterator[Finding]:
    """A proof needs known travel: report what keeps it unknown."""
    subject = f"{letter} {name} {travel.offset}".replace("  ", " ")
    gap = span.why[0] if span.sure == "unknown" and span.why else None
    if gap and (span.low is not None or missing or gap.text not in ("no word", *_NO_MOVE)):
        kind: Literal["Z not known", "travel not known"] = "Z not known" if letter == "Z" else "travel not known"
        yield Finding(kind, gap.line, subject, (gap.text,))
    elif travel.units != "mm" and span.low is not None:
        yield Finding("travel not known", travel.line, subject, ("units",))
    for doubt in span.why:
        if doubt.text in _GUESSED and span.sure == "assumed":
            yield Finding("travel assumed", doubt.line, subject, (doubt.text,))


_NO_MOVE = (
    "tool length", "distance mode", "work offset", "units", "local shift", "radius compensation", "unknown code",
    "block delete", "tool", "cycle fires", "cycle repeats", "cycle varies", "arc plane",
)  # fmt: skip
"""Doubts about an axis that never moved."""

_CHECKS: tuple[Callable[[ProgramSummary, ExpectedProgram], Iterator[Finding]], ...] = (
    _check_file, _check_number, _check_units, _check_offset, _check_tools, _check_coolant, _check_travel,
)  # fmt: skip
