"""Compare a program with the operation's card: each difference is a finding with its line."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Literal

from floor.dataclass import dataclass
from floor.evidence.nc.finding_kinds import Finding
from floor.evidence.nc.summary import Feed, ProgramSummary, Span, ToolUse, Travel
from floor.evidence.nc.units import MM_PER_INCH, Units

SLACK_MM = 1e-6
"""Tolerance for sums of floats."""
SLACK_SHARE = 1e-9
WET = ("flood", "mist", "through tool")
_FILE_NUMBER = re.compile(r"O?0*(\d{1,8})(?:\.\w{1,5})?", re.ASCII | re.IGNORECASE)

Limits = tuple[float, float]
"""Least and most, both included."""


@dataclass(frozen=True, slots=True)
class ExpectedTool:
    """A tool on the card; feed in the card's units per minute. None is not checked."""

    number: int
    speed: Limits | None = None
    feed: Limits | None = None
    left_hand: bool | None = None
    """Whether it cuts under M4 instead of M3."""
    length_offset: int | None = None
    """H of this tool, if the card gives it (`ExpectedProgram.h_rule` "as card")."""


@dataclass(frozen=True, slots=True)
class ExpectedProgram:
    """What an operation's card expects of its program; None is not checked. Lengths in ``units``."""

    units: Units
    offset: str | None = None
    """Work offset of the carrier, such as ``G54`` or ``G54.1 P7``."""
    tools: tuple[ExpectedTool, ...] | None = None
    h_rule: Literal["H is T", "as card", "any"] = "H is T"
    coolant: Literal["allowed", "dry"] = "allowed"
    """Dry: the workholding lets go when wet. Air is allowed."""
    lowest_z: float | None = None
    """Through-cut allowance: no move goes below this Z of the work offset."""
    travel_x: Limits | None = None
    travel_y: Limits | None = None
    """Extents of the carrier in its work offset: no move goes beyond them."""
    sha256: str | None = None
    """Hash of the file with which the first piece was accepted."""
    number: str | None = None
    file_name: str = ""


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
    file_number = _FILE_NUMBER.fullmatch(expected.file_name)
    told = [
        ("card", expected.number and expected.number.lstrip("Oo0"), 0),
        ("O word", summary.number.value, summary.number.line),
        ("header", summary.header_number.value, summary.header_number.line),
        ("file name", file_number and file_number[1], 0),
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
            yield from _check_tool(tool, card[tool.number], expected)
        else:
            yield Finding("tool not on card", tool.line, f"T{tool.number}")
    called = {tool.number for tool in summary.tools}
    for number in card:
        if number not in called:
            yield Finding("tool not called", 0, f"T{number}")


def _check_tool(tool: ToolUse, card: ExpectedTool, expected: ExpectedProgram) -> Iterator[Finding]:
    name = f"T{card.number}"
    if card.speed is not None:
        for speed in tool.speeds:
            if not _is_within(speed.value, card.speed):
                yield Finding("speed off card", speed.line, name, (speed.value, *card.speed))
        if tool.speed_gap:
            yield Finding("speed not known", tool.speed_gap, name)
    if card.feed is not None:
        yield from _check_feeds(tool, card.feed, expected, name)
    if card.left_hand is not None:
        right = "M4" if card.left_hand else "M3"
        for word in tool.directions:
            if word.text != right:
                yield Finding("spindle reversed", word.line, name, (word.text, right))
    if expected.h_rule == "as card" and card.length_offset is not None:
        for number in tool.length_offsets:
            if number.value != card.length_offset:
                yield Finding("H not T", number.line, name, (number.value,))


def _check_feeds(tool: ToolUse, limits: Limits, expected: ExpectedProgram, name: str) -> Iterator[Finding]:
    factor = MM_PER_INCH if expected.units == "inch" else 1.0
    low, high = limits[0] * factor, limits[1] * factor
    for feed in tool.feeds:
        value = _convert_feed(feed, tool)
        if value is None:
            yield Finding("feed not known", feed.line, name, (feed.unit,))
        elif not _is_within(value, (low, high)):
            yield Finding("feed off card", feed.line, name, (value, low, high))
    if tool.feed_gap:
        yield Finding("feed not known", tool.feed_gap, name, ("",))


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


def _check_coolant(summary: ProgramSummary, expected: ExpectedProgram) -> Iterator[Finding]:
    if expected.coolant != "dry":
        return
    for tool in summary.tools:
        for use in tool.coolants:
            if use.medium in WET:
                yield Finding("coolant on dry", use.line, use.code, (use.medium, int(use.optional)))
    for word in summary.other_m:
        yield Finding("unlisted M-code", word.line, word.text)


def _check_travel(summary: ProgramSummary, expected: ExpectedProgram) -> Iterator[Finding]:
    factor = MM_PER_INCH if expected.units == "inch" else 1.0
    for tool in summary.tools:
        name = "" if tool.number is None else f"T{tool.number}"
        for travel in tool.travels:
            if expected.lowest_z is not None:
                yield from _check_depth(travel, name, expected.lowest_z * factor)
            for axis, limits in ((0, expected.travel_x), (1, expected.travel_y)):
                if limits is not None:
                    yield from _check_side(travel, axis, name, (limits[0] * factor, limits[1] * factor))


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
