"""The summary of a program: frozen, in mm, mm/min, rpm and seconds. Lines count from 1."""

from __future__ import annotations

from typing import Generic, Literal, TypeVar

from floor.dataclass import dataclass
from floor.evidence.nc.finding_kinds import Finding

T = TypeVar("T")
Sure = Literal["known", "assumed", "unknown"]


def format_tool(number: int | None) -> str:
    """``T3``; empty if it is not known which tool is in the spindle."""
    return "" if number is None else f"T{number}"


@dataclass(frozen=True, slots=True)
class Reading(Generic[T]):
    """A value and how sure it is; ``why`` and ``line`` say what it was assumed from, or why it is unknown."""

    sure: Sure
    value: T | None = None
    why: str = ""
    line: int = 0


@dataclass(frozen=True, slots=True)
class Word:
    """A text in the program, at its first line."""

    text: str
    line: int


@dataclass(frozen=True, slots=True)
class Number:
    """A value of a word, at its first line."""

    value: float
    line: int


@dataclass(frozen=True, slots=True)
class Feed:
    """A feed: mm/min, mm per revolution, or moves per minute; "?" if the units, or all of it, are unknown."""

    value: float
    unit: Literal["mm/min", "mm/rev", "1/min", "?/min", "?/rev", "?"]
    line: int


@dataclass(frozen=True, slots=True)
class CoolantUse:
    """A coolant or air word; ``optional`` if it depends on the block delete switch."""

    code: str
    medium: str
    line: int
    optional: bool


@dataclass(frozen=True, slots=True)
class Work:
    """Where the metal is, as far as Z tells, in mm in its work offset."""

    top: float = 0.0
    """Z of its top; most programs have their zero there (common practice, no source)."""
    rapid_low: float = 0.0
    """No rapid goes below it: the top, or lower where there is air beside the work or in it."""


@dataclass(frozen=True, slots=True)
class Level:
    """The first flat cut of a tool at a level below the top of the work."""

    offset: str
    z: float
    tool: int | None
    line: int


@dataclass(frozen=True, slots=True)
class CutWith:
    """The media that were on at a cut, sorted; None if that is not known."""

    media: tuple[str, ...] | None
    line: int


@dataclass(frozen=True, slots=True)
class End:
    """An end of the travel: where, and the line that first gets there."""

    at: float
    line: int


@dataclass(frozen=True, slots=True)
class Span:
    """Travel on one axis. ``sure`` covers both ends; unknown means more travel than this, or none known."""

    sure: Sure
    low: End | None
    high: End | None
    why: tuple[Word, ...] = ()
    """What was assumed or unknown, each with its first line."""


@dataclass(frozen=True, slots=True)
class Travel:
    """Where a tool goes in one work offset: in feed moves, and in any move."""

    offset: str
    length: str
    """Length offset in force: ``H3``, "none", "old" (the previous tool's) or "unknown"."""
    angles: tuple[tuple[str, float | None], ...]
    """Rotary words in force, such as ``("A", 90.0)``; None if unknown."""
    units: Literal["mm", "unknown"]
    line: int
    feed: tuple[Span, Span, Span]
    all: tuple[Span, Span, Span]


@dataclass(frozen=True, slots=True)
class ToolUse:
    """What the program does with one tool.

    ``number`` is None for the tool in the spindle before any tool change, and one loaded by an unknown T.
    """

    number: int | None
    sure: bool
    line: int
    speeds: tuple[Number, ...]
    feeds: tuple[Feed, ...]
    sideways: tuple[Number, ...]
    """Feeds in mm/min of cuts that stay at their level, each with the line of its first move."""
    least_turn: Number | None
    """Least feed of such a cut in mm per turn."""
    ramped: tuple[Number, ...]
    """Feeds in mm/min of slanting moves down into the work, each with the line of its first move."""
    directions: tuple[Word, ...]
    length_offsets: tuple[Number, ...]
    radius_offsets: tuple[Number, ...]
    coolants: tuple[CoolantUse, ...]
    """Words that turn coolant or air on."""
    cut_with: tuple[CutWith, ...]
    """What was on while it cut, each with its first line."""
    fed_down: int
    """First line of a plain feed down into the work; 0 if there is none."""
    steepest: Number | None
    """Greatest speed down into the work by plain feed, in mm/min."""
    stroke: Number | None
    """Longest way straight down into the work in one plain feed, in mm."""
    ramp: Number | None
    """Deepest slanting feed into what no flat cut has freed before it, in mm; None too for a surface in space."""
    travels: tuple[Travel, ...]
    first_feed: int
    """Line of its first feed move; 0 if it does not cut."""
    speed_gap: int
    """First line where it cuts at an unknown speed; 0 if none."""
    feed_gap: int


@dataclass(frozen=True, slots=True)
class CycleUse:
    """A canned cycle run by one tool: levels and peck in mm, dwell as written; for tapping, feed over speed."""

    code: str
    tool: int | None
    line: int
    clearance: float | None
    bottom: float | None
    peck: float | None
    dwell: float | None
    returns_to: Literal["G98", "G99", "unknown"]
    pitch: float | None
    holes: int


@dataclass(frozen=True, slots=True)
class CycleTime:
    """Estimated time without acceleration, look-ahead, overrides and waiting, so always "at least"."""

    seconds: float
    """The sum of what is known."""
    feed_seconds: float
    rapid_seconds: float | None
    """None without rapid rates; then only ``rapid_mm`` is known."""
    dwell_seconds: float
    tool_change_seconds: float | None
    feed_mm: float
    rapid_mm: float
    tool_changes: int
    untimed: tuple[Word, ...]
    """What is left out, each with its first line."""


@dataclass(frozen=True, slots=True)
class ProgramSummary:
    """A program file, read to its end."""

    name: str
    sha256: str
    size: int
    lines: int
    number: Reading[str]
    header_number: Reading[str]
    comments: tuple[Word, ...]
    comment_count: int
    units: Reading[str]
    unit_words: tuple[Word, ...]
    """Both units if a program switches, each with its first line."""
    plane: Reading[str]
    distance_mode: Reading[str]
    work_offsets: tuple[Word, ...]
    """Each offset used by moves, with its first line."""
    offset_assumed: int
    feed_mode_assumed: int
    """First line that cuts before any G93, G94 or G95; 0 if none."""
    """First line of a move before any work offset; 0 if none."""
    tools: tuple[ToolUse, ...]
    staged: tuple[Number, ...]
    """Tools called but never loaded."""
    other_m: tuple[Word, ...]
    stops: tuple[Word, ...]
    """M0, and M1, which the optional stop switch may skip."""
    writes: tuple[Word, ...]
    """Blocks that write an offset or the tool table, or shift the zero."""
    work: Work
    """Where the metal was taken to be."""
    levels: tuple[Level, ...]
    """Flat cuts in the order in which they are made; none if there are more than passes have."""
    cycles: tuple[CycleUse, ...]
    holes_left_out: int
    """Holes of cycles beyond those listed."""
    machine_moves: tuple[Word, ...]
    subprograms: tuple[Word, ...]
    """Programs called; a finding names each one not in the file."""
    loops: tuple[Number, ...]
    """Line of each loop, and how many times it ran."""
    variables: tuple[Word, ...]
    end: Word | None
    cycle_time: CycleTime
    findings: tuple[Finding, ...]
    findings_left_out: int
