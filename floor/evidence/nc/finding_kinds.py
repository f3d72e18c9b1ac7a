"""Things in a program a person should look at, as data. `describe` makes the sentences."""

from __future__ import annotations

from typing import Literal

from floor.dataclass import dataclass

Kind = Literal[
    # notation of the file
    "byte order mark", "other encoding", "control character", "long line", "open comment", "nested comment",
    "slash inside", "bad word", "word repeated", "word without use", "dot in code", "group clash", "unknown code",
    "unread lines", "no end", "main loops", "lathe",
    # what controls read differently
    "two readings",
    # what is left open
    "no units", "units changed", "offset assumed", "tool unknown", "no speed", "no feed", "spindle off",
    "no length offset",
    # lengths and radii
    "H not T", "D not T", "H zero", "H left out", "length from program", "length subtracted", "radius compensation",
    # what changes the coordinates
    "offset written", "tool table written", "local shift", "shift", "axes changed", "home through zero",
    # what cannot be followed
    "bad arc", "cycle varies", "probe", "probe turning", "call missing", "macro call", "jump not known",
    "too long to follow",
    # against the card
    "wrong offset", "offset not known", "tool not on card", "tool not called", "speed off card", "feed off card",
    "speed not known", "feed not known", "coolant on dry", "unlisted M-code", "wrong units", "Z too deep",
    "Z not known", "outside carrier", "travel not known", "travel assumed", "file changed", "number differs",
]  # fmt: skip
Value = float | int | str


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding: lengths in mm, feeds in mm/min, speeds in rpm.

    ``line`` counts from 1; 0 means the whole file. ``count`` is how often the same was found; ``line`` is then the
    first.
    """

    kind: Kind
    line: int
    subject: str = ""
    values: tuple[Value, ...] = ()
    count: int = 1


LISTED = 1000
"""Most findings, comments and values kept of one kind; the rest are counted."""


class FindingLog:
    """Findings while reading a program: same kind and subject is one finding, counted."""

    def __init__(self) -> None:
        self._first: dict[tuple[Kind, str], Finding] = {}
        self._counts: dict[tuple[Kind, str], int] = {}
        self.left_out = 0

    def add(self, kind: Kind, line: int, subject: str = "", *values: Value) -> None:
        """Add a finding. ``subject`` tells it from earlier ones of its kind."""
        key = kind, subject
        if key in self._counts:
            self._counts[key] += 1
        elif len(self._first) < LISTED:
            self._first[key] = Finding(kind, line, subject, values)
            self._counts[key] = 1
        else:
            self.left_out += 1

    def list(self) -> tuple[Finding, ...]:
        """All findings in order of first line."""
        found = [
            Finding(one.kind, one.line, one.subject, one.values, self._counts[key]) for key, one in self._first.items()
        ]
        return tuple(sorted(found, key=lambda one: one.line))
