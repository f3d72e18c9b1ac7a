"""What is wrong with a logger's file, or was assumed of it: each kind once, with its lines."""

from __future__ import annotations

from dataclasses import field
from enum import StrEnum

from floor.dataclass import dataclass

LINES_NAMED = 20
"""Most lines a finding lists; it counts all."""


class LoggerFindingKind(StrEnum):
    """What is wrong with a file, or was assumed."""

    EMPTY = "empty"
    TOO_LARGE = "too large"
    NOT_TEXT = "not text"
    LINE_TOO_LONG = "line too long"
    NO_READINGS = "no readings"
    """No line has a date, a time and a number."""
    ENCODING_GUESSED = "encoding guessed"
    LINE_UNREAD = "line unread"
    """A line among the readings that is not one."""
    CELLS_OFF = "cells off"
    """More or fewer cells than columns, as from decimal commas between commas: skipped."""
    HEADER_AGAIN = "header again"
    """The logger was restarted, or files were joined."""
    NO_VALUE = "no value"
    """An empty cell."""
    NO_NUMBER = "no number"
    OUT_OF_RANGE = "out of range"
    """An impossible temperature or humidity: skipped."""
    COLUMN_PASSED_OVER = "column passed over"
    """By its header neither temperature nor humidity."""
    UNIT_UNKNOWN = "unit unknown"
    """The channel gives no readings until somebody states the unit."""
    UNIT_CONFLICT = "unit conflict"
    """A cell in a different unit than its column: skipped."""
    DATE_ORDER_ASSUMED = "date order assumed"
    """Nothing tells day from month; assumed month first."""
    OUT_OF_ORDER = "out of order"
    """Earlier than the line before."""
    HOUR_REPEATED = "hour repeated"
    """Clocks went back; what follows is in the second pass."""
    HOUR_AMBIGUOUS = "hour ambiguous"
    """In an hour that clocks show twice; nothing tells which pass."""
    HOUR_SKIPPED = "hour skipped"
    """In an hour that clocks skip."""


@dataclass(frozen=True, slots=True)
class LoggerFinding:
    """One kind of finding, with all its lines."""

    kind: LoggerFindingKind
    lines: tuple[int, ...]
    """The first lines, counted from 1; empty if it is about the whole file."""
    count: int
    channel: str
    """Empty if it is not about a channel."""
    text: str
    """The first text found there, shortened."""


@dataclass(slots=True)
class Findings:
    """Findings so far: (kind, channel) → lines, count and first text."""

    found: dict[tuple[LoggerFindingKind, str], tuple[list[int], list[int], str]] = field(default_factory=dict)

    def add(self, kind: LoggerFindingKind, line: int = 0, text: str = "", channel: str = "") -> None:
        lines, count, _ = self.found.setdefault((kind, channel), ([], [0], text.strip()[:60]))
        count[0] += 1
        if line and len(lines) < LINES_NAMED:
            lines.append(line)

    def list_all(self) -> tuple[LoggerFinding, ...]:
        if any(kind is LoggerFindingKind.HOUR_REPEATED for kind, _ in self.found):
            self.found.pop((LoggerFindingKind.HOUR_AMBIGUOUS, ""), None)
        return tuple(
            LoggerFinding(kind, tuple(lines), count[0], channel, text)
            for (kind, channel), (lines, count, text) in self.found.items()
        )
