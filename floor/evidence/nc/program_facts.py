"""Facts recorded while reading a program: tools and what each does, offsets, comments, calls, time."""

from __future__ import annotations

from dataclasses import field
from math import inf, isnan

from floor.dataclass import dataclass
from floor.evidence.nc.dialect import Dialect
from floor.evidence.nc.finding_kinds import LISTED, FindingLog
from floor.evidence.nc.summary import CoolantUse, CycleUse, Level, Word, Work
from floor.evidence.nc.travel import TravelLog

TRAVELS = 200
"""Most separate travel boxes per tool; a program that turns a rotary axis with each move has none."""


class Values:
    """Values of one word, each with its first line; the least and greatest are always kept."""

    __slots__ = ("first", "high", "low")

    def __init__(self) -> None:
        self.first: dict[float, int] = {}
        self.low: tuple[float, int] | None = None
        self.high: tuple[float, int] | None = None

    def add(self, value: float, line: int) -> None:
        if value in self.first or isnan(value):
            return
        if len(self.first) < LISTED:
            self.first[value] = line
        if self.low is None or value < self.low[0]:
            self.low = value, line
        if self.high is None or value > self.high[0]:
            self.high = value, line

    def list(self) -> tuple[tuple[float, int], ...]:
        """(value, first line), by line."""
        ends = {one for one in (self.low, self.high) if one}
        return tuple(sorted({*self.first.items(), *ends}, key=lambda one: one[1]))


class ToolLog:
    """What the program does with one tool; ``number`` is None for the tool at the start, or an unknown one."""

    def __init__(self, number: int | None, line: int, sure: bool) -> None:
        self.number, self.line, self.sure = number, line, sure
        self.speeds, self.lengths, self.radii = Values(), Values(), Values()
        self.feeds: dict[str, Values] = {}
        self.sideways = Values()
        """Feeds in mm/min of cuts that stay at their level, with the lines of the moves."""
        self.least_turn = inf, 0
        """Least feed of such a cut in mm per turn, with its line."""
        self.ramped = Values()
        """Feeds in mm/min of slanting moves down into the work, with the lines of the moves."""
        self.speed_gap = self.feed_gap = 0
        """First line where it cut at an unknown speed or feed; 0 if none."""
        self.directions: dict[str, int] = {}
        self.cut_with: dict[frozenset[str] | None, int] = {}
        """Media that were on while it cut, each set with its first line."""
        self.fed_down = 0
        """First line where it is fed down into the work outside a cycle; 0 if nowhere."""
        self.steepest = 0.0, 0
        """Greatest speed down into the work by plain feed, in mm/min, with its line."""
        self.stroke = 0.0, 0
        """Longest way straight down into the work in one plain feed, in mm, with its line."""
        self.ramp = 0.0, 0
        """Deepest slanting move into the work, in mm, with its line."""
        self.coolants: dict[tuple[str, bool], CoolantUse] = {}
        self.travels: dict[tuple[object, ...], TravelLog] = {}
        self.first_feed = 0


@dataclass(slots=True)
class Record:
    """Everything recorded about one program."""

    dialect: Dialect
    log: FindingLog
    work: Work = Work()
    tools: dict[int | None, ToolLog] = field(default_factory=dict)
    offsets: dict[str, int] = field(default_factory=dict)
    units: dict[str, int] = field(default_factory=dict)
    planes: dict[str, int] = field(default_factory=dict)
    distances: dict[str, int] = field(default_factory=dict)
    comments: list[Word] = field(default_factory=list)
    comment_count: int = 0
    numbers: list[Word] = field(default_factory=list)
    staged: dict[int, int] = field(default_factory=dict)
    other_m: dict[int, Word] = field(default_factory=dict)
    stops: list[Word] = field(default_factory=list)
    writes: list[Word] = field(default_factory=list)
    levels: dict[tuple[str, float, int | None], Level] | None = field(default_factory=dict)
    """Flat cuts below the top of the work, the first of each tool at each level; None if there are too many."""
    floors: dict[str, list[float]] = field(default_factory=dict)
    """Work offset → Z of these, the lowest first."""
    cycles: dict[tuple[object, ...], CycleUse] = field(default_factory=dict)
    holes_left_out: int = 0
    exchanged_line: int = 0
    """Of the last M60."""
    feed_mode_line: int = 0
    feed_mode_assumed: int = 0
    """First line that cuts before any G93, G94 or G95."""
    machine_moves: dict[str, int] = field(default_factory=dict)
    calls: dict[str, Word] = field(default_factory=dict)
    called_lines: set[int] = field(default_factory=set)
    """Where the subprograms called start: their numbers stand there."""
    missing: set[str] = field(default_factory=set)
    loops: dict[int, int] = field(default_factory=dict)
    variables: dict[str, int] = field(default_factory=dict)
    end: Word | None = None
    # sums for the cycle time
    feed_seconds: float = 0.0
    feed_mm: float = 0.0
    untimed_mm: float = 0.0
    untimed_line: int = 0
    rapid_seconds: float = 0.0
    rapid_mm: float = 0.0
    rotary_line: int = 0
    lost_line: int = 0
    dwell_seconds: float = 0.0
    dwell_gap_line: int = 0
    tool_changes: int = 0
    unknown_moves: int = 0
    unknown_move_line: int = 0
    started: bool = False
    """A block with words was read, so a percent sign ends the program."""
    opened: bool = False
    steps: int = 0
    read_again: bool = False
    """Whether the line read now, of a loop or a subprogram, was read before."""
    run_mm: float = 0.0
    """Feed moves since the feed was last changed."""

    def flush_run(self, rate: float, line: int) -> None:
        """Add the time of feed moves so far: length over rate in mm/min, or unknown."""
        if self.run_mm:
            if rate > 0:
                self.feed_seconds += 60 * self.run_mm / rate
            else:
                self.untimed_mm += self.run_mm
                self.untimed_line = self.untimed_line or line
            self.feed_mm += self.run_mm
            self.run_mm = 0.0

    def tool(self, number: int | None, line: int, sure: bool = True) -> ToolLog:
        found = self.tools.get(number)
        if found is None:
            found = self.tools[number] = ToolLog(number, line, sure)
        return found

    def comment(self, text: str, line: int) -> None:
        if self.read_again:
            return
        self.comment_count += 1
        if len(self.comments) < LISTED:
            self.comments.append(Word(text, line))
