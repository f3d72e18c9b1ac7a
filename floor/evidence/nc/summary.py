"""What was read from a program: frozen, in mm, mm/min, rpm and seconds. Lines count from 1."""

from __future__ import annotations

from typing import Generic, Literal, TypeVar

from floor.dataclass import dataclass
from floor.evidence.nc.findings import Finding

T = TypeVar("T")
Sure = Literal["known", "assumed", "unknown"]


@dataclass(frozen=True, slots=True)
class Reading(Generic[T]):
    """A value and how sure it is; ``why`` and ``line`` say what it was assumed from, or what keeps it unknown."""

    sure: Sure
    value: T | None = None
    why: str = ""
    line: int = 0


@dataclass(frozen=True, slots=True)
class Word:
    """A text of the program at its first line."""

    text: str
    line: int


@dataclass(frozen=True, slots=True)
class Number:
    """A value of a word at its first line."""

    value: float
    line: int


@dataclass(frozen=True, slots=True)
class Feed:
    """A feed: mm/min, mm for each revolution, or moves a minute; "?" where the units are not known."""

    value: float
    unit: Literal["mm/min", "mm/rev", "1/min", "?/min", "?/rev"]
    line: int


@dataclass(frozen=True, slots=True)
class CoolantUse:
    """A coolant or air word; ``optional``: it depends on the block delete switch."""

    code: str
    medium: str
    line: int
    optional: bool


@dataclass(frozen=True, slots=True)
class End:
    """An end of a travel: where, and at which line first."""

    at: float
    line: int


@dataclass(frozen=True, slots=True)
class Span:
    """Travel on one axis. ``sure`` is of both ends; unknown: there is more travel than this, or none is known."""

    sure: Sure
    low: End | None
    high: End | None
    why: tuple[Word, ...] = ()
    """What was assumed, or what is not known, each with its first line."""


@dataclass(frozen=True, slots=True)
class Travel:
    """Where a tool goes in one work offset: by feed, and by any move."""

    offset: str
    length: str
    """Length offset in force: ``H3``, "none", "old" (that of the tool before) or "unknown"."""
    angles: tuple[tuple[str, float | None], ...]
    """Rotary words in force, such as ``("A", 90.0)``; None: not known."""
    units: Literal["mm", "unknown"]
    line: int
    feed: tuple[Span, Span, Span]
    all: tuple[Span, Span, Span]


@dataclass(frozen=True, slots=True)
class ToolUse:
    """What the program does with one tool; ``number`` is None for what is in the spindle without a tool change."""

    number: int | None
    sure: bool
    line: int
    speeds: tuple[Number, ...]
    feeds: tuple[Feed, ...]
    directions: tuple[Word, ...]
    length_offsets: tuple[Number, ...]
    radius_offsets: tuple[Number, ...]
    coolants: tuple[CoolantUse, ...]
    travels: tuple[Travel, ...]
    first_feed: int
    """Line of its first feed move; 0: it does not cut."""
    speed_gap: int
    """First line at which it cuts at a speed that is not known; 0: none."""
    feed_gap: int


@dataclass(frozen=True, slots=True)
class CycleUse:
    """A canned cycle as one tool runs it: levels and peck in mm, dwell as written; for tapping, feed over speed."""

    code: str
    tool: int | None
    line: int
    clearance: float | None
    bottom: float | None
    peck: float | None
    dwell: float | None
    returns_to: Literal["G98", "G99"]
    pitch: float | None
    holes: int


@dataclass(frozen=True, slots=True)
class CycleTime:
    """Estimated time, without acceleration, look-ahead, overrides and waiting: so always "at least"."""

    seconds: float
    """The sum of what is known."""
    feed_seconds: float
    rapid_seconds: float | None
    """None where no rapid rates are set; then ``rapid_mm`` is all that is known."""
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
    """Both units where a program switches, each with its first line."""
    plane: Reading[str]
    distance_mode: Reading[str]
    work_offsets: tuple[Word, ...]
    """Each offset that moves are made in, with its first line."""
    offset_assumed: int
    """First line of a move before any work offset is given; 0: none."""
    tools: tuple[ToolUse, ...]
    staged: tuple[Number, ...]
    """Tools that are called and never loaded."""
    other_m: tuple[Word, ...]
    stops: tuple[Word, ...]
    """M0, and M1 that a switch passes over."""
    writes: tuple[Word, ...]
    """Blocks that write an offset or a tool table, or shift the zero."""
    cycles: tuple[CycleUse, ...]
    machine_moves: tuple[Word, ...]
    subprograms: tuple[Word, ...]
    """What is called; a finding names each that is not in the file."""
    loops: tuple[Number, ...]
    """Line of each loop, and how many times it was run."""
    variables: tuple[Word, ...]
    end: Word | None
    cycle_time: CycleTime
    findings: tuple[Finding, ...]
    findings_left_out: int
