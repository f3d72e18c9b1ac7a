"""Programs for tests, and short questions about what was read from them."""

from __future__ import annotations

from typing import Any

from floor.evidence.nc.dialect import UNSET, Dialect
from floor.evidence.nc.finding_kinds import Finding
from floor.evidence.nc.reader import read_program
from floor.evidence.nc.summary import ProgramSummary, Span, ToolUse, Work

START = "G21 G17 G90 G94 G54\nT1 M6\nS1000 M3\nG0 X0. Y0.\nG43 H1 Z10.\n"
"""A mill ready to cut at X0 Y0 Z10 with tool 1, in millimeters; the next line is line 6."""
NEXT = 6
END = "\nG90 G53 Z0. M30\n"
"""The tool goes up, the program ends."""


def read(
    text: str | bytes, dialect: Dialect = UNSET, size: int = 1 << 16, work: Work | None = None, **settings: Any
) -> ProgramSummary:
    """Read a program, in pieces of ``size`` bytes."""
    data = text if isinstance(text, bytes) else text.encode()
    return read_program(
        lambda: [data[at : at + size] for at in range(0, len(data), size)],
        dialect=Dialect(**settings) if settings else dialect,
        work=work or Work(),
    )


def read_after_start(text: str, **settings: Any) -> ProgramSummary:
    """Read lines that follow `START`, and an end."""
    return read(START + text + END, **settings)


def kinds(summary: ProgramSummary) -> set[str]:
    return {one.kind for one in summary.findings}


def find(summary: ProgramSummary, kind: str) -> list[Finding]:
    return [one for one in summary.findings if one.kind == kind]


def tool(summary: ProgramSummary, number: int | None = 1) -> ToolUse:
    return next(one for one in summary.tools if one.number == number)


def travel(summary: ProgramSummary, axis: str, number: int | None = 1, offset: str = "G54", feed: bool = False) -> Span:
    """The last travel of a tool in an offset on an axis: by any move, or by feed."""
    found = [one for one in tool(summary, number).travels if one.offset == offset][-1]
    return (found.feed if feed else found.all)["XYZ".index(axis)]


def ends(span: Span) -> tuple[str, float | None, float | None]:
    """(how sure, low, high), rounded to a micrometer."""
    return (
        span.sure,
        None if span.low is None else round(span.low.at, 4) + 0.0,
        None if span.high is None else round(span.high.at, 4) + 0.0,
    )


def cut(summary: ProgramSummary, axis: str, **where: Any) -> tuple[str, float | None, float | None]:
    return ends(travel(summary, axis, feed=True, **where))


def went(summary: ProgramSummary, axis: str, **where: Any) -> tuple[str, float | None, float | None]:
    return ends(travel(summary, axis, **where))
